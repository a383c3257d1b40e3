//! Records whose first entry says otherwise than the plan beside it: what is asked, or whether the lift passes.

use super::lines::{PLAN, Walked, walk, walk_of};
use super::talk::{key, run};
use loadwalk::record::sha256_hex;
use serde_json::Value;
use std::fs;
use std::path::Path;

/// Writes the first entry otherwise and all lines anew behind it, as whoever may write to the folder can.
fn forge(record: &Path, change: impl FnOnce(&mut Value)) {
    let path = record.join("journal.jsonl");
    let text = fs::read_to_string(&path).unwrap();
    let mut lines: Vec<Value> = text
        .lines()
        .map(|l| serde_json::from_str(l).unwrap())
        .collect();
    change(&mut lines[0]["entry"]);
    let mut prev = "0".repeat(64);
    let mut forged = String::new();
    for line in &mut lines {
        line["prev"] = prev.into();
        let line = line.to_string();
        prev = sha256_hex(line.as_bytes());
        forged.push_str(&line);
        forged.push('\n');
    }
    fs::write(&path, forged).unwrap();
}

fn on(command: &str, walked: &Walked, more: &[&str]) -> (i32, String) {
    let record = walked.record.to_str().unwrap();
    let (code, out, err) = run(&[&[command, record], more].concat());
    (code, format!("{out}{err}"))
}

/// Nine straps for three: whoever goes on would have nine taken as conforming, and an honest person would sign it.
fn nine(opened: &mut Value) {
    let check = &mut opened["route"]["stations"][1]["checks"][0];
    assert_eq!(check["kind"]["expected"], 3);
    check["kind"]["expected"] = 9.into();
}

const NINE: &str = "what conforms at rear/left-straps is 9, by the plan 3";

#[test]
fn a_walk_whose_route_was_changed_in_a_break_is_not_gone_on_with() {
    let mut walked = walk(&[], "closed / present / end the walk / yes");
    assert_eq!(on("verify", &walked, &[]).0, 0);
    forge(&walked.record, nine);
    let (code, told) = on("verify", &walked, &[]);
    assert_eq!(code, 1, "{told}");
    assert!(told.contains("entry 0") && told.contains(NINE), "{told}");
    let before = fs::read(walked.record.join("journal.jsonl")).unwrap();
    walked.resume("plug in / present / 9 / 9");
    assert_eq!(walked.code, 2, "{}", walked.out);
    assert!(walked.out.contains(NINE), "{}", walked.out);
    assert_eq!(
        fs::read(walked.record.join("journal.jsonl")).unwrap(),
        before
    );
}

#[test]
fn a_question_in_other_words_is_not_asked() {
    let mut walked = walk(&[], "closed / present / end the walk / yes");
    forge(&walked.record, |opened| {
        opened["route"]["stations"][0]["checks"][3]["ask"] = "Is the sky there?".into();
    });
    let (code, told) = on("verify", &walked, &[]);
    assert_eq!(code, 0, "{told}");
    assert!(
        told.contains("front/plug-wire has other words than in the plan"),
        "{told}"
    );
    walked.resume("plug in / present / 3 / 3");
    assert_eq!(walked.code, 2, "{}", walked.out);
    assert!(walked.out.contains("other words"), "{}", walked.out);
}

const ALL: &str = "closed / present / plug in / present / 3 / 3 / yes";

#[test]
fn a_record_that_does_not_ask_as_its_plan_is_neither_ready_nor_sealed() {
    let walked = walk(&[], ALL);
    assert_eq!(walked.code, 0, "{}", walked.out);
    let private = key(walked.record.parent().unwrap(), "ilse");
    forge(&walked.record, nine);
    let (_, shown) = on("show", &walked, &[]);
    assert!(
        shown.contains("NOT READY") && shown.contains(NINE),
        "{shown}"
    );
    let seal = ["--as", "Ilse Brandt", "--key", &private];
    let (code, told) = on("seal", &walked, &seal);
    assert_eq!(code, 1, "{told}");
    assert!(told.contains(NINE), "{told}");
    // Nor does it count as ready among many.
    let root = walked.record.parent().unwrap().to_str().unwrap();
    let (_, listed, _) = run(&["list", root, "--json"]);
    assert!(!listed.contains("\"ready\""), "{listed}");

    let walked = walk(&[], ALL);
    forge(&walked.record, |opened| {
        opened["route"]["stations"][0]["name"] = "somewhere".into();
    });
    let private = key(walked.record.parent().unwrap(), "ilse");
    let seal = ["--as", "Ilse Brandt", "--key", &private];
    let (code, told) = on("seal", &walked, &seal);
    assert_eq!(code, 1, "{told}");
    assert!(
        told.contains("sealed only in the words of its plan"),
        "{told}"
    );
    assert!(!walked.record.join("seals").exists());
}

#[test]
fn a_lift_that_fails_by_the_plan_does_not_pass_in_the_record() {
    let heavy = PLAN.replace("allowable = \"700 kg\"", "allowable = \"300 kg\"");
    let walked = walk_of(&heavy, &["--brief"], ALL);
    assert_eq!(walked.code, 1, "{}", walked.out);
    assert_eq!(on("verify", &walked, &[]).0, 0);
    forge(&walked.record, |opened| {
        for line in opened["capacity"].as_array_mut().unwrap() {
            line["passes"] = true.into();
        }
    });
    let (code, told) = on("verify", &walked, &[]);
    assert_eq!(code, 1, "{told}");
    assert!(
        told.contains("`aircraft` does not fail, by the plan it does: Aircraft cannot carry it"),
        "{told}"
    );
}

/// Neither practice, nor a pace, nor an option that leaves checks out makes a record differ from its plan.
#[test]
fn whatever_way_a_plan_is_walked_its_record_is_held_to_it_and_intact() {
    let root = tempfile::tempdir().unwrap();
    let planted = root.path().join("planted.toml");
    fs::write(&planted, "\"front/padding\" = \"missing\"\n").unwrap();
    let planted = ["--planted", planted.to_str().unwrap()];
    for options in [&planted[..], &["--called"], &["--rotors=1"]] {
        let walked = walk(options, "end the walk / yes");
        let (code, told) = on("verify", &walked, &[]);
        assert_eq!(code, 0, "{options:?}: {told}");
        for word in ["plan", "figures"] {
            assert!(!told.contains(word), "{options:?}: {told}");
        }
    }
}
