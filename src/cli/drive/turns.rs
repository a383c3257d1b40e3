//! Whose turn it is: while the tool speaks, and shortly after, nothing is heard. Pure.

use crate::walk::{MonotonicMs, Say};
use std::collections::VecDeque;

/// Deafness after the tool's own voice, in ms: the room's echo and the delays of the devices.
const ECHO_MS: MonotonicMs = 200;

/// What is being said, and whether sound from the microphone counts.
#[derive(Debug, Default)]
pub(super) struct Turns {
    /// Phrases not yet spoken to their end, in order.
    saying: VecDeque<Say>,
    /// Whether the walk wants to hear.
    listening: bool,
    deaf_until: MonotonicMs,
    /// Tones that sound after the last phrase, in ms.
    tones_behind: MonotonicMs,
    /// Whether sound counts while the tool speaks.
    over: bool,
}

impl Turns {
    /// Whether the inspector may talk over the tool: only where the microphone does not hear it.
    pub fn talk_over(&mut self, over: bool) {
        self.over = over;
    }

    /// Whether the inspector may talk over the tool.
    pub fn is_over(&self) -> bool {
        self.over
    }

    /// A phrase begins.
    pub fn say(&mut self, say: &Say) {
        self.saying.push_back(say.clone());
    }

    /// A phrase was spoken to its end, and with it those before. False for a phrase that was dropped.
    pub fn said(&mut self, id: u64, now: MonotonicMs) -> bool {
        let Some(at) = self.saying.iter().position(|s| s.id == id) else {
            return false;
        };
        self.saying.drain(..=at);
        if self.saying.is_empty() {
            self.echo(now);
        }
        true
    }

    /// All phrases are dropped.
    pub fn drop_phrases(&mut self, now: MonotonicMs) {
        self.saying.clear();
        self.echo(now);
    }

    /// A tone of this length begins, after the phrases under way.
    pub fn tone(&mut self, length_ms: MonotonicMs, now: MonotonicMs) {
        if self.saying.is_empty() {
            self.deaf_until = self.deaf_until.max(now + ECHO_MS) + length_ms;
        } else {
            self.tones_behind += length_ms;
        }
    }

    /// The walk wants to hear, or not.
    pub fn listen(&mut self, listening: bool) {
        self.listening = listening;
    }

    /// Whether the walk wants to hear.
    pub fn is_listening(&self) -> bool {
        self.listening
    }

    /// Whether sound that comes in now may be an answer.
    pub fn hears(&self, now: MonotonicMs) -> bool {
        self.listening && (self.over || (self.saying.is_empty() && now >= self.deaf_until))
    }

    /// Phrases not yet spoken to their end, in order.
    pub fn phrases(&self) -> impl Iterator<Item = &Say> {
        self.saying.iter()
    }

    /// Whether this phrase is not yet spoken to its end.
    pub fn is_saying(&self, id: u64) -> bool {
        self.saying.iter().any(|s| s.id == id)
    }

    fn echo(&mut self, now: MonotonicMs) {
        let quiet = now + ECHO_MS + std::mem::take(&mut self.tones_behind);
        self.deaf_until = self.deaf_until.max(quiet);
    }
}

/// An utterance that begins so soon after its turn began, in ms, was begun before: its beginning is cut off,
/// and "not present" without it is "present".
const SOON_MS: usize = 100;
/// The same where one may talk over the question: before so much of it was heard nothing can answer it, and
/// what was said before it is surely over by then (its end takes 512 ms of quiet).
const SOON_OVER_MS: usize = 540;
const SAMPLES_PER_MS: usize = 16;

/// Whether what is heard was begun in its turn.
#[derive(Debug, Default)]
pub(super) struct Onset {
    /// Samples heard since the turn began.
    samples: usize,
    least: usize,
    soon: bool,
}

impl Onset {
    /// A turn begins, while the tool speaks or not.
    pub fn turn(&mut self, speaking: bool) {
        let ms = if speaking { SOON_OVER_MS } else { SOON_MS };
        *self = Self {
            samples: 0,
            least: ms * SAMPLES_PER_MS,
            soon: false,
        };
    }

    /// So many samples were heard.
    pub fn hears(&mut self, samples: usize) {
        self.samples = self.samples.saturating_add(samples);
    }

    /// An utterance begins here.
    pub fn begins(&mut self) {
        self.soon = self.samples <= self.least;
    }

    /// Whether the utterance begun last was begun in its turn.
    pub fn in_turn(&self) -> bool {
        !self.soon
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::walk::Phrase;

    #[test]
    fn what_began_before_its_turn_is_told() {
        let mut onset = Onset::default();
        for (speaking, soon_ms) in [(false, SOON_MS), (true, SOON_OVER_MS)] {
            onset.turn(speaking);
            onset.hears(soon_ms * SAMPLES_PER_MS);
            onset.begins();
            assert!(!onset.in_turn());
            onset.hears(SAMPLES_PER_MS);
            assert!(!onset.in_turn(), "the same utterance goes on");
            onset.begins();
            assert!(onset.in_turn(), "the next one");
        }
    }

    #[test]
    fn one_may_talk_over_it_where_it_is_not_heard() {
        let mut turns = Turns::default();
        turns.talk_over(true);
        turns.say(&say(0));
        assert!(!turns.hears(0), "unasked");
        turns.listen(true);
        assert!(turns.hears(0));
        turns.tone(300, 0);
        assert!(turns.hears(0));
        turns.talk_over(false);
        assert!(!turns.hears(0));
    }

    fn say(id: u64) -> Say {
        Say {
            id,
            text: "Ring, keeper.".into(),
            phrase: Phrase::Ask,
        }
    }

    #[test]
    fn nothing_is_heard_while_the_tool_speaks_and_shortly_after() {
        let mut turns = Turns::default();
        turns.listen(true);
        turns.say(&say(0));
        turns.say(&say(1));
        assert!(!turns.hears(5_000));
        assert!(turns.said(0, 5_000));
        assert!(!turns.hears(9_000), "the second phrase is still spoken");
        assert!(turns.said(1, 9_000));
        assert!(!turns.hears(9_000 + ECHO_MS - 1));
        assert!(turns.hears(9_000 + ECHO_MS));
    }

    #[test]
    fn a_tone_is_not_an_answer() {
        let mut turns = Turns::default();
        turns.listen(true);
        turns.say(&say(0));
        turns.tone(300, 1_000);
        assert!(turns.said(0, 2_000));
        turns.tone(80, 2_000);
        assert!(!turns.hears(2_000 + ECHO_MS + 379));
        assert!(turns.hears(2_000 + ECHO_MS + 380));
    }

    #[test]
    fn nothing_is_heard_unasked() {
        let mut turns = Turns::default();
        assert!(!turns.hears(60_000));
        turns.listen(true);
        assert!(turns.hears(60_000));
        turns.listen(false);
        assert!(!turns.hears(60_000));
    }

    #[test]
    fn the_end_of_a_phrase_ends_those_before_it_and_dropped_ones_never_end() {
        let mut turns = Turns::default();
        turns.say(&say(3));
        turns.say(&say(4));
        assert!(turns.said(4, 100));
        assert!(!turns.said(3, 100));
        turns.say(&say(5));
        turns.drop_phrases(200);
        assert!(!turns.said(5, 300));
    }
}
