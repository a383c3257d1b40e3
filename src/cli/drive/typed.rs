//! What is typed, on its way from the keyboard to the walk.

use super::calls::nothing;
use super::driver::{Driver, Next};
use crate::grammar::Meaning;
use crate::walk::{Called, Decision, Event, Hearing, Listen, Note, rules};

impl Driver<'_> {
    pub(super) fn typed(&mut self, line: &str, listen: &Listen) -> anyhow::Result<Next> {
        let words = line.trim();
        if words.is_empty() {
            return Ok(Next::Nothing);
        }
        if !listen.items.is_empty() {
            return self.typed_breath(words, listen);
        }
        let meaning = self
            .ears
            .read(words, listen)?
            .filter(|m| !is_prose(words, m));
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
            // A tag may have dashes.
            Some(meaning) if meaning.rule != rules::TAG && is_left_open(words, &meaning) => {
                Decision::Refuse {
                    reason: "a question, or a range, is no answer".to_owned(),
                }
            }
            // A word that was meant for something else could be a tag too.
            Some(meaning) if is_word(words, &meaning) => Decision::Confirm { meaning },
            Some(meaning) => Decision::Take { meaning },
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

/// Whether a typed tag is words run together ("leave it" as LEAVEIT): a tag of letters alone is typed
/// without blanks, letter by letter, or in the spelling alphabet.
fn is_prose(words: &str, meaning: &Meaning) -> bool {
    let mut parts = words.split_whitespace();
    let is_word = |w: &str| w.chars().count() > 1 && w.chars().all(char::is_alphabetic);
    let run_together = words.split_whitespace().collect::<String>().to_uppercase();
    meaning.rule == rules::TAG
        && meaning.value == run_together
        && words.split_whitespace().count() > 1
        && parts.all(is_word)
}

/// Whether a typed tag may be words: letters alone ("missing" as MISSING, "no" as NO), or with words run into it ("12 or 13"
/// as 12OR13, "no, K9" as NOK9): tags are written in capitals where letters stand together, and a comma parts what is said.
fn is_word(words: &str, meaning: &Meaning) -> bool {
    let of_letters = |text: &str| {
        text.chars()
            .all(|c| c.is_alphabetic() || c.is_ascii_punctuation())
    };
    let is_small = |run: &str| run.chars().count() > 1 && run.chars().any(char::is_lowercase);
    let run_together: String = words.chars().filter(|c| c.is_alphanumeric()).collect();
    // In the spelling alphabet a tag is told in words.
    let is_as_typed = meaning.value == run_together.to_uppercase();
    let mut runs = words.split(|c: char| !c.is_alphabetic());
    meaning.rule == rules::TAG
        && (of_letters(words)
            || words.contains('?')
            || is_as_typed && (runs.any(is_small) || words.contains(',')))
}

/// Whether typed words leave the answer open: a question ("present?"), or a range of figures ("3-4"). A command may be put
/// as a question ("where am I?").
fn is_left_open(words: &str, meaning: &Meaning) -> bool {
    let letters: Vec<char> = words.chars().filter(|c| !c.is_whitespace()).collect();
    let is_dash = |c: char| matches!(c, '-' | '\u{2010}'..='\u{2015}' | '/');
    let is_range = |w: &[char]| w[0].is_ascii_digit() && is_dash(w[1]) && w[2].is_ascii_digit();
    meaning.rule != rules::CONTROL && (letters.contains(&'?') || letters.windows(3).any(is_range))
}
