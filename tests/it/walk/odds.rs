//! Findings called off that cannot both be so, and commands behind them: what is said against an answer is never lost.

use super::calls::{settings, value};
use super::pad::Pad;
use super::sites::{check, count, generator, id, opening, station};
use loadwalk::plan::{CheckKind, Route};
use loadwalk::walk::{Entry, Settings};

fn pad() -> Pad {
    let mut pad = Pad::start(opening(generator()), settings());
    pad.now += 8_000;
    pad
}

/// A station with these checks alone.
fn net(checks: Vec<loadwalk::plan::Check>) -> Route {
    Route {
        load: "net".to_owned(),
        stations: vec![station("top", "top", "", checks)],
        left_out: Vec::new(),
        outline_m: None,
    }
}

/// Two pins that are answered together, and two counts.
fn pins_and_counts() -> Route {
    let pin = |key: &str, name: &str| {
        let mut pin = check(key, name, "Pin?", CheckKind::Presence { must_be: true });
        pin.together = Some("pins".to_owned());
        pin
    };
    net(vec![
        pin("top/front", "front pin"),
        pin("top/rear", "rear pin"),
        check("top/links", "hook links", "Links?", count(Some(8))),
        check("top/loops", "strap loops", "Loops?", count(Some(3))),
        check("top/cover", "cover", "Cover?", CheckKind::Condition),
    ])
}

/// "Pin missing, no pin present" says the fault twice, or corrects it. "Pin present, no, pin missing" can be read one way
/// only.
#[test]
fn a_fault_is_not_taken_back_by_no_and_its_opposite() {
    let mut pad = pad();
    pad.call(&["pin missing", "filler no", "pin present"]);
    assert_eq!(value(&pad, "front-left/pin"), None, "{}", pad.talk);
    assert_eq!(pad.last(), "Shackle pin?");
    pad.take("present");
    pad.call(&["filler no", "pin missing"]);
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("missing"));
    // "Sorry" and "correction" take back.
    let mut pad = self::pad();
    pad.call(&["pin missing", "filler correction", "pin present"]);
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("present"));
}

#[test]
fn a_number_behind_no_corrects_the_count_told_last() {
    let breaths: [&[&[&str]]; 3] = [
        &[&["links 8"], &["filler no", "count 7"]],
        &[&["cover good", "links 8"], &["filler no", "count 7"]],
        &[&["links 8", "filler no", "count 7"]],
    ];
    for breaths in breaths {
        let mut pad = Pad::start(opening(pins_and_counts()), settings());
        for breath in breaths {
            pad.call(breath);
        }
        assert_eq!(
            value(&pad, "top/links").as_deref(),
            Some("7"),
            "{}",
            pad.talk
        );
        assert_eq!(value(&pad, "top/loops"), None);
    }
}

#[test]
fn what_is_denied_of_several_behind_a_command_is_denied_of_each() {
    for command in ["stand-by", "say-again"] {
        let mut pad = Pad::start(opening(pins_and_counts()), settings());
        pad.call(&["front+rear present"]);
        let said = format!("control {command}");
        pad.call(&[&said, "front+rear missing"]);
        assert_eq!(value(&pad, "top/front"), None, "{command}: {}", pad.talk);
        assert_eq!(value(&pad, "top/rear"), None, "{command}: {}", pad.talk);
        if pad.walk.is_held() {
            pad.take("carry-on");
        }
        // Each is asked before anything more is called, whatever the command told.
        assert_eq!(pad.walk.current(), Some(&id("top/front")), "{}", pad.talk);
        pad.take("present");
        assert_eq!(pad.walk.current(), Some(&id("top/rear")), "{}", pad.talk);
    }
}

#[test]
fn a_command_behind_findings_counts_where_one_more_look_is_asked_for() {
    let checks = (0..8).map(|n| {
        let (key, name) = (format!("top/c{n}"), format!("cover {n}"));
        check(&key, &name, "Cover?", CheckKind::Condition)
    });
    let settings = Settings {
        rhythm_asks: true,
        ..settings()
    };
    let mut pad = Pad::start(opening(net(checks.collect())), settings);
    let mut items: Vec<String> = (0..6).map(|n| format!("c{n} good")).collect();
    items.push("control stand-by".to_owned());
    let items: Vec<&str> = items.iter().map(String::as_str).collect();
    pad.call(&items);
    assert!(
        pad.said.iter().any(|s| s.starts_with("One more look")),
        "{}",
        pad.talk
    );
    assert!(pad.walk.is_held(), "{}", pad.talk);
    let stood_by = |e: &Entry| matches!(e, Entry::Control { control, .. } if control == "stand-by");
    assert!(pad.entries.iter().any(stood_by));
}

/// Of what must be exactly one of two, both were said.
#[test]
fn two_states_of_which_one_must_be_are_asked_about_where_both_are_called() {
    let mut pad = pad();
    pad.call(&["drain plugged", "drain blanked"]);
    assert_eq!(value(&pad, "front-left/drain"), None, "{}", pad.talk);
    assert_eq!(pad.last(), "Fuel drain?");
    let mut pad = self::pad();
    pad.call(&["drain plugged"]);
    pad.call(&["drain blanked"]);
    assert_eq!(value(&pad, "front-left/drain"), None, "{}", pad.talk);
    assert_eq!(pad.last(), "Fuel drain?");
    // Corrected, the last counts.
    for correction in ["filler correction", "filler no"] {
        let mut pad = self::pad();
        pad.call(&["drain plugged"])
            .call(&[correction, "drain blanked"]);
        assert_eq!(
            value(&pad, "front-left/drain").as_deref(),
            Some("blanked"),
            "{}",
            pad.talk
        );
        let mut pad = self::pad();
        pad.call(&["drain plugged", correction, "drain blanked"]);
        assert_eq!(
            value(&pad, "front-left/drain").as_deref(),
            Some("blanked"),
            "{}",
            pad.talk
        );
    }
}

#[test]
fn a_fault_of_what_is_not_asked_is_told() {
    let mut pad = pad();
    pad.call(&["drain plugged", "cap deficient"]);
    let told = |pad: &Pad| {
        let mut said = pad.said.iter();
        said.any(|s| s.starts_with("Blanking cap wire is not asked"))
    };
    assert!(told(&pad), "{}", pad.talk);
    // What is as it should be loses nothing.
    let mut pad = self::pad();
    pad.call(&["drain plugged", "cap good"]);
    assert!(!told(&pad), "{}", pad.talk);
}

#[test]
fn sorry_before_anything_was_answered_is_no_correction() {
    let mut pad = pad();
    pad.call(&["filler correction", "pin missing"]);
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("missing"));
    assert!(!pad.talk.contains("Nothing answered"), "{}", pad.talk);
}

#[test]
fn a_count_is_read_back_by_its_name_where_the_same_things_are_counted_twice() {
    let route = net(vec![
        check("top/front", "front links", "Links?", count(Some(8))),
        check("top/rear", "rear links", "Links?", count(Some(8))),
        check("top/cover", "cover", "Cover?", CheckKind::Condition),
    ]);
    let mut pad = Pad::start(opening(route), settings());
    pad.call(&["rear 7", "filler no", "rear 8", "front 8"]);
    assert_eq!(pad.last(), "Corrected. Rear links, eight.");
}
