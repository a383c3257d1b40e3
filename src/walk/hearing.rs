//! What an utterance does to the question that is put.

use super::machine::Walk;
use super::phase::{Doubt, Patience, Phase, Then};
use super::wording;
use crate::plan::CheckId;
use crate::walk::{Decision, Entry, Heard, Hearing, Meaning, Outcome, Phrase, Tone, judge, rules};

/// Unclear utterances in a row of which the last one holds the walk.
pub const REFUSED_LIMIT: u32 = 6;
/// Unclear breaths in a row before the tool asks for what is left: asked one by one, nearly everyone is understood.
const UNCLEAR_CALLS: u32 = 2;
/// Unclear answers to "did you say ...?" before the check is asked afresh.
const CONFIRM_LIMIT: u32 = 2;
/// Silences in a row at one question before the walk holds.
const SILENT_LIMIT: u32 = 2;

impl Walk {
    /// Ends what is being heard and said, so that a reaction can follow.
    pub(super) fn interrupt(&mut self) {
        self.hush();
        if self.is_speaking() {
            self.quiet();
        }
    }

    /// An utterance on the open listen. `answers`: whether the question was being put already.
    pub(super) fn heard(&mut self, hearing: Hearing, answers: bool) {
        let (meaning, sure) = match &hearing.decision {
            Decision::Take { meaning } => (Some(meaning.clone()), true),
            Decision::Confirm { meaning } => (Some(meaning.clone()), false),
            Decision::Refuse { .. } => (None, false),
        };
        let control = meaning.as_ref().filter(|m| m.rule == rules::CONTROL);
        let control = control.map(|m| m.value.clone());
        if self.hold.is_some() {
            return self.heard_held(control.as_deref(), sure, hearing);
        }
        // Sounds while the tool speaks may be its own voice: only what is clear counts.
        let counts = match &control {
            Some(control) => answers || !judge::is_no_value(control),
            None => answers && meaning.is_some(),
        };
        let noting =
            matches!(self.phase, Phase::Noting { .. } | Phase::Heeding) && control.is_none();
        if (self.is_speaking() && !counts) || noting {
            return self.write_refused(hearing);
        }
        self.interrupt();
        if let Some(control) = &control
            && !judge::is_no_value(control)
        {
            return self.control(control, sure, hearing);
        }
        let Some(meaning) = meaning else {
            return self.refuse(hearing);
        };
        match self.phase.clone() {
            Phase::Asking(check) => self.answer(&check, &meaning, sure, hearing),
            Phase::Confirming(doubt) => self.confirm(doubt, &meaning, sure, hearing),
            Phase::ConfirmingTogether(doubts) => {
                self.confirm_together(doubts, &meaning, sure, hearing)
            }
            Phase::Fixing(check) => self.fixing(&check, &meaning, hearing),
            Phase::Closing => self.closing(&meaning, sure, hearing),
            Phase::Leaving(then) => self.leaving(then, &meaning, sure, hearing),
            Phase::Noting { .. }
            | Phase::Calling(_)
            | Phase::Fresh
            | Phase::Heeding
            | Phase::Last(_)
            | Phase::Done => {
                self.refuse(hearing);
            }
        }
    }

    fn answer(&mut self, check: &CheckId, meaning: &Meaning, sure: bool, hearing: Hearing) {
        let value = self
            .ledger
            .locate(check)
            .and_then(|(_, c)| judge::answer(c, meaning));
        let Some(value) = value else {
            return self.refuse(hearing);
        };
        if value == rules::NOT_APPLICABLE && self.ledger.wants_a_look(check) {
            let heard = self.ledger.heard_in_review(check).is_some();
            self.say(Phrase::Tell, wording::look_first(heard));
            return self.refuse(hearing);
        }
        let wary = self.wary_of(check, &value, &hearing);
        if sure && !wary && value != rules::NOT_APPLICABLE {
            let heard = Heard {
                hearing,
                confirmed_by: None,
            };
            self.accept(check, &value, heard);
        } else {
            self.doubt(check, value, hearing);
        }
    }

