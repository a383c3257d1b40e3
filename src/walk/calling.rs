//! Findings called off: the inspector sets the pace, the tool takes what is sure and asks the rest.
//!
//! Each item of a breath is judged by itself. What is sure and conforms is written down at once and read
//! back with others when the inspector falls silent. What is deficient, or may be, stops the flow. What is
//! not sure, or was not called, is asked as in the led walk.

use super::breath::Finding;
use super::called::as_asked;
use super::machine::Walk;
use super::phase::{Call, Patience, Phase};
use super::wording;
use crate::plan::{Check, CheckId, Station};
use crate::walk::{Called, Entry, Hearing, Outcome, Phrase, Tone, judge, rules};

impl Walk {
    /// Goes to an open check: its station is called off, or it is asked.
    pub(super) fn go_to(&mut self, check: CheckId) {
        let station = self.ledger.locate(&check).map(|(s, _)| s.key.clone());
        if let Some(station) = station.as_ref().filter(|s| self.is_all_called(s)) {
            self.called_out = Some(station.clone());
        }
        let Some(station) = station.filter(|s| self.calls(s)) else {
            self.read_taken();
            return match self.together(&check) {
                Some(doubts) => self.enter(Phase::ConfirmingTogether(doubts)),
                None => self.ask_or_confirm(check),
            };
        };
        let here = |p: &CheckId| self.ledger.locate(p).is_some_and(|(s, _)| s.key == station);
        if !self.pending.iter().all(here) {
            self.read_taken();
        }
        self.enter(Phase::Calling(Call {
            station,
            which: Vec::new(),
            begun: false,
        }));
    }

    /// Whether findings are called off at this station now.
    fn calls(&self, station: &str) -> bool {
        let chosen = self.ledger.called;
        self.called_out.as_deref() != Some(station)
            && chosen.unwrap_or_else(|| self.settings.called.holds(station))
    }

    /// Asks whether a doubtful answer was meant, or puts the check.
    pub(super) fn ask_or_confirm(&mut self, check: CheckId) {
        match self.doubts.remove(&check) {
            Some(doubt) => self.enter(Phase::Confirming(doubt)),
            None => self.enter(Phase::Asking(check)),
        }
    }

    pub(super) fn station_name(&self, key: &str) -> String {
        let station = self.called_station(key);
        station.map_or_else(String::new, |s| s.name.clone())
    }

    fn called_station(&self, key: &str) -> Option<Station> {
        let stations = &self.ledger.route().stations;
        stations.iter().find(|s| s.key == key).cloned()
    }

    /// Opens a station for calls, or says how to go on.
    pub(super) fn prompt_call(&mut self, call: &Call, refused: u32) {
        let Some(station) = self.called_station(&call.station) else {
            return;
        };
        let arrives = self.station.as_ref() != Some(&station.key);
        if arrives {
            self.station = Some(station.key.clone());
            self.say(Phrase::Tell, wording::arrive(&station));
        }
        self.journal(Entry::Calling {
            station: station.key.clone(),
            which: call.asks_which(),
        });
        let text = if call.asks_which() {
            wording::which(&station.name, refused > 0)
        } else if refused > 0 {
            match self.station_before(&station) {
                Some(before) if !call.begun => wording::call_unclear_here(&station.name, &before),
                _ => wording::CALL_UNCLEAR.to_owned(),
            }
        } else if arrives {
            wording::CALL.to_owned()
        } else {
            wording::CALL_ON.to_owned()
        };
        self.say(Phrase::Ask, text);
    }

    /// The name of the station of the last answer, where that is another than this one.
    fn station_before(&self, here: &Station) -> Option<String> {
        let (last, _) = self.ledger.last_answer()?;
        let (before, _) = self.ledger.locate(&last.id)?;
        (before.key != here.key).then(|| before.name.clone())
    }

