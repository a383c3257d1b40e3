//! What a review makes of a view. The walk's own outcomes stay beside the amended ones.

use super::found::said;
use super::words;
use super::{Against, AmendmentView, CheckView, DeficiencyView, OpenView, State, Status};
use crate::plan::CheckId;
use crate::record::amend::{
    Amendment, AmendmentCheck, Change, Effect, Effects, effect, effects, heard_deficient, heeded,
    left_out_since,
};
use crate::record::envelope::Envelope;
use crate::walk::{Answer, Entry, Ledger, OpenPoint, Outcome};

/// The amendments of a record and what they do.
pub(super) struct Review {
    pub amendments: Vec<AmendmentView>,
    effects: Effects,
    /// The deficiencies that reviewers heard: number of the amendment, check, entry of the answer, name.
    heard: Vec<(u64, CheckId, u64, String)>,
}

impl Review {
    pub fn of(ledger: &Ledger, found: &[AmendmentCheck]) -> Self {
        let shown = found.iter().filter_map(|a| amendment(ledger, found, a));
        Self {
            amendments: shown.collect(),
            effects: effects(ledger, heeded(found)),
            heard: heeded(found).filter_map(|a| heard(ledger, a)).collect(),
        }
    }

    /// A walk that a review changed is not ready.
    pub fn state(&self, walked: State) -> State {
        match walked {
            State::Ready if !self.effects.is_empty() => State::NotReady,
            walked => walked,
        }
    }

    /// Amends what a check shows.
    pub fn amend(&self, check: &mut CheckView) {
        check.amendments = self
            .amendments
            .iter()
            .filter(|a| a.check.as_ref() == Some(&check.check))
            .cloned()
            .collect();
        let counting = check.amendments.iter().rev();
        let mut counting = counting.filter(|a| a.against.is_some());
        check.heard_in_review = counting.find_map(|a| a.hears.clone());
        match self.effects.get(&check.check) {
            None => {}
            // The deficiency of the walk stays in sight.
            Some(Effect::Open { why }) => {
                check.status = Status::Open;
                check.why = Some((*why).to_owned());
            }
            Some(Effect::Deficient { deficiency }) => {
                check.status = Status::Deficient;
                check.deficiency = Some(deficiency.clone());
            }
        }
    }

    /// Everything that stands against the load: what the walk found and what the review added.
    pub fn against(&self, ledger: &Ledger, checks: &[CheckView]) -> Vec<String> {
        let readiness = ledger.ready();
        if self.effects.is_empty() {
            return readiness.against();
        }
        let reviewed = |check: &CheckView| {
            let place = format!("{}, {}", check.station, check.name);
            match self.effects.get(&check.check)? {
                Effect::Open { why } => Some(match &check.deficiency {
                    Some(was) => format!("{was}: {why}"),
                    None => format!("{place}: {why}"),
                }),
                Effect::Deficient { deficiency } => {
                    Some(format!("{deficiency}: as heard in review"))
                }
            }
        };
        let deficient = readiness.deficiencies.iter();
        let deficient = deficient.filter(|d| !self.effects.contains_key(&d.check));
        let open = readiness.open.iter();
        let open = open.filter(|o| !self.effects.contains_key(&o.check));
        let capacity = readiness.capacity.iter().cloned();
        let practice = readiness.practice_stands().into_iter();
        practice
            .chain(capacity)
            .chain(deficient.map(|d| d.name.clone()))
            .chain(checks.iter().filter_map(reviewed))
            .chain(open.map(OpenPoint::spoken))
            .collect()
    }

    /// The deficiencies that the review names go beside those of the walk, which stay.
    pub fn deficiencies(
        &self,
        ledger: &Ledger,
        envelopes: &[Envelope],
        walked: Vec<DeficiencyView>,
    ) -> Vec<DeficiencyView> {
        let mut all = walked;
        // The latest that a reviewer said of a check holds of it.
        for (number, check, entry, name) in self.heard.iter().rev() {
            let holds = matches!(self.effects.get(check), Some(Effect::Deficient { deficiency }) if deficiency == name);
            let heard = since_heard(ledger, envelopes, check, *entry, name);
            // Found again by the next answer, it is one finding.
            let again = all.iter_mut().find(|d| {
                d.check == *check
                    && d.name == *name
                    && heard.put_right.is_none()
                    && heard.since.first() == Some(&d.found)
            });
            if let Some(again) = again {
                again.since.insert(0, again.found);
                again.found = *entry;
                again.in_review = Some(*number);
                continue;
            }
            let known = all.iter_mut().find(|d| d.check == *check && d.stands);
            match known {
                Some(known) if holds && known.in_review.is_none() => {
                    known.name.clone_from(name);
                    known.in_review = Some(*number);
                }
                known => {
                    let stands = holds && known.is_none();
                    all.push(DeficiencyView {
                        in_review: Some(*number),
                        stands,
                        ..heard
                    });
                }
            }
        }
        // What was sent back with a deficiency stands until it is answered, also where the amendment was withdrawn since.
        for found in ledger.deficiencies() {
            if let Some((name, entry)) = ledger.heard_in_review(&found.check)
                && !all.iter().any(|d| d.check == found.check && d.stands)
            {
                all.push(DeficiencyView {
                    stands: true,
                    ..since_heard(ledger, envelopes, &found.check, entry, name)
                });
            }
        }
        let route: Vec<&CheckId> = ledger.route().checks().map(|c| &c.id).collect();
        all.sort_by_key(|d| {
            let at = route.iter().position(|&id| *id == d.check);
            (at, d.found, d.in_review)
        });
        all
    }

