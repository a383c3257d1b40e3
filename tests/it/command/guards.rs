//! What a command must not do to files: write into a record, remove what it could not write, take what nobody meant.

use super::talk::{Talk, loadwalk, ran, shipped};
use std::fs;
use std::path::Path;

/// A walk of the shipped skid, broken off after one answer.
fn broken_off(record: &Path, more: &[&str]) {
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), record, more);
    talk.answer("present");
    assert!(talk.listens());
    talk.end();
}

fn run(args: &[&str]) -> (i32, String, String) {
    ran(&loadwalk().args(args).output().expect("it runs"))
}

#[test]
fn nothing_is_written_into_a_record() {
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    broken_off(&record, &["--brief"]);
    let before = fs::read(record.join("journal.jsonl")).expect("a journal");
    let named = record.to_str().expect("UTF-8");
    for (option, file) in [
        ("--csv", "journal.jsonl"),
        ("--html", "new.html"),
        ("--json", "clips/new.json"),
        ("--vtt", "plan.toml"),
        ("--session-sound", "walk.wav"),
    ] {
        let inside = record.join(file);
        let inside = inside.to_str().expect("UTF-8");
        let (code, _, told) = run(&["report", named, option, inside]);
        assert_eq!(code, 2, "{option}: {told}");
        assert!(told.contains("lies in the record"), "{told}");
    }
    assert_eq!(
        fs::read(record.join("journal.jsonl")).expect("a journal"),
        before
    );
    for command in ["list", "trends"] {
        let (code, _, told) = run(&[command, named]);
        assert_eq!(code, 2, "{told}");
        assert!(told.contains("is a record"), "{told}");
    }
    assert!(!record.join("loadwalk-index.sqlite").exists());
}

#[cfg(unix)]
#[test]
fn a_sound_file_that_cannot_be_replaced_stays() {
    use std::os::unix::fs::PermissionsExt;
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    broken_off(&record, &["--brief"]);
    let folder = root.path().join("shut");
    fs::create_dir(&folder).expect("a folder");
    let file = folder.join("mine.wav");
    fs::write(&file, "precious").expect("written");
    fs::set_permissions(&folder, fs::Permissions::from_mode(0o555)).expect("shut");
    let sound = file.to_str().expect("UTF-8");
    let named = record.to_str().expect("UTF-8");
    let (code, _, told) = run(&["report", named, "--session-sound", sound]);
    fs::set_permissions(&folder, fs::Permissions::from_mode(0o755)).expect("opened");
    // The system's own user may write anywhere.
    if code != 0 {
        assert_eq!(code, 2, "{told}");
        assert_eq!(fs::read_to_string(&file).expect("still there"), "precious");
    }
    let left: Vec<_> = fs::read_dir(&folder).expect("a folder").collect();
    assert_eq!(left.len(), 1, "{left:?}");
}

#[test]
fn a_walk_is_taken_up_as_it_was_opened() {
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    broken_off(&record, &["--brief", "--called=front-left"]);
    let named = record.to_str().expect("UTF-8");
    // A station that is not visited is refused here as it is at the start.
    let (code, _, told) = run(&["resume", named, "--keys", "--called=fornt"]);
    assert_eq!(code, 2, "{told}");
    assert!(told.contains("`fornt`"), "{told}");
    let mut talk = Talk::resume(&record, &[]);
    talk.answer("missing");
    assert!(
        !talk.said.iter().any(|s| s.contains("ote, or carry on")),
        "{:?}",
        talk.said
    );
    talk.end();
}
