//! From evidence to a decision: take, confirm or refuse. Pure.

use crate::grammar::Meaning;

/// What was measured about the best meaning of one utterance.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Evidence {
    /// Log-probability of the best meaning among everything that could be said, in nats: how well the
    /// utterance fits the grammar at all.
    pub fit: f32,
    /// Nats to the next meaning; a lower bound, at most [`crate::ears::GAP_MAX`].
    pub gap: f32,
    /// Log-probability of the likeliest first word piece of all, in nats.
    pub first: f32,
    /// Whether the grammar allows that piece.
    pub first_allowed: bool,
    /// The model's own probability that there is no speech, 0 to 1.
    pub no_speech: f32,
    /// Greatest speech probability of the activity network, 0 to 1.
    pub activity: f32,
    /// Speech over its surroundings in dB; 30 where it was not measured.
    pub snr_db: f32,
    /// Length of the speech in seconds.
    pub seconds: f32,
    /// Letters and digits as spoken of the best phrase.
    pub letters: f32,
    /// Word pieces of the best phrase.
    pub pieces: f32,
}

/// Least probability at which an answer is taken as it is.
const TAKE_FROM: f32 = 0.97;
/// Least probability at which the inspector is asked whether that was said.
const ASK_FROM: f32 = 0.15;

/// What to do with an utterance.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Evidence suffices.
    Take,
    /// Probably; ask.
    Confirm,
    /// Not an answer that can be trusted, and why.
    Refuse(&'static str),
}

/// A verdict with the probability behind it.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// What to do.
    pub verdict: Verdict,
    /// Probability that the best meaning is what was said, 0 to 1.
    pub confidence: f32,
}

/// Judges the best meaning of one utterance.
pub fn judge(evidence: &Evidence, meaning: Option<&Meaning>) -> Judgement {
    let Some(meaning) = meaning else {
        return Judgement {
            verdict: Verdict::Refuse("nothing like an answer"),
            confidence: 0.0,
        };
    };
    let confidence = probability(evidence);
    let thin_number = is_thin_number(meaning, evidence);
    let verdict = if evidence.activity < 0.5 {
        Verdict::Refuse("no clear speech")
    } else if evidence.fit < -12.0 {
        Verdict::Refuse("not one of the answers")
    } else if confidence < ASK_FROM {
        Verdict::Refuse("not heard clearly")
    } else if confidence < TAKE_FROM || thin_number {
        Verdict::Confirm
    } else {
        Verdict::Take
    };
    Judgement {
        verdict,
        confidence,
    }
}

/// Teens and tens swap with a wide gap in noise (thirteen, thirty): said as one word, the sound alone
/// does not decide between them.
fn is_thin_number(meaning: &Meaning, evidence: &Evidence) -> bool {
    let Ok(n) = meaning.value.parse::<u32>() else {
        return false;
    };
    let alike = (13..=19).contains(&n) || ((30..=90).contains(&n) && n % 10 == 0);
    alike && evidence.gap < 5.5
}

/// Logistic of the evidence.
fn probability(e: &Evidence) -> f32 {
    let outside = if e.first_allowed { 0.0 } else { 1.5 };
    let z = -1.2 + 1.35 * e.gap + 0.5 * e.fit.max(-12.0) - outside;
    1.0 / (1.0 + (-z).exp())
}
