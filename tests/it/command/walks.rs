//! Walks by typed answers, as an inspector would take them.

use super::talk::{Talk, checks, conforming, loadwalk, ran, shipped};
use serde_json::Value;

/// A walk that has been opened, with its route.
fn opened(plan: &str, more: &[&str]) -> (tempfile::TempDir, Talk, Vec<Value>) {
    let folder = tempfile::tempdir().expect("a folder");
    let mut talk = Talk::walk(&shipped(plan), &folder.path().join("record"), more);
    while talk.entries.is_empty() {
        assert!(talk.read(&mut false), "it opens");
    }
    let route = checks(&talk.entries[0]);
    (folder, talk, route)
}

/// Answers in order up to the check of that name, which is then being asked.
fn up_to(talk: &mut Talk, route: &[Value], id: &str) {
    for check in route {
        if check["id"] == id {
            return;
        }
        talk.answer(&conforming(check));
    }
    panic!("no check {id}");
}

#[test]
fn a_wrong_count_is_told_by_its_effect_once_it_was_given() {
    let (_folder, mut talk, route) = opened("generator-skid.toml", &[]);
    up_to(&mut talk, &route, "rear-left/hook-links");
    let before = talk.answer("20 links");
    assert!(!before.contains("As found"), "{before}");
    let after = talk.answer("the chain was led twice");
    assert!(after.contains("As found, the load hangs"), "{after}");
    assert!(after.contains("slack"), "{after}");
    assert!(
        !after.contains("hree"),
        "the plan's number stays unsaid: {after}"
    );
    // Put right: the check itself and those that it touches are asked again.
    talk.answer("fixed");
    let again = talk.answer("3");
    assert!(again.contains("Re-inspect."), "{again}");
    let after = talk.answer("straight");
    assert!(after.contains("Again. Three links."), "{after}");
    assert!(!after.contains("As found"), "{after}");
}

#[test]
fn words_typed_at_a_tag_question_are_no_tag() {
    let (_folder, mut talk, route) = opened("generator-skid.toml", &["--brief"]);
    up_to(&mut talk, &route, "papers/set-tag");
    talk.answer("leave it");
    talk.answer("m 47");
    assert!(talk.listens());
    let kinds: Vec<&str> = talk
        .entries
        .iter()
        .rev()
        .take(8)
        .filter_map(|e| e["entry"].as_str())
        .collect();
    assert!(kinds.contains(&"refused"), "{kinds:?}");
    let answers = talk
        .entries
        .iter()
        .filter(|e| e["check"] == "papers/set-tag" && e["entry"] == "answered");
    let values: Vec<_> = answers
        .map(|e| e["value"].as_str().unwrap_or_default())
        .collect();
    assert_eq!(values, ["M47"]);
}

#[test]
fn a_walk_resumed_still_knows_what_a_wrong_count_does() {
    let (folder, mut talk, route) = opened("generator-skid.toml", &["--brief"]);
    up_to(&mut talk, &route, "rear-left/hook-links");
    talk.end();
    let mut talk = Talk::resume(&folder.path().join("record"), &["--brief"]);
    let asks = talk.answer("23");
    assert!(asks.ends_with("Links in the hook?"), "{asks}");
    let after = talk.answer("present");
    assert!(after.contains("As found, the load hangs"), "{after}");
}

#[test]
fn every_shipped_plan_is_walked_to_ready_by_keyboard() {
    for plan in ["generator-skid.toml", "gravel-net.toml", "roof-beams.toml"] {
        let (_folder, mut talk, route) = opened(plan, &[]);
        while talk.listens() {
            let asks = talk.said.last().expect("a question").clone();
            if asks.contains("close the walk?") {
                break;
            }
            let id = talk.asked().expect("a check").to_owned();
            let check = route
                .iter()
                .find(|c| c["id"] == id.as_str())
                .expect("in the route");
            talk.types(&in_order(check));
        }
        talk.types("yes");
        let (code, last) = talk.end();
        assert_eq!(code, 0, "{plan}: {last}");
        assert!(last.contains("Ready for signature."), "{plan}: {last}");
        assert!(last.ends_with("Walk complete."), "{plan}: {last}");
    }
}

