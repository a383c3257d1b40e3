//! A fault that a reviewer heard in an open walk stands until its check is answered again.

use super::lines::{PLAN, Walked, walk_of};
use super::talk::{key, run};

const WIRE: &str = "front/plug-wire";
const KEEPER: &str = "front/keeper";

fn walked(lines: &str) -> Walked {
    walk_of(PLAN, &["--brief"], lines)
}

/// Eva hears this at the check.
fn heard(walked: &Walked, check: &str, value: &str) {
    let record = walked.record.to_str().expect("UTF-8");
    let key = key(walked.record.parent().expect("a folder"), "eva");
    let amend = ["amend", record, "--as", "Eva Rowan", "--key", &key];
    let what = ["heard-wrong", check, "--hears", value, "--why", "I hear it"];
    let (code, _, told) = run(&[&amend[..], &what[..]].concat());
    assert_eq!(code, 0, "{told}");
}

fn shown(walked: &Walked) -> String {
    run(&["show", walked.record.to_str().expect("UTF-8")]).1
}

#[test]
fn a_fault_heard_in_review_is_not_wiped_by_an_answer_to_another_check() {
    let mut walked = walked("closed / present / plug in / present");
    heard(&walked, WIRE, "missing");
    walked.stands(WIRE, "deficient");
    // Its check is asked again, and not answered.
    walked.resume("where am I");
    walked.stands(WIRE, "deficient");
    let text = shown(&walked);
    assert!(text.contains("as heard in review"), "{text}");
    let page = walked.record.with_file_name("walk.html");
    let page = page.to_str().expect("UTF-8");
    let (code, _, told) = run(&[
        "report",
        walked.record.to_str().expect("UTF-8"),
        "--html",
        page,
    ]);
    assert_eq!(code, 0, "{told}");
    let page = std::fs::read_to_string(page).expect("a report");
    assert!(page.contains("heard in review 0 of entry"), "{page}");
    walked.resume("go back / cap on");
    walked.stands("front/drain", "conforming");
    walked.stands(WIRE, "deficient");
    walked.resume("missing / 3 / 3 / yes");
    walked.stands(WIRE, "deficient");
    assert_eq!(walked.code, 1, "{}", walked.out);
    // Found again, it is the same finding, and stands.
    let text = shown(&walked);
    assert!(!text.contains("no longer standing"), "{text}");
}

#[test]
fn a_fault_heard_in_review_and_looked_at_again_stays_in_sight() {
    let mut walked = walked("closed / present");
    heard(&walked, KEEPER, "open");
    walked.resume("cap on / not applicable / yes");
    assert!(
        walked.out.contains("heard to be deficient in a review"),
        "{}",
        walked.out
    );
    walked.stands(KEEPER, "deficient");
    walked.resume("closed / 3 / 3 / yes");
    assert_eq!(walked.code, 0, "{}", walked.out);
    let text = shown(&walked);
    let (_, list) = text
        .split_once("deficiencies found and no longer standing")
        .unwrap_or_else(|| panic!("{text}"));
    let line = list.lines().nth(1).expect("a line");
    assert!(line.contains("keeper open (heard in review 0"), "{line}");
    assert!(line.contains("answered again in entry"), "{line}");
}

#[test]
fn what_was_heard_deficient_in_review_and_called_not_applicable_is_told_as_that() {
    let mut walked = walked("closed / present");
    heard(&walked, KEEPER, "open");
    // It is looked at, and then called so.
    walked.resume("cap on / closed / go back / not applicable / yes / 3 / 3 / yes");
    assert_eq!(walked.code, 0, "{}", walked.out);
    walked.stands(KEEPER, "not-applicable");
    let told = walked.out.matches("found deficient before").count();
    assert!(told > 0, "{}", walked.out);
    let text = shown(&walked);
    assert!(text.contains("(found deficient before)"), "{text}");
}

#[test]
fn what_a_reviewer_hears_may_be_written_as_people_write_it() {
    let walked = walked("closed / present / cap on / 3");
    heard(&walked, "rear/left-straps", "02");
    walked.stands("rear/left-straps", "deficient");
    assert!(shown(&walked).contains("heard in review \"2 straps\""));
}

