//! Practice: an instructor plants faults, a learner walks, and what was found is told.

use super::talk::{Talk, checks, conforming, key, loadwalk, ran, run, shipped};
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

const PLAN: &str = "generator-skid.toml";
const PLANTED: &str = "# By hand.\n\
    \"front-left/hook-keeper\" = \"open\"\n\
    \"front-left/shackle-pin\" = \"missing\"\n\
    \"rear-left/hook-links\" = \"8\"\n\
    \"rear-right/leg-rope\" = \"deficient\"\n";

/// A stove crate with checks that only have to agree with another one.
const HUT: &str = r#"
format = 1
[load]
name = "hut stove crate"
kind = "rigid"
mass = "400 kg"
mass_from = "load cell"
size = { length = "2 m", width = "1 m", height = "1 m" }
centre_of_gravity = { forward = "0 m", left = "0 m", up = "0.4 m" }
[load.procedure]
status = "suitable"
title = "sheet 3"
issued_by = "hut works"
[load.provisions]
front = { forward = "0.8 m", left = "0 m", up = "1 m", rating = "800 kg" }
rear = { forward = "-0.8 m", left = "0 m", up = "1 m", rating = "800 kg" }
[sling_set]
name = "two-leg set"
key = "two"
rated_capacity = "800 kg"
mass = "10 kg"
number_of_legs = 2
apex = { name = "apex ring", rating = "2000 kg", height = "0.1 m" }
[sling_set.each_leg]
rating = "800 kg"
rope = "1.6 m"
chain = "1 m"
link_pitch = "24 mm"
chain_mode = "looped"
links = 3
[[sling_set.leg]]
number = 1
provision = "front"
station = "front"
[[sling_set.leg]]
number = 2
provision = "rear"
station = "rear"
[lift]
by = "helicopter"
name = "valley machine"
allowable = "900 kg"
allowable_from = "pilot"
hook_limit = "1500 kg"
max_tilt = "8 degrees"

[[station]]
name = "front"
[[station.check]]
name = "pin"
kind = "presence"
deficiency = "pin missing"
touches = ["mousing"]
[[station.check]]
name = "mousing"
kind = "presence"
deficiency = "no mousing"
when = { check = "pin", is = "present" }
[[station.check]]
name = "links"
kind = "count"
expected = 3
[[station.check]]
name = "crate tag"
kind = "tag"
[[station.check]]
name = "gauge"
kind = "reading"
unit = "bar"
min = 2
max = 3

[[station]]
name = "rear"
[[station.check]]
name = "links"
kind = "count"
expected = 3
compare = { with = "front/links", how = "alike" }
[[station.check]]
name = "lid tag"
kind = "tag"
compare = { with = "front/crate-tag", how = "alike" }
deficiency = "lid of another crate"
[[station.check]]
name = "straps"
kind = "count"
noun = "straps"
expected = 4
[[station.check]]
name = "side straps"
kind = "count"
noun = "straps"
compare = { with = "rear/straps", how = "alike" }
[[station.check]]
name = "body"
kind = "condition"
deficiency = "body damaged"
"#;

/// The plan of the stove crate, as a file.
fn hut(folder: &Path) -> PathBuf {
    let plan = folder.join("hut.toml");
    fs::write(&plan, HUT).expect("written");
    plan
}

/// Walks with these answers, in order for all others; the exit code and all that was said.
fn walked(
    folder: &Path,
    planted: &str,
    answers: &[(&str, &str)],
    more: &[&str],
) -> (i32, Vec<String>, Vec<Value>) {
    walked_round(&shipped(PLAN), folder, planted, answers, more)
}

/// Likewise, round the load of a plan.
fn walked_round(
    plan: &Path,
    folder: &Path,
    planted: &str,
    answers: &[(&str, &str)],
    more: &[&str],
) -> (i32, Vec<String>, Vec<Value>) {
    let file = folder.join("planted.toml");
    fs::write(&file, planted).expect("written");
    let mut args = vec!["--planted", file.to_str().expect("UTF-8")];
    args.extend(more);
    let talk = Talk::walk(plan, &folder.join("record"), &args);
    go_on(talk, Vec::new(), answers)
}

