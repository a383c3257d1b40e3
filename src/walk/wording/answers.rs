//! How answers and deficiencies are spoken of.

use super::{capital, in_station, place};
use crate::plan::{Check, CheckKind, Station};
use crate::walk::{Outcome, Stage, judge, rules, spoken};

/// A value as words, without the check's name.
pub(in crate::walk) fn value(check: &Check, value: &str) -> String {
    match (&check.kind, value) {
        (_, rules::NOT_APPLICABLE) => "not applicable".to_owned(),
        (_, rules::NOT_SEEN) => "not seen".to_owned(),
        (CheckKind::Count { .. }, v) => v.parse().map_or_else(|_| v.to_owned(), spoken::number),
        (CheckKind::Reading { unit, .. }, v) => {
            format!("{} {}", spoken::signs(v), spoken::unit(unit, v))
        }
        // What must not be there is not missed.
        (CheckKind::Presence { must_be: false }, rules::MISSING) => "not there".to_owned(),
        (CheckKind::Tag { .. }, v) => spoken::signs(v),
        (CheckKind::State { states }, v) => states
            .iter()
            .find(|s| s.key == v)
            .and_then(|s| s.spoken.first())
            .map_or(v, String::as_str)
            .to_owned(),
        (CheckKind::Presence { .. } | CheckKind::Condition, v) => v.to_owned(),
    }
}

/// Whether the station counts the same things at another check too, so that a count needs its name.
fn is_one_of_several(station: &Station, check: &Check) -> bool {
    let counts = |c: &&Check| match (&c.kind, &check.kind) {
        (CheckKind::Count { noun, .. }, CheckKind::Count { noun: other, .. }) => noun == other,
        _ => false,
    };
    station.checks.iter().filter(counts).count() > 1
}

/// The answer as it is read back: always the value, never just "okay".
fn answer(station: &Station, check: &Check, v: &str) -> String {
    let words = value(check, v);
    match &check.kind {
        CheckKind::Count { noun, .. }
            if !judge::is_no_value(v) && !is_one_of_several(station, check) =>
        {
            let n: usize = v.parse().unwrap_or(0);
            // Avoids a wrong singular: "links, one".
            let mut text = if n == 1 {
                format!("{}, one", capital(noun))
            } else {
                format!("{} {noun}", capital(&words))
            };
            if spoken::wants_digits(n) {
                text = format!("{text}, {}", spoken::signs(v));
            }
            text
        }
        CheckKind::Count { .. } if v.parse().is_ok_and(spoken::wants_digits) => {
            format!("{}, {words}, {}", capital(&check.name), spoken::signs(v))
        }
        _ => format!("{}, {words}", capital(&check.name)),
    }
}

/// The read-back of an accepted answer.
pub(in crate::walk) fn read_back(
    station: &Station,
    check: &Check,
    v: &str,
    outcome: &Outcome,
    stage: Stage,
) -> String {
    let stage = match stage {
        Stage::Walk => "",
        Stage::Correction => "Corrected. ",
        Stage::Reinspection => "Again. ",
    };
    match outcome {
        Outcome::Conforming | Outcome::NotApplicable => {
            format!("{stage}{}.", answer(station, check, v))
        }
        Outcome::NotSeen => format!("{stage}{}. Stays open.", answer(station, check, v)),
        Outcome::Deficient { deficiency } => {
            let count = matches!(check.kind, CheckKind::Count { .. });
            let digits = count && v.parse().is_ok_and(spoken::wants_digits);
            // The value itself is always read back; often the deficiency's name says it.
            if deficiency.contains(&value(check, v)) && !digits {
                format!("{stage}Deficient: {deficiency}.")
            } else if matches!(check.kind, CheckKind::Condition) {
                format!("{stage}{} deficient: {deficiency}.", capital(&check.name))
            } else {
                format!(
                    "{stage}{}. Deficient: {deficiency}.",
                    answer(station, check, v)
                )
            }
        }
    }
}

/// The read-back of the last answer when a walk goes on after a break.
pub(in crate::walk) fn last_answer(
    station: &Station,
    check: &Check,
    v: &str,
    outcome: &Outcome,
) -> String {
    match outcome {
        Outcome::Deficient { deficiency } => format!("Last answer, deficient: {deficiency}."),
        _ => format!(
            "Last answer: {}, {}.",
            place(station, check),
            value(check, v)
        ),
    }
}

