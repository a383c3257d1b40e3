//! What an answer makes of a check: pure functions of the check and the answer.

use crate::grammar::NEGATED;
use crate::plan::{Check, CheckKind, Relation, Station, Test, limits, tag_signs};
use crate::walk::{Decision, Heard, Hearing, Meaning, Outcome, rules, wording};

/// The grammar rule that answers a check of this kind.
pub fn answer_rule(kind: &CheckKind) -> &'static str {
    match kind {
        CheckKind::Presence { .. } => rules::PRESENCE,
        CheckKind::Count { .. } => rules::COUNT,
        CheckKind::State { .. } => rules::STATE,
        CheckKind::Reading { .. } => rules::READING,
        CheckKind::Tag { .. } => rules::TAG,
        CheckKind::Condition => rules::CONDITION,
    }
}

/// The spoken forms of a check's own states, for the rule `state`: (key, forms); empty for every
/// other kind.
pub fn state_forms(kind: &CheckKind) -> Vec<(String, Vec<String>)> {
    match kind {
        CheckKind::State { states } => states
            .iter()
            .map(|s| (s.key.clone(), s.spoken.clone()))
            .collect(),
        _ => Vec::new(),
    }
}

/// What may follow a number that answers a check: what is counted, in the plural, or a reading's unit; `None` for every
/// other kind.
pub fn noun(kind: &CheckKind) -> Option<&str> {
    match kind {
        CheckKind::Count { noun, .. } => Some(noun),
        CheckKind::Reading { unit, .. } => Some(unit),
        _ => None,
    }
}

/// The answer that a meaning gives to a check, in the one form that is written down; `None` where
/// it is no answer to it. A state that was denied, or a fault that the plan does not name, is deficient.
pub fn answer(check: &Check, meaning: &Meaning) -> Option<String> {
    let value = meaning.value.as_str();
    if meaning.rule == rules::CONTROL {
        return is_no_value(value).then(|| value.to_owned());
    }
    if meaning.rule != answer_rule(&check.kind) {
        return None;
    }
    match &check.kind {
        CheckKind::Presence { .. } => {
            matches!(value, rules::PRESENT | rules::MISSING | rules::DEFICIENT)
                .then(|| value.to_owned())
        }
        CheckKind::Condition => match value {
            rules::GOOD => Some(rules::GOOD.to_owned()),
            // A fault that sounds like another word ("cut").
            NEGATED | rules::DEFICIENT => Some(rules::DEFICIENT.to_owned()),
            _ => None,
        },
        CheckKind::State { states } => {
            let named = states.iter().any(|s| s.key == value);
            match value {
                _ if named => Some(value.to_owned()),
                NEGATED | rules::DEFICIENT => Some(rules::DEFICIENT.to_owned()),
                _ => None,
            }
        }
        CheckKind::Count { .. } => {
            let n: u32 = value.parse().ok()?;
            (n <= limits::COUNT).then(|| n.to_string())
        }
        CheckKind::Reading { .. } => {
            let x: f64 = value.parse().ok()?;
            // Adding zero turns -0 into 0.
            x.is_finite().then(|| (x + 0.0).to_string())
        }
        CheckKind::Tag { .. } => tag_signs(value),
    }
}

/// Whether a value says that the thing is not as it should be in a way that its check has no name for.
pub fn is_unnamed_fault(check: &Check, value: &str) -> bool {
    value == rules::DEFICIENT
        && match &check.kind {
            CheckKind::Presence { .. } => true,
            CheckKind::State { states } => states.iter().all(|s| s.key != value),
            _ => false,
        }
}

/// Whether this is an answer without a value: not applicable or not seen.
pub fn is_no_value(value: &str) -> bool {
    matches!(value, rules::NOT_APPLICABLE | rules::NOT_SEEN)
}