/// Stands among the answers for what is said of every fault; else all are put right.
const FIXING: &str = "fixed or left";

/// Answers what is asked, to the end of the walk. A walk that is taken up again needs its route.
fn go_on(
    mut talk: Talk,
    mut route: Vec<Value>,
    answers: &[(&str, &str)],
) -> (i32, Vec<String>, Vec<Value>) {
    let fixing = answers.iter().find(|(check, _)| *check == FIXING);
    let fixing = fixing.map_or("fixed", |(_, words)| *words);
    while talk.listens() {
        if route.is_empty() {
            route = checks(&talk.entries[0]);
        }
        let asks = talk.said.last().expect("a question").clone();
        let said = match asks.as_str() {
            asks if asks.contains("close the walk?") => Some("yes"),
            asks if asks.contains("note") || asks.contains("Note") => Some("carry on"),
            asks if asks.contains("Fixed, or leave it open?") => Some(fixing),
            _ => None,
        };
        if let Some(said) = said {
            talk.types(said);
            continue;
        }
        let id = talk.asked().expect("a check").to_owned();
        let asked_before = talk
            .entries
            .iter()
            .filter(|e| e["entry"] == "answered" && e["check"] == id.as_str())
            .count();
        let own: Vec<&str> = answers
            .iter()
            .filter(|(check, _)| *check == id)
            .map(|(_, words)| *words)
            .collect();
        let check = route.iter().find(|c| c["id"] == id.as_str());
        let as_planned = conforming(check.expect("in the route"));
        let words = own
            .get(asked_before)
            .map_or(as_planned, |w| (*w).to_owned());
        talk.types(&words);
    }
    let (said, entries) = (talk.said.clone(), talk.entries.clone());
    let (code, _) = talk.end();
    (code, said, entries)
}

fn verdicts(debrief: &Value) -> BTreeMap<String, String> {
    let faults = debrief["debrief"]["faults"].as_array().expect("faults");
    let text = |v: &Value| v.as_str().expect("text").to_owned();
    faults
        .iter()
        .map(|f| (text(&f["check"]), text(&f["verdict"])))
        .collect()
}

#[test]
fn a_learner_is_told_what_was_found_of_what_was_planted() {
    let root = tempfile::tempdir().expect("a folder");
    let answers = [
        ("front-left/hook-keeper", "open"),
        ("rear-left/hook-links", "7"),
        ("rear-right/leg-rope", "cannot see"),
        ("front-right/leg-rope", "damaged"),
    ];
    let (code, said, entries) = walked(root.path(), PLANTED, &answers, &["--brief"]);
    assert_eq!(code, 1, "{said:?}");
    assert!(
        said[0].starts_with("Practice. Faults may be planted."),
        "{said:?}"
    );
    let end = said.join(" | ");
    for told in [
        "You found two of four planted faults.",
        "Missed: Front left corner, shackle pin missing",
        "Not seen: Rear right",
        "Called otherwise: Rear left corner, hook links, eight",
        "Not planted, look whether it is real: Front right",
        "It flies only after a full inspection.",
    ] {
        assert!(end.contains(told), "{told}: {end}");
    }
    assert!(
        !end.contains("Ready for signature") && !end.contains("Not ready."),
        "{end}"
    );
    let last = entries.last().expect("entries");
    assert_eq!(last["entry"], "completed");
    assert_eq!(last["ready"], false);
    let record = root.path().join("record");
    let record = record.to_str().expect("UTF-8");
    let (code, out, told) = run(&["practice", "debrief", record, "--json"]);
    assert_eq!(code, 1, "{told}");
    let debrief: Value = serde_json::from_str(&out).expect("JSON");
    let verdicts = verdicts(&debrief);
    let of = |check: &str| verdicts[check].as_str();
    assert_eq!(of("front-left/hook-keeper"), "found");
    assert_eq!(of("front-left/shackle-pin"), "missed");
    assert_eq!(of("rear-left/hook-links"), "found-otherwise");
    assert_eq!(of("rear-right/leg-rope"), "not-seen");
    assert_eq!(
        debrief["debrief"]["unplanted"][0]["check"],
        "front-right/leg-rope"
    );
    let (_, text, _) = run(&["practice", "debrief", record]);
    assert!(
        text.contains("MISSED: front left corner, shackle pin: missing planted, answered present"),
        "{text}"
    );
    // What a count would have done is told where it was not called right.
    assert!(text.contains("as planted, the load hangs"), "{text}");
    assert!(text.contains(", with the other legs as planned"), "{text}");
    assert!(!text.contains("not counted yet"), "{text}");
    assert!(
        text.contains("found 2 of 4 planted, 1 more called deficient"),
        "{text}"
    );
    assert!(!text.contains("asked for"), "{text}");
    // Two found are enough where two are asked for, in time.
    assert_eq!(run(&["practice", "debrief", record, "--needed", "2"]).0, 0);
    assert_eq!(run(&["practice", "debrief", record, "--needed", "3"]).0, 1);
    let in_no_time = [
        "practice",
        "debrief",
        record,
        "--needed",
        "2",
        "--minutes",
        "0.000001",
    ];
    let (code, text, _) = run(&in_no_time);
    assert_eq!(code, 1);
    let last = text.lines().last().expect("a line");
    let told = "  asked for: 2 found (met: 2), in 0.000001 min (not met: ";
    assert!(last.starts_with(told), "{text}");
    let more_than_planted = ["practice", "debrief", record, "--needed", "5"];
    let (code, _, told) = run(&more_than_planted);
    assert_eq!(code, 2, "{told}");
    assert!(
        told.contains("--needed 5 is more than were planted (4)"),
        "{told}"
    );
    // To call everything deficient finds all of it.
    let false_alarms = |most: &str| {
        let asked = ["--needed", "2", "--false-alarms", most];
        run(&[&["practice", "debrief", record], &asked[..]].concat())
    };
    assert_eq!(false_alarms("1").0, 0);
    let (code, text, _) = false_alarms("0");
    assert_eq!(code, 1);
    let told = "asked for: 2 found (met: 2), at most 0 more called deficient (not met: 1)";
    assert!(text.contains(told), "{text}");
    assert_eq!(run(&["practice", "debrief", record, "--minutes", "0"]).0, 2);
}

