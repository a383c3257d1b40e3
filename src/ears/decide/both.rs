//! What both models together are believed. Pure.
//!
//! Where both come to the same meaning from different scores it is seldom wrong; where they do not, nothing is
//! taken. `hearing/limits.md` has what the limits were set by. Some guard against what the models did before their
//! corrections ([`crate::model::corrections`]); these stayed where they cost little.

use super::weights::{both_weights, weights};
use super::{
    ACTIVITY_MIN, ALONE_MAX, ASK_FROM, DENIED, DISAGREED, Evidence, Judgement, NO_SPEECH, PACE_MIN,
    SAID_NUMBER, Second, Verdict, is_conforming, is_deniable, is_easily_another, is_number,
    is_numeric, is_teen, is_teen_or_ten, judge, may_hide_a_denial, more_was_said, number, suffices,
};
use crate::grammar::{Meaning, NEGATED};
use crate::numerals::{SMALL, TENS};

/// Least probability at which an answer is taken that can make a check conform.
const CONFORMING_FROM: f32 = 0.9;
/// The same of a word that stops the load or only steers the walk.
const OTHER_FROM: f32 = 0.85;
/// The same of a number up to [`ALONE_MAX`].
const SMALL_FROM: f32 = 0.9;
/// The same of a number over it.
const NUMBER_FROM: f32 = 0.92;
/// The same of a tag.
const TAG_FROM: f32 = 0.95;
/// The same in loud noise: "x-ray two" was X at 0.97 in 0 dB.
const TAG_LOUD_FROM: f32 = 0.975;
/// The same of any in loud noise.
const LOUD_FROM: f32 = 0.95;
/// Nats before anything else by the mean of both, from which a word is taken.
const WORDS_GAP: f32 = 1.0;
/// Gaps of both together from which a word is taken that can make a check conform; a state has limits of its own.
const CONFORMING_GAP: f32 = 3.0;
/// Gap that each must have of it.
const CONFORMING_LEAST: f32 = 1.0;
/// Gap that the second model must have of what a lost "not" turns round.
const DENIABLE_LEAST: f32 = 4.0;
/// Least fit of it by the second model: of "not in good condition" heard as "good condition" it was -9.5, and
/// hardly ever under -8 of what was right.
const DENIABLE_FIT: f32 = -8.0;
/// Least fit of "good" by the mean of both: "poor condition" by one voice was "good condition" by both at 5 dB, at -4.0; of some
/// 60 right ones none was under -3.5.
const GOOD_FIT: f32 = -3.5;
/// Gap that each must have of what begins with "in": "not" and "isn't" run into it in some voices, and "not in
/// place" was 6 nats before anything else as "in place", by both models, at 5 dB.
const IN_GAP: f32 = 5.0;
/// Speech over noise in dB from which it is taken.
const IN_SNR_DB: f32 = 8.0;
/// The same of what ends in "on" or "off": "cap off" was "cap on" by both models, 6 nats before anything else, at 10 and 5 dB.
const ON_SNR_DB: f32 = 12.0;
/// The same of a check's own states: at 0 dB nothing was left of the "not" of "not latched and pinned".
const STATE_SNR_DB: f32 = 3.0;
/// Gap that each must have of it: "unsecured" by one voice was "secured" by both in three noises, 0.4 to 2.3 nats before anything
/// else by the first.
const STATE_LEAST: f32 = 3.0;
/// Least probability at which a state is taken.
const STATE_FROM: f32 = 0.9;
/// Nats before anything else by the mean of both, from which a number up to [`ALONE_MAX`] is taken.
const SMALL_GAP: f32 = 0.5;
/// Gap that each must have of one of two figures: "one four" was 12 by both at 10 dB, 1.2 nats before anything else
/// by the first.
const SMALL_LEAST: f32 = 2.0;
/// Gaps of both together from which it is taken in loud noise, where little is left of "seventeen" but "seven".
const SMALL_LOUD_GAP: f32 = 6.0;
/// Gaps of both together from which a number over it is taken.
const NUMBER_GAP: f32 = 4.0;
/// The same for a number that is easily another.
const ALIKE_GAP: f32 = 5.5;
/// Gap that the second must have of such a number.
const ALIKE_LEAST: f32 = 2.5;
/// Gap that each must have of a teen or a ten, and over a hundred.
const TEENS_LEAST: f32 = 3.0;
/// Speech over noise in dB under which noise is loud.
const LOUD_DB: f32 = 8.0;
/// Gap that each must have of a number up to [`ALONE_MAX`] then.
const SMALL_LOUD_LEAST: f32 = 2.0;
/// Speech over noise in dB from which a figure is taken that longer numbers begin with: at 0 dB both models heard
/// "ninety" as 9, as far from anything else as can be.
const STEM_SNR_DB: f32 = 3.0;
/// The same for a teen or a ten, over a hundred, and what is easily another: "one zero nine" was 10 by both at 5 dB.
const TEENS_SNR_DB: f32 = 8.0;
/// Gap of the second from which a tag is taken: signs run together into other signs ("two zero six" into 2006).
const TAG_GAP: f32 = 4.0;
/// Lift of both together from which a number is taken, or what can make a check conform: letters by which other
/// languages are spelt were "yes" by both, far from anything else, at 10 and 8; "note book" was a state at 9.5.
const LIFT: f32 = 11.0;
/// The same of "yes" in loud noise: "no" by one voice in noise that beats five times a second was "yes" by both, as far from anything
/// else as can be, in 4 of 20 hearings at 5 dB, at 11.5 to 12.3. Of 228 right ones at 5 and 0 dB 11 were under it.
const YES_LOUD_LIFT: f32 = 12.6;
/// The same of what a lost "not" turns round, which is said in more sounds than "yes": "fault" was "good" at 12.4 in 5 dB, 6
/// nats before anything else by both, and at 11.6 in 10 dB. Right ones had 14.1 and more, but for "fixed" once in 74.
const GOOD_LIFT: f32 = 14.0;
/// Speech over noise in dB, and gap of each, from which [`LIFT`] does for it too: "good" has 11 to 14 in quiet now and then, and
/// what "fault" and noise were taken for was at 5 to 12 dB.
const CLEAR_SNR_DB: f32 = 16.0;
const CLEAR_GAP: f32 = 5.9;
/// Mean of [`Evidence::said`] of both from which a word is taken: "good" was heard in a letter of another language at 3.6.
const SAID: f32 = 4.0;
/// The same of "yes" and "no", which are short.
const SAID_SHORT: f32 = 3.5;
/// Nats by which the second must have more of [`Evidence::all_said`] where the first has not enough. It knows an
/// end far better: two answers in one breath had -9 and less by it, single words seldom under -2.
pub(super) const ALL_SAID_MORE: f32 = 1.0;

