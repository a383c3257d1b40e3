//! Cuts utterances from a stream.

use crate::ears::endpoint::{Edge, Endpointer, Endpointing};
use crate::ears::level::{Level, db, level, power};
use crate::ears::whisper::SAMPLE_RATE_HZ;
use crate::ears::{CHUNK, EarsError, SpeechActivity};

/// Chunks of surroundings remembered for the noise level: about ten seconds.
const SURROUNDINGS: usize = 320;

/// Speech probability under which a chunk belongs to the surroundings.
const NOBODY: f32 = 0.15;

/// One utterance as cut.
#[derive(Clone, Debug)]
pub struct Utterance {
    /// 16 kHz mono, full scale at 1, with lead and tail.
    pub samples: Vec<f32>,
    /// Seconds from the first chunk with speech to the last.
    pub speech_seconds: f32,
    /// Greatest speech probability of its chunks, 0 to 1.
    pub activity: f32,
    /// Its level against the surroundings.
    pub level: Level,
}

impl Utterance {
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
    paused: Option<Utterance>,
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
            paused: None,
            since_new: 0,
        }
    }

    /// As at the beginning of a stream.
    pub fn restart(&mut self) {
        self.reset();
        self.surroundings.clear();
        self.oldest = 0;
    }

    /// Forgets the sound so far, but not the level of the surroundings.
    pub fn reset(&mut self) {
        self.activity.reset();
        self.endpointer = Endpointer::new(self.settings);
        self.buffer.clear();
        self.probabilities.clear();
        self.first = 0;
        self.paused = None;
        self.since_new = 0;
    }

    /// Whether an utterance is going on.
    pub fn in_utterance(&self) -> bool {
        self.endpointer.in_utterance()
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
            self.probabilities.push(probability);
            self.since_new += 1;
            if probability < NOBODY {
                self.remember(power(&chunk));
                if self.since_new >= self.settings.renew_chunks && !self.endpointer.in_utterance() {
                    self.activity.renew();
                    self.since_new = 0;
                }
            }
            match self.endpointer.step(probability) {
                Edge::Ended { from, to } => cut.push(self.take(from, to)),
                Edge::Began(_) => {}
                Edge::None => {
                    if let Some((from, to)) = self.endpointer.paused() {
                        self.paused = Some(self.look(from, to));
                    }
                    self.trim();
                }
            }
        }
        Ok(cut)
    }

    /// The stream is over: returns the utterance that was going on.
    pub fn finish(&mut self) -> Option<Utterance> {
        match self.endpointer.finish() {
            Edge::Ended { from, to } => Some(self.take(from, to)),
            _ => None,
        }
    }

    fn take(&mut self, from: usize, to: usize) -> Utterance {
        let utterance = self.look(from, to);
        self.paused = None;
        self.drop_chunks(to - self.first);
        utterance
    }

    fn look(&self, from: usize, to: usize) -> Utterance {
        let (a, b) = (from - self.first, to - self.first);
        let samples = self.buffer[a * CHUNK..b * CHUNK].to_vec();
        let probabilities = &self.probabilities[a..b];
        let mut level = level(&samples, CHUNK, probabilities);
        if let Some(noise) = self.noise_power() {
            level = level.against(noise);
        }
        let speech = |p: &f32| *p >= self.settings.off;
        let first = probabilities.iter().position(speech).unwrap_or(0);
        let last = probabilities.iter().rposition(speech).unwrap_or(0);
        let chunks = last + 1 - first;
        Utterance {
            speech_seconds: (chunks * CHUNK) as f32 / SAMPLE_RATE_HZ as f32,
            activity: probabilities.iter().copied().fold(0.0, f32::max),
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

    fn noise_power(&self) -> Option<f32> {
        let n = self.surroundings.len();
        (n > 0).then(|| self.surroundings.iter().sum::<f32>() / n as f32)
    }
}