#[test]
fn practice_vouches_for_nothing() {
    let root = tempfile::tempdir().expect("a folder");
    let (code, said, entries) = walked(root.path(), "# nothing\n", &[], &["--brief"]);
    assert_eq!(code, 0, "nothing was there to be missed: {said:?}");
    assert_eq!(entries.last().expect("entries")["ready"], false);
    let end = said.join(" | ");
    assert!(end.contains("Nothing was planted."), "{end}");
    assert!(!end.contains("Ready for signature"), "{end}");
    let record = root.path().join("record");
    let record = record.to_str().expect("UTF-8");
    let (_, text, _) = run(&["show", record]);
    assert!(
        text.contains("PRACTICE, complete: it vouches for nothing"),
        "{text}"
    );
    assert!(!text.contains("READY"), "{text}");
    let html = root.path().join("r.html");
    let (code, _, told) = run(&["report", record, "--html", html.to_str().expect("UTF-8")]);
    assert_eq!(code, 0, "{told}");
    let html = fs::read_to_string(html).expect("a report");
    assert!(html.contains("PRACTICE, complete: it vouches for nothing"));
    assert!(html.contains("this was practice, with faults planted"));
    assert!(!html.contains("READY"));
    assert!(html.contains("<h1>Practice walk: "), "{html}");
    assert!(html.contains("A practice walk is not signed: it vouches for nothing."));
    assert!(!html.contains("date, signature"), "{html}");
    let (code, text, _) = run(&["verify", record]);
    assert_eq!(code, 0, "{text}");
    assert!(
        text.contains("the walk: PRACTICE, complete: it vouches for nothing"),
        "{text}"
    );
    let (_, json, _) = run(&["verify", record, "--json"]);
    let json: Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(
        (&json["practice"], &json["state"]),
        (&true.into(), &"not-ready".into())
    );
    let file = key(root.path(), "ilse");
    let (code, _, told) = run(&["seal", record, "--as", "Ilse Brandt", "--key", &file]);
    assert_eq!(code, 1, "{told}");
    assert!(told.contains("practice walk"), "{told}");
    // A record that calls a practice walk ready contradicts itself.
    let journal = root.path().join("record/journal.jsonl");
    let text = fs::read_to_string(&journal).expect("a journal");
    assert!(text.contains("\"ready\":false"));
    fs::write(&journal, text.replace("\"ready\":false", "\"ready\":true")).expect("written");
    assert_eq!(run(&["verify", record]).0, 1);
}

