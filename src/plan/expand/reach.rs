//! Whether any answers of a walk bring a check up: one that none brings up is never asked, and nobody misses it.

use super::lookup::{Lookup, full_id};
use super::{FilledWhen, Pending};
use crate::plan::read::Findings;
use crate::plan::{CheckId, CheckKind, Condition, Test, limits};
use std::collections::{BTreeMap, HashSet};

/// A condition, and the check that it stands at; `None` is the check at hand.
type Needed<'a> = (Option<&'a CheckId>, &'a Condition);

/// By what a check meets all that is asked of its answer.
#[derive(Debug, PartialEq)]
pub(super) enum Met {
    Answer,
    /// Only by what has no name of its own in the plan: not applicable, not seen, deficient otherwise.
    Other,
    Nothing,
}

impl Lookup<'_> {
    /// All conditions must hold; tells where no answer makes them.
    pub fn check_together(&self, r: &mut Findings, pending: &Pending, conditions: &[Condition]) {
        let mut by_check: BTreeMap<&CheckId, Vec<Needed<'_>>> = BTreeMap::new();
        for needed in self.needed(conditions) {
            by_check.entry(&needed.1.check).or_default().push(needed);
        }
        for (check, needed) in by_check {
            let first = needed[0].0;
            // What stands at one other check was told there.
            if first.is_some() && needed.iter().all(|(at, _)| *at == first) {
                continue;
            }
            let Some(kind) = self.kind_of(check) else {
                continue;
            };
            let tests: Vec<&Test> = needed.iter().map(|(_, c)| &c.test).collect();
            let named = |w: &&FilledWhen| full_id(&w.check.value, self.id) == check.0;
            let last = pending.when.iter().rev();
            let Some(when) = last.clone().find(named).or(last.clone().next()) else {
                continue;
            };
            match met(kind, &tests) {
                Met::Answer => {}
                Met::Other if first.is_some() => {}
                Met::Other => {
                    r.warning(
                        &when.check.span,
                        format!("none of the answers of `{check}` meets this"),
                        self.label("asked only where it has none of them: not applicable, say"),
                        "leave one of its answers out of is_not",
                    );
                }
                Met::Nothing => {
                    let how_many = if tests.len() == 2 { "both" } else { "all" };
                    let other = needed.iter().find_map(|(at, _)| *at);
                    r.error(
                        &when.check.span,
                        format!("no answer of `{check}` meets {how_many} conditions"),
                        self.label("never asked"),
                        help_for(&tests, other),
                    );
                }
            }
        }
    }

    /// The conditions of the check, and those of each check that must have an answer for them to hold.
    fn needed<'b>(&'b self, own: &'b [Condition]) -> Vec<Needed<'b>> {
        let mut all: Vec<Needed<'b>> = own.iter().map(|c| (None, c)).collect();
        let mut seen = HashSet::new();
        let mut next = 0;
        while let Some(&(_, condition)) = all.get(next) {
            next += 1;
            // Without an answer `is_not` holds.
            if matches!(condition.test, Test::IsNot(_)) || !seen.insert(&condition.check) {
                continue;
            }
            if let Some(&at) = self.earlier.by_id.get(&condition.check.0) {
                let check = &self.earlier.checks[at].1;
                all.extend(check.when.iter().map(|c| (Some(&check.id), c)));
            }
        }
        all
    }

    fn kind_of(&self, check: &CheckId) -> Option<&CheckKind> {
        let at = *self.earlier.by_id.get(&check.0)?;
        Some(&self.earlier.checks[at].1.kind)
    }
}

fn help_for(tests: &[&Test], other: Option<&CheckId>) -> String {
    let several = |of: fn(&Test) -> bool| tests.iter().filter(|t| of(t)).count() > 1;
    if let Some(other) = other {
        format!("`{other}`, on which it depends, needs another answer; put one of the two right")
    } else if several(|t| matches!(t, Test::Is(_))) {
        "all conditions must hold; for either of two answers write is = [\"…\", \"…\"]".into()
    } else if tests
        .iter()
        .all(|t| matches!(t, Test::AtLeast(_) | Test::AtMost(_)))
    {
        "no answer is within at_least and at_most; exchange them, or put one right".into()
    } else {
        "all of is, is_not, at_least and at_most must hold; take one out".into()
    }
}

/// By what an answer to a check of this kind meets all the tests.
pub(super) fn met(kind: &CheckKind, tests: &[&Test]) -> Met {
    let all = |value: &str| tests.iter().all(|t| t.holds(Some(value)));
    let only_not = tests.iter().all(|t| matches!(t, Test::IsNot(_)));
    // What is there, or in a state, may be deficient otherwise; a condition has to name it to mean it.
    let otherwise = !only_not && all("deficient");
    let answered = match kind {
        CheckKind::Presence { .. } => all("present") || all("missing") || otherwise,
        CheckKind::Condition => all("good") || all("deficient"),
        CheckKind::State { states } => states.iter().any(|s| all(&s.key)) || otherwise,
        CheckKind::Count { .. } => (0..=limits::COUNT).any(|n| all(&n.to_string())),
        CheckKind::Reading { .. } => least_readings(tests).any(|x| all(&x.to_string())),
        // Beside the tags that are named there are always others.
        CheckKind::Tag { .. } => match tests.iter().find(|t| matches!(t, Test::Is(_))) {
            Some(Test::Is(tags)) => tags.iter().any(|tag| all(tag)),
            _ => true,
        },
    };
    if answered {
        Met::Answer
    } else if only_not {
        Met::Other
    } else {
        Met::Nothing
    }
}

/// The least readings, in hundredths, that may reach every `at_least`.
fn least_readings(tests: &[&Test]) -> impl Iterator<Item = f64> {
    let least = tests.iter().map(|t| match t {
        Test::AtLeast(least) => *least,
        _ => 0.0,
    });
    // The product may fall just short of the hundredth that is meant, or just past it.
    let below = (least.fold(0.0, f64::max) * 100.0).floor() as u32;
    (below..=below.saturating_add(1))
        .filter(|x| *x <= limits::READING_HUNDREDTHS)
        .map(|x| f64::from(x) / 100.0)
}

#[cfg(test)]
mod tests;
