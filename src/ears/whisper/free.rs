//! Free text: what the recogniser writes down where no grammar is listened for.

use super::{SAMPLE_RATE_HZ, Whisper, engine, window_for};
use crate::ears::EarsError;
use whisper_rs::{FullParams, SamplingStrategy};

/// Shortest window for free text, in frames.
const FREE_WINDOW_MIN: usize = 512;
/// Seconds of a piece that is written down as free text, from and to.
const PIECE_MIN_S: usize = 3;
const PIECE_MAX_S: usize = 6;
/// Samples of a tenth of a second, in which a pause for cutting is looked for.
const QUIET_FRAME: usize = SAMPLE_RATE_HZ / 10;

impl Whisper {
    /// Unconstrained transcript, by the stock call on pieces of a few seconds; may be wrong or empty.
    ///
    /// # Errors
    /// [`EarsError::Engine`] when whisper.cpp fails.
    pub fn transcribe(&mut self, samples: &[f32]) -> Result<String, EarsError> {
        let mut texts = Vec::new();
        let mut rest = samples;
        while !rest.is_empty() {
            let (piece, behind) = rest.split_at(piece_end(rest));
            texts.push(self.transcribe_piece(piece)?);
            rest = behind;
        }
        texts.retain(|text| !text.is_empty());
        Ok(texts.join(" "))
    }

    fn transcribe_piece(&mut self, samples: &[f32]) -> Result<String, EarsError> {
        // On a short window free text repeats itself, so it gets room.
        let room = (2 * window_for(samples.len())).max(FREE_WINDOW_MIN);
        let window = room.min(self.window_max);
        let mut parameters = FullParams::new(SamplingStrategy::Greedy { best_of: 1 });
        parameters.set_audio_ctx(window as i32);
        parameters.set_n_threads(self.threads.count() as i32);
        parameters.set_temperature_inc(0.0);
        parameters.set_no_timestamps(true);
        parameters.set_single_segment(true);
        parameters.set_no_context(true);
        parameters.set_print_progress(false);
        let mut padded = samples.to_vec();
        padded.resize(padded.len().max(SAMPLE_RATE_HZ), 0.0);
        self.state.full(parameters, &padded).map_err(engine)?;
        self.window = window;
        self.fresh = false;
        self.cached.clear();
        let mut text = String::new();
        for segment in self.state.as_iter() {
            text.push_str(&segment.to_str_lossy().map_err(engine)?);
        }
        Ok(text.trim().to_owned())
    }
}

/// Where the first piece for free text ends: the corrected models leave out much of what is longer. The quietest
/// tenth of a second within reach, or the end.
fn piece_end(samples: &[f32]) -> usize {
    let (least, most) = (PIECE_MIN_S * SAMPLE_RATE_HZ, PIECE_MAX_S * SAMPLE_RATE_HZ);
    if samples.len() <= most {
        return samples.len();
    }
    let power = |frame: &[f32]| frame.iter().map(|v| v * v).sum::<f32>();
    samples[least..most]
        .chunks(QUIET_FRAME)
        .enumerate()
        .min_by(|(_, a), (_, b)| power(a).total_cmp(&power(b)))
        .map_or(most, |(n, _)| least + n * QUIET_FRAME + QUIET_FRAME / 2)
}

#[cfg(test)]
mod tests {
    use super::{SAMPLE_RATE_HZ, piece_end};

    #[test]
    fn free_text_is_cut_in_a_pause() {
        let mut sound = vec![0.1; 9 * SAMPLE_RATE_HZ];
        sound[4 * SAMPLE_RATE_HZ..4 * SAMPLE_RATE_HZ + 3_200].fill(0.0);
        let at = piece_end(&sound);
        assert!(
            (4 * SAMPLE_RATE_HZ..4 * SAMPLE_RATE_HZ + 3_200).contains(&at),
            "{at}"
        );
        let short = &sound[..6 * SAMPLE_RATE_HZ];
        assert_eq!(piece_end(short), short.len());
    }
}
