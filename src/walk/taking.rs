//! What becomes of one finding that was called off: taken, kept to be asked, or asked at once.

use super::breath::Finding;
use super::called::as_asked;
use super::machine::Walk;
use super::phase::Doubt;
use super::wording;
use crate::grammar::NEGATED;
use crate::plan::{CheckId, Station};
use crate::walk::{Decision, Entry, Heard, Hearing, Outcome, Phrase, Stage, Tone, judge, rules};

impl Walk {
    /// Takes a finding that is sure; keeps one that is not, to be asked.
    /// `unasked` gets the checks that do not apply so far and of which a fault was told.
    pub(super) fn take(
        &mut self,
        station: &Station,
        finding: Finding,
        taken: &mut Vec<(CheckId, String)>,
        unasked: &mut Vec<CheckId>,
    ) {
        let Finding {
            check,
            value,
            sure,
            mut hearing,
            instead,
            ..
        } = finding;
        let Some(c) = station.checks.iter().find(|c| c.id == check) else {
            return;
        };
        if !self.ledger.applies(&check) {
            if self.is_against(&check, &value) {
                unasked.push(check.clone());
            }
            return self.journal(Entry::Refused {
                check: Some(check),
                hearing,
            });
        }
        let stood = self.ledger.standing(&check).map(|a| a.value.clone());
        let at_odds = !instead && stood.is_some_and(|v| self.are_at_odds(&check, &v, &value));
        if value == NEGATED || at_odds {
            // Not as it should be, and not how: that is asked at once. What was said of it before no longer
            // stands, whatever happens until it is answered; a deficiency does until then.
            if self.ledger.standing(&check).is_some() && !self.is_deficient(&check) {
                self.withdraw_called(&check, hearing);
            } else {
                self.journal(Entry::Refused {
                    check: Some(check.clone()),
                    hearing,
                });
            }
            self.doubts.remove(&check);
            return self.stop_for(check);
        }
        let meaning = as_asked(c, &value);
        let said = judge::answer(c, &meaning);
        // What was put right is looked at again.
        let looked_at =
            |v: &String| v != rules::NOT_APPLICABLE || !self.ledger.wants_a_look(&check);
        let said = said.filter(looked_at);
        let outcome = said.as_ref().and_then(|v| self.ledger.would_be(&check, v));
        let (Some(value), Some(outcome)) = (said, outcome) else {
            return self.journal(Entry::Refused {
                check: Some(check),
                hearing,
            });
        };
        let sure = sure && !self.wary_of(&check, &value, &hearing);
        hearing.decision = if sure {
            Decision::Take { meaning }
        } else {
            Decision::Confirm { meaning }
        };
        let deficient = matches!(outcome, Outcome::Deficient { .. });
        // A deficiency is not undone in passing.
        let undoes = self.is_deficient(&check) && !deficient;
        if !sure || undoes || value == rules::NOT_APPLICABLE {
            let standing = self.ledger.standing(&check).map(|a| a.value.clone());
            if standing.as_ref() == Some(&value) && deficient {
                // Half of what was answered already, heard once more.
                return self.journal(Entry::Refused {
                    check: Some(check),
                    hearing,
                });
            }
            if deficient && standing.is_some() && !self.is_deficient(&check) {
                // It may be deficient: what stood is not kept by a hold or a break in between.
                self.withdraw_called(&check, hearing.clone());
            }
            self.journal(Entry::Doubted {
                check: check.clone(),
                hearing: hearing.clone(),
            });
            self.doubts.insert(
                check.clone(),
                Doubt {
                    check: check.clone(),
                    value,
                    first: hearing,
                    called: true,
                },
            );
            // An answer that stands is never looked at again by itself.
            if deficient || standing.is_some() {
                self.stop_for(check);
            }
            return;
        }
        let changed = self.ledger.standing(&check).map(|a| a.value != value);
        let corrected = instead || changed == Some(true);
        let stage = match self.ledger.stage(&check) {
            _ if corrected => Stage::Correction,
            // The same said twice is no correction.
            Stage::Correction => Stage::Walk,
            other => other,
        };
        let spoken = !hearing.clip.is_empty();
        let heard = Heard {
            hearing,
            confirmed_by: None,
        };
        let aloud = (deficient || corrected).then_some(stage);
        self.write_answer(&check, &value, &outcome, heard, aloud);
        self.taken.push(check.clone());
        if spoken {
            taken.push((check, value));
        } else {
            self.tone(Tone::Heard);
        }
    }

    /// Whether the check stands deficient.
    pub(super) fn is_deficient(&self, check: &CheckId) -> bool {
        matches!(self.ledger.outcome(check), Some(Outcome::Deficient { .. }))
    }

    /// What was told of checks that did not apply: where the same breath made one apply it is asked at once, else it
    /// is told that nothing was written down.
    pub(super) fn stop_for_unasked(&mut self, unasked: Vec<CheckId>) {
        for check in unasked {
            if self.ledger.applies(&check) {
                self.doubts.remove(&check);
                self.stop_for(check);
            } else if let Some((_, c)) = self.ledger.locate(&check) {
                let text = wording::not_asked_yet(&c.name);
                self.say(Phrase::Tell, text);
            }
        }
    }

    /// The answer that stands at the check no longer does, by what was said against it.
    pub(super) fn withdraw_called(&mut self, check: &CheckId, hearing: Hearing) {
        self.write_control(rules::CORRECTION, Some(check.clone()), hearing);
        self.pending.retain(|p| p != check);
        self.fresh.retain(|f| f != check);
    }

    /// The check is asked before anything else is called.
    pub(super) fn stop_for(&mut self, check: CheckId) {
        self.urgent.retain(|u| *u != check);
        self.urgent.push_back(check);
    }

    /// An item named without a finding: it is asked, and its answer no longer stands.
    pub(super) fn named(&mut self, check: CheckId, hearing: Hearing) {
        let stands = self.ledger.standing(&check).is_some();
        let control = if stands {
            rules::CORRECTION
        } else {
            rules::NAMED
        };
        self.write_control(control, Some(check.clone()), hearing);
        self.doubts.remove(&check);
        self.pending.retain(|p| *p != check);
        self.fresh.retain(|f| *f != check);
        if stands {
            let text = wording::correction(&self.place(&check));
            self.say(Phrase::Tell, text);
        }
        self.ask_or_advance(check);
    }
}
