//! What a practice walk found of what was planted.

use super::{AmendmentView, words};
use crate::plan::{Check, CheckId};
use crate::record::envelope::Envelope;
use crate::walk::{Entry, Ledger, Verdict, answer_rule};
use serde::Serialize;

/// What was found of what was planted.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Debrief {
    /// Whether the walk is complete. Until then nothing else is told, so that a record that is looked at gives nothing
    /// away.
    pub complete: bool,
    /// The planted faults, in walking order.
    pub faults: Vec<FaultView>,
    /// Checks called deficient where nothing was planted: a false alarm, or a fault of which nobody knew.
    pub unplanted: Vec<UnplantedView>,
}

/// A planted fault with what the learner made of it.
#[derive(Clone, Debug, Serialize)]
pub struct FaultView {
    /// Its check.
    pub check: CheckId,
    /// Station and check, as spoken.
    pub place: String,
    /// The rule that answers the check (`presence`, `count`, `state`, ...).
    pub kind: &'static str,
    /// The deficiency as the walk names it.
    pub deficiency: String,
    /// What was planted, in words.
    pub planted: String,
    /// The value planted.
    pub value: String,
    /// What became of it.
    pub verdict: Verdict,
    /// What was answered, in words, in order, before anything was put right.
    pub answered: Vec<String>,
    /// From the question to the first answer, in milliseconds of recorded time without holds; `None` where it was called off
    /// or not answered.
    pub took_ms: Option<u64>,
    /// Whether a review says something else of its check.
    pub reviewed: bool,
}

impl FaultView {
    /// In a line.
    pub fn line(&self) -> String {
        let verdict = match self.verdict {
            Verdict::Missed => "MISSED".to_owned(),
            Verdict::LeftOut => "MISSED, left out by another answer".to_owned(),
            Verdict::MissedUntilReview => "MISSED, found once a review sent it back".to_owned(),
            other => other.words().to_owned(),
        };
        let answered = match &self.answered[..] {
            [] => "no answer".to_owned(),
            all => format!("answered {}", all.join(", then ")),
        };
        format!(
            "{verdict}: {}: {} planted, {answered}{}",
            self.place,
            self.planted,
            if self.reviewed {
                "; a review says otherwise"
            } else {
                ""
            }
        )
    }
}

/// A check called deficient where nothing was planted.
#[derive(Clone, Debug, Serialize)]
pub struct UnplantedView {
    /// The check.
    pub check: CheckId,
    /// The deficiency as the walk named it.
    pub deficiency: String,
    /// What was answered, in words.
    pub answered: String,
}

impl Debrief {
    /// How many of the planted faults were called deficient.
    pub fn found(&self) -> usize {
        self.faults.iter().filter(|f| f.verdict.is_found()).count()
    }
}

/// What the entries tell of a practice walk; `None` of an inspection.
pub(super) fn debrief(
    ledger: &Ledger,
    envelopes: &[Envelope],
    amendments: &[AmendmentView],
) -> Option<Debrief> {
    ledger.practice()?;
    let complete = ledger.completed().is_some();
    if !complete {
        return Some(Debrief {
            complete,
            faults: Vec::new(),
            unplanted: Vec::new(),
        });
    }
    let said = |check: &CheckId, value: &str| {
        let check = ledger.locate(check).map(|(_, check)| check);
        check.map_or_else(|| value.to_owned(), |c: &Check| words::said(c, value))
    };
    let faults = ledger.planted_faults().into_iter().map(|fault| FaultView {
        planted: said(&fault.check, &fault.planted),
        kind: ledger
            .locate(&fault.check)
            .map_or("", |(_, check)| answer_rule(&check.kind)),
        answered: fault
            .answered
            .iter()
            .map(|value| said(&fault.check, value))
            .collect(),
        took_ms: took_ms(envelopes, &fault.check),
        reviewed: amendments
            .iter()
            .any(|a| a.against.is_some() && a.check.as_ref() == Some(&fault.check)),
        check: fault.check,
        place: fault.place,
        deficiency: fault.deficiency,
        value: fault.planted,
        verdict: fault.verdict,
    });
    let unplanted = ledger.unplanted().into_iter().map(|other| UnplantedView {
        answered: said(&other.check, &other.answered),
        check: other.check,
        deficiency: other.deficiency,
    });
    Some(Debrief {
        complete,
        faults: faults.collect(),
        unplanted: unplanted.collect(),
    })
}

/// From the first question to the first answer, without the time on hold.
fn took_ms(envelopes: &[Envelope], of: &CheckId) -> Option<u64> {
    let at = |is: &dyn Fn(&Entry) -> bool| envelopes.iter().position(|e| is(&e.entry));
    let asked = at(&|e| matches!(e, Entry::Asked { check, .. } if check == of))?;
    let answered = at(&|e| matches!(e, Entry::Answered { check, .. } if check == of))?;
    let (mut held, mut since) = (0, None);
    for envelope in envelopes.get(asked..=answered)? {
        match envelope.entry {
            Entry::Held { .. } => since = since.or(Some(envelope.mono_ms)),
            Entry::Carried { .. } | Entry::Resumed { .. } => {
                held += since.take().map_or(0, |since| envelope.mono_ms - since);
            }
            _ => {}
        }
    }
    let all = envelopes[answered]
        .mono_ms
        .checked_sub(envelopes[asked].mono_ms)?;
    all.checked_sub(held)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::samples::{answered, id};
    use crate::walk::Outcome;

    #[test]
    fn a_hold_is_no_time_that_a_check_took() {
        let pin = id("front-left/hook-pin");
        let held = || Entry::Held {
            why: "standing by".to_owned(),
            check: Some(pin.clone()),
        };
        let entries = [
            (
                1_000,
                Entry::Asked {
                    check: pin.clone(),
                    attempt: 1,
                },
            ),
            (3_000, held()),
            (4_000, held()),
            (63_000, Entry::Carried { check: None }),
            (64_000, held()),
            (64_500, Entry::Resumed { check: None }),
            (
                66_000,
                answered("front-left/hook-pin", "present", Outcome::Conforming),
            ),
        ];
        let all: Vec<Envelope> = (0..)
            .zip(entries)
            .map(|(seq, (mono_ms, entry))| Envelope {
                seq,
                wall: String::new(),
                mono_ms,
                clock: None,
                prev: String::new(),
                entry,
            })
            .collect();
        assert_eq!(took_ms(&all, &pin), Some(4_500));
    }
}
