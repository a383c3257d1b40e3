//! From evidence to a decision: take, confirm or refuse. Pure.
//!
//! The probability is a logistic function of the evidence, one for words and one for numbers, with
//! non-negative weights, fitted on train and dev speakers (quiet and 20 to 0 dB of pad noise; answers, other
//! people's speech, sounds). A second function weighs a second model's evidence where it agrees.
//! `hearing/calibrate.py` fits both and shows on the test speakers what the probabilities are worth.

pub mod breath;
#[cfg(test)]
mod tests;
mod weights;

use crate::grammar::{Meaning, NEGATED};
use weights::weights;

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
    /// Log-likelihood that the best phrase was all that was said, in nats: that the utterance ends behind it, and
    /// that it lasts so long. Low where something more was said, whether the grammar has it or not.
    pub all_said: f32,
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
    /// As [`Evidence::all_said`].
    pub all_said: f32,
    /// Its best phrase.
    pub words: String,
}

/// Least probability at which the inspector is asked whether that was said.
const ASK_FROM: f32 = 0.25;
/// Gap from which a word is taken.
const WORDS_GAP: f32 = 2.0;
/// The same of what a lost "not" turns round: "not in good order" was heard as "in good order" by one model,
/// 2.4 nats before anything else, at 5 dB.
const DENIABLE_GAP: f32 = 4.0;
/// Speech over noise in dB from which one model alone is believed about it: in louder noise a "not" can be
/// gone altogether, and the gap is as wide as if it had not been said.
const DENIABLE_SNR_DB: f32 = 12.0;
/// Greatest number that one model alone is believed. What it makes of larger ones is wrong with a wide gap
/// now and then ("fourteen links" as forty, "eighty nine" as 81).
const ALONE_MAX: f64 = 12.0;
/// Gaps of both opinions together from which a word is taken that both hear.
const SECOND_WORDS_GAP: f32 = 3.0;
/// Gap that each of them must have then.
const SECOND_WORDS_LEAST: f32 = 1.0;
/// Gap that the second opinion must have where [`DENIABLE_GAP`] holds.
const SECOND_DENIABLE_LEAST: f32 = 4.0;
/// Greatest confidence in what two models do not agree about.
const DISAGREED: f32 = 0.5;
/// Least probability at which a word is taken that only the second opinion made sure of.
const SECOND_TAKE_FROM: f32 = 0.92;
/// The same of a number.
const SECOND_TAKE_NUMBER_FROM: f32 = 0.94;
/// Gaps of both opinions together from which a number is taken, up to [`ALONE_MAX`].
const SECOND_SMALL_GAP: f32 = 3.0;
/// The same over it.
const SECOND_NUMBER_GAP: f32 = 4.5;
/// The same for a number that is easily another.
const SECOND_ALIKE_GAP: f32 = 5.5;
/// Gap that the second opinion must have of such a number.
const SECOND_ALIKE_LEAST: f32 = 2.5;
/// The same of a teen or a ten.
const SECOND_TEENS_LEAST: f32 = 3.0;
/// Speech over noise in dB from which a teen or a ten is taken: in louder noise both models heard a "seventy"
/// as 17, the second 3.1 nats before anything else.
const TEENS_SNR_DB: f32 = 8.0;
/// Gap of the second opinion from which a tag is taken: signs run together into other signs ("two zero six"
/// into 2006).
const SECOND_TAG_GAP: f32 = 4.0;
/// Pace under which nothing is taken: the utterance was far too long or too short for the phrase, so that
/// something else was said, or something more.
const PACE_MIN: f32 = -5.0;

/// [`Evidence::all_said`] from which an answer is taken. "Present, missing" in one breath was heard as "present",
/// far from anything else.
const ALL_SAID: f32 = -4.0;
/// The same of what can make a check conform.
const ALL_SAID_CONFORMING: f32 = -3.5;

/// Nats by which the second model must have more of it to be believed where the first has not enough. It knows an
/// end far better: two answers in one breath had -9 and less by it, single ones seldom under -2.
const SECOND_ALL_SAID_MORE: f32 = 1.0;

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

/// What a state was denied to be is not what it is: the inspector is asked again.
const DENIED: Verdict = Verdict::Refuse("it was denied; say what it is");

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
    } else if meaning.value == NEGATED {
        DENIED
    } else if confidence < take_from(meaning)
        || evidence.gap < least_gap(meaning)
        || (is_deniable(meaning) && evidence.snr_db < DENIABLE_SNR_DB)
        || evidence.pace < PACE_MIN
        || more_was_said(meaning, evidence.all_said)
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

/// Whether the phrase was all that was said, by both or surely by the second.
fn is_all(meaning: &Meaning, first: &Evidence, second: &Second) -> bool {
    let least = if more_was_said(meaning, first.all_said) {
        SECOND_ALL_SAID_MORE
    } else {
        0.0
    };
    !more_was_said(meaning, second.all_said - least)
}

/// Whether there may have been more than the phrase. `all`: see [`ALL_SAID`]. A command that stops or tells
/// something is obeyed whatever else was said.
fn more_was_said(meaning: &Meaning, all: f32) -> bool {
    let least = match (meaning.rule.as_str(), meaning.value.as_str()) {
        ("control", "not-applicable" | "end-walk") => ALL_SAID,
        ("control", _) => return false,
        ("presence", "present") | ("condition", "good") | ("state", _) | ("yes-no", "yes") => {
            ALL_SAID_CONFORMING
        }
        _ => ALL_SAID,
    };
    all < least
}

