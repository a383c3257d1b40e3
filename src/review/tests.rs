use super::*;
use crate::record::samples::{PLAN, StepClock, answered, id, noted, opened, route};
use crate::record::{Debrief, Record, clip_wav, view};
use crate::walk::{Entry, Note, Outcome};
use std::path::Path;

/// Text that breaks out of every format that does not mind it.
const HOSTILE: &str =
    "<script>alert(1)</script> \"quoted\", 'a' & b\n\n1\n00:00:00.000 --> 00:00:09.000\n=1+1";

fn write(folder: &Path, entries: &[Entry]) -> View {
    let mut record = Record::create(folder, PLAN, Box::new(StepClock::at(0))).unwrap();
    for entry in entries {
        record.append(entry).unwrap();
    }
    drop(record);
    view(folder).unwrap()
}

/// A walk with a conforming, a deficient and two open checks, and hostile text wherever text goes.
fn sample(folder: &Path) -> View {
    let Entry::Opened {
        format,
        rigger,
        plan_sha256,
        left_out,
        capacity,
        ..
    } = opened()
    else {
        unreachable!("`opened` makes it");
    };
    let mut route = route();
    route.load = format!("stove crate {HOSTILE}");
    route.stations[0].name = format!("front left {HOSTILE}");
    route.stations[0].checks[0].name = format!("hook pin {HOSTILE}");
    write(
        folder,
        &[
            Entry::Opened {
                format,
                inspector: format!("Ida {HOSTILE}"),
                rigger,
                plan_sha256,
                route: Box::new(route),
                left_out,
                capacity,
                tryout: None,
                rigger_marks: Default::default(),
                practice: None,
                pace: None,
            },
            Entry::Asked {
                check: id("front-left/hook-pin"),
                attempt: 1,
            },
            answered("front-left/hook-pin", "present", Outcome::Conforming),
            answered(
                "front-right/hook-pin",
                "missing",
                Outcome::Deficient {
                    deficiency: "front right hook pin missing".to_owned(),
                },
            ),
            Entry::Noted {
                check: Some(id("front-right/hook-pin")),
                note: Note {
                    machine_transcript: HOSTILE.to_owned(),
                    clip: String::new(),
                    clip_sha256: String::new(),
                    typed: false,
                    by_tool: false,
                },
            },
            noted(1),
        ],
    )
}

fn in_folder<T>(make: impl FnOnce(&Path) -> T) -> T {
    let root = tempfile::tempdir().unwrap();
    make(&root.path().join("walk"))
}

/// What every export must say.
#[track_caller]
fn says_what_it_is_not(text: &str) {
    assert!(text.contains("does not certify the load"), "{text}");
    assert!(text.contains("a person signs"), "{text}");
}

#[test]
fn html_stands_alone_and_runs_nothing() {
    let view = in_folder(sample);
    let page = html(&view, Some("clips"), None);
    says_what_it_is_not(&page);
    assert!(!page.contains("<script"), "{page}");
    assert!(page.contains(&view.deficiencies[0].name));
    assert!(!page.contains("http://") && !page.contains("https://"));
    assert!(page.contains("&lt;script&gt;"));
    for words in ["OPEN: not complete", "not answered"] {
        assert!(page.contains(words), "{words}");
    }
}

#[test]
fn html_nests_its_elements() {
    // Every element that is opened is closed, in order; void elements aside.
    let page = html(&in_folder(sample), Some("clips"), None);
    let mut open: Vec<&str> = Vec::new();
    for tag in page.split('<').skip(1) {
        let name_end = tag.find(|c: char| !c.is_ascii_alphanumeric() && c != '/');
        let name = &tag[..name_end.unwrap_or(tag.len())];
        let closes_itself = tag.split('>').next().is_some_and(|t| t.ends_with('/'));
        match name {
            "" | "meta" => {}
            _ if closes_itself => {}
            _ => match name.strip_prefix('/') {
                Some(name) => assert_eq!(open.pop(), Some(name)),
                None => open.push(name),
            },
        }
    }
    assert_eq!(open, [""; 0]);
}

