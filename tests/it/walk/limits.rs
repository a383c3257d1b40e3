//! What is only half heard, comes too late or no longer applies: each changes nothing that counts.

use super::calls::{settings, value};
use super::dialogue::{all_good, pad};
use super::pad::{Pad, hearing};
use super::sites::{check, generator, id, opening, station};
use loadwalk::plan::{CheckKind, Condition, Test};
use loadwalk::walk::{
    Advice, Decision, Ending, Entry, Event, Ledger, Meaning, Outcome, Pattern, Practice, Settings,
    Tryout, Unfit, Walk, rules,
};

#[test]
fn half_heard_a_yes_or_a_command_closes_and_ends_nothing() {
    let mut closing = pad();
    all_good(&mut closing);
    for word in ["yes", "end-walk"] {
        closing.doubt(word);
        assert_eq!(closing.walk.ledger().completed(), None, "{word}");
    }
    for word in ["yes", "end-walk"] {
        let mut ending = pad();
        ending.take("present").take("end-walk").doubt(word);
        assert_eq!(ending.ended, None, "{word}");
    }
}

#[test]
fn half_heard_carry_on_leaves_no_deficiency_and_keeps_no_answer() {
    let mut deficient = pad();
    deficient.take("missing").note("gone");
    assert_eq!(deficient.last(), "Fixed, or leave it open?");
    deficient.doubt("carry-on");
    assert!(
        deficient.last().starts_with("Say fixed"),
        "{}",
        deficient.talk
    );
    let mut back = pad();
    back.take("present").take("go-back").doubt("carry-on");
    assert_eq!(back.walk.current(), Some(&id("front-left/pin")));
}

#[test]
fn a_hold_ends_by_a_clear_word_and_leaves_no_doubt_behind() {
    let mut held = pad();
    held.take("stand-by").doubt("carry-on");
    assert!(held.walk.is_held());
    let lost = || Event::Hold {
        why: "headset lost".to_owned(),
    };
    let stand_by = |pad: &mut Pad| {
        pad.take("stand-by").take("carry-on");
    };
    let headset = |pad: &mut Pad| {
        pad.send(lost());
        pad.send(Event::Cleared);
    };
    let microphone = |pad: &mut Pad| {
        let what = "the microphone is now another".to_owned();
        pad.send(Event::Replaced { what });
        pad.take("carry-on");
    };
    for hold in [&stand_by as &dyn Fn(&mut Pad), &headset, &microphone] {
        let mut doubting = pad();
        doubting.doubt("present");
        assert!(
            doubting.last().contains("Did you say"),
            "{}",
            doubting.last()
        );
        hold(&mut doubting);
        assert_eq!(doubting.last(), "Shackle pin?", "asked from the start");
    }
    // A device that is back does not end what was said.
    held.send(lost());
    held.send(Event::Cleared);
    assert!(held.walk.is_held());
}

fn advised(advice: Advice) -> Tryout {
    serde_json::from_value(serde_json::json!({
        "wall": "2026-07-01T12:00:00+02:00[Europe/Zurich]", "inspector": "Ida Rast",
        "microphone": "headset", "advice": serde_json::to_value(advice).expect("JSON"),
        "reasons": ["noise"], "words": 12, "taken": 5, "confirmed": 3, "refused": 4,
        "misheard": 0, "unheard": 0, "speech_dbfs": null, "noise_dbfs": null,
        "snr_db": null, "clipped": 0.0,
    }))
    .expect("a tryout")
}

#[test]
fn where_either_tryout_wants_care_nothing_conforms_at_once() {
    for (before, since) in [
        (Some(Advice::ConfirmMore), None),
        (None, Some(Advice::ConfirmMore)),
        (Some(Advice::RelyOnVoice), Some(Advice::ConfirmMore)),
        (Some(Advice::NoVoice), Some(Advice::RelyOnVoice)),
    ] {
        let mut opening = opening(generator());
        opening.tryout = before.map(advised);
        let settings = Settings {
            advice: since,
            ..Settings::default()
        };
        let mut pad = Pad::start(opening, settings);
        pad.take("present");
        assert_eq!(value(&pad, "front-left/pin"), None, "{before:?} {since:?}");
        assert!(pad.last().contains("Did you say"), "{}", pad.last());
        pad.take("yes");
        assert_eq!(value(&pad, "front-left/pin").as_deref(), Some("present"));
    }
}

