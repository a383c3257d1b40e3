//! What is left after a walk: a person who reads only that is not misled about how the load stands.

use super::talk::{Talk, checks, conforming, key, run, shipped};
use serde_json::Value;
use std::fs;
use std::path::Path;

/// A walk of the shipped skid with these answers, in order for all others; its record's folder.
fn record(folder: &Path, plan: &Path, answers: &[(&str, &[&str])], more: &[&str]) -> String {
    let record = folder.join("record");
    let mut talk = Talk::walk(plan, &record, more);
    let mut left: Vec<(&str, Vec<&str>)> = answers.iter().map(|(c, a)| (*c, a.to_vec())).collect();
    let mut current = String::new();
    while talk.listens() {
        let asks = talk.said.last().expect("a question").clone();
        if asks.contains("close the walk?") {
            talk.types("yes");
            continue;
        }
        let own = |id: &str, left: &mut Vec<(&str, Vec<&str>)>| {
            let of = left.iter_mut().find(|(check, _)| *check == id)?;
            (!of.1.is_empty()).then(|| of.1.remove(0).to_owned())
        };
        // What follows an answer (a note, a repair, a correction) belongs to its check.
        let asked = talk.asked().expect("a check").to_owned();
        let id = if asked == current || asks.ends_with('?') {
            asked
        } else {
            current.clone()
        };
        let route = checks(&talk.entries[0]);
        let check = route
            .iter()
            .find(|c| c["id"] == id.as_str())
            .expect("in the route");
        let words = own(&id, &mut left).unwrap_or_else(|| conforming(check));
        talk.types(&words);
        current = id;
    }
    talk.end();
    record.to_str().expect("UTF-8").to_owned()
}

fn exported(record: &str, folder: &Path, kind: &str) -> String {
    let file = folder.join(format!("report.{kind}"));
    let path = file.to_str().expect("UTF-8");
    let (code, _, told) = run(&["report", record, &format!("--{kind}"), path]);
    assert_eq!(code, 0, "{told}");
    fs::read_to_string(file).expect("a report")
}

#[test]
fn what_was_called_not_applicable_is_read_by_whoever_signs() {
    let root = tempfile::tempdir().expect("a folder");
    let waived: &[&str] = &["not applicable", "yes"];
    let record = record(
        root.path(),
        &shipped("generator-skid.toml"),
        &[("front-left/shackle-pin", waived)],
        &["--brief"],
    );
    let place = "front left corner, shackle pin";
    let (_, text, _) = run(&["show", &record]);
    assert!(text.contains("READY for a person to sign"), "{text}");
    let listed = format!("called not applicable\n  {place}\n");
    assert!(text.contains(&listed), "{text}");
    let html = exported(&record, root.path(), "html");
    assert!(html.contains(&format!(
        "<h2>Called not applicable</h2>\n<ul>\n<li>{place}</li>"
    )));
    assert!(html.contains("front left corner: conforming, 1 called not applicable"));
    let json: Value = serde_json::from_str(&exported(&record, root.path(), "json")).expect("JSON");
    assert_eq!(json["not_applicable"], serde_json::json!([place]));
}

#[test]
fn a_review_changes_the_record_code_and_verify_tells_it() {
    let root = tempfile::tempdir().expect("a folder");
    let record = record(
        root.path(),
        &shipped("generator-skid.toml"),
        &[],
        &["--brief"],
    );
    let code = |text: &str| {
        let at = text.find("record code ").expect("a code") + "record code ".len();
        text[at..at + 19].to_owned()
    };
    let before = run(&["verify", &record]).1;
    assert_eq!(code(&before), code(&run(&["show", &record]).1));
    let key = key(root.path(), "eva");
    let check = "front-left/hook-keeper";
    let amend = [
        "amend",
        &record,
        "--as",
        "Eva Rowan",
        "--key",
        &key,
        "re-inspect",
        check,
        "--why",
        "noise",
    ];
    assert_eq!(run(&amend).0, 0);
    let after = run(&["verify", &record]).1;
    assert_ne!(code(&before), code(&after));
    let html = exported(&record, root.path(), "html");
    assert_eq!(code(&html), code(&after));
    assert!(html.contains("<dt>Reviewed</dt>") && html.contains("last by Eva Rowan"));
    let vtt = exported(&record, root.path(), "vtt");
    assert!(
        vtt.contains("The record: complete: NOT READY: a review changed"),
        "{vtt}"
    );
    let steers = [
        "amend",
        &record,
        "--as",
        "Eva\nRowan",
        "--key",
        &key,
        "re-inspect",
        check,
        "--why",
        "x",
    ];
    let (code, _, told) = run(&steers);
    assert_eq!(code, 2);
    assert!(told.contains("control character"), "{told}");
    // What a note holds makes no lines of its own.
    let note = [
        "amend",
        &record,
        "--as",
        "Eva Rowan",
        "--key",
        &key,
        "note",
        "one\n\ncounts\n\u{1b}[2J",
    ];
    assert_eq!(run(&note).0, 0);
    let (_, text, _) = run(&["show", &record]);
    assert!(!text.contains('\u{1b}'), "{text}");
    assert_eq!(text.matches("\ncounts\n").count(), 1, "{text}");
}