#[test]
fn html_plays_the_clips_of_answers() {
    let page = in_folder(|folder| {
        let mut record = Record::create(folder, PLAN, Box::new(StepClock::at(0))).unwrap();
        record.append(&opened()).unwrap();
        let clip = record
            .write_clip("front-left/hook-pin", &clip_wav(&[0.0; 160]))
            .unwrap();
        let entry = answered("front-left/hook-pin", "present", Outcome::Conforming);
        let Entry::Answered {
            check,
            value,
            outcome,
            stage,
            mut heard,
        } = entry
        else {
            unreachable!("`answered` makes it");
        };
        heard.hearing.clip = clip.file;
        heard.hearing.clip_sha256 = clip.sha256;
        record
            .append(&Entry::Answered {
                check,
                value,
                outcome,
                stage,
                heard,
            })
            .unwrap();
        drop(record);
        html(&view(folder).unwrap(), Some("clips"), None)
    });
    assert!(
        page.contains("src=\"clips/0001-front-left-hook-pin-1.wav\""),
        "{page}"
    );
}

#[test]
fn html_keeps_the_contrast_of_the_standard() {
    assert!(contrast::check(include_str!("style.css")) > 10);
}

#[test]
fn csv_reads_back_as_it_was_meant() {
    let view = in_folder(sample);
    let text = csv(&view);
    says_what_it_is_not(&text);
    let rows = read_csv(&text);
    assert_eq!(rows.len(), 1 + view.checks.len());
    assert!(rows.iter().all(|row| row.len() == rows[0].len()));
    let column = |name: &str| rows[0].iter().position(|h| h == name).unwrap();
    assert_eq!(rows[1][column("station")], view.checks[0].station);
    assert_eq!(rows[1][column("value")], "present");
    let pin = rows
        .iter()
        .find(|r| r[column("check")] == "front-right/hook-pin");
    assert_eq!(pin.unwrap()[column("status")], "deficient");
    assert_eq!(rows[2][column("status")], "open");
}

#[test]
fn csv_holds_no_formula() {
    let mut view = in_folder(sample);
    view.checks[0].name = "=HYPERLINK(\"x\")".to_owned();
    view.checks[0].expected = "-3".to_owned();
    let rows = read_csv(&csv(&view));
    assert_eq!(rows[1][5], "'=HYPERLINK(\"x\")");
    assert_eq!(rows[1][6], "-3");
}

/// Reads CSV by the grammar of RFC 4180, section 2.
fn read_csv(text: &str) -> Vec<Vec<String>> {
    let mut rows = vec![vec![String::new()]];
    let mut quoted = false;
    let mut chars = text.chars().peekable();
    while let Some(c) = chars.next() {
        let row = rows.last_mut().unwrap();
        match (quoted, c) {
            (true, '"') if chars.peek() == Some(&'"') => {
                chars.next();
                row.last_mut().unwrap().push('"');
            }
            (true, '"') => quoted = false,
            (true, c) => row.last_mut().unwrap().push(c),
            (false, '"') => quoted = true,
            (false, ',') => row.push(String::new()),
            (false, '\r') => {
                assert_eq!(chars.next(), Some('\n'));
                rows.push(vec![String::new()]);
            }
            (false, c) => row.last_mut().unwrap().push(c),
        }
    }
    assert_eq!(
        rows.pop(),
        Some(vec![String::new()]),
        "the last line has its end"
    );
    rows
}

#[test]
fn vtt_has_the_shape_of_the_standard() {
    // WebVTT, section 4.1: the signature, then blocks parted by blank lines; a cue block is an
    // optional identifier, a timing line, then text without a blank line.
    let text = in_folder(|folder| vtt(folder, &sample(folder)));
    says_what_it_is_not(&text);
    let mut blocks = text.trim_end().split("\n\n");
    assert_eq!(blocks.next(), Some("WEBVTT"));
    assert!(blocks.next().unwrap().starts_with("NOTE\n"));
    let mut last = 0;
    let mut cues = 0;
    for block in blocks {
        let lines: Vec<&str> = block.lines().collect();
        assert_eq!(lines.len(), 3, "{block}");
        lines[0].parse::<u64>().unwrap();
        let (from, to) = lines[1].split_once(" --> ").unwrap();
        let (from, to) = (vtt_ms(from), vtt_ms(to));
        assert!(from >= last && to > from, "{block}");
        assert!(
            !lines[2].contains("-->") && !lines[2].contains("<script"),
            "{block}"
        );
        last = from;
        cues += 1;
    }
    assert_eq!(cues, 5);
    assert!(text.contains("<v loadwalk>"));
}

