//! From evidence to a decision: take, confirm or refuse. Pure.
//!
//! The probability is a logistic function of the evidence, one for words and one for numbers, with
//! non-negative weights, fitted on train and dev speakers (quiet and 20 to 0 dB of pad noise; answers, other
//! people's speech, sounds). A second function weighs a second model's evidence where it agrees.
//! `hearing/calibrate.py` fits both and shows on the test speakers what the probabilities are worth.

use crate::grammar::Meaning;

/// What was measured about the best meaning of one utterance.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Evidence {
    /// Log-probability of the best meaning among everything that could be said, in nats: how well the
    /// utterance fits the grammar at all.
    pub fit: f32,
    /// How much likelier the best phrase is in this sound than in a faint hiss, in nats: what the sound says,
    /// without the model's liking for common words.
    pub lift: f32,
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

/// What a second, larger model makes of the same utterance.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Second {
    /// Whether its best meaning is that of the first.
    pub agrees: bool,
    /// As [`Evidence::gap`], of its own best.
    pub gap: f32,
    /// As [`Evidence::lift`].
    pub lift: f32,
    /// As [`Evidence::pace`].
    pub pace: f32,
    /// Its best phrase.
    pub words: String,
}

/// Least probability at which the inspector is asked whether that was said.
const ASK_FROM: f32 = 0.25;
/// Gap in nats from which a number is taken that is easily another: teens and tens, repeated figures, and
/// a hundred with something lost behind it.
const ALIKE_GAP: f32 = 4.5;
/// Gap in nats from which any other number of two figures is taken.
const TWO_FIGURES_GAP: f32 = 2.0;
/// Gap from which a word is taken.
const WORDS_GAP: f32 = 2.0;
/// Gaps of both opinions together from which a word is taken that both hear.
const SECOND_WORDS_GAP: f32 = 3.0;
/// Greatest confidence in what two models do not agree about.
const DISAGREED: f32 = 0.5;
/// Least probability at which an answer is taken that only the second opinion made sure of.
const SECOND_TAKE_FROM: f32 = 0.95;
/// Gap of the second opinion from which a number is taken: both models hear "seven" in a lost "seventeen",
/// the second without being sure.
const SECOND_NUMBER_GAP: f32 = 2.0;
/// The same for a number that is easily another.
const SECOND_ALIKE_GAP: f32 = 2.5;
/// The same for a tag: signs run together into other signs ("two zero six" into 2006).
const SECOND_TAG_GAP: f32 = 4.0;
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
    let confidence = weights(meaning).probability(evidence);
    let verdict = if evidence.activity < 0.5 {
        Verdict::Refuse("no clear speech")
    } else if confidence < ASK_FROM {
        Verdict::Refuse("not heard clearly")
    } else if confidence < take_from(meaning)
        || evidence.gap < least_gap(meaning)
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

/// Whether a second opinion can change the decision: only what would be asked about is worth its time.
pub fn worth_a_second(judgement: &Judgement, evidence: &Evidence) -> bool {
    judgement.verdict == Verdict::Confirm && evidence.pace >= PACE_MIN
}

/// Judges again what [`judge`] would ask about, with a second opinion. `meaning` is the best by both.
/// Where both models come to the same meaning from different scores it is seldom wrong; where they do
/// not, nothing is taken.
pub fn judge_both(evidence: &Evidence, meaning: Option<&Meaning>, second: &Second) -> Judgement {
    let Some(meaning) = meaning else {
        return judge(evidence, None);
    };
    let weights = weights(meaning);
    let first = weights.probability(evidence);
    if !second.agrees {
        return Judgement {
            verdict: Verdict::Confirm,
            confidence: first.min(DISAGREED),
        };
    }
    let confidence = weights.second.probability(first, second);
    let enough = confidence >= take_from(meaning).max(SECOND_TAKE_FROM)
        && second.gap >= least_second_gap(meaning, evidence);
    Judgement {
        verdict: if enough {
            Verdict::Take
        } else {
            Verdict::Confirm
        },
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

/// Gap in nats from which one model alone is believed. Teens and tens swap with a wide gap in noise
/// (thirteen, thirty); a figure is heard twice that was said once; "eighty six" becomes thirty six in some
/// accents; "not in good order" loses its beginning. A hundred is asked about always: it is what is left of
/// "one hundred and eight", and no such count is usual.
fn least_gap(meaning: &Meaning) -> f32 {
    if !is_number(meaning) {
        return WORDS_GAP;
    }
    let Some(n) = whole_number(meaning) else {
        return 0.0;
    };
    if n == 100 {
        f32::INFINITY
    } else if is_easily_another(meaning) {
        ALIKE_GAP
    } else if n >= 20 {
        TWO_FIGURES_GAP
    } else {
        0.0
    }
}

/// Gap from which a second opinion is believed.
fn least_second_gap(meaning: &Meaning, first: &Evidence) -> f32 {
    match whole_number(meaning) {
        _ if meaning.rule == "tag" => SECOND_TAG_GAP,
        Some(100) => f32::INFINITY,
        _ if is_easily_another(meaning) => SECOND_ALIKE_GAP,
        _ if is_number(meaning) => SECOND_NUMBER_GAP,
        _ => SECOND_WORDS_GAP - first.gap,
    }
}

/// The number of a count or reading that has no decimals.
fn whole_number(meaning: &Meaning) -> Option<u32> {
    let is_value = matches!(meaning.rule.as_str(), "count" | "reading");
    meaning.value.parse().ok().filter(|_| is_value)
}

/// Whether the meaning is a teen or a ten, a figure repeated, or a hundred.
fn is_easily_another(meaning: &Meaning) -> bool {
    whole_number(meaning).is_some_and(|n| {
        let teen_or_ten = (13..=19).contains(&n) || ((30..=90).contains(&n) && n % 10 == 0);
        let repeated = n >= 22 && n % 11 == 0;
        teen_or_ten || repeated || n >= 100
    })
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
    /// For each nat of lift.
    lift: f32,
    second: SecondWeights,
}

/// Weights of a second opinion that agrees.
struct SecondWeights {
    constant: f32,
    /// For each unit of the log-odds that the first opinion gives.
    first: f32,
    /// For each nat of the second's gap.
    gap: f32,
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
        constant: -0.1,
        first: 0.84,
        gap: 0.14,
        lift: 0.16,
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
        constant: -1.69,
        first: 0.70,
        gap: 0.21,
        lift: 0.38,
        pace: 0.72,
    },
};

fn is_number(meaning: &Meaning) -> bool {
    matches!(meaning.rule.as_str(), "count" | "reading" | "tag")
}

fn weights(meaning: &Meaning) -> &'static Weights {
    if is_number(meaning) { &NUMBERS } else { &WORDS }
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
            + self.lift * e.lift.clamp(-LIFT_MAX, LIFT_MAX)
            + self.loud * ((e.snr_db - 6.0) / 6.0).min(0.0)
            - self.no_speech * e.no_speech
            - outside;
        logistic(z)
    }
}