/// Judges again what [`judge`] would ask about, and every number, with a second opinion. `meaning` is the best by
/// both, `words` the phrase.
pub fn judge_both(
    first: &Evidence,
    meaning: Option<&Meaning>,
    words: &str,
    second: &Second,
) -> Judgement {
    let Some(meaning) = meaning else {
        return judge(first, None);
    };
    let confidence = both_weights(meaning).probability(first, second);
    let (verdict, confidence) = if first.activity < ACTIVITY_MIN {
        (NO_SPEECH, confidence)
    } else if meaning.value == NEGATED {
        (DENIED, confidence.min(DISAGREED))
    } else if !second.agrees {
        (Verdict::Confirm, confidence.min(DISAGREED))
    } else if confidence < ASK_FROM {
        (Verdict::Refuse("not heard clearly"), confidence)
    } else if first.pace >= PACE_MIN
        && (confidence >= least(meaning, first) && is_heard(meaning, first, second)
            || is_a_state_by_the_first(meaning, first))
        && is_apart(meaning, words, first, second)
        && !(meaning.rule == "count" && has_idle_nought(words))
        && !may_hide_a_denial(meaning, first)
        && is_all(meaning, first, second)
    {
        (Verdict::Take, confidence)
    } else {
        (Verdict::Confirm, confidence)
    };
    Judgement {
        verdict,
        confidence,
    }
}

/// Whether a state would be taken on the first model's word, but for how badly it fits: the second is a veto then.
fn is_a_state_by_the_first(meaning: &Meaning, first: &Evidence) -> bool {
    meaning.rule == "state" && suffices(first, meaning, weights(meaning).probability(first))
}

