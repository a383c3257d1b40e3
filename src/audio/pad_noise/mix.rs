//! Noise under speech at a stated signal-to-noise ratio.

use super::gain;

/// Length of the frames that decide where speech is, in samples (10 ms).
const FRAME: usize = 160;
/// A frame holds speech if its power is within this many decibels of the loudest frame's.
const ACTIVE_RANGE_DB: f64 = 30.0;

/// Why speech and noise could not be mixed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MixError {
    /// Every sample of the speech is zero, or there is none.
    #[error(
        "the speech holds no sound, so no ratio to noise can be set: give a file in which somebody speaks"
    )]
    NoSpeech,
    /// Every sample of the noise under the speech is zero, or there is none.
    #[error("the noise holds no sound: give a file of noise, or leave noise out")]
    NoNoise,
}

/// Whether each sample lies in a 10 ms frame that holds speech: its power is within 30 dB of the
/// loudest frame's. A remainder shorter than a frame counts as the frame before it.
#[must_use]
pub fn speech_active(speech: &[f32]) -> Vec<bool> {
    let power = |frame: &[f32]| {
        frame
            .iter()
            .map(|v| f64::from(*v) * f64::from(*v))
            .sum::<f64>()
            / frame.len() as f64
    };
    let powers: Vec<f64> = speech.chunks(FRAME).map(power).collect();
    let loudest = powers.iter().copied().fold(0.0, f64::max);
    let least = loudest * libm::pow(10.0, -ACTIVE_RANGE_DB / 10.0);
    let mut active: Vec<bool> = powers
        .iter()
        .map(|p| loudest > 0.0 && *p >= least)
        .collect();
    if !speech.len().is_multiple_of(FRAME) && active.len() > 1 {
        let last = active.len() - 1;
        active[last] = active[last - 1];
    }
    (0..speech.len()).map(|i| active[i / FRAME]).collect()
}

/// Ratio of speech power to noise power in dB, both taken over the samples in which there is speech
/// ([`speech_active`]), unweighted, over the whole band of 0 to 8 kHz. Silence round the words
/// therefore does not change the ratio.
///
/// # Errors
/// When either holds no sound there.
pub fn snr_db(speech: &[f32], noise: &[f32]) -> Result<f64, MixError> {
    if noise.is_empty() {
        return Err(MixError::NoNoise);
    }
    let (mut loud, mut rough) = (0.0, 0.0);
    let active = speech_active(speech);
    for ((s, n), _) in speech
        .iter()
        .zip(noise.iter().cycle())
        .zip(&active)
        .filter(|(_, active)| **active)
    {
        loud += f64::from(*s) * f64::from(*s);
        rough += f64::from(*n) * f64::from(*n);
    }
    if loud == 0.0 {
        return Err(MixError::NoSpeech);
    }
    if rough == 0.0 {
        return Err(MixError::NoNoise);
    }
    Ok(10.0 * libm::log10(loud / rough))
}

/// Speech with noise under it at a ratio of `snr` decibels as [`snr_db`] defines it.
///
/// Noise shorter than the speech is repeated; longer is cut. Should the sum pass full scale, both
/// are turned down together, which keeps the ratio.
///
/// # Errors
/// When either holds no sound.
pub fn mix(speech: &[f32], noise: &[f32], snr: f64) -> Result<Vec<f32>, MixError> {
    let scale = gain(snr_db(speech, noise)? - snr);
    let sum: Vec<f64> = speech
        .iter()
        .zip(noise.iter().cycle())
        .map(|(s, n)| f64::from(*s) + scale * f64::from(*n))
        .collect();
    let peak = sum.iter().fold(0.0f64, |m, v| m.max(v.abs()));
    let down = if peak > 0.99 { 0.99 / peak } else { 1.0 };
    Ok(sum.iter().map(|v| (v * down) as f32).collect())
}
