//! The course of a walk: what is asked next, and what an answer leads to.

use super::machine::Walk;
use super::phase::{Doubt, Patience, Phase, Then};
use super::wording;
use crate::plan::CheckId;
use crate::walk::{
    Decision, Entry, Heard, Hearing, Listen, Meaning, Note, Outcome, Phrase, Stage, Tone,
    called_items, judge, rules,
};

impl Walk {
    /// Says where the walk goes on; the station's arrival words are not repeated.
    pub(super) fn announce(&mut self, check: &CheckId) {
        let text = wording::carrying_on(&self.place(check));
        self.station = self.ledger.locate(check).map(|(s, _)| s.key.clone());
        self.say(Phrase::Tell, text);
    }

    pub(super) fn last_answer(&self) -> Option<String> {
        let (check, _) = self.ledger.last_answer()?;
        self.standing_words(&check.id)
    }

    /// The answer that stands at the check, as spoken.
    pub(super) fn standing_words(&self, id: &CheckId) -> Option<String> {
        let answer = self.ledger.standing(id)?;
        let (station, check) = self.ledger.locate(id)?;
        let outcome = self.ledger.outcome(&check.id)?;
        Some(wording::last_answer(
            station,
            check,
            &answer.value,
            &outcome,
        ))
    }

    /// Station and check as spoken; the load where the check is not known.
    pub(super) fn place(&self, check: &CheckId) -> String {
        self.ledger.locate(check).map_or_else(
            || self.ledger.route().load.clone(),
            |(station, check)| wording::place(station, check),
        )
    }

    /// The next thing to do: re-inspection, a fresh deficiency, the next open check, the end.
    pub(super) fn advance(&mut self) {
        let next = self.ledger.next_open().map(|c| c.id.clone());
        if let Some(again) = next.as_ref().filter(|c| self.ledger.is_put_right(c)) {
            self.read_taken();
            if !matches!(self.phase, Phase::Asking(_) | Phase::Confirming(_)) {
                self.say(Phrase::Tell, wording::REINSPECT);
            }
            return self.enter(Phase::Asking(again.clone()));
        }
        while let Some(check) = self.fresh.pop_front() {
            let stands = matches!(self.ledger.outcome(&check), Some(Outcome::Deficient { .. }));
            if stands && !self.settings.brief {
                return self.enter(Phase::Noting {
                    about: Some(check.clone()),
                    then: Then::Fix(check),
                });
            }
        }
        while let Some(check) = self.urgent.pop_front() {
            if self.ledger.applies(&check) {
                return self.ask_or_confirm(check);
            }
        }
        match next {
            Some(check) => self.go_to(check),
            None => {
                self.read_taken();
                self.enter(Phase::Closing);
            }
        }
    }

    /// Puts a new question.
    pub(super) fn enter(&mut self, phase: Phase) {
        self.patience = Patience::default();
        self.phase = phase;
        self.prompt();
    }

    /// Puts the question of the phase, or puts it again.
    pub(super) fn prompt(&mut self) {
        let refused = self.patience.refused;
        match self.phase.clone() {
            Phase::Asking(id) => self.ask(&id, refused),
            // What was denied is asked before anything more is called, whatever was said behind it.
            Phase::Calling(call) if !call.asks_which() && !self.urgent.is_empty() => self.advance(),
            Phase::Calling(call) => self.prompt_call(&call, refused),
            Phase::Confirming(Doubt {
                check,
                value,
                called,
                ..
            }) => {
                if let Some((_, check)) = self.ledger.locate(&check) {
                    let mut text = wording::did_you_say(check, &value, refused);
                    if called {
                        text = wording::of_item(&check.name, &text);
                    }
                    self.say(Phrase::Ask, text);
                }
            }
            Phase::ConfirmingTogether(doubts) => self.prompt_together(&doubts),
            Phase::Noting { about, .. } => {
                let last = self.ledger.last_answer().map(|(c, _)| c.id.clone());
                let place = about.filter(|a| Some(a) != last.as_ref());
                let place = place.map(|c| self.place(&c));
                self.say(Phrase::Ask, wording::note(place.as_deref()));
            }
            Phase::Fixing(_) => {
                let again = refused > 0;
                let text = if again {
                    wording::FIXING_AGAIN
                } else {
                    wording::FIXING
                };
                self.say(Phrase::Ask, text);
            }
            Phase::Closing => {
                let ready = self.ledger.ready();
                // At the close every open point is one that was not seen.
                let text = wording::close(ready.deficiencies.len(), ready.open.len(), refused);
                self.say(Phrase::Ask, text);
            }
            Phase::Leaving(_) => {
                let text = wording::leave(self.ledger.open_points().len(), refused);
                self.say(Phrase::Ask, text);
            }
            Phase::Last(ending) => self.verdict(ending),
            Phase::Heeding => {
                self.say(Phrase::Ask, wording::REMINDER);
            }
            Phase::Fresh | Phase::Done => {}
        }
    }

