//! Makes a check's kind from its draft: states, tables and limits checked.

use super::fill::Frame;
use super::speech::{check_listenable, spoken_form};
use super::{Sources, slug};
use crate::plan::read::{
    Findings, KindDraft, StateDraft, Text, did_you_mean, is_key, missing_count,
};
use crate::plan::{CheckKind, NamedState, limits};

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
            let fits =
                tag.value.len() <= 12 && tag.value.bytes().all(|b| b.is_ascii_alphanumeric());
            if !fits {
                r.error(
                    &tag.span,
                    format!("`{}` cannot be read as a tag", tag.value),
                    frame.label("up to 12 letters and digits"),
                    "write letters and digits only, as they are read aloud: expected = \"A7\"",
                );
                return None;
            }
            plain(CheckKind::Tag {
                expected: Some(tag.value.to_uppercase()),
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
    let Some(found) = sources.counts.iter().find(|t| t.name == table.value) else {
        r.misfit(
            &table.span,
            format!("there is no count table `{}`", table.value),
            frame.label("not a count table"),
            did_you_mean(&table.value, sources.counts.iter().map(|t| t.name.as_str())),
        );
        return None;
    };
    let set = sources.set_key?;
    let number = found.count(set, &frame.station);
    if number.is_none() && asked {
        missing_count(r, &table.span, &table.value, set, &frame.station);
        return None;
    }
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
    let listenable = check_listenable(r, "the unit", &unit);
    let mut limit = |text: Option<&Text>| -> Option<Option<f64>> {
        let Some(text) = text else { return Some(None) };
        let filled = frame.fill(r, text)?;
        match filled.value.parse::<f64>() {
            // The range of spoken readings: 0 to 999.99.
            Ok(n) if (0.0..1000.0).contains(&n) => Some(Some(n)),
            Ok(_) => {
                r.error(
                    &filled.span,
                    format!("`{}` is no reading that can be spoken", filled.value),
                    frame.label("0 to 999.99"),
                    "choose a unit in which the readings lie between 0 and 999.99",
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

fn build_states(r: &mut Findings, drafts: &[StateDraft], frame: &Frame) -> Option<Vec<NamedState>> {
    let whole = match (drafts.first(), drafts.last()) {
        (Some(first), Some(last)) => first.span.start..last.span.end,
        // Told already where the list itself is missing or wrong.
        _ => return None,
    };
    if drafts.len() < 2 || drafts.len() > limits::STATES {
        r.error(
            &whole,
            format!("a check has {} named states", drafts.len()),
            format!("2 to {} are needed", limits::STATES),
            "name every state that the thing can be found in",
        );
        return None;
    }
    let mut states: Vec<NamedState> = Vec::new();
    let mut sound = true;
    for draft in drafts {
        let mut spoken: Vec<String> = Vec::new();
        for text in &draft.say {
            let Some(form) = frame.fill(r, text) else {
                sound = false;
                continue;
            };
            sound &= check_listenable(r, "the state", &form);
            let said = spoken_form(&form.value);
            let twice = spoken.contains(&said)
                || states.iter().any(|s: &NamedState| s.spoken.contains(&said));
            if twice {
                r.error(
                    &form.span,
                    format!("two states are said as `{said}`"),
                    frame.label("said already for another"),
                    "give each state words of its own",
                );
                sound = false;
            }
            spoken.push(said);
        }
        let key = match &draft.key {
            Some(key) => frame.fill(r, key),
            None => spoken.first().map(|s| Text {
                value: slug(s),
                span: draft.span.clone(),
            }),
        };
        let (Some(key), false) = (key, spoken.is_empty()) else {
            sound = false;
            continue;
        };
        sound &= check_state_key(r, &key, &states);
        let deficiency = match &draft.deficiency {
            Some(text) => match frame.fill(r, text) {
                Some(filled) => Some(filled.value),
                None => {
                    sound = false;
                    continue;
                }
            },
            None => None,
        };
        states.push(NamedState {
            key: key.value,
            spoken,
            deficiency,
        });
    }
    sound.then_some(states)
}

fn check_state_key(r: &mut Findings, key: &Text, states: &[NamedState]) -> bool {
    if !is_key(&key.value) {
        r.error(
            &key.span,
            format!("`{}` cannot be the key of a state", key.value),
            "small letters, digits and hyphens only",
            format!("write `{}`", slug(&key.value)),
        );
        return false;
    }
    if matches!(
        key.value.as_str(),
        "both" | "neither" | "not-applicable" | "not-seen"
    ) {
        r.error(
            &key.span,
            format!("`{}` cannot be the key of a state", key.value),
            "has a meaning of its own",
            "choose another key, or other words for the state",
        );
        return false;
    }
    if states.iter().any(|s| s.key == key.value) {
        r.error(
            &key.span,
            format!("two states of one check have the key `{}`", key.value),
            "the same key again",
            "give each state a key of its own",
        );
        return false;
    }
    true
}

/// Spells out what it means that not exactly one of the states is found.
fn add_both_and_neither(
    r: &mut Findings,
    states: &mut Vec<NamedState>,
    drafts: &[StateDraft],
    name: &str,
    given: [Option<Option<Text>>; 2],
) -> bool {
    let forms: Vec<&str> = states
        .iter()
        .filter_map(|s| s.spoken.first().map(String::as_str))
        .collect();
    let listed = |last: &str| match forms.split_last() {
        Some((end, start)) => format!("{} {last} {end}", start.join(", ")),
        None => String::new(),
    };
    let (both_said, neither_said): (&[&str], &[&str]) = if states.len() == 2 {
        (
            &["both", "both of them", "both at once"],
            &["neither", "neither of them", "neither one"],
        )
    } else {
        (
            &["more than one", "more than one of them", "several"],
            &["none of them", "none of those", "neither"],
        )
    };
    let both_name = if states.len() == 2 {
        format!("{name} both {}", listed("and"))
    } else {
        format!("{name} in more than one state of {}", listed("and"))
    };
    let neither_name = if states.len() == 2 {
        format!("{name} neither {}", listed("nor"))
    } else {
        format!("{name} in no state of {}", listed("and"))
    };
    let mut sound = true;
    for draft in drafts {
        for text in &draft.say {
            let said = spoken_form(&text.value);
            if both_said.contains(&said.as_str()) || neither_said.contains(&said.as_str()) {
                r.error(
                    &text.span,
                    format!("`{said}` is what is said when not exactly one state is found"),
                    "means something else already",
                    "choose other words; `both` and `neither` are added by themselves",
                );
                sound = false;
            }
        }
    }
    let [both, neither] = given;
    let added = [
        ("both", both_said, both, both_name),
        ("neither", neither_said, neither, neither_name),
    ];
    for (key, said, given, derived) in added {
        let deficiency = match given {
            Some(Some(text)) => text.value,
            Some(None) => return false,
            None => derived,
        };
        states.push(NamedState {
            key: key.into(),
            spoken: said.iter().map(|s| (*s).to_string()).collect(),
            deficiency: Some(deficiency),
        });
    }
    sound
}
