//! What would be spoken after an answer, so that its sound can be made while the answer is awaited.

use super::machine::Walk;
use super::phase::Phase;
use crate::plan::CheckKind;
use crate::walk::{Decision, Effect, Entry, Event, Hearing, Meaning, judge, rules};

/// What would follow if something were heard.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Foreseen {
    /// What would be spoken, in order.
    pub says: Vec<String>,
    /// Whether it would be the answer to the question that is put, with nothing to be asked back.
    pub answers: bool,
}

impl Walk {
    /// What would follow if this were heard now. Nothing changes.
    pub fn foresee(&self, hearing: Hearing) -> Foreseen {
        let mut foreseen = Foreseen::default();
        let Some(ear) = self.ear.filter(|e| e.handed) else {
            return foreseen;
        };
        let asked = match &self.phase {
            Phase::Asking(check) => Some(check),
            _ => None,
        };
        let mut ahead = self.clone();
        ahead.out.clear();
        let listen = ear.id;
        ahead.handle(Event::Heard { listen, hearing }, self.now);
        for queued in ahead.out {
            match queued.effect {
                Effect::Say(say) => foreseen.says.push(say.text),
                Effect::Journal { entry, .. } => {
                    if let Entry::Answered { check, .. } = *entry {
                        foreseen.answers |= Some(&check) == asked;
                    }
                }
                _ => {}
            }
        }
        foreseen
    }

    /// What would be spoken after each answer to the question that is put, where the answers are few.
    pub fn would_say_to_answers(&self) -> Vec<String> {
        let Phase::Asking(check) = &self.phase else {
            return Vec::new();
        };
        let Some((_, check)) = self.ledger.locate(check) else {
            return Vec::new();
        };
        let values: Vec<&str> = match &check.kind {
            CheckKind::Presence { .. } => vec![rules::PRESENT, rules::MISSING],
            CheckKind::Condition => vec![rules::GOOD, rules::DEFICIENT],
            CheckKind::State { states } => states.iter().map(|s| s.key.as_str()).collect(),
            CheckKind::Count { .. } | CheckKind::Reading { .. } | CheckKind::Tag { .. } => vec![],
        };
        let rule = judge::answer_rule(&check.kind);
        let mut texts = Vec::new();
        for value in values {
            let meaning = Meaning {
                rule: rule.to_owned(),
                value: value.to_owned(),
            };
            let hearing = Hearing {
                decision: Decision::Take { meaning },
                words: String::new(),
                confidence: 1.0,
                clip: String::new(),
                clip_sha256: String::new(),
                snr_db: None,
                others: Vec::new(),
            };
            for text in self.foresee(hearing).says {
                if !texts.contains(&text) {
                    texts.push(text);
                }
            }
        }
        texts
    }
}