/// Whether the sound says it, not the models' liking for common words.
fn is_heard(meaning: &Meaning, first: &Evidence, second: &Second) -> bool {
    let is_good = meaning.rule == "condition" && meaning.value == "good";
    if is_good && (first.fit + second.evidence.fit) / 2.0 < GOOD_FIT {
        return false;
    }
    let can_mislead = is_number(meaning) || is_conforming(meaning);
    // Of a check's own states it was measured in loud noise only.
    let measured = meaning.rule != "state" || first.snr_db < LOUD_DB;
    // In quiet, as far from anything else as can be, it need not stand out so much.
    let clear = first.snr_db >= CLEAR_SNR_DB && first.gap.min(second.evidence.gap) >= CLEAR_GAP;
    let is_yes = meaning.rule == "yes-no" && meaning.value == "yes";
    let least = if is_deniable(meaning) && measured && !clear {
        GOOD_LIFT
    } else if is_yes && first.snr_db < LOUD_DB {
        YES_LOUD_LIFT
    } else {
        LIFT
    };
    let said = 0.5 * (first.said() + second.evidence.said());
    said >= least_said(meaning) && (!can_mislead || first.lift + second.evidence.lift >= least)
}

/// Least mean of what both have of [`Evidence::said`]; of a check's own states it was not measured.
fn least_said(meaning: &Meaning) -> f32 {
    match meaning.rule.as_str() {
        "state" => f32::NEG_INFINITY,
        rule if is_numeric(rule) => SAID_NUMBER,
        "yes-no" => SAID_SHORT,
        _ => SAID,
    }
}

/// Whether the phrase was all that was said, by both or surely by the second.
fn is_all(meaning: &Meaning, first: &Evidence, second: &Second) -> bool {
    let least = if more_was_said(meaning, first.all_said) {
        ALL_SAID_MORE
    } else {
        0.0
    };
    !more_was_said(meaning, second.evidence.all_said - least)
}

/// Least probability at which this is taken.
fn least(meaning: &Meaning, first: &Evidence) -> f32 {
    match number(meaning) {
        Some(_) if first.snr_db < LOUD_DB => LOUD_FROM,
        Some(n) if n > ALONE_MAX => NUMBER_FROM,
        Some(_) => SMALL_FROM,
        None if meaning.rule == "tag" && first.snr_db < LOUD_DB => TAG_LOUD_FROM,
        None if meaning.rule == "tag" => TAG_FROM,
        None if meaning.rule == "state" => STATE_FROM,
        None if is_conforming(meaning) => CONFORMING_FROM,
        None => OTHER_FROM,
    }
}

/// Whether what both models hear is far enough from anything else.
fn is_apart(meaning: &Meaning, words: &str, first: &Evidence, second: &Second) -> bool {
    let (one, two) = (first.gap, second.evidence.gap);
    if meaning.rule == "tag" {
        return two >= TAG_GAP;
    }
    if !is_number(meaning) {
        let denied_in = (begins_with_in(words) || begins_with_in(&second.words))
            && (one.min(two) < IN_GAP || first.snr_db < IN_SNR_DB);
        let on_or_off = meaning.rule == "state"
            && (ends_in_on(words) || ends_in_on(&second.words))
            && (one.min(two) < IN_GAP || first.snr_db < ON_SNR_DB);
        let state_in_noise = meaning.rule == "state" && first.snr_db < STATE_SNR_DB;
        let far = match meaning.rule.as_str() {
            "state" => one.min(two) >= STATE_LEAST,
            _ if !is_conforming(meaning) => true,
            _ => one + two >= CONFORMING_GAP && one.min(two) >= CONFORMING_LEAST,
        };
        return second.gap_of_both >= WORDS_GAP
            && far
            && !on_or_off
            && !state_in_noise
            && (!is_deniable(meaning)
                || (two >= DENIABLE_LEAST && second.evidence.fit >= DENIABLE_FIT && !denied_in));
    }
    match number(meaning) {
        // What is left of "one hundred and eight"; and no such count is usual.
        Some(100.0) => false,
        // "Thirteen" was 14 by both, 6 nats before anything else, in quiet, by a voice of an accent that neither knows well.
        Some(n) if is_teen(n) && !is_spelled(words) => false,
        // "One hundred and fifteen" was 105 by both at 5 dB.
        Some(n) if is_teen_or_ten(n) || n > 100.0 => {
            one.min(two) >= TEENS_LEAST && one + two >= ALIKE_GAP && first.snr_db >= TEENS_SNR_DB
        }
        _ if is_easily_another(meaning) => {
            two >= ALIKE_LEAST && one + two >= ALIKE_GAP && first.snr_db >= TEENS_SNR_DB
        }
        Some(n) if n > ALONE_MAX => one + two >= NUMBER_GAP,
        _ if first.snr_db < LOUD_DB => {
            one + two >= SMALL_LOUD_GAP
                && one.min(two) >= SMALL_LOUD_LEAST
                && (first.snr_db >= STEM_SNR_DB || !is_stem(meaning))
        }
        Some(n) if n > 10.0 => one.min(two) >= SMALL_LEAST,
        _ => second.gap_of_both >= SMALL_GAP,
    }
}

