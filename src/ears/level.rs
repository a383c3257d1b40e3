//! How loud speech stands over what surrounds it.

/// Level of digital full scale silence, in dB: the floor of every measurement here.
const FLOOR_DB: f32 = -96.0;

/// Levels of one utterance and its surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// Mean level of the chunks that hold speech, dB relative to full scale.
    pub speech_dbfs: f32,
    /// Mean level of the chunks that do not, dB relative to full scale; `None` where there are none.
    pub noise_dbfs: Option<f32>,
    /// Speech power over noise power in dB, the noise under the speech taken off; `None` without
    /// noise chunks, and never under -10.
    pub snr_db: Option<f32>,
    /// Share of samples at full scale, 0 to 1.
    pub clipped: f32,
}

/// Measures chunks against their speech probabilities.
pub fn level(samples: &[f32], chunk: usize, probabilities: &[f32]) -> Level {
    let mut speech = Mean::default();
    let mut noise = Mean::default();
    for (samples, &p) in samples.chunks_exact(chunk).zip(probabilities) {
        if p >= 0.5 {
            speech.add(power(samples));
        } else if p < 0.15 {
            noise.add(power(samples));
        }
    }
    let clipped = samples.iter().filter(|s| s.abs() >= 0.999).count();
    let level = Level {
        speech_dbfs: speech.value().map_or(FLOOR_DB, db),
        noise_dbfs: None,
        snr_db: None,
        clipped: clipped as f32 / samples.len().max(1) as f32,
    };
    match noise.value() {
        Some(noise) => level.against(noise),
        None => level,
    }
}

impl Level {
    /// The same speech against surroundings of this mean square.
    pub fn against(self, noise_power: f32) -> Self {
        let noise = noise_power.max(1e-12);
        let speech = 10f32.powf(self.speech_dbfs / 10.0);
        let ratio = (speech - noise).max(noise * 0.1) / noise;
        Self {
            noise_dbfs: Some(db(noise)),
            snr_db: Some((10.0 * ratio.log10()).clamp(-10.0, 90.0)),
            ..self
        }
    }
}

/// Mean square of samples.
pub fn power(samples: &[f32]) -> f32 {
    samples.iter().map(|s| s * s).sum::<f32>() / samples.len().max(1) as f32
}

/// Power relative to full scale, in dB.
pub fn db(power: f32) -> f32 {
    if power <= 0.0 {
        return FLOOR_DB;
    }
    (10.0 * power.log10()).max(FLOOR_DB)
}

#[derive(Default)]
struct Mean {
    sum: f64,
    n: usize,
}

impl Mean {
    fn add(&mut self, value: f32) {
        self.sum += f64::from(value);
        self.n += 1;
    }

    fn value(&self) -> Option<f32> {
        (self.n > 0).then(|| (self.sum / self.n as f64) as f32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_times_the_power_is_ten_decibels() {
        let mut samples = vec![0.01; 512];
        samples.extend(vec![0.01 * 11f32.sqrt(); 512]);
        let level = level(&samples, 512, &[0.0, 1.0]);
        assert!((level.snr_db.unwrap() - 10.0).abs() < 0.01);
        assert!((level.noise_dbfs.unwrap() + 40.0).abs() < 0.01);
        assert_eq!(level.clipped, 0.0);
    }

    #[test]
    fn no_surroundings_no_ratio() {
        let level = level(&[0.5; 512], 512, &[1.0]);
        assert_eq!(level.snr_db, None);
    }
}
