//! What a ledger tells.

use super::ledger::{Answer, Ledger, Noted, Opening};
use crate::plan::{Check, CheckId, Relation, Station};
use crate::walk::{CapacityLine, Outcome, Stage, judge, wording};

/// A check found deficient.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deficiency {
    /// The check.
    pub check: CheckId,
    /// Its name, as spoken.
    pub name: String,
}

/// A check that stands open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenPoint {
    /// The check.
    pub check: CheckId,
    /// Station and check, as spoken.
    pub place: String,
    /// Why it is open.
    pub why: Why,
}

impl OpenPoint {
    /// As spoken: the place and why.
    pub fn spoken(&self) -> String {
        wording::open(&self.place, self.why.words())
    }
}

/// Why a check stands open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// Never answered.
    Unanswered,
    /// The inspector called the last answer wrong.
    Corrected,
    /// It or a check beside it was put right and it was not inspected since.
    PutRight,
    /// It was answered with "not seen".
    NotSeen,
}

impl Why {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Unanswered => "not answered",
            Self::Corrected => "answer taken back",
            Self::PutRight => "to be re-inspected",
            Self::NotSeen => "not seen",
        }
    }
}

/// A check that the answers to earlier checks leave out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotAsked {
    /// The check.
    pub check: CheckId,
    /// The check on whose answer it hangs.
    pub because_of: CheckId,
    /// Whether that check is still open, or hangs on one that is, so that this one may yet be asked.
    pub undecided: bool,
}

/// Whether a load is ready for a person to sign, and what stands against it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Readiness {
    /// True only where all lists but the last are empty and the capacity questions passed; never of a practice walk.
    pub ready: bool,
    /// Whether it was a practice walk.
    pub practice: bool,
    /// Capacity questions that failed, as spoken.
    pub capacity: Vec<String>,
    /// Deficiencies in route order.
    pub deficiencies: Vec<Deficiency>,
    /// Open checks, not seen ones included, in route order.
    pub open: Vec<OpenPoint>,
    /// Checks called not applicable, as spoken, with a word where they were found deficient before. They do not stand against the load, but the
    /// person who signs hears and reads them.
    pub not_applicable: Vec<String>,
}

impl Readiness {
    /// All that stands against the load, as spoken.
    pub fn against(&self) -> Vec<String> {
        let deficient = self.deficiencies.iter().map(|d| d.name.clone());
        let open = self.open.iter().map(OpenPoint::spoken);
        let capacity = self.capacity.iter().cloned();
        let found = capacity.chain(deficient).chain(open);
        self.practice_stands().into_iter().chain(found).collect()
    }

    /// What stands against every load of a practice walk; `None` of an inspection.
    pub fn practice_stands(&self) -> Option<String> {
        self.practice.then(|| wording::PRACTICE_STANDS.to_owned())
    }
}

impl Ledger {
    /// How the walk was opened; `None` for an empty journal.
    pub fn opening(&self) -> Option<&Opening> {
        self.opening.as_ref()
    }

    /// Entries taken into account.
    pub fn entries(&self) -> u64 {
        self.entries
    }

    /// Whether the check applies, given the answers that stand. An earlier check without a
    /// standing value decides as a check without an answer.
    pub fn applies(&self, id: &CheckId) -> bool {
        self.at(id).is_ok_and(|at| self.live[at])
    }

    /// What holds of the check now. `None`: open, or it does not apply.
    pub fn outcome(&self, id: &CheckId) -> Option<Outcome> {
        self.outcome_at(self.at(id).ok()?)
    }

    /// Every answer given to the check, oldest first, also those that no longer stand.
    pub fn history(&self, id: &CheckId) -> &[Answer] {
        self.at(id).map_or(&[], |at| &self.tallies[at].history)
    }

    /// The answer that stands at the check, if it applies.
    pub fn standing(&self, id: &CheckId) -> Option<&Answer> {
        let at = self.at(id).ok()?;
        let tally = &self.tallies[at];
        tally
            .history
            .last()
            .filter(|_| tally.stands && self.live[at])
    }

    /// The answer given last that still stands.
    pub fn last_answer(&self) -> Option<(&Check, &Answer)> {
        let at = *self.answered().last()?;
        Some((self.check_at(at), self.tallies[at].history.last()?))
    }

    /// All notes in the order they were taken.
    pub fn notes(&self) -> &[Noted] {
        &self.notes
    }

    /// Checks that stand deficient, in route order.
    pub fn deficiencies(&self) -> Vec<Deficiency> {
        let all = 0..self.tallies.len();
        all.filter_map(|at| match self.outcome_at(at) {
            Some(Outcome::Deficient { deficiency }) => Some(Deficiency {
                check: self.check_at(at).id.clone(),
                name: deficiency,
            }),
            _ => None,
        })
        .collect()
    }

    /// What was deficient, was put right and was not looked at again yet, in route order.
    pub(super) fn put_right(&self) -> Vec<String> {
        let waits = |&at: &usize| self.live[at] && self.is_repaired(at);
        let last = |at: usize| Some(self.tallies[at].found.last()?.1.clone());
        (0..self.tallies.len())
            .filter(waits)
            .filter_map(last)
            .collect()
    }

