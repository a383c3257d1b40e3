//! From evidence to a decision: take, confirm or refuse. Pure.
//!
//! The probability is a logistic function of the evidence, one for words and one for numbers, with
//! non-negative weights, fitted in the way of `hearing/calibrate.py` on train and dev speakers (quiet and
//! 20 to 0 dB of pad noise; answers, other people's speech, sounds). The same script, on the test
//! speakers: of words given 0.95 to 0.98, 98.7 % of 78 were right, given more, all of 465; of numbers
//! 97.6 % of 83 and 99.5 % of 195.

use crate::grammar::Meaning;

/// What was measured about the best meaning of one utterance.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Evidence {
    /// Log-probability of the best meaning among everything that could be said, in nats: how well the
    /// utterance fits the grammar at all.
    pub fit: f32,
    /// Nats to the next meaning, lengths weighed in; a lower bound, at most [`crate::ears::GAP_MAX`].
    pub gap: f32,
    /// Log-likelihood of the utterance's length for the best phrase, in nats, 0 where it is as expected.
    pub pace: f32,
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
    /// Speech sounds in the best phrase.
    pub sounds: f32,
}

/// Least probability at which the inspector is asked whether that was said.
const ASK_FROM: f32 = 0.25;
/// Gap in nats from which a number is taken that is easily another: teens and tens, repeated figures, and
/// a hundred with something lost behind it.
const ALIKE_GAP: f32 = 5.5;
/// Gap in nats from which any other number of two figures is taken.
const TWO_FIGURES_GAP: f32 = 3.0;
/// Pace under which nothing is taken: the utterance was far too long or too short for the phrase, so that
/// something else was said, or something more.
const PACE_MIN: f32 = -5.0;

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
    let confidence = weights(&meaning.rule).probability(evidence);
    let verdict = if evidence.activity < 0.5 {
        Verdict::Refuse("no clear speech")
    } else if confidence < ASK_FROM {
        Verdict::Refuse("not heard clearly")
    } else if confidence < take_from(meaning)
        || is_thin_number(meaning, evidence)
        || evidence.pace < PACE_MIN
    {
        Verdict::Confirm
    } else {
        Verdict::Take
    };
    Judgement {
        verdict,
        confidence,
    }
}

/// Least probability at which an answer is taken as it is. What can make a check conforming needs more
/// than what stops it or only steers the walk.
fn take_from(meaning: &Meaning) -> f32 {
    match (meaning.rule.as_str(), meaning.value.as_str()) {
        ("presence", "missing") | ("condition", "deficient") | ("fixing", "leave") => 0.90,
        ("control", "not-applicable" | "end-walk") => 0.95,
        ("control", _) => 0.90,
        ("count" | "reading", _) => 0.94,
        // Signs are many and short; a name said twice comes out nearly as well as once.
        ("tag", _) => 0.985,
        // The recogniser is told to expect a check's own states, and so finds them more readily in
        // what is no answer too.
        ("state", _) => 0.97,
        _ => 0.95,
    }
}

/// Whether the sound alone does not decide for this number. Teens and tens swap with a wide gap in noise
/// (thirteen, thirty); a figure is heard twice that was said once; "one hundred and fifteen" loses its end;
/// "eighty six" becomes thirty six in some accents.
fn is_thin_number(meaning: &Meaning, evidence: &Evidence) -> bool {
    let Ok(n) = meaning.value.parse::<u32>() else {
        return false;
    };
    if meaning.rule == "tag" {
        return false;
    }
    let teen_or_ten = (13..=19).contains(&n) || ((30..=90).contains(&n) && n % 10 == 0);
    let repeated = n >= 22 && n % 11 == 0;
    let least = if teen_or_ten || repeated || n >= 100 {
        ALIKE_GAP
    } else if n >= 20 {
        TWO_FIGURES_GAP
    } else {
        0.0
    };
    evidence.gap < least
}

/// Weights of one family of rules; all but the constant push towards "right".
struct Weights {
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
}

/// Gap in nats from which more of it says less.
const KNEE: f32 = 2.0;

const WORDS: Weights = Weights {
    constant: 2.4,
    gap: [0.05, 0.16],
    fit: 0.63,
    pace: 0.07,
    outside: 1.04,
    no_speech: 0.0,
    sounds: 3.69,
    loud: 0.0,
};

const NUMBERS: Weights = Weights {
    constant: 1.47,
    gap: [0.61, 0.24],
    fit: 0.56,
    pace: 0.0,
    outside: 0.0,
    no_speech: 1.82,
    sounds: 2.43,
    loud: 2.45,
};

fn weights(rule: &str) -> &'static Weights {
    match rule {
        "count" | "reading" | "tag" => &NUMBERS,
        _ => &WORDS,
    }
}

