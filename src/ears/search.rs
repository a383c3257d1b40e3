//! Best-first search of a closed grammar with a model's own scores.
//!
//! Every written form of a meaning adds to that meaning's score, so that " three", " Three." and
//! " 3 links" are one answer. The search ends when nothing open can still matter, or at a fixed
//! number of decoder steps: hopeless sound costs no more than a clear answer.

use crate::ears::{EarsError, Scorer, Token};
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Decoder steps that one search may spend.
pub const STEPS_MAX: usize = 20;
/// As many more for each piece of the longest path that it follows: strings of letters need them.
const STEPS_A_PIECE: usize = 5;
/// Paths this many nats behind the best complete meaning no longer matter.
pub const GAP_MAX: f32 = 6.0;
/// Paths this many nats behind the best meaning that could only add to that meaning are not followed:
/// what they add is under a seventh.
const MORE_OF_THE_SAME: f32 = 2.0;
/// What a path that is not yet complete still has to pay on average, in nats: its end, and the words
/// that are not yet written.
const STILL_DUE: f32 = 2.5;
/// Head start of a longer path for each piece, in nats: complete answers come early.
const HEAD_START: f32 = 1.5;
/// Paths below this log-probability are not followed while nothing better is complete.
const FLOOR: f32 = -13.0;
/// Pieces for which more steps are given.
const DEEPEST_PAID: usize = 12;
/// Longest path, in tokens.
const DEPTH_MAX: usize = 48;

/// A closed set of token paths, each with a meaning.
pub trait Lattice {
    /// A place in the set.
    type State: Clone;
    /// What a complete path means.
    type Meaning: Clone + Eq;
    /// The place before the first token.
    fn start(&mut self) -> Self::State;
    /// The tokens that may follow, with the places they lead to.
    fn continuations(&mut self, state: &Self::State) -> Vec<(Token, Self::State)>;
    /// The only meaning that any way on from here can have; `None` where there are several.
    fn certain(&mut self, state: &Self::State) -> Option<Self::Meaning>;
    /// What the path means if it ends here; several when the grammar is ambiguous, none when it may
    /// not end here.
    fn meanings(&mut self, state: &Self::State) -> Vec<Self::Meaning>;
}

/// A meaning with the evidence for it.
#[derive(Clone, Debug)]
pub struct Candidate<M> {
    /// The meaning.
    pub meaning: M,
    /// Log-probability of all its written forms that were reached, in nats.
    pub log_prob: f32,
    /// Tokens of its most probable form.
    pub path: Vec<Token>,
    /// Log-probability of that form alone, with its end, in nats.
    pub path_log_prob: f32,
}

/// What a search found.
#[derive(Clone, Debug)]
pub struct Found<M> {
    /// Meanings, best first.
    pub candidates: Vec<Candidate<M>>,
    /// Log-probability of the best path still open at the end that may lead to another meaning, less
    /// what it still has to pay on average.
    pub open: f32,
    /// Decoder steps spent.
    pub steps: usize,
    /// Whether the grammar allows the likeliest first token of the whole vocabulary.
    pub first_allowed: bool,
}

struct Open<S> {
    log_prob: f32,
    path: Vec<Token>,
    state: S,
}

impl<S> Open<S> {
    fn rank(&self) -> f32 {
        self.log_prob + HEAD_START * self.path.len() as f32
    }
}