#[test]
fn every_row_of_a_table_tells_how_the_record_stands() {
    let root = tempfile::tempdir().expect("a folder");
    let text = fs::read_to_string(shipped("generator-skid.toml")).expect("a plan");
    let plan = root.path().join("plan.toml");
    let line = text
        .lines()
        .find(|l| l.starts_with("allowable = "))
        .expect("an allowable");
    fs::write(&plan, text.replacen(line, "allowable = \"300 kg\"", 1)).expect("written");
    let record = record(root.path(), &plan, &[], &["--brief"]);
    let csv = exported(&record, root.path(), "csv");
    for row in csv.lines().skip(1) {
        assert!(row.contains("complete: NOT READY"), "{row}");
        assert!(row.contains("Aircraft cannot carry it"), "{row}");
        assert!(row.contains(",yes,\"does not certify"), "{row}");
    }
    // The plan is altered afterwards.
    let kept = Path::new(&record).join("plan.toml");
    let text = fs::read_to_string(&kept).expect("a plan");
    fs::write(&kept, text.replacen("300 kg", "3000 kg", 1)).expect("written");
    let csv = exported(&record, root.path(), "csv");
    assert!(
        csv.lines()
            .skip(1)
            .all(|row| row.contains(",NO,\"does not certify")),
        "{csv}"
    );
    let html = exported(&record, root.path(), "html");
    assert!(
        html.contains("NOT READY: the record is not intact"),
        "{html}"
    );
    assert!(!html.contains("As it hangs") && !html.contains("a review changed"));
}

#[test]
fn an_altered_plan_or_amendment_is_seen_behind_an_index() {
    let root = tempfile::tempdir().expect("a folder");
    let record = record(
        root.path(),
        &shipped("generator-skid.toml"),
        &[],
        &["--brief"],
    );
    let key = key(root.path(), "eva");
    let note = [
        "amend",
        &record,
        "--as",
        "Eva Rowan",
        "--key",
        &key,
        "note",
        "seen by me",
    ];
    assert_eq!(run(&note).0, 0);
    let folder = root.path().to_str().expect("UTF-8");
    let state = || {
        let (_, out, _) = run(&["list", folder, "--json"]);
        let row: Value = serde_json::from_str(out.lines().next().expect("a row")).expect("JSON");
        row["state"].as_str().expect("a state").to_owned()
    };
    assert_eq!(state(), "ready");
    let file = Path::new(&record).join("amendments/0000.json");
    let whole = fs::read(&file).expect("an amendment");
    let mut broken = whole.clone();
    let middle = broken.len() / 2;
    broken[middle] ^= 1;
    fs::write(&file, &broken).expect("written");
    assert_eq!(state(), "unreadable");
    fs::write(&file, &whole).expect("written");
    assert_eq!(state(), "ready");
    let plan = Path::new(&record).join("plan.toml");
    let mut text = fs::read_to_string(&plan).expect("a plan");
    text.push('\n');
    fs::write(&plan, text).expect("written");
    assert_eq!(state(), "unreadable");
}