impl Weights {
    fn probability(&self, e: &Evidence) -> f32 {
        let outside = if e.first_allowed { 0.0 } else { self.outside };
        let z = self.constant
            + self.gap[0] * e.gap.min(KNEE)
            + self.gap[1] * (e.gap - KNEE).max(0.0)
            + self.fit * (e.fit.clamp(-12.0, -2.0) + 2.0)
            + self.pace * e.pace.max(-6.0)
            + self.sounds * (e.sounds / 10.0).min(1.0)
            + self.loud * ((e.snr_db - 6.0) / 6.0).min(0.0)
            - self.no_speech * e.no_speech
            - outside;
        1.0 / (1.0 + (-z).exp())
    }
}

#[cfg(test)]
mod tests {
    use super::{Evidence, Verdict, judge};
    use crate::grammar::Meaning;

    fn clear() -> Evidence {
        Evidence {
            fit: -1.0,
            gap: 6.0,
            pace: 0.0,
            first: -0.2,
            first_allowed: true,
            no_speech: 0.1,
            activity: 1.0,
            snr_db: 25.0,
            seconds: 0.6,
            sounds: 5.0,
        }
    }

    fn verdict(rule: &str, value: &str, evidence: &Evidence) -> Verdict {
        let meaning = Meaning {
            rule: rule.into(),
            value: value.into(),
        };
        judge(evidence, Some(&meaning)).verdict
    }

    #[test]
    fn a_clear_answer_is_taken() {
        for (rule, value) in [("presence", "present"), ("count", "3"), ("count", "13")] {
            assert_eq!(
                verdict(rule, value, &clear()),
                Verdict::Take,
                "{rule} {value}"
            );
        }
    }

    #[test]
    fn numbers_that_are_easily_another_are_asked_about() {
        let near = Evidence {
            gap: 4.0,
            ..clear()
        };
        for n in ["13", "30", "90", "22", "100", "111", "119"] {
            assert_eq!(verdict("count", n, &near), Verdict::Confirm, "{n}");
        }
        for n in ["3", "12", "21", "42"] {
            assert_eq!(verdict("count", n, &near), Verdict::Take, "{n}");
        }
        let nearer = Evidence {
            gap: 2.5,
            ..clear()
        };
        assert_eq!(verdict("count", "36", &nearer), Verdict::Confirm);
    }

    #[test]
    fn states_need_most() {
        let middling = Evidence {
            fit: -4.8,
            sounds: 5.0,
            ..clear()
        };
        assert_eq!(verdict("state", "closed", &middling), Verdict::Confirm);
        assert_eq!(verdict("presence", "present", &middling), Verdict::Take);
    }

    #[test]
    fn what_lasted_too_long_for_its_phrase_is_not_taken() {
        let long = Evidence {
            pace: -6.0,
            ..clear()
        };
        assert_eq!(verdict("presence", "present", &long), Verdict::Confirm);
    }

    #[test]
    fn conforming_words_need_more_than_deficient_ones() {
        let middling = Evidence {
            fit: -4.5,
            sounds: 3.0,
            ..clear()
        };
        assert_eq!(verdict("condition", "good", &middling), Verdict::Confirm);
        assert_eq!(verdict("condition", "deficient", &middling), Verdict::Take);
    }

    #[test]
    fn what_does_not_fit_or_is_no_speech_is_refused() {
        let unlike = Evidence {
            fit: -12.0,
            ..clear()
        };
        assert!(matches!(
            verdict("presence", "present", &unlike),
            Verdict::Refuse(_)
        ));
        let quiet = Evidence {
            activity: 0.2,
            ..clear()
        };
        assert!(matches!(
            verdict("presence", "present", &quiet),
            Verdict::Refuse(_)
        ));
        assert!(matches!(judge(&clear(), None).verdict, Verdict::Refuse(_)));
    }

    #[test]
    fn more_evidence_never_makes_an_answer_less_probable() {
        let base = Evidence {
            fit: -6.0,
            gap: 1.0,
            pace: -2.0,
            snr_db: 3.0,
            ..clear()
        };
        let p = |e: &Evidence, rule: &str| {
            let meaning = Meaning {
                rule: rule.into(),
                value: "3".into(),
            };
            judge(e, Some(&meaning)).confidence
        };
        for rule in ["count", "state"] {
            let from = p(&base, rule);
            for better in [
                Evidence { fit: -5.0, ..base },
                Evidence { gap: 3.0, ..base },
                Evidence { pace: -1.0, ..base },
                Evidence {
                    snr_db: 12.0,
                    ..base
                },
                Evidence {
                    no_speech: 0.0,
                    ..base
                },
            ] {
                assert!(p(&better, rule) >= from, "{rule} {better:?}");
            }
        }
    }
}
