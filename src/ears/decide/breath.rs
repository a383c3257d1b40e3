//! What to do with each item of a breath. Pure.
//!
//! An item has less sound of its own than an answer, and more that it could have been. So it is taken only
//! where two models hear it, each with a gap to whatever else could stand in its place; everything else
//! stays open and is asked for.

use super::{Judgement, Verdict, is_easily_another, is_number};
use crate::grammar::{Meaning, called};

/// What one model measured about an item.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Measures {
    /// Nats by which the nearest string is behind that has another item in its place; at most
    /// [`crate::ears::STRING_GAP_MAX`].
    pub gap: f32,
    /// Log-probability of its pieces, each behind those before, in nats.
    pub fit: f32,
    /// That of the least likely of them.
    pub worst: f32,
    /// How much likelier its pieces are than in a faint hiss, in nats.
    pub lift: f32,
}

/// Evidence about one item.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct ItemEvidence {
    /// The first model's.
    pub first: Measures,
    /// The second model's, where it hears the item too.
    pub second: Option<Measures>,
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

/// Gap of the first model from which an item is taken.
const GAP: f32 = 1.5;
/// Gap of the second.
const SECOND_GAP: f32 = 2.5;
/// The same for a number.
const NUMBER_GAP: f32 = 3.0;
/// Least log-probability of any piece.
const WORST: f32 = -4.0;
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
            let confidence = confidence(item);
            let verdict = if evidence.activity < 0.5 {
                Verdict::Refuse("no clear speech")
            } else if unsure || disputed || evidence.pace < PACE_MIN || !is_sure(item, asked) {
                Verdict::Confirm
            } else {
                Verdict::Take
            };
            Judgement {
                verdict,
                confidence,
            }
        })
        .collect()
}

/// Whether both say something about the same item.
fn shares_a_key(one: &Meaning, other: &Meaning) -> bool {
    let mut keys = one.rule.split(called::AND);
    keys.any(|key| other.rule.split(called::AND).any(|k| k == key))
}

fn is_sure(item: &ItemEvidence, asked: &Meaning) -> bool {
    let Some(second) = &item.second else {
        return false;
    };
    if is_easily_another(asked) || asked.rule == "tag" {
        return false;
    }
    let least = if is_number(asked) { NUMBER_GAP } else { GAP };
    item.first.gap >= least
        && second.gap >= SECOND_GAP.max(least)
        && item.first.worst >= WORST
        && second.worst >= WORST
}

/// Not yet a probability that was fitted: where it stands between the gaps.
fn confidence(item: &ItemEvidence) -> f32 {
    let gap = item.first.gap.min(item.second.map_or(0.0, |s| s.gap));
    1.0 / (1.0 + (-gap).exp())
}
