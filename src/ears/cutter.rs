//! Cuts utterances from a stream.

use crate::ears::endpoint::{Edge, Endpointer, Endpointing, Span};
use crate::ears::level::{Level, Surroundings, db, is_nothing, level, power};
use crate::ears::whisper::SAMPLE_RATE_HZ;
use crate::ears::{CHUNK, EarsError, SpeechActivity};

/// Chunks of surroundings remembered for the noise level: about ten seconds.
const SURROUNDINGS: usize = 320;

/// Chunks of nothing at all, two seconds, after which what was heard before is no longer what surrounds the speech.
const FORGOTTEN_AFTER: usize = 62;

/// Speech probability under which a chunk belongs to the surroundings.
const NOBODY: f32 = 0.15;

/// Quiet chunks behind a breath in which it is heard ahead: it is long, and takes time.
const BREATH_PAUSE_CHUNKS: usize = 3;

/// Sound of a breath that is heard before its speech, in chunks: of the rest of the lead nothing is gained.
const BREATH_LEAD_CHUNKS: usize = 8;

/// One utterance as cut.
#[derive(Clone, Debug)]
pub struct Utterance {
    /// 16 kHz mono, full scale at 1, with lead and tail.
    pub samples: Vec<f32>,
    /// Seconds from the first chunk with speech to the last.
    pub speech_seconds: f32,
    /// Samples behind the last chunk with speech.
    pub tail: usize,
    /// Greatest speech probability of its chunks, 0 to 1.
    pub activity: f32,
    /// Its level against the surroundings.
    pub level: Level,
}

impl Utterance {
    /// What is heard of it as a breath: its speech with a quarter of a second before it and as much quiet behind it as
    /// makes a pause, so that it is the same whether the quiet has lasted or not.
    pub fn as_breath(&self) -> &[f32] {
        let speech = (self.speech_seconds * SAMPLE_RATE_HZ as f32) as usize;
        let end = self.samples.len().saturating_sub(self.tail);
        let from = end.saturating_sub(BREATH_LEAD_CHUNKS * CHUNK + speech);
        let to = (end + BREATH_PAUSE_CHUNKS * CHUNK).min(self.samples.len());
        &self.samples[from..to]
    }

    /// What was said behind its first samples, which were handed out in a pause; the whole where there are none.
    pub fn behind(&self, handed: usize) -> Self {
        let handed = handed.min(self.samples.len());
        let mut samples = self.samples[handed..].to_vec();
        samples.resize(samples.len().max(CHUNK), 0.0);
        // The rest of the pause may be among it, so this is the most that was spoken.
        let most = samples.len() as f32 / SAMPLE_RATE_HZ as f32;
        Self {
            samples,
            speech_seconds: self.speech_seconds.min(most),
            ..self.clone()
        }
    }
}

/// Samples of quiet that end what a file ends in, with what the network takes to notice: 0.8 s.
const QUIET: usize = 12_800;

/// Decibels by which an utterance may be softer than the loudest of the same sound and still be the speaker's.
pub const FAR_DB: f32 = 15.0;

/// Follows a stream of 16 kHz samples and cuts utterances from it.
pub struct Cutter {
    activity: SpeechActivity,
    endpointer: Endpointer,
    settings: Endpointing,
    /// Samples from `first` on; whole chunks and a rest.
    buffer: Vec<f32>,
    /// Speech probability of each whole chunk in the buffer.
    probabilities: Vec<f32>,
    /// Chunk number of the buffer's first sample.
    first: usize,
    /// Power of recent chunks without speech.
    surroundings: Vec<f32>,
    oldest: usize,
    /// Chunks in a row in which nothing was picked up.
    nothing_for: usize,
    paused: Option<Utterance>,
    began: bool,
    /// Chunks since the network began anew.
    since_new: usize,
}

impl Cutter {
    /// A cutter at the beginning of a stream.
    pub fn new(activity: SpeechActivity, settings: Endpointing) -> Self {
        Self {
            activity,
            endpointer: Endpointer::new(settings),
            settings,
            buffer: Vec::new(),
            probabilities: Vec::new(),
            first: 0,
            surroundings: Vec::new(),
            oldest: 0,
            nothing_for: 0,
            paused: None,
            began: false,
            since_new: 0,
        }
    }

    /// As at the beginning of a stream.
    pub fn restart(&mut self) {
        self.reset();
        self.surroundings.clear();
        self.oldest = 0;
        self.nothing_for = 0;
    }

