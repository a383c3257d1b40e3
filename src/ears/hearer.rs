//! Ears as one thing: an utterance and the active rules in, a decision with its evidence out.

use crate::ears::decide::{Evidence, Judgement, judge};
use crate::ears::{Candidate, EarsError, Found, Spelled, Token, Utterance, Whisper, pace, search};
use crate::grammar::{self, Decided, GrammarSet, Graph, Meaning, VocabTrie};
use std::collections::HashMap;
use std::path::Path;
use std::time::Instant;

/// Graphs kept ready; beyond it the store starts anew.
const GRAPHS_MAX: usize = 256;
/// Taken off a word or figure written twice, in nats: the recogniser's habit, seldom the inspector's.
const DOUBLED: f32 = -1.0;
/// Other meanings reported beside the best.
const OTHERS_MAX: usize = 3;

/// The rules listened for at one moment.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Active {
    /// Names of grammar rules active together.
    pub rules: Vec<String>,
    /// Spoken forms of a check's own states, where `state` is among the rules: (key, forms).
    pub states: Vec<(String, Vec<String>)>,
}

/// Milliseconds spent on one utterance.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Spent {
    /// Spectrogram, encoder and the prompt.
    pub encode: f64,
    /// Search of the grammar.
    pub search: f64,
    /// All of it.
    pub total: f64,
}

/// What was heard in one utterance.
#[derive(Clone, Debug)]
pub struct Recognition {
    /// What to do with it and why.
    pub judgement: Judgement,
    /// The best meaning, also where it is refused; `None` where nothing in the grammar came near.
    pub meaning: Option<Meaning>,
    /// The best phrase as the model writes it.
    pub words: String,
    /// Meanings that it could have been instead, with their log-probabilities.
    pub others: Vec<(Meaning, f32)>,
    /// Log-probability of the best meaning, as those of the others; `None` where there is none.
    pub best: Option<f32>,
    /// The measurements that decided.
    pub evidence: Evidence,
    /// Where the time went.
    pub ms: Spent,
}

/// What the ears need for one [`Active`].
struct Ready {
    graph: Graph,
    decided: Decided,
    /// Put before the decoder's prompt; see [`context`].
    context: Vec<Token>,
}

/// A candidate with its length weighed in.
struct Ranked {
    meaning: Meaning,
    words: String,
    /// What the model alone makes of it, in nats.
    log_prob: f32,
    /// See [`pace::log_likelihood`].
    pace: f32,
    /// What it is ranked by.
    score: f32,
}

/// A recogniser with its grammars.
pub struct Ears {
    whisper: Whisper,
    vocabulary: VocabTrie,
    grammars: GrammarSet,
    ready: HashMap<Active, Ready>,
}

impl Ears {
    /// Loads a ggml Whisper file.
    ///
    /// # Errors
    /// [`EarsError::Model`] when the file cannot be read as one.
    pub fn load(model: &Path, threads: usize, grammars: GrammarSet) -> Result<Self, EarsError> {
        let whisper = Whisper::load(model, threads)?;
        let pieces = whisper
            .vocabulary()
            .map(|(token, bytes)| (token as u32, bytes.to_vec()));
        let vocabulary = VocabTrie::new(pieces);
        Ok(Self {
            whisper,
            vocabulary,
            grammars,
            ready: HashMap::new(),
        })
    }

    /// Makes the graph of these rules ready, so that the first utterance does not wait for it.
    ///
    /// # Errors
    /// [`EarsError::Grammar`] where a rule is unknown or the rules are too large together.
    pub fn prepare(&mut self, active: &Active) -> Result<(), EarsError> {
        if self.ready.contains_key(active) {
            return Ok(());
        }
        if self.ready.len() >= GRAPHS_MAX {
            self.ready.clear();
        }
        let rules: Vec<&str> = active.rules.iter().map(String::as_str).collect();
        let graph = self.grammars.graph(&rules, &active.states)?;
        let decided = Decided::of(graph.written()?);
        let context = match context(&active.states) {
            Some(text) => self.whisper.tokens(&text)?,
            None => Vec::new(),
        };
        let ready = Ready {
            graph,
            decided,
            context,
        };
        self.ready.insert(active.clone(), ready);
        Ok(())
    }