    /// Checks that apply and are open or were not seen, in route order.
    pub fn open_points(&self) -> Vec<OpenPoint> {
        let all = 0..self.tallies.len();
        all.filter(|&at| self.live[at])
            .filter_map(|at| {
                let tally = &self.tallies[at];
                let why = match (self.outcome_at(at), tally.history.is_empty()) {
                    (Some(Outcome::NotSeen), _) => Why::NotSeen,
                    (Some(_), _) => return None,
                    (None, true) => Why::Unanswered,
                    (None, false) if tally.put_right => Why::PutRight,
                    (None, false) => Why::Corrected,
                };
                Some(OpenPoint {
                    check: self.check_at(at).id.clone(),
                    place: wording::place(self.station_at(at), self.check_at(at)),
                    why,
                })
            })
            .collect()
    }

    /// Checks that the answers so far leave out, in route order. (Checks that the build of the load
    /// leaves out are in the route.)
    pub fn not_asked(&self) -> Vec<NotAsked> {
        let all = 0..self.tallies.len();
        all.filter(|&at| !self.live[at])
            .filter_map(|at| {
                let check = self.check_at(at);
                let fails = check.when.iter().filter_map(|c| {
                    let on = self.at(&c.check).ok()?;
                    let fails = !judge::holds(&c.test, self.value_at(on));
                    fails.then(|| NotAsked {
                        check: check.id.clone(),
                        because_of: c.check.clone(),
                        undecided: match self.live[on] {
                            true => !self.tallies[on].stands,
                            false => !self.left_out[on],
                        },
                    })
                });
                // One that is decided leaves it out, whatever the others come to.
                fails.min_by_key(|not_asked| not_asked.undecided)
            })
            .collect()
    }

    /// The checks that apply and whose answers, or want of one, leave this check out; none where it applies.
    pub fn left_out_by(&self, id: &CheckId) -> Vec<CheckId> {
        let mut found: Vec<usize> = Vec::new();
        let mut look: Vec<usize> = self.at(id).into_iter().collect();
        while let Some(at) = look.pop() {
            if self.live[at] {
                continue;
            }
            for condition in &self.check_at(at).when {
                let Some(on) = self.at(&condition.check).ok().filter(|&on| on < at) else {
                    continue;
                };
                if judge::holds(&condition.test, self.value_at(on)) {
                    continue;
                }
                match self.live[on] {
                    true if !found.contains(&on) => found.push(on),
                    true => {}
                    // It hangs on others itself.
                    false => look.push(on),
                }
            }
        }
        found.sort_unstable();
        found
            .into_iter()
            .map(|at| self.check_at(at).id.clone())
            .collect()
    }

    /// Whether the load is ready for a person to sign, and what stands against it.
    pub fn ready(&self) -> Readiness {
        let lines: &[CapacityLine] = self.opening.as_ref().map_or(&[], |o| &o.capacity);
        let failed = lines.iter().filter(|l| !l.passes);
        let mut capacity: Vec<String> = failed.map(|l| l.spoken.clone()).collect();
        if lines.is_empty() {
            capacity.push(wording::CAPACITY_UNASKED.to_owned());
        }
        let deficiencies = self.deficiencies();
        let open = self.open_points();
        let not_applicable = (0..self.tallies.len())
            .filter(|&at| self.outcome_at(at) == Some(Outcome::NotApplicable))
            .map(|at| {
                let place = wording::place(self.station_at(at), self.check_at(at));
                if self.was_found(&self.check_at(at).id) {
                    wording::open(&place, wording::FOUND_BEFORE)
                } else {
                    place
                }
            })
            .collect();
        let practice = self.practice().is_some();
        Readiness {
            ready: self.opening.is_some()
                && !practice
                && capacity.is_empty()
                && deficiencies.is_empty()
                && open.is_empty(),
            practice,
            capacity,
            deficiencies,
            open,
            not_applicable,
        }
    }

    /// The verdict written down, once the walk was closed.
    pub fn completed(&self) -> Option<bool> {
        self.completed
    }

    /// Why the walk is held, if it is.
    pub fn held(&self) -> Option<&str> {
        self.held.as_deref()
    }

    /// The next check without an outcome: those to be re-inspected first, then in route order.
    pub fn next_open(&self) -> Option<&Check> {
        let open = |&at: &usize| self.live[at] && !self.tallies[at].stands;
        let again = self.again.iter().copied().find(|&at| self.live[at]);
        let at = again.or_else(|| (0..self.tallies.len()).find(open))?;
        Some(self.check_at(at))
    }

    /// Station and check of that name.
    pub fn locate(&self, id: &CheckId) -> Option<(&Station, &Check)> {
        let at = self.at(id).ok()?;
        Some((self.station_at(at), self.check_at(at)))
    }

    /// What an answer with this value would make of the check, comparison included. `None`: it is
    /// no answer to that check.
    pub fn would_be(&self, id: &CheckId, value: &str) -> Option<Outcome> {
        self.judged_at(self.at(id).ok()?, value)
    }