#[test]
fn many_practice_walks_tell_how_a_learner_comes_on() {
    let root = tempfile::tempdir().expect("a folder");
    let found = [
        ("front-left/hook-keeper", "open"),
        ("front-left/shackle-pin", "missing"),
        ("rear-left/hook-links", "8"),
        ("rear-right/leg-rope", "damaged"),
    ];
    for (name, n) in [("one", 1), ("two", 4)] {
        let folder = root.path().join(name);
        fs::create_dir(&folder).expect("a folder");
        let (code, said, _) = walked(&folder, PLANTED, &found[..n], &["--brief"]);
        assert_eq!(code, i32::from(n < 4), "{said:?}");
    }
    let mut inspection = Talk::walk(&shipped(PLAN), &root.path().join("real"), &["--brief"]);
    inspection.answer("missing");
    assert!(inspection.listens());
    inspection.end();
    let folder = root.path().to_str().expect("UTF-8");
    let (code, out, told) = run(&["practice", "progress", folder, "--json"]);
    assert_eq!(code, 0, "{told}");
    let progress: Value = serde_json::from_str(&out).expect("JSON");
    let learners = progress["learners"].as_array().expect("learners");
    assert_eq!(learners.len(), 1);
    let walks = learners[0]["walks"].as_array().expect("walks");
    let found: Vec<_> = walks.iter().filter_map(|w| w["found"].as_u64()).collect();
    assert_eq!(found, [1, 4], "oldest first");
    assert_eq!(learners[0]["by_kind"]["count"], serde_json::json!([2, 1]));
    assert_eq!(progress["missed"].as_array().expect("missed").len(), 3);
    let (_, text, _) = run(&["practice", "progress", folder]);
    assert!(
        text.contains("Ilse Brandt: found 5 of 8 planted in 2 walks"),
        "{text}"
    );
    // Planted faults are none of the fleet's.
    let (_, out, _) = run(&["trends", folder, "--json"]);
    let trends: Value = serde_json::from_str(&out).expect("JSON");
    assert_eq!(trends["all"]["walks"], 1, "{trends}");
    let (_, out, _) = run(&["list", folder, "--state", "practice", "--json"]);
    assert_eq!(out.lines().count(), 2, "{out}");
}

#[test]
fn what_is_put_right_was_found_all_the_same() {
    let root = tempfile::tempdir().expect("a folder");
    let planted = "\"front-left/shackle-pin\" = \"missing\"\n";
    let answers = [
        ("front-left/shackle-pin", "missing"),
        ("front-left/shackle-pin", "present"),
    ];
    let (code, said, _) = walked(root.path(), planted, &answers, &[]);
    assert_eq!(code, 0, "{said:?}");
    assert!(
        said.join(" | ")
            .contains("You found one of one planted fault."),
        "{said:?}"
    );
}

#[test]
fn faults_are_drawn_and_can_be_walked() {
    let root = tempfile::tempdir().expect("a folder");
    let plan = shipped(PLAN);
    let plan = plan.to_str().expect("UTF-8");
    let draw = |more: &[&str]| {
        let mut args = vec!["practice", "plant", plan];
        args.extend(more);
        run(&args)
    };
    let (code, one, told) = draw(&["--seed", "7"]);
    assert_eq!(code, 0, "{told}");
    assert_eq!(one, draw(&["--seed", "7"]).1);
    assert_ne!(one, draw(&["--seed", "8"]).1);
    let faults: BTreeMap<String, String> = toml::from_str(&one).expect("TOML");
    assert_eq!(faults.len(), 4);
    let stations: std::collections::BTreeSet<_> = faults
        .keys()
        .filter_map(|id| id.split('/').next())
        .collect();
    assert_eq!(stations.len(), 4, "spread over the stations: {one}");
    // Whatever is drawn is a fault: to call all of it conforming misses all of it.
    let (code, said, _) = walked(
        root.path(),
        &draw(&["--number", "30", "--seed", "3"]).1,
        &[],
        &["--brief"],
    );
    assert_eq!(code, 1);
    assert!(
        said.join(" | ")
            .contains("You found zero of thirty planted faults."),
        "{said:?}"
    );
    let file = root.path().join("drawn.toml");
    let file = file.to_str().expect("UTF-8");
    assert_eq!(draw(&["--out", file]).0, 0);
    let (code, _, told) = draw(&["--out", file]);
    assert_eq!(code, 2, "nothing is written over");
    assert!(told.contains("name a new file"), "{told}");
    let (code, _, told) = draw(&["--number", "1000"]);
    assert_eq!(code, 2);
    assert!(told.contains("or less"), "{told}");
}

