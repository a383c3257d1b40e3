//! An open walk that a review sends back into: the walk and what reads its record say the same.

use super::talk::{Talk, checks, conforming, key, run, shipped};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// The wire of the drain plug, which is asked only where the drain has a plug.
const WIRE: &str = "left/drain-plug-wire";
const DRAIN: &str = "left/fuel-drain";

/// Answers from the question that it listens for until `until` is asked or it ends: so that it conforms, but at the drain
/// with these words.
fn walks_on(talk: &mut Talk, route: &[Value], until: Option<&str>, drain: &str) {
    loop {
        let id = talk.asked().expect("a check").to_owned();
        let asks = talk.said.last().expect("a question");
        if asks.contains("lose the walk") {
            talk.types("yes");
        } else if until == Some(&id) {
            return;
        } else if id == DRAIN {
            talk.types(drain);
        } else {
            let check = route.iter().find(|c| c["id"] == id.as_str());
            talk.types(&conforming(check.expect("in the route")));
        }
        if !talk.listens() {
            return;
        }
    }
}

/// A walk that leaves the wire out and is broken off at the apex; the route's checks.
fn broken_off(record: &Path) -> Vec<Value> {
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), record, &["--brief"]);
    assert!(talk.listens());
    let route = checks(&talk.entries[0]);
    walks_on(&mut talk, &route, Some("apex/apex-ring"), "cap on");
    talk.end();
    route
}

fn sent_back(record: &str, check: &str) {
    let eva = key(Path::new(record).parent().expect("a folder"), "eva");
    let amend = ["amend", record, "--as", "Eva Rowan", "--key", &eva];
    let what = ["re-inspect", check, "--why", "there is a plug in it"];
    let (code, _, told) = run(&[&amend[..], &what[..]].concat());
    assert_eq!(code, 0, "{told}");
}

/// Goes on with what conforms; the exit code and the checks answered.
fn goes_on(record: &Path, route: &[Value], drain: &str) -> (i32, Vec<String>) {
    let mut talk = Talk::resume(record, &["--brief"]);
    assert!(talk.listens());
    walks_on(&mut talk, route, None, drain);
    let answered = talk.entries.iter().filter(|e| e["entry"] == "answered");
    let id = |e: &Value| e["check"].as_str().expect("a check").to_owned();
    let answered = answered.map(id).collect();
    (talk.end().0, answered)
}

#[test]
fn what_a_review_sends_back_and_another_answer_leaves_out_is_settled_by_that_answer() {
    for (drain, wire) in [("cap on", false), ("plug in", true)] {
        let root = tempfile::tempdir().expect("a folder");
        let record = root.path().join("record");
        let route = broken_off(&record);
        let named = record.to_str().expect("UTF-8");
        sent_back(named, WIRE);
        let (_, text, _) = run(&["show", named]);
        assert!(text.contains("sent back in review"), "{text}");
        let (code, answered) = goes_on(&record, &route, drain);
        assert!(answered.iter().any(|c| c == DRAIN), "{answered:?}");
        assert_eq!(answered.iter().any(|c| c == WIRE), wire, "{answered:?}");
        let (_, text, _) = run(&["show", named]);
        assert_eq!(code, 0, "{text}");
        assert!(text.contains("complete: READY"), "{text}");
        let settled = match wire {
            true => "inspected again since",
            false => "does not apply by an answer given since",
        };
        assert!(text.contains(settled), "{text}");
    }
}

#[test]
fn a_record_whose_sound_was_changed_is_not_gone_on_with() {
    let root = tempfile::tempdir().expect("a folder");
    let record = root.path().join("record");
    broken_off(&record);
    let named = record.to_str().expect("UTF-8");
    // As an answer that was heard: a clip of its own, and the chain made anew.
    let clip = record.join("clips/0001-note-1.wav");
    fs::write(&clip, b"RIFF").expect("a clip");
    let journal = record.join("journal.jsonl");
    let text = fs::read_to_string(&journal).expect("a journal");
    let last: Value = serde_json::from_str(text.lines().last().expect("a line")).expect("JSON");
    let mut line = last.clone();
    line["seq"] = (last["seq"].as_u64().expect("a number") + 1).into();
    line["prev"] =
        loadwalk::record::sha256_hex(text.lines().last().expect("a line").as_bytes()).into();
    line["entry"] = serde_json::json!({
        "entry": "noted",
        "note": {
            "machine_transcript": "wind",
            "clip": "0001-note-1.wav",
            "clip_sha256": loadwalk::record::sha256_hex(b"RIFF"),
            "typed": false,
        },
    });
    fs::write(&journal, format!("{text}{line}\n")).expect("written");
    let (code, _, told) = run(&["verify", named]);
    assert_eq!(code, 0, "{told}");
    fs::write(&clip, b"RIFX").expect("a clip");
    let before = fs::read(&journal).expect("a journal");
    let (code, _, told) = run(&["resume", named, "--keys"]);
    assert_eq!(code, 2, "{told}");
    assert!(told.contains("clip `0001-note-1.wav`"), "{told}");
    assert!(told.contains("not gone on with"), "{told}");
    assert_eq!(fs::read(&journal).expect("a journal"), before);
}