    /// Forgets the sound so far, but not the level of the surroundings.
    pub fn reset(&mut self) {
        self.activity.reset();
        self.endpointer = Endpointer::new(self.settings);
        self.buffer.clear();
        self.probabilities.clear();
        self.first = 0;
        self.paused = None;
        self.began = false;
        self.since_new = 0;
    }

    /// Whether breaths of called findings are to come, rather than single answers: these are heard ahead sooner.
    pub fn expect_breaths(&mut self, breaths: bool) {
        self.settings.pause_chunks = if breaths {
            BREATH_PAUSE_CHUNKS
        } else {
            self.settings.tail_chunks
        };
        self.endpointer.set_pause(self.settings.pause_chunks);
    }

    /// Whether an utterance has begun since this was asked last; one that goes on begins once more where what was
    /// before turns out to be another's voice, farther away.
    pub fn take_began(&mut self) -> bool {
        std::mem::take(&mut self.began)
    }

    /// The utterance in whose first pause the stream is, complete unless more is said; handed out once.
    /// What is made of it meanwhile is ready when the pause has lasted.
    pub fn take_paused(&mut self) -> Option<Utterance> {
        self.paused.take()
    }

    /// Whether the pause of the utterance handed out last still lasts.
    pub fn is_pausing(&self) -> bool {
        self.endpointer.is_pausing()
    }

    /// Milliseconds for which nothing was said since the utterance that is going on; 0 where none is.
    pub fn quiet_ms(&self) -> u64 {
        let samples = self.endpointer.quiet_chunks() * CHUNK;
        (samples * 1_000 / SAMPLE_RATE_HZ) as u64
    }

    /// Whether the last chunks are speech, as many as begin an utterance, louder than this level.
    pub fn hears_speech(&self, over_dbfs: f32) -> bool {
        let n = self.settings.begin_chunks;
        let Some(from) = self.probabilities.len().checked_sub(n) else {
            return false;
        };
        let chunks = self.buffer[from * CHUNK..].chunks_exact(CHUNK);
        self.probabilities[from..]
            .iter()
            .zip(chunks)
            .all(|(p, chunk)| *p >= self.settings.on && db(power(chunk)) >= over_dbfs)
    }

    /// Takes the next samples and returns the utterances that ended in them.
    ///
    /// # Errors
    /// [`EarsError::Engine`] when the activity network cannot be run.
    pub fn push(&mut self, samples: &[f32]) -> Result<Vec<Utterance>, EarsError> {
        let mut cut = Vec::new();
        let mut rest = samples;
        while !rest.is_empty() {
            let whole = self.probabilities.len() * CHUNK;
            let wanted = (whole + CHUNK - self.buffer.len()).min(rest.len());
            self.buffer.extend_from_slice(&rest[..wanted]);
            rest = &rest[wanted..];
            if self.buffer.len() < whole + CHUNK {
                break;
            }
            let mut chunk = [0.0; CHUNK];
            chunk.copy_from_slice(&self.buffer[whole..]);
            let probability = self.activity.probability(&chunk)?;
            let power = power(&chunk);
            self.probabilities.push(probability);
            self.since_new += 1;
            if probability < NOBODY {
                if is_nothing(power) {
                    self.nothing_for += 1;
                } else {
                    self.nothing_for = 0;
                    self.remember(power);
                }
                if self.nothing_for == FORGOTTEN_AFTER {
                    self.surroundings.clear();
                    self.oldest = 0;
                }
                if self.since_new >= self.settings.renew_chunks && !self.endpointer.in_utterance() {
                    self.activity.renew();
                    self.since_new = 0;
                }
            }
            match self.endpointer.step(probability, power) {
                Edge::Ended(span) => cut.push(self.take(span)),
                Edge::Began(_) => self.began = true,
                Edge::None => {
                    if let Some(span) = self.endpointer.paused() {
                        self.paused = Some(self.look(span));
                    }
                    self.trim();
                }
            }
        }
        Ok(cut)
    }

    /// Cuts all of a sound, but for what another said, farther away.
    ///
    /// # Errors
    /// As [`Cutter::push`].
    pub fn all(&mut self, sound: &[f32]) -> Result<Vec<Utterance>, EarsError> {
        self.restart();
        let mut cut = self.push(sound)?;
        cut.extend(self.push(&[0.0; QUIET])?);
        cut.extend(self.finish());
        let loudest = cut.iter().map(|u| u.level.speech_dbfs);
        let far = loudest.fold(f32::NEG_INFINITY, f32::max) - FAR_DB;
        cut.retain(|u| u.level.speech_dbfs >= far);
        Ok(cut)
    }

