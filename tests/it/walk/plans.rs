//! The walk against its neighbours: the plans that come with loadwalk, and the grammars.

use super::pad::Pad;
use super::sites::opening;
use super::yard::good;
use loadwalk::grammar::{GrammarSet, NEGATED};
use loadwalk::plan::{Check, CheckKind, Relation, Route, read};
use loadwalk::walk::{Ending, Ledger, Settings, rules};
use std::collections::BTreeSet;
use std::path::Path;

fn routes() -> Vec<Route> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("plans");
    let files = std::fs::read_dir(folder).expect("the plans are there");
    let paths = files.map(|f| f.expect("a file").path());
    let plans = paths.filter(|p| p.extension().is_some_and(|e| e == "toml"));
    let routes: Vec<Route> = plans
        .map(|path| {
            let text = std::fs::read_to_string(&path).expect("a plan is text");
            let plan = read(&path, &text).unwrap_or_else(|faults| panic!("{faults}"));
            plan.route().clone()
        })
        .collect();
    assert!(routes.len() >= 3);
    routes
}

/// Answers every check as `answer` says, until the close.
fn walk(route: &Route, answer: impl Fn(&Ledger, &Check) -> Option<String>) -> Pad {
    let settings = Settings {
        brief: true,
        ..Settings::default()
    };
    let mut pad = Pad::start(opening(route.clone()), settings);
    for _ in 0..=route.checks().count() {
        let Some(check) = pad.walk.current().and_then(|c| route.check(c)) else {
            break;
        };
        let value = answer(pad.walk.ledger(), check).unwrap_or_else(|| rules::NOT_SEEN.to_owned());
        pad.take(&value);
    }
    pad.take("yes");
    pad
}

/// The answer of a rig without fault: the mirror of the other side where that is asked for.
fn faultless(ledger: &Ledger, check: &Check) -> Option<String> {
    let compare = check.compare.as_ref();
    let mirror = compare.and_then(|compare| {
        let Relation::Mirrored(pairs) = &compare.relation else {
            return None;
        };
        let other = &ledger.standing(&compare.with)?.value;
        let pair = pairs.iter().find(|pair| pair.contains(other))?;
        pair.iter().find(|side| *side != other).cloned()
    });
    Some(mirror.unwrap_or_else(|| good(check)))
}

#[test]
fn every_plan_can_be_walked_to_ready() {
    for route in routes() {
        let pad = walk(&route, faultless);
        assert_eq!(pad.ended, Some(Ending::Ready), "{}", pad.talk);
    }
}

/// Some answer that does not conform, where the check has one.
fn bad(check: &Check) -> Option<String> {
    match &check.kind {
        CheckKind::Presence { must_be } => {
            Some(if *must_be { "missing" } else { "present" }.into())
        }
        CheckKind::Condition => Some("deficient".to_owned()),
        CheckKind::Count { expected, .. } => expected.map(|n| (n + 1).to_string()),
        CheckKind::State { states } => {
            let bad = states.iter().find(|s| s.deficiency.is_some());
            bad.map(|s| s.key.clone())
        }
        CheckKind::Reading { min, max, .. } => {
            let below = min.map(|least| least - 1.0);
            below.or(max.map(|most| most + 1.0)).map(|x| x.to_string())
        }
        CheckKind::Tag { expected } => expected.as_ref().map(|_| "ZZ9".to_owned()),
    }
}

#[test]
fn every_fault_of_every_plan_is_found_and_read_out() {
    for route in routes() {
        let pad = walk(&route, |_, check| bad(check));
        assert_eq!(pad.ended, Some(Ending::NotReady));
        let ledger = pad.walk.ledger();
        let found: BTreeSet<_> = ledger.deficiencies().into_iter().map(|d| d.check).collect();
        for check in route
            .checks()
            .filter(|c| ledger.applies(&c.id) && bad(c).is_some())
        {
            assert!(found.contains(&check.id), "{} was not found", check.id);
        }
        for deficiency in ledger.deficiencies() {
            let name = deficiency.name.to_lowercase();
            let read = pad.said.iter().filter(|s| s.to_lowercase().contains(&name));
            assert!(read.count() >= 2, "{name} is read back and read out");
        }
    }
}

#[test]
fn the_grammars_know_every_rule_that_is_listened_with() {
    let set = GrammarSet::builtin();
    let known: BTreeSet<&str> = set.rules().collect();
    for rule in [
        rules::CONTROL,
        rules::YES_NO,
        rules::FIXING,
        rules::PRESENCE,
        rules::COUNT,
        rules::READING,
        rules::TAG,
        rules::CONDITION,
    ] {
        assert!(known.contains(rule), "{rule} is not among {known:?}");
    }
}

/// The walk obeys what the grammar understands, and the grammar understands what the walk tells
/// people to say.
#[test]
fn the_grammars_and_the_walk_use_the_same_values() {
    let set = GrammarSet::builtin();
    let values = |rule: &str| -> BTreeSet<String> {
        let graph = set.graph(&[rule], &[]).expect("a rule");
        let phrases = graph.phrases(1_000);
        let meanings = phrases.into_iter().flat_map(|p| p.meanings);
        meanings.map(|m| m.value).collect()
    };
    let set_of = |all: &[&str]| all.iter().map(|&s| s.to_owned()).collect::<BTreeSet<_>>();
    assert_eq!(values(rules::CONTROL), set_of(&super::pad::CONTROLS));
    assert_eq!(values(rules::YES_NO), set_of(&[rules::YES, rules::NO]));
    assert_eq!(values(rules::FIXING), set_of(&[rules::FIXED, rules::LEAVE]));
    assert_eq!(
        values(rules::PRESENCE),
        // A denial of "missing" has no value.
        set_of(&[rules::PRESENT, rules::MISSING, rules::DEFICIENT, NEGATED])
    );
    assert_eq!(
        values(rules::CONDITION),
        // A fault that sounds like another word is asked back.
        set_of(&[rules::GOOD, rules::DEFICIENT, NEGATED])
    );
    for (rule, words) in [
        (rules::CONTROL, "carry on"),
        (rules::CONTROL, "go back"),
        (rules::CONTROL, "stand by"),
        (rules::CONTROL, "correction"),
        (rules::FIXING, "fixed"),
        (rules::FIXING, "leave it open"),
        (rules::PRESENCE, "present"),
        (rules::PRESENCE, "missing"),
        (rules::CONDITION, "good"),
        (rules::CONDITION, "deficient"),
        (rules::YES_NO, "yes"),
        (rules::YES_NO, "no"),
    ] {
        let graph = set.graph(&[rule], &[]).expect("a rule");
        assert!(!graph.match_words(words).is_empty(), "{words}");
    }
}
