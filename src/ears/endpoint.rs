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
    /// Share of an utterance's power under which a chunk is not the speaker's but another's, farther away.
    pub faint: f32,
    /// The power of an utterance is what so many of its chunks reach: a blow on the microphone has fewer.
    pub loudest_chunks: usize,
    /// Faint chunks in a row that are no soft sound of a word: what is before them is another's speech.
    pub faint_chunks: usize,
    /// Faint chunks in a row in which what was said is heard ahead, where it does not get quiet.
    pub faint_pause_chunks: usize,
    /// Faint chunks in a row that end an utterance, where it does not get quiet.
    pub faint_end_chunks: usize,
    /// Chunks after which the activity network begins anew, where nobody speaks: in steady noise what it keeps in
    /// mind makes it deafer and deafer.
    pub renew_chunks: usize,
}

impl Default for Endpointing {
    /// For chunks of 32 ms: begins on 64 ms, ends after 512 ms, keeps 512 ms of lead and 160 ms
    /// of tail, pauses as soon as that is there, cut at 15 s; the network begins anew after 2 s in which nobody
    /// speaks. Of another's speech 15 dB down, which hides the quiet, 256 ms are none of it, and 768 ms end it.
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
            faint: 0.031_6,
            loudest_chunks: 6,
            faint_chunks: 8,
            faint_pause_chunks: 12,
            faint_end_chunks: 24,
            renew_chunks: 62,
        }
    }
}

/// Chunks of an utterance, counted from the first of the stream.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// First chunk, lead included.
    pub from: usize,
    /// One past the last chunk, tail included.
    pub to: usize,
    /// The first that may be the speaker's: what is before it, in the lead, is another's voice, or nobody's.
    pub near_from: usize,
    /// One past the last that may be.
    pub near_to: usize,
}

/// What a chunk did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// Nothing new.
    None,
    /// An utterance has begun at this chunk (counted from the first one, lead included); told once more where what was
    /// taken for its beginning turns out to be another's voice, farther away.
    Began(usize),
    /// The utterance is over.
    Ended(Span),
}

/// Follows a stream of chunks.
#[derive(Clone, Debug)]
pub struct Endpointer {
    settings: Endpointing,
    at: usize,
    loud: usize,
    quiet: usize,
    began: Option<Going>,
    /// Lead may not reach back into the utterance before.
    free_from: usize,
}

/// An utterance that is going on.
#[derive(Clone, Debug)]
struct Going {
    /// First chunk, lead included.
    from: usize,
    /// First chunk whose power is known.
    known_from: usize,
    /// Power of each chunk with speech from there on, 0 of the others.
    powers: Vec<f32>,
    /// Chunks since the last that is not faint.
    faint: usize,
    /// Whether something before it was found to be another's.
    overtook: bool,
}

impl Going {
    /// Power under which a chunk is faint: 0 while nothing is known.
    fn floor(&self, settings: &Endpointing) -> f32 {
        let n = settings.loudest_chunks;
        if self.powers.len() < n {
            return 0.0;
        }
        let mut powers = self.powers.clone();
        let (_, sustained, _) = powers.select_nth_unstable_by(n - 1, |a, b| b.total_cmp(a));
        *sustained * settings.faint
    }
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
    pub fn paused(&self) -> Option<Span> {
        let going = self.began.as_ref()?;
        let s = &self.settings;
        if self.quiet == s.pause_chunks {
            return Some(self.span(going));
        }
        let another = self.quiet < s.pause_chunks && going.faint == s.faint_pause_chunks;
        another.then(|| self.span_without_faint(going))
    }

    /// Quiet chunks in a row at the end of the utterance that is going on; 0 where none is.
    pub fn quiet_chunks(&self) -> usize {
        self.began.as_ref().map_or(0, |_| self.quiet)
    }

    /// Whether the pause told last still lasts.
    pub fn is_pausing(&self) -> bool {
        self.began.as_ref().is_some_and(|going| {
            self.quiet >= self.settings.pause_chunks
                || going.faint >= self.settings.faint_pause_chunks
        })
    }

    /// All of the utterance with its tail.
    fn span(&self, going: &Going) -> Span {
        let to = self.at - self.quiet.saturating_sub(self.settings.tail_chunks);
        Span {
            from: going.from,
            to,
            near_from: if going.overtook {
                going.known_from
            } else {
                going.from
            },
            near_to: to,
        }
    }

    /// The utterance without another's voice behind it.
    fn span_without_faint(&self, going: &Going) -> Span {
        let near_to = self.at - going.faint;
        Span {
            to: (near_to + self.settings.tail_chunks).min(self.at),
            near_to,
            ..self.span(going)
        }
    }

    /// Judges the next chunk by its speech probability and its power (mean square).
    pub fn step(&mut self, probability: f32, power: f32) -> Edge {
        let s = self.settings;
        self.at += 1;
        let Some(going) = &mut self.began else {
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
            self.began = Some(Going {
                from,
                known_from: self.at - 1,
                powers: vec![power],
                faint: 0,
                overtook: false,
            });
            self.loud = 0;
            self.quiet = 0;
            return Edge::Began(from);
        };
        let speaks = probability >= s.off;
        self.quiet = if speaks { 0 } else { self.quiet + 1 };
        going.powers.push(if speaks { power } else { 0.0 });
        let floor = going.floor(&s);
        let is_near = |power: f32| power > 0.0 && power >= floor;
        going.faint = if speaks && is_near(power) {
            0
        } else {
            going.faint + 1
        };
        let before = going.powers.iter().position(|p| is_near(*p)).unwrap_or(0);
        if before >= s.faint_chunks {
            // All before was another's voice.
            going.powers.drain(..before);
            going.known_from += before;
            going.overtook = true;
            going.from = going
                .from
                .max(going.known_from.saturating_sub(s.lead_chunks));
            return Edge::Began(going.from);
        }
        let too_long = self.at - going.from >= s.max_chunks;
        let another = speaks && going.faint >= s.faint_end_chunks;
        if another && let Some(going) = &self.began {
            let span = self.span_without_faint(going);
            let edge = self.close(span);
            // Somebody speaks on: the next begins there.
            self.loud = self.at - span.to;
            return edge;
        }
        if self.quiet >= s.end_chunks || too_long {
            return self.finish();
        }
        Edge::None
    }

