//! Holds: the walk stands still until the inspector says that it goes on, or the outside that it can.

use super::machine::Walk;
use super::phase::{Hold, Phase, Then};
use super::wording;
use crate::walk::{Entry, Hearing, Phrase, Tone, rules};

/// Of what is said in a hold and is no command, the first that is answered, and how many there are from one to the next.
const REMINDED_FROM: u32 = 2;
const REMINDED_EACH: u32 = 6;

impl Walk {
    /// Stands still until the inspector says "carry on".
    pub(super) fn hold_voice(&mut self, why: &str) {
        self.phase = self.phase.clone().beneath();
        self.hold = Some(Hold {
            voice: true,
            ..Hold::default()
        });
        self.stand(why);
    }

    /// Stands still until the outside says that it can go on.
    pub(super) fn hold_outside(&mut self, why: &str) {
        if self.hold.is_some_and(|h| h.outside) {
            // Another cause is told and written too; the same again is nothing new.
            if self.ledger.held.as_deref() != Some(why) {
                self.interrupt();
                self.stand(why);
            }
            return;
        }
        self.phase = match self.phase.clone() {
            Phase::Noting {
                then: Then::Hold(phase),
                ..
            }
            | Phase::Leaving(Then::Hold(phase)) => {
                self.hold.get_or_insert_default().voice = true;
                *phase
            }
            other => other.beneath(),
        };
        let hold = self.hold.get_or_insert_default();
        hold.outside = true;
        self.interrupt();
        self.stand(why);
    }

    fn stand(&mut self, why: &str) {
        let place = self.here();
        let by_voice = !self.hold.is_some_and(|h| h.outside);
        self.journal(Entry::Held {
            why: why.to_owned(),
            check: self.phase.check().cloned(),
        });
        self.tone(Tone::Held);
        self.say_at_once(wording::holding(&place, why, by_voice));
    }

    /// A hold that an aside had lifted.
    pub(super) fn hold_again(&mut self, phase: Phase) {
        self.phase = phase;
        self.hold = Some(Hold {
            voice: true,
            ..Hold::default()
        });
        self.tone(Tone::Held);
        let text = wording::holding(&self.here(), wording::why::SILENCE, true);
        self.say(Phrase::Tell, text);
    }

    pub(super) fn cleared(&mut self) {
        match self.hold {
            Some(Hold {
                outside: true,
                voice: true,
                ..
            }) => {
                self.interrupt();
                let phase = self.phase.clone();
                self.hold_again(phase);
            }
            Some(Hold { outside: true, .. }) => self.carry(),
            _ => {}
        }
    }

    /// Another device took the place of the lost one: nothing goes on before the inspector says so
    /// through it.
    pub(super) fn replaced(&mut self, what: &str) {
        self.interrupt();
        if self.hold.is_none() {
            self.phase = self.phase.clone().beneath();
        }
        self.hold = Some(Hold {
            voice: true,
            ..Hold::default()
        });
        self.stand(what);
    }

    /// Goes on at what the hold broke. An answer that was not read back is read back first.
    fn carry(&mut self) {
        self.interrupt();
        self.hold = None;
        self.journal(Entry::Carried {
            check: self.phase.check().cloned(),
        });
        if self.unread.is_some()
            && let Some(text) = self.last_answer()
        {
            self.say(Phrase::ReadBack, text);
        }
        if let Some(check) = self.phase.check().cloned() {
            self.announce(&check);
        }
        match self.phase.clone() {
            Phase::Calling(call) if !call.asks_which() => {
                self.say(Phrase::Tell, wording::carrying_on(&self.here()));
                self.advance();
            }
            phase => self.enter(phase),
        }
    }

    /// During a hold few phrases are obeyed, and nothing is an answer.
    pub(super) fn heard_held(&mut self, control: Option<&str>, sure: bool, hearing: Hearing) {
        let check = self.phase.check().cloned();
        match control {
            Some(rules::CARRY_ON) => {
                let half = self.hold.is_some_and(|h| h.half);
                if sure || half {
                    self.interrupt();
                    self.write_control(rules::CARRY_ON, check, hearing);
                    return self.carry();
                }
                self.hold.get_or_insert_default().half = true;
                self.interrupt();
                self.write_refused(hearing);
                self.say(Phrase::Tell, wording::CARRY_ON_AGAIN);
            }
            Some(control @ (rules::WHERE | rules::DEFICIENCIES | rules::SAY_AGAIN)) => {
                self.interrupt();
                self.write_control(control, check, hearing);
                if control != rules::SAY_AGAIN {
                    self.inform(control);
                }
                let text = wording::holding(&self.here(), wording::why::SILENCE, true);
                self.say(Phrase::Tell, text);
            }
            Some(control @ (rules::FASTER | rules::SLOWER | rules::LOUDER | rules::QUIETER)) => {
                self.interrupt();
                self.write_control(control, check, hearing);
                self.speak_so(control);
            }
            // Over the last words there is nothing left to end.
            Some(rules::END_WALK) if self.ledger.completed().is_some() => {
                self.write_refused(hearing);
            }
            Some(control @ (rules::NOTE | rules::END_WALK)) => {
                self.interrupt();
                self.write_control(control, check, hearing);
                self.hold = None;
                let then = Then::Hold(Box::new(self.phase.clone()));
                if control == rules::NOTE {
                    self.take_note(then);
                } else {
                    self.enter(Phase::Leaving(then));
                }
            }
            // Talk beside the load. It is kept, and changes nothing.
            _ => {
                self.write_refused(hearing);
                self.remind_of_the_hold();
            }
        }
    }

    /// Whoever did not notice the hold goes on telling findings: told at the second, and at every sixth behind it, so that talk
    /// is not talked into.
    fn remind_of_the_hold(&mut self) {
        let hold = self.hold.get_or_insert_default();
        hold.refused += 1;
        if hold.voice && !hold.outside && hold.refused % REMINDED_EACH == REMINDED_FROM {
            self.say(Phrase::Tell, wording::STILL_HOLDING.to_owned());
        }
    }

    /// Going on with something else ends a hold that lay over an aside, and the record says so.
    pub(super) fn leave_hold(&mut self) {
        if let Phase::Noting {
            then: Then::Hold(phase),
            ..
        }
        | Phase::Leaving(Then::Hold(phase)) = &self.phase
        {
            self.journal(Entry::Carried {
                check: phase.check().cloned(),
            });
            self.phase = self.phase.clone().beneath();
        }
    }
}
