//! Ways round a question: no command leads past a fault that was told, a hold, or a question that is open.

use super::calls::{settings as called, value};
use super::pad::Pad;
use super::sites::{check, count, generator, id, opening, state, station};
use loadwalk::plan::{CheckKind, Compare, Condition, Relation, Route, Test};
use loadwalk::walk::{Ending, Entry, Outcome, Settings};

fn led() -> Pad {
    Pad::start(opening(generator()), Settings::default())
}

fn calling() -> Pad {
    let mut pad = Pad::start(opening(generator()), called());
    pad.now += 8_000;
    pad
}

/// A half-heard fault at a check that was gone back to was lost by "go back", "carry on": the walk ended ready.
#[test]
fn a_fault_that_is_asked_about_takes_back_what_stood() {
    for way in [
        &["go-back", "carry-on"][..],
        &["call-off"],
        &["stand-by", "carry-on"],
    ] {
        let mut pad = led();
        pad.take("present").take("13").take("go-back");
        pad.take("go-back");
        pad.doubt("missing");
        assert_eq!(value(&pad, "front-left/pin"), None, "{way:?}");
        for command in way {
            pad.take(command);
        }
        assert_eq!(value(&pad, "front-left/pin"), None, "{way:?}");
        let open = pad.walk.ledger().open_points();
        assert!(open.iter().any(|o| o.check == id("front-left/pin")));
    }
    // What would conform takes nothing back.
    let mut pad = led();
    pad.take("missing").take("carry-on").take("leave");
    pad.take("go-back").doubt("present");
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("missing"));
}

#[test]
fn which_item_was_wrong_is_asked_until_it_is_told() {
    let mut pad = calling();
    pad.call(&["pin present", "drain plugged"]).silence();
    pad.take("13");
    assert_eq!(pad.last(), "Your findings.");
    pad.take("go-back").take("carry-on");
    // Several were read back together.
    let mut pad = calling();
    pad.call(&["pin present", "links 13"]).silence();
    assert_eq!(pad.last(), "Fuel drain?");
    pad.take("correction");
    let which = "Correction at front left corner. Which item?";
    assert_eq!(pad.last(), which);
    // One that has no answer is none of them, and nothing goes back from here.
    pad.call(&["name drain"]);
    let told = "Front left corner, fuel drain has no answer yet.";
    assert!(pad.said.iter().any(|s| s == told), "{:?}", pad.said);
    assert!(pad.last().contains("Which item"), "{}", pad.last());
    pad.take("go-back");
    assert!(pad.last().contains("Which item"), "{}", pad.last());
    // What is said of something else is no correction.
    pad.call(&["drain plugged"]);
    assert!(pad.last().contains("Which item"), "{}", pad.last());
    pad.call(&["pin missing"]);
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("missing"));
    assert!(!pad.last().contains("Which item"), "{}", pad.last());
}

#[test]
fn a_note_or_a_way_back_out_of_a_hold_leaves_no_hold_in_the_record() {
    let mut pad = led();
    pad.take("present").take("stand-by").take("end-walk");
    pad.take("note").note("wind");
    assert!(pad.walk.is_held(), "the hold goes on behind the note");
    pad.take("carry-on").take("13");
    assert_eq!(pad.walk.ledger().held(), None);
    for back in ["go-back", "correction"] {
        let mut pad = led();
        pad.take("present").take("stand-by").take("note").take(back);
        assert_eq!(pad.walk.ledger().held(), None, "{back}");
        let carried = |e: &Entry| matches!(e, Entry::Carried { .. });
        assert!(pad.entries.iter().any(carried), "{back}");
        // With nothing before it, it is the question again, and no hold comes back.
        let mut pad = led();
        pad.take("stand-by").take("note").take(back);
        assert_eq!(pad.walk.ledger().held(), None, "{back}");
        assert!(!pad.walk.is_held());
        assert_eq!(pad.last(), "Shackle pin?", "{back}");
    }
}

#[test]
fn correction_and_go_back_at_a_note_mean_the_check_it_is_of() {
    let mut pad = led();
    pad.take("missing");
    assert!(pad.last().starts_with("Note"), "{}", pad.last());
    pad.take("go-back").take("carry-on");
    assert!(
        pad.last().contains("ote, or carry on?"),
        "dealt with after all: {}",
        pad.last()
    );
    pad.take("correction");
    assert_eq!(value(&pad, "front-left/pin"), None);
    // Said once more it means the same answer, not the one before.
    let mut pad = led();
    pad.take("present").take("13").take("correction");
    pad.take("correction");
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("present"));
    assert_eq!(value(&pad, "front-left/links"), None);
}

/// Of a check that the same breath brings in, a fault told before was thrown away.
#[test]
fn a_fault_of_a_check_that_the_same_breath_makes_apply_is_asked() {
    let mut pad = calling();
    pad.call(&["cap deficient", "drain blanked"]);
    assert!(!pad.talk.contains("Nothing was written"), "{}", pad.talk);
    assert_eq!(pad.last(), "Wire on the blanking cap?");
}

/// A tag that only has to agree with one that was called not applicable conformed.
#[test]
fn what_only_has_to_agree_needs_something_to_agree_with() {
    for kind in [
        CheckKind::Tag { expected: None },
        CheckKind::Reading {
            unit: "bar".to_owned(),
            min: None,
            max: None,
        },
        count(None),
    ] {
        for no_value in ["not-applicable", "not-seen"] {
            let answer = if matches!(kind, CheckKind::Tag { .. }) {
                "A7"
            } else {
                "4"
            };
            let one = check("top/one", "one", "One?", kind.clone());
            let mut other = check("top/other", "other", "Other?", kind.clone());
            other.compare = Some(Compare {
                with: id("top/one"),
                relation: Relation::Alike,
            });
            let route = Route {
                load: "net".to_owned(),
                stations: vec![station("top", "top", "", vec![one, other])],
                left_out: Vec::new(),
                outline_m: None,
            };
            let mut pad = Pad::start(opening(route), Settings::default());
            pad.take(no_value);
            if no_value == "not-applicable" {
                pad.take("yes");
            }
            pad.take(answer);
            let outcome = pad.walk.ledger().outcome(&id("top/other"));
            assert!(
                matches!(outcome, Some(Outcome::Deficient { .. })),
                "{kind:?} {no_value}: {outcome:?}"
            );
        }
    }
}

