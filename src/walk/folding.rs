//! The fold of a journal: what each entry changes of what counts.

use super::ledger::{Answer, Ledger, Noted, Opening, Tally, Unfit};
use crate::plan::CheckId;
use crate::walk::{Entry, Heard, JOURNAL_FORMAT, Note, Outcome, Stage, judge, rules};
use std::collections::BTreeSet;

/// Whether the walk can write such an entry behind `Completed`. While the last words are spoken it can be held, by a lost
/// headset say, and in that hold notes and commands are taken and everything else is refused; nothing is asked or answered.
fn may_follow_the_end(entry: &Entry) -> bool {
    match entry {
        Entry::Held { .. }
        | Entry::Carried { .. }
        | Entry::Noted { .. }
        | Entry::Refused { .. } => true,
        Entry::Control { control, .. } => !matches!(
            control.as_str(),
            rules::CORRECTION | rules::SENT_BACK | rules::LEAVE | rules::GO_BACK
        ),
        _ => false,
    }
}

impl Ledger {
    /// Takes the next entry into account. An unfit entry changes nothing.
    pub fn apply(&mut self, entry: &Entry) -> Result<(), Unfit> {
        if self.opening.is_none() != matches!(entry, Entry::Opened { .. }) {
            return Err(match self.opening {
                None => Unfit::NotOpened,
                Some(_) => Unfit::OpenedTwice,
            });
        }
        if self.completed.is_some() && !may_follow_the_end(entry) {
            return Err(Unfit::Complete);
        }
        match entry {
            Entry::Opened { .. } => self.opened(entry)?,
            Entry::Asked { check, attempt } => self.asked(check, *attempt)?,
            Entry::Calling { station, which } => self.calling(station, *which)?,
            Entry::Rhythm { checks, again, .. } => self.rhythm(checks, again.as_ref())?,
            Entry::Answered {
                check,
                value,
                outcome,
                stage,
                heard,
            } => self.take_answer(check, value, outcome, *stage, heard)?,
            Entry::Control {
                control,
                check,
                deficiency,
                ..
            } => self.control(control, check.as_ref(), deficiency.as_deref())?,
            Entry::Refused {
                check: Some(check), ..
            }
            | Entry::Doubted { check, .. } => {
                self.at(check)?;
            }
            Entry::Refused { check: None, .. } => {}
            Entry::Noted { check, note } => self.noted(check.as_ref(), note)?,
            Entry::PutRight { check, again, .. } => self.repair(check, again)?,
            Entry::Held { why, .. } => self.held = Some(why.clone()),
            Entry::Carried { .. } | Entry::Resumed { .. } => self.held = None,
            Entry::Completed { ready, .. } => self.complete(*ready)?,
        }
        self.entries += 1;
        self.renew();
        if let Entry::Answered { check, .. } = entry {
            self.wait_for_brought(check);
            self.drop_left_out();
        }
        Ok(())
    }

    fn opened(&mut self, entry: &Entry) -> Result<(), Unfit> {
        let Entry::Opened {
            format,
            inspector,
            rigger,
            plan_sha256,
            route,
            capacity,
            tryout,
            rigger_marks,
            practice,
            ..
        } = entry
        else {
            return Err(Unfit::NotOpened);
        };
        if *format != JOURNAL_FORMAT {
            return Err(Unfit::Format(*format));
        }
        let mut seen = BTreeSet::new();
        if let Some(twice) = route.checks().find(|c| !seen.insert(&c.id)) {
            return Err(Unfit::Twice(twice.id.clone()));
        }
        for (s, station) in route.stations.iter().enumerate() {
            for check in &station.checks {
                self.index.insert(check.id.clone(), self.stations.len());
                self.stations.push(s);
            }
        }
        self.tallies = vec![Tally::default(); self.stations.len()];
        self.live = vec![true; self.stations.len()];
        self.left_out = vec![false; self.stations.len()];
        self.opening = Some(Opening {
            inspector: inspector.clone(),
            rigger: rigger.clone(),
            plan_sha256: plan_sha256.clone(),
            route: (**route).clone(),
            capacity: capacity.clone(),
            tryout: tryout.as_deref().cloned(),
            rigger_marks: rigger_marks.clone(),
            practice: practice.clone(),
        });
        Ok(())
    }

    fn asked(&mut self, check: &CheckId, attempt: u32) -> Result<(), Unfit> {
        let at = self.at_open(check)?;
        self.asking = Some((at, attempt));
        self.which = false;
        // Elsewhere nothing is called off any more.
        if self.calling.is_some_and(|s| s != self.stations[at]) {
            self.calling = None;
        }
        self.unsettled = None;
        Ok(())
    }

    fn calling(&mut self, station: &str, which: bool) -> Result<(), Unfit> {
        let stations = &self.route().stations;
        let at = stations.iter().position(|s| s.key == station);
        self.calling = Some(at.ok_or_else(|| Unfit::NoSuchStation(station.to_owned()))?);
        self.which = which;
        self.asking = None;
        self.unsettled = None;
        Ok(())
    }

    fn rhythm(&mut self, checks: &[CheckId], again: Option<&CheckId>) -> Result<(), Unfit> {
        for check in checks {
            self.at(check)?;
        }
        if let Some(again) = again {
            self.take_back(self.at(again)?)?;
            self.unsettled = None;
        }
        Ok(())
    }

