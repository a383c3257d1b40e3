//! A practice walk: an instructor plants faults on a load, a learner walks round it, and what was found of them
//! is told. It vouches for nothing. Pure.

use super::ledger::{Answer, Ledger};
use crate::plan::{Check, CheckId, CheckKind, Relation, Route, Station, limits, tag_signs};
use crate::walk::{Outcome, Stage, judge, rules, wording};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What makes a walk one of practice.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Practice {
    /// What was planted: the check, with the value that is found there by whoever looks.
    pub planted: BTreeMap<CheckId, String>,
}

/// What became of a planted fault when its check was first answered, corrections included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Called as it is.
    Found,
    /// Called deficient, but as something else ("seven links" of eight where five belong).
    FoundOtherwise,
    /// Called conforming or not applicable, or deficient only as it differs from another fault that was called otherwise: it would
    /// have flown.
    Missed,
    /// Missed, and called deficient only after a review had sent the answer back: by the learner alone it would have flown.
    MissedUntilReview,
    /// Never asked, since another answer left its check out: it would have flown.
    LeftOut,
    /// Called not seen: it stands open, and nobody vouched for it.
    NotSeen,
    /// No answer stands.
    Open,
}

impl Verdict {
    /// Whether the fault was called deficient, by whatever name.
    pub fn is_found(self) -> bool {
        matches!(self, Self::Found | Self::FoundOtherwise)
    }

    /// Whether it would have flown by what the learner said unasked.
    pub fn is_missed(self) -> bool {
        matches!(self, Self::Missed | Self::MissedUntilReview | Self::LeftOut)
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Found => "found",
            Self::FoundOtherwise => "found, called otherwise",
            Self::Missed => "missed",
            Self::MissedUntilReview => "missed, found once a review sent it back",
            Self::LeftOut => "missed, left out by another answer",
            Self::NotSeen => "not seen",
            Self::Open => "open",
        }
    }
}

/// A planted fault with what the learner made of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlantedFault {
    /// Its check.
    pub check: CheckId,
    /// Station and check, as spoken.
    pub place: String,
    /// The deficiency as the walk would name it.
    pub deficiency: String,
    /// The value planted.
    pub planted: String,
    /// What became of it.
    pub verdict: Verdict,
    /// The values answered, in order, before anything was put right or sent back by a review.
    pub answered: Vec<String>,
    /// The numbers of their entries.
    pub entries: Vec<u64>,
}

/// A check called deficient where nothing was planted: a false alarm, or a fault of which nobody knew.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Unplanted {
    /// The check.
    pub check: CheckId,
    /// The deficiency as the walk named it.
    pub deficiency: String,
    /// The value answered.
    pub answered: String,
}

/// What a value planted at a check is: the deficiency's name. `None` where it is no answer to the check, is no
/// value, or conforms by itself where it does not only have to agree with another check's.
pub fn planted_deficiency(station: &Station, check: &Check, value: &str) -> Option<String> {
    match judge::judge(station, check, value)? {
        Outcome::Deficient { deficiency } => Some(deficiency),
        Outcome::Conforming if judge::only_compared(check) => Some(format!(
            "{}, does not agree",
            wording::place(station, check)
        )),
        _ => None,
    }
}

/// The check, with the value found there, with which a planted value agrees though agreement is all that is asked of it: so
/// planted it is no fault. What is found there is what is planted, else what the plan wants. `None` where it is a fault, and
/// where the plan does not say what is there.
pub fn agrees_with(route: &Route, practice: &Practice, id: &CheckId) -> Option<(CheckId, String)> {
    let check = route.checks().find(|c| c.id == *id)?;
    let compare = check.compare.as_ref();
    let compare = compare.filter(|_| judge::only_compared(check))?;
    let value = practice.planted.get(id)?;
    let other = found_there(route, practice, &compare.with)?;
    judge::agrees(&compare.relation, value, &other).then(|| (compare.with.clone(), other))
}

/// The value that whoever looks finds at a check, as far as the plan and what is planted say.
fn found_there(route: &Route, practice: &Practice, id: &CheckId) -> Option<String> {
    if let Some(planted) = practice.planted.get(id) {
        return Some(planted.clone());
    }
    let at = route.checks().position(|c| c.id == *id)?;
    let check = route.checks().nth(at)?;
    let planned = match &check.kind {
        CheckKind::Presence { must_be: true } => Some(rules::PRESENT.to_owned()),
        CheckKind::Presence { must_be: false } => Some(rules::MISSING.to_owned()),
        CheckKind::Condition => Some(rules::GOOD.to_owned()),
        CheckKind::Count { expected, .. } => expected.map(|n| n.to_string()),
        CheckKind::Tag { expected } => expected.as_deref().and_then(tag_signs),
        CheckKind::State { states } => {
            let mut good = states.iter().filter(|s| s.deficiency.is_none());
            let first = good.next().map(|s| s.key.clone());
            first.filter(|_| good.next().is_none())
        }
        CheckKind::Reading { .. } => None,
    };
    let alike = || {
        let compare = check.compare.as_ref()?;
        // A route not from a plan may compare with what comes later, and in a circle.
        let is_earlier = route.checks().take(at).any(|c| c.id == compare.with);
        (is_earlier && compare.relation == Relation::Alike)
            .then(|| found_there(route, practice, &compare.with))?
    };
    planned.or_else(alike)
}

