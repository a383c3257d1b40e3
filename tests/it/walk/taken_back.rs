//! What takes an answer back, and what does not: corrections, going back, what is said right behind it.

use super::calls::{settings, value};
use super::dialogue::pad;
use super::pad::Pad;
use super::sites::{generator, id, opening};
use loadwalk::walk::{Entry, Event, Stage, Why};

#[test]
fn a_correction_takes_the_last_answer_back_and_both_stay() {
    let mut pad = pad();
    pad.take("present").take("13").take("correction");
    let links = id("front-left/links");
    assert_eq!(
        pad.walk.ledger().outcome(&links),
        None,
        "taken back at once"
    );
    let open = pad.walk.ledger().open_points();
    assert!(
        open.iter()
            .any(|o| o.check == links && o.why == Why::Corrected)
    );
    pad.take("12").take("carry-on").take("leave");
    let history = pad.walk.ledger().history(&links);
    let given: Vec<_> = history
        .iter()
        .map(|a| (a.value.as_str(), a.stage))
        .collect();
    assert_eq!(given, [("13", Stage::Walk), ("12", Stage::Correction)]);
    assert_eq!(pad.last(), "Fuel drain?");
}

#[test]
fn going_back_keeps_the_answer_until_there_is_another() {
    let mut pad = pad();
    pad.take("present")
        .take("13")
        .take("go-back")
        .take("go-back");
    assert_eq!(pad.walk.current(), Some(&id("front-left/pin")));
    assert_eq!(
        pad.walk
            .ledger()
            .standing(&id("front-left/pin"))
            .unwrap()
            .value,
        "present"
    );
    pad.take("carry-on");
    assert_eq!(pad.last(), "Fuel drain?");
    assert_eq!(pad.walk.ledger().history(&id("front-left/pin")).len(), 1);
}

#[test]
fn the_same_answer_given_again_is_no_correction() {
    let mut pad = pad();
    pad.take("present").take("13");
    pad.take("go-back").take("13");
    let said = |pad: &Pad, text: &str| pad.said.iter().any(|s| s.starts_with(text));
    assert!(!said(&pad, "Corrected"), "{}", pad.talk);
    pad.take("go-back").take("12");
    assert!(said(&pad, "Corrected. "), "{}", pad.talk);
}

/// A pause within a note is no word about the answer before it.
#[test]
fn what_goes_on_behind_a_note_takes_no_deficiency_back() {
    let mut pad = pad();
    pad.take("missing").note("pin is lying").go_on();
    assert_eq!(pad.walk.ledger().deficiencies().len(), 1, "{}", pad.talk);
    assert_eq!(pad.last(), "Fixed, or leave it open?");
}

#[test]
fn an_answer_behind_which_more_is_said_does_not_stand() {
    let mut pad = pad();
    let apex = pad.walk.current().cloned().expect("a check");
    let question = pad.last().to_owned();
    pad.take("present");
    assert!(pad.walk.ledger().outcome(&apex).is_some());
    pad.go_on();
    assert_eq!(pad.walk.ledger().outcome(&apex), None);
    assert_eq!(pad.last(), question, "it is asked again");
    assert!(pad.said[pad.said.len() - 2].starts_with("I cut in. "));
    // Once is enough: nothing more is taken back, and what was said is written down.
    let refused = |pad: &Pad| {
        let is_refused = |e: &&Entry| matches!(e, Entry::Refused { .. });
        pad.entries.iter().filter(is_refused).count()
    };
    let (before, open) = (refused(&pad), pad.walk.ledger().open_points().len());
    pad.go_on();
    assert_eq!(refused(&pad), before + 1);
    assert_eq!(pad.walk.ledger().open_points().len(), open);
    assert_eq!(pad.last(), question);
    // A deficiency is taken back too, with the question how it is dealt with.
    pad.take("missing").go_on();
    assert_eq!(pad.walk.ledger().deficiencies(), []);
    assert_eq!(pad.last(), question);
    pad.take("present");
    assert!(pad.walk.ledger().outcome(&apex).is_some());
    let links = pad.walk.current().cloned();
    // What was only half heard was not taken.
    pad.doubt("13");
    let before = refused(&pad);
    pad.go_on();
    assert_eq!(refused(&pad), before + 1);
    assert_eq!(pad.walk.current().cloned(), links);
}

/// "Leg rope deficient", said right behind a breath that called it good, was lost.
#[test]
fn what_is_said_right_behind_called_findings_takes_the_good_ones_back() {
    let mut pad = Pad::start(opening(generator()), settings());
    pad.call(&["pin present", "links 13", "drain plugged"]);
    assert!(pad.talk.contains("Rear left corner."), "{}", pad.talk);
    pad.go_on();
    let open: Vec<_> = pad.walk.ledger().open_points();
    assert_eq!(open.len(), 6, "{}", pad.talk);
    assert!(
        pad.talk.contains("I cut in. Front left corner."),
        "{}",
        pad.talk
    );
    assert_eq!(pad.last(), "Go on.");
    pad.call(&["pin missing", "links 13"]).go_on();
    assert_eq!(value(&pad, "front-left/links"), None);
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("missing"));
}

#[test]
fn stop_said_right_behind_a_command_holds() {
    let mut pad = pad();
    pad.take("where").stop_behind();
    assert!(pad.last().starts_with("Standing by at "), "{}", pad.last());
}

#[test]
fn stop_said_right_behind_an_answer_takes_it_back_and_holds() {
    let mut pad = pad();
    let apex = pad.walk.current().cloned().expect("a check");
    let question = pad.last().to_owned();
    pad.take("present").stop_behind();
    assert_eq!(pad.walk.ledger().outcome(&apex), None);
    assert!(pad.last().starts_with("Standing by at "), "{}", pad.last());
    // Held, nothing is an answer.
    pad.take("present");
    assert_eq!(pad.walk.ledger().outcome(&apex), None);
    pad.take("carry-on");
    assert_eq!(pad.last(), question, "it is asked again");
    pad.take("present");
    assert!(pad.walk.ledger().outcome(&apex).is_some());
}

#[test]
fn more_said_while_the_walk_is_held_takes_the_answer_back_for_later() {
    let mut pad = pad();
    let apex = pad.walk.current().cloned().expect("a check");
    pad.take("present");
    pad.send(Event::Hold {
        why: "headset lost".to_owned(),
    });
    pad.go_on();
    assert_eq!(pad.walk.ledger().outcome(&apex), None);
    pad.send(Event::Cleared);
    assert_eq!(pad.walk.current(), Some(&apex));
    pad.take("present");
    assert!(pad.walk.ledger().outcome(&apex).is_some());
}
