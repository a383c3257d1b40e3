//! What one model makes of an utterance, and two opinions put together.

use crate::ears::decide::{Evidence, Judgement, Second};
use crate::ears::hearer::Alone;
use crate::ears::recognition::{Recognition, Spent};
use crate::ears::{Candidate, Found, GAP_MAX, Token, Utterance, pace};
use crate::grammar::{self, Meaning};

/// Taken off a word or figure written twice, in nats: the recogniser's habit, seldom the inspector's.
const DOUBLED: f32 = -1.0;
/// Other meanings reported beside the best.
const OTHERS_MAX: usize = 3;

/// A meaning with its length weighed in.
#[derive(Clone, Debug)]
pub(super) struct Ranked {
    pub meaning: Meaning,
    pub words: String,
    /// Its pieces.
    pub path: Vec<Token>,
    /// What the model alone makes of it, in nats.
    log_prob: f32,
    /// See [`pace::log_likelihood`].
    pace: f32,
    /// What it is ranked by.
    pub score: f32,
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
    pub settled: bool,
    /// Where the time went.
    pub ms: Spent,
}

impl Ranked {
    /// A candidate, written so, in an utterance with so many seconds of speech.
    pub(super) fn of(candidate: &Candidate<Meaning>, words: String, seconds: f32) -> Self {
        let pace = pace::log_likelihood(&words, seconds);
        let doubled = if is_doubled(&words) { DOUBLED } else { 0.0 };
        Self {
            meaning: candidate.meaning.clone(),
            path: candidate.path.clone(),
            log_prob: candidate.log_prob,
            pace,
            score: candidate.log_prob + pace + doubled,
            words,
        }
    }
}

/// Where nothing tells how loud the noise is, it may be anything.
const UNKNOWN_SNR_DB: f32 = -10.0;

impl Opinion {
    /// Weighs up what a search found. `chance` is that of the best phrase, see [`crate::ears::listener`].
    pub(super) fn of(
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
            first_allowed: found.first_allowed,
            no_speech,
            activity: utterance.activity,
            snr_db: utterance.level.snr_db.unwrap_or(UNKNOWN_SNR_DB),
            quieter_db: utterance.level.quieter_db(),
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
                first_allowed: true,
                no_speech: 0.0,
                activity: 1.0,
                snr_db: 30.0,
                quieter_db: 0.0,
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
