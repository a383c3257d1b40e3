//! What to do with each item of a breath. Pure.
//!
//! An item has less sound of its own than an answer, and more that it could have been. So it is taken only
//! where two models hear it, each with a gap to whatever else could stand in its place; everything else
//! stays open and is asked for.

use super::both::ALL_SAID_MORE as CLOSED_MORE;
use super::{ALONE_MAX, Judgement, Verdict, is_easily_another, is_number, more_was_said, number};
use crate::ears::STRING_GAP_MAX;
use crate::grammar::{Meaning, NEGATED, called};

/// What one model measured about an item.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Measures {
    /// Nats by which the nearest string is behind that has another item in its place; at most
    /// [`crate::ears::STRING_GAP_MAX`], of the second model at most [`gap_wanted`].
    pub gap: f32,
    /// Log-probability of its pieces, each behind those before, in nats.
    pub fit: f32,
    /// That of the least likely of them.
    pub worst: f32,
    /// How much likelier its pieces are than in a faint hiss, in nats. Not measured of the second model: it takes a
    /// quarter of its time, and what is no finding stays behind in the first's already.
    pub lift: Option<f32>,
    /// Nats by which a denial ("not", "aren't") in place of one of its pieces is behind that piece, where it
    /// is nearest; at most 20.
    pub denial: f32,
    /// Log-probability that the item ends where it does, in nats: that the next begins behind it, or, of the last, that the
    /// breath ends there and lasts so long. Low where more was said of it ("in place on one side only").
    pub closed: f32,
}

/// Evidence about one item.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct ItemEvidence {
    /// The first model's.
    pub first: Measures,
    /// The second model's, where it hears the item too.
    pub second: Option<Measures>,
    /// See [`denial_needed`].
    pub denial_needed: f32,
}

/// Evidence about a breath.
#[derive(Clone, Debug, PartialEq)]
pub struct BreathEvidence {
    /// About each item of the first model's reading.
    pub items: Vec<ItemEvidence>,
    /// What the second model hears and the first does not.
    pub only_second: Vec<Meaning>,
    /// See [`crate::ears::pace::log_likelihood`]; of the whole breath.
    pub pace: f32,
    /// Greatest speech probability of the activity network, 0 to 1.
    pub activity: f32,
}

/// Gaps of both models together from which an item is taken. `hearing/limits.md` has what it was set by.
const GAPS: f32 = 3.0;
/// Gap that each of them must have then.
const GAP_LEAST: f32 = 0.5;
/// Gap that each must have of a number.
const NUMBER_GAP: f32 = 2.0;
/// Rivals are looked for so many nats further behind than the gap that is wanted: towards its end a string may come
/// nearer.
const BEYOND: f32 = 0.5;
/// Least lift of a finding: a name with what was found is long, and what is no such thing stays far below it. Of 808
/// that were taken right, by dev and test voices, the least had 12.1.
const LIFT: f32 = 12.0;
/// The same of a number with what is counted: "three links" in quiet had 8.9.
const NUMBER_LIFT: f32 = 7.0;
/// The same for a number alone, a command or a word that takes back: they are short.
const SHORT_LIFT: f32 = 5.0;
/// Least log-probability of any piece, of both.
const WORST: f32 = -8.0;
/// Nats by which a denial must be behind a good word, in the mean of both models, and half of it in each.
/// `hearing/limits.md` has what it was set by.
const DENIAL: f32 = 4.0;
/// The same behind "is", likewise: "isn't folded" was heard as "is folded" with 4.2 in the mean, "isn't well inside" with 4.4.
const IS_DENIAL: f32 = 5.5;
/// The same behind "are", in each model: in many accents "aren't" is "are" with next to nothing behind it.
const ARE_DENIAL: f32 = 9.0;
/// The same of "in" or "on", in each: a whole "aren't there" was heard as "on". And of "is" before
/// "in", "inside", "on" or "all": "leg order isn't in order" was heard as "is in order", 5.8 and 4.4 nats away.
const SHORT_DENIAL: f32 = 7.0;
/// Confidence in what one model alone hears, where it is not sure either; and the most in what must be asked about by
/// itself: the other model has something else of the same thing, more was said than was heard, or a denial is near.
const DOUBTFUL: f32 = 0.4;
/// The same where it is sure: not enough to be taken, but of 39 such good words by dev and test voices all were meant.
const ALONE: f32 = 0.6;
/// Share of the nats needed by which a denial must be behind a good word that is asked about with others.
/// `hearing/limits.md` has what it was set by.
const DENIAL_SHARE: f32 = 0.8;
/// Pace under which nothing is taken from a breath: something more was said than was heard.
const PACE_MIN: f32 = -5.0;

