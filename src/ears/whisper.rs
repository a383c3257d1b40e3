//! A Whisper model as a scorer of token paths, through the safe calls of whisper-rs alone.
//!
//! whisper.cpp forgets cached tokens at and after `n_past`, so stepping back to a common prefix is
//! free and exact. `get_logits` returns the row of the *first* token of the last call while only the
//! *last* row is written; the last token is therefore always decoded alone.

mod free;

use crate::ears::endpoint::Endpointing;
use crate::ears::mel::Mel;
use crate::ears::{CHUNK, EarsError, Scorer, Token};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use whisper_rs::{
    FullParams, SamplingStrategy, WhisperContext, WhisperContextParameters, WhisperState,
};

/// Sample rate of everything the ears hear, in hertz.
pub const SAMPLE_RATE_HZ: usize = 16_000;
/// Encoder frames a second of sound.
const FRAMES_PER_SECOND: usize = 50;
/// The encoder becomes erratic on shorter windows.
const FRAMES_MIN: usize = 128;
/// Window lengths are rounded up to this, which keeps the matrix kernels on whole tiles.
const FRAMES_STEP: usize = 64;
/// Frames beyond the sound, so that its end is seen as an end.
const FRAMES_MARGIN: usize = 32;
/// The same two where the sound is long, and each frame takes time that somebody waits for.
const CLOSE_FRAMES_STEP: usize = 32;
const CLOSE_FRAMES_MARGIN: usize = 16;
/// Spectrogram frames an encoder frame.
const MEL_FRAMES: usize = 2;
/// Tokens of a context decoded in one call.
const CONTEXT_CHUNK: usize = 16;
/// Most tokens of a context; the decoder has room for 448 in all.
const CONTEXT_TOKENS: usize = 200;
/// Threads that decode a token: two wait for each other longer than they save.
const ONE_THREAD: usize = 1;
/// Shortest sound that whisper.cpp reads without overrunning its reflection padding, in samples.
const SAMPLES_MIN: usize = 400;

/// How many threads share a layer, at least one. Can be told from another thread, and counts from the next layer
/// on.
#[derive(Clone, Debug)]
pub struct Threads(Arc<AtomicUsize>);

impl Threads {
    fn new(threads: usize) -> Self {
        Self(Arc::new(AtomicUsize::new(threads.max(1))))
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.0.load(Ordering::Relaxed)
    }

    /// So many from now on.
    pub fn set(&self, threads: usize) {
        self.0.store(threads.max(1), Ordering::Relaxed);
    }
}

/// A loaded model with one decoding state.
pub struct Whisper {
    context: Arc<WhisperContext>,
    state: WhisperState,
    mel: Mel,
    /// Encoder frames of the current window.
    window: usize,
    /// Of the longest that the model has room for.
    window_max: usize,
    threads: Threads,
    /// Prompt tokens before every path.
    prompt: Vec<Token>,
    /// Tokens before the prompt: the context and its mark.
    lead: usize,
    /// Tokens in the key-value cache behind the prompt.
    cached: Vec<Token>,
    /// Whether `log_probs` belongs to `cached`.
    fresh: bool,
    log_probs: Vec<f32>,
    /// What `log_probs` was behind the prompt alone.
    root: Vec<f32>,
    no_speech: f32,
}

impl Whisper {
    /// Loads a ggml file.
    ///
    /// # Errors
    /// [`EarsError::Model`] when the file cannot be read as a Whisper model.
    pub fn load(path: &Path, threads: usize) -> Result<Self, EarsError> {
        whisper_rs::install_logging_hooks();
        let model_error = |e: whisper_rs::WhisperError| EarsError::Model {
            path: path.to_owned(),
            cause: e.to_string(),
        };
        let parameters = WhisperContextParameters::default();
        let context = WhisperContext::new_with_params(path, parameters).map_err(model_error)?;
        holds_an_utterance(context.model_n_audio_ctx()).map_err(|cause| EarsError::Model {
            path: path.to_owned(),
            cause,
        })?;
        Self::on(Arc::new(context), Threads::new(threads)).map_err(model_error)
    }

    /// Another state on the same weights, which keeps in mind what it listened to while this one goes on.
    ///
    /// # Errors
    /// [`EarsError::Engine`] when there is no memory for it.
    pub fn beside(&self) -> Result<Self, EarsError> {
        Self::on(Arc::clone(&self.context), self.threads.clone()).map_err(engine)
    }

    fn on(
        context: Arc<WhisperContext>,
        threads: Threads,
    ) -> Result<Self, whisper_rs::WhisperError> {
        let state = context.create_state()?;
        let mut prompt = vec![context.token_sot()];
        if context.is_multilingual() {
            prompt.push(context.token_lang(0));
            prompt.push(context.token_transcribe());
        }
        prompt.push(context.token_not());
        Ok(Self {
            // Checked by `load`.
            window_max: context.model_n_audio_ctx() as usize,
            context,
            state,
            mel: Mel::new(),
            window: 0,
            threads,
            prompt,
            lead: 0,
            cached: Vec::new(),
            fresh: false,
            log_probs: Vec::new(),
            root: Vec::new(),
            no_speech: 0.0,
        })
    }

