//! What a user sees of a record: folder, locks, recovery, damage.

mod amending;
mod forgetting;
mod kill;
mod reading;
pub mod samples;
mod sealing;
mod withdrawing;

use loadwalk::record::{Place, ProblemKind, Record, RecordError, sha256_hex};
use loadwalk::walk::{Entry, Note};
use samples::{PLAN, Sample, clock, completed};
use std::fs;
use std::path::Path;

#[test]
fn a_record_is_a_folder_that_a_person_can_read() {
    let sample = Sample::complete();
    let mut names: Vec<String> = fs::read_dir(&sample.folder)
        .unwrap()
        .map(|f| f.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(
        names,
        [
            "README.txt",
            "clips",
            "journal.jsonl",
            "journal.lock",
            "plan.toml"
        ]
    );
    assert_eq!(fs::read(sample.folder.join("plan.toml")).unwrap(), PLAN);
    assert!(sample.clip().is_file());
    let line: serde_json::Value = serde_json::from_str(&sample.lines()[2]).unwrap();
    assert_eq!(line["seq"], 2);
    assert_eq!(line["entry"]["value"], "present");
    let found = sample.expect_intact();
    assert_eq!((found.entries, found.clips), (6, 1));
    assert!(found.proves.iter().any(|p| p.contains("no valid seal")));
}

#[test]
fn a_walk_goes_on_where_it_was() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    let (mut record, found) = Record::open(&sample.folder, clock()).unwrap();
    assert_eq!(found.entries.len(), 5);
    assert_eq!(found.torn, None);
    assert_eq!(record.append(&completed(true)).unwrap(), 5);
    drop(record);
    assert_eq!(sample.expect_intact().entries, 6);
}

#[test]
fn two_at_once_are_told_apart() {
    let sample = Sample::complete();
    let _open = Record::open(&sample.folder, clock()).unwrap();
    let error = Record::open(&sample.folder, clock()).unwrap_err();
    assert!(matches!(error, RecordError::InUse(_)), "{error}");
    assert!(error.to_string().contains("is open in another loadwalk"));
}

#[test]
fn a_folder_with_something_in_it_is_left_alone() {
    let sample = Sample::complete();
    let before = fs::read(sample.journal()).unwrap();
    let error = Record::create(&sample.folder, PLAN, clock()).unwrap_err();
    assert!(matches!(error, RecordError::NotEmpty(_)), "{error}");
    assert_eq!(fs::read(sample.journal()).unwrap(), before);
    let error = Record::open(Path::new("/nowhere/at/all"), clock()).unwrap_err();
    assert!(matches!(error, RecordError::NotARecord(_)), "{error}");
}

#[test]
fn a_torn_last_line_is_kept_aside_and_reported() {
    let sample = Sample::complete();
    let bytes = fs::read(sample.journal()).unwrap();
    fs::write(sample.journal(), &bytes[..bytes.len() - 30]).unwrap();
    sample.expect(Place::Entry(5), ProblemKind::Truncated);
    let (mut record, found) = Record::open(&sample.folder, clock()).unwrap();
    let torn = found.torn.unwrap();
    assert_eq!(torn.file, "journal.torn-1");
    assert_eq!(found.entries.len(), 5);
    let kept = fs::read(sample.folder.join("journal.torn-1")).unwrap();
    assert!(bytes[..bytes.len() - 30].ends_with(&kept));
    assert_eq!(record.append(&completed(true)).unwrap(), 5);
    drop(record);
    let found = sample.expect_intact();
    assert!(found.notes.iter().any(|n| n.contains("journal.torn-1")));
}

#[test]
fn a_record_broken_in_the_middle_is_not_gone_on_with() {
    let sample = Sample::complete();
    let mut lines = sample.lines();
    lines[3] = lines[3].replace("frayed", "good");
    sample.write_lines(&lines);
    let error = Record::open(&sample.folder, clock()).unwrap_err();
    assert!(
        error.to_string().contains("entry 3 (line 4) was changed"),
        "{error}"
    );
}

