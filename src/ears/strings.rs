//! Search of a breath: a string of items, with what stands against each of them.
//!
//! Paths that lead to the same place with the same items behind them are one: the better one goes on. Once
//! a whole string is found, what is still open is measured against it piece by piece, and each path that
//! leaves it within an item is a rival of that item.

use crate::ears::{EarsError, Lattice, Scorer, Token};
use crate::grammar::Meaning;
use std::collections::HashMap;
use std::hash::Hash;

/// Head start of a longer path for each piece, in nats: about what a piece of a good path costs. Strings
/// are long; without it all short beginnings would come first.
const HEAD_START: f32 = 1.2;
/// Paths this many nats behind the best string at the same length are no rivals worth a step, whatever is wanted.
pub const STRING_GAP_MAX: f32 = 3.0;
/// Log-likelihood of a length from which a string accounts for all that was said.
const PACE_MIN: f32 = -3.0;
/// Paths of one length that are followed until there is a whole string.
const WIDTH: usize = 3;
/// Decoder steps for rivals: for a start, and as many more for each piece of the best string.
const STEPS: usize = 24;
const STEPS_A_PIECE: usize = 2;
/// Most pieces of a second of speech, and as many more: people say four in a second.
const PIECES_A_SECOND: f32 = 7.0;
const PIECES: usize = 6;
/// A path that has fallen this far is no string of this grammar.
const FLOOR_A_PIECE: f32 = -1.8;
const FLOOR: f32 = -9.0;

/// A lattice of strings.
pub trait Strings: Lattice<Meaning = Vec<Meaning>, State: Eq + Hash> {
    /// How many leading items of a reading every way through this place has behind it.
    fn agreed(&self, state: &Self::State, reading: &[Meaning]) -> usize;
    /// Whether every way to this place has said the same of the same thing twice: the recogniser likes to
    /// write a whole string again, an inspector does not say it again.
    fn repeats(&self, state: &Self::State) -> bool;
    /// How many items of a reading have begun at least on the way that leads to it.
    fn begun(&self, state: &Self::State, reading: &[Meaning]) -> usize;
}

/// The best string with its evidence.
#[derive(Clone, Debug, PartialEq)]
pub struct FoundString {
    /// Its items.
    pub items: Vec<Meaning>,
    /// Its pieces.
    pub path: Vec<Token>,
    /// For each piece the item that it belongs to.
    pub item_of: Vec<usize>,
    /// Log-probability up to and with each piece; with the end of the utterance as the last. In nats.
    pub so_far: Vec<f32>,
    /// For each item the nats by which the nearest string is behind that has another in its place; at most
    /// what was wanted. The last is for something more behind the last item.
    pub gaps: Vec<f32>,
    /// Decoder steps spent.
    pub steps: usize,
}

struct Open<S> {
    state: S,
    path: Vec<Token>,
    so_far: Vec<f32>,
    states: Vec<S>,
}

impl<S> Open<S> {
    fn log_prob(&self) -> f32 {
        self.so_far.last().copied().unwrap_or(0.0)
    }
}

/// A complete string in its best form.
struct Whole<S> {
    items: Vec<Meaning>,
    path: Vec<Token>,
    so_far: Vec<f32>,
    states: Vec<S>,
    /// Log-probability with that of its length, in nats.
    score: f32,
    /// That of its length alone.
    pace: f32,
}

impl<S> Whole<S> {
    /// As [`promise`].
    fn promise(&self) -> f32 {
        self.so_far.last().copied().unwrap_or(0.0) + HEAD_START * self.so_far.len() as f32
    }
}