#[test]
fn what_is_no_fault_cannot_be_planted() {
    let root = tempfile::tempdir().expect("a folder");
    for (planted, told) in [
        (
            "\n\"front-left/hook-keeper\" = \"closed\"\n",
            ":2: `closed` is no fault",
        ),
        (
            "\"front-left/hook-keeper\" = \"not-seen\"\n",
            ":1: `not-seen` is no fault",
        ),
        (
            "\"rear-left/hook-links\" = \"three\"\n",
            ":1: `three` is no fault",
        ),
        (
            "\"front-left/pin\" = \"missing\"\n",
            ":1: no check `front-left/pin`",
        ),
        ("\"front-left/hook-keeper\" = 3\n", ":1: "),
        (
            "\"left/fuel-drain\" = \"both\"\n\"left/drain-plug-wire\" = \"missing\"\n",
            ":2: `left/drain-plug-wire` is not asked where `left/fuel-drain` is found `both`",
        ),
    ] {
        let (code, said) = begun(&shipped(PLAN), root.path(), planted);
        assert_eq!(code, 2, "{planted}: {said}");
        assert!(said.contains(told), "{planted}: {said}");
        assert!(!root.path().join("record").exists(), "no record was begun");
    }
}

/// Begins a practice walk without a word; the exit code and what was told.
fn begun(plan: &Path, folder: &Path, planted: &str) -> (i32, String) {
    let file = folder.join("planted.toml");
    fs::write(&file, planted).expect("written");
    let mut command = loadwalk();
    command.arg("walk").arg(plan).arg("--planted").arg(&file);
    command.args(["--inspector", "Ilse Brandt", "--rigger", "Oskar Venn"]);
    command
        .args(["--keys", "--record"])
        .arg(folder.join("record"));
    command.stdin(std::process::Stdio::null());
    let (code, _, said) = ran(&command.output().expect("it runs"));
    (code, said)
}

/// What agrees with the check that it only has to agree with would be called conforming by whoever answers rightly.
#[test]
fn what_agrees_is_no_fault_of_a_check_that_only_has_to_agree() {
    for (planted, told) in [
        (
            "\"rear/side-straps\" = 4\n",
            ":1: `4` is no fault of `rear/side-straps`, which only has to agree with `rear/straps`, where `4` is found, as the plan has it",
        ),
        (
            "\"rear/straps\" = 2\n\"rear/side-straps\" = \"two\"\n",
            ":2: `2` is no fault of `rear/side-straps`, which only has to agree with `rear/straps`, where `2` is found, as is planted",
        ),
        ("\"rear/straps\" = 2\n\"rear/side-straps\" = 4\n", ""),
        ("\"rear/side-straps\" = 2\n", ""),
        // What stands on the crate is not in the plan.
        ("\"rear/lid-tag\" = \"K9\"\n", ""),
    ] {
        let root = tempfile::tempdir().expect("a folder");
        let (code, said) = begun(&hut(root.path()), root.path(), planted);
        assert_eq!(code == 2, !told.is_empty(), "{planted}: {said}");
        assert!(said.contains(told), "{planted}: {said}");
    }
}

