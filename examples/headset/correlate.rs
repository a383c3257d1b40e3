//! Finds a known sound in a recording by normalised cross-correlation.

use anyhow::Result;
use realfft::RealFftPlanner;

/// Where a sound was found.
#[derive(Clone, Copy, Debug)]
pub struct Found {
    /// Sample of the recording at which it begins.
    pub at: usize,
    /// Correlation coefficient there, 0 to 1.
    pub likeness: f32,
}

/// The best place of `sound` in `recording`; `None` where it is longer or silent.
pub fn find(sound: &[f32], recording: &[f32]) -> Result<Option<Found>> {
    let Some(last) = recording.len().checked_sub(sound.len()) else {
        return Ok(None);
    };
    let energy: f64 = sound.iter().map(|s| f64::from(s * s)).sum();
    if energy == 0.0 {
        return Ok(None);
    }
    let n = (recording.len() + sound.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f32>::new();
    let (forth, back) = (planner.plan_fft_forward(n), planner.plan_fft_inverse(n));
    let spectrum = |samples: &[f32]| -> Result<_> {
        let mut padded = samples.to_vec();
        padded.resize(n, 0.0);
        let mut out = forth.make_output_vec();
        forth.process(&mut padded, &mut out)?;
        Ok(out)
    };
    let mut product = spectrum(recording)?;
    for (p, s) in product.iter_mut().zip(spectrum(sound)?) {
        *p *= s.conj();
    }
    let mut fits = back.make_output_vec();
    back.process(&mut product, &mut fits)?;
    // Energy of the piece of the recording under the sound, moved along.
    let mut under: f64 = recording[..sound.len()]
        .iter()
        .map(|s| f64::from(s * s))
        .sum();
    let mut best: Option<Found> = None;
    for (at, fit) in fits.iter().enumerate().take(last + 1) {
        // A piece that is nearly silent fits anything.
        let scale = (energy * under.max(energy * 1e-4)).sqrt();
        let likeness = (f64::from(*fit) / n as f64 / scale) as f32;
        if best.is_none_or(|b| likeness > b.likeness) {
            best = Some(Found { at, likeness });
        }
        if at < last {
            let (out, into) = (recording[at], recording[at + sound.len()]);
            under += f64::from(into * into) - f64::from(out * out);
        }
    }
    Ok(best)
}

/// First and last sample within 40 dB of the peak.
pub fn sounding(sound: &[f32]) -> (usize, usize) {
    let peak = sound.iter().fold(0.0f32, |m, s| m.max(s.abs()));
    let loud = |s: &f32| s.abs() > peak / 100.0;
    let first = sound.iter().position(loud).unwrap_or(0);
    (first, sound.iter().rposition(loud).unwrap_or(0))
}