#[test]
fn a_load_too_heavy_for_the_aircraft_is_told_first_and_ends_not_ready() {
    let text = std::fs::read_to_string(shipped("gravel-net.toml")).expect("a plan");
    let heavy = text.replacen("allowable = \"1200 kg\"", "allowable = \"700 kg\"", 1);
    assert_ne!(heavy, text);
    let folder = tempfile::tempdir().expect("a folder");
    let plan = folder.path().join("heavy.toml");
    std::fs::write(&plan, heavy).expect("written");
    let mut talk = Talk::walk(&plan, &folder.path().join("record"), &["--brief"]);
    assert!(talk.listens());
    assert!(talk.said[0].contains("capacity fails"), "{:?}", talk.said);
    let route = checks(&talk.entries[0]);
    for check in &route {
        talk.types(&conforming(check));
        assert!(talk.listens());
    }
    talk.types("yes");
    let (code, last) = talk.end();
    assert_eq!(code, 1, "{last}");
    assert!(last.contains("Not ready. Capacity."), "{last}");
}

#[test]
fn who_rigged_the_load_is_refused_before_a_record_is_made() {
    let folder = tempfile::tempdir().expect("a folder");
    let record = folder.path().join("record");
    let mut walk = loadwalk();
    walk.arg("walk").arg(shipped("gravel-net.toml"));
    walk.args([
        "--inspector",
        "Ilse Brandt",
        "--rigger",
        "ilse  brandt",
        "--keys",
    ]);
    let (code, _, err) = ran(&walk.arg("--record").arg(&record).output().expect("it runs"));
    assert_eq!((code, record.exists()), (2, false), "{err}");
    assert!(err.contains("have another person inspect it"), "{err}");
}

/// Words that answer a check; the second strop must come up on the other side.
fn in_order(check: &Value) -> String {
    match check["id"].as_str() {
        Some("rear-strop/choke-side") => "right side".to_owned(),
        _ => conforming(check),
    }
}

/// A finding as it is called off.
fn called(check: &Value) -> String {
    let name = check["name"].as_str().expect("a name");
    let words = in_order(check);
    match check["kind"]["kind"].as_str() {
        Some("count") => format!("{words} {name}"),
        _ => format!("{name} {words}"),
    }
}

#[test]
fn every_shipped_plan_is_called_off_to_ready_by_keyboard() {
    for plan in ["generator-skid.toml", "gravel-net.toml", "roof-beams.toml"] {
        let (folder, mut talk, route) = opened(plan, &["--called"]);
        let mut done = Vec::new();
        let mut asked = 0;
        while talk.listens() {
            let last = talk.said.last().expect("a prompt").clone();
            if last.contains("close the walk?") {
                break;
            }
            // A tag that was called is asked back: any word could be one.
            if last.contains("Did you say") {
                talk.types("yes");
                continue;
            }
            let calling = talk.entries.iter().rev().find_map(|e| {
                let kind = e["entry"].as_str()?;
                matches!(kind, "calling" | "asked").then(|| e.clone())
            });
            let calling = calling.expect("something is put");
            let Some(station) = calling["station"].as_str().map(str::to_owned) else {
                let id = calling["check"].as_str().expect("a check");
                let check = route.iter().find(|c| c["id"] == id).expect("in the route");
                asked += 1;
                talk.types(&in_order(check));
                continue;
            };
            if done.contains(&station) {
                talk.types("station done");
                continue;
            }
            // The last check first, the first one left out.
            let prefix = format!("{station}/");
            let here = |c: &&Value| c["id"].as_str().is_some_and(|id| id.starts_with(&prefix));
            let mut items: Vec<String> = route.iter().filter(here).map(called).collect();
            items.remove(0);
            // What hangs on another answer is called after it.
            if station != "left" {
                items.reverse();
            }
            done.push(station);
            talk.types(&if items.is_empty() {
                "station done".to_owned()
            } else {
                items.join(", ")
            });
        }
        talk.types("yes");
        let (code, last) = talk.end();
        assert_eq!(code, 0, "{plan}: {last}");
        assert!(last.contains("Ready for signature."), "{plan}: {last}");
        assert_eq!(
            asked,
            done.len(),
            "{plan}: one of each station was left out and asked"
        );
        let record = folder.path().join("record");
        let (code, _, err) = ran(&loadwalk()
            .arg("verify")
            .arg(&record)
            .output()
            .expect("it runs"));
        assert_eq!(code, 0, "{plan}: {err}");
    }
}

