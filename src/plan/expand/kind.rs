//! Makes a check's kind from its draft: states, tables and limits checked.

use super::Sources;
use super::fill::Frame;
use super::speech::check_unit;
use super::states::{add_both_and_neither, build_states};
use crate::plan::read::{Findings, KindDraft, Text, missing_count};
use crate::plan::{CheckKind, limits, tag_signs};

/// A kind, with the count table that it looks at.
pub struct Built {
    pub kind: CheckKind,
    pub table: Option<String>,
}

/// The kind of a check, or `None` where its draft does not hold together. For a check that is left
/// out (`asked` false) nothing is demanded of the count tables.
pub fn build(
    r: &mut Findings,
    draft: &KindDraft,
    name: &str,
    frame: &Frame,
    sources: &Sources<'_>,
    asked: bool,
) -> Option<Built> {
    let plain = |kind| Some(Built { kind, table: None });
    match draft {
        KindDraft::Presence { must_be } => plain(CheckKind::Presence { must_be: *must_be }),
        KindDraft::Condition => plain(CheckKind::Condition),
        KindDraft::Count {
            table,
            expected,
            noun,
        } => count(
            r,
            table.as_ref(),
            expected.as_ref(),
            noun,
            frame,
            sources,
            asked,
        ),
        KindDraft::State { states } => {
            let states = build_states(r, states, frame)?;
            if states.iter().all(|s| s.deficiency.is_some()) {
                return no_conforming(r, draft, frame);
            }
            plain(CheckKind::State { states })
        }
        KindDraft::OneOf {
            states,
            both,
            neither,
        } => {
            let mut built = build_states(r, states, frame)?;
            let both = both.as_ref().map(|t| frame.fill(r, t));
            let neither = neither.as_ref().map(|t| frame.fill(r, t));
            if !add_both_and_neither(r, &mut built, states, name, [both, neither]) {
                return None;
            }
            plain(CheckKind::State { states: built })
        }
        KindDraft::Reading { unit, min, max } => {
            reading(r, unit, min.as_ref(), max.as_ref(), frame)
        }
        KindDraft::Tag { expected: None } => plain(CheckKind::Tag { expected: None }),
        KindDraft::Tag {
            expected: Some(expected),
        } => {
            let tag = frame.fill(r, expected)?;
            let Some(signs) = tag_signs(&tag.value) else {
                r.error(
                    &tag.span,
                    format!("`{}` cannot be read as a tag", tag.value),
                    frame.label(&format!("up to {} letters and digits", limits::TAG)),
                    "write letters, digits, dashes and blanks only, as on the tag: expected = \"A-7\"",
                );
                return None;
            };
            plain(CheckKind::Tag {
                expected: Some(signs),
            })
        }
    }
}

fn no_conforming(r: &mut Findings, draft: &KindDraft, frame: &Frame) -> Option<Built> {
    if let KindDraft::State { states } = draft
        && let (Some(first), Some(last)) = (states.first(), states.last())
    {
        r.error(
            &(first.span.start..last.span.end),
            "no state conforms",
            frame.label("every answer would be a deficiency"),
            "mark at least one state with conforms = true",
        );
    }
    None
}

fn count(
    r: &mut Findings,
    table: Option<&Text>,
    expected: Option<&Text>,
    noun: &Text,
    frame: &Frame,
    sources: &Sources<'_>,
    asked: bool,
) -> Option<Built> {
    let noun = frame.fill(r, noun)?.value;
    if let (Some(table), Some(_)) = (table, expected) {
        r.error(
            &table.span,
            "a count takes its number from a table or from `expected`, not from both",
            "two sources",
            "keep one of the two",
        );
        return None;
    }
    if let Some(expected) = expected {
        let filled = frame.fill(r, expected)?;
        let number = filled
            .value
            .parse::<u32>()
            .ok()
            .filter(|n| *n <= limits::COUNT);
        if number.is_none() {
            r.error(
                &filled.span,
                format!("`{}` is no count that can be answered", filled.value),
                frame.label(&format!("0 to {}", limits::COUNT)),
                format!("write a whole number from 0 to {}", limits::COUNT),
            );
        }
        return number.map(|n| Built {
            kind: CheckKind::Count {
                expected: Some(n),
                noun,
            },
            table: None,
        });
    }
    let Some(table) = table else {
        // Whether a comparison decides instead is seen when references are looked up.
        return Some(Built {
            kind: CheckKind::Count {
                expected: None,
                noun,
            },
            table: None,
        });
    };
    let table = frame.fill(r, table)?;
    let listed = sources.counts.iter().find(|t| t.table.name == table.value);
    let number = match sources.set_key {
        Some(set) => {
            let number = listed.and_then(|t| t.table.count(set, &frame.station));
            if number.is_none() && (asked || listed.is_none()) {
                missing_count(r, sources.counts, &table, set, &frame.station);
            }
            number
        }
        // That the set has no key was told.
        None => None,
    };
    Some(Built {
        kind: CheckKind::Count {
            expected: number,
            noun,
        },
        table: Some(table.value),
    })
}

fn reading(
    r: &mut Findings,
    unit: &Text,
    min: Option<&Text>,
    max: Option<&Text>,
    frame: &Frame,
) -> Option<Built> {
    let unit = frame.fill(r, unit)?;
    let listenable = check_unit(r, &unit);
    let mut limit = |text: Option<&Text>| -> Option<Option<f64>> {
        let Some(text) = text else { return Some(None) };
        let filled = frame.fill(r, text)?;
        match filled.value.parse::<f64>() {
            Ok(n) if (0.0..=limits::reading()).contains(&n) => Some(Some(n)),
            Ok(_) => {
                r.error(
                    &filled.span,
                    format!("`{}` is no reading that can be spoken", filled.value),
                    frame.label(&format!("0 to {}", limits::reading())),
                    format!(
                        "choose a unit in which the readings lie between 0 and {}",
                        limits::reading()
                    ),
                );
                None
            }
            _ => {
                r.error(
                    &filled.span,
                    format!("`{}` is not a number", filled.value),
                    frame.label("a plain number"),
                    "write the number alone; the unit of a reading stands in `unit`",
                );
                None
            }
        }
    };
    let low = limit(min)?;
    let high = limit(max)?;
    if let (Some(low), Some(high), Some(min), Some(max)) = (low, high, min, max)
        && low > high
    {
        let span = min.span.start.min(max.span.start)..min.span.end.max(max.span.end);
        r.error(
            &span,
            format!("the least value {low} is greater than the greatest {high}"),
            frame.label("no reading could conform"),
            "exchange min and max, or put one right",
        );
        return None;
    }
    listenable.then_some(Built {
        kind: CheckKind::Reading {
            unit: unit.value,
            min: low,
            max: high,
        },
        table: None,
    })
}