/// The name of a deficiency, as written down and spoken.
pub(in crate::walk) fn deficiency(station: &Station, check: &Check, v: &str) -> String {
    let named = match &check.deficiency {
        Some(name) => in_station(station, name),
        None => place(station, check),
    };
    let place = named.as_str();
    if judge::is_unnamed_fault(check, v) {
        // The check's own name for its deficiency may be of another fault.
        return format!("{}, deficient", in_station(station, &check.name));
    }
    match &check.kind {
        // A name of its own says all that a word can say.
        CheckKind::Condition | CheckKind::Presence { .. } if check.deficiency.is_some() => named,
        CheckKind::State { states } => {
            let name = states
                .iter()
                .find(|s| s.key == v)
                .and_then(|s| s.deficiency.as_deref());
            match name {
                Some(name) => in_station(station, name),
                None => format!("{place}, {}", value(check, v)),
            }
        }
        // A name of its own lacks only what was found.
        CheckKind::Count { .. } | CheckKind::Tag { .. } if check.deficiency.is_some() => {
            format!("{place}, {}", value(check, v))
        }
        CheckKind::Count { .. } => {
            format!("{place}, {}, not as planned", value(check, v))
        }
        CheckKind::Tag { .. } => format!("{place}, {}, not the tag in the plan", value(check, v)),
        CheckKind::Reading { min, .. } => {
            let low = min.is_some_and(|least| v.parse::<f64>().is_ok_and(|x| x < least));
            let side = if low { "too low" } else { "too high" };
            format!("{place}, {}, {side}", value(check, v))
        }
        CheckKind::Condition => format!("{place}, deficient"),
        CheckKind::Presence { .. } => format!("{place}, {v}"),
    }
}

/// The name of a deficiency between two checks.
pub(in crate::walk) fn differs(
    at: (&Station, &Check),
    with: (&Station, &Check),
    mirrored: bool,
) -> String {
    // States name their own deficiencies, so a name beside them is the comparison's.
    if let (CheckKind::State { .. }, Some(name)) = (&at.1.kind, &at.1.deficiency) {
        return in_station(at.0, name);
    }
    let relation = if mirrored {
        "not the mirror of"
    } else {
        "not like"
    };
    format!(
        "{}, {relation} {}",
        place(at.0, at.1),
        place(with.0, with.1)
    )
}

/// A deficiency that an answer brought about at another check.
pub(in crate::walk) fn also_deficient(deficiency: &str) -> String {
    format!("Deficient: {deficiency}.")
}

/// A count that only conforms by agreeing with one that will not come.
pub(in crate::walk) fn nothing_to_compare(at: (&Station, &Check)) -> String {
    format!("{}, nothing to compare it with", place(at.0, at.1))
}

/// A deficiency of a check that would not be asked by another answer.
pub(in crate::walk) fn still_deficient(deficiency: &str) -> String {
    format!("Still deficient: {deficiency}.")
}

/// Said before a walk ends ready in which notes on its checks were taken: they may tell of what no answer does.
pub(in crate::walk) fn notes_taken(notes: usize) -> String {
    match notes {
        1 => "One note was taken. Go through it before you sign.".to_owned(),
        n => format!(
            "{} notes were taken. Go through them before you sign.",
            capital(&spoken::number(n))
        ),
    }
}

/// Said behind a breath that held more than was heard.
pub(in crate::walk) const MORE_WAS_SAID: &str =
    "More was said than I understood. Only what I read back is taken.";

/// Where it is asked which answer was wrong: this one has none.
pub(in crate::walk) fn no_answer_yet(place: &str) -> String {
    format!("{} has no answer yet.", capital(place))
}

/// Said of a check called not applicable that was found deficient earlier.
pub(in crate::walk) const FOUND_BEFORE: &str = "found deficient before";

/// Asked to leave out what was put right, or was heard to be deficient in a review, and not looked at since.
pub(in crate::walk) fn look_first(in_review: bool) -> String {
    let was = match in_review {
        true => "It was heard to be deficient in a review.",
        false => "It was deficient and is said to be put right.",
    };
    format!("{was} Look at it again, and say how it is.")
}

/// What a wrong count does to the lift.
pub(in crate::walk) fn as_found(effect: &str) -> String {
    format!("As found, {effect}.")
}