/// Searches the lattice for the likeliest string in what the scorer has just listened to, `seconds` of
/// speech; `None` where none comes near. `pace`: log-likelihood of this length for a path, in nats. `wanted`: asked
/// once, as soon as there is a string, how far behind it rivals are looked for, in nats.
///
/// # Errors
/// Whatever the scorer returns.
pub fn search_string<L: Strings>(
    lattice: &mut L,
    scorer: &mut impl Scorer,
    seconds: f32,
    pace: &dyn Fn(&[Token]) -> f32,
    wanted: &dyn Fn() -> f32,
) -> Result<Option<FoundString>, EarsError> {
    let end = scorer.end() as usize;
    // Negative and not a number become 0.
    let depth_max = (seconds * PIECES_A_SECOND) as usize + PIECES;
    let mut open = vec![Open {
        state: lattice.start(),
        path: Vec::new(),
        so_far: Vec::new(),
        states: Vec::new(),
    }];
    let mut known: HashMap<L::State, f32> = HashMap::new();
    let mut complete: Vec<Whole<L::State>> = Vec::new();
    let (mut steps, mut steps_left) = (0, usize::MAX);
    let mut last: Vec<Token> = Vec::new();
    // How far behind the string rivals are looked for, once it is settled.
    let mut settled: Option<f32> = None;
    // Paths of each length that were followed.
    let mut followed: Vec<usize> = Vec::new();
    while steps_left > 0 {
        let best = complete.iter().max_by(|a, b| a.score.total_cmp(&b.score));
        if settled.is_none()
            && let Some(best) = best
        {
            let still = || open.iter().filter(|o| is_followed(&followed, o));
            let most = still()
                .map(Open::log_prob)
                .fold(f32::NEG_INFINITY, f32::max);
            let promised = still().map(promise).fold(f32::NEG_INFINITY, f32::max);
            // Nothing open can become better any more; or nothing open promises more than a string that
            // accounts for all that was said.
            if most <= best.score || (best.pace >= PACE_MIN && promised <= best.promise()) {
                settled = Some(wanted());
                steps_left = STEPS + STEPS_A_PIECE * best.path.len();
            }
        }
        let curve = best.map_or(&[][..], |best| &best.so_far);
        let here = match settled {
            Some(gap_max) => next_rival(&mut open, curve, &last, gap_max),
            None => next(&mut open, &followed),
        };
        let Some(here) = here else {
            if settled.is_some() || best.is_none() {
                break;
            }
            // Nothing is left that is followed.
            settled = Some(wanted());
            steps_left = STEPS + STEPS_A_PIECE * best.map_or(0, |b| b.path.len());
            continue;
        };
        if is_known(&known, &here) {
            continue;
        }
        last.clone_from(&here.path);
        known.insert(here.state.clone(), here.log_prob());
        let log_probs = scorer.next(&here.path)?;
        steps += 1;
        steps_left -= 1;
        followed.resize(followed.len().max(here.path.len() + 1), 0);
        followed[here.path.len()] += 1;
        let floor = FLOOR + FLOOR_A_PIECE * here.path.len() as f32;
        if here.path.len() < depth_max {
            for (token, state) in lattice.continuations(&here.state) {
                let log_prob = here.log_prob() + log_probs[token as usize];
                if log_prob < floor {
                    continue;
                }
                let on = here.and(token, state, log_prob);
                if settled.is_none_or(|gap_max| behind(&on, curve) <= gap_max)
                    && !is_known(&known, &on)
                    && !lattice.repeats(&on.state)
                {
                    open.push(on);
                }
            }
        }
        for items in lattice.meanings(&here.state) {
            let mut so_far = here.so_far.clone();
            so_far.push(here.log_prob() + log_probs[end]);
            let pace = pace(&here.path);
            let whole = Whole {
                score: so_far.last().copied().unwrap_or(0.0) + pace,
                pace,
                items,
                path: here.path.clone(),
                so_far,
                states: here.states.clone(),
            };
            match complete.iter_mut().find(|c| c.items == whole.items) {
                Some(better) if better.score >= whole.score => {}
                Some(worse) => *worse = whole,
                None => complete.push(whole),
            }
        }
    }
    complete.sort_by(|a, b| b.score.total_cmp(&a.score));
    let Some((best, others)) = complete.split_first() else {
        return Ok(None);
    };
    let gap_max = settled.unwrap_or(0.0);
    let mut gaps = vec![gap_max; best.items.len() + 1];
    let mut rival = |at: usize, behind: f32| {
        if let Some(gap) = gaps.get_mut(at) {
            *gap = gap.min(behind.max(0.0));
        }
    };
    for other in others {
        let same = best.items.iter().zip(&other.items);
        let at = same.take_while(|(a, b)| a == b).count();
        rival(at, best.score - other.score);
    }
    for other in open.iter().filter(|o| !is_known(&known, o)) {
        let at = lattice.agreed(&other.state, &best.items);
        rival(at, behind(other, &best.so_far));
    }
    let item_of = best.states.iter();
    Ok(Some(FoundString {
        item_of: item_of
            .map(|state| lattice.begun(state, &best.items).saturating_sub(1))
            .collect(),
        items: best.items.clone(),
        path: best.path.clone(),
        so_far: best.so_far.clone(),
        gaps,
        steps,
    }))
}

impl<S: Clone> Open<S> {
    fn and(&self, token: Token, state: S, log_prob: f32) -> Self {
        let mut on = Self {
            state: state.clone(),
            path: self.path.clone(),
            so_far: self.so_far.clone(),
            states: self.states.clone(),
        };
        on.path.push(token);
        on.so_far.push(log_prob);
        on.states.push(state);
        on
    }
}

/// Whether a better way to the same place was followed.
fn is_known<S: Eq + Hash>(known: &HashMap<S, f32>, open: &Open<S>) -> bool {
    known
        .get(&open.state)
        .is_some_and(|better| *better >= open.log_prob())
}

/// Nats by which a path is behind the best string at the same length; none where there is no string yet.
fn behind<S>(open: &Open<S>, best: &[f32]) -> f32 {
    let Some(last) = best.len().checked_sub(1) else {
        return f32::NEG_INFINITY;
    };
    let at_length = match open.path.len() {
        0 => 0.0,
        n => best[(n - 1).min(last)],
    };
    at_length - open.log_prob()
}

/// What a path promises for its length.
fn promise<S>(open: &Open<S>) -> f32 {
    open.log_prob() + HEAD_START * open.path.len() as f32
}

/// Whether enough paths of this length have not been followed yet.
fn is_followed<S>(followed: &[usize], open: &Open<S>) -> bool {
    followed.get(open.path.len()).is_none_or(|n| *n < WIDTH)
}

/// Takes out the path that promises most.
fn next<S>(open: &mut Vec<Open<S>>, followed: &[usize]) -> Option<Open<S>> {
    let (at, _) = open
        .iter()
        .enumerate()
        .filter(|(_, o)| is_followed(followed, o))
        .max_by(|(_, a), (_, b)| promise(a).total_cmp(&promise(b)))?;
    Some(open.swap_remove(at))
}

/// Takes out the rival of the best string that shares most with the path looked at last: the scorer goes
/// back no further than it must. Of those the nearest.
fn next_rival<S>(
    open: &mut Vec<Open<S>>,
    best: &[f32],
    last: &[Token],
    gap_max: f32,
) -> Option<Open<S>> {
    let shared = |o: &Open<S>| o.path.iter().zip(last).take_while(|(a, b)| a == b).count();
    let (at, ..) = open
        .iter()
        .enumerate()
        .map(|(at, o)| (at, shared(o), behind(o, best)))
        .filter(|(_, _, behind)| *behind <= gap_max)
        .max_by(|a, b| a.1.cmp(&b.1).then(b.2.total_cmp(&a.2)))?;
    Some(open.swap_remove(at))
}

#[cfg(test)]
mod tests;
