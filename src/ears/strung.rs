//! What one model makes of a breath: its items, each with what speaks for it.

use crate::ears::decide::breath::gap_wanted;
use crate::ears::denial::Watching;
use crate::ears::listener::Listener;
use crate::ears::{
    EarsError, FoundString, STRING_GAP_MAX, Scorer, Strung, Token, Utterance, pace, search_string,
};
use crate::grammar::{Graph, Meaning};
use std::sync::mpsc::{Receiver, Sender};

/// Nats from which a denial is as good as ruled out.
const DENIAL_MAX: f32 = 20.0;

/// One model's reading of a breath.
#[derive(Clone, Debug)]
pub(super) struct Reading {
    /// In the order spoken.
    pub items: Vec<ReadItem>,
    /// As the model writes the whole.
    pub words: String,
    /// Log-likelihood of the breath's length for its words; see [`pace::log_likelihood`].
    pub pace: f32,
    /// Decoder steps of the search.
    pub steps: usize,
    /// Milliseconds for the encoder, the search and the hiss.
    pub ms: [f64; 3],
}

/// An item with its evidence.
#[derive(Clone, Debug)]
pub(super) struct ReadItem {
    pub meaning: Meaning,
    /// As the model writes it.
    pub words: String,
    /// See [`FoundString::gaps`].
    pub gap: f32,
    /// Log-probability of its pieces, each behind those before, in nats.
    pub fit: f32,
    /// That of the least likely of them.
    pub worst: f32,
    /// How much likelier its pieces are than in a faint hiss, behind the same pieces, in nats, where it was wanted.
    pub lift: Option<f32>,
    /// Nats by which a denial in place of one of its pieces is behind that piece, at the nearest; at most
    /// [`DENIAL_MAX`].
    pub denial: f32,
    /// Log-probability that it ends where it does, in nats: of the next item's beginning, or of the end.
    pub closed: f32,
}

/// Which of two readings of a breath this is. The second looks for rivals as far only as the first leaves it to.
pub(super) enum Turn {
    /// Tells the second, if there is one, how far that is; measures the lift.
    First(Option<Sender<f32>>),
    /// Is told.
    Second(Receiver<f32>),
}

impl Turn {
    /// How far behind the string rivals are looked for, in nats; waits for the first.
    fn wanted(&self) -> f32 {
        match self {
            Self::First(_) => STRING_GAP_MAX,
            // The first has found nothing, so that nothing is taken.
            Self::Second(told) => told.recv().unwrap_or_else(|_| gap_wanted([])),
        }
    }

    /// Tells what the first has found.
    fn tell(&self, found: &FoundString) {
        let Self::First(Some(second)) = self else {
            return;
        };
        let items = found.items.iter().zip(&found.gaps);
        let gaps = items.map(|(item, gap)| (*gap, item.value.parse::<f64>().is_ok()));
        // The second may have failed.
        let _ = second.send(gap_wanted(gaps));
    }
}

impl Listener {
    /// Hears an utterance against strings of items, after a context of what might have been said just before; `None`
    /// where none comes near.
    pub(super) fn read_string(
        &mut self,
        utterance: &Utterance,
        graph: &Graph,
        context: &str,
        turn: &Turn,
    ) -> Result<Option<Reading>, EarsError> {
        let begun = std::time::Instant::now();
        let ms = |since: std::time::Instant| since.elapsed().as_secs_f64() * 1e3;
        let before = self.whisper.tokens(context)?;
        let seconds = utterance.speech_seconds;
        self.whisper
            .listen_closely(utterance.as_breath(), &before)?;
        let encoded = ms(begun);
        let text = self.whisper.speller();
        let pace = |path: &[Token]| pace::of_a_string(&text(path), seconds);
        let mut strung = Strung::new(graph.written()?, &self.vocabulary);
        let mut watching = Watching::new(&mut self.whisper, &self.denials);
        let wanted = || turn.wanted();
        let Some(found) = search_string(&mut strung, &mut watching, seconds, &pace, &wanted)?
        else {
            return Ok(None);
        };
        let denied = watching.behind(&found.path, &found.so_far, &text);
        let searched = ms(begun);
        turn.tell(&found);
        let by_chance = matches!(turn, Turn::First(_))
            .then(|| self.string_by_chance(&found, context, &before))
            .transpose()?;
        let words = self.whisper.text(&found.path);
        let pace = pace::of_a_string(&words, seconds);
        let too_long = pace::as_long(&words, seconds);
        let is_word = |at: usize| text(&found.path[at..=at]).contains(char::is_alphanumeric);
        let items = (0..found.items.len()).map(|i| {
            let pieces: Vec<usize> = (0..found.path.len())
                .filter(|at| found.item_of[*at] == i)
                .collect();
            let cost = |at: usize| {
                let before = at.checked_sub(1).map_or(0.0, |b| found.so_far[b]);
                found.so_far[at] - before
            };
            let last_word = pieces.iter().rev().find(|at| is_word(**at));
            let next_word = last_word.map(|at| {
                let behind = at + 1..found.path.len();
                behind.clone().find(|at| is_word(*at)).unwrap_or(behind.end)
            });
            let closed = match (last_word, next_word) {
                (Some(last), Some(next)) => (last + 1..=next).map(cost).sum(),
                // What has no words has no end.
                _ => f32::NEG_INFINITY,
            };
            let is_last = i + 1 == found.items.len();
            let own: Vec<_> = pieces.iter().map(|at| found.path[*at]).collect();
            let fit = pieces.iter().map(|at| cost(*at)).sum::<f32>();
            ReadItem {
                meaning: found.items[i].clone(),
                words: self.whisper.text(&own).trim().to_owned(),
                gap: found.gaps[i],
                fit,
                denial: pieces
                    .iter()
                    .map(|at| denied[*at])
                    .fold(DENIAL_MAX, f32::min),
                worst: pieces.iter().map(|at| cost(*at)).fold(0.0, f32::min),
                closed: closed + if is_last { too_long } else { 0.0 },
                lift: by_chance
                    .as_ref()
                    .map(|of| fit - pieces.iter().map(|at| of[*at]).sum::<f32>()),
            }
        });
        Ok(Some(Reading {
            items: items.collect(),
            pace,
            words: words.trim().to_owned(),
            steps: found.steps,
            ms: [encoded, searched - encoded, ms(begun) - searched],
        }))
    }

    /// Log-probability of each piece in a faint hiss, behind those before it, in nats.
    fn string_by_chance(
        &mut self,
        found: &FoundString,
        context: &str,
        before: &[Token],
    ) -> Result<Vec<f32>, EarsError> {
        let beside = self.in_hiss(Some(context), before)?;
        let mut out = Vec::new();
        for (at, piece) in found.path.iter().enumerate() {
            out.push(beside.next(&found.path[..at])?[*piece as usize]);
        }
        Ok(out)
    }
}