/// The checks at which a fault can be drawn, each with the values that can be planted there; in walking order. Checks on a
/// condition, readings, tags and counts that are only compared are left to whoever writes the faults down by hand.
pub fn plantable(route: &Route) -> Vec<(&Station, &Check, Vec<String>)> {
    let of = |check: &Check| -> Vec<String> {
        match &check.kind {
            CheckKind::Presence { .. } => {
                vec![rules::PRESENT.to_owned(), rules::MISSING.to_owned()]
            }
            CheckKind::Condition => vec![rules::DEFICIENT.to_owned()],
            CheckKind::State { states } if states.iter().any(|s| s.deficiency.is_some()) => {
                states.iter().map(|s| s.key.clone()).collect()
            }
            CheckKind::Count {
                expected: Some(n), ..
            } => (n.saturating_sub(COUNT_OFF)..=(n + COUNT_OFF).min(limits::COUNT))
                .filter(|off| off != n)
                .map(|off| off.to_string())
                .collect(),
            CheckKind::State { .. }
            | CheckKind::Count { expected: None, .. }
            | CheckKind::Reading { .. }
            | CheckKind::Tag { .. } => Vec::new(),
        }
    };
    let stations = route.stations.iter();
    let all = stations.flat_map(|station| station.checks.iter().map(move |c| (station, c)));
    all.filter(|(_, check)| check.when.is_empty())
        .filter_map(|(station, check)| {
            let values: Vec<String> = of(check)
                .into_iter()
                .filter(|value| planted_deficiency(station, check, value).is_some())
                .collect();
            (!values.is_empty()).then_some((station, check, values))
        })
        .collect()
}

/// Most by which a drawn count is off.
const COUNT_OFF: u32 = 3;

impl Ledger {
    /// What makes this a practice walk; `None` for an inspection.
    pub fn practice(&self) -> Option<&Practice> {
        self.opening()?.practice.as_ref()
    }

    /// The planted faults in walking order, each with what the learner made of it; none of an inspection.
    pub fn planted_faults(&self) -> Vec<PlantedFault> {
        let Some(practice) = self.practice() else {
            return Vec::new();
        };
        let checks = self.route().checks();
        let planted = checks.filter_map(|c| Some((c, practice.planted.get(&c.id)?)));
        planted
            .filter_map(|(check, value)| {
                let (station, _) = self.locate(&check.id)?;
                let first = self.first_round(&check.id);
                Some(PlantedFault {
                    check: check.id.clone(),
                    place: wording::place(station, check),
                    deficiency: planted_deficiency(station, check, value)
                        .unwrap_or_else(|| wording::place(station, check)),
                    planted: value.clone(),
                    verdict: self.verdict(station, check, value, first),
                    answered: first.iter().map(|a| a.value.clone()).collect(),
                    entries: first.iter().map(|a| a.entry).collect(),
                })
            })
            .collect()
    }

    /// What was called deficient and was not planted, in walking order; none of an inspection. A comparison with a
    /// check at which something was planted follows from that, and one with a check that has no value tells nothing.
    pub fn unplanted(&self) -> Vec<Unplanted> {
        let Some(practice) = self.practice() else {
            return Vec::new();
        };
        let is_planted = |id: &CheckId| practice.planted.contains_key(id);
        let checks = self.route().checks();
        checks
            .filter(|c| !is_planted(&c.id))
            .filter_map(|check| {
                let last = self.first_round(&check.id).last()?;
                let Outcome::Deficient { deficiency } = &last.outcome else {
                    return None;
                };
                let (station, _) = self.locate(&check.id)?;
                let by_itself = is_wrong_by_itself(station, check, &last.value);
                // Of two that differ the one called deficient by itself is told.
                let is_called = |id: &CheckId| {
                    let last = self.first_round(id).last();
                    last.is_some_and(|a| matches!(a.outcome, Outcome::Deficient { .. }))
                };
                let compared = check.compare.as_ref().map(|c| &c.with);
                let follows = !by_itself
                    && compared.is_some_and(|with| {
                        is_planted(with) || is_called(with) || self.first_value(with).is_none()
                    });
                (!follows).then(|| Unplanted {
                    check: check.id.clone(),
                    deficiency: deficiency.clone(),
                    answered: last.value.clone(),
                })
            })
            .collect()
    }

