use super::*;
use crate::record::samples::{id, noted, opened};

fn at(seq: u64, mono_ms: u64, time: &str, entry: Entry) -> Envelope {
    Envelope {
        seq,
        wall: format!("2031-06-02T{time}+02:00[Europe/Vienna]"),
        mono_ms,
        clock: None,
        prev: String::new(),
        entry,
    }
}

fn held() -> Entry {
    Entry::Held {
        why: "the inspector ended the walk".to_owned(),
        check: Some(id("front-left/hook-pin")),
    }
}

#[test]
fn a_hold_that_ends_in_a_break_lasts_as_long_as_the_break() {
    let resumed = || Entry::Resumed { check: None };
    let long = |till: &str, end: Entry| {
        let all = [
            at(0, 0, "07:40:00", opened()),
            at(1, 60_000, "07:41:00", held()),
            at(2, 60_000, till, end),
        ];
        holds(&all)[0].held_ms
    };
    assert_eq!(long("09:41:05", resumed()), Some(7_205_000));
    // The clock was set back: what the record's own clock tells.
    assert_eq!(long("07:30:00", resumed()), Some(0));
    let carried = Entry::Carried { check: None };
    assert_eq!(long("09:41:05", carried), Some(0));
    // One cause behind another: each its own time, and of the break nothing was recorded.
    let all = [
        at(0, 0, "07:40:00", opened()),
        at(1, 10_000, "07:40:10", held()),
        at(2, 14_000, "07:40:14", held()),
        at(3, 20_000, "09:41:05", resumed()),
    ];
    let told = holds(&all);
    let times: Vec<_> = told.iter().map(|h| (h.held_ms, h.recorded_ms)).collect();
    assert_eq!(times, [(Some(4_000), 4_000), (Some(7_251_000), 6_000)]);
}

#[test]
fn a_tryout_in_a_break_is_a_note_of_the_tools_own() {
    let begins_alike = |words: &str, by_tool: bool| {
        let mut entry = noted(1);
        if let Entry::Noted { note, .. } = &mut entry {
            note.machine_transcript = format!("{TRIED_OUT}{words}");
            note.by_tool = by_tool;
            note.typed = !by_tool;
        }
        entry
    };
    let tried = |words| begins_alike(words, true);
    let all = [
        at(0, 0, "07:40:00", opened()),
        at(1, 10, "07:41:00", tried("08:00: rely on voice")),
        at(2, 20, "07:42:00", tried("09:00: confirm more")),
        at(3, 30, "07:43:00", noted(7)),
        // Typed by a person, and so no tryout.
        at(4, 40, "07:44:00", begins_alike("rely on voice", false)),
    ];
    assert_eq!(tried_again(&all).as_deref(), Some("09:00: confirm more"));
    let by_tool: Vec<bool> = notes(&all, None).iter().map(|n| n.by_tool).collect();
    assert_eq!(by_tool, [true, true, false, false]);
    assert_eq!(tried_again(&all[..1]), None);
}
