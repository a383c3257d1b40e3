//! What a review does to a walk that is taken up again: checks that it sent back, with what it heard there.

use super::ledger::{Ledger, Tally, Unfit};
use crate::plan::CheckId;
use crate::walk::rules;

/// A deficiency that a review heard in the sound of an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct InReview {
    /// Its name.
    pub deficiency: String,
    /// The number of the entry that says so.
    pub entry: u64,
    /// How many answers but "cannot see" the check had then: with one more it is settled by that one.
    answers: usize,
}

impl Ledger {
    /// The check is asked again, since a review does not let its answer stand.
    pub(super) fn send_back(&mut self, at: usize, deficiency: Option<&str>) -> Result<(), Unfit> {
        let answers = self.tallies[at].history.len();
        let with_value = self.tallies[at].with_value();
        // Nobody put it right: what was deficient stays so until it is answered again.
        let walked = self.is_found(at) && self.in_review_at(at).is_none();
        match deficiency {
            Some(name) if !walked => {
                self.withdraw(at, false)?;
                self.tallies[at].in_review = Some(InReview {
                    deficiency: name.to_owned(),
                    entry: self.entries,
                    answers: with_value,
                });
            }
            _ if !self.is_found(at) => self.withdraw(at, true)?,
            _ => {}
        }
        if self.tallies[at].sent_back.last() != Some(&answers) {
            self.tallies[at].sent_back.push(answers);
        }
        if !self.again.contains(&at) {
            self.again.push_back(at);
        }
        Ok(())
    }

    /// What a review heard at the check and nobody put right or answered since.
    pub(super) fn in_review_at(&self, at: usize) -> Option<&InReview> {
        let put_right = self.tallies[at].put_right;
        let heard = self.tallies[at].in_review.as_ref();
        heard.filter(|_| !put_right && self.last_was_in_review(at))
    }

    /// Whether the last that was found at the check is what a review heard there.
    pub(super) fn last_was_in_review(&self, at: usize) -> bool {
        let tally = &self.tallies[at];
        let heard = tally.in_review.as_ref();
        heard.is_some_and(|heard| heard.answers == tally.with_value())
    }

    /// The deficiency that a review heard at the check, with the number of the entry that says so, as long as it was neither
    /// put right nor answered again.
    pub fn heard_in_review(&self, id: &CheckId) -> Option<(&str, u64)> {
        let heard = self.in_review_at(self.at(id).ok()?)?;
        Some((&heard.deficiency, heard.entry))
    }

    /// Whether the check was ever found deficient, by an answer to it or to another check, or by a review that sent it back.
    pub fn was_found(&self, id: &CheckId) -> bool {
        !self.found(id).is_empty()
    }

    /// Where the check was found deficient, oldest first: the number of the entry that made it so, of the check's own or
    /// of another, and the name of the deficiency.
    pub fn found(&self, id: &CheckId) -> &[(u64, String)] {
        self.at(id).map_or(&[], |at| &self.tallies[at].found)
    }
}

impl Tally {
    /// Answers but "cannot see".
    fn with_value(&self) -> usize {
        let seen = self.history.iter().filter(|a| a.value != rules::NOT_SEEN);
        seen.count()
    }
}
