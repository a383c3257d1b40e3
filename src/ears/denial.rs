//! How near a denial was to what was heard.
//!
//! In many accents "aren't" is "are" with next to nothing behind it, and a search for the best string drops
//! the denial long before its end. So at every piece of the string it is kept how likely a denial was there, and where a
//! word begins that an "un" would turn round ("pinned"), how likely that was.

use crate::ears::{EarsError, Scorer, Token};
use crate::grammar::un;
use std::collections::HashMap;

/// Pieces that deny, or begin to.
pub(super) struct Denials {
    pieces: Vec<Token>,
    /// Words that say no themselves: a denial is always near to them, whatever was said.
    near: Vec<Token>,
    /// Pieces that a word with "un" may begin with, and what they say.
    un: Vec<(Token, String)>,
}

impl Denials {
    /// Finds them in a vocabulary.
    pub(super) fn of<'a>(vocabulary: impl Iterator<Item = (Token, &'a [u8])>) -> Self {
        let mut out = Self {
            pieces: Vec::new(),
            near: Vec::new(),
            un: Vec::new(),
        };
        for (token, bytes) in vocabulary {
            let text = String::from_utf8_lossy(bytes).to_lowercase();
            let text = text.trim_start();
            if text.starts_with("un") {
                out.un.push((token, text.to_owned()));
            }
            match text {
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

    /// Places in [`Denials::un`] of what may begin the opposite of a word; none where an "un" does not turn it round.
    fn turning(&self, word: &str) -> Vec<usize> {
        let Some(other) = un(word) else {
            return Vec::new();
        };
        let begins =
            |(at, (_, text)): (usize, &(Token, String))| other.starts_with(text).then_some(at);
        self.un.iter().enumerate().filter_map(begins).collect()
    }
}

/// A scorer that keeps how likely a denial was behind each path that it was asked about.
pub(super) struct Watching<'a, S> {
    scorer: &'a mut S,
    denials: &'a Denials,
    seen: HashMap<Vec<Token>, Seen>,
}

/// Log-probabilities behind a path, in nats.
struct Seen {
    /// The likeliest that denies.
    denial: f32,
    /// Each of [`Denials::un`].
    un: Vec<f32>,
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
    /// piece says no itself. `so_far`: log-probability up to and with each piece, in nats; `text`: what pieces say, a
    /// blank before each word.
    pub(super) fn behind(
        &self,
        path: &[Token],
        so_far: &[f32],
        text: impl Fn(&[Token]) -> String,
    ) -> Vec<f32> {
        let begins = |at: usize| at == 0 || text(&path[at..=at]).starts_with(' ');
        let word = |at: usize| {
            let to = (at + 1..path.len())
                .find(|to| begins(*to))
                .unwrap_or(path.len());
            text(&path[at..to])
        };
        let piece = |at: usize| {
            if self.denials.says_no(path[at]) {
                return f32::INFINITY;
            }
            let before = at.checked_sub(1).map_or(0.0, |b| so_far[b]);
            // Never asked about: a denial may have been certain there.
            let Some(seen) = self.seen.get(&path[..at]) else {
                return so_far[at] - before;
            };
            let turning = if begins(at) {
                self.denials.turning(&word(at))
            } else {
                Vec::new()
            };
            let nearest = turning
                .into_iter()
                .map(|n| seen.un[n])
                .fold(seen.denial, f32::max);
            so_far[at] - before - nearest
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
        let of = |token: &Token| {
            let found = log_probs.get(*token as usize);
            found.copied().unwrap_or(f32::NEG_INFINITY)
        };
        let seen = Seen {
            denial: self
                .denials
                .pieces
                .iter()
                .map(of)
                .fold(f32::NEG_INFINITY, f32::max),
            un: self.denials.un.iter().map(|(token, _)| of(token)).collect(),
        };
        self.seen.insert(path.to_vec(), seen);
        Ok(log_probs)
    }
}

#[cfg(test)]
mod tests {
    use super::{Denials, Watching};
    use crate::ears::{EarsError, Scorer, Token};

    const WORDS: [&str; 14] = [
        " are", " aren", " aren't", " note", "n't", " not", " arena", " in", " no", " pin", "ned",
        " unp", " Un", " under",
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

    fn text(path: &[Token]) -> String {
        path.iter().map(|token| WORDS[*token as usize]).collect()
    }

    fn denials() -> Denials {
        let words = WORDS.iter().enumerate();
        Denials::of(words.map(|(token, word)| (token as Token, word.as_bytes())))
    }

    #[test]
    fn an_un_is_measured_where_it_turns_a_word_round() {
        let denials = denials();
        let even = || vec![-9.0; WORDS.len()];
        let mut after = After(vec![even(), even(), even()]);
        // "Pinned" may have been "unpinned", or what begins with a capital; "under" has nothing to do with it.
        (after.0[0][11], after.0[0][12], after.0[0][13]) = (-3.0, -2.0, -0.1);
        (after.0[1][11], after.0[1][12]) = (-0.1, -0.1);
        let mut watching = Watching::new(&mut after, &denials);
        watching.next(&[]).unwrap();
        watching.next(&[9]).unwrap();
        // Within a word no "un" begins.
        assert_eq!(watching.behind(&[9, 10], &[-0.5, -1.0], text), [1.5, 8.5]);
        // "In" is not turned round by one.
        assert_eq!(watching.behind(&[7], &[-0.5], text), [8.5]);
    }

    #[test]
    fn a_denial_is_measured_at_each_piece_in_one_word_or_in_two() {
        let denials = denials();
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
        let behind = watching.behind(&[0, 7], &[-0.5, -1.5], text);
        assert_eq!(behind, [1.5, 2.0]);
        // A word that says no is near to a denial whatever was said.
        let behind = watching.behind(&[0, 8], &[-0.5, -1.5], text);
        assert_eq!(behind, [1.5, f32::INFINITY]);
        // What was never asked about rules nothing out.
        let behind = watching.behind(&[0, 7, 7], &[-0.5, -1.5, -1.75], text);
        assert_eq!(behind[2], -0.25);
    }
}
