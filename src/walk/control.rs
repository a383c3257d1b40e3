//! Control phrases.

use super::machine::Walk;
use super::phase::{Phase, Then};
use super::wording;
use crate::plan::CheckId;
use crate::walk::{Effect, Ending, Entry, Hearing, Listen, Phrase, Tone, rules};

impl Listen {
    /// Listens for control phrases only.
    pub fn control(id: u64) -> Self {
        Self {
            id,
            rules: vec![rules::CONTROL.to_owned()],
            states: Vec::new(),
            noun: None,
            items: Vec::new(),
            free: false,
        }
    }
}

impl Walk {
    /// Obeys a control phrase. None makes a check conform, so a doubtful one is obeyed too, except
    /// where it would end or skip something. A fault that is being asked about took back what stood (`doubt`), so that
    /// no command leads round it.
    pub(super) fn control(&mut self, control: &str, sure: bool, hearing: Hearing) {
        let check = self.phase.check().cloned();
        match control {
            // A note may still be taken in a hold over the last words; no answer is changed any more.
            rules::GO_BACK | rules::CORRECTION | rules::END_WALK
                if self.ledger.completed().is_some() =>
            {
                self.refuse(hearing);
            }
            // Nothing goes on before it is told which answer was wrong, nor before what was broken off is taken up.
            rules::GO_BACK if matches!(&self.phase, Phase::Calling(call) if call.asks_which()) => {
                self.write_control(control, None, hearing);
                self.which_again();
            }
            rules::GO_BACK if self.phase == Phase::Heeding => {
                self.write_control(control, None, hearing);
                self.prompt();
            }
            rules::SAY_AGAIN => {
                self.write_control(control, check, hearing);
                self.prompt();
            }
            rules::WHERE | rules::DEFICIENCIES => {
                self.write_control(control, check, hearing);
                self.inform(control);
                self.prompt();
            }
            rules::STAND_BY => {
                self.write_control(control, check, hearing);
                self.hold_voice(wording::why::STAND_BY);
            }
            rules::CARRY_ON => self.carry_on(sure, hearing),
            rules::CALL_OFF | rules::LED | rules::DONE => self.pace(control, hearing),
            rules::GO_BACK => self.go_back(hearing),
            rules::CORRECTION => self.correct(hearing),
            rules::NOTE => {
                self.write_control(control, check, hearing);
                match self.phase.clone() {
                    Phase::Noting { .. } => self.prompt(),
                    // The hold over it goes on behind the note.
                    Phase::Leaving(then @ Then::Hold(_)) => self.take_note(then),
                    phase => self.take_note(Then::Back(Box::new(phase.beneath()))),
                }
            }
            // The inspector asks for the end where the end is asked about.
            rules::END_WALK if self.phase == Phase::Closing && sure => {
                self.write_control(control, None, hearing);
                self.close();
            }
            rules::END_WALK if matches!(self.phase, Phase::Leaving(_)) && sure => {
                self.leave(hearing);
            }
            rules::END_WALK if self.phase != Phase::Closing => {
                self.write_control(control, check, hearing);
                let then = match self.phase.clone() {
                    Phase::Noting { then, .. } | Phase::Leaving(then) => then,
                    other => Then::Back(Box::new(other.beneath())),
                };
                self.enter(Phase::Leaving(then));
            }
            rules::FASTER | rules::SLOWER | rules::LOUDER | rules::QUIETER => {
                self.write_control(control, check, hearing);
                self.speak_so(control);
                self.prompt();
            }
            _ => self.refuse(hearing),
        }
    }

    /// Speaks faster, slower, louder or quieter from here on, and says so in that manner.
    pub(super) fn speak_so(&mut self, control: &str) {
        let Some(manner) = self.settings.manner.after(control) else {
            return;
        };
        let changed = manner != self.settings.manner;
        self.settings.manner = manner;
        self.push(Effect::Manner(manner), 0);
        self.say(Phrase::Tell, wording::manner(control, changed));
    }

    pub(super) fn take_note(&mut self, then: Then) {
        let about = then.check().cloned();
        self.enter(Phase::Noting { about, then });
    }

