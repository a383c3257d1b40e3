//! Ears as one thing: an utterance and the active rules in, a decision with its evidence out.

use crate::ears::decide::{Evidence, Judgement, judge};
use crate::ears::{EarsError, Spelled, Utterance, Whisper, search};
use crate::grammar::{Decided, GrammarSet, Graph, Meaning, VocabTrie};
use std::collections::HashMap;
use std::path::Path;
use std::time::Instant;

/// Graphs kept ready; beyond it the store starts anew.
const GRAPHS_MAX: usize = 256;
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
    /// The measurements that decided.
    pub evidence: Evidence,
    /// Where the time went.
    pub ms: Spent,
}

/// A recogniser with its grammars.
pub struct Ears {
    whisper: Whisper,
    vocabulary: VocabTrie,
    grammars: GrammarSet,
    graphs: HashMap<Active, (Graph, Decided)>,
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
            graphs: HashMap::new(),
        })
    }

    /// Makes the graph of these rules ready, so that the first utterance does not wait for it.
    ///
    /// # Errors
    /// [`EarsError::Grammar`] where a rule is unknown or the rules are too large together.
    pub fn prepare(&mut self, active: &Active) -> Result<(), EarsError> {
        if self.graphs.contains_key(active) {
            return Ok(());
        }
        if self.graphs.len() >= GRAPHS_MAX {
            self.graphs.clear();
        }
        let rules: Vec<&str> = active.rules.iter().map(String::as_str).collect();
        let graph = self.grammars.graph(&rules, &active.states)?;
        let decided = Decided::of(graph.written()?);
        self.graphs.insert(active.clone(), (graph, decided));
        Ok(())
    }

    /// What typed words mean under these rules; `None` where nothing or more than one thing.
    ///
    /// # Errors
    /// As [`Ears::prepare`].
    pub fn read(&mut self, words: &str, active: &Active) -> Result<Option<Meaning>, EarsError> {
        self.prepare(active)?;
        let mut meanings = self.graphs[active].0.match_words(words);
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
        self.whisper.listen(&utterance.samples)?;
        let encoded = begun.elapsed();
        let (graph, decided) = &self.graphs[active];
        let mut spelled = Spelled::new(graph.written()?, decided, &self.vocabulary);
        let found = search(&mut spelled, &mut self.whisper)?;
        let total = begun.elapsed();
        let ms = |d: std::time::Duration| d.as_secs_f64() * 1e3;
        let best = found.candidates.first();
        let words = best.map_or_else(String::new, |b| {
            self.whisper.text(&b.path).trim().to_owned()
        });
        let evidence = Evidence {
            fit: best.map_or(-99.0, |b| b.log_prob),
            gap: found.gap().max(0.0),
            first: found.first.0,
            first_allowed: found.first.1,
            no_speech: self.whisper.no_speech(),
            activity: utterance.activity,
            snr_db: utterance.level.snr_db.unwrap_or(30.0),
            seconds: utterance.speech_seconds,
            letters: words.chars().filter(|c| c.is_alphanumeric()).count() as f32,
            pieces: best.map_or(0.0, |b| b.path.len() as f32),
        };
        let meaning = best.map(|b| b.meaning.clone());
        Ok(Recognition {
            judgement: judge(&evidence, meaning.as_ref()),
            meaning,
            words,
            others: found
                .candidates
                .iter()
                .skip(1)
                .take(OTHERS_MAX)
                .map(|c| (c.meaning.clone(), c.log_prob))
                .collect(),
            evidence,
            ms: Spent {
                encode: ms(encoded),
                search: ms(total - encoded),
                total: ms(total),
            },
        })
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