    /// A breath on the open listen. `answers`: whether the station was open already.
    pub(super) fn breath(&mut self, called: Called, answers: bool) {
        let Phase::Calling(call) = self.phase.clone() else {
            return self.write_all_refused(called);
        };
        if self.hold.is_some() || (self.is_speaking() && !answers) {
            return self.write_all_refused(called);
        }
        self.interrupt();
        let Some(station) = self.called_station(&call.station) else {
            return self.refuse(called.whole);
        };
        if called.items.is_empty() {
            return self.refuse(called.whole);
        }
        let breath = self.taken_apart(&station, called.items);
        // Until it is told which of several was wrong, nothing goes on.
        let in_question = &call.which;
        // The same said once more tells nothing.
        let changes = |f: &Finding| {
            let check = station.checks.iter().find(|c| c.id == f.check);
            let said = check.and_then(|c| judge::answer(c, &as_asked(c, &f.value)));
            said != self.ledger.standing(&f.check).map(|a| a.value.clone())
        };
        let stands = |check: &CheckId| self.ledger.standing(check).is_some();
        let told = !call.asks_which()
            || breath
                .named
                .as_ref()
                .is_some_and(|(check, _)| stands(check))
            || breath
                .findings
                .iter()
                .any(|f| in_question.contains(&f.check) && changes(f));
        let understood =
            !breath.findings.is_empty() || breath.control.is_some() || breath.named.is_some();
        let mut taken = Vec::new();
        let mut unasked = Vec::new();
        for mut finding in breath.findings {
            finding.instead |= in_question.contains(&finding.check);
            self.take(&station, finding, &mut taken, &mut unasked);
        }
        self.stop_for_unasked(unasked);
        for (check, hearing) in breath.rest {
            self.journal(Entry::Refused { check, hearing });
        }
        if !understood {
            return self.unclear();
        }
        if told {
            self.patience = Patience::default();
        }
        if called.more {
            self.say(Phrase::Tell, wording::MORE_WAS_SAID.to_owned());
        }
        self.phase = Phase::Calling(Call {
            which: if told { Vec::new() } else { call.which },
            begun: true,
            station: call.station,
        });
        if !taken.is_empty() {
            self.tone(Tone::Heard);
        }
        if told && self.watch_rhythm(&taken) {
            // One more look is asked for; a "stand by" behind what was called counts all the same.
            return match (breath.control, breath.named) {
                (Some((control, sure, hearing)), _) => self.control(&control, sure, hearing),
                (None, Some((check, hearing))) => self.journal(Entry::Refused {
                    check: Some(check),
                    hearing,
                }),
                (None, None) => {}
            };
        }
        match (breath.control, breath.named) {
            (Some((control, sure, hearing)), _) => self.control(&control, sure, hearing),
            (None, Some((check, hearing))) if told => self.named(check, hearing),
            (None, Some((check, hearing))) => {
                let place = self.place(&check);
                self.journal(Entry::Refused {
                    check: Some(check),
                    hearing,
                });
                self.say(Phrase::Tell, wording::no_answer_yet(&place));
                self.which_again();
            }
            (None, None) if told => self.call_on(),
            (None, None) => self.which_again(),
        }
    }

    /// Something was said where it was asked which of several answers was wrong, and did not tell it.
    pub(super) fn which_again(&mut self) {
        self.unclear();
    }

    /// What was said where nothing could be called.
    fn write_all_refused(&mut self, called: Called) {
        if called.items.is_empty() {
            return self.write_refused(called.whole);
        }
        for hearing in called.items {
            self.journal(Entry::Refused {
                check: None,
                hearing,
            });
        }
    }

    /// Goes on listening, unless something must be asked or the station has every outcome.
    fn call_on(&mut self) {
        let Phase::Calling(call) = &self.phase else {
            return;
        };
        let next = self.ledger.next_open().map(|c| c.id.clone());
        let here = next.is_some_and(|c| {
            let found = self.ledger.locate(&c);
            found.is_some_and(|(s, _)| s.key == call.station) && !self.ledger.is_put_right(&c)
        });
        if !here
            || !self.fresh.is_empty()
            || !self.urgent.is_empty()
            || self.is_all_called(&call.station)
        {
            self.advance();
        }
    }

    /// Reads back together what was called off and not read back yet.
    pub(super) fn read_taken(&mut self) {
        let spoken = |id| self.saying.iter().any(|s| Some(s.id) == id);
        if self.compact.is_some() && spoken(self.compact) {
            return;
        }
        let ledger = &self.ledger;
        self.pending.retain(|p| {
            let outcome = ledger.outcome(p);
            outcome.is_some_and(|o| !matches!(o, Outcome::Deficient { .. }))
        });
        let items: Vec<(&Check, String)> = self
            .pending
            .iter()
            .filter_map(|p| {
                let (station, check) = self.ledger.locate(p)?;
                let answer = self.ledger.standing(p)?;
                Some((check, wording::taken_item(station, check, &answer.value)))
            })
            .collect();
        if items.is_empty() {
            return;
        }
        let open = self.left_at_the_station();
        let text = wording::taken(&items, open.as_deref());
        self.batch = self.pending.clone();
        self.compact = Some(self.say(Phrase::ReadBack, text));
    }

