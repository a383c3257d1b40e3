//! What one model makes of an utterance, and two opinions put together.

use crate::ears::decide::{Evidence, Judgement, Second};
use crate::ears::denial::Denials;
use crate::ears::hearer::{Alone, Ready, Recognition, Spent};
use crate::ears::{
    Candidate, EarsError, Found, GAP_MAX, Spelled, Token, Utterance, Whisper, pace, search,
};
use crate::grammar::{self, Meaning, VocabTrie};
use std::collections::HashMap;
use std::path::Path;
use std::time::Instant;

/// Taken off a word or figure written twice, in nats: the recogniser's habit, seldom the inspector's.
const DOUBLED: f32 = -1.0;
/// Phrases whose chance is kept; beyond it the store starts anew.
const CHANCES_MAX: usize = 4_096;
/// Length of the hiss, in samples.
const HISS: usize = 24_000;
/// Other meanings reported beside the best.
const OTHERS_MAX: usize = 3;

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

/// A meaning with its length weighed in.
#[derive(Clone, Debug)]
struct Ranked {
    meaning: Meaning,
    words: String,
    /// Its pieces.
    path: Vec<Token>,
    /// What the model alone makes of it, in nats.
    log_prob: f32,
    /// See [`pace::log_likelihood`].
    pace: f32,
    /// What it is ranked by.
    score: f32,
}