#[test]
fn one_station_is_called_off_where_it_is_named() {
    let (folder, mut talk, route) = opened("gravel-net.toml", &["--called=front-left"]);
    up_to(&mut talk, &route, "front-left/net-cord");
    let said = talk.answer("corner loop not hooked, net cord good");
    assert!(
        said.contains("Front left corner.") && said.ends_with("Your findings."),
        "{said}"
    );
    let said = talk.answer("the hook was too stiff");
    assert!(
        said.contains("Deficient: front left corner"),
        "the fault is read back by itself: {said}"
    );
    talk.answer("fixed");
    let said = talk.answer("on the hook");
    assert!(
        said.contains("Net cord: taken. | Re-inspect. | Corner loop?"),
        "{said}"
    );
    let said = talk.answer("bags inside");
    assert!(
        said.contains("Again. Corner loop, on the hook.") && said.ends_with("Go on."),
        "{said}"
    );
    let said = talk.answer("bags at the corner inside");
    assert!(
        said.contains("Not clear."),
        "the plan gives it no such name: {said}"
    );
    let said = talk.answer("good");
    assert!(said.contains("Bags at the corner: taken."), "{said}");
    assert!(
        said.ends_with("Cords and knots?"),
        "the next station is led: {said}"
    );
    talk.end();
    let record = folder.path().join("record");
    let (code, out, _) = ran(&loadwalk()
        .arg("show")
        .arg(&record)
        .output()
        .expect("it runs"));
    assert!(code == 0 && out.contains("net cord"), "{out}");
}

#[test]
fn each_inspector_has_settings_and_options_go_before_them() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("inspectors.toml");
    let walked = |habits: &str, more: &[&str]| {
        std::fs::write(&file, habits).expect("written");
        let record = tempfile::tempdir().expect("a folder");
        let mut walk = loadwalk();
        walk.env("LOADWALK_INSPECTORS", &file);
        walk.arg("walk").arg(shipped("gravel-net.toml"));
        walk.args([
            "--inspector",
            "Ilse Brandt",
            "--rigger",
            "Oskar Venn",
            "--keys",
        ]);
        walk.args(more).stdin(std::process::Stdio::null());
        walk.arg("--record").arg(record.path().join("record"));
        ran(&walk.output().expect("it runs"))
    };
    let all = "[\"Ilse Brandt\"]\ncalled = true\n";
    let (_, out, err) = walked(all, &[]);
    assert!(out.contains("Your findings."), "{out}{err}");
    let (_, out, _) = walked(all, &["--led"]);
    assert!(!out.contains("Your findings."), "{out}");
    let (_, out, _) = walked("[\"Eva Rowan\"]\ncalled = true\n", &[]);
    assert!(
        !out.contains("Your findings."),
        "another inspector's: {out}"
    );
    let (_, out, _) = walked("[\"Ilse Brandt\"]\ncalled = [\"papers\"]\n", &[]);
    assert!(out.contains("Your findings."), "{out}");
    let (code, _, err) = walked("[\"Ilse Brandt\"]\nspoken = true\n", &[]);
    assert_eq!(code, 2, "{err}");
    assert!(
        err.contains("inspectors.toml") && err.contains("spoken"),
        "{err}"
    );
}

#[test]
fn a_station_that_is_not_visited_is_not_called_off() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut walk = loadwalk();
    walk.arg("walk").arg(shipped("gravel-net.toml"));
    walk.args([
        "--inspector",
        "Ilse Brandt",
        "--rigger",
        "Oskar Venn",
        "--keys",
        "--called=attic",
    ]);
    let record = folder.path().join("record");
    let (code, _, err) = ran(&walk.arg("--record").arg(&record).output().expect("it runs"));
    assert_eq!((code, record.exists()), (2, false), "{err}");
    assert!(
        err.contains("`attic`") && err.contains("front-left"),
        "{err}"
    );
}

#[test]
fn the_riggers_marks_are_kept_and_never_spoken() {
    let root = tempfile::tempdir().expect("a folder");
    let marks = root.path().join("marks.toml");
    let record = root.path().join("record");
    let option = ["--rigger-marks", marks.to_str().expect("UTF-8"), "--brief"];
    let check = "front-left/shackle-pin";
    std::fs::write(&marks, format!("\"{check}\" = \"quite shut\"\n")).expect("written");
    let mut talk = Talk::walk(&shipped("generator-skid.toml"), &record, &option);
    assert!(talk.listens());
    assert_eq!(talk.entries[0]["rigger_marks"][check], "quite shut");
    talk.answer("cannot see");
    assert!(talk.listens());
    let spoken = talk.said.iter().any(|said| said.contains("quite shut"));
    assert!(!spoken && !talk.said.is_empty(), "{:?}", talk.said);
    talk.end();
    // What cannot be used is named with its line and ends the command before anything is written.
    for (text, named) in [
        (
            "# marks\n\"front-left/nothing\" = \"good\"\n",
            "marks.toml:2: no check `front-left/nothing`",
        ),
        (
            "\"front-left/shackle-pin\" = \"\"\n",
            "marks.toml:1: the mark of",
        ),
        ("\n\"front-left/shackle-pin\" = [7]\n", "marks.toml:2: "),
    ] {
        std::fs::write(&marks, text).expect("written");
        let mut command = loadwalk();
        command.arg("walk").arg(shipped("generator-skid.toml"));
        command.args([
            "--inspector",
            "Ilse Brandt",
            "--rigger",
            "Oskar Venn",
            "--keys",
        ]);
        command
            .args(option)
            .arg("--record")
            .arg(root.path().join("other"));
        let (code, _, told) = ran(&command.output().expect("it runs"));
        assert_eq!(code, 2, "{told}");
        assert!(told.contains(named), "{told}");
        assert!(!root.path().join("other").exists());
    }
}

