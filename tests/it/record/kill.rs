//! Kills a process that writes a record, many times.

use super::samples::{PLAN, answer, clock, note, opened};
use loadwalk::record::{Record, RecordError, sha256_hex, verify};
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

/// The folder that a child works on; set only by the test that kills it.
const CHILD: &str = "LOADWALK_TEST_RECORD";

/// Goes on with a record until it is killed, and says what the journal acknowledged.
#[test]
#[ignore = "the child of `a_killed_process_loses_nothing_that_it_acknowledged`"]
fn child_that_is_killed() {
    let folder = PathBuf::from(std::env::var_os(CHILD).expect("set by the parent test"));
    let mut record = if folder.join("journal.jsonl").exists() {
        Record::open(&folder, clock()).unwrap().0
    } else {
        let mut record = Record::create(&folder, PLAN, clock()).unwrap();
        let seq = record.append(&opened("Ida Fern", "Tom Alder")).unwrap();
        println!("ack {seq} opened");
        record
    };
    loop {
        let seq = record.next_seq();
        let entry = if seq % 3 == 0 {
            answer(&mut record, "present")
        } else {
            // Long enough that a kill can fall between two blocks of one line.
            note(&format!("note {seq} {}", "on the long strap ".repeat(500)))
        };
        let name = sha256_hex(&serde_json::to_vec(&entry).unwrap());
        println!("ack {} {name}", record.append(&entry).unwrap());
    }
}

/// A thousand moments; `LOADWALK_KILLS` sets another number.
#[test]
fn a_killed_process_loses_nothing_that_it_acknowledged() {
    let kills: u64 = std::env::var("LOADWALK_KILLS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(1_000);
    // A kill is mostly waiting, so several records are written side by side.
    const SIDE_BY_SIDE: u64 = 4;
    std::thread::scope(|scope| {
        for part in 0..SIDE_BY_SIDE {
            let own = (kills + part) / SIDE_BY_SIDE;
            let seed = 0x9e37_79b9_7f4a_7c15_u64.wrapping_mul(2 * part + 1);
            scope.spawn(move || kill_often(own, seed));
        }
    });
}

fn kill_often(kills: u64, seed: u64) {
    let root = tempfile::tempdir().unwrap();
    let mut acknowledged: Vec<(u64, String)> = Vec::new();
    let mut folder = PathBuf::new();
    let mut random = seed;
    for kill in 0..kills {
        if kill % 20 == 0 {
            folder = root.path().join(format!("walk-{kill}"));
            acknowledged.clear();
        }
        // Xorshift: any spread of moments will do, and this one is the same each time.
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        let acks = killed_after(
            &folder,
            Duration::from_micros(random % 30_000),
            random.is_multiple_of(3),
        );
        acknowledged.extend(acks);
        check_acknowledged(&folder, &acknowledged);
    }
}

/// Runs the child and kills it after a time, counted from its first acknowledgement or its start;
/// returns what it acknowledged.
fn killed_after(folder: &Path, after: Duration, from_start: bool) -> Vec<(u64, String)> {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args([
            "record::kill::child_that_is_killed",
            "--exact",
            "--ignored",
            "--nocapture",
        ])
        .env(CHILD, folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut acks = Vec::new();
    if !from_start {
        acks.extend(lines.by_ref().map_while(Result::ok).find_map(|l| ack(&l)));
        assert!(!acks.is_empty(), "the child acknowledged nothing");
    }
    std::thread::sleep(after);
    child.kill().unwrap();
    child.wait().unwrap();
    acks.extend(lines.map_while(Result::ok).filter_map(|l| ack(&l)));
    acks
}

/// `ack SEQ HASH`, after whatever the test harness printed on the same line; `None` where the kill
/// cut the line.
fn ack(line: &str) -> Option<(u64, String)> {
    let mut words = line[line.find("ack ")?..].split(' ').skip(1);
    let seq = words.next()?.parse().ok()?;
    let name = words.next()?;
    (name == "opened" || name.len() == 64).then(|| (seq, name.to_owned()))
}

#[track_caller]
fn check_acknowledged(folder: &Path, acknowledged: &[(u64, String)]) {
    if acknowledged.is_empty() && !folder.join("journal.jsonl").exists() {
        // Killed before the record was made; the next child would find half a folder.
        let _ = fs::remove_dir_all(folder);
        return;
    }
    let entries = match Record::open(folder, clock()) {
        Ok((_, found)) => found.entries,
        Err(RecordError::Empty(_)) if acknowledged.is_empty() => {
            fs::remove_dir_all(folder).unwrap();
            return;
        }
        Err(error) => panic!("{error}"),
    };
    for (seq, name) in acknowledged {
        let found = &entries[usize::try_from(*seq).unwrap()].entry;
        if name != "opened" {
            assert_eq!(&sha256_hex(&serde_json::to_vec(found).unwrap()), name);
        }
    }
    let found = verify(folder, &[]).unwrap();
    assert_eq!(found.problems, []);
}
