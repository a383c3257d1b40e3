//! A model with its vocabulary, and how it listens to an utterance.

use crate::ears::denial::Denials;
use crate::ears::hearer::Ready;
use crate::ears::opinion::{Opinion, Ranked};
use crate::ears::recognition::Spent;
use crate::ears::{Candidate, EarsError, Spelled, Token, Utterance, Whisper, pace, search};
use crate::grammar::{self, Meaning, VocabTrie};
use std::collections::HashMap;
use std::path::Path;
use std::time::Instant;

/// Phrases whose chance is kept; beyond it the store starts anew.
const CHANCES_MAX: usize = 4_096;
/// Length of the hiss, in samples.
const HISS: usize = 24_000;

/// A model with its vocabulary.
pub(super) struct Listener {
    pub(super) whisper: Whisper,
    pub(super) vocabulary: VocabTrie,
    pub(super) denials: Denials,
    /// Has a hiss in mind, heard after the context beside it.
    hiss: (Whisper, Option<String>),
    /// See [`Listener::by_chance`], by phrase.
    chances: HashMap<(Option<String>, String), f32>,
}

impl Listener {
    pub(super) fn load(model: &Path, threads: usize) -> Result<Self, EarsError> {
        let whisper = Whisper::load(model, threads)?;
        let mut beside = whisper.beside()?;
        beside.listen(&hiss(), &[])?;
        let pieces = whisper
            .vocabulary()
            .map(|(token, bytes)| (token as u32, bytes));
        let vocabulary = VocabTrie::new(pieces);
        let denials = Denials::of(whisper.vocabulary());
        Ok(Self {
            denials,
            whisper,
            vocabulary,
            hiss: (beside, None),
            chances: HashMap::new(),
        })
    }

    pub(super) fn hear(
        &mut self,
        utterance: &Utterance,
        ready: &Ready,
    ) -> Result<Opinion, EarsError> {
        let begun = Instant::now();
        let context = match &ready.context {
            Some(text) => self.whisper.tokens(text)?,
            None => Vec::new(),
        };
        self.whisper.listen(&utterance.samples, &context)?;
        let encoded = begun.elapsed();
        let mut spelled = Spelled::new(ready.graph.written()?, &ready.decided, &self.vocabulary);
        let found = search(&mut spelled, &mut self.whisper)?;
        let searched = begun.elapsed();
        let no_speech = self.whisper.no_speech();
        let ranked = self.ranked(&found.candidates, utterance.speech_seconds);
        let settled = ranked.first().is_some_and(|best| {
            let same = |c: &&Candidate<Meaning>| c.meaning == best.meaning;
            let candidate = found.candidates.iter().find(same);
            candidate.is_some_and(|c| spelled.is_settled(&c.path, &c.meaning))
        });
        let chance = match ranked.first() {
            Some(best) => self.by_chance(&best.words, ready, &context)?,
            None => 0.0,
        };
        let all_said = match ranked.first() {
            Some(best) => {
                self.whisper.ends(&best.path)?
                    + pace::as_long(&best.words, utterance.speech_seconds)
            }
            None => 0.0,
        };
        let total = begun.elapsed();
        let ms = |d: std::time::Duration| d.as_secs_f64() * 1e3;
        let spent = Spent {
            encode: ms(encoded),
            search: ms(searched - encoded),
            second: 0.0,
            total: ms(total),
        };
        let mut opinion = Opinion::of(ranked, &found, chance, no_speech, utterance, spent);
        opinion.settled = settled;
        opinion.evidence.all_said = all_said;
        Ok(opinion)
    }

    /// Log-probability of a phrase in a faint hiss, in nats: the model's liking for its words.
    fn by_chance(
        &mut self,
        words: &str,
        ready: &Ready,
        context: &[Token],
    ) -> Result<f32, EarsError> {
        let words = words
            .trim()
            .trim_end_matches(['.', '!', '?'])
            .to_lowercase();
        let key = (ready.context.clone(), words);
        if let Some(known) = self.chances.get(&key) {
            return Ok(*known);
        }
        let words = &key.1;
        if self.chances.len() >= CHANCES_MAX {
            self.chances.clear();
        }
        let beside = self.in_hiss(ready.context.as_deref(), context)?;
        let mut best = f32::NEG_INFINITY;
        for form in [words.clone(), grammar::capitalised(words)] {
            let path = beside.tokens(&format!(" {form}"))?;
            best = best.max(beside.log_prob(&path)?);
        }
        self.chances.insert(key, best);
        Ok(best)
    }

    /// The model with a hiss in mind, heard after this context, which is also given in tokens.
    pub(super) fn in_hiss(
        &mut self,
        after: Option<&str>,
        context: &[Token],
    ) -> Result<&mut Whisper, EarsError> {
        let (beside, heard_after) = &mut self.hiss;
        if heard_after.as_deref() != after {
            beside.listen(&hiss(), context)?;
            *heard_after = after.map(str::to_owned);
        }
        Ok(beside)
    }

    /// Writes down free speech as the model guesses it.
    pub(super) fn transcribe(&mut self, samples: &[f32]) -> Result<String, EarsError> {
        self.whisper.transcribe(samples)
    }

    /// Candidates with the length of the utterance weighed in, best first.
    fn ranked(&self, candidates: &[Candidate<Meaning>], seconds: f32) -> Vec<Ranked> {
        let words = |c: &Candidate<Meaning>| self.whisper.text(&c.path);
        let mut ranked: Vec<Ranked> = candidates
            .iter()
            .map(|c| Ranked::of(c, words(c), seconds))
            .collect();
        ranked.sort_by(|a, b| b.score.total_cmp(&a.score));
        ranked
    }
}

/// White noise at 59 dB under full scale, the same each time: the generator of Numerical Recipes
/// (Press and others, section 7.1: x' = 1664525 x + 1013904223 modulo 2^32).
fn hiss() -> Vec<f32> {
    let mut state = 12_345_u32;
    let mut next = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state as f32 / u32::MAX as f32 - 0.5) * 0.004
    };
    (0..HISS).map(|_| next()).collect()
}
