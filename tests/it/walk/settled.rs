//! A fault that was found is settled by an answer of its own check alone: neither by what is said in passing, nor by other
//! checks, a repair, a hold or a break.

use super::calls::{settings as called, value};
use super::pad::Pad;
use super::sites::{check, count, generator, id, opening, pair, station};
use loadwalk::plan::{CheckKind, Condition, Route, Test};
use loadwalk::walk::{Ending, Outcome, Settings, Walk};

fn led() -> Pad {
    Pad::start(opening(generator()), Settings::default())
}

fn outcome(pad: &Pad, check: &str) -> Option<Outcome> {
    pad.walk.ledger().outcome(&id(check))
}

fn is_deficient(pad: &Pad, check: &str) -> bool {
    matches!(outcome(pad, check), Some(Outcome::Deficient { .. }))
}

/// The cap of a blanked drain, found deficient and left so.
fn cap_deficient() -> Pad {
    let mut pad = led();
    pad.take("present").take("13").take("blanked");
    pad.take("deficient");
    pad
}

/// "Not closed" of what is open already, half heard, took the fault back; by then its check did not apply any more.
#[test]
fn a_fault_said_again_half_heard_stays() {
    let mut pad = cap_deficient();
    pad.take("carry-on").take("leave");
    pad.take("go-back").take("go-back").take("plugged");
    pad.take("go-back").take("go-back").doubt("deficient");
    assert!(is_deficient(&pad, "front-left/cap"), "{}", pad.talk);
    pad.take("no").take("go-back");
    assert!(is_deficient(&pad, "front-left/cap"), "{}", pad.talk);
    // Called off as well, by its name with a fault, or by its name alone: then it is asked.
    for said in ["cap ?deficient", "name cap"] {
        let mut pad = Pad::start(opening(generator()), called());
        pad.call(&["pin present", "drain blanked", "cap deficient"]);
        pad.take("carry-on").take("leave");
        pad.call(&["name drain"]).take("plugged");
        pad.call(&[said]);
        assert!(pad.walk.ledger().applies(&id("front-left/cap")));
        let open = pad.walk.ledger().open_points();
        let is_open = open.iter().any(|o| o.check == id("front-left/cap"));
        assert!(
            is_open || is_deficient(&pad, "front-left/cap"),
            "{}",
            pad.talk
        );
    }
}

#[test]
fn what_cannot_be_seen_settles_no_fault() {
    let mut pad = cap_deficient();
    pad.take("carry-on").take("fixed").take("not-seen");
    // Nothing but a look settles it, also behind "cannot see".
    pad.take("go-back").take("not-applicable");
    assert_eq!(outcome(&pad, "front-left/cap"), Some(Outcome::NotSeen));
    assert!(pad.talk.contains("Look at it again"), "{}", pad.talk);
    pad.take("carry-on");
    pad.take("go-back").take("go-back").take("plugged");
    assert_eq!(outcome(&pad, "front-left/cap"), Some(Outcome::NotSeen));
    pad.take("present").take("7").take("2.2").take("yes");
    assert_eq!(pad.ended, Some(Ending::NotReady), "{}", pad.talk);
}

#[test]
fn what_was_put_right_is_not_left_out_by_a_question_that_is_open() {
    let mut pad = cap_deficient();
    pad.take("carry-on").take("fixed");
    assert_eq!(pad.last(), "Wire on the blanking cap?");
    pad.take("go-back").take("correction");
    assert_eq!(pad.last(), "Fuel drain?");
    pad.take("go-back").take("13");
    assert_eq!(pad.last(), "Wire on the blanking cap?");
    pad.take("not-applicable");
    assert!(pad.talk.contains("Look at it again"), "{}", pad.talk);
    pad.take("good").take("blanked");
    assert_eq!(
        outcome(&pad, "front-left/cap"),
        Some(Outcome::Conforming),
        "{}",
        pad.talk
    );
}

#[test]
fn what_a_comparison_found_stays_while_there_is_nothing_to_compare_with() {
    let found = || {
        let mut pad = Pad::start(opening(pair()), Settings::default());
        pad.take("50").take("left").take("49");
        pad.take("carry-on").take("leave");
        assert!(is_deficient(&pad, "right/links"));
        pad.take("go-back").take("go-back").take("go-back");
        assert_eq!(pad.last(), "Links?");
        pad
    };
    let mut pad = found();
    pad.take("correction");
    assert_eq!(value(&pad, "left/links"), None);
    assert!(is_deficient(&pad, "right/links"), "{}", pad.talk);
    pad.take("49");
    assert_eq!(outcome(&pad, "right/links"), Some(Outcome::Conforming));
    let mut pad = found();
    pad.take("not-applicable").take("yes");
    assert!(is_deficient(&pad, "right/links"), "{}", pad.talk);
}