    fn take_answer(
        &mut self,
        check: &CheckId,
        value: &str,
        outcome: &Outcome,
        stage: Stage,
        heard: &Heard,
    ) -> Result<(), Unfit> {
        let at = self.at_open(check)?;
        // Compared by kind only, so that a deficiency may be renamed in a later version.
        let follows = self.judged_at(at, value).is_some_and(|judged| {
            std::mem::discriminant(&judged) == std::mem::discriminant(outcome)
        });
        if !follows || !judge::bears(self.check_at(at), value, heard) {
            return Err(Unfit::NotBorne {
                check: check.clone(),
                value: value.to_owned(),
            });
        }
        // What differs from what stood tells which it was.
        let tally = &mut self.tallies[at];
        let stood = tally.history.last().filter(|_| tally.stands);
        self.which &= stood.is_none_or(|a| a.value == value);
        tally.history.push(Answer {
            entry: self.entries,
            value: value.to_owned(),
            outcome: outcome.clone(),
            stage,
            heard: heard.clone(),
        });
        tally.stands = true;
        tally.fault_before = tally.fault;
        match outcome {
            Outcome::Conforming | Outcome::NotApplicable => tally.fault = false,
            // What was found, or put right, waits on for somebody who sees it.
            Outcome::NotSeen => {}
            Outcome::Deficient { .. } => tally.fault = true,
        }
        tally.put_right &= *outcome == Outcome::NotSeen;
        self.waiting.retain(|&w| w != at);
        if matches!(outcome, Outcome::Deficient { .. }) {
            self.waiting.push(at);
        }
        self.order.retain(|&o| o != at);
        self.order.push(at);
        self.again.retain(|&a| a != at);
        self.asking = None;
        self.unsettled = Some(at);
        self.unsettled_noted = false;
        Ok(())
    }

    fn control(
        &mut self,
        control: &str,
        check: Option<&CheckId>,
        deficiency: Option<&str>,
    ) -> Result<(), Unfit> {
        let at = check.map(|c| self.at(c)).transpose()?;
        match (control, at) {
            (rules::CORRECTION, Some(at)) => self.take_back(at)?,
            (rules::SENT_BACK, Some(at)) => self.send_back(at, deficiency)?,
            // The end of a hold says nothing of the check at hand.
            (rules::CARRY_ON, _) if self.held.is_some() => {}
            (rules::CARRY_ON, at) => {
                self.which = false;
                self.asking = None;
                if let Some(at) = at.filter(|&at| self.is_found(at)) {
                    // It stays deficient, and is not asked again.
                    self.again.retain(|&a| a != at);
                }
            }
            (rules::CALL_OFF, _) => self.called = Some(true),
            (rules::LED, _) => self.called = Some(false),
            _ => {}
        }
        if matches!(control, rules::CORRECTION | rules::LEAVE | rules::SENT_BACK) {
            self.waiting.retain(|&w| Some(w) != at);
            self.unsettled = None;
        }
        Ok(())
    }

    fn noted(&mut self, check: Option<&CheckId>, note: &Note) -> Result<(), Unfit> {
        let at = check.map(|c| self.at(c)).transpose()?;
        self.unsettled_noted |= at.is_some() && at == self.unsettled;
        self.notes.push(Noted {
            entry: self.entries,
            check: check.cloned(),
            note: note.clone(),
        });
        Ok(())
    }

    fn repair(&mut self, check: &CheckId, again: &[CheckId]) -> Result<(), Unfit> {
        let repaired = self.at(check)?;
        let again: Vec<usize> = again
            .iter()
            .map(|c| self.at_open(c))
            .collect::<Result<_, _>>()?;
        for at in again {
            self.waiting.retain(|&w| w != at);
            // Of what the work touched, what was deficient before stays so: that was not put right.
            if at == repaired || !self.is_found(at) {
                self.tallies[at].repaired |= self.tallies[at].fault;
                self.withdraw(at, true)?;
            }
            if !self.again.contains(&at) {
                self.again.push_back(at);
            }
        }
        self.unsettled = None;
        Ok(())
    }

    fn complete(&mut self, ready: bool) -> Result<(), Unfit> {
        if ready && !self.ready().ready {
            return Err(Unfit::NotReady);
        }
        self.completed = Some(ready);
        Ok(())
    }

    /// What an answer leaves out is asked afresh where a later answer brings it back: until then anything can
    /// have happened to it. While the check that it hangs on is open itself, nothing is dropped.
    fn drop_left_out(&mut self) {
        for left_out in self.not_asked() {
            if !left_out.undecided
                && let Ok(at) = self.at(&left_out.check)
            {
                let tally = &mut self.tallies[at];
                tally.stands = false;
                tally.repaired = false;
                tally.fault_before = false;
            }
        }
    }

    /// What an answer to another check made deficient waits to be dealt with, as what was answered so.
    fn wait_for_brought(&mut self, answered: &CheckId) {
        let this = self.entries - 1;
        for (at, tally) in self.tallies.iter().enumerate() {
            let is_brought = tally.is_found && tally.found.last().is_some_and(|(e, _)| *e == this);
            if is_brought && !self.waiting.contains(&at) && self.index.get(answered) != Some(&at) {
                self.waiting.push(at);
            }
        }
    }

    /// The last answer was not meant. What was put right is still to be looked at again.
    fn take_back(&mut self, at: usize) -> Result<(), Unfit> {
        let waits = self.again.contains(&at) && !self.is_found(at);
        let repaired = self.tallies[at].repaired;
        self.withdraw(at, waits || repaired)?;
        if repaired && !self.again.contains(&at) {
            self.again.push_front(at);
        }
        Ok(())
    }

    /// The last answer no longer stands; it stays in the history.
    pub(super) fn withdraw(&mut self, at: usize, put_right: bool) -> Result<(), Unfit> {
        if self.completed.is_some() {
            return Err(Unfit::Complete);
        }
        let tally = &mut self.tallies[at];
        tally.fault |= tally.stands && tally.fault_before;
        tally.stands = false;
        tally.put_right = put_right;
        Ok(())
    }
}
