//! Many records and the session's sound, through the program.

use super::talk::{Talk, loadwalk, ran, run, shipped};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Records of walks of the shipped skid, each broken off after a fault.
fn broken_off(folder: &Path, names: [&str; 2]) {
    for name in names {
        let record = folder.join(name);
        let mut talk = Talk::walk(&shipped("generator-skid.toml"), &record, &["--brief"]);
        talk.answer("not signed");
        assert!(talk.listens());
        talk.end();
    }
}

#[test]
fn a_day_that_is_none_is_refused_with_how_to_write_one() {
    for option in ["--since", "--until"] {
        for day in ["yesterday", "2031-13-40"] {
            let (code, _, told) = run(&["list", "/nowhere", option, day]);
            assert_eq!(code, 2, "{told}");
            assert!(
                told.contains(day) && told.contains("\"2031-06-02\""),
                "{told}"
            );
        }
    }
}

#[test]
fn records_are_listed_and_counted() {
    let root = tempfile::tempdir().expect("a folder");
    broken_off(root.path(), ["one", "two"]);
    let run = |args: &[&str]| {
        let mut command = loadwalk();
        command.args(&args[..1]).arg(root.path()).args(&args[1..]);
        ran(&command.output().expect("it runs"))
    };
    let (code, out, told) = run(&["list", "--json"]);
    assert_eq!(code, 0, "{told}");
    assert!(told.contains("2 records, 2 read anew"), "{told}");
    let rows: Vec<Value> = out
        .lines()
        .map(|l| serde_json::from_str(l).expect("JSON"))
        .collect();
    assert_eq!(rows.len(), 2);
    assert_eq!(rows[0]["rigger"], "Oskar Venn");
    assert_eq!(rows[0]["found"], 1);
    let svg = root.path().join("plots.svg");
    let sqlite = root.path().join("out.sqlite");
    let (code, out, told) = run(&[
        "trends",
        "--by",
        "kind",
        "--json",
        "--svg",
        svg.to_str().expect("UTF-8"),
        "--sqlite",
        sqlite.to_str().expect("UTF-8"),
    ]);
    assert_eq!(code, 0, "{told}");
    assert!(!told.contains("read anew"), "nothing changed: {told}");
    let trends: Value = serde_json::from_str(&out).expect("JSON");
    assert_eq!(
        trends["groups"][0]["group"], "rigid",
        "the kind comes from the plan"
    );
    assert_eq!(trends["checks"][0]["deficient"], 2);
    assert!(fs::read_to_string(svg).expect("plots").starts_with("<svg"));
    assert!(
        fs::read(sqlite)
            .expect("a database")
            .starts_with(b"SQLite format 3\0")
    );
    let (code, _, told) = run(&["list", "--since", "yesterday"]);
    assert_eq!(code, 2);
    assert!(told.contains("--since"), "{told}");
    let (code, out, _) = run(&["trends"]);
    assert_eq!(code, 0);
    assert!(out.contains("checks that fail most"), "{out}");
}

#[test]
fn a_copy_of_a_record_is_counted_once_and_named() {
    let root = tempfile::tempdir().expect("a folder");
    broken_off(root.path(), ["one", "two"]);
    let (from, to) = (root.path().join("one"), root.path().join("one again"));
    fs::create_dir(&to).expect("a folder");
    for name in ["journal.jsonl", "plan.toml"] {
        fs::copy(from.join(name), to.join(name)).expect("copied");
    }
    let folder = root.path().to_str().expect("UTF-8");
    let (code, out, told) = run(&["list", folder, "--json"]);
    assert_eq!(code, 0, "{told}");
    assert_eq!(out.lines().count(), 2, "{out}");
    let named = "not counted, since it is of the same walk as one: one again";
    assert!(told.contains(named), "{told}");
    let (_, out, _) = run(&["trends", folder]);
    assert!(
        out.contains("copies of other records, not counted: 1"),
        "{out}"
    );
}

