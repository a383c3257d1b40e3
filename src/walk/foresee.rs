//! What would be spoken after an answer, so that its sound can be made while the answer is awaited.

use super::machine::Walk;
use super::phase::Phase;
use crate::plan::CheckKind;
use crate::walk::{Decision, Effect, Event, Hearing, Meaning, judge, rules};

impl Walk {
    /// What would be spoken next if this were heard now, in order. Nothing changes.
    pub fn would_say(&self, decision: Decision) -> Vec<String> {
        let Some(ear) = self.ear.filter(|e| e.handed) else {
            return Vec::new();
        };
        let mut ahead = self.clone();
        ahead.out.clear();
        let hearing = Hearing {
            decision,
            words: String::new(),
            confidence: 1.0,
            clip: String::new(),
            clip_sha256: String::new(),
            snr_db: None,
            others: Vec::new(),
        };
        let listen = ear.id;
        ahead.handle(Event::Heard { listen, hearing }, self.now);
        let says = ahead
            .out
            .into_iter()
            .filter_map(|queued| match queued.effect {
                Effect::Say(say) => Some(say.text),
                _ => None,
            });
        says.collect()
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
            for text in self.would_say(Decision::Take { meaning }) {
                if !texts.contains(&text) {
                    texts.push(text);
                }
            }
        }
        texts
    }
}