    /// Whether the answer can make the check conform: now, or once what it is compared with is answered otherwise.
    pub fn may_conform(&self, id: &CheckId, value: &str) -> bool {
        let alone = |at| judge::judge(self.station_at(at), self.check_at(at), value);
        self.at(id).ok().and_then(alone) == Some(Outcome::Conforming)
    }

    /// The value given last at the check, whether it stands or not.
    pub(super) fn last_value(&self, id: &CheckId) -> Option<&str> {
        let last = self.tallies[self.at(id).ok()?].history.last()?;
        Some(&last.value)
    }

    /// Where in the work an answer to the check would be given now.
    pub fn stage(&self, id: &CheckId) -> Stage {
        match self.at(id) {
            Ok(at) if self.again.contains(&at) => Stage::Reinspection,
            Ok(at) if !self.tallies[at].history.is_empty() => Stage::Correction,
            _ => Stage::Walk,
        }
    }

    /// Whether it was found deficient, and neither left open nor put right since.
    pub(super) fn waits(&self, id: &CheckId) -> bool {
        self.at(id).is_ok_and(|at| self.waiting.contains(&at))
    }

    /// Whether it was found deficient and put right, or found so by a review, and nothing but a look settles it: no answers
    /// decide that it does not apply.
    pub(super) fn wants_a_look(&self, id: &CheckId) -> bool {
        self.at(id).is_ok_and(|at| {
            let tally = &self.tallies[at];
            let waits = (tally.repaired && tally.fault) || self.in_review_at(at).is_some();
            waits && !self.left_out[at]
        })
    }

    /// Deficiencies of checks that would not be asked by what was answered since, in route order.
    pub(super) fn left_behind(&self) -> Vec<Deficiency> {
        let asked = |id: &CheckId| self.at(id).is_ok_and(|at| self.conditions_hold(at));
        let all = self.deficiencies().into_iter();
        all.filter(|d| !asked(&d.check)).collect()
    }

    /// Whether the check was answered and the answer no longer stands, without a repair.
    pub(super) fn is_taken_back(&self, id: &CheckId) -> bool {
        self.at(id).is_ok_and(|at| {
            let tally = &self.tallies[at];
            !tally.history.is_empty() && !tally.stands && !self.again.contains(&at)
        })
    }

    /// Whether the check waits to be asked again after a repair.
    pub(super) fn is_put_right(&self, id: &CheckId) -> bool {
        self.at(id).is_ok_and(|at| self.again.contains(&at))
    }

    /// Places in its history of answers given because a review sent the one before back.
    pub(super) fn sent_back(&self, id: &CheckId) -> &[usize] {
        self.at(id).map_or(&[], |at| &self.tallies[at].sent_back)
    }

    /// How often the check was asked in a row without an answer.
    pub(super) fn attempts(&self, id: &CheckId) -> u32 {
        let asked = self.asking.filter(|&(at, _)| self.at(id) == Ok(at));
        asked.map_or(0, |(_, attempt)| attempt)
    }

    pub(super) fn outcome_at(&self, at: usize) -> Option<Outcome> {
        self.made_of(at).filter(|_| self.live[at])
    }

    /// A comparison belongs to the check that asks for it, whichever of the two was answered
    /// last; a value's own deficiency goes before it.
    pub(super) fn judged_at(&self, at: usize, value: &str) -> Option<Outcome> {
        let (station, check) = (self.station_at(at), self.check_at(at));
        let alone = judge::judge(station, check, value)?;
        let compared = check.compare.as_ref().and_then(|c| {
            let with = self.at(&c.with).ok()?;
            let Some(other) = self.value_at(with) else {
                // What has nothing of its own to agree with conforms by the other one alone.
                let by_other = judge::only_compared(check) && self.never_comes(with);
                return by_other.then(|| Outcome::Deficient {
                    deficiency: wording::nothing_to_compare((station, check)),
                });
            };
            (!judge::agrees(&c.relation, value, other)).then(|| Outcome::Deficient {
                deficiency: wording::differs(
                    (station, check),
                    (self.station_at(with), self.check_at(with)),
                    matches!(c.relation, Relation::Mirrored(_)),
                ),
            })
        });
        match (alone, compared) {
            (Outcome::Conforming, Some(differs)) => Some(differs),
            (alone, _) => Some(alone),
        }
    }

    /// Whether no answer to the check can be compared with: it does not apply, was called so, or was not seen.
    fn never_comes(&self, at: usize) -> bool {
        let tally = &self.tallies[at];
        let called_so = |a: &Answer| tally.stands && judge::is_no_value(&a.value);
        !self.live[at] || tally.history.last().is_some_and(called_so)
    }

    /// Checks whose answer stands, in the order they were last answered.
    pub(super) fn answered(&self) -> Vec<usize> {
        let stands = |&&at: &&usize| self.live[at] && self.tallies[at].stands;
        self.order.iter().filter(stands).copied().collect()
    }
}
