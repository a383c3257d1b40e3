//! Findings called off that were not sure, asked about together: each is named with what was found, and one
//! yes confirms them all. Numbers, and whatever would not conform, are asked about singly.

use super::machine::Walk;
use super::phase::Doubt;
use super::wording;
use crate::plan::{CheckId, CheckKind};
use crate::walk::{Advice, Heard, Hearing, Meaning, Outcome, Phrase, rules};

/// Most findings in one question: no more than can be kept in mind while it is answered.
const TOGETHER_MAX: usize = 4;
/// Least confidence of each: one that was not meant costs the answer to all of them, and is heard less easily among
/// others. What must be asked about by itself is under it (`ears::decide::breath`).
const CONFIDENCE_LEAST: f64 = 0.5;

impl Walk {
    /// The doubted findings that are to be confirmed together at the station of this check, in the order of
    /// the route; `None` where there are fewer than two, or voice cannot be relied on at all. They are doubts no
    /// more then.
    pub(super) fn together(&mut self, check: &CheckId) -> Option<Vec<Doubt>> {
        if self.advice() == Some(Advice::NoVoice) {
            return None;
        }
        let (station, _) = self.ledger.locate(check)?;
        let own = station.checks.iter().map(|c| &c.id);
        let doubted: Vec<CheckId> = own
            .filter(|id| self.doubts.get(id).is_some_and(|d| self.is_plainly_good(d)))
            .take(TOGETHER_MAX)
            .cloned()
            .collect();
        if doubted.len() < 2 {
            return None;
        }
        let doubts = doubted.iter().filter_map(|id| self.doubts.remove(id));
        Some(doubts.collect())
    }

    /// Whether every check that is open at a station was called off and is doubted: nothing is left to be called.
    pub(super) fn is_all_called(&self, station: &str) -> bool {
        let stations = &self.ledger.route().stations;
        let own = stations.iter().filter(|s| s.key == station);
        let mut open = own
            .flat_map(|s| &s.checks)
            .filter(|c| self.ledger.applies(&c.id) && self.ledger.standing(&c.id).is_none())
            .peekable();
        open.peek().is_some() && open.all(|c| self.doubts.contains_key(&c.id))
    }

    fn is_plainly_good(&self, doubt: &Doubt) -> bool {
        let Some((_, check)) = self.ledger.locate(&doubt.check) else {
            return false;
        };
        let is_word = matches!(
            check.kind,
            CheckKind::Presence { .. } | CheckKind::Condition | CheckKind::State { .. }
        );
        is_word
            && doubt.first.confidence >= CONFIDENCE_LEAST
            && self.ledger.applies(&check.id)
            && self.ledger.standing(&check.id).is_none()
            && !self.urgent.contains(&check.id)
            && self.conforms(doubt)
    }

    fn conforms(&self, doubt: &Doubt) -> bool {
        self.ledger.would_be(&doubt.check, &doubt.value) == Some(Outcome::Conforming)
    }

    /// An utterance where several findings are asked about.
    pub(super) fn confirm_together(
        &mut self,
        doubts: Vec<Doubt>,
        meaning: &Meaning,
        sure: bool,
        hearing: Hearing,
    ) {
        match (meaning.rule.as_str(), meaning.value.as_str()) {
            (rules::YES_NO, rules::YES) if sure => {
                self.batch.clear();
                for doubt in doubts {
                    // The answer to one can make another differ from what it is compared with.
                    if !self.conforms(&doubt) {
                        self.doubts.insert(doubt.check.clone(), doubt);
                        continue;
                    }
                    let heard = Heard {
                        hearing: doubt.first,
                        confirmed_by: Some(hearing.clone()),
                    };
                    self.taken.push(doubt.check.clone());
                    let outcome = Outcome::Conforming;
                    self.write_answer(&doubt.check, &doubt.value, &outcome, heard, None);
                }
                self.advance();
            }
            (rules::YES_NO, rules::NO) => {
                self.write_control(rules::NO, None, hearing);
                self.one_by_one();
            }
            _ => self.refuse(hearing),
        }
    }

    /// Not all of them were meant, or the answer is not clear: each check is asked afresh.
    pub(super) fn one_by_one(&mut self) {
        self.say(Phrase::Tell, wording::ONE_BY_ONE);
        self.advance();
    }

    /// Asks about all of them, in the words of the question.
    pub(super) fn prompt_together(&mut self, doubts: &[Doubt]) {
        let items: Vec<String> = doubts
            .iter()
            .filter_map(|doubt| {
                let (_, check) = self.ledger.locate(&doubt.check)?;
                Some(wording::item(check, &doubt.value))
            })
            .collect();
        let text = wording::did_you_say_all(&items, self.patience.refused);
        self.say(Phrase::Ask, text);
    }
}
