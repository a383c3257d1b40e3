//! Findings called off: what is taken, what stops the flow, what is asked.

use super::pad::Pad;
use super::sites::{check, generator, id, opening, station};
use loadwalk::plan::{CheckId, CheckKind, Route};
use loadwalk::walk::{CalledAt, Ending, Entry, Outcome, Pattern, Settings, Walk};

pub(super) fn settings() -> Settings {
    Settings {
        called: CalledAt::Everywhere,
        ..Settings::default()
    }
}

fn pad() -> Pad {
    let mut pad = Pad::start(opening(generator()), settings());
    assert_eq!(pad.last(), "Your findings.");
    look(&mut pad);
    pad
}

/// The inspector takes time to look.
fn look(pad: &mut Pad) {
    pad.now += 8_000;
}

pub(super) fn value(pad: &Pad, check: &str) -> Option<String> {
    let answer = pad.walk.ledger().standing(&id(check));
    answer.map(|a| a.value.clone())
}

fn asked(pad: &Pad) -> Option<&CheckId> {
    pad.walk.current()
}

#[test]
fn what_was_called_is_read_back_together_and_the_rest_is_asked() {
    let mut pad = pad();
    assert!(
        !pad.talk.to_lowercase().contains("thirteen"),
        "{}",
        pad.talk
    );
    pad.call(&["links 13"]).call(&["pin present"]);
    assert_eq!(asked(&pad), None, "the inspector goes on");
    pad.silence();
    let said = pad.said[pad.said.len() - 2..].join(" | ");
    assert_eq!(
        said,
        "Thirteen links, one three, shackle pin: taken. | Fuel drain?"
    );
    pad.take("plugged");
    assert!(
        pad.said
            .contains(&"Rear left corner. Hand on the chain.".to_owned())
    );
    assert_eq!(pad.last(), "Your findings.");
    look(&mut pad);
    pad.call(&["tyre 2.2", "links 7", "pin present", "control done"]);
    let said = pad.said[pad.said.len() - 2..].join(" | ");
    assert!(
        said.starts_with("Tyre two point two bar, seven links, shackle pin: taken."),
        "{said}"
    );
    pad.take("yes");
    assert_eq!(pad.ended, Some(Ending::Ready));
}

#[test]
fn a_deficiency_is_read_back_singly_and_stops_the_flow() {
    let mut pad = pad();
    pad.call(&["pin missing", "links 13"]);
    assert!(
        pad.said.iter().any(|s| s.contains("Deficient:")),
        "{}",
        pad.talk
    );
    assert!(!pad.talk.contains(": taken."), "{}", pad.talk);
    pad.note("it lies in the grass").take("leave");
    assert_eq!(pad.last(), "Go on.");
    look(&mut pad);
    pad.call(&["drain plugged"]);
    assert!(
        pad.talk
            .contains("Thirteen links, one three, fuel drain plugged: taken."),
        "{}",
        pad.talk
    );
    assert_eq!(pad.last(), "Your findings.");
    // It is not undone in passing: the good word that follows is asked about.
    let mut pad = self::pad();
    pad.call(&["pin missing"]).note("gone").take("leave");
    look(&mut pad);
    pad.call(&["pin present"]);
    assert_eq!(pad.last(), "Shackle pin. Did you say present?");
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("missing"));
}

#[test]
fn a_doubtful_deficiency_stops_the_flow_and_a_doubtful_good_word_waits() {
    let mut pad = pad();
    pad.call(&["drain ?plugged", "pin ?missing"]);
    assert_eq!(pad.last(), "Shackle pin. Did you say missing?");
    pad.take("yes").note("gone").take("leave");
    assert_eq!(pad.last(), "Go on.");
    assert_eq!(
        value(&pad, "front-left/drain"),
        None,
        "a doubt is no answer"
    );
    // Nothing is left to be called then, so nothing is waited for.
    look(&mut pad);
    pad.call(&["links 13"]);
    assert_eq!(pad.last(), "Fuel drain. Did you say plugged?");
    pad.take("no");
    assert_eq!(value(&pad, "front-left/drain"), None);
    assert_eq!(asked(&pad), Some(&id("front-left/drain")));
}