/// A tag that must be N5, and a condition.
const PAPERS: &str = r#"
[[station]]
name = "papers"
[[station.check]]
name = "set tag"
kind = "tag"
expected = "N5"
[[station.check]]
name = "pouch"
kind = "condition"
"#;

/// The words that the walk itself prompts for and the README lists, and tags as they are spelled: read as a walk reads them
/// typed. What it would ask back is refused, with what to write, since nobody is there to say yes.
#[test]
fn what_a_reviewer_hears_is_read_as_a_typed_answer() {
    let mut walked = super::lines::walk_of(
        &format!("{PLAN}{PAPERS}"),
        &["--brief"],
        "closed / present / cap on / 3 / 3 / N6 / good",
    );
    let named = walked.record.to_str().expect("UTF-8").to_owned();
    let key = key(walked.record.parent().expect("a folder"), "eva");
    let amend = |check: &str, value: &str| {
        let by = ["amend", &named, "--as", "Eva Rowan", "--key", &key];
        let what = ["heard-wrong", check, "--hears", value, "--why", "I hear it"];
        let (code, _, told) = run(&[&by[..], &what[..]].concat());
        (code, told)
    };
    for (check, said, value) in [
        ("papers/set-tag", "november five", "N5"),
        ("papers/set-tag", "mike four seven", "M47"),
        ("papers/set-tag", "KL-7", "KL7"),
        ("papers/pouch", "damaged", "deficient"),
        ("papers/pouch", "not good", "deficient"),
        ("front/padding", "not there", "missing"),
        ("front/padding", "damaged", "deficient"),
        ("rear/left-straps", "thirty nine", "39"),
        (KEEPER, "torn", "deficient"),
        (KEEPER, "not closed", "deficient"),
    ] {
        let (code, told) = amend(check, said);
        assert_eq!(code, 0, "{said}: {told}");
        let signed = format!("(heard wrong, hears {value}) signed by Eva Rowan");
        assert!(told.contains(&signed), "{said}: {told}");
    }
    for check in ["papers/pouch", "front/padding", "rear/left-straps", KEEPER] {
        walked.stands(check, "deficient");
    }
    let before = walked.show()["amendments"].as_array().map(Vec::len);
    for said in ["present", "NO, K9", "12 or 13", "kl-7", "damaged"] {
        let (code, told) = amend("papers/set-tag", said);
        assert_eq!(code, 2, "{said}: {told}");
        let fix = "write the letters of a tag in capitals with its digits (`KL-7`) or spell it";
        assert!(told.contains(fix), "{said}: {told}");
    }
    for (check, said) in [
        ("rear/left-straps", "3-4"),
        (KEEPER, "closed?"),
        ("papers/pouch", "not missing"),
    ] {
        let (code, told) = amend(check, said);
        assert_eq!(code, 2, "{said}: {told}");
        assert!(told.contains("is no answer to"), "{said}: {told}");
    }
    assert_eq!(walked.show()["amendments"].as_array().map(Vec::len), before);
    // What only a fault can be is looked at again.
    walked.resume("not applicable");
    walked.stands("papers/pouch", "deficient");
}

#[test]
fn what_only_a_review_heard_is_not_told_as_said_by_the_walk() {
    let padding = "front/padding";
    let by_the_walk = |walked: &Walked| {
        let view = walked.show();
        let checks = view["checks"].as_array().expect("checks");
        let check = checks.iter().find(|c| c["check"] == padding);
        check.expect("the padding")["walked"].clone()
    };
    let mut walked = walked("closed / present");
    heard(&walked, padding, "missing");
    walked.stands(padding, "deficient");
    assert_eq!(by_the_walk(&walked), "conforming");
    // Taken up again the walk holds on to it, and its own last answer is as before.
    walked.resume("end the walk");
    walked.stands(padding, "deficient");
    assert_eq!(by_the_walk(&walked), "conforming");
    let text = shown(&walked);
    assert!(text.contains("by the walk: conforming"), "{text}");
    // Found by the walk as well, it is deficient by the walk.
    walked.resume("cap on / missing / end the walk");
    walked.stands(padding, "deficient");
    assert_eq!(by_the_walk(&walked), "deficient");
}