/// Judges each item. `meanings`: as the grammar of the station writes it, and as the check would have it
/// when asked (see `ears::breath::plain`).
pub fn judge_items(evidence: &BreathEvidence, meanings: &[(&Meaning, Meaning)]) -> Vec<Judgement> {
    // What only one model hears as taken back leaves nothing sure that stands before it.
    let is_filler = |m: &Meaning| m.rule == called::FILLER;
    let unsure = evidence.only_second.iter().any(is_filler)
        || evidence
            .items
            .iter()
            .zip(meanings)
            .any(|(e, (m, _))| is_filler(m) && e.second.is_none());
    evidence
        .items
        .iter()
        .zip(meanings)
        .map(|(item, (meaning, asked))| {
            let disputed = evidence
                .only_second
                .iter()
                .any(|m| shares_a_key(m, meaning));
            // What the other has in its place may go by another name, so another finding is enough.
            let differs = |m: &Meaning| m.value != meaning.value;
            let replaced = item.second.is_none() && evidence.only_second.iter().any(differs);
            let more_was_said = evidence.pace < PACE_MIN || is_more_than(item, asked);
            let in_dispute = unsure || disputed || replaced || more_was_said;
            let confidence = confidence(item, meaning, asked);
            // "Sits free" was heard as 63 by both, and a breath has many words that could be a number.
            let is_whole = evidence.items.len() + evidence.only_second.len() == 1;
            let stray_number = meaning.rule == "count"
                && !(is_whole && number(asked).is_some_and(|n| n <= ALONE_MAX));
            let verdict = if evidence.activity < 0.5 {
                Verdict::Refuse("no clear speech")
            } else if in_dispute || stray_number || !is_sure(item, meaning, asked) {
                Verdict::Confirm
            } else {
                Verdict::Take
            };
            Judgement {
                verdict,
                confidence: if in_dispute {
                    confidence.min(DOUBTFUL)
                } else {
                    confidence
                },
            }
        })
        .collect()
}

/// Whether more was said than these items hold: of one of them, or of something that has no item.
pub fn more_than_heard(evidence: &BreathEvidence, meanings: &[(&Meaning, Meaning)]) -> bool {
    let mut items = evidence.items.iter().zip(meanings);
    !evidence.items.is_empty()
        && (evidence.pace < PACE_MIN || items.any(|(item, (_, asked))| is_more_than(item, asked)))
}

/// How far behind its string the second model need look for rivals, in nats, where the first has these gaps, each with
/// whether it is of a number: what it has beyond that changes nothing.
pub fn gap_wanted(of_first: impl IntoIterator<Item = (f32, bool)>) -> f32 {
    let wanted = |(gap, is_number): (f32, bool)| {
        let least = if is_number { NUMBER_GAP } else { GAP_LEAST };
        // What the first is not sure of is not taken whatever the second has.
        (gap >= least).then_some((GAPS - gap).max(least))
    };
    let most = of_first
        .into_iter()
        .filter_map(wanted)
        .fold(GAP_LEAST, f32::max);
    (most + BEYOND).min(STRING_GAP_MAX)
}

/// Whether both say something about the same item.
fn shares_a_key(one: &Meaning, other: &Meaning) -> bool {
    let mut keys = one.rule.split(called::AND);
    keys.any(|key| other.rule.split(called::AND).any(|k| k == key))
}