#[test]
fn each_finding_is_told_with_its_own_repair() {
    let root = tempfile::tempdir().expect("a folder");
    // Open, fixed, and on looking again gone, taken back.
    let keeper: &[&str] = &[
        "open",
        "carry on",
        "fixed",
        "gone",
        "carry on",
        "correction",
        "closed",
    ];
    let record = record(
        root.path(),
        &shipped("generator-skid.toml"),
        &[("front-left/hook-keeper", keeper)],
        &[],
    );
    let json: Value = serde_json::from_str(&exported(&record, root.path(), "json")).expect("JSON");
    let found: Vec<(&str, bool, bool)> = json["deficiencies"]
        .as_array()
        .expect("deficiencies")
        .iter()
        .map(|d| {
            let name = d["name"].as_str().expect("a name");
            (name, d["put_right"].is_u64(), d["stands"] == true)
        })
        .collect();
    assert_eq!(
        found,
        [
            ("front left corner, hook keeper open", true, false),
            ("front left corner, hook keeper gone", false, false),
        ]
    );
    let (_, text, _) = run(&["show", &record]);
    assert!(
        text.contains("hook keeper gone (found in entry") && text.contains(", corrected in entry"),
        "{text}"
    );
}

#[test]
fn called_off_walks_count_as_walks() {
    let root = tempfile::tempdir().expect("a folder");
    for n in 0..3 {
        let folder = root.path().join(format!("{n}"));
        fs::create_dir(&folder).expect("a folder");
        let mut talk = Talk::walk(
            &shipped("generator-skid.toml"),
            &folder.join("record"),
            &["--called", "--brief"],
        );
        talk.answer("load sheet missing");
        assert!(talk.listens());
        talk.end();
    }
    let folder = root.path().to_str().expect("UTF-8");
    let (_, out, _) = run(&["trends", folder, "--json"]);
    let trends: Value = serde_json::from_str(&out).expect("JSON");
    let worst = &trends["checks"][0];
    assert_eq!(worst["deficient"], 3, "{trends}");
    assert_eq!(worst["walks"], 3, "{trends}");
}

#[test]
fn the_picture_tells_what_was_counted() {
    let plan = shipped("generator-skid.toml");
    let heading = |answers: &[(&str, &[&str])]| {
        let root = tempfile::tempdir().expect("a folder");
        let record = record(root.path(), &plan, answers, &["--brief"]);
        let html = exported(&record, root.path(), "html");
        let heads: Vec<String> = html
            .match_indices("<h2>As ")
            .map(|(at, _)| {
                html[at + 4..]
                    .split('<')
                    .next()
                    .expect("a heading")
                    .to_owned()
            })
            .collect();
        (heads, html)
    };
    let (heads, html) = heading(&[]);
    assert_eq!(heads, ["As it hangs, with the counts found"]);
    assert!(!html.contains("As found, "));
    let unseen: &[&str] = &["cannot see"];
    let (heads, _) = heading(&[("front-left/hook-links", unseen)]);
    assert_eq!(
        heads,
        ["As it hangs; as planned at front left, where no count stands"]
    );
    // A count that the chain does not have is not drawn as planned.
    let beyond: &[&str] = &["110", "yes"];
    let (heads, _) = heading(&[("rear-left/hook-links", beyond)]);
    assert!(heads.is_empty(), "{heads:?}");
    let off: &[&str] = &["23"];
    let (_, html) = heading(&[("rear-left/hook-links", off)]);
    assert!(
        html.contains("As found, the load hangs"),
        "what the counts do is told"
    );
}

#[test]
fn every_point_to_look_at_is_told() {
    let root = tempfile::tempdir().expect("a folder");
    let text = fs::read_to_string(shipped("generator-skid.toml")).expect("a plan");
    let line = text
        .lines()
        .find(|l| l.starts_with("rating = "))
        .expect("the legs' rating");
    let plan = root.path().join("plan.toml");
    fs::write(&plan, text.replacen(line, "rating = \"850 kg\"", 1)).expect("written");
    let record = record(root.path(), &plan, &[], &["--brief"]);
    let json: Value = serde_json::from_str(&exported(&record, root.path(), "json")).expect("JSON");
    let capacity = json["capacity"].as_array().expect("lines");
    let legs = capacity
        .iter()
        .find(|l| l["question"] == "leg")
        .expect("the legs");
    let look = legs["look"].as_str().expect("a look").to_lowercase();
    for leg in ["front left", "front right", "rear left", "rear right"] {
        assert!(look.contains(leg), "{leg}: {look}");
    }
    let html = exported(&record, root.path(), "html");
    assert!(html.contains("<td class=\"status\">LOOK</td>"), "{html}");
}

