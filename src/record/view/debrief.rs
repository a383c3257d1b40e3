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
    /// How long it was the check asked until its first answer, in milliseconds of recorded time, without holds and without what
    /// was asked in between; `None` where it was called off or not answered.
    pub took_ms: Option<u64>,
    /// Whether a review says that one of these answers was heard wrong.
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
            .any(|a| a.calls_wrong(&fault.check, &fault.entries)),
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

impl AmendmentView {
    /// Whether it says that one of these answers to the check was heard wrong. That a check is to be inspected again says
    /// nothing of what was said.
    fn calls_wrong(&self, check: &CheckId, entries: &[u64]) -> bool {
        // Only such a one names an entry.
        let of = self.entry.is_some_and(|entry| entries.contains(&entry));
        of && self.withdrawn_by.is_none() && self.check.as_ref() == Some(check)
    }
}

/// From questions to the first answer, as long as it was this check that was asked and the walk was not on hold.
fn took_ms(envelopes: &[Envelope], of: &CheckId) -> Option<u64> {
    let (mut took, mut is_asked, mut since) = (0, false, None);
    for envelope in envelopes {
        let now = envelope.mono_ms;
        let goes_on = match &envelope.entry {
            Entry::Answered { check, .. } if check == of => {
                // What was called off was not asked.
                let since = since.filter(|_| is_asked)?;
                return Some(took + now.checked_sub(since)?);
            }
            Entry::Asked { check, .. } => {
                is_asked = check == of;
                is_asked
            }
            Entry::Calling { .. } => {
                is_asked = false;
                false
            }
            Entry::Held { .. } => false,
            Entry::Carried { .. } | Entry::Resumed { .. } => is_asked,
            _ => continue,
        };
        match since {
            Some(begun) if !goes_on => {
                took += now.checked_sub(begun)?;
                since = None;
            }
            None if goes_on => since = Some(now),
            _ => {}
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::samples::{answered, id};
    use crate::walk::Outcome;

    fn walk(entries: impl IntoIterator<Item = (u64, Entry)>) -> Vec<Envelope> {
        (0..)
            .zip(entries)
            .map(|(seq, (mono_ms, entry))| Envelope {
                seq,
                wall: String::new(),
                mono_ms,
                clock: None,
                prev: String::new(),
                entry,
            })
            .collect()
    }

    fn asked(check: &str, attempt: u32) -> Entry {
        let check = id(check);
        Entry::Asked { check, attempt }
    }

    fn present(check: &str) -> Entry {
        answered(check, "present", Outcome::Conforming)
    }

    #[test]
    fn what_was_asked_in_between_is_no_time_that_a_check_took() {
        let (pin, other) = ("front-left/hook-pin", "front-right/hook-pin");
        let calling = Entry::Calling {
            station: "front-right".to_owned(),
            which: false,
        };
        let all = walk([
            (1_000, asked(pin, 1)),
            (2_000, present(pin)),
            (2_000, asked(other, 1)),
            // Back to the pin, which takes half a minute.
            (5_000, asked(pin, 1)),
            (35_000, present(pin)),
            (36_000, asked(other, 1)),
            (37_000, asked(other, 2)),
            (40_000, present(other)),
        ]);
        assert_eq!(took_ms(&all, &id(other)), Some(3_000 + 4_000));
        assert_eq!(took_ms(&all, &id(pin)), Some(1_000));
        let called = walk([
            (1_000, asked(pin, 1)),
            (2_000, calling),
            (9_000, present(pin)),
        ]);
        assert_eq!(took_ms(&called, &id(pin)), None, "called off");
    }

    #[test]
    fn a_hold_is_no_time_that_a_check_took() {
        let pin = id("front-left/hook-pin");
        let held = || Entry::Held {
            why: "standing by".to_owned(),
            check: Some(pin.clone()),
        };
        let entries = [
            (1_000, asked("front-left/hook-pin", 1)),
            (3_000, held()),
            (4_000, held()),
            (63_000, Entry::Carried { check: None }),
            (64_000, held()),
            (64_500, Entry::Resumed { check: None }),
            (66_000, present("front-left/hook-pin")),
        ];
        assert_eq!(took_ms(&walk(entries), &pin), Some(4_500));
    }
}