/// Whether the value stops the load whatever the check.
fn is_denied(value: &str) -> bool {
    matches!(value, NEGATED | "missing" | "deficient")
}

/// Nats by which a denial must be behind these words of an item, if they are good.
pub fn denial_needed(words: &str) -> f32 {
    let words: Vec<String> = words
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    let is_short = matches!(words.last().map(String::as_str), Some("in" | "on"));
    let runs_on = |pair: &[String]| {
        pair[0] == "is" && matches!(pair[1].as_str(), "in" | "on" | "all" | "inside")
    };
    if is_short || words.windows(2).any(runs_on) {
        SHORT_DENIAL
    } else if words.iter().any(|word| word == "are") {
        ARE_DENIAL
    } else if words.iter().any(|word| word == "is") {
        IS_DENIAL
    } else {
        DENIAL
    }
}

fn is_sure(item: &ItemEvidence, meaning: &Meaning, asked: &Meaning) -> bool {
    let Some(second) = &item.second else {
        return false;
    };
    // "Eight or nine links" was 89, "gauge two, eight bolts" 28.
    let two_figures = number(asked).is_some_and(|n| n >= 10.0);
    if two_figures || is_easily_another(asked) || asked.rule == "tag" {
        return false;
    }
    if !is_number(asked) && denial_share(item, meaning) < 1.0 {
        return false;
    }
    let least = if is_number(asked) {
        NUMBER_GAP
    } else {
        GAP_LEAST
    };
    let is_short = matches!(meaning.rule.as_str(), "count" | "control" | called::FILLER);
    let lift = if is_short {
        SHORT_LIFT
    } else if is_number(asked) {
        NUMBER_LIFT
    } else {
        LIFT
    };
    item.first.gap.min(second.gap) >= least
        && item.first.gap + second.gap >= GAPS
        && item.first.lift.is_some_and(|first| first >= lift)
        && item.first.worst.min(second.worst) >= WORST
}

/// How far a denial is behind, as a share of what is needed, by the models that hear the item; 1 for what stops the
/// load by itself.
fn denial_share(item: &ItemEvidence, meaning: &Meaning) -> f32 {
    if is_denied(&meaning.value) {
        return 1.0;
    }
    let (first, needed) = (item.first.denial, item.denial_needed);
    match item.second.map(|second| second.denial) {
        None => first / needed,
        Some(second) if needed <= IS_DENIAL => {
            let mean = 0.5 * (first + second);
            (mean / needed).min(first.min(second) / (0.5 * needed))
        }
        Some(second) => first.min(second) / needed,
    }
}

/// Whether more was said of the item than was heard, as of an answer by itself: by the second model, or by the first where
/// the second is not surer.
fn is_more_than(item: &ItemEvidence, asked: &Meaning) -> bool {
    let Some(second) = &item.second else {
        return more_was_said(asked, item.first.closed);
    };
    let least = if more_was_said(asked, item.first.closed) {
        CLOSED_MORE
    } else {
        0.0
    };
    more_was_said(asked, second.closed - least)
}

/// For review, to find the doubtful ones, and for the walk, which asks about several together only above
/// [`DOUBTFUL`]: grows with the gap and the lift. Not fitted; of items that both models hear too few are wrong for
/// that.
fn confidence(item: &ItemEvidence, meaning: &Meaning, asked: &Meaning) -> f32 {
    let Some(second) = &item.second else {
        let first = &item.first;
        let is_sure = first.gap >= NUMBER_GAP
            && first.lift.is_some_and(|lift| lift >= LIFT)
            && first.worst >= WORST
            && denial_share(item, meaning) >= 1.0;
        return if is_sure { ALONE } else { DOUBTFUL };
    };
    let gap = item.first.gap.min(second.gap);
    let lift = item.first.lift.unwrap_or(0.0);
    let confidence = 1.0 / (1.0 + (2.0 - 0.7 * gap - 0.2 * lift).exp());
    if !is_number(asked) && denial_share(item, meaning) < DENIAL_SHARE {
        confidence.min(DOUBTFUL)
    } else {
        confidence
    }
}

#[cfg(test)]
mod tests;