#[test]
fn a_fault_may_be_written_as_one_says_it() {
    for (check, written, value) in [
        ("rear/lid-tag", "\"k9\"", "K9"),
        ("rear/lid-tag", "\"sl-204\"", "SL204"),
        ("rear/lid-tag", "\"kilo nine\"", "K9"),
        ("front/gauge", "\"1.50\"", "1.5"),
        ("front/gauge", "1.5", "1.5"),
        ("front/links", "\"05\"", "5"),
        ("front/links", "5", "5"),
        ("front/links", "\"five links\"", "5"),
        ("rear/body", "\"damaged\"", "deficient"),
        ("front/pin", "\"not there\"", "missing"),
    ] {
        let root = tempfile::tempdir().expect("a folder");
        let planted = format!("\"{check}\" = {written}\n");
        let (code, said) = begun(&hut(root.path()), root.path(), &planted);
        assert_ne!(code, 2, "{planted}: {said}");
        let journal = fs::read_to_string(root.path().join("record/journal.jsonl"));
        let journal = journal.expect("a journal");
        let opened = journal.lines().next().expect("a line");
        let opened: Value = serde_json::from_str(opened).expect("JSON");
        let kept = &opened["entry"]["practice"]["planted"][check];
        assert_eq!(*kept, value, "{planted}");
    }
    for (check, written) in [
        ("rear/lid-tag", "\"missing\""),
        ("rear/lid-tag", "\"12 or 13\""),
        ("front/links", "\"3-4\""),
        ("front/links", "\"03\""),
        ("front/gauge", "2.50"),
        ("front/gauge", "nan"),
        ("rear/body", "\"fine\""),
        ("front/pin", "\"not-seen\""),
    ] {
        let root = tempfile::tempdir().expect("a folder");
        let planted = format!("\"{check}\" = {written}\n");
        let (code, said) = begun(&hut(root.path()), root.path(), &planted);
        assert_eq!(code, 2, "{planted}: {said}");
        assert!(said.contains("is no fault"), "{planted}: {said}");
    }
}

#[test]
fn what_only_a_comparison_calls_deficient_was_missed() {
    let root = tempfile::tempdir().expect("a folder");
    let planted = "\"rear-left/hook-links\" = \"5\"\n\"rear-right/hook-links\" = \"4\"\n";
    let answers = [("rear-left/hook-links", "5")];
    let (code, said, _) = walked(root.path(), planted, &answers, &["--brief"]);
    assert_eq!(code, 1, "{said:?}");
    let end = said.join(" | ");
    assert!(
        end.contains("You found one of two planted faults."),
        "{end}"
    );
    assert!(
        end.contains("Missed: Rear right corner, hook links, four"),
        "{end}"
    );
}

#[test]
fn a_fault_whose_check_another_answer_left_out_was_missed() {
    let root = tempfile::tempdir().expect("a folder");
    // The wire is asked for where a plug is in; "cap on" leaves it out.
    let planted = "\"left/drain-plug-wire\" = \"missing\"\n";
    let answers = [("left/fuel-drain", "cap on"), ("left/fuel-drain", "yes")];
    let (code, said, _) = walked(root.path(), planted, &answers, &["--brief"]);
    assert_eq!(code, 1, "{said:?}");
    let end = said.join(" | ");
    assert!(
        end.contains("Missed, left out by another answer: "),
        "{end}"
    );
}

#[test]
fn a_review_takes_nothing_of_practice_away() {
    let root = tempfile::tempdir().expect("a folder");
    let (_, said, _) = walked(root.path(), PLANTED, &[], &["--brief"]);
    assert!(
        said.join(" | ").contains("You found zero of four"),
        "{said:?}"
    );
    let record = root.path().join("record");
    let record = record.to_str().expect("UTF-8");
    let key = key(root.path(), "eva");
    let amend = ["amend", record, "--as", "Eva Rowan", "--key", &key];
    let wrong = [
        "heard-wrong",
        "front-left/shackle-pin",
        "--hears",
        "missing",
        "--why",
        "noise",
    ];
    assert_eq!(run(&[&amend[..], &wrong[..]].concat()).0, 0);
    let (_, text, _) = run(&["show", record]);
    assert!(
        text.contains("this was practice, with faults planted"),
        "{text}"
    );
    let (_, text, _) = run(&["practice", "debrief", record]);
    assert!(
        text.contains("answered present; a review says otherwise"),
        "{text}"
    );
    // That a check is to be looked at again says nothing of what the learner said.
    let again = ["re-inspect", "front-left/hook-keeper", "--why", "dirt"];
    assert_eq!(run(&[&amend[..], &again[..]].concat()).0, 0);
    let (_, text, _) = run(&["practice", "debrief", record]);
    assert_eq!(text.matches("a review says otherwise").count(), 1, "{text}");
    let folder = root.path().to_str().expect("UTF-8");
    let (_, out, told) = run(&["practice", "progress", folder, "--json"]);
    let progress: Value = serde_json::from_str(&out).expect(&told);
    assert_eq!(progress["learners"][0]["walks"][0]["reviewed"], 1, "{out}");
    let missed = progress["missed"].as_array().expect("missed");
    let of = |place: &str| {
        let row = missed.iter().find(|m| m["place"].as_str() == Some(place));
        row.map_or(&Value::Null, |row| &row["reviewed"])
    };
    assert_eq!(of("front left corner, shackle pin"), 1, "{out}");
    assert_eq!(of("front left corner, hook keeper"), 0, "{out}");
}