    /// What typed words mean under these rules; `None` where nothing or more than one thing.
    ///
    /// # Errors
    /// As [`Ears::prepare`].
    pub fn read(&mut self, words: &str, active: &Active) -> Result<Option<Meaning>, EarsError> {
        self.prepare(active)?;
        let mut meanings = self.ready[active].graph.match_words(words);
        meanings.dedup();
        Ok(match meanings.as_slice() {
            [one] => Some(one.clone()),
            _ => None,
        })
    }

    /// Hears one utterance against the active rules.
    ///
    /// # Errors
    /// As [`Ears::prepare`], and [`EarsError::Engine`] when the model fails. Sound in which nothing
    /// can be heard is a refusal.
    pub fn hear(
        &mut self,
        utterance: &Utterance,
        active: &Active,
    ) -> Result<Recognition, EarsError> {
        self.prepare(active)?;
        let begun = Instant::now();
        let ready = &self.ready[active];
        self.whisper.listen(&utterance.samples, &ready.context)?;
        let encoded = begun.elapsed();
        let mut spelled = Spelled::new(ready.graph.written()?, &ready.decided, &self.vocabulary);
        let found = search(&mut spelled, &mut self.whisper)?;
        let total = begun.elapsed();
        let ms = |d: std::time::Duration| d.as_secs_f64() * 1e3;
        let ranked = self.ranked(&found.candidates, utterance.speech_seconds);
        let evidence = evidence(&ranked, &found, self.whisper.no_speech(), utterance);
        let best = ranked.first().map(|r| r.score);
        let mut ranked = ranked.into_iter();
        let (meaning, words) = match ranked.next() {
            Some(best) => (Some(best.meaning), best.words.trim().to_owned()),
            None => (None, String::new()),
        };
        Ok(Recognition {
            best,
            judgement: judge(&evidence, meaning.as_ref()),
            meaning,
            words,
            others: ranked
                .take(OTHERS_MAX)
                .map(|r| (r.meaning, r.score))
                .collect(),
            evidence,
            ms: Spent {
                encode: ms(encoded),
                search: ms(total - encoded),
                total: ms(total),
            },
        })
    }

    /// Candidates with the length of the utterance weighed in, best first.
    fn ranked(&self, candidates: &[Candidate<Meaning>], seconds: f32) -> Vec<Ranked> {
        let mut ranked: Vec<Ranked> = candidates
            .iter()
            .map(|candidate| {
                let words = self.whisper.text(&candidate.path);
                let pace = pace::log_likelihood(&words, seconds);
                let doubled = if is_doubled(&words) { DOUBLED } else { 0.0 };
                Ranked {
                    meaning: candidate.meaning.clone(),
                    log_prob: candidate.log_prob,
                    pace,
                    score: candidate.log_prob + pace + doubled,
                    words,
                }
            })
            .collect();
        ranked.sort_by(|a, b| b.score.total_cmp(&a.score));
        ranked
    }

    /// Writes down free speech as the model guesses it. Never an answer.
    ///
    /// # Errors
    /// [`EarsError::Engine`] when the model fails.
    pub fn transcribe(&mut self, samples: &[f32]) -> Result<String, EarsError> {
        self.whisper.transcribe(samples)
    }
}

impl Recognition {
    /// What else it could have been, in the walk's words.
    pub fn others(&self) -> Vec<crate::walk::Other> {
        let Some(best) = self.best else {
            return Vec::new();
        };
        let others = self.others.iter().map(|(meaning, log_prob)| {
            let behind = f64::from(best - log_prob);
            (meaning, behind)
        });
        others
            // The journal takes numbers only.
            .filter(|(_, behind)| behind.is_finite())
            .map(|(meaning, behind)| crate::walk::Other {
                meaning: meaning.clone(),
                behind: behind.max(0.0),
            })
            .collect()
    }

