//! The log-mel spectrogram that Whisper hears, on a window no longer than the utterance.
//!
//! Same numbers as the published front end: 25 ms Hann frames every 10 ms, 80 Slaney bands, logarithm
//! clamped 8 below the loudest value (Radford et al., "Robust Speech Recognition via Large-Scale Weak
//! Supervision", 2022, section 2.2 and its reference code).

use crate::model::mel::{BANDS, BINS, bank};
use realfft::{RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// Samples of one frame.
const FRAME: usize = 400;
/// Samples from one frame to the next.
const HOP: usize = 160;
/// Logarithms are kept within this of the loudest.
const RANGE: f32 = 8.0;

/// Makes spectrograms; holds its tables and buffers.
pub struct Mel {
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    /// Per band: first bin and the weights from there on.
    bands: Vec<(usize, Vec<f32>)>,
}

impl Default for Mel {
    fn default() -> Self {
        Self::new()
    }
}

impl Mel {
    /// Prepares the tables.
    pub fn new() -> Self {
        let turn = 2.0 * std::f64::consts::PI / FRAME as f64;
        let window = (0..FRAME)
            .map(|i| (0.5 - 0.5 * libm::cos(turn * i as f64)) as f32)
            .collect();
        let bank = bank();
        let bands = bank
            .chunks_exact(BINS)
            .map(|row| {
                let first = row.iter().position(|&w| w > 0.0).unwrap_or(0);
                let last = row.iter().rposition(|&w| w > 0.0).unwrap_or(0);
                (first, row[first..=last].to_vec())
            })
            .collect();
        Self {
            fft: RealFftPlanner::new().plan_fft_forward(FRAME),
            window,
            bands,
        }
    }

    /// Bands by frames, band after band; frames beyond the samples hold silence. The samples' start
    /// is mirrored, as the model was trained.
    pub fn spectrogram(&self, samples: &[f32], frames: usize) -> Vec<f32> {
        let half = FRAME / 2;
        let mut mel = vec![-10.0_f32; BANDS * frames];
        let mut input = self.fft.make_input_vec();
        let mut output = self.fft.make_output_vec();
        let mut power = [0.0_f32; BINS];
        let heard = ((samples.len() + half).div_ceil(HOP)).min(frames);
        for frame in 0..heard {
            let start = (frame * HOP) as isize - half as isize;
            for (i, (x, w)) in input.iter_mut().zip(&self.window).enumerate() {
                let at = (start + i as isize).unsigned_abs();
                *x = samples.get(at).copied().unwrap_or(0.0) * w;
            }
            // The buffers were made by the plan, so their lengths are right.
            if self.fft.process(&mut input, &mut output).is_err() {
                continue;
            }
            for (p, c) in power.iter_mut().zip(&output) {
                *p = c.norm_sqr();
            }
            for (band, (first, weights)) in self.bands.iter().enumerate() {
                let energy: f32 = weights
                    .iter()
                    .zip(&power[*first..])
                    .map(|(w, p)| w * p)
                    .sum();
                mel[band * frames + frame] = energy.max(1e-10).log10();
            }
        }
        let top = mel.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        for value in &mut mel {
            *value = (value.max(top - RANGE) + 4.0) / 4.0;
        }
        mel
    }
}