#[test]
fn what_was_said_stands_behind_its_check_and_a_walk_taken_up_again_tells_the_time_of_day() {
    let (left, right) = ("front-left/hook-pin", "front-right/hook-pin");
    let asked = |check: &str| Entry::Asked {
        check: id(check),
        attempt: 1,
    };
    let present = |check: &str| answered(check, "present", Outcome::Conforming);
    let Entry::Noted { note, .. } = noted(1) else {
        unreachable!("`noted` makes it");
    };
    let note = |check: &str| Entry::Noted {
        check: Some(id(check)),
        note: note.clone(),
    };
    let calling = Entry::Calling {
        station: "front-left".to_owned(),
        which: false,
    };
    let resumed = Entry::Resumed {
        check: Some(id(left)),
    };
    let (text, view) = in_folder(|folder| {
        let entries = [
            opened(),
            asked(left),
            present(left),
            note(left),
            note(right),
            // Behind a note of another check it is no answer to the question before that.
            present(left),
            asked(left),
            calling,
            present(left),
            resumed,
        ];
        let view = write(folder, &entries);
        (vtt(folder, &view), view)
    });
    let cue = |entry: usize| {
        let block = text
            .split("\n\n")
            .find(|b| b.starts_with(&format!("{entry}\n")));
        let said = block.and_then(|b| b.lines().nth(2)).expect("a cue");
        said.split_once('>').expect("a speaker").1.to_owned()
    };
    let place = |check: &str| match check {
        "front-left/hook-pin" => "front left corner, hook pin: ",
        _ => "front right corner, hook pin: ",
    };
    assert_eq!(cue(2), "present");
    assert!(
        cue(3).starts_with("machine transcript: note 1"),
        "{}",
        cue(3)
    );
    assert!(cue(4).starts_with(place(right)), "{}", cue(4));
    for entry in [5, 8] {
        assert_eq!(cue(entry), format!("{}present", place(left)));
    }
    let wall = clock_time(&view.entries[9].wall);
    assert_eq!(cue(9), format!("started again, {wall}"));
}

fn vtt_ms(stamp: &str) -> u64 {
    let (hms, ms) = stamp.split_once('.').unwrap();
    assert_eq!(ms.len(), 3);
    let parts: Vec<u64> = hms.split(':').map(|p| p.parse().unwrap()).collect();
    assert_eq!(parts.len(), 3);
    ((parts[0] * 60 + parts[1]) * 60 + parts[2]) * 1_000 + ms.parse::<u64>().unwrap()
}

#[test]
fn json_is_the_view() {
    let view = in_folder(sample);
    let read: serde_json::Value = serde_json::from_str(&json(&view)).unwrap();
    assert_eq!(read["checks"][0]["station"], view.checks[0].station);
    says_what_it_is_not(&json(&view));
}

#[test]
fn what_turns_the_order_of_letters_is_in_no_export_for_people() {
    let (view, cues) = in_folder(|folder| {
        let mut view = sample(folder);
        // A record may hold a name that no walk is opened with.
        view.inspector = "Ilse \u{202e}Brandt".to_owned();
        view.timeline[0].text.push('\u{2067}');
        let cues = vtt(folder, &view);
        (view, cues)
    });
    let exports = [
        html(&view, None, None),
        csv(&view),
        crate::record::text(&view),
        cues,
    ];
    for text in exports {
        assert!(text.contains("Ilse \u{fffd}Brandt"), "{text}");
        assert!(!text.contains(crate::walk::turns), "{text}");
    }
}

#[test]
fn times_are_short_for_people() {
    assert_eq!(
        clock_time("2031-06-02T07:40:12.305+02:00[Europe/Vienna]"),
        "2031-06-02 07:40:12 +02:00"
    );
    assert_eq!(
        clock_time("2031-06-02T07:40:12.305-07:00[America/Denver]"),
        "2031-06-02 07:40:12 -07:00"
    );
    assert_eq!(clock_time(""), "");
}

