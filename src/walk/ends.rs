//! Beginning, taking up again, closing: the two ends of a walk.

use super::machine::Walk;
use super::phase::{Call, Phase};
use super::wording;
use crate::plan::CheckId;
use crate::walk::{Advice, Effect, Ending, Entry, Hearing, Manner, Outcome, Phrase, Verdict};

/// Checks read out where a walk is broken off; all of them are in the record.
const READ_OUT: usize = 5;

impl Walk {
    pub(super) fn begin(&mut self) {
        if let Some(ready) = self.ledger.completed() {
            self.phase = Phase::Last(if ready {
                Ending::Ready
            } else {
                Ending::NotReady
            });
            return;
        }
        if self.settings.manner != Manner::default() {
            self.push(Effect::Manner(self.settings.manner), 0);
        }
        if self.restored {
            self.resume();
        } else {
            self.open();
            if self.settings.reminder_ms > 0 {
                self.enter(Phase::Heeding);
            } else {
                self.advance();
            }
        }
        if let Some(why) = self.early.take() {
            self.hold_outside(&why);
        }
    }

    /// The words before the first check. A capacity failure is spoken before all else.
    fn open(&mut self) {
        self.say_practice();
        self.say_capacity();
        let route = self.ledger.route();
        let checks = route.checks().count();
        let up_to = self.ledger.open_points().len() < checks;
        let load = wording::load(&route.load, checks, up_to, route.stations.len());
        self.say(Phrase::Tell, load);
        self.say_looks();
        if self.settings.caution {
            self.say(Phrase::Tell, wording::CAUTION);
        }
        self.say_turns();
        self.say_tryout();
    }

    fn say_practice(&mut self) {
        if self.ledger.practice().is_some() {
            self.say(Phrase::Tell, wording::PRACTICE);
        }
    }

    /// What was found of what was planted.
    fn say_debrief(&mut self) {
        let faults = self.ledger.planted_faults();
        let found = faults.iter().filter(|f| f.verdict.is_found()).count();
        self.say(Phrase::Tell, wording::found_of(found, faults.len()));
        for fault in &faults {
            let text = match fault.verdict {
                Verdict::Found => continue,
                Verdict::FoundOtherwise => wording::found_otherwise(&fault.deficiency),
                other => wording::not_found(other.words(), &fault.deficiency),
            };
            self.say(Phrase::Tell, text);
        }
        for other in self.ledger.unplanted() {
            self.say(Phrase::Tell, wording::not_planted(&other.deficiency));
        }
        self.say(Phrase::Tell, wording::PRACTICE_OVER);
    }

    /// Which of both is active.
    fn say_turns(&mut self) {
        if self.settings.tells_turns {
            let text = if self.settings.talk_over {
                wording::TALK_OVER
            } else {
                wording::BY_TURNS
            };
            self.say(Phrase::Tell, text);
        }
    }

    fn say_tryout(&mut self) {
        match self.advice() {
            Some(Advice::NoVoice) => self.say(Phrase::Tell, wording::NO_VOICE),
            Some(Advice::ConfirmMore) => self.say(Phrase::Tell, wording::CONFIRM_MORE),
            Some(Advice::RelyOnVoice) | None => return,
        };
    }

    /// What the tryout before this walk advises.
    pub(super) fn advice(&self) -> Option<Advice> {
        let before = self.ledger.opening()?.tryout.as_ref().map(|t| t.advice);
        before.max(self.settings.advice)
    }

    /// Whether a spoken answer is asked back whatever its evidence: where a tryout found that voice cannot be relied on,
    /// nothing conforms by one utterance alone.
    pub(super) fn wary_of(&self, check: &CheckId, value: &str, hearing: &Hearing) -> bool {
        let doubts = self.advice().is_some_and(|a| a != Advice::RelyOnVoice);
        doubts && !hearing.clip.is_empty() && self.ledger.may_conform(check, value)
    }

    fn say_capacity(&mut self) {
        let Some(opening) = self.ledger.opening() else {
            return;
        };
        for text in wording::capacity_failed(&opening.route.load, &opening.capacity) {
            self.say(Phrase::Tell, text);
        }
    }

    /// What of the figures wants a look; nothing where one of them fails, which says more.
    fn say_looks(&mut self) {
        let lines = self.ledger.opening().map_or(&[][..], |o| &o.capacity);
        if lines.iter().any(|l| !l.passes) {
            return;
        }
        for text in wording::looks(lines) {
            self.say(Phrase::Tell, text);
        }
    }