impl SecondWeights {
    fn probability(&self, first: f32, second: &Second) -> f32 {
        let odds = (first / (1.0 - first).max(1e-6)).max(1e-6).ln();
        logistic(
            self.constant
                + self.first * odds
                + self.gap * second.gap
                + self.lift * second.lift.clamp(-LIFT_MAX, LIFT_MAX)
                + self.pace * second.pace.max(-6.0),
        )
    }
}

fn logistic(z: f32) -> f32 {
    1.0 / (1.0 + (-z).exp())
}

#[cfg(test)]
mod tests {
    use super::{Evidence, Judgement, Second, Verdict, judge, judge_both};
    use crate::grammar::Meaning;

    fn clear() -> Evidence {
        Evidence {
            fit: -1.0,
            lift: 10.0,
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
            gap: 1.5,
            ..clear()
        };
        assert_eq!(verdict("count", "36", &nearer), Verdict::Confirm);
    }

    #[test]
    fn a_hundred_is_always_asked_about() {
        assert_eq!(verdict("count", "100", &clear()), Verdict::Confirm);
        let judged = both("count", "100", &clear(), &agreeing());
        assert_eq!(judged.verdict, Verdict::Confirm);
        assert_eq!(verdict("count", "102", &clear()), Verdict::Take);
    }

    #[test]
    fn words_that_are_nearly_their_opposite_are_asked_about() {
        let near = Evidence {
            gap: 0.1,
            lift: 12.0,
            ..clear()
        };
        assert_eq!(verdict("condition", "good", &near), Verdict::Confirm);
        let unsure = Second {
            gap: 2.0,
            ..agreeing()
        };
        assert_eq!(
            both("condition", "good", &near, &unsure).verdict,
            Verdict::Confirm
        );
    }

    #[test]
    fn states_need_most() {
        let middling = Evidence {
            fit: -4.8,
            lift: 7.2,
            gap: 4.0,
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
            lift: 5.0,
            gap: 5.0,
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
            lift: -4.0,
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

    fn agreeing() -> Second {
        Second {
            agrees: true,
            gap: 6.0,
            lift: 10.0,
            pace: 0.0,
            words: String::new(),
        }
    }

    fn both(rule: &str, value: &str, first: &Evidence, second: &Second) -> Judgement {
        let meaning = Meaning {
            rule: rule.into(),
            value: value.into(),
        };
        judge_both(first, Some(&meaning), second)
    }

    #[test]
    fn two_that_agree_are_enough_where_one_is_not() {
        let middling = Evidence {
            fit: -5.5,
            lift: 3.0,
            gap: 4.5,
            ..clear()
        };
        for (rule, value) in [("condition", "good"), ("count", "13"), ("count", "42")] {
            assert_eq!(verdict(rule, value, &middling), Verdict::Confirm, "{value}");
            let judged = both(rule, value, &middling, &agreeing());
            assert_eq!(judged.verdict, Verdict::Take, "{value}: {judged:?}");
        }
    }

    #[test]
    fn what_two_models_hear_differently_is_never_taken() {
        let other = Second {
            agrees: false,
            ..agreeing()
        };
        for (rule, value) in [
            ("presence", "present"),
            ("presence", "missing"),
            ("count", "3"),
        ] {
            let judged = both(rule, value, &clear(), &other);
            assert_eq!(judged.verdict, Verdict::Confirm, "{value}");
            assert!(judged.confidence <= 0.5, "{value}");
        }
    }

    #[test]
    fn a_number_needs_a_second_opinion_that_is_sure() {
        let unsure = Second {
            gap: 1.8,
            ..agreeing()
        };
        assert_eq!(
            both("count", "7", &clear(), &unsure).verdict,
            Verdict::Confirm
        );
        let surer = Second {
            gap: 2.2,
            ..agreeing()
        };
        assert_eq!(both("count", "7", &clear(), &surer).verdict, Verdict::Take);
        assert_eq!(
            both("count", "70", &clear(), &surer).verdict,
            Verdict::Confirm
        );
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
                Evidence { lift: 11.0, ..base },
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
