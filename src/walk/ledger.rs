//! What counts, derived from entries alone: answers that stand, deficiencies, open points, notes.
//!
//! A ledger is the fold of a journal. The walk keeps one while it runs; `show`, the report and the
//! verification build the same one from the record. Reads are in `reading.rs`.

use super::reviewed::InReview;
use crate::plan::{Check, CheckId, Route, Station};
use crate::walk::{
    CapacityLine, Entry, Heard, JOURNAL_FORMAT, Note, Outcome, Practice, Stage, Tryout, judge,
    rules,
};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// How a walk was opened.
#[derive(Clone, Debug, PartialEq)]
pub struct Opening {
    /// Who inspects.
    pub inspector: String,
    /// Who rigged; never the inspector.
    pub rigger: String,
    /// SHA-256 of the plan file's bytes, lower-case hex.
    pub plan_sha256: String,
    /// What is asked.
    pub route: Route,
    /// The capacity questions with their verdicts. With none, a walk cannot end ready.
    pub capacity: Vec<CapacityLine>,
    /// What trying headset and voice out came to shortly before, where that was done.
    pub tryout: Option<Tryout>,
    /// What the rigger says of checks, where that was given. Never spoken, and no answer.
    pub rigger_marks: BTreeMap<CheckId, String>,
    /// What was planted, of a practice walk: it vouches for nothing and cannot end ready.
    pub practice: Option<Practice>,
}

/// One answer to one check, with the way it was heard.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Number of its entry, from 0.
    pub entry: u64,
    /// Its value.
    pub value: String,
    /// What it made of the check when it was given. [`Ledger::outcome`] gives what holds now.
    pub outcome: Outcome,
    /// Where in the work it was given.
    pub stage: Stage,
    /// How it was heard.
    pub heard: Heard,
}

/// A note and what it belongs to.
#[derive(Clone, Debug, PartialEq)]
pub struct Noted {
    /// Number of its entry, from 0.
    pub entry: u64,
    /// The check it belongs to; `None`: the load.
    pub check: Option<CheckId>,
    /// The note.
    pub note: Note,
}

/// Why an entry does not follow from those before it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unfit {
    /// Another entry comes before `Opened`.
    #[error("the walk was not opened; start the record again with `loadwalk walk`")]
    NotOpened,
    /// A second `Opened`.
    #[error("the walk was opened twice; keep the two records apart")]
    OpenedTwice,
    /// A journal format of another time.
    #[error("journal format {0} is not known; read it with the version of loadwalk that wrote it")]
    Format(u32),
    /// Two checks of one name.
    #[error("two checks are named {0}; correct the plan")]
    Twice(CheckId),
    /// A check that the route does not have.
    #[error("the route has no check {0}; the record was put together from two walks")]
    NoSuchCheck(CheckId),
    /// A station that the route does not have.
    #[error("the route has no station {0}; the record was put together from two walks")]
    NoSuchStation(String),
    /// An answer after `Completed`, or a second `Completed`.
    #[error("the walk was complete; start a new one for a new inspection")]
    Complete,
    /// An answer that its own evidence does not bear.
    #[error("what was heard does not bear the answer {value} to {check}; inspect that check again")]
    NotBorne {
        /// The check.
        check: CheckId,
        /// The value written down.
        value: String,
    },
    /// A verdict that does not follow from the entries.
    #[error("the record calls the load ready, its answers do not; inspect the load again")]
    NotReady,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Tally {
    pub history: Vec<Answer>,
    /// Whether the last answer stands.
    pub stands: bool,
    /// Why it does not, where there is one.
    pub put_right: bool,
    /// Whether it was found deficient and put right: an answer that is taken back leaves it to be looked at again.
    repaired: bool,
    /// Places in `history` of answers given because a review sent the one before back.
    pub sent_back: Vec<usize>,
    /// What a review heard there last, where that is deficient.
    pub in_review: Option<InReview>,
}

