use super::*;
use crate::record::samples::{StepClock, noted, opened};
use crate::record::testing::{Fault, MemoryFile};
use proptest::prelude::*;

fn started(entries: u32) -> (MemoryFile, Journal<MemoryFile>, StepClock) {
    let clock = StepClock::at(0);
    let file = MemoryFile::default();
    let mut journal = Journal::start(file.clone(), &clock);
    for n in 0..entries {
        let entry = if n == 0 { opened() } else { noted(n) };
        assert_eq!(journal.append(&entry, &clock).unwrap(), u64::from(n));
    }
    (file, journal, clock)
}

#[test]
fn short_writes_are_carried_on() {
    let (file, mut journal, clock) = started(1);
    file.plan_faults([Fault::Short(1), Fault::Short(7), Fault::Short(100)]);
    journal.append(&noted(1), &clock).unwrap();
    let (_, entries, torn) = Journal::recover(file, &clock).unwrap();
    assert_eq!(entries[1].entry, noted(1));
    assert_eq!(torn, None);
}

#[test]
fn after_a_failed_write_nothing_is_taken_until_mended() {
    let (file, mut journal, clock) = started(2);
    file.plan_faults([Fault::WriteFails(20)]);
    let error = journal.append(&noted(2), &clock).unwrap_err();
    assert!(matches!(error, RecordError::DiskFull { .. }), "{error}");
    let error = journal.append(&noted(2), &clock).unwrap_err();
    assert!(matches!(error, RecordError::Stopped(_)), "{error}");
    journal.mend().unwrap();
    assert_eq!(journal.append(&noted(2), &clock).unwrap(), 2);
    let (_, entries, torn) = Journal::recover(file, &clock).unwrap();
    assert_eq!(entries.len(), 3);
    assert_eq!(torn, None);
}

#[test]
fn a_failed_write_that_cannot_be_undone_is_set_aside_at_the_next_start() {
    let (file, mut journal, clock) = started(2);
    file.plan_faults([Fault::WriteFails(20), Fault::TruncateFails]);
    journal.append(&noted(2), &clock).unwrap_err();
    drop(journal);
    let (mut journal, entries, torn) = Journal::recover(file.clone(), &clock).unwrap();
    assert_eq!(entries.len(), 2);
    assert_eq!(torn.unwrap().bytes, 20);
    assert_eq!(file.aside()[0].len(), 20);
    assert!(file.aside()[0].starts_with(b"{\"seq\":2,"));
    assert_eq!(journal.append(&noted(2), &clock).unwrap(), 2);
}

#[test]
fn bytes_that_a_failed_sync_forgot_are_written_again() {
    let (file, mut journal, clock) = started(2);
    file.plan_faults([Fault::None, Fault::SyncFails, Fault::TruncateFails]);
    journal.append(&noted(2), &clock).unwrap_err();
    drop(journal);
    // Without a crash between, the line is still to be read, and so it becomes an entry.
    let (mut journal, entries, _) = Journal::recover(file.clone(), &clock).unwrap();
    assert_eq!(entries.len(), 3);
    journal.append(&noted(3), &clock).unwrap();
    file.crash(0, 0, 0..0);
    let (_, entries, torn) = Journal::recover(file, &clock).unwrap();
    assert_eq!(entries.len(), 4);
    assert_eq!(torn, None);
}

#[test]
fn a_clock_set_back_is_written_down() {
    let (file, mut journal, clock) = started(2);
    clock.set_back(60_000);
    journal.append(&noted(2), &clock).unwrap();
    journal.append(&noted(3), &clock).unwrap();
    let notices: Vec<_> = parse_journal(&file.visible())
        .entries
        .iter()
        .map(|e| e.clock)
        .collect();
    assert_eq!(notices, [None, None, Some(ClockNotice::SetBack), None]);
}

#[test]
fn recorded_time_goes_on_after_a_new_start_and_never_back() {
    let (file, journal, _) = started(3);
    drop(journal);
    let clock = StepClock::at(3_600_000);
    let (mut journal, entries, _) = Journal::recover(file.clone(), &clock).unwrap();
    let last = entries[2].mono_ms;
    journal.append(&noted(3), &clock).unwrap();
    assert_eq!(
        parse_journal(&file.visible()).entries[3].mono_ms,
        last + 250
    );
}

