//! A fault that was found stays found until it is put right and looked at again, or answered otherwise.

use super::lines::{PLAN, Walked, walk_of};
use super::talk::{key, loadwalk, ran, run};

const REST: &str = "three / three / yes";

fn text(walked: &Walked) -> String {
    let mut show = loadwalk();
    show.arg("show").arg(&walked.record);
    ran(&show.output().expect("it runs")).1
}

#[test]
fn another_answer_makes_no_fault_vanish() {
    let found = "closed / present / plug in / missing / go back / go back / cap on";
    let lines = format!("{found} / {REST}");
    let walked = walk_of(PLAN, &["--brief"], &lines);
    assert!(
        walked
            .out
            .contains("Still deficient: front, plug wire, missing."),
        "{}",
        walked.out
    );
    assert!(walked.out.contains("Not ready"), "{}", walked.out);
    assert_ne!(walked.code, 0);
    walked.stands("front/plug-wire", "deficient");
    // It is put right and looked at, and then nothing of it is there to be asked.
    let lines = format!(
        "{found} / {} / fixed / not applicable / yes / yes",
        &REST[..13]
    );
    let walked = walk_of(PLAN, &["--brief"], &lines);
    assert_eq!(walked.code, 0, "{}", walked.out);
    assert!(text(&walked).contains("put right in entry"));
    // Nor does a fault that was called wrong pass unseen.
    let lines = format!("closed / missing / correction / not applicable / yes / cap on / {REST}");
    let walked = walk_of(PLAN, &["--brief"], &lines);
    let said = "Front, padding, found deficient before, called not applicable.";
    assert!(walked.out.contains(said), "{}", walked.out);
}

/// The right straps were three, as found on the left; four there made them deficient, by another check's answer.
#[test]
fn what_a_comparison_found_and_was_put_right_is_told() {
    let lines = "closed / present / plug in / present / three / three / go back / go back / four / fixed / three / three / yes";
    let walked = walk_of(PLAN, &["--brief"], lines);
    assert_eq!(walked.code, 0, "{}", walked.out);
    let view = walked.show();
    let found = view["deficiencies"].as_array().expect("deficiencies");
    let right = found.iter().find(|d| d["check"] == "rear/right-straps");
    let right = right.unwrap_or_else(|| panic!("{found:?}"));
    assert_eq!(right["stands"], false);
    assert!(right["put_right"].is_number(), "{right}");
    // Copied by what leaves empty folders out, it is taken up all the same, and takes sound.
    let mut walked = walk_of(PLAN, &["--brief"], "closed");
    std::fs::remove_dir(walked.record.join("clips")).expect("it is empty");
    walked.resume("present");
    assert!(walked.record.join("clips").is_dir());
}

#[test]
fn what_was_put_right_is_looked_at_and_not_left_out() {
    let lines = "closed / missing / carry on / fixed / not applicable / yes";
    let walked = walk_of(PLAN, &[], lines);
    assert!(walked.out.contains("Look at it again"), "{}", walked.out);
    walked.stands("front/padding", "open");
    assert!(text(&walked).contains("to be re-inspected"));
}

#[test]
fn what_a_repair_touches_is_not_put_right_by_it() {
    let touching = PLAN.replace(
        "name = \"padding\"\nkind = \"presence\"",
        "name = \"padding\"\nkind = \"presence\"\ntouches = [\"keeper\"]",
    );
    let lines = "open / carry on / leave it open / missing / carry on / fixed / present / read the deficiencies";
    let mut walked = walk_of(&touching, &[], lines);
    assert!(walked.out.contains("Front, keeper open."), "{}", walked.out);
    assert!(!walked.out.contains("Put right, to be"), "{}", walked.out);
    walked.stands("front/keeper", "deficient");
    // It is asked again all the same.
    walked.resume("cap on / closed");
    walked.stands("front/keeper", "conforming");
}