#[test]
fn a_state_that_is_denied_is_asked_at_once() {
    let mut pad = pad();
    pad.call(&["drain ~not", "pin present"]);
    assert_eq!(pad.last(), "Fuel drain?");
    assert_eq!(value(&pad, "front-left/drain"), None);
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("present"));
}

#[test]
fn what_is_refused_or_not_applicable_is_not_taken() {
    let mut pad = pad();
    pad.call(&[
        "pin !unclear",
        "drain not-applicable",
        "links 13",
        "pin not-seen",
    ]);
    assert_eq!(value(&pad, "front-left/drain"), None);
    assert_eq!(
        pad.walk.ledger().outcome(&id("front-left/pin")),
        Some(Outcome::NotSeen)
    );
    pad.silence();
    assert!(
        pad.talk
            .contains("Thirteen links, one three, shackle pin not seen: taken."),
        "{}",
        pad.talk
    );
    assert_eq!(
        pad.last(),
        "Fuel drain. Fuel drain not applicable. Is that right?"
    );
    // Nothing at all is heard: the station is told how to go on.
    let mut pad = self::pad();
    pad.call(&[]);
    assert!(pad.last().starts_with("Not clear."), "{}", pad.last());
    pad.call(&["pin !unclear"]);
    let told = &pad.said[pad.said.len() - 2];
    assert!(told.starts_with("Not clear."), "{told}");
}

#[test]
fn the_last_word_of_a_breath_counts_and_is_read_back_as_a_correction() {
    let mut pad = pad();
    pad.call(&["links 7", "filler correction", "links 13"]);
    assert_eq!(pad.last(), "Corrected. Thirteen links, one three.");
    assert_eq!(value(&pad, "front-left/links").as_deref(), Some("13"));
    assert_eq!(asked(&pad), None, "and the inspector goes on");
    // Taken back and not said anew, it is open.
    pad.call(&["pin present", "filler correction"]);
    assert_eq!(value(&pad, "front-left/pin"), None);
    // Both said and neither taken back: the good one alone is not believed, and the check is asked at once.
    pad.call(&["pin missing", "pin present"]);
    assert_eq!(value(&pad, "front-left/pin"), None);
    assert_eq!(pad.last(), "Shackle pin?");
}

#[test]
fn a_number_alone_belongs_to_the_only_open_count() {
    let mut pad = pad();
    pad.call(&["count 13"]);
    assert_eq!(value(&pad, "front-left/links").as_deref(), Some("13"));
    pad.call(&["pin present", "count 5"]);
    assert_eq!(
        value(&pad, "front-left/links").as_deref(),
        Some("13"),
        "no count is open"
    );
    let links = |key: &str, name: &str| check(key, name, "How many?", super::sites::count(Some(3)));
    let route = Route {
        load: "net".to_owned(),
        stations: vec![station(
            "top",
            "top",
            "",
            vec![links("top/a", "hooks"), links("top/b", "loops")],
        )],
        left_out: Vec::new(),
        outline_m: None,
    };
    let mut pad = Pad::start(opening(route), settings());
    pad.call(&["count 3"]);
    assert_eq!((value(&pad, "top/a"), value(&pad, "top/b")), (None, None));
    // Right behind a count it may be said to that one again; another number opens it.
    pad.call(&["a 3", "count 3"]);
    assert_eq!(value(&pad, "top/a").as_deref(), Some("3"));
    assert_eq!(value(&pad, "top/b"), None);
    pad.call(&["a 3", "count 4"]);
    assert_eq!((value(&pad, "top/a"), value(&pad, "top/b")), (None, None));
    let mut pad = Pad::start(
        pad.walk.ledger().opening().expect("opened").clone(),
        settings(),
    );
    pad.call(&["a 3"]).call(&["count 3"]);
    assert_eq!(value(&pad, "top/b").as_deref(), Some("3"));
}