/// Everything that counts of a walk, derived from its entries.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ledger {
    pub(super) opening: Option<Opening>,
    pub(super) tallies: Vec<Tally>,
    index: BTreeMap<CheckId, usize>,
    /// Station of each check.
    pub(super) stations: Vec<usize>,
    /// Whether each check applies, given the answers that stand.
    pub(super) live: Vec<bool>,
    /// Checks that apply on a condition, in route order.
    conditional: Vec<usize>,
    /// Checks in the order of their latest answer.
    pub(super) order: Vec<usize>,
    /// To be asked again, in order.
    pub(super) again: VecDeque<usize>,
    pub(super) notes: Vec<Noted>,
    /// Asked and not answered since, with the attempt.
    pub(super) asking: Option<(usize, u32)>,
    /// Answered, and nothing asked since.
    pub(super) unsettled: Option<usize>,
    pub(super) unsettled_noted: bool,
    /// Found deficient, and neither left open nor put right since; in that order.
    pub(super) waiting: Vec<usize>,
    /// The station whose findings are being called off, until a check is asked elsewhere.
    pub(super) calling: Option<usize>,
    /// Whether it was asked which of several answers was wrong, and not told yet.
    pub(super) which: bool,
    /// What the inspector chose by voice: calling off or being asked.
    pub(super) called: Option<bool>,
    pub(super) held: Option<String>,
    pub(super) completed: Option<bool>,
    pub(super) entries: u64,
}

impl Ledger {
    /// The ledger of a journal. On an unfit entry, its number and why.
    pub fn of<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> Result<Self, (u64, Unfit)> {
        let mut ledger = Self::default();
        for entry in entries {
            ledger
                .apply(entry)
                .map_err(|unfit| (ledger.entries, unfit))?;
        }
        Ok(ledger)
    }