/// A hook's limit typed a thousand times too high ended "Ready for signature" without a word.
#[test]
fn a_slip_of_the_plan_is_a_point_to_look_at_in_the_record() {
    let root = tempfile::tempdir().expect("a folder");
    let text = fs::read_to_string(shipped("generator-skid.toml")).expect("a plan");
    let plan = root.path().join("plan.toml");
    let slip = text.replace("hook_limit = \"1800 kg\"", "hook_limit = \"1800 t\"");
    assert_ne!(slip, text);
    fs::write(&plan, slip).expect("written");
    let record = record(root.path(), &plan, &[], &["--brief"]);
    let json: Value = serde_json::from_str(&exported(&record, root.path(), "json")).expect("JSON");
    let capacity = json["capacity"].as_array().expect("lines");
    let slip = capacity.iter().find(|l| l["question"] == "slip");
    let look = slip.expect("a point")["look"].as_str().expect("a look");
    assert_eq!(
        look,
        "The plan: the hook has a limit of 1452 times the load"
    );
    let shown = run(&["show", &record]).1;
    assert!(shown.contains("limit of 1452 times the load"), "{shown}");
}

#[test]
fn a_note_of_a_review_takes_no_count_away() {
    let root = tempfile::tempdir().expect("a folder");
    let off: &[&str] = &["8"];
    let record = record(
        root.path(),
        &shipped("generator-skid.toml"),
        &[("rear-right/hook-links", off)],
        &["--brief"],
    );
    let key = key(root.path(), "eva");
    let check = "rear-right/hook-links";
    let amend = ["amend", &record, "--as", "Eva Rowan", "--key", &key];
    let note = ["note", "--check", check, "eight is right"];
    assert_eq!(run(&[&amend[..], &note[..]].concat()).0, 0);
    let html = exported(&record, root.path(), "html");
    assert!(html.contains("<h2>As it hangs, with the counts found</h2>"));
    assert!(html.contains("As found, the load hangs"));
    let wrong = [
        "heard-wrong",
        check,
        "--hears",
        "7",
        "--why",
        "seven is said",
    ];
    assert_eq!(run(&[&amend[..], &wrong[..]].concat()).0, 0);
    let html = exported(&record, root.path(), "html");
    assert!(html.contains("<h2>As it hangs; as heard in review at rear right</h2>"));
    assert!(html.contains("As found, the load hangs"));
    assert!(html.contains("Amended in review, heard as 7 links; by the walk: deficient"));
    let shown = run(&["show", &record]).1;
    assert!(shown.contains("heard as 7 links"), "{shown}");
    assert!(shown.contains("As found, the load hangs"), "{shown}");
}

/// Heard as planned in a review, the leg was drawn as planned, all green, beside a row that said eight links.
#[test]
fn no_review_makes_the_picture_better_than_what_was_found() {
    let root = tempfile::tempdir().expect("a folder");
    let off: &[&str] = &["8"];
    let check = "rear-right/hook-links";
    let record = record(
        root.path(),
        &shipped("generator-skid.toml"),
        &[(check, off)],
        &["--brief"],
    );
    let before = exported(&record, root.path(), "html");
    let key = key(root.path(), "eva");
    let amend = ["amend", &record, "--as", "Eva Rowan", "--key", &key];
    let picture = |html: &str| {
        let from = html
            .split("<div class=\"hanging\">")
            .nth(1)
            .expect("a picture");
        from.split("</svg>").next().expect("its end").to_owned()
    };
    let heard = [
        "heard-wrong",
        check,
        "--hears",
        "3",
        "--why",
        "I hear three",
    ];
    assert_eq!(run(&[&amend[..], &heard[..]].concat()).0, 0);
    let html = exported(&record, root.path(), "html");
    assert!(html.contains("<h2>As it hangs; as found at rear right, to be inspected again</h2>"));
    assert!(html.contains("As found, the load hangs"));
    assert_eq!(picture(&html), picture(&before), "the count found is drawn");
    assert!(html.contains("Amended in review, heard as 3 links; by the walk: deficient"));
    // Sent back too, it stays as found.
    let back = ["withdraw", "0", "--why", "a slip"];
    assert_eq!(run(&[&amend[..], &back[..]].concat()).0, 0);
    let back = ["re-inspect", check, "--why", "count again"];
    assert_eq!(run(&[&amend[..], &back[..]].concat()).0, 0);
    let html = exported(&record, root.path(), "html");
    assert_eq!(picture(&html), picture(&before));
}