#[test]
fn a_review_that_sends_a_fault_back_puts_nothing_right() {
    let mut walked = walk_of(PLAN, &["--brief"], "open / present");
    let folder = walked.record.parent().expect("a folder");
    let key = key(folder, "eva");
    let record = walked.record.to_str().expect("UTF-8").to_owned();
    let by = ["amend", &record, "--as", "Eva Rowan", "--key", &key];
    let sends = ["re-inspect", "front/keeper", "--why", "look again"];
    let (code, _, told) = run(&[&by[..], &sends].concat());
    assert_eq!(code, 0, "{told}");
    walked.resume("read the deficiencies");
    assert!(walked.out.contains("Front, keeper open."), "{}", walked.out);
    walked.stands("front/keeper", "deficient");
    walked.resume("cap on / closed");
    walked.stands("front/keeper", "conforming");
}

/// Called off: what is said of an item once more is not lost for want of words.
#[test]
fn a_fault_without_words_of_its_own_is_asked_about() {
    let good = "keeper closed, padding in place";
    for (said, then, check) in [
        ("keeper frayed", "open", "front/keeper"),
        ("padding upside down", "missing", "front/padding"),
        (
            "keeper closed on the left only",
            "no / open",
            "front/keeper",
        ),
        ("padding in place but wet", "no / missing", "front/padding"),
    ] {
        let options = ["--brief", "--called"];
        let walked = walk_of(PLAN, &options, &format!("{good} / {said}"));
        let asks = |l: &&str| l.starts_with("ASKS");
        let asked = walked.out.lines().rfind(asks).expect("a question");
        let name = check.rsplit('/').next().expect("a name");
        let about = asked.to_lowercase().contains(name);
        assert!(about, "{said}: {}", walked.out);
        let lines = format!("{good} / {said} / {then}");
        walk_of(PLAN, &options, &lines).stands(check, "deficient");
    }
    // Nor does it pass where the station was left with it.
    let lines = format!("{good}, drain cap on / no, keeper open");
    let mut walked = walk_of(PLAN, &["--brief", "--called"], &lines);
    assert!(walked.out.contains("Which item?"), "{}", walked.out);
    walked.resume("keeper open");
    walked.stands("front/keeper", "deficient");
}

/// Nothing is told of a fault with the words that a plan happens to have.
#[test]
fn a_fault_that_the_plan_does_not_name_is_a_fault() {
    for (lines, check, found) in [
        (
            "bent",
            "front/keeper",
            "Deficient: front, keeper, deficient.",
        ),
        (
            "not closed",
            "front/keeper",
            "Deficient: front, keeper, deficient.",
        ),
        (
            "closed / damaged",
            "front/padding",
            "Deficient: front, padding, deficient.",
        ),
    ] {
        let walked = walk_of(PLAN, &["--brief"], lines);
        assert!(walked.out.contains(found), "{lines}: {}", walked.out);
        walked.stands(check, "deficient");
    }
    let walked = walk_of(PLAN, &["--brief", "--called"], "padding damaged");
    walked.stands("front/padding", "deficient");
}

#[test]
fn which_item_was_wrong_is_not_asked_for_ever() {
    let lines = "keeper closed, padding in place / correction / drain / drain / drain / drain / drain / drain";
    let walked = walk_of(PLAN, &["--brief", "--called"], lines);
    let told = "Front, drain has no answer yet.";
    assert!(walked.out.contains(told), "{}", walked.out);
    assert!(walked.out.contains("Holding"), "{}", walked.out);
}

/// A plan may name a state so itself; then that is what is meant.
#[test]
fn a_state_that_the_plan_calls_deficient_keeps_its_own_name() {
    let named = PLAN.replace(
        r#"{ say = "open", deficiency"#,
        r#"{ say = "deficient", deficiency = "keeper worn" }, { say = "open", deficiency"#,
    );
    let walked = walk_of(&named, &["--brief"], "deficient");
    let found = "Deficient: front, keeper worn.";
    assert!(walked.out.contains(found), "{}", walked.out);
}

#[test]
fn a_check_can_hang_on_a_fault_that_the_plan_does_not_name() {
    let hangs = PLAN.replace(
        r#"{ check = "drain", is = "plug-in" }"#,
        r#"{ check = "padding", is = "deficient" }"#,
    );
    for (padding, asked) in [("damaged", true), ("present", false)] {
        let lines = format!("closed / {padding} / cap on");
        let walked = walk_of(&hangs, &["--brief"], &lines);
        assert_eq!(walked.out.contains("Plug wire?"), asked, "{}", walked.out);
    }
}
