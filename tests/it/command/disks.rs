//! Disks and clocks that fail under a walk, through the program itself. A full and a read-only disk
//! need a file system of their own: where the system lets nobody mount one, those tests say so.

use super::talk::{Talk, checks, conforming, loadwalk, ran, shipped};
use loadwalk::record::{Clock, Record, SystemClock};
use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// A command in a mount namespace of its own in which `mount` was run; `None` where that is not
/// allowed.
fn with_mount(mount: &str, folder: &Path, program: &str) -> Option<Command> {
    let shell = |then: &str| {
        let mut command = Command::new("unshare");
        command.args(["-rm", "sh", "-c", &format!("{mount} && {then}")]);
        command.arg(folder);
        command
    };
    let tried = shell("true").output();
    if !tried.is_ok_and(|o| o.status.success()) {
        eprintln!("not tried: this system lets nobody mount a file system in a namespace");
        return None;
    }
    let mut command = shell("exec \"$@\"");
    command.arg(program);
    Some(command)
}

fn walk_args(command: &mut Command, record: &Path) {
    command.arg("walk").arg(shipped("generator-skid.toml"));
    command.arg("--record").arg(record);
    command.args(["--inspector", "Ilse Brandt", "--rigger", "Oskar Venn"]);
    command.env("NO_COLOR", "1");
}

fn program() -> String {
    loadwalk()
        .get_program()
        .to_str()
        .expect("a path")
        .to_owned()
}

/// Fills a file system to the last byte.
fn fill(file: &Path) {
    let mut out = fs::File::create(file).expect("a file to fill the disk");
    while out.write_all(&[1; 1_024]).is_ok() {}
    while out.write_all(&[1]).is_ok() {}
}

#[test]
fn a_full_disk_holds_the_walk_and_no_answer_is_lost() {
    let root = tempfile::tempdir().expect("a folder");
    let mount = "mount -t tmpfs -o size=1m none \"$0\"";
    let Some(mut command) = with_mount(mount, root.path(), &program()) else {
        return;
    };
    walk_args(&mut command, &root.path().join("record"));
    command.stderr(Stdio::piped());
    let mut talk = Talk::of(command, &["--brief"]);
    // The disk as the program sees it.
    let seen = PathBuf::from(format!(
        "/proc/{}/root{}",
        talk.child.id(),
        root.path().display()
    ));
    let filler = seen.join("filler");
    let stderr = BufReader::new(talk.child.stderr.take().expect("piped"));
    let freed = filler.clone();
    let freeing = std::thread::spawn(move || {
        let mut full = false;
        for line in stderr.lines().map_while(Result::ok) {
            full |= line.contains("no space left") && line.contains("free some space");
            if full {
                let _ = fs::remove_file(&freed);
            }
        }
        full
    });
    assert!(talk.listens());
    let route = checks(&talk.entries[0]);
    fill(&filler);
    let mut typed = 0;
    let held = |talk: &Talk| talk.entries.iter().any(|e| e["entry"] == "held");
    while !held(&talk) && typed < 60 {
        let asked = talk.asked().expect("a check is asked").to_owned();
        let check = route
            .iter()
            .find(|c| c["id"] == asked.as_str())
            .expect("of the route");
        talk.types(&conforming(check));
        typed += 1;
        assert!(talk.listens(), "the walk goes on: {:?}", talk.said);
    }
    assert!(held(&talk), "{:?}", talk.said);
    talk.answer_now("carry on");
    let acknowledged = talk.entries.clone();
    let journal = fs::read_to_string(seen.join("record/journal.jsonl")).expect("a journal");
    talk.end();
    assert!(
        freeing.join().expect("it read"),
        "the program said what is wrong"
    );
    let written: Vec<Value> = journal
        .lines()
        .filter_map(|line| Some(serde_json::from_str::<Value>(line).ok()?["entry"].take()))
        .collect();
    assert!(written.len() >= acknowledged.len());
    assert_eq!(written[..acknowledged.len()], acknowledged[..]);
}

/// A full disk leaves no half of a report, a key or a page behind, and a report that was there stays.
#[test]
fn what_does_not_fit_is_told_and_leaves_nothing_by_halves() {
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), &record, &["--brief"]);
    assert!(talk.listens());
    talk.end();
    let disk = root.path().join("disk");
    fs::create_dir(&disk).expect("a folder");
    let script = "mount -t tmpfs -o size=64k none \"$0\" && cd \"$0\" && echo before > report.csv || exit 77; \
         head -c 200000 /dev/zero > filler 2> /dev/null; \
         \"$1\" report \"$2\" --csv report.csv; echo \"code $?\"; \
         \"$1\" report \"$2\" --html report.html; echo \"code $?\"; \
         \"$1\" key new ilse; echo \"code $?\"; cat report.csv; ls -A";
    let mut command = Command::new("unshare");
    command.args(["-rm", "sh", "-c", script]).arg(&disk);
    let output = command.arg(program()).arg(&record).output();
    let Ok(output) = output.as_ref().map(ran) else {
        return;
    };
    let (code, out, told) = output;
    if code == 77 || !out.contains("code") {
        eprintln!("no file system of its own here, so a full disk is not tried: {told}");
        return;
    }
    assert_eq!(
        out, "code 2\ncode 2\ncode 2\nbefore\nfiller\nreport.csv\n",
        "{told}"
    );
    assert_eq!(told.matches("No space left on device").count(), 3, "{told}");
}