#[test]
fn a_complete_walk_takes_no_entry_that_changes_it() {
    let mut pad = pad();
    all_good(&mut pad);
    pad.take("yes");
    assert_eq!(pad.ended, Some(Ending::Ready));
    let ledger = || Ledger::of(&pad.entries).expect("it follows");
    let is_answer = |e: &&Entry| matches!(e, Entry::Answered { .. });
    let answered = pad.entries.iter().find(is_answer).expect("an answer");
    let completed = pad.entries.last().expect("the end");
    let meaning = Meaning {
        rule: "control".to_owned(),
        value: "correction".to_owned(),
    };
    let correction = Entry::Control {
        control: "correction".to_owned(),
        check: Some(id("front-left/pin")),
        hearing: hearing(Decision::Take { meaning }),
        deficiency: None,
    };
    let check = || Some(id("front-left/pin"));
    let sent_back = match &correction {
        Entry::Control { hearing, .. } => Entry::Control {
            control: rules::SENT_BACK.to_owned(),
            check: check(),
            hearing: hearing.clone(),
            deficiency: Some("pin missing".to_owned()),
        },
        other => other.clone(),
    };
    let beside = [
        sent_back,
        Entry::Asked {
            check: id("front-left/pin"),
            attempt: 1,
        },
        Entry::Calling {
            station: "front-left".to_owned(),
            which: false,
        },
        Entry::Rhythm {
            checks: Vec::new(),
            pattern: Pattern::Fast,
            again: None,
        },
        Entry::PutRight {
            check: id("front-left/pin"),
            again: Vec::new(),
            hearing: hearing(Decision::Refuse {
                reason: String::new(),
            }),
        },
        Entry::Resumed { check: check() },
    ];
    for entry in [answered, completed, &correction]
        .into_iter()
        .chain(&beside)
    {
        assert_eq!(ledger().apply(entry), Err(Unfit::Complete), "{entry:?}");
    }
    // What a hold over the last words writes.
    let mut ledger = ledger();
    for entry in [
        Entry::Held {
            why: "headset lost".to_owned(),
            check: None,
        },
        Entry::Carried { check: None },
    ] {
        assert_eq!(ledger.apply(&entry), Ok(()), "{entry:?}");
    }
    assert_eq!(ledger.completed(), Some(true));
}

#[test]
fn a_practice_walk_and_an_empty_journal_are_never_ready() {
    assert!(!Ledger::default().ready().ready);
    let mut opening = opening(generator());
    opening.practice = Some(Practice::default());
    let mut pad = Pad::start(opening, Settings::default());
    all_good(&mut pad);
    pad.take("yes");
    assert_eq!(pad.ended, Some(Ending::NotReady), "{}", pad.talk);
    assert!(!pad.walk.ledger().ready().ready);
}

#[test]
fn what_is_put_right_has_its_neighbours_asked_again() {
    let mut pad = pad();
    pad.take("missing").note("gone").take("leave").take("13");
    pad.take("go-back").take("go-back").take("missing");
    pad.note("gone").take("fixed").take("present");
    let touched = id("front-left/links");
    assert_eq!(pad.walk.current(), Some(&touched), "{}", pad.talk);
}

/// A strap that is there only with the lid, and a tag that is there only with the strap.
fn chain() -> Pad {
    let presence = |key: &str, name: &str, on: Option<&str>| {
        let kind = CheckKind::Presence { must_be: true };
        let mut check = check(key, name, &format!("{name}?"), kind);
        check.when.extend(on.map(|on| Condition {
            check: id(on),
            test: Test::Is(vec!["present".to_owned()]),
        }));
        check
    };
    let checks = vec![
        presence("box/lid", "lid", None),
        presence("box/strap", "strap", Some("box/lid")),
        presence("box/tag", "tag", Some("box/strap")),
    ];
    let mut route = generator();
    route.stations = vec![station("box", "box", "", checks)];
    Pad::start(opening(route), Settings::default())
}

#[test]
fn what_no_longer_applies_counts_for_nothing_that_hangs_on_it() {
    let mut pad = chain();
    pad.take("present").take("present").take("present");
    pad.take("go-back").take("go-back").take("go-back");
    pad.take("missing");
    let ledger = pad.walk.ledger();
    for check in ["box/strap", "box/tag"] {
        assert!(!ledger.applies(&id(check)), "{check}");
        assert_eq!(ledger.outcome(&id(check)), None, "{check}");
    }
    // Not applicable is no value that a condition holds on.
    let mut pad = chain();
    pad.take("not-applicable").take("yes");
    assert!(!pad.walk.ledger().applies(&id("box/strap")));
}

#[test]
fn good_words_that_were_half_heard_together_are_denied_together() {
    let mut pad = Pad::start(opening(generator()), settings());
    pad.now += 8_000;
    pad.call(&["pin ?present", "drain ?plugged", "links 13"]);
    pad.take("no");
    let outcome = pad.walk.ledger().outcome(&id("front-left/pin"));
    assert_ne!(outcome, Some(Outcome::Conforming));
}

#[test]
fn a_journal_of_another_format_or_with_two_checks_of_one_name_is_refused() {
    let opened = pad().entries[0].clone();
    let mut newer = opened.clone();
    if let Entry::Opened { format, .. } = &mut newer {
        *format += 1;
    }
    assert!(matches!(Ledger::of(&[newer]), Err((0, Unfit::Format(_)))));
    let mut route = generator();
    let twice = route.stations[0].checks[0].clone();
    route.stations[1].checks.push(twice);
    let mut doubled = opened;
    if let Entry::Opened { route: of, .. } = &mut doubled {
        **of = route.clone();
    }
    assert!(matches!(Ledger::of(&[doubled]), Err((0, Unfit::Twice(_)))));
    assert!(Walk::new(opening(route), Settings::default()).is_err());
}
