//! How near a denial was to what was heard.
//!
//! In many accents "aren't" is "are" with next to nothing behind it, and a search for the best string drops
//! the denial long before its end. So at every piece of the string it is kept how likely a denial was there.

use crate::ears::{EarsError, Scorer, Token};
use std::collections::HashMap;

/// Pieces that deny, or begin to.
pub(super) struct Denials {
    pieces: Vec<Token>,
    /// Words that say no themselves: a denial is always near to them, whatever was said.
    near: Vec<Token>,
}

impl Denials {
    /// Finds them in a vocabulary.
    pub(super) fn of<'a>(vocabulary: impl Iterator<Item = (Token, &'a [u8])>) -> Self {
        let mut out = Self {
            pieces: Vec::new(),
            near: Vec::new(),
        };
        for (token, bytes) in vocabulary {
            let text = String::from_utf8_lossy(bytes).to_lowercase();
            match text.trim_start() {
                "not" | "n't" | "isn't" | "aren't" | "ain't" | "isn" | "isn'" | "aren"
                | "aren'" | "ain" => out.pieces.push(token),
                "no" | "nothing" | "none" => out.near.push(token),
                _ => {}
            }
        }
        out
    }

    fn says_no(&self, piece: Token) -> bool {
        self.pieces.contains(&piece) || self.near.contains(&piece)
    }
}

/// A scorer that keeps how likely a denial was behind each path that it was asked about.
pub(super) struct Watching<'a, S> {
    scorer: &'a mut S,
    denials: &'a Denials,
    seen: HashMap<Vec<Token>, f32>,
}

impl<'a, S: Scorer> Watching<'a, S> {
    pub(super) fn new(scorer: &'a mut S, denials: &'a Denials) -> Self {
        Self {
            scorer,
            denials,
            seen: HashMap::new(),
        }
    }

    /// For each piece of a path the nats by which a denial in its place is behind it. Infinite where the
    /// piece says no itself. `so_far`: log-probability up to and with each piece, in nats.
    pub(super) fn behind(&self, path: &[Token], so_far: &[f32]) -> Vec<f32> {
        let piece = |at: usize| {
            if self.denials.says_no(path[at]) {
                return f32::INFINITY;
            }
            let before = at.checked_sub(1).map_or(0.0, |b| so_far[b]);
            // Never asked about: a denial may have been certain there.
            let denial = self.seen.get(&path[..at]).copied().unwrap_or(0.0);
            so_far[at] - before - denial
        };
        (0..path.len()).map(piece).collect()
    }
}

impl<S: Scorer> Scorer for Watching<'_, S> {
    fn end(&self) -> Token {
        self.scorer.end()
    }

    fn next(&mut self, path: &[Token]) -> Result<&[f32], EarsError> {
        let log_probs = self.scorer.next(path)?;
        let denials = self.denials.pieces.iter();
        let most = denials
            .filter_map(|token| log_probs.get(*token as usize))
            .fold(f32::NEG_INFINITY, |most, p| most.max(*p));
        self.seen.insert(path.to_vec(), most);
        Ok(log_probs)
    }
}

#[cfg(test)]
mod tests {
    use super::{Denials, Watching};
    use crate::ears::{EarsError, Scorer, Token};

    const WORDS: [&str; 9] = [
        " are", " aren", " aren't", " note", "n't", " not", " arena", " in", " no",
    ];

    /// What follows a path of so many pieces, as log-probabilities by the piece.
    struct After(Vec<Vec<f32>>);

    impl Scorer for After {
        fn end(&self) -> Token {
            99
        }

        fn next(&mut self, path: &[Token]) -> Result<&[f32], EarsError> {
            Ok(&self.0[path.len()])
        }
    }

    #[test]
    fn a_denial_is_measured_at_each_piece_in_one_word_or_in_two() {
        let words = WORDS.iter().enumerate();
        let denials = Denials::of(words.map(|(token, word)| (token as Token, word.as_bytes())));
        let even = || vec![-9.0; WORDS.len()];
        let mut after = After(vec![even(), even(), even(), even()]);
        after.0[0][2] = -2.0;
        // Neither a note nor an arena is a denial.
        after.0[0][3] = -0.6;
        after.0[0][6] = -0.6;
        after.0[1][5] = -3.0;
        let mut watching = Watching::new(&mut after, &denials);
        assert_eq!(watching.next(&[]).unwrap()[3], -0.6);
        watching.next(&[0]).unwrap();
        let behind = watching.behind(&[0, 7], &[-0.5, -1.5]);
        assert_eq!(behind, [1.5, 2.0]);
        // A word that says no is near to a denial whatever was said.
        let behind = watching.behind(&[0, 8], &[-0.5, -1.5]);
        assert_eq!(behind, [1.5, f32::INFINITY]);
        // What was never asked about rules nothing out.
        let behind = watching.behind(&[0, 7, 7], &[-0.5, -1.5, -1.75]);
        assert_eq!(behind[2], -0.25);
    }
}
