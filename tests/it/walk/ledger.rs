//! What a journal may say, and what an answer makes of a check.

use super::pad::hearing;
use super::sites::{check, count, generator, id, opening, state};
use loadwalk::plan::{Check, CheckKind, Relation, Test};
use loadwalk::walk::{
    Decision, Entry, Heard, Hearing, JOURNAL_FORMAT, Ledger, Meaning, OpenError, Outcome,
    RestoreError, Settings, Stage, Unfit, Walk, agrees, answer, holds, judge,
};

fn opened() -> Entry {
    let opening = opening(generator());
    Entry::Opened {
        format: JOURNAL_FORMAT,
        inspector: opening.inspector,
        rigger: opening.rigger,
        plan_sha256: opening.plan_sha256,
        route: Box::new(opening.route),
        left_out: Vec::new(),
        capacity: opening.capacity,
        tryout: opening.tryout.map(Box::new),
        rigger_marks: opening.rigger_marks,
        practice: opening.practice,
        pace: None,
    }
}

fn meaning(rule: &str, value: &str) -> Meaning {
    Meaning {
        rule: rule.to_owned(),
        value: value.to_owned(),
    }
}

fn taken(rule: &str, value: &str) -> Hearing {
    let meaning = meaning(rule, value);
    hearing(Decision::Take { meaning })
}

fn doubted(rule: &str, value: &str) -> Hearing {
    let meaning = meaning(rule, value);
    hearing(Decision::Confirm { meaning })
}

fn answered(value: &str, outcome: Outcome, first: Hearing, second: Option<Hearing>) -> Entry {
    Entry::Answered {
        check: id("front-left/pin"),
        value: value.to_owned(),
        outcome,
        stage: Stage::Walk,
        heard: Heard {
            hearing: first,
            confirmed_by: second,
        },
    }
}

#[test]
fn an_answer_that_its_evidence_does_not_bear_is_not_counted() {
    let refused = hearing(Decision::Refuse {
        reason: "too quiet".to_owned(),
    });
    let conforming = || Outcome::Conforming;
    let unfit = [
        answered("present", conforming(), refused, None),
        answered(
            "present",
            conforming(),
            doubted("presence", "present"),
            None,
        ),
        answered(
            "present",
            conforming(),
            doubted("presence", "present"),
            Some(doubted("yes-no", "yes")),
        ),
        answered("present", conforming(), taken("presence", "missing"), None),
        // Heard and written alike, but it does not conform.
        answered("missing", conforming(), taken("presence", "missing"), None),
        answered(
            "not-applicable",
            Outcome::NotApplicable,
            taken("control", "not-applicable"),
            None,
        ),
    ];
    for entry in unfit {
        let mut ledger = Ledger::of(&[opened()]).expect("opened");
        let before = ledger.clone();
        assert!(
            matches!(ledger.apply(&entry), Err(Unfit::NotBorne { .. })),
            "{entry:?}"
        );
        assert_eq!(ledger, before, "an unfit entry changes nothing");
    }
    let mut ledger = Ledger::of(&[opened()]).expect("opened");
    let fit = answered("present", conforming(), taken("presence", "present"), None);
    assert_eq!(ledger.apply(&fit), Ok(()));
}

#[test]
fn a_journal_that_does_not_follow_is_refused_with_the_entry() {
    let restore = |entries: &[Entry]| Walk::restore(entries, Settings::default()).map(|_| ());
    assert_eq!(restore(&[]), Err(RestoreError::Empty));
    let carried = Entry::Carried { check: None };
    let unfit = |entry, unfit| Err(RestoreError::Unfit { entry, unfit });
    assert_eq!(
        restore(std::slice::from_ref(&carried)),
        unfit(0, Unfit::NotOpened)
    );
    assert_eq!(
        restore(&[opened(), carried, opened()]),
        unfit(2, Unfit::OpenedTwice)
    );
    let ready = Entry::Completed {
        ready: true,
        against: Vec::new(),
    };
    assert_eq!(restore(&[opened(), ready]), unfit(1, Unfit::NotReady));
    let elsewhere = Entry::Asked {
        check: id("tail/boom"),
        attempt: 1,
    };
    let no_such = Unfit::NoSuchCheck(id("tail/boom"));
    assert_eq!(restore(&[opened(), elsewhere]), unfit(1, no_such));
}

#[test]
fn a_route_that_looks_ahead_is_refused() {
    let mut route = generator();
    route.stations[0].checks[0].when = vec![loadwalk::plan::Condition {
        check: id("front-left/links"),
        test: Test::AtLeast(1.0),
    }];
    let refused = Walk::new(opening(route), Settings::default()).map(|_| ());
    let not_earlier = OpenError::NotEarlier {
        check: id("front-left/pin"),
        other: id("front-left/links"),
    };
    assert_eq!(refused, Err(not_earlier));
}