#[test]
fn a_count_may_be_said_with_what_is_counted() {
    let (_folder, mut talk, route) = opened("generator-skid.toml", &["--brief"]);
    up_to(&mut talk, &route, "rear/battery-straps");
    talk.answer("two straps");
    let after = talk.answer("present");
    assert!(after.contains("Two straps."), "{after}");
    let counted = talk
        .entries
        .iter()
        .find(|e| e["check"] == "rear/battery-straps" && e["entry"] == "answered");
    assert_eq!(
        counted.expect("an answer")["outcome"]["outcome"],
        "conforming"
    );
}

#[test]
fn what_only_mirrors_another_answer_does_not_conform_without_it() {
    let (_folder, mut talk, route) = opened("roof-beams.toml", &["--brief"]);
    up_to(&mut talk, &route, "front-strop/choke-side");
    talk.answer("not applicable");
    talk.answer("yes");
    let rest: Vec<Value> = route
        .iter()
        .skip_while(|c| c["id"] != "front-strop/choke-side")
        .skip(1)
        .cloned()
        .collect();
    up_to(&mut talk, &rest, "rear-strop/choke-side");
    talk.answer("right side");
    let after = talk.answer("yes");
    assert!(after.contains("Deficient"), "{after}");
}

#[test]
fn a_tag_typed_in_a_call_is_asked_back_and_so_is_a_word_at_its_question() {
    let (_folder, mut talk, _) = opened("roof-beams.toml", &["--called", "--brief"]);
    talk.answer("load sheet complete, bridle tag B12, bar tag missing");
    let asks = talk.answer("no");
    assert!(asks.contains("Did you say"), "{asks}");
    let tags = |talk: &Talk| {
        let answers = talk.entries.iter().filter(|e| e["entry"] == "answered");
        answers
            .filter(|e| e["check"].as_str().is_some_and(|id| id.ends_with("-tag")))
            .count()
    };
    assert_eq!(tags(&talk), 0);
    for word in [
        "no",
        "x",
        "12 or 13",
        "missing, 2",
        "no, K9",
        "Missing 2",
        "gone3",
        "B12?",
    ] {
        let (_folder, mut talk, route) = opened("roof-beams.toml", &["--brief"]);
        up_to(&mut talk, &route, "papers/bridle-tag");
        talk.answer(word);
        let asks = talk.answer("no");
        assert!(asks.contains("Did you say"), "{word}: {asks}");
        assert_eq!(tags(&talk), 0, "{word}");
    }
}

#[test]
fn a_deficiency_that_waited_for_its_turn_is_dealt_with_after_a_break() {
    let (folder, mut talk, route) = opened("generator-skid.toml", &[]);
    up_to(&mut talk, &route, "front-left/hook-links");
    for words in ["7", "carry on", "fixed", "8", "twisted"] {
        talk.answer(words);
    }
    // The chain is twisted, and the tie is asked again before that is dealt with.
    assert!(talk.listens());
    assert_eq!(talk.asked(), Some("front-left/free-end-tie"));
    talk.end();
    let mut talk = Talk::resume(&folder.path().join("record"), &[]);
    talk.answer("present");
    let asks = talk.answer("carry on");
    assert!(asks.contains("chain: note, or carry on?"), "{asks}");
}

#[test]
fn a_walk_taken_up_near_rotors_leaves_time_to_listen_round() {
    let (folder, mut talk, _) = opened("gravel-net.toml", &[]);
    talk.answer("present");
    talk.end();
    let mut talk = Talk::resume(&folder.path().join("record"), &["--rotors=60"]);
    let before = talk.answer("carry on");
    assert!(before.ends_with("say stop."), "{before}");
    assert!(!before.contains("Carrying on"), "{before}");
    let after = talk.answer("present");
    assert!(after.contains("Carrying on at"), "{after}");
}