    /// Threads that share a layer, of this state and those beside it.
    pub fn threads(&self) -> &Threads {
        &self.threads
    }

    /// The tokens of a text.
    ///
    /// # Errors
    /// [`EarsError::Engine`] for a text with a zero byte.
    pub fn tokens(&self, text: &str) -> Result<Vec<Token>, EarsError> {
        // Room for all, since a token is a byte at least: given less, whisper-rs takes the number it wants for a length.
        self.context.tokenize(text, text.len() + 1).map_err(engine)
    }

    /// The vocabulary's text tokens with their bytes.
    pub fn vocabulary(&self) -> impl Iterator<Item = (Token, &[u8])> {
        (0..self.context.token_eot())
            .filter_map(|id| Some((id, self.context.token_to_bytes(id).ok()?)))
    }

    /// Encodes an utterance and decodes the prompt, after a context of what might have been said just
    /// before, 200 tokens of it at most; an empty one is left out.
    ///
    /// # Errors
    /// [`EarsError::TooShort`] under 25 ms, [`EarsError::Engine`] when whisper.cpp fails.
    pub fn listen(&mut self, samples: &[f32], context: &[Token]) -> Result<(), EarsError> {
        self.listen_in(window_for(samples.len()), samples, context)
    }

    /// [`Whisper::listen`] in a window that fits closely: for sound of some seconds.
    ///
    /// # Errors
    /// As [`Whisper::listen`].
    pub fn listen_closely(&mut self, samples: &[f32], context: &[Token]) -> Result<(), EarsError> {
        self.listen_in(close_window_for(samples.len()), samples, context)
    }

    fn listen_in(
        &mut self,
        window: usize,
        samples: &[f32],
        context: &[Token],
    ) -> Result<(), EarsError> {
        if samples.len() < SAMPLES_MIN {
            return Err(EarsError::TooShort);
        }
        let window = window.min(self.window_max);
        self.set_window(window)?;
        let mel = self.mel.spectrogram(samples, window * MEL_FRAMES);
        self.state.set_mel(&mel).map_err(engine)?;
        self.state.encode(0, self.threads.count()).map_err(engine)?;
        self.cached.clear();
        self.fresh = false;
        self.lead = 0;
        if !context.is_empty() {
            let mut tokens = vec![self.context.token_prev()];
            tokens.extend(context.iter().take(CONTEXT_TOKENS));
            // whisper.cpp keeps a row of logits for every token of a call.
            for (n, some) in tokens.chunks(CONTEXT_CHUNK).enumerate() {
                self.state
                    .decode(some, n * CONTEXT_CHUNK, self.threads.count())
                    .map_err(engine)?;
            }
            self.lead = tokens.len();
        }
        for (n, token) in self.prompt.clone().into_iter().enumerate() {
            self.state
                .decode(&[token], self.lead + n, ONE_THREAD)
                .map_err(engine)?;
            if n == 0 {
                self.read_log_probs()?;
                let at = self.context.token_nosp() as usize;
                self.no_speech = self.log_probs.get(at).map_or(0.0, |p| p.exp());
            }
        }
        self.read_log_probs()?;
        self.root.clone_from(&self.log_probs);
        self.fresh = true;
        Ok(())
    }

    /// The model's own probability that the utterance holds no speech, 0 to 1.
    pub fn no_speech(&self) -> f32 {
        self.no_speech
    }

    /// Log-probability that what was listened to is this path and nothing more, in nats.
    ///
    /// # Errors
    /// [`EarsError::Engine`] when whisper.cpp fails.
    pub fn log_prob(&mut self, path: &[Token]) -> Result<f32, EarsError> {
        let end = self.end();
        let mut sum = 0.0;
        for at in 0..=path.len() {
            let next = path.get(at).copied().unwrap_or(end);
            sum += self.next(&path[..at])?[next as usize];
        }
        Ok(sum)
    }

    /// Log-probability that what was listened to ends behind this path, with a full stop or without, given the
    /// path; in nats. What the path itself has of punctuation at its end is left out.
    ///
    /// # Errors
    /// [`EarsError::Engine`] when whisper.cpp fails.
    pub fn ends(&mut self, path: &[Token]) -> Result<f32, EarsError> {
        let is_word = |token: &&Token| self.text(&[**token]).contains(char::is_alphanumeric);
        let words = path.len() - path.iter().rev().take_while(|t| !is_word(t)).count();
        let end = self.end() as usize;
        let mut stopped = path[..words].to_vec();
        let plain = self.next(&stopped)?[end];
        let Some(&stop) = self.tokens(".")?.first() else {
            return Ok(plain);
        };
        let stop_log_prob = self.next(&stopped)?[stop as usize];
        stopped.push(stop);
        let with_stop = stop_log_prob + self.next(&stopped)?[end];
        Ok((plain.exp() + with_stop.exp()).ln())
    }