    /// The decision in the walk's words: a meaning only where it was taken or is to be confirmed.
    pub fn decision(&self) -> crate::walk::Decision {
        use crate::ears::decide::Verdict;
        use crate::walk::Decision;
        match (&self.judgement.verdict, &self.meaning) {
            (Verdict::Take, Some(meaning)) => Decision::Take {
                meaning: meaning.clone(),
            },
            (Verdict::Confirm, Some(meaning)) => Decision::Confirm {
                meaning: meaning.clone(),
            },
            (Verdict::Refuse(why), _) => Decision::Refuse {
                reason: (*why).to_owned(),
            },
            (_, None) => Decision::Refuse {
                reason: "nothing like an answer".to_owned(),
            },
        }
    }
}

/// A check's own states are words that the recogniser does not expect ("plugged", "latched and pinned").
/// Told of them as if they had just been said, it writes them far more readily. The other rules gain
/// nothing by it and take more of what is no answer.
fn context(states: &[(String, Vec<String>)]) -> Option<String> {
    let mut text = String::new();
    for form in states.iter().flat_map(|(_, forms)| forms) {
        let mut letters = form.chars();
        if let Some(first) = letters.next() {
            text.extend([' '].into_iter().chain(first.to_uppercase()));
            text.push_str(letters.as_str());
            text.push('.');
        }
        if text.len() > CONTEXT_BYTES {
            break;
        }
    }
    (!text.is_empty()).then_some(text)
}

/// Longest context; about as many tokens as a quarter of the bytes.
const CONTEXT_BYTES: usize = 400;

/// Whether the written form is one word or figure twice or more (" 2 2", " nine nine", " 55").
fn is_doubled(words: &str) -> bool {
    let mut parts = words
        .split(|c: char| !c.is_alphanumeric())
        .filter(|part| !part.is_empty())
        .map(str::to_lowercase);
    let Some(first) = parts.next() else {
        return false;
    };
    let rest: Vec<String> = parts.collect();
    if rest.is_empty() {
        let signs = first.as_bytes();
        return signs.len() > 1
            && signs[0].is_ascii_digit()
            && signs.iter().all(|b| *b == signs[0]);
    }
    rest.iter().all(|part| *part == first)
}

fn evidence(
    ranked: &[Ranked],
    found: &Found<Meaning>,
    no_speech: f32,
    utterance: &Utterance,
) -> Evidence {
    let best = ranked.first();
    let gap = best.map_or(0.0, |best| {
        let next = ranked.get(1).map_or(f32::NEG_INFINITY, |r| r.score);
        (best.score - next.max(found.open)).clamp(0.0, search::GAP_MAX)
    });
    let sounds = best.map_or_else(Vec::new, |best| grammar::sounds_in(&best.words));
    Evidence {
        fit: best.map_or(-99.0, |b| b.log_prob),
        gap,
        pace: best.map_or(0.0, |b| b.pace),
        first: found.first.0,
        first_allowed: found.first.1,
        no_speech,
        activity: utterance.activity,
        snr_db: utterance.level.snr_db.unwrap_or(30.0),
        seconds: utterance.speech_seconds,
        sounds: sounds.iter().sum::<usize>() as f32 / sounds.len().max(1) as f32,
    }
}

#[cfg(test)]
mod tests {
    use super::{context, is_doubled};

    #[test]
    fn words_written_twice_are_known() {
        for doubled in [" 2 2", " nine nine", " Nine, nine.", " 55", " 1 1 1"] {
            assert!(is_doubled(doubled), "{doubled}");
        }
        for single in [" 2", " nine", " 56", " nine two nine", "", " good"] {
            assert!(!is_doubled(single), "{single}");
        }
    }

    #[test]
    fn the_context_is_the_states_as_sentences() {
        let states = [
            ("a".to_owned(), vec!["latched and pinned".to_owned()]),
            ("b".to_owned(), vec!["open".to_owned()]),
        ];
        assert_eq!(
            context(&states).as_deref(),
            Some(" Latched and pinned. Open.")
        );
        assert_eq!(context(&[]), None);
    }
}
