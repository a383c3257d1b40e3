//! Where an utterance begins and ends. Pure: chunks and probabilities in, spans out.

/// What makes a beginning and an end.
#[derive(Clone, Copy, Debug)]
pub struct Endpointing {
    /// A chunk at or above this probability may begin an utterance.
    pub on: f32,
    /// A chunk at or above this probability keeps it going.
    pub off: f32,
    /// Chunks in a row that begin an utterance.
    pub begin_chunks: usize,
    /// Quiet chunks in a row that end it.
    pub end_chunks: usize,
    /// Chunks kept from before the beginning: a first word said softly begins before it is noticed.
    pub lead_chunks: usize,
    /// Quiet chunks kept after the end.
    pub tail_chunks: usize,
    /// Quiet chunks that make a pause, in which what was said is heard ahead.
    pub pause_chunks: usize,
    /// An utterance is cut at this length.
    pub max_chunks: usize,
    /// Chunks after which the activity network begins anew, where nobody speaks: in steady noise what it keeps in
    /// mind makes it deafer and deafer.
    pub renew_chunks: usize,
}

impl Default for Endpointing {
    /// For chunks of 32 ms: begins on 64 ms, ends after 512 ms, keeps 512 ms of lead and 160 ms
    /// of tail, pauses as soon as that is there, cut at 15 s; the network begins anew after 2 s in which nobody
    /// speaks.
    fn default() -> Self {
        Self {
            on: 0.5,
            off: 0.35,
            begin_chunks: 2,
            end_chunks: 16,
            lead_chunks: 16,
            tail_chunks: 5,
            pause_chunks: 5,
            max_chunks: 470,
            renew_chunks: 62,
        }
    }
}

/// What a chunk did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// Nothing new.
    None,
    /// An utterance has begun at this chunk (counted from the first one, lead included).
    Began(usize),
    /// The utterance is over; chunks `from..to` hold it with its lead and its quiet tail.
    Ended {
        /// First chunk.
        from: usize,
        /// One past the last chunk.
        to: usize,
    },
}

/// Follows a stream of chunks.
#[derive(Clone, Debug)]
pub struct Endpointer {
    settings: Endpointing,
    at: usize,
    loud: usize,
    quiet: usize,
    began: Option<usize>,
    /// Lead may not reach back into the utterance before.
    free_from: usize,
}

impl Endpointer {
    /// At the beginning of a stream.
    pub fn new(settings: Endpointing) -> Self {
        Self {
            settings,
            at: 0,
            loud: 0,
            quiet: 0,
            began: None,
            free_from: 0,
        }
    }

    /// Lets so many quiet chunks make a pause from now on.
    pub fn set_pause(&mut self, chunks: usize) {
        self.settings.pause_chunks = chunks;
    }

    /// Whether an utterance is going on.
    pub fn in_utterance(&self) -> bool {
        self.began.is_some()
    }

    /// The span that the utterance will have if nothing more is said. Told once in each pause, as soon
    /// as it is one.
    pub fn paused(&self) -> Option<(usize, usize)> {
        let from = self.began?;
        (self.quiet == self.settings.pause_chunks).then(|| (from, self.end()))
    }

    /// Quiet chunks in a row at the end of the utterance that is going on; 0 where none is.
    pub fn quiet_chunks(&self) -> usize {
        self.began.map_or(0, |_| self.quiet)
    }

    /// Whether the pause told last still lasts.
    pub fn is_pausing(&self) -> bool {
        self.began.is_some() && self.quiet >= self.settings.pause_chunks
    }

    /// One past the last chunk of the utterance with its tail.
    fn end(&self) -> usize {
        self.at - self.quiet.saturating_sub(self.settings.tail_chunks)
    }

    /// Judges the next chunk.
    pub fn step(&mut self, probability: f32) -> Edge {
        let s = self.settings;
        self.at += 1;
        let Some(from) = self.began else {
            self.loud = if probability >= s.on {
                self.loud + 1
            } else {
                0
            };
            if self.loud < s.begin_chunks {
                return Edge::None;
            }
            let from = (self.at - self.loud)
                .saturating_sub(s.lead_chunks)
                .max(self.free_from);
            self.began = Some(from);
            self.loud = 0;
            self.quiet = 0;
            return Edge::Began(from);
        };
        self.quiet = if probability >= s.off {
            0
        } else {
            self.quiet + 1
        };
        if self.quiet >= s.end_chunks || self.at - from >= s.max_chunks {
            return self.close(from);
        }
        Edge::None
    }

    /// The stream is over.
    pub fn finish(&mut self) -> Edge {
        match self.began {
            Some(from) => self.close(from),
            None => Edge::None,
        }
    }

    fn close(&mut self, from: usize) -> Edge {
        self.began = None;
        let to = self.end();
        self.free_from = to;
        Edge::Ended { from, to }
    }
}

#[cfg(test)]
mod tests {
    use super::{Edge, Endpointer, Endpointing};

    #[test]
    fn the_first_pause_foretells_the_end() {
        let settings = Endpointing::default();
        let mut endpointer = Endpointer::new(settings);
        for _ in 0..20 {
            endpointer.step(0.9);
            assert_eq!(endpointer.paused(), None);
        }
        let mut foretold = Vec::new();
        let ended = loop {
            let edge = endpointer.step(0.0);
            if let Some(span) = endpointer.paused() {
                foretold.push(span);
                assert_eq!(endpointer.quiet_chunks(), settings.tail_chunks);
            }
            if let Edge::Ended { from, to } = edge {
                break (from, to);
            }
        };
        assert_eq!(foretold, [ended]);
    }

    #[test]
    fn a_pause_can_be_told_before_the_tail_is_there() {
        let mut endpointer = Endpointer::new(Endpointing::default());
        endpointer.set_pause(3);
        for _ in 0..20 {
            endpointer.step(0.9);
        }
        let told: Vec<_> = (0..5)
            .map(|_| {
                endpointer.step(0.0);
                endpointer.paused()
            })
            .collect();
        assert_eq!(told, [None, None, Some((0, 23)), None, None]);
        assert!(endpointer.is_pausing());
    }

    #[test]
    fn a_hesitation_is_a_pause_and_no_end() {
        let settings = Endpointing::default();
        let mut endpointer = Endpointer::new(settings);
        let mut pauses = 0;
        let mut pausing = 0;
        for probability in [[0.9; 12], [0.0; 12], [0.9; 12]].concat() {
            let edge = endpointer.step(probability);
            assert!(!matches!(edge, Edge::Ended { .. }));
            pauses += usize::from(endpointer.paused().is_some());
            pausing += usize::from(endpointer.is_pausing());
        }
        assert_eq!(pauses, 1);
        assert_eq!(pausing, 12 + 1 - settings.tail_chunks);
    }
}
