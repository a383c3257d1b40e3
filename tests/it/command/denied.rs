//! What an inspector says against an answer is never lost: typed walks through the program, told by what
//! the record has at the end.

use super::lines::{PLAN, walk, walk_of};
use super::talk::{loadwalk, ran};

#[test]
fn no_before_a_finding_is_never_taken_as_that_finding() {
    for said in [
        "keeper closed no padding in place",
        "keeper closed no padding present",
        "keeper closed padding in no padding in",
        "no padding in place",
    ] {
        let walked = walk(&["--called"], said);
        assert_ne!(
            walked.status("front/padding"),
            "conforming",
            "{said}: {}",
            walked.out
        );
        assert!(
            walked.out.contains("Padding"),
            "it is asked at once: {}",
            walked.out
        );
    }
    // What was found before is corrected by another value of the same.
    let walked = walk(&["--called"], "keeper closed no keeper open");
    walked.stands("front/keeper", "deficient");
    let walked = walk(
        &["--called=rear"],
        "closed / present / cap on / left straps two no left straps three",
    );
    walked.stands("rear/left-straps", "conforming");
}

#[test]
fn a_denial_withdraws_what_was_called_before_it() {
    let mut walked = walk(
        &["--called=front"],
        "keeper closed padding in / keeper not closed / stop / carry on / carry on / drain cap on",
    );
    assert_ne!(
        walked.status("front/keeper"),
        "conforming",
        "{}",
        walked.out
    );
    walked.resume("open");
    walked.stands("front/keeper", "deficient");
}

#[test]
fn a_second_finding_is_asked_about_and_not_dropped() {
    let walked = walk(
        &["--called=front"],
        "keeper closed padding in / padding not applicable / yes",
    );
    walked.stands("front/padding", "not-applicable");
}

#[test]
fn a_number_right_behind_a_count_opens_that_count() {
    // The other count is open, and nobody named it.
    let plan = PLAN.replace("noun = \"straps\"\ncompare", "noun = \"hooks\"\ncompare");
    let called = |breath: &str| {
        let lines = format!("closed / present / cap on / {breath}");
        walk_of(&plan, &["--brief", "--called=rear"], &lines)
    };
    let walked = called("three straps, five");
    walked.stands("rear/left-straps", "open");
    walked.stands("rear/right-straps", "open");
    let walked = called("three straps, three");
    walked.stands("rear/left-straps", "conforming");
    walked.stands("rear/right-straps", "open");
}

#[test]
fn which_item_was_wrong_is_asked_until_it_is_told() {
    let called = "keeper closed padding in drain cap on / correction";
    for then in ["station done", "ask me", "drain cap on"] {
        let mut walked = walk(&["--called=front"], &format!("{called} / {then}"));
        // Nothing was told, so nothing goes on: not in this walk, nor in one taken up again.
        assert!(
            walked.out.matches("Which").count() >= 2,
            "{then}: {}",
            walked.out
        );
        walked.resume("padding missing");
        assert!(walked.out.contains("Which"), "{then}: {}", walked.out);
        assert_eq!(
            walked.status("front/padding"),
            "deficient",
            "{then}: {}",
            walked.out
        );
    }
}

#[test]
fn what_an_answer_left_out_is_asked_afresh() {
    // The plug was out and is put in again: its wire is looked at again too.
    let walked = walk(
        &[],
        "closed / present / plug in / present / go back / go back / neither / plug in",
    );
    assert_ne!(
        walked.status("front/plug-wire"),
        "conforming",
        "{}",
        walked.out
    );
}

#[test]
fn a_count_with_nothing_to_compare_it_with_does_not_conform() {
    let walked = walk(
        &[],
        "closed / present / cap on / not applicable / yes / 97 / yes",
    );
    walked.stands("rear/right-straps", "deficient");
    assert_ne!(walked.code, 0);
}