    /// Cuts sound that holds one answer: the longest utterance counts.
    ///
    /// # Errors
    /// As [`Cutter::push`].
    pub fn one(&mut self, sound: &[f32]) -> Result<Option<Utterance>, EarsError> {
        let cut = self.all(sound)?.into_iter();
        Ok(cut.max_by(|a, b| a.speech_seconds.total_cmp(&b.speech_seconds)))
    }

    /// The stream is over: returns the utterance that was going on.
    pub fn finish(&mut self) -> Option<Utterance> {
        match self.endpointer.finish() {
            Edge::Ended(span) => Some(self.take(span)),
            _ => None,
        }
    }

    fn take(&mut self, span: Span) -> Utterance {
        let utterance = self.look(span);
        self.paused = None;
        self.drop_chunks(span.to - self.first);
        utterance
    }

    fn look(&self, span: Span) -> Utterance {
        let (a, b) = (span.from - self.first, span.to - self.first);
        let samples = self.buffer[a * CHUNK..b * CHUNK].to_vec();
        // Another's voice, before and behind, is noise.
        let mut probabilities = self.probabilities[a..b].to_vec();
        let near = span.near_from - span.from..span.near_to - span.from;
        let far = |at: usize| !near.contains(&at);
        let beneath = probabilities.iter_mut().enumerate();
        let voices: Vec<f32> = beneath
            .filter(|(at, p)| far(*at) && **p >= NOBODY)
            .map(|(at, p)| {
                *p = 0.0;
                power(&samples[at * CHUNK..(at + 1) * CHUNK])
            })
            .collect();
        let around = Surroundings::of(&self.surroundings);
        let level = level(
            &samples,
            CHUNK,
            &probabilities,
            Surroundings::louder(around, Surroundings::of(&voices)),
        );
        let speech = |p: &f32| *p >= self.settings.off;
        let first = probabilities.iter().position(speech).unwrap_or(0);
        let last = probabilities.iter().rposition(speech).unwrap_or(0);
        let chunks = last + 1 - first;
        Utterance {
            speech_seconds: (chunks * CHUNK) as f32 / SAMPLE_RATE_HZ as f32,
            activity: probabilities.iter().copied().fold(0.0, f32::max),
            tail: (probabilities.len() - 1 - last) * CHUNK,
            samples,
            level,
        }
    }

    /// Keeps only what may become lead.
    fn trim(&mut self) {
        if self.endpointer.in_utterance() {
            return;
        }
        let keep = self.settings.lead_chunks + self.settings.begin_chunks;
        let surplus = self.probabilities.len().saturating_sub(keep);
        if surplus > 32 {
            self.drop_chunks(surplus);
        }
    }

    fn drop_chunks(&mut self, n: usize) {
        self.buffer.drain(..n * CHUNK);
        self.probabilities.drain(..n);
        self.first += n;
    }

    fn remember(&mut self, power: f32) {
        if self.surroundings.len() < SURROUNDINGS {
            self.surroundings.push(power);
        } else {
            self.surroundings[self.oldest] = power;
            self.oldest = (self.oldest + 1) % SURROUNDINGS;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Utterance;
    use crate::ears::level::Level;

    fn with_tail(tail: usize) -> Utterance {
        // Half a second of lead, and a second of speech.
        Utterance {
            samples: (0..8_192 + 16_000 + tail).map(|n| n as f32).collect(),
            speech_seconds: 1.0,
            tail,
            activity: 1.0,
            level: Level {
                speech_dbfs: -20.0,
                noise_dbfs: None,
                snr_db: None,
                around_db: None,
                clipped: 0.0,
            },
        }
    }

    #[test]
    fn of_a_breath_the_same_is_heard_in_its_pause_and_at_its_end() {
        let ended = with_tail(2_560);
        assert_eq!(ended.as_breath(), &ended.samples[4_096..24_192 + 1_536]);
        assert_eq!(with_tail(1_536).as_breath(), ended.as_breath());
        // Never more than there is.
        let cut = with_tail(0);
        assert_eq!(cut.as_breath(), &cut.samples[4_096..]);
        let short = Utterance {
            samples: vec![0.0; 3_000],
            ..with_tail(2_560)
        };
        assert_eq!(short.as_breath().len(), 440 + 1_536);
    }
}