    /// The text of a token path; bytes that are not UTF-8 are replaced.
    pub fn text(&self, path: &[Token]) -> String {
        text(&self.context, path)
    }

    /// [`Whisper::text`], to be called while this one decodes.
    pub(super) fn speller(&self) -> impl Fn(&[Token]) -> String + use<> {
        let context = Arc::clone(&self.context);
        move |path| text(&context, path)
    }

    /// Sets the encoder's window for the calls of `encode` that follow.
    ///
    /// Only `full` can set it. Told to process 100 ms, `full` notes the window and stops before it
    /// encodes anything.
    fn set_window(&mut self, window: usize) -> Result<(), EarsError> {
        if self.window == window {
            return Ok(());
        }
        let mut parameters = FullParams::new(SamplingStrategy::Greedy { best_of: 1 });
        parameters.set_audio_ctx(window as i32);
        parameters.set_duration_ms(100);
        parameters.set_temperature_inc(0.0);
        parameters.set_print_progress(false);
        self.state
            .full(parameters, &[0.0; 4 * SAMPLES_MIN])
            .map_err(engine)?;
        self.window = window;
        Ok(())
    }

    /// Log-softmax of the last logits into `log_probs`.
    fn read_log_probs(&mut self) -> Result<(), EarsError> {
        let logits = self.state.get_logits().map_err(engine)?;
        let top = logits.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let sum: f32 = logits.iter().map(|l| (l - top).exp()).sum();
        let norm = top + sum.ln();
        self.log_probs.clear();
        self.log_probs.extend(logits.iter().map(|l| l - norm));
        Ok(())
    }
}

impl Scorer for Whisper {
    fn end(&self) -> Token {
        self.context.token_eot()
    }

    fn next(&mut self, path: &[Token]) -> Result<&[f32], EarsError> {
        if self.fresh && self.cached == path {
            return Ok(&self.log_probs);
        }
        let shared = self
            .cached
            .iter()
            .zip(path)
            .take_while(|(a, b)| a == b)
            .count();
        let Some((&last, before)) = path.split_last() else {
            self.cached.clear();
            self.log_probs.clone_from(&self.root);
            self.fresh = true;
            return Ok(&self.log_probs);
        };
        let offset = self.lead + self.prompt.len();
        let from = shared.min(before.len());
        if from < before.len() {
            self.state
                .decode(&before[from..], offset + from, ONE_THREAD)
                .map_err(engine)?;
        }
        self.state
            .decode(&[last], offset + before.len(), ONE_THREAD)
            .map_err(engine)?;
        self.cached.clear();
        self.cached.extend_from_slice(path);
        self.read_log_probs()?;
        self.fresh = true;
        Ok(&self.log_probs)
    }
}

fn text(context: &WhisperContext, path: &[Token]) -> String {
    let mut bytes = Vec::new();
    for &token in path {
        bytes.extend_from_slice(context.token_to_bytes(token).unwrap_or_default());
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// Whether a model with so many encoder positions has room for the longest utterance that is cut: of what did not fit
/// the end would be lost unheard, and a "no" with it.
fn holds_an_utterance(positions: i32) -> Result<(), String> {
    let chunks = Endpointing::default().max_chunks + 1;
    let needed = (chunks * CHUNK * FRAMES_PER_SECOND).div_ceil(SAMPLE_RATE_HZ);
    match usize::try_from(positions) {
        Ok(room) if room >= needed => Ok(()),
        _ => Err(format!(
            "it has {positions} encoder positions, and an utterance needs up to {needed}"
        )),
    }
}

/// Encoder frames for so many samples.
fn window_for(samples: usize) -> usize {
    window(samples, FRAMES_MARGIN, FRAMES_STEP)
}

/// As few as will do.
fn close_window_for(samples: usize) -> usize {
    window(samples, CLOSE_FRAMES_MARGIN, CLOSE_FRAMES_STEP)
}

fn window(samples: usize, margin: usize, step: usize) -> usize {
    let needed = samples * FRAMES_PER_SECOND / SAMPLE_RATE_HZ + margin;
    needed.max(FRAMES_MIN).next_multiple_of(step)
}

fn engine(e: whisper_rs::WhisperError) -> EarsError {
    EarsError::Engine {
        cause: e.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::holds_an_utterance;
    use crate::model::defaults;

    #[test]
    fn a_model_without_room_for_the_longest_utterance_is_refused() {
        // 15.04 s of 20 ms each, and the chunk that ends it.
        assert!(holds_an_utterance(753).is_err());
        assert_eq!(holds_an_utterance(754), Ok(()));
        assert!(holds_an_utterance(-1).is_err());
        let kept = defaults().filter_map(|model| model.positions);
        let kept: Vec<u32> = kept.collect();
        assert_eq!(kept.len(), 2);
        assert!(kept.iter().all(|n| holds_an_utterance(*n as i32).is_ok()));
    }
}