#[test]
fn a_wrong_item_is_corrected_by_naming_it_or_by_saying_correction() {
    let mut pad = pad();
    pad.call(&["pin present", "links 13"]).call(&["name links"]);
    assert_eq!(value(&pad, "front-left/links"), None);
    assert_eq!(pad.last(), "Hook links, how many?");
    pad.take("13").call(&["drain plugged"]);
    assert_eq!(pad.last(), "Your findings.");
    // The station is behind, and several were read back together.
    pad.take("correction");
    assert_eq!(pad.last(), "Correction at front left corner. Which item?");
    pad.silence().silence();
    assert!(pad.walk.is_held(), "until it is told, nothing goes on");
    pad.take("carry-on").call(&["drain blanked"]);
    assert!(
        pad.talk.contains("Corrected. Fuel drain, blanked."),
        "{}",
        pad.talk
    );
    assert_eq!(value(&pad, "front-left/drain").as_deref(), Some("blanked"));
    // The answer brings another check of that station.
    pad.silence();
    assert_eq!(asked(&pad), Some(&id("front-left/cap")));
}

/// The answer heard last is not the one that is meant: at the station before any may be wrong, and none of this one is told.
#[test]
fn a_correction_at_a_station_just_begun_asks_which_item_of_the_one_before() {
    for finding in ["pin missing", "links 7"] {
        let mut pad = pad();
        pad.call(&["pin present", "drain plugged"]).silence();
        assert_eq!(asked(&pad), Some(&id("front-left/links")));
        pad.take("13");
        assert_eq!(pad.last(), "Your findings.");
        pad.call(&["filler correction", finding]);
        assert_eq!(pad.last(), "Correction at front left corner. Which item?");
        pad.call(&["pin missing"]);
        assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("missing"));
        assert_eq!(value(&pad, "front-left/links").as_deref(), Some("13"));
        let rear = ["rear-left/pin", "rear-left/links"].map(|check| value(&pad, check));
        assert_eq!(rear, [None, None], "{finding}");
    }
}

#[test]
fn silence_answers_nothing_and_leaves_no_station() {
    let mut pad = pad();
    pad.silence();
    assert_eq!(pad.last(), "Shackle pin?");
    pad.silence().silence();
    assert!(pad.walk.is_held());
    assert_eq!(pad.walk.ledger().open_points().len(), 6);
}

#[test]
fn two_unclear_breaths_in_a_row_and_the_rest_is_asked() {
    let mut pad = pad();
    pad.call(&["links !unclear"]);
    assert_eq!(
        pad.last(),
        "Not clear. Say item and finding, or station done."
    );
    pad.call(&["links 13"]).call(&["pin !unclear"]);
    assert_eq!(asked(&pad), None, "a clear one was between them");
    pad.call(&[]);
    let said = pad.said[pad.said.len() - 3..].join(" | ");
    assert_eq!(
        said,
        "Not clear. I ask what is left. | Thirteen links, one three: taken. | Shackle pin?"
    );
    assert_eq!(value(&pad, "front-left/pin"), None);
    pad.take("present").take("plugged");
    assert_eq!(
        pad.last(),
        "Your findings.",
        "the next station is called again"
    );
}

#[test]
fn led_and_called_are_switched_by_voice() {
    let mut pad = Pad::start(opening(generator()), Settings::default());
    assert_eq!(pad.last(), "Shackle pin?");
    pad.take("call-off");
    assert_eq!(pad.last(), "Go on.");
    look(&mut pad);
    pad.call(&["links 13", "control led"]);
    assert_eq!(pad.last(), "Shackle pin?");
    pad.take("present").take("plugged");
    assert_eq!(pad.last(), "Shackle pin?", "the next station is led too");
    let at = CalledAt::Stations(["rear-left".to_owned()].into());
    let settings = Settings {
        called: at,
        ..Settings::default()
    };
    let mut pad = Pad::start(opening(generator()), settings);
    pad.take("present").take("13").take("plugged");
    assert_eq!(pad.last(), "Your findings.");
}