/// One was wrong by its number, the other by the first: put right together, both are looked at again.
#[test]
fn what_only_another_makes_deficient_is_put_right_with_it() {
    let mut route = pair();
    route.stations[0].checks[0].kind = count(Some(50));
    let mut pad = Pad::start(opening(route), Settings::default());
    pad.take("50").take("left").take("50");
    for _ in 0..3 {
        pad.take("go-back");
    }
    pad.take("51");
    for _ in 0..2 {
        pad.take("carry-on").take("leave");
    }
    pad.take("right").take("fixed");
    assert_eq!(pad.last(), "Links?");
    pad.take("50").take("not-applicable");
    assert!(pad.talk.contains("Look at it again"), "{}", pad.talk);
    let open = pad.walk.ledger().open_points();
    assert_eq!(open.len(), 1, "{}", pad.talk);
    assert_eq!(open[0].check, id("right/links"));
}

/// A weld that was half heard as good before the work beside it is looked at behind it.
#[test]
fn what_was_half_heard_before_a_repair_is_asked_afresh() {
    let mut route = generator();
    route.stations[0].checks[0].touches = vec![id("front-left/drain")];
    let mut pad = Pad::start(opening(route), called());
    pad.call(&["links 13", "drain ?plugged", "pin missing"]);
    pad.take("carry-on").take("fixed").take("present");
    pad.silence();
    assert_eq!(pad.last(), "Fuel drain?", "{}", pad.talk);
}

#[test]
fn what_was_half_heard_before_more_was_said_is_asked_afresh() {
    let mut pad = Pad::start(opening(generator()), called());
    pad.call(&["links 13", "drain ?plugged", "pin present"])
        .go_on();
    pad.silence();
    pad.take("present").take("13");
    assert_eq!(pad.last(), "Fuel drain?", "{}", pad.talk);
}

#[test]
fn the_end_of_a_hold_leaves_a_look_again_what_it_is() {
    let mut pad = led();
    pad.take("present")
        .take("12")
        .take("carry-on")
        .take("leave");
    pad.take("go-back").take("go-back").take("missing");
    pad.take("carry-on").take("fixed").take("present");
    assert_eq!(pad.last(), "Hook links, how many?");
    pad.take("stand-by").take("carry-on").take("13");
    let again = pad
        .said
        .iter()
        .any(|s| s == "Again. Thirteen links, one three.");
    assert!(again, "{}", pad.talk);
}

#[test]
fn a_break_takes_up_what_was_there_and_asks_nothing_that_was_told() {
    let resumed = |pad: &Pad, settings: Settings| {
        let walk = Walk::restore(&pad.entries, settings).expect("its own journal");
        Pad::with(walk)
    };
    // It was told that all are kept.
    let mut pad = Pad::start(opening(generator()), called());
    pad.call(&["pin present", "links 13", "drain plugged"]);
    pad.take("correction").take("carry-on");
    let pad = resumed(&pad, called());
    assert_eq!(pad.last(), "Go on.", "{}", pad.talk);
    // What another answer made deficient waits for its note, as what was answered so does.
    let mut pad = Pad::start(opening(pair()), Settings::default());
    pad.take("50").take("left").take("50");
    pad.take("go-back")
        .take("go-back")
        .take("go-back")
        .take("51");
    let note = "Right drum, links: note, or carry on?";
    assert_eq!(pad.last(), note);
    let pad = resumed(&pad, Settings::default());
    assert_eq!(pad.last(), note, "{}", pad.talk);
}

/// Each hangs on the two before it: asked of each anew, what is left out would be looked up more often than can be waited for.
#[test]
fn a_long_chain_of_conditions_is_looked_through_once() {
    let name = |n: usize| format!("net/c{n}");
    let checks = (0..120).map(|n| {
        let kind = CheckKind::Presence { must_be: true };
        let mut one = check(&name(n), &format!("check {n}"), "There?", kind);
        let before = (n.saturating_sub(2)..n).map(|earlier| Condition {
            check: id(&name(earlier)),
            test: Test::Is(vec!["present".to_owned()]),
        });
        one.when = before.collect();
        one
    });
    let route = Route {
        load: "net".to_owned(),
        stations: vec![station("net", "net", "", checks.collect())],
        left_out: Vec::new(),
        outline_m: None,
    };
    let mut pad = Pad::start(opening(route), Settings::default());
    let undecided = |pad: &Pad| {
        let left_out = pad.walk.ledger().not_asked();
        (
            left_out.len(),
            left_out.iter().filter(|l| l.undecided).count(),
        )
    };
    assert_eq!(undecided(&pad), (119, 119));
    pad.take("missing");
    assert_eq!(undecided(&pad), (119, 0));
}