#[test]
fn a_read_only_disk_is_named_and_can_still_be_read() {
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), &record, &[]);
    talk.answer("present");
    talk.end();
    let mount = "mount --bind \"$0\" \"$0\" && mount -o remount,ro,bind \"$0\"";
    let run = |args: &[&str], record: &Path| {
        let mut command = with_mount(mount, root.path(), &program())?;
        match args[0] {
            "walk" => walk_args(&mut command, record),
            _ => drop(command.args(args).arg(record)),
        }
        if matches!(args[0], "walk" | "resume") {
            command.arg("--keys");
        }
        command.stdin(Stdio::null());
        Some(ran(&command.output().expect("it runs")))
    };
    let Some((code, _, wrong)) = run(&["walk"], &root.path().join("other")) else {
        return;
    };
    assert_eq!(code, 2, "{wrong}");
    assert!(wrong.contains("cannot be written"), "{wrong}");
    let (code, _, wrong) = run(&["resume"], &record).expect("as before");
    assert_eq!(code, 2, "{wrong}");
    assert!(
        wrong.contains("cannot be written") && wrong.contains("mount"),
        "{wrong}"
    );
    for reading in ["show", "verify"] {
        let (code, out, wrong) = run(&[reading], &record).expect("as before");
        assert_eq!(code, 0, "{reading}: {out}{wrong}");
    }
}

#[test]
fn a_torn_last_line_is_told_and_the_walk_goes_on() {
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), &record, &[]);
    talk.answer("present");
    talk.end();
    let journal = record.join("journal.jsonl");
    let whole = fs::read(&journal).expect("a journal");
    let mut torn = whole.clone();
    torn.extend(b"{\"seq\":99,\"wall\":\"2031-06-0");
    fs::write(&journal, torn).expect("written");
    let mut resume = loadwalk();
    resume
        .arg("resume")
        .arg(&record)
        .arg("--keys")
        .stdin(Stdio::null());
    let (code, _, told) = ran(&resume.output().expect("it runs"));
    assert_eq!(code, 1);
    assert!(told.contains("a line of 27 bytes was broken off"), "{told}");
    assert!(fs::read(&journal).expect("a journal").starts_with(&whole));
    let (code, out, _) = ran(&loadwalk()
        .arg("verify")
        .arg(&record)
        .output()
        .expect("it runs"));
    assert_eq!(code, 0, "{out}");
    assert!(out.contains("never acknowledged"), "{out}");
}

#[test]
fn two_programs_do_not_write_one_record() {
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), &record, &[]);
    assert!(talk.listens());
    let mut second = loadwalk();
    second
        .arg("resume")
        .arg(&record)
        .arg("--keys")
        .stdin(Stdio::null());
    let before = fs::read(record.join("journal.jsonl")).expect("a journal");
    let (code, _, wrong) = ran(&second.output().expect("it runs"));
    assert_eq!(code, 2, "{wrong}");
    assert!(
        wrong.contains("in use") || wrong.contains("open"),
        "{wrong}"
    );
    assert_eq!(
        fs::read(record.join("journal.jsonl")).expect("a journal"),
        before
    );
    talk.types("present");
    assert!(talk.listens(), "the first goes on");
}

/// The machine's clock, an hour ahead.
struct Ahead(SystemClock);

impl Clock for Ahead {
    fn wall(&self) -> jiff::ZonedDateTime {
        &self.0.wall() + jiff::SignedDuration::from_hours(1)
    }

    fn mono_ms(&self) -> u64 {
        self.0.mono_ms()
    }
}

#[test]
fn a_clock_set_back_between_two_runs_is_noticed() {
    let root = tempfile::tempdir().expect("a folder");
    let (first, record) = (root.path().join("first"), root.path().join("record"));
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), &first, &[]);
    assert!(talk.listens());
    talk.end();
    let plan = fs::read(first.join("plan.toml")).expect("a plan");
    let made = loadwalk::record::read(&first).expect("a record");
    let clock = Ahead(SystemClock::default());
    let mut ahead = Record::create(&record, &plan, Box::new(clock)).expect("a folder");
    for envelope in &made.entries {
        ahead.append(&envelope.entry).expect("written");
    }
    drop(ahead);
    let mut talk = Talk::resume(&record, &[]);
    assert!(talk.listens());
    talk.end();
    let (code, out, _) = ran(&loadwalk()
        .arg("verify")
        .arg(&record)
        .output()
        .expect("it runs"));
    assert_eq!(code, 0, "{out}");
    assert!(
        out.contains("the clock had been set back before entry"),
        "{out}"
    );
}
