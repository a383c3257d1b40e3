//! Short tones that tell listening, heard, refused and held apart.
//!
//! They differ in count and direction of notes, so that they can be told apart by someone who hears
//! high notes badly, and lie between 600 and 1600 Hz: above the strongest rotor noise and inside what a
//! telephone-band headset passes (300 to 3400 Hz, ITU-T G.711 telephony band).

use crate::audio::Clip;
use std::f64::consts::{PI, TAU};

/// What a tone tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Earcon {
    /// Listening has begun: one note.
    Listening,
    /// An answer was heard: two rising notes.
    Heard,
    /// An answer was refused: two falling notes.
    Refused,
    /// The walk is held: three equal notes.
    Held,
    /// Tells nothing: a rising sweep by which it is found out whether the microphone hears the loudspeaker.
    Check,
}

impl Earcon {
    /// All that tell something.
    pub const ALL: [Self; 4] = [Self::Listening, Self::Heard, Self::Refused, Self::Held];

    /// Notes: Hz at the beginning and at the end, and milliseconds.
    fn notes(self) -> &'static [(f64, f64, f64)] {
        match self {
            Self::Listening => &[(1_200.0, 1_200.0, 80.0)],
            Self::Heard => &[(1_000.0, 1_000.0, 60.0), (1_500.0, 1_500.0, 80.0)],
            Self::Refused => &[(900.0, 900.0, 110.0), (620.0, 620.0, 170.0)],
            Self::Held => &[
                (760.0, 760.0, 130.0),
                (760.0, 760.0, 130.0),
                (760.0, 760.0, 130.0),
            ],
            Self::Check => &[(700.0, 2_300.0, 400.0)],
        }
    }
}

/// Loudness of a note's peak, full scale 1.
const PEAK: f64 = 0.35;
/// Rise and fall of a note, ms; shorter ones click.
const RAMP_MS: f64 = 10.0;
/// Pause between notes, ms.
const PAUSE_MS: f64 = 30.0;

/// The tone at a sample rate in Hz.
pub fn earcon(which: Earcon, rate: u32) -> Clip {
    let count = |ms: f64| (ms / 1_000.0 * f64::from(rate)) as usize;
    let ramp = count(RAMP_MS).max(1);
    let mut samples: Vec<f32> = Vec::new();
    for &(hz, end_hz, ms) in which.notes() {
        if !samples.is_empty() {
            samples.extend(std::iter::repeat_n(0.0, count(PAUSE_MS)));
        }
        let length = count(ms);
        samples.extend((0..length).map(|i| {
            let edge = i.min(length - 1 - i).min(ramp) as f64 / ramp as f64;
            let gain = 0.5 - 0.5 * (PI * edge).cos();
            let s = i as f64 / f64::from(rate);
            // The integral of a frequency that changes evenly.
            let turns = hz * s + (end_hz - hz) / (ms / 1_000.0) * s * s / 2.0;
            (PEAK * gain * (TAU * turns).sin()) as f32
        }));
    }
    Clip { rate, samples }
}
