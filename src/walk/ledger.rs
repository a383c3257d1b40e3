//! What counts, derived from entries alone: answers that stand, deficiencies, open points, notes.
//!
//! A ledger is the fold of a journal. The walk keeps one while it runs; `show`, the report and the
//! verification build the same one from the record. What an entry changes is in `folding.rs`, reads are in `reading.rs`.

use super::reviewed::InReview;
use crate::plan::{Check, CheckId, Route, Station};
use crate::walk::{CapacityLine, Entry, Heard, Note, Outcome, Practice, Stage, Tryout, judge};
use std::collections::{BTreeMap, VecDeque};

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
    /// After `Completed`, an entry that the walk does not write there.
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
    pub(super) repaired: bool,
    /// Whether it was found deficient, by an answer, a comparison or a review, and no answer of its own settled that since.
    /// Neither an answer that is taken back nor "cannot see" settles it, nor does another check's answer.
    pub fault: bool,
    /// As `fault` was before the last answer: so it is again where that one is taken back.
    pub fault_before: bool,
    /// Where it was found deficient: the number of the entry that made it so, and the name of the deficiency.
    pub found: Vec<(u64, String)>,
    /// Whether it is found deficient since the last of these.
    pub is_found: bool,
    /// What that was worked out from, where it hangs on nothing else.
    pub weighed: Option<(usize, bool, bool, Option<u64>)>,
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
    pub(super) index: BTreeMap<CheckId, usize>,
    /// Station of each check.
    pub(super) stations: Vec<usize>,
    /// Whether each check applies, given the answers that stand.
    pub(super) live: Vec<bool>,
    /// Whether answers decide that a check does not apply: one of its conditions fails, and what that looks at has an
    /// answer, or is left out in the same way.
    pub(super) left_out: Vec<bool>,
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

    /// Which checks apply, and which are found deficient. Conditions and comparisons look at earlier checks only, so one
    /// pass in route order settles them all. One that looks ahead (a route not from a plan) finds no answer there.
    ///
    /// A check that was found deficient applies whatever else is answered, until an answer of its own settles it: by
    /// another answer no fault vanishes.
    pub(super) fn renew(&mut self) {
        for at in 0..self.tallies.len() {
            self.left_out[at] = self.decides_against(at);
            let check = self.check_at(at);
            let (alone, always) = (check.compare.is_none(), check.when.is_empty());
            let tally = &self.tallies[at];
            let review = tally.in_review.as_ref().map(|r| r.entry);
            let weighed = (tally.history.len(), tally.stands, tally.put_right, review);
            if alone && tally.weighed == Some(weighed) {
                self.live[at] = always || tally.fault || self.conditions_hold(at);
                continue;
            }
            self.tallies[at].weighed = Some(weighed);
            let made = self.made_of(at);
            let found = match &made {
                Some(Outcome::Deficient { deficiency }) => Some(deficiency.clone()),
                _ => None,
            };
            let entry = self.entries - 1;
            let tally = &mut self.tallies[at];
            match (&found, &made) {
                (Some(_), _) => tally.fault = true,
                (None, Some(Outcome::Conforming)) => tally.fault = false,
                _ => {}
            }
            if let Some(name) = &found
                && (!tally.is_found || tally.found.last().is_none_or(|(_, last)| last != name))
            {
                tally.found.push((entry, name.clone()));
            }
            tally.is_found = found.is_some();
            self.live[at] = self.conditions_hold(at) || self.tallies[at].fault;
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

    /// What the answer that stands, or a review since, makes of the check, whether it applies or not. What a comparison found
    /// is kept while there is nothing to compare with.
    pub(super) fn made_of(&self, at: usize) -> Option<Outcome> {
        if let Some(review) = self.in_review_at(at) {
            let deficiency = review.deficiency.clone();
            return Some(Outcome::Deficient { deficiency });
        }
        let tally = &self.tallies[at];
        let last = tally.history.last().filter(|_| tally.stands)?;
        let made = self.judged_at(at, &last.value)?;
        if made == Outcome::Conforming
            && tally.fault
            && self.nothing_to_compare_with(at)
            && let Some((_, name)) = tally.found.last()
        {
            let deficiency = name.clone();
            return Some(Outcome::Deficient { deficiency });
        }
        Some(made)
    }

    /// Whether the check is compared with one that has no value.
    fn nothing_to_compare_with(&self, at: usize) -> bool {
        let with = self.check_at(at).compare.as_ref().map(|c| self.at(&c.with));
        with.is_some_and(|with| with.is_ok_and(|with| self.value_at(with).is_none()))
    }

    /// Whether the answer that stands finds it deficient, or a review does since.
    pub(super) fn is_found(&self, at: usize) -> bool {
        matches!(self.made_of(at), Some(Outcome::Deficient { .. }))
    }

    /// Whether it was found deficient, was put right, and waits to be looked at again.
    pub(super) fn is_repaired(&self, at: usize) -> bool {
        let tally = &self.tallies[at];
        !tally.stands
            && tally.put_right
            && tally.repaired
            && tally.fault
            && self.again.contains(&at)
    }

    /// Whether answers to earlier checks, which are settled already, decide that this one does not apply.
    fn decides_against(&self, at: usize) -> bool {
        self.check_at(at).when.iter().any(|condition| {
            let earlier = self.index.get(&condition.check).copied();
            let Some(on) = earlier.filter(|&on| on < at) else {
                return false;
            };
            let decided = match self.live[on] {
                true => self.tallies[on].stands,
                false => self.left_out[on],
            };
            decided && !judge::holds(&condition.test, self.value_at(on))
        })
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
    pub(super) fn at_open(&self, id: &CheckId) -> Result<usize, Unfit> {
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