/// What the value alone makes of the check; comparisons with other checks come on top.
/// A value that [`answer`] would not give makes it `None`.
pub fn judge(station: &Station, check: &Check, value: &str) -> Option<Outcome> {
    match value {
        rules::NOT_APPLICABLE => return Some(Outcome::NotApplicable),
        rules::NOT_SEEN => return Some(Outcome::NotSeen),
        _ => {}
    }
    // The meaning is rebuilt so that a journal's value passes the same gate as a spoken one.
    let meaning = Meaning {
        rule: answer_rule(&check.kind).to_owned(),
        value: value.to_owned(),
    };
    if answer(check, &meaning)? != value {
        return None;
    }
    let conforms = match &check.kind {
        CheckKind::Presence { must_be } => {
            value != rules::DEFICIENT && (value == rules::PRESENT) == *must_be
        }
        CheckKind::Condition => value == rules::GOOD,
        CheckKind::State { states } => states
            .iter()
            .any(|s| s.key == value && s.deficiency.is_none()),
        CheckKind::Count { expected, .. } => {
            expected.is_none_or(|n| value.parse::<u32>().is_ok_and(|v| v == n))
        }
        CheckKind::Reading { min, max, .. } => {
            let x: f64 = value.parse().ok()?;
            // Written so that a limit that is not a number never lets a reading pass.
            min.is_none_or(|least| x >= least) && max.is_none_or(|most| x <= most)
        }
        CheckKind::Tag { expected } => expected
            .as_deref()
            .is_none_or(|e| tag_signs(e).is_some_and(|e| e == value)),
    };
    Some(if conforms {
        Outcome::Conforming
    } else {
        Outcome::Deficient {
            deficiency: wording::deficiency(station, check, value),
        }
    })
}

/// A number as counts and readings are written; a tag of digits ("007", "7E1") is none.
fn number(text: &str) -> Option<f64> {
    let plain = text
        .bytes()
        .all(|b| b.is_ascii_digit() || b".-".contains(&b));
    let led = text.len() > 1 && text.starts_with('0') && !text.starts_with("0.");
    (plain && !led).then(|| text.parse().ok())?
}

/// Whether the check has nothing of its own to agree with, and conforms by the check alone with which it is compared.
pub(super) fn only_compared(check: &Check) -> bool {
    check.compare.is_some()
        && match &check.kind {
            CheckKind::Count { expected, .. } => expected.is_none(),
            CheckKind::State { states } => states.iter().all(|s| s.deficiency.is_none()),
            CheckKind::Tag { expected } => expected.is_none(),
            CheckKind::Reading { min, max, .. } => min.is_none() && max.is_none(),
            CheckKind::Presence { .. } | CheckKind::Condition => false,
        }
}

/// Whether two answers agree as asked. Numbers are compared as numbers.
pub fn agrees(relation: &Relation, value: &str, other: &str) -> bool {
    let same = |a: &str, b: &str| match (number(a), number(b)) {
        (Some(a), Some(b)) => a == b,
        _ => a == b,
    };
    match relation {
        Relation::Alike => same(value, other),
        Relation::Mirrored(pairs) => {
            let mut paired = pairs.iter().filter_map(|[a, b]| {
                if same(a, other) {
                    Some(b)
                } else if same(b, other) {
                    Some(a)
                } else {
                    None
                }
            });
            match paired.next() {
                Some(mirror) => same(mirror, value),
                None => same(other, value),
            }
        }
    }
}

/// Whether a condition's test holds on an earlier answer (`None`: no answer with a value).
pub fn holds(test: &Test, value: Option<&str>) -> bool {
    test.holds(value)
}

/// Whether what was heard bears the answer: taken outright, or doubted and then confirmed by a
/// taken yes or by the same answer heard again. `not-applicable` always needs the second hearing.
pub fn bears(check: &Check, value: &str, heard: &Heard) -> bool {
    let said = |h: &Hearing| match &h.decision {
        Decision::Take { meaning } | Decision::Confirm { meaning } => {
            answer(check, meaning).is_some_and(|v| v == value)
        }
        Decision::Refuse { .. } => false,
    };
    if !said(&heard.hearing) {
        return false;
    }
    match &heard.confirmed_by {
        Some(second) => taken_yes(second) || said(second),
        None => {
            matches!(heard.hearing.decision, Decision::Take { .. })
                && value != rules::NOT_APPLICABLE
        }
    }
}

/// Whether this is a yes that was taken, not merely guessed.
pub fn taken_yes(hearing: &Hearing) -> bool {
    matches!(&hearing.decision, Decision::Take { meaning }
        if meaning.rule == rules::YES_NO && meaning.value == rules::YES)
}