#[test]
fn a_command_in_a_breath_is_obeyed_and_what_follows_it_does_not_count() {
    let mut pad = pad();
    pad.call(&["pin present", "control stand-by", "links 13"]);
    assert!(pad.walk.is_held());
    assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("present"));
    assert_eq!(value(&pad, "front-left/links"), None);
    assert_eq!(
        pad.last(),
        "Standing by at front left corner. Say carry on."
    );
    pad.take("carry-on");
    assert_eq!(pad.last(), "Go on.");
    pad.call(&["control ?done", "links 13"]);
    assert_eq!(
        value(&pad, "front-left/links").as_deref(),
        Some("13"),
        "a doubtful command drops nothing"
    );
    assert_eq!(asked(&pad), None);
}

#[test]
fn a_walk_broken_off_among_calls_reads_back_what_it_took() {
    let mut pad = pad();
    pad.call(&["pin present", "links 13"]);
    let walk = Walk::restore(&pad.entries, settings()).expect("its own journal");
    let mut pad = Pad::with(walk);
    assert_eq!(asked(&pad), None);
    pad.silence();
    assert!(
        pad.talk
            .contains("Shackle pin, thirteen links, one three: taken."),
        "{}",
        pad.talk
    );
    assert_eq!(pad.last(), "Fuel drain?");
}

#[test]
fn items_that_belong_together_are_answered_by_one_word() {
    let lug = |key: &str, name: &str| check(key, name, "Sound?", CheckKind::Condition);
    let route = Route {
        load: "net".to_owned(),
        stations: vec![station(
            "top",
            "top",
            "",
            vec![lug("top/l", "left lug"), lug("top/r", "right lug")],
        )],
        left_out: Vec::new(),
        outline_m: None,
    };
    let mut pad = Pad::start(opening(route), settings());
    look(&mut pad);
    pad.call(&["l+r good"]);
    assert_eq!(value(&pad, "top/l").as_deref(), Some("good"));
    assert_eq!(value(&pad, "top/r").as_deref(), Some("good"));
    assert!(
        pad.talk.contains("Left lug, right lug: taken."),
        "{}",
        pad.talk
    );
}

pub fn lugs(n: usize) -> Route {
    let names = ["a", "b", "c", "d", "e", "f", "g"];
    let checks = names.iter().take(n);
    let checks = checks.map(|k| {
        check(
            &format!("top/{k}"),
            &format!("lug {k}"),
            "Sound?",
            CheckKind::Condition,
        )
    });
    Route {
        load: "net".to_owned(),
        stations: vec![station("top", "top", "", checks.collect())],
        left_out: Vec::new(),
        outline_m: None,
    }
}

/// Where nearly all of a long station was taken, what is left is shorter to say; numbers are always heard.
#[test]
fn the_shorter_of_what_was_taken_and_what_is_left_is_read_back() {
    let with_links = || {
        let mut route = lugs(7);
        let links = check(
            "top/links",
            "links",
            "How many?",
            super::sites::count(Some(4)),
        );
        route.stations[0].checks.push(links);
        route
    };
    let all = ["a", "b", "c", "d", "e", "f", "g"].map(|k| format!("{k} good"));
    let calls = |n: usize| all[..n].iter().map(String::as_str);
    let read_back = |said: Vec<&str>| {
        let mut pad = Pad::start(opening(with_links()), settings());
        look(&mut pad);
        pad.call(&said).silence();
        let back = pad.said.iter().find(|s| s.contains(": taken."));
        back.cloned().expect("it is read back")
    };
    let links = "links 4";
    let whole: Vec<&str> = calls(7).chain([links]).collect();
    assert_eq!(read_back(whole), "All eight: taken. Four links.");
    let most: Vec<&str> = calls(5).chain([links]).collect();
    assert_eq!(read_back(most), "All but lug f, lug g: taken. Four links.");
    assert_eq!(
        read_back(calls(6).collect()),
        "All but lug g, links: taken."
    );
    let half: Vec<&str> = calls(3).chain([links]).collect();
    assert_eq!(read_back(half), "Lug a, lug b, lug c, four links: taken.");
    // A deficiency was read back by itself, so that not all that has an answer is among these.
    let mut pad = Pad::start(opening(with_links()), settings());
    look(&mut pad);
    pad.call(&["g deficient"]).note("a crack").take("leave");
    look(&mut pad);
    pad.call(&calls(6).collect::<Vec<_>>()).silence();
    let named = "Lug a, lug b, lug c, lug d, lug e, lug f: taken.";
    assert!(pad.said.iter().any(|s| s == named), "{}", pad.talk);
}