/// A question about an item that was called and not asked.
pub(in crate::walk) fn of_item(name: &str, question: &str) -> String {
    format!("{}. {question}", capital(name))
}

/// One item of what was called off, as it is read back with others. Where a name says all that can have
/// been heard, it stands alone. A count needs its name where the station has others of the same things.
pub(in crate::walk) fn taken_item(station: &Station, check: &Check, v: &str) -> String {
    let value = value(check, v);
    let alone = !is_one_of_several(station, check);
    let good = |n: &crate::plan::NamedState| n.deficiency.is_none();
    match &check.kind {
        _ if judge::is_no_value(v) => format!("{} {value}", check.name),
        CheckKind::Count { noun, .. } => {
            let n: usize = v.parse().unwrap_or(0);
            let text = if alone && n == 1 {
                format!("{noun} {value}")
            } else if alone {
                format!("{value} {noun}")
            } else {
                format!("{} {value}", check.name)
            };
            if spoken::wants_digits(n) {
                format!("{text}, {}", spoken::signs(v))
            } else {
                text
            }
        }
        CheckKind::State { states } if states.iter().filter(|s| good(s)).count() > 1 => {
            format!("{} {value}", check.name)
        }
        CheckKind::Reading { .. } | CheckKind::Tag { .. } => format!("{} {value}", check.name),
        CheckKind::State { .. } | CheckKind::Presence { .. } | CheckKind::Condition => {
            check.name.clone()
        }
    }
}

/// An item with what was found, as it is asked about with others.
pub(in crate::walk) fn item(check: &Check, v: &str) -> String {
    format!("{} {}", check.name, value(check, v))
}

/// Most items that are read back by name, where fewer are left out.
const NAMED_MAX: usize = 5;

/// What was called off, read back together: one item each as [`taken_item`] has it, in the order called. `open`:
/// names of what the station still lacks, where all else there is among the items. The shorter list is spoken;
/// values are heard in either.
pub(in crate::walk) fn taken(items: &[(&Check, String)], open: Option<&[&str]>) -> String {
    let list = |parts: &[&str]| capital(&parts.join(", "));
    let spoken: Vec<&str> = items.iter().map(|(_, item)| item.as_str()).collect();
    let Some(open) = open.filter(|o| items.len() > NAMED_MAX && 2 * o.len() < items.len()) else {
        return format!("{}: taken.", list(&spoken));
    };
    let all = if open.is_empty() {
        format!("All {}: taken.", spoken::number(items.len()))
    } else {
        format!("All but {}: taken.", open.join(", "))
    };
    let values = items.iter().filter(|(check, item)| check.name != *item);
    let values: Vec<&str> = values.map(|(_, item)| item.as_str()).collect();
    if values.is_empty() {
        all
    } else {
        format!("{all} {}.", list(&values))
    }
}

/// Asks whether several doubted findings were all meant.
pub(in crate::walk) fn did_you_say_all(items: &[String], refused: u32) -> String {
    let items = items.join(", ");
    match refused {
        0 => format!("Did you say {items}?"),
        _ => format!("Say yes if all of it is so, or no: {items}."),
    }
}

/// Asks whether a doubted answer was meant.
pub(in crate::walk) fn did_you_say(check: &Check, v: &str, refused: u32) -> String {
    let meant = match &check.kind {
        CheckKind::Count { noun, .. } if !judge::is_no_value(v) => {
            let digits: usize = v.parse().unwrap_or(0);
            if spoken::wants_digits(digits) {
                format!("{} {noun}, {}", value(check, v), spoken::signs(v))
            } else if digits == 1 {
                format!("{noun}, {}", value(check, v))
            } else {
                format!("{} {noun}", value(check, v))
            }
        }
        _ => value(check, v),
    };
    let unnamed = judge::is_unnamed_fault(check, v);
    match (v, refused) {
        (_, 0) if unnamed => format!("{}: not as it should be?", capital(&check.name)),
        (_, _) if unnamed => format!("Say yes if {} is deficient, or no.", check.name),
        (rules::NOT_APPLICABLE, 0) => {
            format!("{} not applicable. Is that right?", capital(&check.name))
        }
        (_, 0) => format!("Did you say {meant}?"),
        _ => format!("Say yes or no: {meant}."),
    }
}