    /// Takes the next entry into account. An unfit entry changes nothing.
    pub fn apply(&mut self, entry: &Entry) -> Result<(), Unfit> {
        if self.opening.is_none() != matches!(entry, Entry::Opened { .. }) {
            return Err(match self.opening {
                None => Unfit::NotOpened,
                Some(_) => Unfit::OpenedTwice,
            });
        }
        match entry {
            Entry::Opened {
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
            } => {
                if *format != JOURNAL_FORMAT {
                    return Err(Unfit::Format(*format));
                }
                self.open(Opening {
                    inspector: inspector.clone(),
                    rigger: rigger.clone(),
                    plan_sha256: plan_sha256.clone(),
                    route: (**route).clone(),
                    capacity: capacity.clone(),
                    tryout: tryout.as_deref().cloned(),
                    rigger_marks: rigger_marks.clone(),
                    practice: practice.clone(),
                })?;
            }
            Entry::Asked { check, attempt } => {
                let at = self.at_open(check)?;
                self.asking = Some((at, *attempt));
                self.which = false;
                // Elsewhere nothing is called off any more.
                if self.calling.is_some_and(|s| s != self.stations[at]) {
                    self.calling = None;
                }
                self.unsettled = None;
            }
            Entry::Calling { station, which } => {
                let stations = &self.route().stations;
                let at = stations.iter().position(|s| s.key == *station);
                self.calling = Some(at.ok_or_else(|| Unfit::NoSuchStation(station.clone()))?);
                self.which = *which;
                self.asking = None;
                self.unsettled = None;
            }
            Entry::Rhythm { checks, again, .. } => {
                for check in checks {
                    self.at(check)?;
                }
                if let Some(again) = again {
                    let at = self.at(again)?;
                    self.take_back(at)?;
                    self.unsettled = None;
                }
            }
            Entry::Answered {
                check,
                value,
                outcome,
                stage,
                heard,
            } => {
                let at = self.at_open(check)?;
                // What differs from what stood tells which it was.
                let stood = self.tallies[at]
                    .history
                    .last()
                    .filter(|_| self.tallies[at].stands);
                let still_which = self.which && stood.is_none_or(|a| a.value == *value);
                // Compared by kind only, so that a deficiency may be renamed in a later version.
                let follows = self.judged_at(at, value).is_some_and(|judged| {
                    std::mem::discriminant(&judged) == std::mem::discriminant(outcome)
                });
                if !follows || !judge::bears(self.check_at(at), value, heard) {
                    return Err(Unfit::NotBorne {
                        check: check.clone(),
                        value: value.clone(),
                    });
                }
                self.which = still_which;
                self.answer(
                    at,
                    Answer {
                        entry: self.entries,
                        value: value.clone(),
                        outcome: outcome.clone(),
                        stage: *stage,
                        heard: heard.clone(),
                    },
                );
            }
            Entry::Control {
                control,
                check,
                deficiency,
                ..
            } => {
                let at = check.as_ref().map(|c| self.at(c)).transpose()?;
                if let (rules::CORRECTION, Some(at)) = (control.as_str(), at) {
                    self.take_back(at)?;
                }
                if let (rules::CORRECTION | rules::LEAVE | rules::SENT_BACK, Some(at)) =
                    (control.as_str(), at)
                {
                    self.waiting.retain(|&w| w != at);
                }
                if let (rules::SENT_BACK, Some(at)) = (control.as_str(), at) {
                    self.send_back(at, deficiency.as_deref())?;
                }
                if let (rules::CARRY_ON, Some(at)) = (control.as_str(), at)
                    && self.is_found(at)
                {
                    // It stays deficient, and is not asked again.
                    self.again.retain(|&a| a != at);
                }
                match control.as_str() {
                    rules::CALL_OFF => self.called = Some(true),
                    rules::LED => self.called = Some(false),
                    _ => {}
                }
                if matches!(
                    control.as_str(),
                    rules::CORRECTION | rules::LEAVE | rules::SENT_BACK
                ) {
                    self.unsettled = None;
                }
            }
            Entry::Refused {
                check: Some(check), ..
            }
            | Entry::Doubted { check, .. } => {
                self.at(check)?;
            }
            Entry::Noted { check, note } => {
                let at = check.as_ref().map(|c| self.at(c)).transpose()?;
                self.unsettled_noted |= at.is_some() && at == self.unsettled;
                self.notes.push(Noted {
                    entry: self.entries,
                    check: check.clone(),
                    note: note.clone(),
                });
            }
            Entry::PutRight { check, again, .. } => {
                let repaired = self.at(check)?;
                let again: Vec<usize> = again
                    .iter()
                    .map(|c| self.at_open(c))
                    .collect::<Result<_, _>>()?;
                for at in again {
                    self.waiting.retain(|&w| w != at);
                    // Of what the work touched, what was deficient before stays so: that was not put right.
                    if at == repaired || !self.is_found(at) {
                        self.tallies[at].repaired |= self.is_found(at);
                        self.withdraw(at, true)?;
                    }
                    if !self.again.contains(&at) {
                        self.again.push_back(at);
                    }
                }
                self.unsettled = None;
            }
            Entry::Held { why, .. } => self.held = Some(why.clone()),
            Entry::Carried { .. } | Entry::Resumed { .. } => self.held = None,
            Entry::Completed { ready, .. } => {
                if self.completed.is_some() {
                    return Err(Unfit::Complete);
                }
                if *ready && !self.ready().ready {
                    return Err(Unfit::NotReady);
                }
                self.completed = Some(*ready);
            }
            Entry::Refused { check: None, .. } => {}
        }
        self.entries += 1;
        self.renew_live();
        if matches!(entry, Entry::Answered { .. }) {
            self.drop_left_out();
        }
        Ok(())
    }

    /// What an answer leaves out is asked afresh where a later answer brings it back: until then anything can
    /// have happened to it. While the check that it hangs on is open itself, nothing is dropped.
    fn drop_left_out(&mut self) {
        for left_out in self.not_asked() {
            if !left_out.undecided
                && let Ok(at) = self.at(&left_out.check)
            {
                self.tallies[at].stands = false;
                self.tallies[at].repaired = false;
            }
        }
    }

    fn open(&mut self, opening: Opening) -> Result<(), Unfit> {
        let mut seen = BTreeSet::new();
        if let Some(twice) = opening.route.checks().find(|c| !seen.insert(&c.id)) {
            return Err(Unfit::Twice(twice.id.clone()));
        }
        for (s, station) in opening.route.stations.iter().enumerate() {
            for check in &station.checks {
                if !check.when.is_empty() {
                    self.conditional.push(self.stations.len());
                }
                self.index.insert(check.id.clone(), self.stations.len());
                self.stations.push(s);
            }
        }
        self.tallies = vec![Tally::default(); self.stations.len()];
        self.live = vec![true; self.stations.len()];
        self.opening = Some(opening);
        Ok(())
    }