    /// Goes on where an earlier process was broken off. The last answer is read back again, since
    /// its read-back may not have been heard.
    fn resume(&mut self) {
        let last = self
            .ledger
            .unsettled
            .map(|at| self.ledger.check_at(at).id.clone());
        let asking = self.ledger.asking.map(|(at, _)| at);
        let asked = asking.filter(|&at| self.ledger.live[at]);
        let which = self.ledger.calling.filter(|_| self.ledger.which);
        let which = which.map(|at| {
            let station = &self.ledger.route().stations[at];
            let ids = station.checks.iter().map(|c| c.id.clone());
            let answered = ids.filter(|id| self.ledger.standing(id).is_some());
            (station.key.clone(), answered.collect::<Vec<_>>())
        });
        let which = which.filter(|(_, answered)| !answered.is_empty());
        let phase = match (last, asked) {
            // It was asked which of several answers was wrong: until that is told nothing goes on.
            _ if which.is_some() => which.map(|(station, which)| {
                Phase::Calling(Call {
                    station,
                    which,
                    begun: false,
                })
            }),
            (Some(last), _) => {
                self.fresh.extend(self.deficient_with(&last));
                None
            }
            (None, Some(at)) => Some(Phase::Asking(self.ledger.check_at(at).id.clone())),
            (None, None) => None,
        };
        // What was found before and waited for its turn waits on.
        for &at in &self.ledger.waiting {
            let check = &self.ledger.check_at(at).id;
            let stands = matches!(self.ledger.outcome(check), Some(Outcome::Deficient { .. }));
            if stands && !self.fresh.contains(check) {
                self.fresh.push_back(check.clone());
            }
        }
        let next = match &phase {
            // Nothing goes on there.
            Some(Phase::Calling(call)) if call.asks_which() => None,
            Some(phase) => phase.check().cloned().or_else(|| self.next_open()),
            None => self.fresh.front().cloned().or_else(|| self.next_open()),
        };
        self.take_up_calls();
        self.journal(Entry::Resumed {
            check: next.clone(),
        });
        self.say_practice();
        self.say_capacity();
        let load = wording::resuming(&self.ledger.route().load);
        self.say(Phrase::Tell, load);
        if let Some(text) = self.last_answer() {
            self.say(Phrase::ReadBack, text);
        } else if self.settings.caution {
            self.say(Phrase::Tell, wording::CAUTION);
        }
        self.say_turns();
        self.say_tryout();
        // A note that was already kept is not asked for again.
        let phase = match phase {
            None if self.ledger.unsettled_noted => self.fresh.pop_front().map(Phase::Fixing),
            phase => phase,
        };
        self.taken_up = Some((next, phase));
        if self.settings.reminder_ms > 0 {
            self.enter(Phase::Heeding);
        } else {
            self.heeded();
        }
    }

    /// Goes on from the reminder, or from where there was none.
    pub(super) fn heeded(&mut self) {
        let Some((next, phase)) = self.taken_up.take() else {
            return self.advance();
        };
        if let Some(next) = &next {
            self.announce(next);
        }
        match phase {
            Some(phase) => self.enter(phase),
            None => self.advance(),
        }
    }

    fn next_open(&self) -> Option<CheckId> {
        self.ledger.next_open().map(|c| c.id.clone())
    }

    /// Closes the walk: the verdict is written down, then spoken.
    pub(super) fn close(&mut self) {
        let ready = self.ledger.ready();
        self.journal(Entry::Completed {
            ready: ready.ready,
            against: ready.against(),
        });
        let ending = if ready.ready {
            Ending::Ready
        } else {
            Ending::NotReady
        };
        self.enter(Phase::Last(ending));
    }

    pub(super) fn verdict(&mut self, ending: Ending) {
        let ready = self.ledger.ready();
        self.say_capacity();
        let open = ready.open.iter();
        let open: Vec<String> = open
            .map(|o| wording::open(&o.place, o.why.words()))
            .collect();
        let unseen = open.len();
        let broken_off = ending == Ending::Open;
        let read_out = if broken_off { READ_OUT } else { unseen };
        self.say_list(
            &ready
                .deficiencies
                .iter()
                .map(|d| d.name.clone())
                .collect::<Vec<_>>(),
        );
        for text in open.iter().take(read_out) {
            self.say(Phrase::Tell, wording::listed(text));
        }
        if unseen > read_out {
            self.say(Phrase::Tell, wording::and_more(unseen - read_out));
        }
        for place in &ready.not_applicable {
            let text = wording::listed(&wording::open(place, "called not applicable"));
            self.say(Phrase::Tell, text);
        }
        if ready.practice && !broken_off {
            self.say_debrief();
        } else if ending == Ending::Ready {
            self.say_looks();
            let notes = self.ledger.notes().iter();
            let spoken = notes.filter(|n| n.check.is_some()).count();
            if spoken > 0 {
                self.say(Phrase::Tell, wording::notes_taken(spoken));
            }
            self.say(Phrase::Tell, wording::READY);
        } else {
            let unanswered = if broken_off { unseen } else { 0 };
            let text = wording::not_ready(
                ready.deficiencies.len(),
                unanswered,
                unseen - unanswered,
                ready.capacity.len(),
            );
            self.say(Phrase::Tell, text);
        }
        let last = if broken_off {
            wording::CAN_RESUME
        } else {
            wording::COMPLETE
        };
        self.say(Phrase::Tell, last);
    }

    /// Reads deficiencies out, one phrase each.
    pub(super) fn say_list(&mut self, deficiencies: &[String]) {
        self.say(Phrase::Tell, wording::deficiency_count(deficiencies.len()));
        for text in deficiencies {
            self.say(Phrase::Tell, wording::listed(text));
        }
    }
}
