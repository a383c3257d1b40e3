//! What the evidence weighs: the functions that `hearing/calibrate.py` fits.

use super::{Evidence, Second, is_number};
use crate::grammar::Meaning;

/// Weights of one family of rules; all but the constant push towards "right".
pub(super) struct Weights {
    constant: f32,
    /// For each nat of the gap up to [`KNEE`], and above it.
    gap: [f32; 2],
    /// For each nat of fit under -2.
    fit: f32,
    pace: f32,
    /// Taken off where the likeliest first piece is not in the grammar.
    outside: f32,
    no_speech: f32,
    /// For ten speech sounds and more.
    sounds: f32,
    /// Taken off at 0 dB, falling to nothing at 6 dB.
    loud: f32,
    /// For each nat of lift.
    lift: f32,
    pub(super) second: SecondWeights,
}

/// Weights of a second opinion that agrees.
pub(super) struct SecondWeights {
    constant: f32,
    /// For each unit of the log-odds that the first opinion gives.
    first: f32,
    /// For each nat of the second's gap up to [`KNEE`], and above it.
    gap: [f32; 2],
    /// For each nat of its lift.
    lift: f32,
    pace: f32,
}

/// Gap in nats from which more of it says less.
const KNEE: f32 = 2.0;
/// Lift in nats beyond which more of it says nothing.
const LIFT_MAX: f32 = 12.0;

const WORDS: Weights = Weights {
    constant: -0.38,
    gap: [0.05, 0.21],
    fit: 0.23,
    pace: 0.0,
    outside: 0.93,
    no_speech: 0.0,
    sounds: 1.64,
    loud: 0.0,
    lift: 0.40,
    second: SecondWeights {
        constant: -0.81,
        first: 0.64,
        gap: [0.0, 0.0],
        lift: 0.28,
        pace: 0.0,
    },
};

const NUMBERS: Weights = Weights {
    constant: -3.51,
    gap: [1.13, 0.76],
    fit: 0.0,
    pace: 0.14,
    outside: 0.0,
    no_speech: 1.75,
    sounds: 0.0,
    loud: 0.22,
    lift: 0.42,
    second: SecondWeights {
        constant: -0.75,
        first: 0.61,
        gap: [0.0, 1.21],
        lift: 0.07,
        pace: 0.0,
    },
};

/// A check's own states: the speakers of the second fit said none, so their second opinion is weighed as it
/// was before it.
const STATES: Weights = Weights {
    second: SecondWeights {
        constant: -0.1,
        first: 0.84,
        gap: [0.14, 0.14],
        lift: 0.16,
        pace: 0.0,
    },
    ..WORDS
};

pub(super) fn weights(meaning: &Meaning) -> &'static Weights {
    if is_number(meaning) {
        &NUMBERS
    } else if meaning.rule == "state" {
        &STATES
    } else {
        &WORDS
    }
}

impl Weights {
    pub(super) fn probability(&self, e: &Evidence) -> f32 {
        let outside = if e.first_allowed { 0.0 } else { self.outside };
        let z = self.constant
            + self.gap[0] * e.gap.min(KNEE)
            + self.gap[1] * (e.gap - KNEE).max(0.0)
            + self.fit * (e.fit.clamp(-12.0, -2.0) + 2.0)
            + self.pace * e.pace.max(-6.0)
            + self.sounds * (e.sounds / 10.0).min(1.0)
            + self.lift * e.lift.clamp(-LIFT_MAX, LIFT_MAX)
            + self.loud * ((e.snr_db - 6.0) / 6.0).min(0.0)
            - self.no_speech * e.no_speech
            - outside;
        logistic(z)
    }
}

impl SecondWeights {
    pub(super) fn probability(&self, first: f32, second: &Second) -> f32 {
        let odds = (first / (1.0 - first).max(1e-6)).max(1e-6).ln();
        logistic(
            self.constant
                + self.first * odds
                + self.gap[0] * second.gap.min(KNEE)
                + self.gap[1] * (second.gap - KNEE).max(0.0)
                + self.lift * second.lift.clamp(-LIFT_MAX, LIFT_MAX)
                + self.pace * second.pace.max(-6.0),
        )
    }
}

fn logistic(z: f32) -> f32 {
    1.0 / (1.0 + (-z).exp())
}