/// Whichever spelling comes first: the third joins the other two.
#[test]
fn a_learner_is_one_person_however_the_name_is_written() {
    let root = tempfile::tempdir().expect("a folder");
    let plan = hut(root.path());
    let file = root.path().join("planted.toml");
    fs::write(&file, "\"front/pin\" = \"missing\"\n").expect("written");
    for (n, name) in ["Fern, Ida", "Ida-Fern", "Ida Fern"].iter().enumerate() {
        let mut command = loadwalk();
        command.arg("walk").arg(&plan).arg("--planted").arg(&file);
        command.args(["--inspector", name, "--rigger", "Oskar Venn"]);
        command
            .arg("--record")
            .arg(root.path().join(format!("walk-{n}")));
        command.stderr(std::process::Stdio::null());
        let talk = Talk::of(command, &["--brief"]);
        go_on(talk, Vec::new(), &[("rear/side-straps", "4")]);
    }
    let folder = root.path().to_str().expect("UTF-8");
    let (_, text, told) = run(&["practice", "progress", folder]);
    assert!(
        text.contains("Fern, Ida: found 0 of 3 planted in 3 walks"),
        "{text}{told}"
    );
}

/// What a debrief tells as JSON.
fn debriefed(folder: &Path) -> Value {
    let record = folder.join("record");
    let record = record.to_str().expect("UTF-8");
    let (_, out, told) = run(&["practice", "debrief", record, "--json"]);
    serde_json::from_str(&out).unwrap_or_else(|error| panic!("{error}: {told}"))
}

/// A check that is only compared was called deficient, though not as what it is.
#[test]
fn a_wrong_value_that_differs_was_found_where_only_the_difference_is_asked() {
    let root = tempfile::tempdir().expect("a folder");
    let planted = "\"rear/side-straps\" = 2\n\"rear/lid-tag\" = \"K9\"\n";
    let answers = [
        ("rear/side-straps", "3"),
        ("rear/side-straps", "4"),
        ("rear/lid-tag", "K8"),
    ];
    let plan = hut(root.path());
    let (code, said, _) = walked_round(&plan, root.path(), planted, &answers, &["--brief"]);
    assert_eq!(code, 0, "{said:?}");
    let end = said.join(" | ");
    assert!(
        end.contains("You found two of two planted faults."),
        "{end}"
    );
    assert!(end.contains("Called otherwise: Rear, side straps"), "{end}");
    assert!(!end.contains("Missed: "), "{end}");
    let found = verdicts(&debriefed(root.path()));
    assert_eq!(found["rear/side-straps"], "found-otherwise");
    assert_eq!(found["rear/lid-tag"], "found-otherwise");

    // It differs only from a number that is not there.
    let root = tempfile::tempdir().expect("a folder");
    let planted = "\"rear/straps\" = 2\n\"rear/side-straps\" = 5\n";
    let answers = [
        ("rear/straps", "4"),
        ("rear/side-straps", "3"),
        ("rear/side-straps", "4"),
    ];
    let plan = hut(root.path());
    walked_round(&plan, root.path(), planted, &answers, &["--brief"]);
    let found = verdicts(&debriefed(root.path()));
    assert_eq!(found["rear/straps"], "missed");
    assert_eq!(found["rear/side-straps"], "missed");
}

