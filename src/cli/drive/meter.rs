//! The level of the microphone, from the port that reads it to whoever shows it.

use std::sync::Arc;
use std::sync::atomic::{AtomicI32, Ordering};

/// No microphone.
const NONE: i32 = i32::MIN;
/// Quietest level told, dB of full scale: below what 16 bits hold.
const FLOOR_DB: f32 = -100.0;

/// A level that one thread writes and another reads; clones are the same meter.
#[derive(Clone, Debug)]
pub struct Meter(Arc<AtomicI32>);

impl Default for Meter {
    fn default() -> Self {
        Self(Arc::new(AtomicI32::new(NONE)))
    }
}

impl Meter {
    /// The level of these samples, full scale 1; none changes nothing.
    pub fn measure(&self, samples: &[f32]) {
        if samples.is_empty() {
            return;
        }
        let power = samples.iter().map(|s| s * s).sum::<f32>() / samples.len() as f32;
        let db = (10.0 * power.log10()).max(FLOOR_DB);
        self.0.store((db * 100.0) as i32, Ordering::Relaxed);
    }

    /// There is no microphone any more.
    pub fn clear(&self) {
        self.0.store(NONE, Ordering::Relaxed);
    }

    /// The level measured last, dB of full scale (a sine of full scale is at -3); `None` without a
    /// microphone.
    pub fn level_db(&self) -> Option<f32> {
        let stored = self.0.load(Ordering::Relaxed);
        (stored != NONE).then(|| stored as f32 / 100.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_is_that_of_the_samples_and_none_without_a_microphone() {
        let meter = Meter::default();
        assert_eq!(meter.level_db(), None);
        let seen = meter.clone();
        // Root mean square 0.1: 20 log10 0.1 = -20 dB by definition.
        meter.measure(&[0.1, -0.1, 0.1, -0.1]);
        assert!((seen.level_db().unwrap() + 20.0).abs() < 0.02);
        meter.measure(&[0.0; 320]);
        assert_eq!(seen.level_db(), Some(-100.0));
        meter.clear();
        assert_eq!(seen.level_db(), None);
    }
}