/// Whether the first model is not believed alone, however sure it is: where the second was heard too and does not
/// agree, and of "in place" and "in good order". In some accents a "not" or "isn't" runs into the "in", and "isn't in
/// place" was heard as "in place" in quiet, 6 nats before anything else. `agrees`: of the second, `None` where it
/// was not heard.
pub fn needs_both(words: &str, agrees: Option<bool>) -> bool {
    agrees.map_or_else(|| words.to_lowercase().starts_with("in "), |agrees| !agrees)
}

/// Whether an answer need not wait for the quiet that ends an utterance as a rule: one plain word, far from anything
/// else, in so little noise that the end of speech is sure too. A number is never so: "twenty" may go on.
pub fn is_beyond_doubt(verdict: &Verdict, meaning: &Meaning, evidence: &Evidence) -> bool {
    *verdict == Verdict::Take
        && matches!(meaning.rule.as_str(), "presence" | "condition" | "state")
        && evidence.gap >= DENIABLE_GAP
        && evidence.snr_db >= DENIABLE_SNR_DB
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
    if meaning.value == NEGATED {
        return Judgement {
            verdict: DENIED,
            confidence: first.min(DISAGREED),
        };
    }
    if !second.agrees {
        return Judgement {
            verdict: Verdict::Confirm,
            confidence: first.min(DISAGREED),
        };
    }
    let confidence = weights.second.probability(first, second);
    let enough = confidence >= second_take_from(meaning)
        && is_apart(meaning, evidence, second)
        && is_all(meaning, evidence, second);
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
        // Whatever was asked, "no" leaves it open.
        ("yes-no", "no") => 0.85,
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

/// The same of what both models agree about.
fn second_take_from(meaning: &Meaning) -> f32 {
    match meaning.rule.as_str() {
        "count" | "reading" => SECOND_TAKE_NUMBER_FROM,
        "tag" | "state" => take_from(meaning),
        _ => take_from(meaning).min(SECOND_TAKE_FROM),
    }
}

/// Gap in nats from which one model alone is believed: never of a number over [`ALONE_MAX`]. Teens and tens
/// swap with a wide gap in noise (thirteen, thirty), a figure is heard twice that was said once, and "eighty
/// six" becomes thirty six in some accents.
fn least_gap(meaning: &Meaning) -> f32 {
    match number(meaning) {
        _ if is_deniable(meaning) => DENIABLE_GAP,
        _ if !is_number(meaning) => WORDS_GAP,
        Some(n) if n > ALONE_MAX => f32::INFINITY,
        _ => 0.0,
    }
}

/// Whether what both models hear is far enough from anything else.
fn is_apart(meaning: &Meaning, first: &Evidence, second: &Second) -> bool {
    let gaps = first.gap + second.gap;
    if meaning.rule == "tag" {
        return second.gap >= SECOND_TAG_GAP;
    }
    if is_deniable(meaning) && second.gap < SECOND_DENIABLE_LEAST {
        return false;
    }
    if !is_number(meaning) {
        return gaps >= SECOND_WORDS_GAP && first.gap.min(second.gap) >= SECOND_WORDS_LEAST;
    }
    match number(meaning) {
        // What is left of "one hundred and eight"; and no such count is usual.
        Some(100.0) => false,
        Some(n) if is_teen_or_ten(n) => {
            second.gap >= SECOND_TEENS_LEAST
                && gaps >= SECOND_ALIKE_GAP
                && first.snr_db >= TEENS_SNR_DB
        }
        _ if is_easily_another(meaning) => {
            second.gap >= SECOND_ALIKE_LEAST && gaps >= SECOND_ALIKE_GAP
        }
        Some(n) if n > ALONE_MAX => gaps >= SECOND_NUMBER_GAP,
        _ => gaps >= SECOND_SMALL_GAP,
    }
}

/// Whether a "not" that was lost in noise would make this of an answer that says the opposite. Which of a
/// check's own states conforms is not known here.
fn is_deniable(meaning: &Meaning) -> bool {
    matches!(
        (meaning.rule.as_str(), meaning.value.as_str()),
        ("presence", "present") | ("condition", "good") | ("state", _)
    )
}

/// The number of a count or reading.
fn number(meaning: &Meaning) -> Option<f64> {
    let is_value = matches!(meaning.rule.as_str(), "count" | "reading");
    meaning.value.parse().ok().filter(|_| is_value)
}

/// Whether the meaning is a teen or a ten, a figure repeated, or a hundred; of a reading, what stands before
/// its point.
fn is_easily_another(meaning: &Meaning) -> bool {
    number(meaning).is_some_and(|n| {
        let whole = n.trunc();
        let repeated = whole >= 22.0 && whole % 11.0 == 0.0;
        is_teen_or_ten(n) || repeated || whole >= 100.0
    })
}

/// Whether the number, or what stands before its point, is 13 to 19, or a ten from 30 to 90.
fn is_teen_or_ten(n: f64) -> bool {
    let whole = n.trunc();
    let is_ten = (30.0..=90.0).contains(&whole) && whole % 10.0 == 0.0;
    (13.0..=19.0).contains(&whole) || is_ten
}

fn is_number(meaning: &Meaning) -> bool {
    is_numeric(&meaning.rule)
}

/// Whether the answers of a rule are numbers, or tags, which are much the same.
pub fn is_numeric(rule: &str) -> bool {
    matches!(rule, "count" | "reading" | "tag")
}