    /// The answers to a check before it or what it touches was put right, and before a review sent one of them back: what a
    /// learner says after that is not found unasked.
    fn first_round(&self, check: &CheckId) -> &[Answer] {
        let all = self.history(check);
        if self.came_in_by_review(check) {
            return &[];
        }
        let again = |a: &Answer| a.stage == Stage::Reinspection;
        // What is put right may touch a check that was not asked yet.
        let after = all.iter().skip(1).position(again);
        &all[..after.map_or(all.len(), |at| at + 1)]
    }

    /// The value answered last in the first round; `None` where there was none, or an answer without a value.
    fn first_value(&self, check: &CheckId) -> Option<&str> {
        value(self.first_round(check).last()?)
    }

    /// Whether the check was asked only since a review sent back the answer that left it out.
    fn came_in_by_review(&self, id: &CheckId) -> bool {
        let Some(first) = self.history(id).first() else {
            return false;
        };
        let Some((_, check)) = self.locate(id) else {
            return false;
        };
        check.when.iter().any(|condition| {
            let on = self.history(&condition.check);
            self.sent_back(&condition.check).iter().any(|&at| {
                // The answer that was sent back, and the one given then.
                let before = at.checked_sub(1).and_then(|before| on.get(before));
                let (Some(before), Some(then)) = (before, on.get(at)) else {
                    return false;
                };
                then.entry < first.entry && !judge::holds(&condition.test, value(before))
            })
        })
    }

    /// Whether what is planted was called deficient once a review had sent the check, or what left it out, back.
    fn is_found_in_review(&self, station: &Station, check: &Check, planted: &str) -> bool {
        let from = match self.sent_back(&check.id).first() {
            _ if self.came_in_by_review(&check.id) => 0,
            Some(&at) => at,
            None => return false,
        };
        let is_found = |a: &Answer| {
            matches!(a.outcome, Outcome::Deficient { .. })
                && (a.value == planted || is_wrong_by_itself(station, check, &a.value))
        };
        self.history(&check.id).iter().skip(from).any(is_found)
    }

    /// Whether a check that was called deficient and only has to agree with another one was held against what is there: the
    /// other one has an answer with a value, and where something is planted there, that.
    fn is_unlike(&self, check: &Check) -> bool {
        let compare = check.compare.as_ref();
        let Some(compare) = compare.filter(|_| judge::only_compared(check)) else {
            return false;
        };
        let planted = self.practice().and_then(|p| p.planted.get(&compare.with));
        let answered = self.first_value(&compare.with);
        answered.is_some_and(|value| planted.is_none_or(|planted| planted == value))
    }

    fn verdict(
        &self,
        station: &Station,
        check: &Check,
        planted: &str,
        first: &[Answer],
    ) -> Verdict {
        let id = &check.id;
        let missed = match self.is_found_in_review(station, check, planted) {
            true => Verdict::MissedUntilReview,
            false => Verdict::Missed,
        };
        let Some(last) = first.last() else {
            return match (self.applies(id), missed) {
                (_, Verdict::MissedUntilReview) => missed,
                _ if self.came_in_by_review(id) => Verdict::LeftOut,
                (true, _) => Verdict::Open,
                (false, _) => Verdict::LeftOut,
            };
        };
        let is_latest = first.len() == self.history(id).len();
        let taken_back = is_latest && self.standing(id).is_none() && !self.is_put_right(id);
        match &last.outcome {
            _ if taken_back && self.applies(id) => Verdict::Open,
            Outcome::Deficient { .. } if last.value == planted => Verdict::Found,
            // That a comparison fails is not what was planted here, unless nothing else is asked of it.
            Outcome::Deficient { .. }
                if is_wrong_by_itself(station, check, &last.value) || self.is_unlike(check) =>
            {
                Verdict::FoundOtherwise
            }
            Outcome::Deficient { .. } | Outcome::Conforming | Outcome::NotApplicable => missed,
            Outcome::NotSeen => Verdict::NotSeen,
        }
    }
}

/// The value of an answer; `None` for not applicable and not seen.
fn value(answer: &Answer) -> Option<&str> {
    (!judge::is_no_value(&answer.value)).then_some(answer.value.as_str())
}

/// Whether a value is deficient whatever any other check was answered.
fn is_wrong_by_itself(station: &Station, check: &Check, value: &str) -> bool {
    matches!(
        judge::judge(station, check, value),
        Some(Outcome::Deficient { .. })
    )
}