    fn ask(&mut self, id: &CheckId, refused: u32) {
        let Some((station, check)) = self.ledger.locate(id) else {
            return;
        };
        let arrive = (self.station.as_ref() != Some(&station.key))
            .then(|| (station.key.clone(), wording::arrive(station)));
        let question = wording::ask(check, refused, self.settings.typed);
        if let Some((key, text)) = arrive {
            self.station = Some(key);
            self.say(Phrase::Tell, text);
        }
        self.journal(Entry::Asked {
            check: id.clone(),
            attempt: self.ledger.attempts(id) + 1,
        });
        self.say(Phrase::Ask, question);
    }

    /// What to listen for in this phase.
    pub(super) fn listen(&self, id: u64) -> Listen {
        let mut listen = Listen::control(id);
        if self.hold.is_some() {
            return listen;
        }
        let mut add = |rule: &str| listen.rules.insert(0, rule.to_owned());
        match &self.phase {
            Phase::Asking(check) | Phase::Confirming(Doubt { check, .. }) => {
                if matches!(self.phase, Phase::Confirming(_)) {
                    add(rules::YES_NO);
                }
                if let Some((_, check)) = self.ledger.locate(check) {
                    add(judge::answer_rule(&check.kind));
                    listen.states = judge::state_forms(&check.kind);
                    listen.noun = judge::noun(&check.kind).map(str::to_owned);
                }
            }
            Phase::Calling(call) => {
                let route = self.ledger.route();
                let station = route.stations.iter().find(|s| s.key == call.station);
                listen.items = station.map(called_items).unwrap_or_default();
            }
            Phase::Fixing(_) => add(rules::FIXING),
            Phase::Closing => {
                add(rules::YES_NO);
                if !self.ledger.deficiencies().is_empty() {
                    add(rules::FIXING);
                }
            }
            Phase::ConfirmingTogether(_) | Phase::Leaving(_) => add(rules::YES_NO),
            Phase::Noting { .. } => listen.free = true,
            Phase::Fresh | Phase::Heeding | Phase::Last(_) | Phase::Done => {}
        }
        listen
    }

    /// Writes an answer down, reads it back and goes on.
    pub(super) fn accept(&mut self, check: &CheckId, value: &str, heard: Heard) {
        // Both were looked up in this ledger before the answer came here.
        let Some(outcome) = self.ledger.would_be(check, value) else {
            return;
        };
        // The read-back follows at once and tells more than a tone before it, which would delay it.
        let stage = match self.ledger.stage(check) {
            // The same said twice is no correction.
            Stage::Correction if self.ledger.last_value(check) == Some(value) => Stage::Walk,
            stage => stage,
        };
        let spoken = !heard.hearing.clip.is_empty();
        self.taken = vec![check.clone()];
        self.batch.clear();
        self.write_answer(check, value, &outcome, heard, Some(stage));
        let answered = [(check.clone(), value.to_owned())];
        if !(spoken && self.watch_rhythm(&answered)) {
            self.advance();
        }
    }

