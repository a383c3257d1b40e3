//! The laws of the walk, checked at every effect of a storm.

use super::*;

impl Storm {
    /// An accepted answer is durable before anything that follows from it is spoken.
    pub(super) fn nothing_is_lost_if_killed_now(&self, text: &str, phrase: Phrase) {
        let answered = self
            .volatile
            .iter()
            .any(|&seq| matches!(self.disk[seq as usize], Entry::Answered { .. }));
        // Only a hold, which may be about the disk itself, is spoken meanwhile.
        let hold =
            phrase == Phrase::Tell && (text.contains("olding at") || text.contains("Holding."));
        let hold = hold || text.starts_with("Standing by");
        assert!(
            !answered || hold,
            "spoken before the answer was durable: {text}"
        );
    }

    /// An expected count is in nothing spoken before the inspector said it.
    pub(super) fn blind(&self, text: &str) {
        for check in self.walk.ledger().route().checks() {
            let CheckKind::Count {
                expected: Some(n), ..
            } = check.kind
            else {
                continue;
            };
            let said = (check.id.clone(), n.to_string());
            if self.given.contains(&said) {
                continue;
            }
            let words = spelled(n);
            let told = words.iter().any(|w| text.to_lowercase().contains(w));
            assert!(!told, "{} expects {n}, spoken first: {text}", check.id);
        }
    }

    pub(super) fn laws(&self) {
        let ledger = self.walk.ledger();
        for check in ledger.route().checks() {
            if ledger.outcome(&check.id) == Some(Outcome::Conforming) {
                self.conforming_is_earned(check, ledger);
            }
        }
        let rest = self.rest();
        assert!(
            rest.is_some() || !self.coming.is_empty() || self.held,
            "the walk came to nothing"
        );
    }

    fn rest(&self) -> Option<Rest> {
        if self.ended.is_some() {
            Some(Rest::Finished)
        } else if self.listen.is_some() {
            Some(Rest::Listening)
        } else {
            self.walk.poll_timeout().map(|_| Rest::Waiting)
        }
    }

    fn conforming_is_earned(&self, check: &Check, ledger: &Ledger) {
        let answer = ledger.history(&check.id).last().expect("an answer");
        assert!(
            conforms(check, &answer.value),
            "{}: {}",
            check.id,
            answer.value
        );
        let taken_back = self.disk.iter().rposition(|entry| match entry {
            Entry::PutRight { again, .. } => again.contains(&check.id),
            Entry::Rhythm { again, .. } => again.as_ref() == Some(&check.id),
            Entry::Control {
                control,
                check: Some(about),
                ..
            } => control == rules::CORRECTION && about == &check.id,
            _ => false,
        });
        let since = taken_back.is_none_or(|at| answer.entry > at as u64);
        assert!(
            since,
            "{} was answered again after it was taken back",
            check.id
        );
        if let Some(compare) = &check.compare
            && let Some(other) = ledger.standing(&compare.with)
            && !matches!(
                other.value.as_str(),
                rules::NOT_APPLICABLE | rules::NOT_SEEN
            )
        {
            assert!(
                agree(&compare.relation, &answer.value, &other.value),
                "{}",
                check.id
            );
        }
        let first = &answer.heard.hearing;
        let meant = |h: &Hearing| match &h.decision {
            Decision::Take { meaning } => Some((true, meaning.clone())),
            Decision::Confirm { meaning } => Some((false, meaning.clone())),
            Decision::Refuse { .. } => None,
        };
        let (sure, meaning) = meant(first).expect("no refused sound makes a check conform");
        assert_eq!(meaning.value, answer.value);
        assert!(
            self.fed.contains(&first.clip),
            "heard on a listen that was open"
        );
        if sure {
            return;
        }
        let second = answer
            .heard
            .confirmed_by
            .as_ref()
            .expect("a doubt is confirmed");
        assert!(self.fed.contains(&second.clip) && second.clip != first.clip);
        let (sure, meaning) = meant(second).expect("no refused sound confirms");
        if meaning.rule == rules::YES_NO {
            assert!(sure && meaning.value == "yes");
        } else {
            assert_eq!(meaning.value, answer.value);
            assert!(sure || !self.settings.conforming_needs_take);
        }
    }

