//! Kills walks at many moments. What the program called durable is there after, and the check that
//! was broken off is asked again.

use super::talk::{Talk, checks, conforming, shipped};
use serde_json::Value;
use std::path::Path;
use std::time::Duration;

/// Xorshift: any spread of moments will do.
struct Random(u64);

impl Random {
    fn below(&mut self, n: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % n
    }
}

fn journal(record: &Path) -> Vec<Value> {
    let text = std::fs::read(record.join("journal.jsonl")).expect("a journal");
    let text = String::from_utf8_lossy(&text).into_owned();
    // A last line without its end was being written; it never counted.
    let whole = text.rfind('\n').map_or(0, |at| at + 1);
    text[..whole]
        .lines()
        .map(|l| serde_json::from_str::<Value>(l).expect("a line of JSON"))
        .collect()
}

/// Answers in the order in which they were accepted.
fn answers<'v>(entries: impl Iterator<Item = &'v Value>) -> Vec<(String, String)> {
    let answered = entries.filter(|e| e["entry"] == "answered");
    let text = |v: &Value| v.as_str().expect("text").to_owned();
    answered
        .map(|e| (text(&e["check"]), text(&e["value"])))
        .collect()
}

/// What a resumed walk must ask first: the check that was asked and has no answer since, else the
/// first in the route without one. Read from the journal alone, not by the program's own fold.
fn broken_off(entries: &[Value], route: &[Value]) -> Option<String> {
    let mut asked: Option<&str> = None;
    let mut done: Vec<&str> = Vec::new();
    for entry in entries {
        let check = entry["check"].as_str();
        match entry["entry"].as_str() {
            Some("asked") => asked = check,
            Some("answered") => {
                done.extend(check);
                asked = asked.filter(|a| Some(*a) != check);
            }
            _ => {}
        }
    }
    let next = || {
        let ids = route.iter().filter_map(|c| c["id"].as_str());
        ids.into_iter().find(|id| !done.contains(id))
    };
    asked.or_else(next).map(str::to_owned)
}

/// Answers until the walk ends or the moment of the kill comes. True where it ended by itself.
fn some_answers(talk: &mut Talk, route: &mut Vec<Value>, random: &mut Random) -> bool {
    for _ in 0..random.below(6) {
        if !talk.listens() {
            return true;
        }
        if route.is_empty() {
            *route = checks(&talk.entries[0]);
        }
        let asks = talk.said.last().expect("a question").clone();
        let check = route
            .iter()
            .find(|c| Some(c["id"].as_str().expect("an id")) == talk.asked());
        let words = match check {
            _ if asks.contains("close the walk?") => "yes".to_owned(),
            Some(_) if random.below(5) == 0 => "cannot see".to_owned(),
            Some(_) if random.below(8) == 0 => "one of the bags is wet".to_owned(),
            Some(check) => conforming(check),
            None => "yes".to_owned(),
        };
        talk.types(&words);
    }
    // The kill falls somewhere into what follows the last answer, or into the start.
    let mut listening = false;
    for _ in 0..random.below(8) {
        if listening || !talk.read(&mut listening) {
            break;
        }
    }
    std::thread::sleep(Duration::from_micros(random.below(3_000)));
    false
}

/// `LOADWALK_KILLS` sets how often; the default keeps the suite short.
#[test]
fn a_walk_killed_at_any_moment_loses_no_accepted_answer() {
    let kills = std::env::var("LOADWALK_KILLS").ok();
    let kills: u64 = kills.and_then(|n| n.parse().ok()).unwrap_or(40);
    let mut random = Random(0x5bd1_e995_9e37_79b9);
    let root = tempfile::tempdir().expect("a folder");
    let (mut walks, mut asked_again, mut ended) = (0, 0, 0);
    let mut record = root.path().join("none");
    // Entries that the program called durable, over all its lives.
    let mut durable: Vec<Value> = Vec::new();
    let mut route: Vec<Value> = Vec::new();
    for _ in 0..kills {
        let mut talk = if durable.is_empty() {
            walks += 1;
            record = root.path().join(format!("walk-{walks}"));
            Talk::walk(&shipped("gravel-net.toml"), &record, &["--brief"])
        } else {
            let before: Vec<Value> = journal(&record);
            let talk = Talk::resume(&record, &["--brief"]);
            let entries: Vec<Value> = before.iter().map(|l| l["entry"].clone()).collect();
            let mut talk = talk;
            if !entries.iter().any(|e| e["entry"] == "completed") {
                assert!(talk.listens(), "it resumes: {:?}", talk.said);
                if let Some(check) = broken_off(&entries, &route) {
                    assert_eq!(talk.asked(), Some(check.as_str()), "{:?}", talk.said);
                    asked_again += 1;
                }
                assert_eq!(talk.entries[0]["entry"], "resumed");
                talk.types("where am i");
            }
            talk
        };
        let over = some_answers(&mut talk, &mut route, &mut random);
        // SIGKILL: nothing of the program's own runs after it.
        talk.child.kill().expect("it can be killed");
        while talk.read(&mut false) {}
        talk.child.wait().expect("it is gone");
        durable.append(&mut talk.entries);
        if !record.join("journal.jsonl").exists() || durable.is_empty() {
            durable.clear();
            continue;
        }
        let kept: Vec<Value> = journal(&record)
            .iter()
            .map(|l| l["entry"].clone())
            .collect();
        route = checks(&kept[0]);
        let (told, kept_answers) = (answers(durable.iter()), answers(kept.iter()));
        assert!(
            kept_answers.starts_with(&told),
            "accepted {told:?}, kept {kept_answers:?}"
        );
        // One answer may have reached the disk before it could be told.
        assert!(kept_answers.len() <= told.len() + 1);
        durable = kept;
        let completed = durable.iter().any(|e| e["entry"] == "completed");
        if over || completed {
            ended += 1;
            durable.clear();
        }
    }
    assert!(asked_again > kills / 4, "{asked_again} of {kills}");
    assert!(
        walks > 0 && (ended > 0 || kills < 40),
        "{walks} walks, {ended} ended"
    );
}
