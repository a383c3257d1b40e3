//! Good words called off that were half heard, asked about together.

use super::calls::lugs;
use super::pad::Pad;
use super::sites::{check, count, generator, id, opening, state};
use loadwalk::plan::{CheckKind, Compare, Relation, Route};
use loadwalk::walk::{Advice, CalledAt, Entry, Opening, Settings};

fn pad(route: Route) -> Pad {
    begun(opening(route))
}

fn begun(opening: Opening) -> Pad {
    let settings = Settings {
        called: CalledAt::Everywhere,
        ..Settings::default()
    };
    let mut pad = Pad::start(opening, settings);
    pad.now += 8_000;
    pad
}

fn standing(pad: &Pad) -> Vec<String> {
    let stations = &pad.walk.ledger().route().stations;
    let checks = stations.iter().flat_map(|s| &s.checks);
    checks
        .filter(|c| pad.walk.ledger().standing(&c.id).is_some())
        .map(|c| c.id.0.clone())
        .collect()
}

#[test]
fn one_yes_confirms_what_is_named_with_its_finding_and_all_of_it_is_read_back() {
    let mut pad = pad(generator());
    // Nothing is left to be called, so that nothing is waited for.
    pad.call(&["drain ?plugged", "links 13", "pin ?present"]);
    let asked = "Did you say shackle pin present, fuel drain plugged?";
    assert_eq!(pad.last(), asked);
    assert_eq!(standing(&pad), ["front-left/links"], "a doubt is no answer");
    pad.take("yes");
    assert!(
        pad.talk
            .contains("READ Shackle pin, fuel drain plugged: taken."),
        "{}",
        pad.talk
    );
    let confirmed =
        |e: &&Entry| matches!(e, Entry::Answered { heard, .. } if heard.confirmed_by.is_some());
    assert_eq!(pad.entries.iter().filter(confirmed).count(), 2);
    assert!(pad.last().contains("Your findings."), "{}", pad.last());
    // As any answers that were read back together.
    pad.take("correction");
    assert_eq!(pad.last(), "Correction at front left corner. Which item?");
}

#[test]
fn no_or_what_is_not_clear_twice_asks_each_check_afresh() {
    let called = || {
        let mut pad = pad(lugs(3));
        pad.call(&["a ?good", "b ?good", "c ?good"]);
        assert_eq!(
            pad.last(),
            "Did you say lug a good, lug b good, lug c good?"
        );
        pad
    };
    for how in ["no", "correction", "unclear"] {
        let mut pad = called();
        if how == "unclear" {
            pad.cough();
            assert_eq!(
                pad.last(),
                "Say yes if all of it is so, or no: lug a good, lug b good, lug c good."
            );
            pad.cough();
        } else {
            pad.take(how);
        }
        let said = pad.said[pad.said.len() - 2..].join(" | ");
        assert_eq!(said, "One by one. | Sound?", "{how}");
        assert_eq!(pad.walk.current(), Some(&id("top/a")));
        assert!(standing(&pad).is_empty(), "{how}: nothing was confirmed");
        pad.take("good");
        assert_eq!(pad.walk.current(), Some(&id("top/b")), "no doubt is left");
        assert_eq!(pad.last(), "Sound?");
    }
    // A yes that is half heard confirms nothing.
    let mut pad = called();
    pad.doubt("yes");
    assert!(standing(&pad).is_empty());
    assert!(pad.last().starts_with("Say yes"), "{}", pad.last());
}

#[test]
fn a_hold_or_more_said_behind_the_yes_leaves_nothing_answered() {
    let mut pad = pad(lugs(2));
    pad.call(&["a ?good", "b ?good"]);
    pad.take("stand-by").take("carry-on");
    assert!(standing(&pad).is_empty());
    assert_eq!(pad.walk.current(), Some(&id("top/a")));
    let mut pad = self::pad(lugs(2));
    pad.call(&["a ?good", "b ?good"]);
    pad.take("yes");
    assert_eq!(standing(&pad), ["top/a", "top/b"]);
    assert!(pad.walk.may_take_back());
    pad.go_on();
    assert!(standing(&pad).is_empty(), "{}", pad.talk);
    assert_eq!(pad.walk.current(), Some(&id("top/a")));
    pad.take("good");
    assert_eq!(pad.walk.current(), Some(&id("top/b")));
}