#[test]
fn a_fault_heard_in_review_is_drawn() {
    let root = tempfile::tempdir().expect("a folder");
    let check = "rear-right/hook-links";
    let plan = shipped("generator-skid.toml");
    let record = record(root.path(), &plan, &[], &["--brief"]);
    let html = exported(&record, root.path(), "html");
    assert!(!html.contains("As found, "));
    let key = key(root.path(), "eva");
    let amend = ["amend", &record, "--as", "Eva Rowan", "--key", &key];
    let heard = [
        "heard-wrong",
        check,
        "--hears",
        "8",
        "--why",
        "I hear eight",
    ];
    assert_eq!(run(&[&amend[..], &heard[..]].concat()).0, 0);
    let html = exported(&record, root.path(), "html");
    assert!(html.contains("as heard in review at rear right"));
    assert!(html.contains("As found, the load hangs"));
    assert!(html.contains("link 8!"), "the picture has the count heard");
}

#[test]
fn whoever_signs_reads_what_lifts_and_with_which_set() {
    let root = tempfile::tempdir().expect("a folder");
    let plan = shipped("generator-skid.toml");
    let record = record(root.path(), &plan, &[], &["--brief"]);
    let shown = run(&["show", &record]).1;
    let told = "lifted by: helicopter (the valley's helicopter); sling set: four-leg set";
    assert!(shown.contains(told), "{shown}");
    let html = exported(&record, root.path(), "html");
    assert!(html.contains(
        "<dt>To be lifted by</dt><dd dir=\"auto\">helicopter (the valley&#39;s helicopter)</dd>"
    ));
    assert!(html.contains("<dt>Sling set</dt><dd dir=\"auto\">four-leg set</dd>"));
    let json: Value = serde_json::from_str(&exported(&record, root.path(), "json")).expect("JSON");
    assert_eq!(json["sling_set"], "four-leg set");
    // Not by another plan than that of the walk.
    let kept = Path::new(&record).join("plan.toml");
    let text = fs::read_to_string(&kept).expect("a plan");
    fs::write(
        &kept,
        text.replace("the valley's helicopter", "another one"),
    )
    .expect("written");
    let shown = run(&["show", &record]).1;
    assert!(!shown.contains("another one"), "{shown}");
}

#[test]
fn what_was_not_looked_at_again_is_told_as_that() {
    let root = tempfile::tempdir().expect("a folder");
    let pin: &[&str] = &["missing", "carry on", "fixed", "not seen"];
    let record = record(
        root.path(),
        &shipped("generator-skid.toml"),
        &[("front-left/shackle-pin", pin)],
        &[],
    );
    let (_, text, _) = run(&["show", &record]);
    assert!(text.contains("NOT RE-INSPECTED"), "{text}");
    assert!(!text.contains("READY for a person"), "{text}");
}

/// Beside a deficiency it read as if the counts did agree.
#[test]
fn what_must_agree_is_told_as_what_is_expected() {
    let walked = super::lines::walk(&[], "closed / present / cap on / 3 / 2");
    let (_, text, _) = run(&["show", walked.record.to_str().expect("UTF-8")]);
    let told = "(expected to agree with rear, left straps)";
    assert!(text.contains(told), "{text}");
    assert!(!text.contains("agrees with"), "{text}");
    let both = super::lines::PLAN.replace(
        "compare = { with = \"left-straps\", how = \"alike\" }",
        "expected = 3\ncompare = { with = \"left-straps\", how = \"alike\" }",
    );
    let walked = super::lines::walk_of(&both, &["--brief"], "closed / present / cap on / 3 / 2");
    let (_, text, _) = run(&["show", walked.record.to_str().expect("UTF-8")]);
    let told = "(expected 3 straps, and must agree with rear, left straps)";
    assert!(text.contains(told), "{text}");
}
