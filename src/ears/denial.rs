//! How near a denial was to what was heard.
//!
//! In many accents "aren't" is "are" with next to nothing behind it, and a search for the best string drops
//! the denial long before its end. So at every piece of the string it is kept how likely a denial was there.

use crate::ears::{EarsError, Scorer, Token};
use std::collections::HashMap;

/// Pieces that deny, or begin to.
pub(super) struct Denials(Vec<Token>);

impl Denials {
    /// Finds them in a vocabulary.
    pub(super) fn of<'a>(vocabulary: impl Iterator<Item = (Token, &'a [u8])>) -> Self {
        let denies = |bytes: &[u8]| {
            let text = String::from_utf8_lossy(bytes).to_lowercase();
            let word = text.trim_start();
            let whole = ["not", "n't", "isn't", "aren't", "ain't"];
            let begun = ["isn", "isn'", "aren", "aren'", "ain"];
            whole.contains(&word) || begun.contains(&word)
        };
        Self(
            vocabulary
                .filter(|(_, bytes)| denies(bytes))
                .map(|(token, _)| token)
                .collect(),
        )
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

    /// For each piece of a path the log-probability of a denial in its place, in nats; minus infinity where
    /// it was not asked about.
    pub(super) fn in_place_of(&self, path: &[Token]) -> Vec<f32> {
        (0..path.len())
            .map(|at| self.seen.get(&path[..at]).copied())
            .map(|seen| seen.unwrap_or(f32::NEG_INFINITY))
            .collect()
    }
}

impl<S: Scorer> Scorer for Watching<'_, S> {
    fn end(&self) -> Token {
        self.scorer.end()
    }

    fn next(&mut self, path: &[Token]) -> Result<&[f32], EarsError> {
        let log_probs = self.scorer.next(path)?;
        let denials = self.denials.0.iter();
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

    const WORDS: [&str; 8] = [
        " are", " aren", " aren't", " note", "n't", " not", " arena", " in",
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
    fn a_denial_is_kept_at_each_piece_in_one_word_or_in_two() {
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
        watching.next(&[7, 7]).unwrap();
        let expected = [-2.0, -3.0, f32::NEG_INFINITY];
        assert_eq!(watching.in_place_of(&[0, 7, 7]), expected);
    }
}
