//! What the keyboard may bring: questions, ranges, slips of the hand, and bytes that are no letters.

use super::lines::{PLAN, Walked, walk};
use super::talk::{loadwalk, ran};
use std::io::Write as _;
use std::process::Stdio;

#[test]
fn a_typed_question_or_range_is_no_answer() {
    let walked = walk(&[], "closed?");
    walked.stands("front/keeper", "open");
    for count in ["2-3", "3?"] {
        let walked = walk(&[], &format!("closed / present / cap on / {count}"));
        walked.stands("front/padding", "conforming");
        walked.stands("rear/left-straps", "open");
    }
    let walked = walk(&["--called=front"], "keeper closed? padding in");
    walked.stands("front/keeper", "open");
    // A command may be put as one.
    for options in [&[][..], &["--called=front"]] {
        let walked = walk(options, "where am i?");
        assert!(walked.out.contains(" open."), "{}", walked.out);
        assert!(!walked.out.contains("Did you say"), "{}", walked.out);
    }
}

#[test]
fn who_types_is_not_told_to_use_the_keys() {
    let walked = walk(&[], "so so / so so / so so");
    assert!(walked.out.contains("Still not clear."), "{}", walked.out);
    assert!(walked.out.contains("Or say stand by."), "{}", walked.out);
    assert!(!walked.out.contains("use the keys"), "{}", walked.out);
}

#[test]
fn what_is_no_letter_in_a_typed_line_ends_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let plan = folder.path().join("plan.toml");
    std::fs::write(&plan, PLAN).expect("a plan");
    let record = folder.path().join("record");
    let mut child = loadwalk()
        .arg("walk")
        .arg(&plan)
        .args([
            "--inspector",
            "Ilse Brandt",
            "--rigger",
            "Oskar Venn",
            "--keys",
            "--record",
        ])
        .arg(&record)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it starts");
    let mut stdin = child.stdin.take().expect("its input");
    stdin
        .write_all(b"closed\nmissing\nlies f\xfcnf \x1b[31msteps off\nleave it\ncap on\n")
        .expect("typed");
    drop(stdin);
    let (_, out, err) = ran(&child.wait_with_output().expect("it ends"));
    let walked = Walked {
        _folder: folder,
        record,
        out: format!("{out}{err}"),
        code: 0,
    };
    walked.stands("front/drain", "conforming");
    let (_, text, _) = ran(&loadwalk()
        .arg("show")
        .arg(&walked.record)
        .output()
        .expect("it runs"));
    assert!(
        text.contains("steps off") && !text.contains('\u{1b}'),
        "{text}"
    );
}

#[test]
fn a_name_that_steers_how_it_is_shown_or_can_pass_for_another_is_refused() {
    for (name, words) in [
        ("Ilse\nBrandt", "control character"),
        ("Ilse \u{1b}[2J", "control character"),
        ("Ilse \u{202e} Brandt", "control character"),
        // With a Cyrillic O, who rigged would inspect.
        ("\u{41e}skar Venn", "letters of two scripts"),
    ] {
        let folder = tempfile::tempdir().expect("a folder");
        let plan = folder.path().join("plan.toml");
        std::fs::write(&plan, PLAN).expect("a plan");
        let (code, _, err) = ran(&loadwalk()
            .arg("walk")
            .arg(&plan)
            .args(["--inspector", name, "--rigger", "Oskar Venn", "--keys"])
            .output()
            .expect("it runs"));
        assert_eq!(code, 2, "{err}");
        assert!(err.contains(words), "{err}");
    }
}

#[test]
fn a_state_may_be_typed_with_its_and_a_fault_that_nobody_named_is_one() {
    let walked = walk(&[], "it's closed");
    walked.stands("front/keeper", "conforming");
    for said in [
        "not closed",
        "it isn't closed",
        "unclosed",
        "bent",
        "it's cracked",
    ] {
        let walked = walk(&[], said);
        assert_eq!(
            walked.status("front/keeper"),
            "deficient",
            "{said}: {}",
            walked.out
        );
    }
}