#[test]
fn numbers_deficiencies_and_what_is_hardly_heard_are_asked_about_singly() {
    let mut route = lugs(2);
    route.stations[0]
        .checks
        .push(check("top/links", "links", "How many?", count(Some(4))));
    let mut pad = pad(route);
    pad.call(&["a ?good", "links ?4"]).silence();
    assert_eq!(pad.last(), "Lug a. Did you say good?");
    pad.take("yes");
    assert_eq!(pad.last(), "Sound?", "lug b was not called");
    // One that is deficient stops the flow by itself.
    let mut pad = self::pad(lugs(3));
    pad.call(&["a ?good", "b ?deficient", "c ?good"]);
    assert_eq!(pad.last(), "Lug b. Did you say deficient?");
    pad.take("no").take("good");
    assert_eq!(standing(&pad), ["top/b"]);
    assert_eq!(pad.last(), "Did you say lug a good, lug c good?");
    // More than four are two questions.
    let mut pad = self::pad(lugs(6));
    pad.call(&[
        "a ?good", "b ?good", "c ?good", "d ?good", "e ?good", "f ?good",
    ]);
    assert_eq!(
        pad.last(),
        "Did you say lug a good, lug b good, lug c good, lug d good?"
    );
    pad.take("yes");
    assert_eq!(pad.last(), "Did you say lug e good, lug f good?");
}

#[test]
fn where_a_tryout_advises_against_voice_each_is_asked_about_by_itself() {
    let asked = |advice: Advice| {
        let by = || "Ida Rast".to_owned();
        let mut tryout = loadwalk::ears::tryout::judge(&[], String::new(), by(), String::new());
        tryout.advice = advice;
        let mut opening = opening(lugs(2));
        opening.tryout = Some(tryout);
        let mut pad = begun(opening);
        pad.call(&["a good", "b good"]);
        assert!(standing(&pad).is_empty(), "{}", pad.talk);
        pad.last().to_owned()
    };
    let all = "Did you say lug a good, lug b good?";
    assert_eq!(asked(Advice::ConfirmMore), all);
    // One made in a break counts as well.
    let settings = Settings {
        called: CalledAt::Everywhere,
        advice: Some(Advice::NoVoice),
        ..Settings::default()
    };
    let mut pad = Pad::start(opening(lugs(2)), settings);
    pad.now += 8_000;
    pad.call(&["a good", "b good"]);
    assert_eq!(pad.last(), "Lug a. Did you say good?");
    assert_eq!(asked(Advice::NoVoice), "Lug a. Did you say good?");
}

/// Two hooks that must mirror each other: each conforms alone, not both as they were heard.
#[test]
fn what_would_differ_by_then_is_not_confirmed_with_the_others() {
    let mut route = lugs(2);
    let hook = CheckKind::State {
        states: vec![
            state("left", "opens left", None),
            state("right", "opens right", None),
        ],
    };
    for c in &mut route.stations[0].checks {
        c.kind = hook.clone();
    }
    route.stations[0].checks[1].compare = Some(Compare {
        with: id("top/a"),
        relation: Relation::Mirrored(vec![["left".to_owned(), "right".to_owned()]]),
    });
    let mut pad = pad(route);
    pad.call(&["a ?left", "b ?left"]);
    assert_eq!(
        pad.last(),
        "Did you say lug a opens left, lug b opens left?"
    );
    pad.take("yes");
    assert_eq!(standing(&pad), ["top/a"]);
    assert_eq!(pad.last(), "Lug b. Did you say opens left?");
}