#[test]
fn a_walk_is_taken_up_at_the_pace_at_which_it_was_opened() {
    let settings = Settings {
        brief: true,
        ..called()
    };
    let pad = Pad::start(opening(generator()), settings);
    let Some(Entry::Opened {
        pace: Some(pace), ..
    }) = pad.entries.first()
    else {
        panic!("{:?}", pad.entries.first());
    };
    assert!(pace.brief && pace.called.holds("front-left"));
    let plain = led();
    assert!(matches!(
        plain.entries.first(),
        Some(Entry::Opened { pace: None, .. })
    ));
    assert_ne!(pad.ended, Some(Ending::Ready));
}

/// A fault and a good word of one item in one breath: the fault was thrown away where the good word stood already, or was said
/// once more.
#[test]
fn a_fault_is_not_forgotten_for_the_good_word_behind_it() {
    for (before, breath) in [
        (&["pin present"][..], &["pin missing", "pin present"][..]),
        (&["pin present"], &["pin ~not", "pin present"]),
        (&[], &["pin missing", "pin not-applicable", "pin present"]),
        (&[], &["pin missing", "pin present", "pin present"]),
    ] {
        let mut pad = calling();
        if !before.is_empty() {
            pad.call(before);
        }
        pad.call(breath);
        assert_eq!(value(&pad, "front-left/pin"), None, "{before:?} {breath:?}");
        assert_eq!(pad.last(), "Shackle pin?", "{before:?} {breath:?}");
    }
}

/// A wire that is looked at where a tank is full and plugged, and behind it a hose whose repair reaches all of them.
fn tank(when: [(&str, &str); 2]) -> Route {
    let presence = CheckKind::Presence { must_be: true };
    let named = |key: &str| check(&format!("tank/{key}"), key, "How is it?", presence.clone());
    let mut lid = named("lid");
    lid.touches = vec![id("tank/wire")];
    let plug = CheckKind::State {
        states: vec![state("plug", "plug in", None), state("cap", "cap on", None)],
    };
    let mut wire = named("wire");
    wire.when = when
        .iter()
        .map(|(key, value)| Condition {
            check: id(&format!("tank/{key}")),
            test: Test::Is(vec![(*value).to_owned()]),
        })
        .collect();
    let mut hose = named("hose");
    hose.touches = vec![id("tank/drain"), id("tank/valve")];
    let checks = vec![
        named("valve"),
        check("tank/drain", "drain", "How is it?", plug),
        wire,
        hose,
        lid,
    ];
    Route {
        load: "water tank".to_owned(),
        stations: vec![station("tank", "tank", "", checks)],
        left_out: Vec::new(),
        outline_m: None,
    }
}

/// Which condition came first decided whether a check was asked afresh.
#[test]
fn what_any_condition_leaves_out_is_asked_afresh() {
    let (valve, drain) = (("valve", "present"), ("drain", "plug"));
    for when in [[valve, drain], [drain, valve]] {
        let mut pad = Pad::start(opening(tank(when)), Settings::default());
        pad.take("present").take("plug").take("present");
        pad.take("missing").take("carry-on").take("fixed");
        // The hose is looked at, and the drain, while the valve is still to be looked at.
        pad.take("present").take("cap");
        pad.take("go-back").take("plug").take("present");
        assert_eq!(value(&pad, "tank/wire"), None, "{when:?}: {:?}", pad.said);
        let open = pad.walk.ledger().open_points();
        assert!(open.iter().any(|o| o.check == id("tank/wire")), "{when:?}");
    }
}

/// The first of two repairs told together opened what a check hangs on, and the second passed over it.
#[test]
fn fixed_at_the_close_opens_all_that_any_of_the_repairs_touches() {
    let settings = Settings {
        brief: true,
        ..Settings::default()
    };
    let route = tank([("valve", "present"), ("drain", "plug")]);
    let mut pad = Pad::start(opening(route), settings);
    pad.take("present").take("plug").take("present");
    pad.take("missing").take("missing").take("fixed");
    assert_eq!(value(&pad, "tank/wire"), None, "{:?}", pad.said);
    for answer in ["present", "plug", "present", "present"] {
        pad.take(answer);
        assert_eq!(value(&pad, "tank/wire"), None, "{:?}", pad.said);
    }
}

/// A wire that applied by its fault alone, was fixed and looked at: when that answer was taken back, nobody asked again.
#[test]
fn what_was_put_right_is_looked_at_again_where_the_look_is_taken_back() {
    let mut route = tank([("valve", "present"), ("drain", "plug")]);
    route.stations[0].checks.truncate(3);
    let mut pad = Pad::start(opening(route), Settings::default());
    pad.take("present").take("plug").take("missing");
    pad.take("carry-on").take("leave");
    // By the cap it does not apply any more, and is still deficient.
    pad.take("go-back").take("go-back").take("cap");
    pad.take("fixed").take("missing").take("correction");
    assert_eq!(value(&pad, "tank/wire"), None, "{:?}", pad.said);
    let open = pad.walk.ledger().open_points();
    let waits = open.iter().any(|o| o.check == id("tank/wire"));
    assert!(waits, "{:?}", pad.said);
}
