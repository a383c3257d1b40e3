//! What the evidence weighs: the functions that `hearing/calibrate.py` fits.

use super::{ALONE_MAX, Evidence, Second, is_number, number};
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
}

/// Weights of what both models make of an utterance where they agree.
pub(super) struct BothWeights {
    constant: f32,
    /// For each nat of the gap by the mean of both scores, up to [`KNEE`] and above it.
    gap: [f32; 2],
    /// As in [`Weights`], of the first model and of the second.
    fit: [f32; 2],
    pace: f32,
    outside: [f32; 2],
    no_speech: [f32; 2],
    sounds: f32,
    loud: f32,
    lift: [f32; 2],
}

/// Gap in nats from which more of it says less.
const KNEE: f32 = 2.0;
/// Lift in nats beyond which more of it says nothing.
const LIFT_MAX: f32 = 12.0;

const WORDS: Weights = Weights {
    constant: -1.09,
    gap: [0.0, 0.37],
    fit: 0.25,
    pace: 0.0,
    outside: 0.94,
    no_speech: 2.53,
    sounds: 0.0,
    loud: 0.0,
    lift: 0.58,
};

const NUMBERS: Weights = Weights {
    constant: -3.25,
    gap: [0.83, 0.61],
    fit: 0.13,
    pace: 0.0,
    outside: 0.0,
    no_speech: 3.77,
    sounds: 0.07,
    loud: 1.03,
    lift: 0.41,
};

const WORDS_BY_BOTH: BothWeights = BothWeights {
    constant: -3.38,
    gap: [0.72, 0.40],
    fit: [0.24, 0.0],
    pace: 0.0,
    outside: [0.0, 0.0],
    no_speech: [1.47, 1.53],
    sounds: 0.0,
    loud: 0.0,
    lift: [0.14, 0.58],
};

/// A check's own states, which the recogniser is told to expect.
const STATES_BY_BOTH: BothWeights = BothWeights {
    constant: 0.09,
    gap: [0.0, 0.0],
    fit: [0.19, 0.27],
    pace: 0.22,
    outside: [0.0, 0.87],
    no_speech: [0.0, 0.0],
    sounds: 0.0,
    loud: 1.16,
    lift: [0.12, 0.56],
};

/// Counts and readings up to twelve.
const SMALL_BY_BOTH: BothWeights = BothWeights {
    constant: -3.0,
    gap: [0.82, 0.57],
    fit: [0.0, 0.0],
    pace: 0.21,
    outside: [0.0, 0.0],
    no_speech: [0.99, 0.0],
    sounds: 0.0,
    loud: 1.42,
    lift: [0.0, 0.49],
};

const NUMBERS_BY_BOTH: BothWeights = BothWeights {
    constant: -6.09,
    gap: [0.0, 0.56],
    fit: [0.0, 0.0],
    pace: 0.17,
    outside: [0.0, 0.18],
    no_speech: [0.0, 0.18],
    sounds: 0.0,
    loud: 1.15,
    lift: [0.25, 0.40],
};

pub(super) fn weights(meaning: &Meaning) -> &'static Weights {
    if is_number(meaning) { &NUMBERS } else { &WORDS }
}

pub(super) fn both_weights(meaning: &Meaning) -> &'static BothWeights {
    match number(meaning) {
        Some(n) if n <= ALONE_MAX => &SMALL_BY_BOTH,
        _ if is_number(meaning) => &NUMBERS_BY_BOTH,
        _ if meaning.rule == "state" => &STATES_BY_BOTH,
        _ => &WORDS_BY_BOTH,
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

impl BothWeights {
    pub(super) fn probability(&self, first: &Evidence, second: &Second) -> f32 {
        let other = &second.evidence;
        let fit = |e: &Evidence| e.fit.clamp(-12.0, -2.0) + 2.0;
        let lift = |e: &Evidence| e.lift.clamp(-LIFT_MAX, LIFT_MAX);
        let outside = |e: &Evidence| if e.first_allowed { 0.0 } else { 1.0 };
        let of_each = |weights: &[f32; 2], of: &dyn Fn(&Evidence) -> f32| {
            weights[0] * of(first) + weights[1] * of(other)
        };
        logistic(
            self.constant
                + self.gap[0] * second.gap_of_both.min(KNEE)
                + self.gap[1] * (second.gap_of_both - KNEE).max(0.0)
                + of_each(&self.fit, &fit)
                + self.pace * first.pace.max(-6.0)
                + self.sounds * (first.sounds / 10.0).min(1.0)
                + of_each(&self.lift, &lift)
                + self.loud * ((first.snr_db - 6.0) / 6.0).min(0.0)
                - of_each(&self.no_speech, &|e| e.no_speech)
                - of_each(&self.outside, &outside),
        )
    }
}

fn logistic(z: f32) -> f32 {
    1.0 / (1.0 + (-z).exp())
}