#[test]
fn several_counts_of_a_station_are_read_back_by_name() {
    let walked = walk(
        &["--called=rear"],
        "closed / present / cap on / left straps three right straps three / station done",
    );
    assert!(
        walked.out.contains("Left straps three, right straps three"),
        "{}",
        walked.out
    );
}

#[test]
fn a_complete_walk_is_not_gone_on_with_and_tells_how_it_stands() {
    let mut walked = walk(&[], "closed / present / cap on / 3 / 3 / yes");
    assert_eq!(walked.code, 0, "{}", walked.out);
    walked.resume("");
    assert!(walked.out.contains("READY"), "{}", walked.out);
    assert_eq!(walked.code, 0);
}

#[test]
fn a_plan_changed_in_an_open_record_is_told_before_the_walk_goes_on() {
    let mut walked = walk(&[], "closed / present");
    let plan = walked.record.join("plan.toml");
    let text = std::fs::read_to_string(&plan).expect("the plan");
    std::fs::write(&plan, text.replace("700 kg", "7000 kg")).expect("changed");
    walked.resume("cap on");
    assert_eq!(walked.code, 2, "{}", walked.out);
    assert!(walked.out.contains("plan.toml"), "{}", walked.out);
    walked.stands("front/drain", "open");
}

#[test]
fn what_a_review_sent_back_is_asked_again_when_the_walk_goes_on() {
    let mut walked = walk(&[], "closed / present");
    let key = walked.record.parent().expect("a folder").join("eva");
    let (code, _, err) = ran(&loadwalk()
        .args(["key", "new"])
        .arg(&key)
        .output()
        .expect("it runs"));
    assert_eq!(code, 0, "{err}");
    let (code, _, err) = ran(&loadwalk()
        .arg("amend")
        .arg(&walked.record)
        .args(["--as", "Eva Rowan", "--key"])
        .arg(key.with_extension("key.pem"))
        .args([
            "re-inspect",
            "front/keeper",
            "--why",
            "the voice is not clear",
        ])
        .output()
        .expect("it runs"));
    assert_eq!(code, 0, "{err}");
    walked.resume("cap on / open / 3 / 3 / yes");
    assert!(walked.out.contains("sent back in review"), "{}", walked.out);
    walked.stands("front/keeper", "deficient");
    assert_eq!(walked.code, 1);
}

#[test]
fn what_is_corrected_at_the_beginning_of_a_breath_is_what_is_named() {
    for word in ["I mean", "sorry", "correction"] {
        let lines = format!("keeper closed / padding in / {word} keeper open");
        let walked = walk(&["--called=front"], &lines);
        assert_eq!(
            walked.status("front/keeper"),
            "deficient",
            "{word}: {}",
            walked.out
        );
        assert_eq!(
            walked.status("front/padding"),
            "conforming",
            "{word}: {}",
            walked.out
        );
    }
}

#[test]
fn what_is_said_against_an_answer_behind_a_stop_is_not_lost() {
    let mut walked = walk(
        &["--called=front"],
        "keeper closed padding in / stop padding missing / carry on",
    );
    assert_ne!(
        walked.status("front/padding"),
        "conforming",
        "{}",
        walked.out
    );
    walked.resume("missing");
    walked.stands("front/padding", "deficient");
}

#[test]
fn which_item_was_wrong_outlives_a_hold_a_note_and_a_break() {
    for between in ["stand by / carry on", "take a note / carry on"] {
        let lines = format!("keeper closed padding in / correction / {between}");
        let mut walked = walk(&["--called=front"], &lines);
        walked.resume("padding missing");
        assert!(walked.out.contains("Which"), "{between}: {}", walked.out);
        assert_eq!(
            walked.status("front/padding"),
            "deficient",
            "{between}: {}",
            walked.out
        );
    }
    // With nothing to correct nothing is asked later.
    let mut walked = walk(&["--called=front"], "correction / keeper closed padding in");
    walked.resume("drain cap on");
    assert!(!walked.out.contains("Which"), "{}", walked.out);
}