    /// Says where the walk stands, or reads the deficiencies.
    pub(super) fn inform(&mut self, control: &str) {
        if control == rules::DEFICIENCIES {
            let names = self.ledger.deficiencies().into_iter().map(|d| d.name);
            self.say_list(&names.collect::<Vec<_>>());
            let put_right = self.ledger.put_right();
            if !put_right.is_empty() {
                self.say(Phrase::Tell, wording::to_look_at_again(&put_right));
            }
            return;
        }
        let place = self.here();
        let open = self.ledger.open_points().len();
        let all = self.ledger.live.iter().filter(|&&l| l).count();
        self.say(Phrase::Tell, wording::whereabouts(&place, open, all));
        if let Some(text) = self.last_answer() {
            self.say(Phrase::Tell, text);
        }
    }

    fn carry_on(&mut self, sure: bool, hearing: Hearing) {
        match self.phase.clone() {
            Phase::Noting { about, then } => {
                self.write_control(rules::CARRY_ON, about, hearing);
                self.say(Phrase::Tell, wording::NO_NOTE);
                self.follow(then);
            }
            Phase::Heeding => {
                self.write_control(rules::CARRY_ON, None, hearing);
                self.heeded();
            }
            // Going on is what "no" means there, and harmless if misheard.
            Phase::Leaving(then) => {
                self.write_control(rules::CARRY_ON, None, hearing);
                self.say(Phrase::Tell, wording::GOING_ON);
                self.follow(then);
            }
            Phase::Fixing(check) if sure => self.leave_open(check, hearing),
            // Gone back to, and left as it is.
            Phase::Asking(check) if sure && self.ledger.standing(&check).is_some() => {
                self.write_control(rules::CARRY_ON, Some(check.clone()), hearing);
                let kept = self.standing_words(&check);
                self.say(Phrase::Tell, wording::kept(kept.as_deref()));
                // A deficiency that was not dealt with yet is so now.
                if self.ledger.waits(&check) && !self.fresh.contains(&check) {
                    self.fresh.push_front(check);
                }
                self.advance();
            }
            Phase::Calling(call) if sure && call.asks_which() => {
                self.write_control(rules::CARRY_ON, None, hearing);
                self.say(Phrase::Tell, wording::kept(None));
                self.advance();
            }
            _ => self.refuse(hearing),
        }
    }

    /// The check to go back to: the last answered, or the one answered before that gone back to.
    fn before(&self) -> Option<CheckId> {
        let answered = self.ledger.answered();
        let ids = answered.iter().map(|&at| &self.ledger.check_at(at).id);
        let mut ids: Vec<&CheckId> = ids.collect();
        if let Phase::Asking(now) = &self.phase
            && let Some(at) = ids.iter().position(|&id| id == now)
        {
            ids.truncate(at);
        }
        ids.last().map(|&id| id.clone())
    }

    /// The check of which a note or a repair is asked.
    fn dealt_with(&self) -> Option<CheckId> {
        match &self.phase {
            Phase::Fixing(check)
            | Phase::Noting {
                then: Then::Fix(check),
                ..
            } => Some(check.clone()),
            _ => None,
        }
    }

    fn go_back(&mut self, hearing: Hearing) {
        self.leave_hold();
        if let Phase::Confirming(_) | Phase::ConfirmingTogether(_) | Phase::Leaving(_) = self.phase
        {
            self.phase = self.phase.clone().beneath();
        }
        let target = self.dealt_with().or_else(|| self.before());
        self.write_control(rules::GO_BACK, target.clone(), hearing);
        let Some(target) = target else {
            self.say(Phrase::Tell, wording::NOTHING_BEFORE);
            return self.prompt();
        };
        self.fresh.retain(|f| *f != target);
        let text = wording::back_to(&self.place(&target));
        self.station = self.ledger.locate(&target).map(|(s, _)| s.key.clone());
        self.say(Phrase::Tell, text);
        self.enter(Phase::Asking(target));
    }

    /// "Correction": the last answer no longer stands. While an answer is doubted it means that
    /// one, which never stood.
    fn correct(&mut self, hearing: Hearing) {
        self.leave_hold();
        if let Phase::Confirming(doubt) = &self.phase {
            let check = doubt.check.clone();
            return self.ask_again(&check, hearing);
        }
        if let Phase::ConfirmingTogether(_) = self.phase {
            self.write_control(rules::CORRECTION, None, hearing);
            return self.one_by_one();
        }
        let gone_back = match &self.phase {
            // Behind "fixed" it means what is asked now, not what was answered before.
            Phase::Asking(check) if self.ledger.is_put_right(check) => Some(check.clone()),
            Phase::Asking(check) => self.ledger.standing(check).map(|_| check.clone()),
            _ => self.dealt_with(),
        };
        if let Phase::Asking(check) = &self.phase
            && gone_back.is_none()
            && self.ledger.is_taken_back(check)
        {
            // Said once more, it means the same answer.
            let check = check.clone();
            self.write_control(rules::SAY_AGAIN, Some(check), hearing);
            return self.prompt();
        }
        if gone_back.is_none() && self.several_to_correct() {
            return self.ask_which(hearing);
        }
        let last = || self.ledger.last_answer().map(|(c, _)| c.id.clone());
        let Some(check) = gone_back.or_else(last) else {
            self.write_control(rules::CORRECTION, None, hearing);
            self.say(Phrase::Tell, wording::NOTHING_BEFORE);
            return self.prompt();
        };
        let text = wording::correction(&self.place(&check));
        self.take_back(check, hearing, text);
    }