    fn doubt(&mut self, check: &CheckId, value: String, hearing: Hearing) {
        let deficient = matches!(
            self.ledger.would_be(check, &value),
            Some(Outcome::Deficient { .. })
        );
        if deficient && self.ledger.standing(check).is_some() && !self.is_deficient(check) {
            // Gone back to, it may be deficient: what stood does not outlast a way round the question.
            self.withdraw_called(check, hearing.clone());
        }
        self.journal(Entry::Doubted {
            check: check.clone(),
            hearing: hearing.clone(),
        });
        self.enter(Phase::Confirming(Doubt {
            check: check.clone(),
            value,
            first: hearing,
            called: false,
        }));
    }

    fn confirm(&mut self, doubt: Doubt, meaning: &Meaning, sure: bool, hearing: Hearing) {
        let check = doubt.check.clone();
        let heard = |second: &Hearing| Heard {
            hearing: doubt.first.clone(),
            confirmed_by: Some(second.clone()),
        };
        if meaning.rule == rules::YES_NO {
            return match (meaning.value.as_str(), sure) {
                (rules::YES, true) => self.accept(&check, &doubt.value, heard(&hearing)),
                (rules::NO, _) => self.ask_again(&check, hearing),
                _ => self.refuse(hearing),
            };
        }
        let value = self
            .ledger
            .locate(&check)
            .and_then(|(_, c)| judge::answer(c, meaning));
        match value {
            None => self.refuse(hearing),
            Some(value) if value == doubt.value => {
                // Not applicable takes a check out of the verdict, so it is held to the same.
                let weighty =
                    self.ledger.may_conform(&check, &value) || value == rules::NOT_APPLICABLE;
                if sure || !(weighty && self.settings.conforming_needs_take) {
                    self.accept(&check, &value, heard(&hearing));
                } else {
                    self.write_doubted(&check, hearing);
                    self.patience.refused += 1;
                    self.confirm_again(&check);
                }
            }
            Some(_) => self.answer(&check, meaning, sure, hearing),
        }
    }

    /// The doubted answer was not meant: the check is asked afresh, worded otherwise.
    pub(super) fn ask_again(&mut self, check: &CheckId, hearing: Hearing) {
        self.write_refused(hearing);
        self.ask_afresh(check);
    }

    fn ask_afresh(&mut self, check: &CheckId) {
        self.phase = Phase::Asking(check.clone());
        self.patience = Patience {
            refused: 1,
            silent: 0,
        };
        self.prompt();
    }

    /// Puts the confirming question again, or gives it up.
    fn confirm_again(&mut self, check: &CheckId) {
        if self.patience.refused >= CONFIRM_LIMIT {
            self.ask_afresh(check);
        } else {
            self.prompt();
        }
    }

    fn fixing(&mut self, check: &CheckId, meaning: &Meaning, hearing: Hearing) {
        // Neither answer makes anything conform, so a doubtful one is obeyed as well.
        match (meaning.rule.as_str(), meaning.value.as_str()) {
            (rules::FIXING, rules::FIXED) => {
                self.tone(Tone::Heard);
                self.put_right(check, &hearing);
                self.advance();
            }
            (rules::FIXING, rules::LEAVE) => self.leave_open(check.clone(), hearing),
            _ => self.refuse(hearing),
        }
    }

    pub(super) fn leave_open(&mut self, check: CheckId, hearing: Hearing) {
        self.tone(Tone::Heard);
        self.write_control(rules::LEAVE, Some(check), hearing);
        self.say(Phrase::Tell, wording::LEFT_OPEN);
        self.advance();
    }

