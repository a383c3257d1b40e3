//! Watches the rhythm of spoken answers: too fast to have looked, or a chant of one answer.

use super::machine::Walk;
use super::phase::Phase;
use super::wording;
use crate::plan::CheckId;
use crate::walk::{Entry, MonotonicMs, Outcome, Pattern, Phrase};
use std::collections::VecDeque;

/// Answers in a row faster than a person can look that are flagged.
pub(super) const FAST_RUN: usize = 5;
/// The same answer in a row that is flagged.
pub(super) const CHANT_RUN: usize = 6;

/// The latest spoken answers.
#[derive(Clone, Debug, Default)]
pub(super) struct Rhythm {
    latest: VecDeque<Beat>,
    /// When the ears opened, or the last answer was taken.
    since: MonotonicMs,
}

#[derive(Clone, Debug)]
struct Beat {
    check: CheckId,
    value: String,
    /// Time that it took, in ms.
    took: MonotonicMs,
}

impl Rhythm {
    /// Time counts from here.
    pub(super) fn begin(&mut self, now: MonotonicMs) {
        self.since = now;
    }

    /// Takes answers of one breath; tells of a rhythm in which nobody looks, once.
    fn take(
        &mut self,
        answers: &[(CheckId, String)],
        called: bool,
        now: MonotonicMs,
        look_ms: MonotonicMs,
    ) -> Option<(Pattern, Vec<CheckId>)> {
        let took = now.saturating_sub(self.since) / (answers.len().max(1) as MonotonicMs);
        // Between two led answers lie a read-back and a question.
        let took = if called { took } else { MonotonicMs::MAX };
        self.since = now;
        for (check, value) in answers {
            self.latest.push_back(Beat {
                check: check.clone(),
                value: value.clone(),
                took,
            });
        }
        let run = |same: &dyn Fn(&Beat) -> bool| {
            let beats = self.latest.iter().rev().take_while(|b| same(b));
            let mut checks: Vec<CheckId> = beats.map(|b| b.check.clone()).collect();
            checks.reverse();
            checks
        };
        let fast = run(&|b| b.took < look_ms);
        let value = self.latest.back().map(|b| b.value.clone());
        let chant = run(&|b| Some(&b.value) == value.as_ref());
        let found = if fast.len() >= FAST_RUN {
            Some((Pattern::Fast, fast))
        } else if chant.len() >= CHANT_RUN {
            Some((Pattern::Chant, chant))
        } else {
            None
        };
        if found.is_some() {
            self.latest.clear();
        }
        while self.latest.len() > CHANT_RUN.max(FAST_RUN) {
            self.latest.pop_front();
        }
        found
    }
}

impl Walk {
    /// Takes spoken answers into the rhythm and writes down where it is one in which nobody looks.
    /// Whether one of them is asked again.
    pub(super) fn watch_rhythm(&mut self, answers: &[(CheckId, String)]) -> bool {
        if answers.is_empty() {
            return false;
        }
        let called = matches!(self.phase, Phase::Calling(_));
        let look_ms = self.settings.look_ms;
        let Some((pattern, checks)) = self.rhythm.take(answers, called, self.now, look_ms) else {
            return false;
        };
        // A deficiency was looked at; which of the others is asked cannot be known beforehand.
        let conforms = |c: &&CheckId| self.ledger.outcome(c) == Some(Outcome::Conforming);
        let may: Vec<&CheckId> = checks.iter().filter(conforms).collect();
        let again = (self.settings.rhythm_asks && !may.is_empty())
            .then(|| may[self.ledger.entries() as usize % may.len()].clone());
        self.journal(Entry::Rhythm {
            checks,
            pattern,
            again: again.clone(),
        });
        let Some(again) = again else {
            return false;
        };
        self.pending.retain(|p| *p != again);
        self.read_taken();
        self.say(Phrase::Tell, wording::LOOK_AGAIN);
        self.station = self.ledger.locate(&again).map(|(s, _)| s.key.clone());
        self.enter(Phase::Asking(again));
        true
    }
}