/// A record that is not intact has neither day nor names to ask for, and is missed by nobody all the same.
#[test]
fn a_record_that_is_not_intact_is_named_whatever_is_asked_for() {
    let root = tempfile::tempdir().expect("a folder");
    broken_off(root.path(), ["good", "bad"]);
    let journal = root.path().join("bad/journal.jsonl");
    let text = fs::read_to_string(&journal).expect("a journal");
    fs::write(&journal, text.replacen("Oskar", "Oscar", 1)).expect("written");
    let folder = root.path().to_str().expect("UTF-8");
    let all: [&[&str]; 7] = [
        &["list"],
        &["list", "--since", "2020-01-01"],
        &["list", "--inspector", "Ilse Brandt", "--json"],
        &["list", "--limit", "1"],
        &["list", "--state", "open"],
        &["list", "--state", "unreadable"],
        &["practice", "progress", "--since", "2020-01-01"],
    ];
    for asked in all {
        let command = asked.iter().take_while(|a| !a.starts_with("--")).count();
        let args = [&asked[..command], &[folder], &asked[command..]].concat();
        let (code, out, told) = run(&args);
        assert_eq!(code, 0, "{asked:?}: {told}");
        let named = |text: &str| text.lines().filter(|l| l.contains("bad: ")).count();
        assert_eq!(named(&out) + named(&told), 1, "{asked:?}: {out}{told}");
    }
}

#[cfg(unix)]
#[test]
fn a_folder_whose_name_is_no_text_is_listed() {
    use std::os::unix::ffi::OsStrExt;
    let root = tempfile::tempdir().expect("a folder");
    let odd = root.path().join(std::ffi::OsStr::from_bytes(b"h\xfctte"));
    fs::create_dir(&odd).expect("a folder");
    let mut talk = Talk::walk(
        &shipped("generator-skid.toml"),
        &odd.join("record"),
        &["--brief"],
    );
    assert!(talk.listens());
    talk.end();
    let folder = root.path().to_str().expect("UTF-8");
    let (code, out, told) = run(&["list", folder]);
    assert_eq!(code, 0, "{told}");
    assert!(out.contains("h\\xfctte/record"), "{out}");
}

#[test]
fn a_session_is_written_as_sound() {
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), &record, &["--brief"]);
    talk.answer("present");
    assert!(talk.listens());
    talk.end();
    for name in ["walk.wav", "walk.flac", "walk.ogg"] {
        let file = root.path().join(name);
        let mut command = loadwalk();
        command
            .arg("report")
            .arg(&record)
            .arg("--session-sound")
            .arg(&file);
        let (code, _, told) = ran(&command.output().expect("it runs"));
        assert_eq!(code, if name == "walk.ogg" { 2 } else { 0 }, "{told}");
        assert_eq!(file.exists(), name != "walk.ogg");
    }
}

#[cfg(unix)]
#[test]
fn a_reader_that_goes_away_ends_the_program_quietly() {
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), &record, &["--brief"]);
    assert!(talk.listens());
    talk.end();
    let mut command = loadwalk();
    command.arg("show").arg(&record);
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    let ended = command.stdout(writer).output().expect("it runs");
    assert_eq!(ended.status.code(), Some(2));
    assert_eq!(String::from_utf8_lossy(&ended.stderr), "");
    // Nor does it need somebody who reads its messages.
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    let mut command = loadwalk();
    command.args(["verify", "/nowhere"]).stderr(writer);
    assert_eq!(command.status().expect("it runs").code(), Some(2));
    // A full disk is told.
    if let Ok(full) = fs::File::create("/dev/full") {
        let mut command = loadwalk();
        let ended = command.arg("show").arg(&record).stdout(full).output();
        let ended = ended.expect("it runs");
        assert_eq!(ended.status.code(), Some(2));
        let told = String::from_utf8_lossy(&ended.stderr);
        assert!(told.contains("could not be written"), "{told}");
    }
    // An error names its cause once.
    let mut command = loadwalk();
    command.args(["seal", "--as", "Ilse Brandt", "--key", "/nowhere/key.pem"]);
    let (code, _, told) = ran(&command.arg(&record).output().expect("it runs"));
    assert_eq!(code, 2);
    assert_eq!(told.matches("No such file").count(), 1, "{told}");
}