    fn answer(&mut self, at: usize, answer: Answer) {
        self.waiting.retain(|&w| w != at);
        if matches!(answer.outcome, Outcome::Deficient { .. }) {
            self.waiting.push(at);
        }
        let tally = &mut self.tallies[at];
        tally.history.push(answer);
        tally.stands = true;
        tally.put_right = false;
        self.order.retain(|&o| o != at);
        self.order.push(at);
        self.again.retain(|&a| a != at);
        self.asking = None;
        self.unsettled = Some(at);
        self.unsettled_noted = false;
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
        self.tallies[at].stands = false;
        self.tallies[at].put_right = put_right;
        Ok(())
    }

    /// Conditions look at earlier checks only, so one pass in route order settles them all. One
    /// that looks ahead (a route not from a plan) finds no answer there.
    ///
    /// A check that was found deficient applies whatever else is answered, until it is answered again: by another answer
    /// no fault vanishes.
    fn renew_live(&mut self) {
        for i in 0..self.conditional.len() {
            let at = self.conditional[i];
            self.live[at] = self.conditions_hold(at) || self.is_found(at) || self.is_repaired(at);
        }
    }

    /// Whether the answers to earlier checks bring this one in.
    pub(super) fn conditions_hold(&self, at: usize) -> bool {
        self.check_at(at).when.iter().all(|c| {
            let earlier = self.index.get(&c.check).filter(|&&e| e < at);
            let value = earlier.and_then(|&e| self.value_at(e));
            judge::holds(&c.test, value)
        })
    }

    /// Whether the answer that stands finds it deficient, or a review does since.
    pub(super) fn is_found(&self, at: usize) -> bool {
        if self.in_review_at(at).is_some() {
            return true;
        }
        let tally = &self.tallies[at];
        let last = tally.history.last().filter(|_| tally.stands);
        let made = last.and_then(|a| self.judged_at(at, &a.value));
        matches!(made, Some(Outcome::Deficient { .. }))
    }

    /// Whether it was found deficient, was put right, and waits to be looked at again.
    pub(super) fn is_repaired(&self, at: usize) -> bool {
        let tally = &self.tallies[at];
        let found = |a: &Answer| matches!(a.outcome, Outcome::Deficient { .. });
        !tally.stands
            && tally.put_right
            && self.again.contains(&at)
            && (tally.repaired
                || tally.history.last().is_some_and(found)
                || self.last_was_in_review(at))
    }

    /// The value that stands at a check that applies; `None` for not applicable and not seen.
    pub(super) fn value_at(&self, at: usize) -> Option<&str> {
        let tally = &self.tallies[at];
        let last = tally.history.last()?;
        (self.live[at] && tally.stands && !judge::is_no_value(&last.value))
            .then_some(last.value.as_str())
    }

    pub(super) fn at(&self, id: &CheckId) -> Result<usize, Unfit> {
        let at = self.index.get(id).copied();
        at.ok_or_else(|| Unfit::NoSuchCheck(id.clone()))
    }

    /// Where the check is, while answers still count.
    fn at_open(&self, id: &CheckId) -> Result<usize, Unfit> {
        match self.completed {
            Some(_) => Err(Unfit::Complete),
            None => self.at(id),
        }
    }

    pub(super) fn station_at(&self, at: usize) -> &Station {
        // Every index comes from the opened route, which is never changed.
        &self.route().stations[self.stations[at]]
    }

    pub(super) fn check_at(&self, at: usize) -> &Check {
        let station = self.stations[at];
        let first = self.stations.partition_point(|&s| s < station);
        &self.route().stations[station].checks[at - first]
    }

    /// What is asked; empty before `Opened`.
    pub fn route(&self) -> &Route {
        static NONE: Route = Route {
            load: String::new(),
            stations: Vec::new(),
            left_out: Vec::new(),
            outline_m: None,
        };
        self.opening.as_ref().map_or(&NONE, |o| &o.route)
    }
}