/// With nothing to compare it with the walk calls every answer deficient, the right one too.
#[test]
fn a_right_answer_beside_one_that_was_not_seen_is_no_false_alarm() {
    let root = tempfile::tempdir().expect("a folder");
    let planted = "\"front/pin\" = \"missing\"\n";
    let mut answers = vec![
        ("front/pin", "missing"),
        ("front/links", "cannot see"),
        ("rear/straps", "cannot see"),
        ("rear/side-straps", "4"),
        (FIXING, "leave it open"),
    ];
    let plan = hut(root.path());
    let (_, said, _) = walked_round(&plan, root.path(), planted, &answers, &["--brief"]);
    let end = said.join(" | ");
    assert!(end.contains("nothing to compare it with"), "{end}");
    assert!(!end.contains("Not planted"), "{end}");
    assert_eq!(
        debriefed(root.path())["debrief"]["unplanted"],
        serde_json::json!([])
    );

    let root = tempfile::tempdir().expect("a folder");
    answers.retain(|(_, words)| *words != "cannot see");
    answers.retain(|(check, _)| *check != "rear/side-straps");
    answers.push(("rear/side-straps", "5"));
    let plan = hut(root.path());
    let (_, said, _) = walked_round(&plan, root.path(), planted, &answers, &["--brief"]);
    let end = said.join(" | ");
    assert!(
        end.contains("Not planted, look whether it is real: Rear, side straps"),
        "{end}"
    );
}

/// A walk begun, broken off, called wrong in review at the front pin, and taken up again.
fn reviewed(
    folder: &Path,
    planted: &str,
    first: &[&str],
    answers: &[(&str, &str)],
) -> (i32, Vec<String>) {
    let file = folder.join("planted.toml");
    fs::write(&file, planted).expect("written");
    let record = folder.join("record");
    let with = ["--planted", file.to_str().expect("UTF-8"), "--brief"];
    let mut talk = Talk::walk(&hut(folder), &record, &with);
    for words in first {
        talk.answer(words);
    }
    assert!(talk.listens());
    let route = checks(&talk.entries[0]);
    talk.end();
    let key = key(folder, "eva");
    let record_name = record.to_str().expect("UTF-8");
    let amend = ["amend", record_name, "--as", "Eva Rowan", "--key", &key];
    let wrong = ["heard-wrong", "front/pin", "--why", "noise"];
    let (code, _, told) = run(&[&amend[..], &wrong[..]].concat());
    assert_eq!(code, 0, "{told}");
    let answers = [answers, &[("rear/side-straps", "4")]].concat();
    let (code, said, _) = go_on(Talk::resume(&record, &["--brief"]), route, &answers);
    (code, said)
}

#[test]
fn what_was_found_once_a_review_sent_it_back_was_missed() {
    let root = tempfile::tempdir().expect("a folder");
    let planted = "\"front/pin\" = \"missing\"\n";
    let first = ["present", "present", "3"];
    let (code, said) = reviewed(root.path(), planted, &first, &[("front/pin", "missing")]);
    assert_eq!(code, 1, "{said:?}");
    let end = said.join(" | ");
    assert!(end.contains("You found zero of one"), "{end}");
    let told = "Missed, found once a review sent it back: Front, pin missing";
    assert!(end.contains(told), "{end}");
    let debrief = debriefed(root.path());
    assert_eq!(verdicts(&debrief)["front/pin"], "missed-until-review");
    assert_eq!(debrief["walk"]["missed"], 1, "{debrief}");
    assert_eq!(
        debrief["debrief"]["faults"][0]["answered"],
        serde_json::json!(["present"])
    );
}

#[test]
fn what_was_asked_only_since_a_review_was_missed() {
    let root = tempfile::tempdir().expect("a folder");
    let planted = "\"front/mousing\" = \"missing\"\n";
    // The pin is there; called missing it leaves its mousing out.
    let first = ["missing", "carry on", "leave it open", "3"];
    let answers = [("front/pin", "present"), ("front/mousing", "missing")];
    let (code, said) = reviewed(root.path(), planted, &first, &answers);
    assert_eq!(code, 1, "{said:?}");
    let debrief = debriefed(root.path());
    assert_eq!(verdicts(&debrief)["front/mousing"], "missed-until-review");
}