#[test]
fn an_entry_that_would_not_read_back_is_not_written() {
    let (file, mut journal, clock) = started(1);
    let before = file.visible();
    let mut heard = crate::record::samples::hearing("count", "3", "three");
    heard.confidence = f64::NAN;
    let entry = Entry::Refused {
        check: None,
        hearing: heard,
    };
    let error = journal.append(&entry, &clock).unwrap_err();
    assert!(
        matches!(error, RecordError::Unreadable { seq: 1, .. }),
        "{error}"
    );
    assert_eq!(file.visible(), before);
    assert_eq!(journal.append(&noted(1), &clock).unwrap(), 1);
}

#[test]
fn a_journal_changed_underneath_is_noticed() {
    let (mut file, mut journal, clock) = started(2);
    let end = file.length().unwrap();
    file.write_at(end, b"x").unwrap();
    let error = journal.append(&noted(2), &clock).unwrap_err();
    assert!(
        matches!(error, RecordError::ChangedUnderneath { .. }),
        "{error}"
    );
}

#[test]
fn a_bad_line_in_the_middle_is_named_and_nothing_is_changed() {
    let (file, journal, clock) = started(4);
    drop(journal);
    let changed = String::from_utf8(file.visible())
        .unwrap()
        .replace("note 2", "note 9");
    let file = MemoryFile::with_bytes(changed.as_bytes());
    let error = Journal::recover(file.clone(), &clock).err().unwrap();
    assert!(
        error.to_string().contains("entry 2 (line 3) was changed"),
        "{error}"
    );
    assert_eq!(file.visible(), changed.as_bytes());
}

/// What happens in one step of a disk's hard life.
#[derive(Clone, Debug)]
enum Step {
    Append(Vec<Fault>),
    Mend(Vec<Fault>),
    /// The program ends and starts again; the system lives on.
    Restart,
    /// The power goes.
    Crash {
        whole: usize,
        torn: usize,
        hole: std::ops::Range<usize>,
        late: u32,
    },
}

fn fault() -> impl Strategy<Value = Fault> {
    prop_oneof![
        4 => Just(Fault::None),
        2 => (1..400usize).prop_map(Fault::Short),
        2 => (0..400usize).prop_map(Fault::WriteFails),
        2 => Just(Fault::SyncFails),
        1 => Just(Fault::TruncateFails),
    ]
}

fn step() -> impl Strategy<Value = Step> {
    let faults = || proptest::collection::vec(fault(), 0..4);
    prop_oneof![
        8 => faults().prop_map(Step::Append),
        2 => faults().prop_map(Step::Mend),
        1 => Just(Step::Restart),
        2 => (0..4usize, 0..400usize, 0..400usize, 0..200usize, any::<u32>()).prop_map(
            |(whole, torn, from, length, late)| Step::Crash {
                whole, torn, hole: from..from + length, late
            }
        ),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// Every acknowledged entry is there in the end, in order, under the number it was given.
    #[test]
    fn no_acknowledged_entry_is_lost(steps in proptest::collection::vec(step(), 1..40)) {
        let clock = StepClock::at(0);
        let file = MemoryFile::default();
        let mut journal = Journal::start(file.clone(), &clock);
        let mut acknowledged: Vec<(u64, Entry)> = Vec::new();
        for (n, step) in steps.into_iter().enumerate() {
            match step {
                Step::Append(faults) => {
                    file.plan_faults(faults);
                    let entry = noted(n as u32);
                    if let Ok(seq) = journal.append(&entry, &clock) {
                        acknowledged.push((seq, entry));
                    }
                }
                Step::Mend(faults) => {
                    file.plan_faults(faults);
                    let _ = journal.mend();
                }
                Step::Restart => {
                    file.plan_faults([]);
                    journal = Journal::recover(file.clone(), &clock).map_err(fail)?.0;
                }
                Step::Crash { whole, torn, hole, late } => {
                    file.plan_faults([]);
                    file.crash_out_of_order(whole, torn, hole, late);
                    journal = Journal::recover(file.clone(), &clock).map_err(fail)?.0;
                }
            }
        }
        file.plan_faults([]);
        file.crash(0, 0, 0..0);
        let (_, entries, _) = Journal::recover(file, &clock).map_err(fail)?;
        for (seq, entry) in acknowledged {
            let found = entries.get(usize::try_from(seq).unwrap());
            prop_assert_eq!(found.map(|e| &e.entry), Some(&entry));
        }
    }
}

fn fail(error: RecordError) -> TestCaseError {
    TestCaseError::fail(error.to_string())
}
