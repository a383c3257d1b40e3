//! What is said against a finding in a breath: the good word alone is never believed.

use super::calls::{settings, value};
use super::pad::Pad;
use super::sites::{check, generator, id, opening, station};
use loadwalk::grammar::NEGATED;
use loadwalk::plan::CheckKind;
use loadwalk::walk::{Entry, Outcome, judge};

const PIN: &str = "front-left/pin";
const LINKS: &str = "front-left/links";

fn pad() -> Pad {
    let mut pad = Pad::start(opening(generator()), settings());
    look(&mut pad);
    pad
}

/// The inspector takes time to look.
fn look(pad: &mut Pad) {
    pad.now += 8_000;
}

fn answers(pad: &Pad) -> usize {
    let is_answer = |e: &&Entry| matches!(e, Entry::Answered { .. });
    pad.entries.iter().filter(is_answer).count()
}

fn neither_stands(pad: &Pad) {
    let stand = (value(pad, LINKS), value(pad, PIN));
    assert_eq!(stand, (None, None), "{}", pad.talk);
}

#[test]
fn a_half_heard_fault_takes_the_good_answer_before_it_away() {
    let mut pad = pad();
    pad.call(&["pin present"]);
    assert_eq!(value(&pad, PIN).as_deref(), Some("present"));
    look(&mut pad);
    pad.call(&["pin ?missing"]);
    assert_eq!(value(&pad, PIN), None, "{}", pad.talk);
    // A hold forgets the doubt, and must not bring the answer back.
    pad.take("stand-by").take("carry-on");
    assert_eq!(value(&pad, PIN), None, "{}", pad.talk);
}

#[test]
fn what_was_said_before_a_no_that_denies_is_asked_about() {
    let mut pad = pad();
    pad.call(&["links 13", "filler no", "pin present"]);
    neither_stands(&pad);
    assert_eq!(answers(&pad), 0, "{}", pad.talk);
}

#[test]
fn sorry_and_a_finding_not_told_before_is_asked_about() {
    let mut pad = pad();
    pad.call(&["pin present"]);
    look(&mut pad);
    pad.call(&["filler correction", "links 13"]);
    neither_stands(&pad);
    assert_eq!(answers(&pad), 1, "{}", pad.talk);
}

#[test]
fn a_no_and_the_good_word_do_not_undo_the_fault_answered_last() {
    let mut pad = pad();
    pad.call(&["pin missing"])
        .note("in the grass")
        .take("leave");
    look(&mut pad);
    pad.call(&["filler no", "pin present"]);
    let outcome = pad.walk.ledger().outcome(&id(PIN));
    assert_ne!(outcome, Some(Outcome::Conforming), "{}", pad.talk);
    assert_eq!(answers(&pad), 1, "{}", pad.talk);
    // Asked afresh: a yes to "did you say present" would be too little to undo it.
    assert_eq!(pad.last(), "Shackle pin?", "{}", pad.talk);
}

#[test]
fn a_fault_or_a_denial_behind_a_command_takes_the_finding_away() {
    for against in ["missing", NEGATED] {
        let mut pad = pad();
        pad.call(&[
            "pin present",
            "links 13",
            "control where",
            &format!("pin {against}"),
        ]);
        assert_eq!(value(&pad, PIN), None, "{against}: {}", pad.talk);
        assert_eq!(value(&pad, LINKS).as_deref(), Some("13"), "{}", pad.talk);
        // What conforms behind a command is no answer either.
        let mut pad = self::pad();
        pad.call(&["links 13", "control where", "pin present"]);
        assert_eq!(value(&pad, PIN), None, "{}", pad.talk);
    }
}

#[test]
fn a_tag_that_is_expected_in_a_form_that_no_answer_has_lets_none_pass() {
    for expected in ["", "A_\u{e9}", "ABCDEFGHIJKLM"] {
        let kind = CheckKind::Tag {
            expected: Some(expected.to_owned()),
        };
        let tag = check("box/tag", "tag", "Tag?", kind);
        let station = station("box", "box", "", vec![tag.clone()]);
        for said in ["A7", "ABCDEFGHIJKL"] {
            let outcome = judge(&station, &tag, said);
            assert!(
                matches!(outcome, Some(Outcome::Deficient { .. })),
                "{expected}: {said}"
            );
        }
    }
}