/// Whether the value, spoken under the rule, is an answer that conforms.
fn conforms(kind: CheckKind, rule: &str, value: &str) -> Option<bool> {
    let check = check("a/b", "part", "Part?", kind);
    let station = generator().stations.remove(0);
    let value = answer(&check, &meaning(rule, value))?;
    judge(&station, &check, &value).map(|outcome| outcome == Outcome::Conforming)
}

#[test]
fn each_kind_judges_its_own_answers_only() {
    let reading = || CheckKind::Reading {
        unit: "bar".to_owned(),
        min: Some(2.0),
        max: Some(2.5),
    };
    let tag = || CheckKind::Tag {
        expected: Some("m-47".to_owned()),
    };
    let states = || CheckKind::State {
        states: vec![state("in", "in", None), state("out", "out", Some("is out"))],
    };
    let must_not = || CheckKind::Presence { must_be: false };
    for (kind, rule, value, wanted) in [
        (must_not(), "presence", "missing", Some(true)),
        (must_not(), "presence", "present", Some(false)),
        (must_not(), "condition", "good", None),
        (count(Some(7)), "count", "7", Some(true)),
        (count(Some(7)), "count", "07", Some(true)),
        (count(Some(7)), "count", "70", Some(false)),
        (count(None), "count", "121", None),
        (count(None), "count", "-1", None),
        (reading(), "reading", "2", Some(true)),
        (reading(), "reading", "2.50", Some(true)),
        (reading(), "reading", "2.51", Some(false)),
        (reading(), "reading", "NaN", None),
        (reading(), "reading", "inf", None),
        (tag(), "tag", "M47", Some(true)),
        (tag(), "tag", "m 4 7", Some(true)),
        (tag(), "tag", "m\u{2013}4_7", Some(true)),
        (tag(), "tag", "N47", Some(false)),
        (tag(), "tag", "", None),
        (states(), "state", "in", Some(true)),
        (states(), "state", "out", Some(false)),
        (states(), "state", "up", None),
        (CheckKind::Condition, "condition", "good", Some(true)),
        (CheckKind::Condition, "yes-no", "yes", None),
        (CheckKind::Condition, "control", "carry-on", None),
        (CheckKind::Condition, "control", "not-seen", Some(false)),
    ] {
        let shown = format!("{kind:?} {rule} {value}");
        assert_eq!(conforms(kind, rule, value), wanted, "{shown}");
    }
    // A limit that is no number lets nothing pass.
    let broken = CheckKind::Reading {
        unit: "bar".to_owned(),
        min: Some(f64::NAN),
        max: None,
    };
    assert_eq!(conforms(broken, "reading", "2"), Some(false));
}

#[test]
fn comparisons_and_conditions_follow_the_route_s_words() {
    let mirrored = Relation::Mirrored(vec![["left".to_owned(), "right".to_owned()]]);
    for (relation, a, b, wanted) in [
        (&Relation::Alike, "7", "7.0", true),
        (&Relation::Alike, "7", "8", false),
        // Tags, not numbers.
        (&Relation::Alike, "7E1", "70", false),
        (&Relation::Alike, "007", "7", false),
        (&mirrored, "left", "right", true),
        (&mirrored, "right", "left", true),
        (&mirrored, "left", "left", false),
        // A meaning in no pair mirrors itself.
        (&mirrored, "up", "up", true),
        (&mirrored, "up", "left", false),
    ] {
        assert_eq!(agrees(relation, a, b), wanted, "{relation:?} {a} {b}");
    }
    let is = Test::Is(vec!["single".to_owned()]);
    let is_not = Test::IsNot(vec!["single".to_owned()]);
    for (test, value, wanted) in [
        (&is, Some("single"), true),
        (&is, Some("pair"), false),
        (&is, None, false),
        (&is_not, Some("single"), false),
        (&is_not, None, true),
        (&Test::AtLeast(2.0), Some("2"), true),
        (&Test::AtLeast(2.0), None, false),
        (&Test::AtMost(2.0), Some("2.1"), false),
        (&Test::AtMost(2.0), Some("pair"), false),
    ] {
        assert_eq!(holds(test, value), wanted, "{test:?} {value:?}");
    }
}

#[test]
fn a_named_deficiency_is_spoken_with_its_station_and_the_value() {
    let mut pin: Check = generator().stations[0].checks[0].clone();
    pin.deficiency = Some("pin not moused".to_owned());
    let station = &generator().stations[0];
    let deficient = judge(station, &pin, "missing");
    let deficiency = "front left corner, pin not moused".to_owned();
    assert_eq!(deficient, Some(Outcome::Deficient { deficiency }));
}
