//! What is typed, on its way from the keyboard to the walk.

use super::calls::nothing;
use super::driver::{Driver, Next};
use crate::grammar::Meaning;
use crate::walk::{
    Called, Decision, Event, Hearing, Listen, Note, TypedAs, is_left_open, rules, typed_as,
};

impl Driver<'_> {
    pub(super) fn typed(&mut self, line: &str, listen: &Listen) -> anyhow::Result<Next> {
        let words = line.trim();
        if words.is_empty() {
            return Ok(Next::Nothing);
        }
        if !listen.items.is_empty() {
            return self.typed_breath(words, listen);
        }
        let meaning = self.ears.read(words, listen)?;
        let meaning = meaning.map(|m| (typed_as(words, &m), m));
        let meaning = meaning.filter(|(is, _)| *is != TypedAs::Words);
        if listen.free && meaning.is_none() {
            return Ok(Next::Event(Event::NoteHeard {
                listen: listen.id,
                note: Note {
                    machine_transcript: words.to_owned(),
                    typed: true,
                    ..Note::default()
                },
            }));
        }
        let decision = match meaning {
            Some((TypedAs::LeftOpen, _)) => Decision::Refuse {
                reason: "a question, or a range, is no answer".to_owned(),
            },
            Some((TypedAs::MayBeWords, meaning)) => Decision::Confirm { meaning },
            Some((_, meaning)) => Decision::Take { meaning },
            None => Decision::Refuse {
                reason: "not one of the answers".to_owned(),
            },
        };
        Ok(Next::Event(Event::Heard {
            listen: listen.id,
            hearing: Hearing {
                confidence: 1.0,
                decision,
                words: words.to_owned(),
                clip: String::new(),
                clip_sha256: String::new(),
                snr_db: None,
                others: Vec::new(),
            },
        }))
    }

    fn typed_breath(&mut self, words: &str, listen: &Listen) -> anyhow::Result<Next> {
        let mut meanings = self.ears.read_breath(words, listen)?;
        // Of a line that is not understood to its end, what is understood is asked about.
        let typed: Vec<&str> = words.split_whitespace().collect();
        let mut said = typed.len();
        while meanings.is_none() && said > 1 {
            said -= 1;
            meanings = self.ears.read_breath(&typed[..said].join(" "), listen)?;
        }
        let more = meanings.is_some() && said < typed.len();
        // Any word could be a tag ("bar tag missing"): one is asked back, as where it is spoken.
        let is_tag = |meaning: &Meaning| {
            let item = listen.items.iter().find(|item| item.key == meaning.rule);
            item.is_some_and(|item| item.rule == rules::TAG)
        };
        let items = meanings.into_iter().flatten().map(|meaning| Hearing {
            decision: match more || is_tag(&meaning) || is_left_open(words, &meaning) {
                true => Decision::Confirm { meaning },
                false => Decision::Take { meaning },
            },
            ..nothing(words)
        });
        Ok(Next::Event(Event::Called {
            listen: listen.id,
            called: Called {
                items: items.collect(),
                whole: nothing(words),
                more,
            },
        }))
    }
}
