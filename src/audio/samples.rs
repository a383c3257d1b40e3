//! Sound as the recogniser takes it.

use std::ops::Deref;

/// Sample rate inside loadwalk, Hz: what the recogniser and the voice activity model take.
pub const RATE: u32 = 16_000;

/// Longest sound read from a file, seconds. Answers take seconds, notes at most minutes.
pub const MAX_SECONDS: u32 = 600;

/// Mono sound at [`RATE`], full scale -1 to 1.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Samples(Vec<f32>);

impl Samples {
    /// Takes samples that are already mono at [`RATE`].
    pub fn new(samples: Vec<f32>) -> Self {
        Self(samples)
    }

    /// Length in seconds.
    pub fn seconds(&self) -> f64 {
        self.0.len() as f64 / f64::from(RATE)
    }

    /// The samples.
    pub fn into_vec(self) -> Vec<f32> {
        self.0
    }
}

impl Deref for Samples {
    type Target = [f32];

    fn deref(&self) -> &[f32] {
        &self.0
    }
}

/// Mono sound at a rate of its own: what a synthesiser makes and a loudspeaker plays.
#[derive(Clone, Debug, PartialEq)]
pub struct Clip {
    /// Sample rate, Hz.
    pub rate: u32,
    /// Mono samples, full scale -1 to 1.
    pub samples: Vec<f32>,
}

impl Clip {
    /// Length in seconds.
    pub fn seconds(&self) -> f64 {
        self.samples.len() as f64 / f64::from(self.rate)
    }
}