/// Whether it is a figure whose word others begin with (six, sixteen, sixty).
fn is_stem(meaning: &Meaning) -> bool {
    number(meaning).is_some_and(|n| matches!(n.trunc() as u8, 4 | 6..=9) && n < 10.0)
}

/// Whether a count, as a model writes it, has a nought before its figure ("0 5", "zero five"): "not five" was heard so.
pub fn has_idle_nought(words: &str) -> bool {
    let words = words.to_lowercase();
    let mut words = words
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty());
    let is_number = |w: &&str| {
        w.bytes().next().is_some_and(|b| b.is_ascii_digit())
            || *w == "oh"
            || SMALL.contains(w)
            || TENS.contains(w)
    };
    let first = words.by_ref().find(is_number);
    match first {
        Some("0" | "zero" | "oh") => words.next().is_some_and(|w| is_number(&w)),
        Some(figures) => figures.len() > 1 && figures.starts_with('0'),
        None => false,
    }
}

/// Whether a number, as a model writes it, is digit by digit ("1 4", "one-four"): "14.25" is not, whatever stands behind its
/// point.
fn is_spelled(words: &str) -> bool {
    let words = words.to_lowercase();
    let mut digits = 0;
    let words = words.split(|c: char| !c.is_alphanumeric());
    for word in words.filter(|word| !word.is_empty()) {
        let is_figures = word.starts_with(|c: char| c.is_ascii_digit());
        if word == "oh" || SMALL[..10].contains(&word) || is_figures && word.len() == 1 {
            digits += 1;
        } else if is_figures || SMALL.contains(&word) || TENS.contains(&word) {
            return false;
        }
    }
    digits > 1
}

/// Whether these words, as a model writes them, end in "on" or "off", which differ by one sound that noise covers.
pub fn ends_in_on(words: &str) -> bool {
    let words = words.to_lowercase();
    let mut words = words
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty());
    matches!(words.next_back(), Some("on" | "off"))
}

/// Whether these words, as a model writes them, begin with "in".
pub fn begins_with_in(words: &str) -> bool {
    words.trim_start().to_lowercase().starts_with("in ")
}

#[cfg(test)]
mod tests {
    use super::{ends_in_on, has_idle_nought};

    #[test]
    fn on_and_off_are_seen_at_the_end() {
        for words in ["Cap on.", " off", "lid is on"] {
            assert!(ends_in_on(words), "{words}");
        }
        for words in ["on the hook", "plug in", "", "iron"] {
            assert!(!ends_in_on(words), "{words}");
        }
    }

    #[test]
    fn a_nought_before_a_figure_is_seen() {
        for words in ["0 5 links", " zero five", "Oh, five.", "05", "straps 0 5"] {
            assert!(has_idle_nought(words), "{words}");
        }
        for words in [
            "0",
            "zero links",
            "105",
            "one zero five",
            "ten",
            "5",
            "twenty",
            "straps 50",
        ] {
            assert!(!has_idle_nought(words), "{words}");
        }
    }
}