    fn closing(&mut self, meaning: &Meaning, sure: bool, hearing: Hearing) {
        match (meaning.rule.as_str(), meaning.value.as_str()) {
            (rules::YES_NO, rules::YES) if sure => {
                self.write_control(rules::YES, None, hearing);
                self.close();
            }
            (rules::YES_NO, rules::NO) => {
                self.write_control(rules::NO, None, hearing);
                self.patience.refused = self.patience.refused.max(1);
                self.prompt();
            }
            (rules::FIXING, rules::FIXED) => {
                let deficient = self.ledger.deficiencies();
                if deficient.is_empty() {
                    return self.refuse(hearing);
                }
                self.tone(Tone::Heard);
                for deficiency in deficient {
                    self.put_right(&deficiency.check, &hearing);
                }
                self.advance();
            }
            _ => self.refuse(hearing),
        }
    }

    fn leaving(&mut self, then: Then, meaning: &Meaning, sure: bool, hearing: Hearing) {
        match (meaning.rule.as_str(), meaning.value.as_str()) {
            (rules::YES_NO, rules::YES) if sure => self.leave(hearing),
            (rules::YES_NO, rules::NO) => {
                self.write_control(rules::NO, None, hearing);
                self.say(Phrase::Tell, wording::GOING_ON);
                self.follow(then);
            }
            _ => self.refuse(hearing),
        }
    }

    /// An utterance that is no answer. The check stays open; the question is put again.
    pub(super) fn refuse(&mut self, hearing: Hearing) {
        self.write_refused(hearing);
        self.unclear();
    }

    /// Says that nothing was understood, and goes on in the way that is most likely to be.
    pub(super) fn unclear(&mut self) {
        self.tone(Tone::Refused);
        self.patience.refused += 1;
        self.patience.silent = 0;
        match self.phase.clone() {
            Phase::Confirming(doubt) => self.confirm_again(&doubt.check),
            Phase::ConfirmingTogether(_) if self.patience.refused >= CONFIRM_LIMIT => {
                self.one_by_one();
            }
            Phase::Calling(call)
                if !call.asks_which() && self.patience.refused >= UNCLEAR_CALLS =>
            {
                self.say(Phrase::Tell, wording::CALL_ENDED);
                self.call_ended();
            }
            Phase::Leaving(then) if self.patience.refused >= CONFIRM_LIMIT => {
                self.say(Phrase::Tell, wording::GOING_ON);
                self.follow(then);
            }
            _ if self.patience.refused >= REFUSED_LIMIT => {
                self.hold_voice(wording::why::NOT_UNDERSTOOD);
            }
            _ => self.prompt(),
        }
    }

    /// Nothing was heard for the time set. Silence answers nothing.
    pub(super) fn silence(&mut self) {
        if self.hold.is_some() {
            return;
        }
        self.interrupt();
        self.patience.silent += 1;
        match self.phase.clone() {
            Phase::Noting { then, .. } => {
                self.say(Phrase::Tell, wording::NO_NOTE);
                self.follow(then);
            }
            Phase::Leaving(then) => {
                self.say(Phrase::Tell, wording::GOING_ON);
                self.follow(then);
            }
            Phase::Calling(call) if !call.asks_which() => self.call_ended(),
            Phase::Heeding => self.heeded(),
            _ if self.patience.silent >= SILENT_LIMIT => self.hold_voice(wording::why::SILENCE),
            _ => self.prompt(),
        }
    }

    pub(super) fn write_refused(&mut self, hearing: Hearing) {
        let check = self.phase.check().cloned();
        self.journal(Entry::Refused { check, hearing });
    }

    fn write_doubted(&mut self, check: &CheckId, hearing: Hearing) {
        let check = check.clone();
        self.journal(Entry::Doubted { check, hearing });
    }

    pub(super) fn write_control(
        &mut self,
        control: &str,
        check: Option<CheckId>,
        hearing: Hearing,
    ) {
        self.journal(Entry::Control {
            control: control.to_owned(),
            check,
            hearing,
            deficiency: None,
        });
    }
}