    /// The answer to this check no longer stands; it is asked again after these words.
    fn take_back(&mut self, check: CheckId, hearing: Hearing, text: String) {
        self.no_longer_stands(&check, hearing);
        self.say(Phrase::Tell, text);
        self.ask_or_advance(check);
    }

    /// Asks a check that has no answer any more, if it applies.
    pub(super) fn ask_or_advance(&mut self, check: CheckId) {
        if self.ledger.applies(&check) {
            self.enter(Phase::Asking(check));
        } else {
            self.advance();
        }
    }

    fn no_longer_stands(&mut self, check: &CheckId, hearing: Hearing) {
        self.write_control(rules::CORRECTION, Some(check.clone()), hearing);
        self.fresh.retain(|f| f != check);
        self.unread = None;
        self.station = self.ledger.locate(check).map(|(s, _)| s.key.clone());
    }

    /// Whether [`Event::WentOn`](crate::walk::Event::WentOn) would take an answer back.
    pub fn may_take_back(&self) -> bool {
        !self.taken.is_empty()
    }

    /// Whether something that was said is looked at where nothing listens: not before the first words, nor over the last.
    pub fn heeds(&self) -> bool {
        !matches!(self.phase, Phase::Fresh | Phase::Last(_) | Phase::Done)
            && self.ledger.completed().is_none()
    }

    /// More was said right behind what was heard last. What was taken of that no longer stands; of several findings the
    /// deficient ones do.
    pub(super) fn went_on(&mut self, hearing: Hearing, stop: bool) {
        if !self.heeds() {
            return;
        }
        // What was half heard before it may be what it is about: that is asked afresh too.
        self.doubts.clear();
        let mut taken = std::mem::take(&mut self.taken);
        let several = taken.len() > 1;
        if several {
            taken.retain(|check| !self.is_deficient(check));
        }
        let Some(check) = taken.first().cloned() else {
            return self.more_said(hearing, stop);
        };
        let held = self.hold.is_some();
        if !held {
            self.interrupt();
        }
        for check in taken.iter().rev() {
            self.no_longer_stands(check, hearing.clone());
            self.pending.retain(|p| p != check);
        }
        self.phase = Phase::Asking(check.clone());
        if held {
            return;
        }
        if stop {
            return self.hold_voice(wording::why::STAND_BY);
        }
        let place = match (several, self.ledger.locate(&check)) {
            (true, Some((station, _))) => station.name.clone(),
            _ => self.place(&check),
        };
        self.say(Phrase::Tell, wording::went_on(&place));
        if several {
            // All of them are open again.
            self.advance();
        } else {
            self.ask_or_advance(check);
        }
    }

    /// What was said behind something of which nothing was taken is no answer, but it is not passed over.
    fn more_said(&mut self, hearing: Hearing, stop: bool) {
        if self.hold.is_some() {
            return self.write_refused(hearing);
        }
        self.interrupt();
        self.write_refused(hearing);
        if stop {
            return self.hold_voice(wording::why::STAND_BY);
        }
        self.tone(Tone::Refused);
        self.prompt();
    }

    /// Ends the walk before its end. The record stays open.
    pub(super) fn leave(&mut self, hearing: Hearing) {
        let check = self.phase.check().cloned();
        self.write_control(rules::END_WALK, check.clone(), hearing);
        self.journal(Entry::Held {
            why: wording::why::ENDED.to_owned(),
            check,
        });
        self.enter(Phase::Last(Ending::Open));
    }

    /// Where the walk stands, as spoken.
    pub(super) fn here(&self) -> String {
        match (self.phase.check(), &self.phase) {
            (Some(check), _) => self.place(check),
            (None, Phase::Calling(call)) => self.station_name(&call.station),
            (None, _) => self.ledger.route().load.clone(),
        }
    }
}