#[test]
fn a_record_of_a_newer_program_says_so() {
    let sample = Sample::complete();
    let mut lines = sample.lines();
    lines[0] = lines[0].replace("\"format\":1", "\"format\":7");
    sample.write_lines(&lines);
    let error = Record::open(&sample.folder, clock()).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("newer version of loadwalk: journal format 7"),
        "{error}"
    );
    sample.expect(Place::Entry(0), ProblemKind::Newer);
}

#[test]
fn an_entry_cannot_name_a_clip_that_is_not_there() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    let (mut record, _) = Record::open(&sample.folder, clock()).unwrap();
    for clip in ["0009-never-1.wav", "../journal.jsonl"] {
        let entry = Entry::Noted {
            check: None,
            note: Note {
                machine_transcript: String::new(),
                clip: clip.to_owned(),
                clip_sha256: sha256_hex(b""),
                typed: false,
                by_tool: false,
            },
        };
        let error = record.append(&entry).unwrap_err();
        assert!(matches!(error, RecordError::UnknownClip { .. }), "{error}");
    }
    assert_eq!(record.append(&completed(true)).unwrap(), 5);
}

#[test]
fn clips_of_one_check_get_names_of_their_own() {
    let root = tempfile::tempdir().unwrap();
    let mut record = Record::create(&root.path().join("walk"), PLAN, clock()).unwrap();
    let first = record.write_clip("front-left/hook-links", b"a").unwrap();
    let second = record.write_clip("front-left/hook-links", b"b").unwrap();
    assert_eq!(first.file, "0000-front-left-hook-links-1.wav");
    assert_eq!(second.file, "0000-front-left-hook-links-2.wav");
    assert_eq!(first.sha256, sha256_hex(b"a"));
}

#[test]
fn a_damaged_clip_is_named() {
    let clip = || Place::Clip {
        file: "0002-front-left-hook-pin-1.wav".to_owned(),
        entry: Some(2),
    };
    let sample = Sample::complete();
    let bytes = fs::read(sample.clip()).unwrap();
    fs::write(sample.clip(), &bytes[..bytes.len() - 100]).unwrap();
    sample.expect(clip(), ProblemKind::Truncated);
    let mut changed = bytes.clone();
    changed[200] ^= 1;
    fs::write(sample.clip(), changed).unwrap();
    sample.expect(clip(), ProblemKind::Changed);
    fs::remove_file(sample.clip()).unwrap();
    sample.expect(clip(), ProblemKind::Removed);
    fs::write(sample.clip(), bytes).unwrap();
    sample.expect_intact();
}

#[cfg(unix)]
#[test]
fn a_clip_that_is_a_link_to_elsewhere_is_not_followed() {
    let sample = Sample::complete();
    fs::remove_file(sample.clip()).unwrap();
    std::os::unix::fs::symlink("/dev/zero", sample.clip()).unwrap();
    let place = Place::Clip {
        file: "0002-front-left-hook-pin-1.wav".to_owned(),
        entry: Some(2),
    };
    sample.expect(place, ProblemKind::Changed);
}

#[test]
fn a_changed_plan_is_named() {
    let sample = Sample::complete();
    fs::write(sample.folder.join("plan.toml"), "# another\n").unwrap();
    sample.expect(Place::Plan, ProblemKind::Changed);
}

#[cfg(unix)]
#[test]
fn a_plan_or_a_list_that_is_no_plain_file_is_not_read() {
    use std::os::unix::fs::symlink;
    let sample = Sample::complete();
    // Without an end: read, it would take all memory.
    symlink("/dev/zero", sample.folder.join("forgotten-1.json")).unwrap();
    sample.expect_intact();
    let plan = sample.folder.join("plan.toml");
    fs::remove_file(&plan).unwrap();
    let pipe = std::process::Command::new("mkfifo").arg(&plan).status();
    assert!(pipe.unwrap().success());
    sample.expect(Place::Plan, ProblemKind::Changed);
}
