//! What is spoken before a check is answered must not tell what is expected at it.

use super::blind::{self, Secret};
use super::walker::Walker;
use super::{Item, Pending, State};
use crate::plan::CheckKind;
use crate::plan::read::{Findings, StationDraft};
use std::collections::{HashMap, HashSet};
use std::ops::Range;

/// A text that is spoken on the walk, in words.
struct Spoken<'a> {
    /// The check that it is of, where it is of one.
    of: Option<&'a str>,
    words: String,
    span: &'a Range<usize>,
    /// The station at which it is asked, of a question, which may hold a short tag by chance.
    asked_at: Option<usize>,
}

/// How far the texts were looked through for a secret, those that tell it, and the places of those already warned of.
#[derive(Default)]
struct Looked {
    through: usize,
    telling: Vec<usize>,
    warned: HashSet<usize>,
}

/// Tells of names, texts on arrival, questions, states and deficiencies that give an answer away at the same station
/// or at a later one.
pub fn check_said_before(r: &mut Findings, walker: &Walker<'_>) {
    let mut spoken = vec![Spoken {
        of: None,
        words: blind::words_of(walker.sources.load),
        span: &walker.sources.load_span,
        asked_at: None,
    }];
    let mut known: HashSet<(usize, String)> = HashSet::new();
    let mut looked: HashMap<Secret, Looked> = HashMap::new();
    for (index, station) in walker.sources.stations.iter().enumerate() {
        let asked = || {
            let here = walker.items.iter().filter(move |i| i.station == index);
            here.filter_map(|item| match &item.state {
                State::Asked(pending) => Some((item, pending.as_ref())),
                State::LeftOut(_) => None,
            })
        };
        for (_, pending) in asked() {
            check_arrival(r, station, pending);
        }
        // What a block says at many stations is looked through once.
        let texts = asked().flat_map(|(item, pending)| said(item, pending));
        spoken.extend(texts.filter(|t| known.insert((t.span.start, t.words.clone()))));
        for (item, pending) in asked() {
            let Some(secret) = pending.kind.as_ref().and_then(Secret::of) else {
                continue;
            };
            let short = secret.is_short();
            let mut so_far = looked.remove(&secret).unwrap_or_default();
            let tells = |at: &usize| secret.is_in(&spoken[*at].words);
            so_far
                .telling
                .extend((so_far.through..spoken.len()).filter(tells));
            so_far.through = spoken.len();
            for text in so_far.telling.iter().map(|&at| &spoken[at]) {
                let by_chance = short && text.of.is_some() && text.asked_at != Some(index);
                let its_own = text.of == Some(item.id.as_str());
                if !by_chance && !its_own && so_far.warned.insert(text.span.start) {
                    r.warning(
                        text.span,
                        format!("this says what is expected at `{}`", item.id),
                        "spoken before its answer, if it means the same",
                        "leave the number or the tag out",
                    );
                }
            }
            looked.insert(secret, so_far);
        }
        let arriving = station.name.iter().chain(&station.arrive);
        spoken.extend(arriving.map(|text| Spoken {
            of: Some(&station.key.value),
            words: blind::words_of(&text.value),
            span: &text.span,
            asked_at: None,
        }));
    }
}

/// What is said on arrival at the very station.
fn check_arrival(r: &mut Findings, station: &StationDraft, pending: &Pending) {
    let Some(kind @ (CheckKind::Count { .. } | CheckKind::Tag { .. })) = &pending.kind else {
        return;
    };
    if let Some(arrive) = &station.arrive {
        blind::check_blind(r, "the text on arrival", arrive, kind);
    }
    // "Corner three" gives nothing away, "six straps" does, and so does "six strap net".
    let told = |name: &str| match kind {
        CheckKind::Count { noun, .. } => blind::holds_noun(&blind::words_of(name), noun),
        _ => true,
    };
    if let Some(name) = station.name.as_ref().filter(|name| told(&name.value)) {
        blind::check_blind(r, "the station's name", name, kind);
    }
}

/// What is spoken of a check before or after its own answer: its question, what is read back, and what is wrong with it.
fn said<'a>(item: &'a Item, pending: &'a Pending) -> Vec<Spoken<'a>> {
    let text = |words: &str, span: &'a Range<usize>, asked_at| Spoken {
        of: Some(&item.id),
        words: blind::words_of(words),
        span,
        asked_at,
    };
    let mut all = vec![
        text(&pending.ask, &pending.ask_span, Some(item.station)),
        text(&item.name, &item.span, None),
    ];
    let deficiency = pending.deficiency.iter();
    all.extend(deficiency.map(|t| text(&t.value, &t.span, None)));
    if let Some(CheckKind::State { states }) = &pending.kind {
        for state in states {
            let said = state.spoken.first().into_iter().chain(&state.deficiency);
            all.extend(said.map(|words| text(words, &item.span, None)));
        }
    }
    all
}