impl<S> PartialEq for Open<S> {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl<S> Eq for Open<S> {}
impl<S> PartialOrd for Open<S> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl<S> Ord for Open<S> {
    fn cmp(&self, other: &Self) -> Ordering {
        self.rank()
            .total_cmp(&other.rank())
            .then_with(|| other.path.cmp(&self.path))
    }
}

/// Searches the lattice for what the scorer has just listened to.
///
/// # Errors
/// Whatever the scorer returns.
pub fn search<L: Lattice>(
    lattice: &mut L,
    scorer: &mut impl Scorer,
) -> Result<Found<L::Meaning>, EarsError> {
    let end = scorer.end() as usize;
    let mut open = BinaryHeap::new();
    open.push(Open {
        log_prob: 0.0,
        path: Vec::new(),
        state: lattice.start(),
    });
    let mut candidates: Vec<Candidate<L::Meaning>> = Vec::new();
    let mut first_allowed = false;
    let mut steps = 0;
    let mut deepest = 0;
    while let Some(best_open) = open.peek() {
        let bar = candidates
            .iter()
            .map(|c| c.log_prob)
            .fold(FLOOR, |bar, p| bar.max(p - GAP_MAX));
        if steps >= STEPS_MAX + STEPS_A_PIECE * deepest.min(DEEPEST_PAID) {
            break;
        }
        if best_open.log_prob - STILL_DUE < bar {
            open.pop();
            continue;
        }
        let Some(Open {
            log_prob,
            path,
            state,
        }) = open.pop()
        else {
            break;
        };
        if let Some(best) = best(&candidates)
            && log_prob < best.log_prob - MORE_OF_THE_SAME
            && lattice
                .certain(&state)
                .is_some_and(|certain| certain == best.meaning)
        {
            continue;
        }
        let continuations = if path.len() < DEPTH_MAX {
            lattice.continuations(&state)
        } else {
            Vec::new()
        };
        let log_probs = scorer.next(&path)?;
        steps += 1;
        deepest = deepest.max(path.len());
        if path.is_empty() {
            first_allowed = allows_the_likeliest(log_probs, &continuations);
        }
        for meaning in lattice.meanings(&state) {
            add(&mut candidates, meaning, log_prob + log_probs[end], &path);
        }
        for (token, state) in continuations {
            let log_prob = log_prob + log_probs[token as usize];
            if log_prob >= bar {
                let mut path = path.clone();
                path.push(token);
                open.push(Open {
                    log_prob,
                    path,
                    state,
                });
            }
        }
    }
    candidates.sort_by(|a, b| b.log_prob.total_cmp(&a.log_prob));
    // What can only add to the best meaning is no rival of it.
    let mut rival = f32::NEG_INFINITY;
    for next in open {
        if next.log_prob - STILL_DUE <= rival {
            continue;
        }
        let certain = lattice.certain(&next.state);
        if certain.is_none() || certain.as_ref() != candidates.first().map(|c| &c.meaning) {
            rival = rival.max(next.log_prob - STILL_DUE);
        }
    }
    Ok(Found {
        candidates,
        open: rival,
        steps,
        first_allowed,
    })
}

fn best<M>(candidates: &[Candidate<M>]) -> Option<&Candidate<M>> {
    candidates
        .iter()
        .max_by(|a, b| a.log_prob.total_cmp(&b.log_prob))
}

/// Whether the likeliest token of all is among those that are allowed.
fn allows_the_likeliest<S>(log_probs: &[f32], allowed: &[(Token, S)]) -> bool {
    let likeliest = log_probs
        .iter()
        .enumerate()
        .max_by(|a, b| a.1.total_cmp(b.1));
    likeliest.is_some_and(|(at, _)| allowed.iter().any(|(t, _)| *t as usize == at))
}

fn add<M: Clone + Eq>(
    candidates: &mut Vec<Candidate<M>>,
    meaning: M,
    log_prob: f32,
    path: &[Token],
) {
    let Some(known) = candidates.iter_mut().find(|c| c.meaning == meaning) else {
        candidates.push(Candidate {
            meaning,
            log_prob,
            path: path.to_vec(),
            path_log_prob: log_prob,
        });
        return;
    };
    if log_prob > known.path_log_prob {
        known.path = path.to_vec();
        known.path_log_prob = log_prob;
    }
    known.log_prob = log_add(known.log_prob, log_prob);
}

/// ln(e^a + e^b), exact at the ends.
fn log_add(a: f32, b: f32) -> f32 {
    let (high, low) = if a > b { (a, b) } else { (b, a) };
    if low == f32::NEG_INFINITY {
        return high;
    }
    high + (low - high).exp().ln_1p()
}