    /// Names of the checks that have no outcome at the station whose findings wait to be read back; `None`
    /// where it has answers that are not among these.
    fn left_at_the_station(&self) -> Option<Vec<&str>> {
        let (station, _) = self.ledger.locate(self.pending.first()?)?;
        let mut left = Vec::new();
        for check in &station.checks {
            let waits = self.pending.contains(&check.id);
            if !waits && self.ledger.applies(&check.id) {
                let open = self.ledger.outcome(&check.id).is_none();
                left.push(open.then_some(check.name.as_str())?);
            }
        }
        let is_here = |p: &CheckId| station.checks.iter().any(|c| c.id == *p);
        self.pending.iter().all(is_here).then_some(left)
    }

    /// Nothing more is called at the station: what was taken is read back, the rest is asked.
    pub(super) fn call_ended(&mut self) {
        if let Phase::Calling(call) = &self.phase {
            self.called_out = Some(call.station.clone());
        }
        self.advance();
    }

    /// Obeys a command about who sets the pace.
    pub(super) fn pace(&mut self, control: &str, hearing: Hearing) {
        let calling = matches!(self.phase, Phase::Calling(_));
        if control == rules::DONE && !calling {
            return self.refuse(hearing);
        }
        let check = self.phase.check().cloned();
        self.write_control(control, check, hearing);
        match (control, self.phase.clone()) {
            (rules::CALL_OFF, Phase::Asking(_) | Phase::Confirming(_)) => {
                self.called_out = None;
                self.advance();
            }
            (rules::DONE | rules::LED, Phase::Calling(call)) if call.asks_which() => {
                self.which_again();
            }
            (rules::DONE | rules::LED, Phase::Calling(_)) => self.call_ended(),
            _ => self.prompt(),
        }
    }

    /// Whether "correction" may mean any of several answers read back together.
    pub(super) fn several_to_correct(&self) -> bool {
        self.to_correct().len() > 1
    }

    /// What "correction" may mean, in the order of its station: at a station that was just begun any answer of the one
    /// before, since the inspector does not know which of them the tool heard last; else what was read back together.
    fn to_correct(&self) -> Vec<CheckId> {
        let Some((last, _)) = self.ledger.last_answer() else {
            return Vec::new();
        };
        if let Phase::Calling(call) = &self.phase
            && let Some((before, _)) = self.ledger.locate(&last.id)
            && before.key != call.station
            && self.is_untouched(&call.station)
        {
            let standing = |id: &&CheckId| self.ledger.standing(id).is_some();
            let checks = before.checks.iter().map(|c| &c.id);
            return checks.filter(standing).cloned().collect();
        }
        let read = [&self.pending, &self.batch];
        let among = read.into_iter().find(|list| list.contains(&last.id));
        among.cloned().unwrap_or_default()
    }

    /// Whether nothing was ever answered at a station.
    pub(super) fn is_untouched(&self, station: &str) -> bool {
        let stations = &self.ledger.route().stations;
        let here = stations.iter().find(|s| s.key == station);
        here.is_some_and(|s| {
            let mut histories = s.checks.iter().map(|c| self.ledger.history(&c.id));
            histories.all(|history| history.is_empty())
        })
    }

    /// Asks which of several answers was wrong. Until it is told, nothing goes on.
    pub(super) fn ask_which(&mut self, hearing: Hearing) {
        let which = self.to_correct();
        let found = which
            .last()
            .and_then(|l| self.ledger.locate(l).map(|(s, _)| s.key.clone()));
        let Some(station) = found else {
            return self.refuse(hearing);
        };
        self.write_control(rules::CORRECTION, None, hearing);
        self.station = Some(station.clone());
        self.enter(Phase::Calling(Call {
            station,
            which,
            begun: false,
        }));
    }

    /// After a break: what was called off at the station at hand is read back again, since the read-back
    /// may not have been heard.
    pub(super) fn take_up_calls(&mut self) {
        let Some(at) = self.ledger.calling else {
            return;
        };
        let station = &self.ledger.route().stations[at];
        let answered = station.checks.iter().map(|c| &c.id);
        self.pending = answered
            .filter(|id| self.ledger.standing(id).is_some())
            .cloned()
            .collect();
    }
}
