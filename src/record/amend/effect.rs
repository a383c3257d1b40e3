//! What amendments make of the outcomes. Pure.

use super::{Amendment, AmendmentCheck, Change};
use crate::plan::CheckId;
use crate::walk::{Ledger, Outcome};
use std::collections::BTreeMap;

/// What the amendments make of a check.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Effect {
    /// It is open until it is inspected again.
    Open {
        /// Why, in words.
        why: &'static str,
    },
    /// It is deficient.
    Deficient {
        /// The deficiency's name.
        deficiency: String,
    },
}

/// The checks whose outcome the amendments change.
pub type Effects = BTreeMap<CheckId, Effect>;

/// Why a check is open after "heard wrong".
const CALLED_WRONG: &str = "called wrong in review, to be inspected again";
/// Why a check is open after "re-inspect".
const SENT_BACK: &str = "sent back in review, to be inspected again";

/// The amendments that count, in their order: all but those withdrawn, whatever is wrong with them,
/// since they make nothing better.
pub(in crate::record) fn heeded(found: &[AmendmentCheck]) -> impl Iterator<Item = &Amendment> {
    let counting = found.iter().filter(|a| a.withdrawn_by.is_none());
    counting.filter_map(|a| a.amendment.as_ref())
}

/// What the amendments, in their order, make of a walk. Nothing in the result is conforming, and a
/// deficiency that stands is at most opened, never cleared.
pub(in crate::record) fn effects<'a>(
    ledger: &Ledger,
    amendments: impl IntoIterator<Item = &'a Amendment>,
) -> Effects {
    let mut effects = Effects::new();
    for amendment in amendments {
        let Some(check) = amendment.change.check() else {
            continue;
        };
        let effect = match effect(ledger, amendment) {
            // It stays what it is, the worse of the two.
            Some(Effect::Open { .. }) if stays_deficient(ledger, &effects, &amendment.change) => {
                None
            }
            effect => effect,
        };
        if let Some(effect) = effect {
            effects.insert(check.clone(), effect);
        }
    }
    effects
}

/// What one amendment does by itself; `None` where it changes no outcome.
pub(in crate::record) fn effect(ledger: &Ledger, amendment: &Amendment) -> Option<Effect> {
    match &amendment.change {
        Change::Note { .. } | Change::Withdraw { .. } => None,
        Change::HeardWrong {
            check,
            entry,
            hears,
        } => {
            let last = ledger.history(check).last();
            last.filter(|a| a.entry == *entry)?;
            let stands = ledger.standing(check).is_some();
            match heard_deficient(ledger, check, hears.as_deref()) {
                // Taken up again, the walk itself holds on to it until the check is answered.
                Some(deficiency) if stands || ledger.heard_in_review(check).is_some() => {
                    Some(Effect::Deficient { deficiency })
                }
                // An answer that no longer stands has no outcome to change.
                _ if !stands => None,
                // Also where it would conform: what nobody answered to the walk does not conform.
                _ => Some(Effect::Open { why: CALLED_WRONG }),
            }
        }
        Change::ReInspect { check } => {
            let since = answered_since(ledger, check, amendment.entries)
                || left_out_since(ledger, check, amendment.entries);
            (!since).then_some(Effect::Open { why: SENT_BACK })
        }
    }
}

/// The deficiency that a reviewer heard, where what was heard is one.
pub(in crate::record) fn heard_deficient(
    ledger: &Ledger,
    check: &CheckId,
    hears: Option<&str>,
) -> Option<String> {
    match ledger.would_be(check, hears?)? {
        Outcome::Deficient { deficiency } => Some(deficiency),
        _ => None,
    }
}

fn answered_since(ledger: &Ledger, check: &CheckId, entries: u64) -> bool {
    let standing = ledger.standing(check);
    standing.is_some_and(|a| a.entry >= entries)
}

/// Whether the check does not apply, and every answer that leaves it out was given since there were so many entries.
pub(in crate::record) fn left_out_since(ledger: &Ledger, check: &CheckId, entries: u64) -> bool {
    let by = ledger.left_out_by(check);
    let since = |by: &CheckId| answered_since(ledger, by, entries);
    !by.is_empty() && by.iter().all(since)
}

/// Whether what a change would open is deficient and stays so: whatever a review named, which its own reviewer may
/// withdraw, and, unless its answer is called wrong, what the walk found.
fn stays_deficient(ledger: &Ledger, effects: &Effects, change: &Change) -> bool {
    let of = change.check();
    match (of.and_then(|check| effects.get(check)), change) {
        (Some(effect), _) => matches!(effect, Effect::Deficient { .. }),
        (None, Change::ReInspect { check }) => {
            matches!(ledger.outcome(check), Some(Outcome::Deficient { .. }))
        }
        (None, _) => false,
    }
}