    /// Writes an answer down with all that follows from it. `aloud`: reads it back by itself, as of that
    /// stage; an answer that is not read back here waits to be read back with others.
    pub(super) fn write_answer(
        &mut self,
        check: &CheckId,
        value: &str,
        outcome: &Outcome,
        heard: Heard,
        aloud: Option<Stage>,
    ) {
        let stage = self.ledger.stage(check);
        let before = self.ledger.deficiencies();
        let behind = self.ledger.left_behind();
        self.doubts.remove(check);
        self.pending.retain(|p| p != check);
        self.journal(Entry::Answered {
            check: check.clone(),
            value: value.to_owned(),
            outcome: outcome.clone(),
            stage,
            heard,
        });
        match (aloud, self.ledger.locate(check)) {
            (Some(stage), Some((station, c))) => {
                let text = wording::read_back(station, c, value, outcome, stage);
                self.unread = Some(check.clone());
                self.say(Phrase::ReadBack, text);
            }
            _ => self.pending.push(check.clone()),
        }
        self.say_effect(check, outcome);
        // What an answer leaves out is asked afresh where it comes back, and no half of an answer waits for it.
        let ledger = &self.ledger;
        self.doubts
            .retain(|half_heard, _| ledger.applies(half_heard));
        // An answer can leave out a check that was deficient; that is no repair, and it stays.
        for left in self.ledger.left_behind() {
            if left.check != *check && !behind.contains(&left) {
                self.say(Phrase::Tell, wording::still_deficient(&left.name));
            }
        }
        // An answer can make another check deficient that is compared with it.
        let brought: Vec<_> = self
            .ledger
            .deficiencies()
            .into_iter()
            .filter(|d| d.check != *check && !before.contains(d))
            .collect();
        if matches!(outcome, Outcome::Deficient { .. }) {
            self.fresh.retain(|f| f != check);
            self.fresh.push_front(check.clone());
        }
        for deficiency in brought {
            self.say(Phrase::Tell, wording::also_deficient(&deficiency.name));
            self.fresh.retain(|f| *f != deficiency.check);
            self.fresh.push_back(deficiency.check);
        }
    }

    /// The check, if deficient, and the deficient checks that are compared with it.
    pub(super) fn deficient_with(&self, check: &CheckId) -> Vec<CheckId> {
        let compared = |c: &CheckId| {
            let found = self.ledger.locate(c);
            found.is_some_and(|(_, c)| c.compare.as_ref().is_some_and(|o| o.with == *check))
        };
        let deficient = self.ledger.deficiencies().into_iter().map(|d| d.check);
        deficient.filter(|c| c == check || compared(c)).collect()
    }

    pub(super) fn note_heard(&mut self, note: Note) {
        let Phase::Noting { about, then } = self.phase.clone() else {
            return;
        };
        if self.hold.is_some() {
            return;
        }
        if declines(&note) {
            return self.heard(declined(note), true);
        }
        self.interrupt();
        self.tone(Tone::Heard);
        self.journal(Entry::Noted { check: about, note });
        self.say(Phrase::Tell, wording::NOTED);
        self.follow(then);
    }

    /// Comes back from an aside.
    pub(super) fn follow(&mut self, then: Then) {
        match then {
            Then::Fix(check) => self.enter(Phase::Fixing(check)),
            Then::Back(phase) => self.enter(*phase),
            Then::Hold(phase) => self.hold_again(*phase),
        }
    }

    /// Opens the deficient check and those that the repair touches; they are asked at once.
    pub(super) fn put_right(&mut self, check: &CheckId, hearing: &Hearing) {
        let mut again = vec![check.clone()];
        self.doubts.remove(check);
        if let Some((_, c)) = self.ledger.locate(check) {
            // A repair that makes two answers agree may have been made at either.
            let with = c.compare.iter().map(|o| &o.with);
            let beside = c.touches.iter().chain(with);
            for other in beside.clone() {
                // What was half heard before the work tells nothing of it now.
                self.doubts.remove(other);
            }
            for other in beside {
                // Also what does not apply just now: a repair told before this one may have opened what it hangs on.
                let asked = !self.ledger.history(other).is_empty();
                if asked && !again.contains(other) {
                    again.push(other.clone());
                }
            }
        }
        self.journal(Entry::PutRight {
            check: check.clone(),
            again,
            hearing: hearing.clone(),
        });
    }
}

/// Whether a note says that there is none. Its sound is kept with the command in any case.
fn declines(note: &Note) -> bool {
    let text = note.machine_transcript.to_lowercase();
    let words: Vec<&str> = text
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .collect();
    matches!(words[..], ["no"] | ["no", "note" | "notes"])
}

/// A declined note as the command that it stands for.
fn declined(note: Note) -> Hearing {
    Hearing {
        decision: Decision::Take {
            meaning: Meaning {
                rule: rules::CONTROL.to_owned(),
                value: rules::CARRY_ON.to_owned(),
            },
        },
        words: note.machine_transcript,
        // A transcript is not weighed against anything else.
        confidence: if note.typed { 1.0 } else { 0.0 },
        clip: note.clip,
        clip_sha256: note.clip_sha256,
        snr_db: None,
        others: Vec::new(),
    }
}