/// What one model makes of an utterance.
#[derive(Clone, Debug)]
pub(super) struct Opinion {
    /// Best first.
    ranked: Vec<Ranked>,
    /// Score that no meaning outside `ranked` can have.
    floor: f32,
    /// About the best.
    pub evidence: Evidence,
    /// See [`Recognition::settled`].
    settled: bool,
    /// Where the time went.
    pub ms: Spent,
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
        let mut ranked: Vec<Ranked> = candidates
            .iter()
            .map(|candidate| {
                let words = self.whisper.text(&candidate.path);
                let pace = pace::log_likelihood(&words, seconds);
                let doubled = if is_doubled(&words) { DOUBLED } else { 0.0 };
                Ranked {
                    meaning: candidate.meaning.clone(),
                    path: candidate.path.clone(),
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
}

impl Opinion {
    /// Weighs up what a search found. `chance` is that of the best phrase, see [`Listener::by_chance`].
    fn of(
        ranked: Vec<Ranked>,
        found: &Found<Meaning>,
        chance: f32,
        no_speech: f32,
        utterance: &Utterance,
        ms: Spent,
    ) -> Self {
        let best = ranked.first();
        let gap = best.map_or(0.0, |best| {
            let next = ranked.get(1).map_or(f32::NEG_INFINITY, |r| r.score);
            (best.score - next.max(found.open)).clamp(0.0, GAP_MAX)
        });
        let evidence = Evidence {
            fit: best.map_or(-99.0, |b| b.log_prob),
            lift: best.map_or(0.0, |b| b.log_prob - chance),
            gap,
            pace: best.map_or(0.0, |b| b.pace),
            all_said: 0.0,
            first: found.first.0,
            first_allowed: found.first.1,
            no_speech,
            activity: utterance.activity,
            snr_db: utterance.level.snr_db.unwrap_or(30.0),
            seconds: utterance.speech_seconds,
            sounds: best.map_or(0.0, |best| mean_sounds(&best.words)),
        };
        let floor = best.map_or(-99.0, |best| (best.score - GAP_MAX).max(found.open));
        Self {
            // Not above any that was found, so that what both models hear stays the best by both.
            floor: ranked.iter().fold(floor, |least, r| least.min(r.score)),
            ranked,
            evidence,
            settled: false,
            ms,
        }
    }

    /// The best meaning.
    pub(super) fn meaning(&self) -> Option<&Meaning> {
        self.ranked.first().map(|best| &best.meaning)
    }

    /// The best phrase as the model writes it; empty where there is none.
    pub(super) fn words(&self) -> &str {
        self.ranked.first().map_or("", |best| best.words.trim())
    }

    /// This as a second opinion to another; `both` is what both make of it together.
    pub(super) fn second_to(&self, first: &Self, both: &Self) -> Second {
        let best = both.ranked.first().map_or(both.floor, |r| r.score);
        let next = both.ranked.get(1).map_or(both.floor, |r| r.score);
        Second {
            agrees: self.meaning().is_some() && self.meaning() == first.meaning(),
            gap_of_both: best - next.max(both.floor),
            evidence: self.evidence,
            words: self.words().to_owned(),
        }
    }

    /// The first opinion with its meanings ranked by both: the mean of the two scores, where a model did
    /// not come upon a meaning the score it can at most have.
    pub(super) fn agreed_with(&self, second: &Self) -> Self {
        let of = |ranked: &[Ranked], floor: f32, meaning: &Meaning| {
            let known = ranked.iter().find(|r| r.meaning == *meaning);
            known.map_or(floor, |r| r.score)
        };
        let mut all = self.ranked.clone();
        for other in &second.ranked {
            if !all.iter().any(|r| r.meaning == other.meaning) {
                all.push(other.clone());
            }
        }
        for ranked in &mut all {
            ranked.score = 0.5
                * (of(&self.ranked, self.floor, &ranked.meaning)
                    + of(&second.ranked, second.floor, &ranked.meaning));
        }
        all.sort_by(|a, b| b.score.total_cmp(&a.score));
        let same = all.first().map(|best| &best.meaning) == self.meaning();
        Self {
            settled: self.settled && same,
            ranked: all,
            floor: 0.5 * (self.floor + second.floor),
            ..self.clone()
        }
    }

    /// As it is, for setting limits.
    pub(super) fn alone(self) -> Alone {
        Alone {
            ranked: self
                .ranked
                .into_iter()
                .map(|r| (r.meaning, r.words, r.score))
                .collect(),
            floor: self.floor,
            evidence: self.evidence,
        }
    }

    /// As the ears report it.
    pub(super) fn recognition(
        self,
        judgement: Judgement,
        second: Option<Second>,
        ms: Spent,
    ) -> Recognition {
        let best = self.ranked.first().map(|r| r.score);
        let mut ranked = self.ranked.into_iter();
        let (meaning, words) = match ranked.next() {
            Some(best) => (Some(best.meaning), best.words.trim().to_owned()),
            None => (None, String::new()),
        };
        Recognition {
            judgement,
            meaning,
            words,
            others: ranked
                .take(OTHERS_MAX)
                .map(|r| (r.meaning, r.score))
                .collect(),
            best,
            evidence: self.evidence,
            settled: self.settled,
            second,
            ms,
        }
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

/// Speech sounds of a phrase; the mean over the ways to say it.
fn mean_sounds(words: &str) -> f32 {
    let sounds = grammar::sounds_in(words);
    sounds.iter().sum::<usize>() as f32 / sounds.len().max(1) as f32
}

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

#[cfg(test)]
mod tests {
    use super::{Evidence, Opinion, Ranked, Spent, is_doubled};
    use crate::grammar::Meaning;

    fn opinion(scores: &[(&str, f32)], floor: f32) -> Opinion {
        let ranked = scores.iter().map(|(value, score)| Ranked {
            meaning: Meaning {
                rule: "condition".into(),
                value: (*value).into(),
            },
            words: (*value).into(),
            path: Vec::new(),
            log_prob: *score,
            pace: 0.0,
            score: *score,
        });
        Opinion {
            ranked: ranked.collect(),
            floor,
            settled: true,
            evidence: Evidence {
                fit: -1.0,
                lift: 8.0,
                gap: 3.0,
                pace: 0.0,
                all_said: -0.2,
                first: -0.5,
                first_allowed: true,
                no_speech: 0.0,
                activity: 1.0,
                snr_db: 30.0,
                seconds: 0.6,
                sounds: 4.0,
            },
            ms: Spent::default(),
        }
    }

    #[test]
    fn what_both_hear_is_the_best_by_both_and_else_they_do_not_agree() {
        let good = opinion(&[("good", -2.0), ("deficient", -3.0)], -8.0);
        let too = opinion(&[("good", -4.0), ("cannot", -4.0)], -4.0);
        let both = good.agreed_with(&too);
        let second = too.second_to(&good, &both);
        // (-2 - 4) / 2 before (-3 - 4) / 2: the second has no score of its own for "deficient", but its floor.
        assert!(second.agrees && second.gap_of_both == 0.5);
        assert_eq!(both.meaning(), good.meaning());
        let other = opinion(&[("deficient", -1.0), ("good", -7.0)], -9.0);
        let both = good.agreed_with(&other);
        assert!(!other.second_to(&good, &both).agrees);
        assert_eq!(both.meaning(), other.meaning());
        assert_eq!(both.ranked[1].score, -4.5);
    }

    #[test]
    fn words_written_twice_are_known() {
        for doubled in [" 2 2", " nine nine", " Nine, nine.", " 55", " 1 1 1"] {
            assert!(is_doubled(doubled), "{doubled}");
        }
        for single in [" 2", " nine", " 56", " nine two nine", "", " good"] {
            assert!(!is_doubled(single), "{single}");
        }
    }
}
