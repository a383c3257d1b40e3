//! Whether a microphone hears the loudspeaker: what was played is looked for in what was heard. Pure.
//!
//! The best fit of the played sound at each delay is that of least squares, its gain the correlation over
//! the played sound's energy. The spread of the gains at all other delays, by the median of their absolute
//! values, is what noise alone makes of it.

use crate::audio::RATE;

/// Rate at which both are compared, Hz: the sound played lies below its half.
const LOOK_RATE: u32 = 8_000;
/// Share of the sample before that is taken off each sample: rotor noise is strongest at the bottom.
const TILT: f32 = 0.95;
/// A gain this many times the spread is an echo. Of some 10,000 delays of normally distributed noise one
/// passes 4 by chance in most looks, and 7 in one of 10^8.
const SURE: f32 = 7.0;
/// Median of the absolute value of a normal variable over its standard deviation.
const MEDIAN_OF_NORMAL: f32 = 0.674_5;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Echo {
    /// Gain from full scale played to full scale heard in dB, where an echo was found.
    pub gain_db: Option<f32>,
    /// Least gain that would have been found in this noise, dB.
    pub least_db: f32,
    /// From the beginning of what was heard to the beginning of the echo, ms; of the best fit where there
    /// is none.
    pub delay_ms: f32,
}

/// Looks for `played` in `heard`, both at [`RATE`]; `None` where either is silent or `heard` is shorter.
pub fn echo(played: &[f32], heard: &[f32]) -> Option<Echo> {
    let (played, heard) = (prepared(played)?, prepared(heard)?);
    let energy: f32 = played.iter().map(|s| s * s).sum();
    let lags = heard.len().checked_sub(played.len())? + 1;
    let gain = |lag: usize| {
        let fit = played.iter().zip(&heard[lag..]).map(|(p, h)| p * h);
        (fit.sum::<f32>() / energy).abs()
    };
    let gains: Vec<f32> = (0..lags).map(gain).collect();
    let (at, best) = gains
        .iter()
        .copied()
        .enumerate()
        .max_by(|a, b| a.1.total_cmp(&b.1))?;
    let mut sorted = gains;
    let (_, median, _) = sorted.select_nth_unstable_by(lags / 2, f32::total_cmp);
    let least = SURE * *median / MEDIAN_OF_NORMAL;
    Some(Echo {
        gain_db: (best > least).then(|| db(best)),
        least_db: db(least),
        delay_ms: at as f32 * 1e3 / LOOK_RATE as f32,
    })
}

/// Gain as dB, at least -120.
fn db(gain: f32) -> f32 {
    (20.0 * gain.log10()).max(-120.0)
}

/// At the rate of the comparison and without the bottom; `None` where nothing is left.
fn prepared(sound: &[f32]) -> Option<Vec<f32>> {
    let mut sound = crate::audio::resample(sound.to_vec(), RATE, LOOK_RATE).ok()?;
    let mut before = 0.0;
    for sample in &mut sound {
        let here = *sample;
        *sample -= TILT * before;
        before = here;
    }
    sound.iter().any(|s| *s != 0.0).then_some(sound)
}