    /// The stream is over.
    pub fn finish(&mut self) -> Edge {
        match &self.began {
            Some(going) => self.close(self.span(going)),
            None => Edge::None,
        }
    }

    fn close(&mut self, span: Span) -> Edge {
        self.began = None;
        self.loud = 0;
        self.free_from = span.to;
        Edge::Ended(span)
    }
}

#[cfg(test)]
mod tests {
    use super::{Edge, Endpointer, Endpointing, Span};

    /// Powers of a voice at the microphone, of another farther away (25 dB down), and of nobody's.
    const VOICE: f32 = 1e-3;
    const FAR: f32 = 3e-6;
    const HISS: f32 = 1e-8;

    #[test]
    fn the_first_pause_foretells_the_end() {
        let settings = Endpointing::default();
        let mut endpointer = Endpointer::new(settings);
        for _ in 0..20 {
            endpointer.step(0.9, VOICE);
            assert_eq!(endpointer.paused(), None);
        }
        let mut foretold = Vec::new();
        let ended = loop {
            let edge = endpointer.step(0.0, HISS);
            if let Some(span) = endpointer.paused() {
                foretold.push(span);
                assert_eq!(endpointer.quiet_chunks(), settings.tail_chunks);
            }
            if let Edge::Ended(span) = edge {
                break span;
            }
        };
        assert_eq!(foretold, [ended]);
    }

    #[test]
    fn a_pause_can_be_told_before_the_tail_is_there() {
        let mut endpointer = Endpointer::new(Endpointing::default());
        endpointer.set_pause(3);
        for _ in 0..20 {
            endpointer.step(0.9, VOICE);
        }
        let told: Vec<_> = (0..5)
            .map(|_| {
                endpointer.step(0.0, HISS);
                endpointer.paused()
            })
            .collect();
        assert_eq!(
            told,
            [
                None,
                None,
                Some(Span {
                    from: 0,
                    to: 23,
                    near_from: 0,
                    near_to: 23,
                }),
                None,
                None
            ]
        );
        assert!(endpointer.is_pausing());
    }

    #[test]
    fn a_hesitation_is_a_pause_and_no_end() {
        let settings = Endpointing::default();
        let mut endpointer = Endpointer::new(settings);
        let mut pauses = 0;
        let mut pausing = 0;
        for probability in [[0.9; 12], [0.0; 12], [0.9; 12]].concat() {
            let edge = endpointer.step(probability, VOICE);
            assert!(!matches!(edge, Edge::Ended(_)));
            pauses += usize::from(endpointer.paused().is_some());
            pausing += usize::from(endpointer.is_pausing());
        }
        assert_eq!(pauses, 1);
        assert_eq!(pausing, 12 + 1 - settings.tail_chunks);
    }

    /// Steps of `(chunks, power)` where somebody speaks all the time: what began, what paused and what ended.
    fn steps(parts: &[(usize, f32)]) -> (Vec<usize>, Vec<Span>, Vec<Span>) {
        let mut endpointer = Endpointer::new(Endpointing::default());
        let (mut began, mut paused, mut ended) = (vec![], vec![], vec![]);
        for (chunks, power) in parts {
            for _ in 0..*chunks {
                match endpointer.step(0.9, *power) {
                    Edge::Began(at) => began.push(at),
                    Edge::Ended(span) => ended.push(span),
                    Edge::None => paused.extend(endpointer.paused()),
                }
            }
        }
        (began, paused, ended)
    }

    #[test]
    fn another_voice_far_away_hides_neither_the_beginning_nor_the_end() {
        let (began, paused, ended) = steps(&[(100, FAR), (15, VOICE), (30, FAR)]);
        let word = Span {
            from: 84,
            to: 120,
            near_from: 100,
            near_to: 115,
        };
        assert_eq!(ended, [word]);
        assert_eq!(paused, [word]);
        assert_eq!(began[..2], [0, 84]);
        // What is said from there on, near or far, is the next, and none of it is lost.
        assert_eq!(began[2], 120);
    }

    #[test]
    fn soft_sounds_of_a_word_and_blows_are_no_other_voice() {
        let soft = [(4, FAR), (10, VOICE), (7, FAR), (10, VOICE), (7, FAR)];
        let blow = [(30, FAR), (5, VOICE), (23, FAR)];
        for parts in [&soft[..], &blow] {
            let (began, paused, ended) = steps(parts);
            assert_eq!((began.len(), paused.len(), ended.len()), (1, 0, 0));
        }
        // Where it gets quiet, what was said softly last is a part of it.
        let mut endpointer = Endpointer::new(Endpointing::default());
        let mut ended = Vec::new();
        for (chunks, probability, power) in [(20, 0.9, VOICE), (14, 0.9, FAR), (16, 0.0, HISS)] {
            for _ in 0..chunks {
                if let Edge::Ended(span) = endpointer.step(probability, power) {
                    ended.push((span.from, span.to, span.near_to));
                }
            }
        }
        assert_eq!(ended, [(0, 39, 39)]);
    }
}