    /// Whether a reviewer heard a deficiency at the check.
    pub fn heard_deficient(&self, check: &CheckId) -> bool {
        self.heard.iter().any(|(_, of, _, _)| of == check)
    }

    /// The checks that are open, those of the review included, in route order.
    pub fn open(&self, walked: Vec<OpenView>, checks: &[CheckView]) -> Vec<OpenView> {
        checks
            .iter()
            .filter_map(|check| {
                if let Some(Effect::Open { why }) = self.effects.get(&check.check) {
                    return Some(OpenView {
                        check: check.check.clone(),
                        place: format!("{}, {}", check.station, check.name),
                        why: (*why).to_owned(),
                    });
                }
                walked.iter().find(|o| o.check == check.check).cloned()
            })
            .collect()
    }
}

/// The deficiency that an amendment names.
fn heard(ledger: &Ledger, amendment: &Amendment) -> Option<(u64, CheckId, u64, String)> {
    let Change::HeardWrong {
        check,
        entry,
        hears,
    } = &amendment.change
    else {
        return None;
    };
    let name = heard_deficient(ledger, check, hears.as_deref())?;
    Some((amendment.number, check.clone(), *entry, name))
}

/// A deficiency that was heard in the answer of an entry, with what became of it since.
fn since_heard(
    ledger: &Ledger,
    envelopes: &[Envelope],
    check: &CheckId,
    entry: u64,
    name: &str,
) -> DeficiencyView {
    let later = ledger.history(check).iter().filter(|a| a.entry > entry);
    let next = later.clone().next().map_or(u64::MAX, |a| a.entry);
    let put_right = envelopes
        .iter()
        .filter(|e| e.seq > entry && e.seq < next)
        .find(|e| matches!(&e.entry, Entry::PutRight { check: of, .. } if of == check));
    let told = |a: &&Answer| matches!(a.outcome, Outcome::Conforming | Outcome::Deficient { .. });
    let over = put_right.is_some() || next != u64::MAX;
    DeficiencyView {
        check: check.clone(),
        name: name.to_owned(),
        found: entry,
        in_review: None,
        put_right: put_right.map(|e| e.seq),
        put_right_by: put_right.and_then(|e| said(ledger, e)),
        left_open: None,
        since: later.filter(told).map(|a| a.entry).collect(),
        stands: false,
        left_out: !over && !ledger.applies(check),
    }
}

/// The check of an amendment; of a withdrawal, that of what it withdraws.
fn check_of<'a>(all: &'a [AmendmentCheck], change: &'a Change) -> Option<&'a CheckId> {
    let Change::Withdraw { amendment } = change else {
        return change.check();
    };
    let withdrawn = all.get(usize::try_from(*amendment).ok()?)?;
    withdrawn.amendment.as_ref()?.change.check()
}

fn amendment(
    ledger: &Ledger,
    all: &[AmendmentCheck],
    found: &AmendmentCheck,
) -> Option<AmendmentView> {
    let amendment = found.amendment.as_ref()?;
    let check = check_of(all, &amendment.change);
    let located = check.and_then(|id| ledger.locate(id));
    let (entry, hears) = match &amendment.change {
        Change::HeardWrong { entry, hears, .. } => (Some(*entry), hears.as_ref()),
        _ => (None, None),
    };
    let withdraws = match amendment.change {
        Change::Withdraw { amendment } => Some(amendment),
        _ => None,
    };
    let does = match effect(ledger, amendment) {
        _ if found.withdrawn_by.is_some() => String::new(),
        Some(Effect::Open { why }) => format!("open: {why}"),
        Some(Effect::Deficient { deficiency }) => format!("deficient: {deficiency}"),
        None if withdraws.is_some() && found.problem.is_some() => "does not count".to_owned(),
        None if withdraws.is_some() => String::new(),
        None if matches!(amendment.change, Change::Note { .. }) => String::new(),
        None => {
            let history = check.map_or(&[][..], |id| ledger.history(id));
            let after = entry.map_or(amendment.entries, |entry| entry + 1);
            let since = history.last().is_some_and(|a| a.entry >= after);
            let left_out = check.is_some_and(|id| left_out_since(ledger, id, after));
            match (since, left_out) {
                (_, true) => "does not apply by an answer given since".to_owned(),
                (true, false) => "inspected again since".to_owned(),
                (false, false) => "sent back, not answered since".to_owned(),
            }
        }
    };
    let against = match effect(ledger, amendment) {
        _ if found.withdrawn_by.is_some() => None,
        Some(Effect::Open { .. }) => Some(Against::Open),
        Some(Effect::Deficient { .. }) => Some(Against::Deficient),
        None => None,
    };
    Some(AmendmentView {
        number: amendment.number,
        wall: amendment.wall.clone(),
        by: amendment.by.clone(),
        kind: amendment.change.words(),
        check: check.cloned(),
        place: located.map(|(s, c)| format!("{}, {}", s.name, c.name)),
        entry,
        hears: hears
            .map(|value| located.map_or_else(|| value.clone(), |(_, c)| words::said(c, value))),
        hears_value: hears.cloned(),
        text: amendment.text.clone(),
        does,
        against,
        sends_back: matches!(amendment.change, Change::ReInspect { .. }),
        withdraws,
        withdrawn_by: found.withdrawn_by,
        key_id: found.key_id.clone(),
        sound: found.problem.is_none(),
    })
}