    pub(super) fn ready_is_earned(&self) {
        assert!(self.passes, "a failed capacity is never ready");
        let ledger = Ledger::of(&self.disk).expect("its own journal");
        for check in ledger.route().checks().filter(|c| ledger.applies(&c.id)) {
            let outcome = ledger.outcome(&check.id);
            let fine = [Some(Outcome::Conforming), Some(Outcome::NotApplicable)];
            assert!(fine.contains(&outcome), "{} is {outcome:?}", check.id);
        }
        self.nothing_left_out_since_counts(&ledger);
        self.every_fault_was_answered(&ledger);
        let last = self
            .disk
            .iter()
            .rev()
            .find(|e| matches!(e, Entry::Completed { .. }));
        assert!(matches!(last, Some(Entry::Completed { ready: true, .. })));
    }

    /// What conforms was not left out by any answer since its own: a condition that a standing answer fails.
    fn nothing_left_out_since_counts(&self, at_the_end: &Ledger) {
        let mut ledger = Ledger::default();
        for (n, entry) in self.disk.iter().enumerate() {
            ledger.apply(entry).expect("its own journal");
            if !matches!(entry, Entry::Answered { .. }) {
                continue;
            }
            for check in ledger.route().checks() {
                let good = at_the_end.outcome(&check.id) == Some(Outcome::Conforming);
                let answered = at_the_end
                    .history(&check.id)
                    .last()
                    .map(|a| a.entry as usize);
                if !good || answered.is_none_or(|at| at >= n) || ledger.applies(&check.id) {
                    continue;
                }
                let left_out = check.when.iter().find(|condition| {
                    let on = ledger.standing(&condition.check);
                    let value = on.map(|a| a.value.as_str());
                    let none = [rules::NOT_APPLICABLE, rules::NOT_SEEN];
                    let value = value.filter(|v| !none.contains(v));
                    ledger.applies(&condition.check) && on.is_some() && !condition.test.holds(value)
                });
                assert!(left_out.is_none(), "{} was left out by entry {n}", check.id);
            }
        }
    }

    /// Told from the entries alone: behind every answer that found a fault stands one to the same check that does not, and what
    /// only a comparison found was answered since on either side.
    fn every_fault_was_answered(&self, ledger: &Ledger) {
        for (n, entry) in self.disk.iter().enumerate() {
            let Entry::Answered {
                check,
                value,
                outcome: Outcome::Deficient { .. },
                ..
            } = entry
            else {
                continue;
            };
            let (_, c) = ledger.locate(check).expect("a check of the route");
            let good = |value: &str| value == rules::NOT_APPLICABLE || conforms(c, value);
            let by_comparison = good(value);
            let settled = self.disk[n + 1..].iter().any(|later| match later {
                Entry::Answered {
                    check: about,
                    value,
                    ..
                } if about == check => good(value),
                Entry::Answered { check: about, .. } => {
                    by_comparison && c.compare.as_ref().is_some_and(|o| o.with == *about)
                }
                _ => false,
            });
            assert!(settled, "{check}, {value} in entry {n}, is passed over");
        }
    }

    /// Cut anywhere, the journal gives the ledger of that moment, and the check that was being asked
    /// is asked again. Some places are looked at, and always the last ones.
    pub(super) fn every_part_of_the_journal_restores(&mut self) {
        let mut ledger = Ledger::default();
        let all = self.disk.len();
        for n in 1..=all {
            ledger.apply(&self.disk[n - 1]).expect("its own journal");
            if n + 5 < all && self.tape.pick(9) != n % 9 {
                continue;
            }
            let part = &self.disk[..n];
            let mut walk = Walk::restore(part, self.settings.clone()).expect("its own journal");
            assert_eq!(walk.ledger(), &ledger);
            walk.handle(Event::Begin, 0);
            let telling = part.iter().rev().find(|e| {
                !matches!(
                    e,
                    Entry::Refused { .. }
                        | Entry::Doubted { .. }
                        | Entry::Held { .. }
                        | Entry::Carried { .. }
                        | Entry::Resumed { .. }
                )
            });
            if let Some(Entry::Asked { check, .. }) = telling {
                assert_eq!(
                    walk.current(),
                    Some(check),
                    "asked again after a kill: {:?}",
                    &part[n.saturating_sub(6)..]
                );
            }
        }
        assert_eq!(&ledger, self.walk.ledger());
    }
}