#[test]
fn stations_are_drawn_forward_up_and_left_left() {
    let drawing = stations::drawing(&in_folder(sample)).unwrap();
    let [left, right] = &drawing.marks[..] else {
        panic!("two stations");
    };
    assert!(left.x < right.x, "{drawing:?}");
    assert!((left.y - right.y).abs() < 1e-9, "{drawing:?}");
    for mark in &drawing.marks {
        assert!((0.0..=1.0).contains(&mark.x) && (0.0..=drawing.aspect).contains(&mark.y));
    }
    assert_eq!(right.status, crate::record::Status::Deficient);
    // The sample's load is 2.4 by 1.5 m, its corners' stations 0.2 m behind its front end.
    let [x0, y0, x1, y1] = drawing.outline.unwrap();
    assert!(((y1 - y0) / (x1 - x0) - 1.6).abs() < 1e-9, "{drawing:?}");
    assert!((((left.y - y0) / (y1 - y0)) - 0.2 / 2.4).abs() < 1e-9);
    assert!(x0 < left.x && right.x < x1);
    let page = html(&in_folder(sample), None, None);
    assert!(page.contains("<title>the load</title>"), "no outline");
}

#[cfg(feature = "pdf")]
#[test]
fn pdf_keeps_to_its_standards_on_both_papers_and_twice_alike() {
    // The writer checks PDF/A-3a and PDF/UA-1 and fails where they are broken.
    let view = in_folder(sample);
    let text = include_str!("../../plans/generator-skid.toml");
    let plan = crate::plan::read(Path::new("generator-skid.toml"), text).unwrap();
    let rig = crate::figures::Rig::from_plan(&plan);
    let hang = crate::figures::hang(&rig).unwrap();
    let hanging = Hanging {
        rig,
        hang,
        heading: "As it hangs".to_owned(),
        effect: Some("the load hangs level".to_owned()),
    };
    for paper in [Paper::A4, Paper::Letter] {
        let bare = pdf(&view, paper, None, None).unwrap();
        for hanging in [None, Some(&hanging)] {
            let first = pdf(&view, paper, hanging, None).unwrap();
            assert!(first.starts_with(b"%PDF-1.7"));
            assert!(
                first == pdf(&view, paper, hanging, None).unwrap(),
                "not the same bytes"
            );
            assert_eq!(first == bare, hanging.is_none(), "the picture is in it");
        }
    }
}

#[cfg(feature = "pdf")]
#[test]
fn pdf_takes_a_long_walk_and_a_note_longer_than_a_page() {
    let mut view = in_folder(sample);
    view.checks[0].deficiency = Some("the strap is worn ".repeat(900));
    let one = view.checks[1].clone();
    view.checks.extend(std::iter::repeat_n(one, 400));
    pdf(&view, Paper::Letter, None, Some("crew")).unwrap();
}

#[test]
fn a_confirmed_answer_tells_both_utterances() {
    let mut view = in_folder(sample);
    let answer = &mut view.checks[0].answers[0];
    answer.confirmed_by = Some(answer.heard.clone());
    answer.heard.clip = "0001-x-1.wav".to_owned();
    let text = how_heard(answer);
    assert_eq!(
        text,
        "heard \u{201c}present\u{201d} 97 %, confirmed \u{201c}present\u{201d}"
    );
}

#[test]
fn csv_has_every_note_and_tells_what_is_a_guess() {
    let mut view = in_folder(sample);
    view.checks[0].answers[0].heard.clip_sha256 = "=HYPERLINK(1)".to_owned();
    let table = csv(&view);
    assert!(table.contains("Note, machine transcript: "), "{table}");
    // The note on the load stands in each of the four rows.
    assert_eq!(table.matches("note 1 \u{d6}se").count(), 4, "{table}");
    assert!(table.contains("'=HYPERLINK(1)"), "{table}");
    for note in &mut view.checks.iter_mut().flat_map(|c| &mut c.notes) {
        note.transcript.clear();
    }
    assert!(csv(&view).contains("Note, spoken; no machine transcript"));
}

#[test]
fn the_second_person_signs_with_a_name_and_nobody_signs_practice() {
    let mut view = in_folder(sample);
    let page = html(&view, None, None);
    assert!(page.contains("<div>Second person: name, date, signature</div>"));
    assert!(page.contains(": date, signature</div>") && !page.contains(NOT_SIGNED));
    view.practice = Some(Debrief::default());
    let page = html(&view, None, None);
    assert!(page.contains(NOT_SIGNED) && !page.contains("date, signature"));
}
