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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::audio::pad_noise::Preset;

    fn sweep() -> Vec<f32> {
        crate::voice::earcon(crate::voice::Earcon::Check, RATE).samples
    }

    /// Noise at this root mean square with the sweep 300 ms in at this gain.
    fn heard(noise_rms: f32, gain: f32, seed: u64) -> Vec<f32> {
        let noise = Preset::MediumFourBlade.parameters().generate(24_000, seed);
        let power = noise.iter().map(|s| s * s).sum::<f32>() / noise.len() as f32;
        let mut heard: Vec<f32> = noise.iter().map(|s| s * noise_rms / power.sqrt()).collect();
        for (h, p) in heard[4_800..].iter_mut().zip(sweep()) {
            *h += gain * p;
        }
        heard
    }

    #[test]
    fn an_echo_is_found_with_its_gain_and_delay() {
        for (rms, gain) in [(0.001, 0.5), (0.01, 0.05), (0.05, 0.2)] {
            let found = echo(&sweep(), &heard(rms, gain, 3)).unwrap();
            let due = 20.0 * gain.log10();
            let gain_db = found.gain_db.expect("found");
            assert!((gain_db - due).abs() < 1.0, "{found:?}, due {due}");
            assert!((found.delay_ms - 300.0).abs() < 2.0, "{found:?}");
        }
    }

    #[test]
    fn noise_alone_is_no_echo() {
        for seed in 0..20 {
            let found = echo(&sweep(), &heard(0.05, 0.0, seed)).unwrap();
            assert_eq!(found.gain_db, None, "{seed}: {found:?}");
        }
    }

    #[test]
    fn what_noise_hides_is_told() {
        let quiet = echo(&sweep(), &heard(0.000_1, 0.0, 5)).unwrap();
        let loud = echo(&sweep(), &heard(0.2, 0.0, 5)).unwrap();
        assert!(quiet.least_db < -60.0, "{quiet:?}");
        // Twenty times a tenth of it twice more: the spread follows the noise, dB for dB.
        let apart = loud.least_db - quiet.least_db;
        assert!((apart - 66.0).abs() < 3.0, "{apart}");
    }

    #[test]
    fn silence_tells_nothing() {
        assert_eq!(echo(&sweep(), &[0.0; 24_000]), None);
        assert_eq!(echo(&sweep(), &[0.1; 100]), None);
    }
}