fn rhythms(pad: &Pad) -> Vec<(Pattern, Option<CheckId>)> {
    let found = pad.entries.iter().filter_map(|e| match e {
        Entry::Rhythm { pattern, again, .. } => Some((*pattern, again.clone())),
        _ => None,
    });
    found.collect()
}

#[test]
fn a_rhythm_in_which_nobody_looks_is_written_down() {
    let all = ["a good", "b good", "c good", "d good", "e good"];
    let mut pad = Pad::start(opening(lugs(7)), settings());
    pad.now += 1_000;
    pad.call(&all);
    assert_eq!(rhythms(&pad), [(Pattern::Fast, None)]);
    // At a pace in which one can look there is nothing to say of five; of six alike there is.
    let mut pad = Pad::start(opening(lugs(7)), settings());
    look(&mut pad);
    pad.call(&all);
    assert_eq!(rhythms(&pad), []);
    look(&mut pad);
    pad.call(&["f good"]);
    assert_eq!(rhythms(&pad), [(Pattern::Chant, None)]);
    // A fault among them breaks the chant, and typed words have no rhythm.
    let mut pad = Pad::start(opening(lugs(7)), settings());
    pad.call_with(&all, "");
    assert_eq!(rhythms(&pad), []);
    let mut pad = Pad::start(opening(lugs(7)), Settings::default());
    for _ in 0..7 {
        look(&mut pad);
        pad.take("good");
    }
    assert_eq!(
        rhythms(&pad),
        [(Pattern::Chant, None)],
        "the led walk is watched too"
    );
}

#[test]
fn one_item_is_asked_again_where_that_is_set() {
    let settings = Settings {
        rhythm_asks: true,
        ..settings()
    };
    let mut pad = Pad::start(opening(lugs(6)), settings.clone());
    pad.now += 500;
    pad.call(&["a good", "b good", "c good", "d good", "e good", "f good"]);
    let [(Pattern::Fast, Some(again))] = &rhythms(&pad)[..] else {
        panic!("{:?}", rhythms(&pad));
    };
    assert!(pad.talk.contains("One more look, please."), "{}", pad.talk);
    assert_eq!(
        pad.walk.ledger().standing(again),
        None,
        "its answer no longer stands"
    );
    assert_eq!(asked(&pad), Some(again));
    let restored = Walk::restore(&pad.entries, settings).expect("its own journal");
    assert_eq!(restored.ledger().standing(again), None);
    pad.take("deficient");
    let outcome = pad.walk.ledger().outcome(again);
    assert!(matches!(outcome, Some(Outcome::Deficient { .. })));
}

/// A second look at the station before, told after the tool went on: it is not understood here, and how to tell it is said.
#[test]
fn what_is_not_clear_at_a_station_just_begun_may_be_about_the_one_before() {
    let mut pad = pad();
    pad.call(&["links 13", "pin present", "drain plugged"]);
    assert_eq!(pad.last(), "Your findings.");
    pad.call(&[]);
    assert_eq!(
        pad.last(),
        "Not clear. Rear left corner: say item and finding, or station done. To change front left corner, say correction."
    );
    look(&mut pad);
    pad.call(&["links 7"]).call(&[]);
    assert_eq!(
        pad.last(),
        "Not clear. Say item and finding, or station done."
    );
}
