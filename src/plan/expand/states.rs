//! Makes the named states of a check from their drafts.

use super::fill::Frame;
use super::slug;
use super::speech::{check_listenable, spoken_form};
use crate::plan::read::{Findings, StateDraft, Text, is_key};
use crate::plan::{NamedState, limits};

pub fn build_states(
    r: &mut Findings,
    drafts: &[StateDraft],
    frame: &Frame,
) -> Option<Vec<NamedState>> {
    let whole = match (drafts.first(), drafts.last()) {
        (Some(first), Some(last)) => first.span.start..last.span.end,
        // Told already where the list itself is missing or wrong.
        _ => return None,
    };
    if drafts.len() < 2 || drafts.len() > limits::STATES {
        r.error(
            &whole,
            if drafts.len() < 2 {
                "a check has fewer than two named states".to_string()
            } else {
                format!("a check has more than {} named states", limits::STATES)
            },
            format!("2 to {} are needed", limits::STATES),
            "name every state that the thing can be found in",
        );
        return None;
    }
    let mut states: Vec<NamedState> = Vec::new();
    let mut places = Vec::new();
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
            places.push(Text {
                value: said.clone(),
                span: form.span,
            });
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
    check_beginnings(r, &states, &places, frame);
    sound.then_some(states)
}

/// A fault that begins as what conforms is taken for it where the rest is said after a pause, or is lost.
fn check_beginnings(r: &mut Findings, states: &[NamedState], places: &[Text], frame: &Frame) {
    let forms = |conforming: bool| {
        let states = states
            .iter()
            .filter(move |s| s.deficiency.is_none() == conforming);
        states.flat_map(|s| &s.spoken)
    };
    for fault in forms(false) {
        let begins = |good: &&String| {
            let rest = fault.strip_prefix(good.as_str());
            rest.is_some_and(|rest| rest.starts_with(' '))
        };
        let place = places.iter().find(|place| place.value == *fault);
        if let (Some(good), Some(place)) = (forms(true).find(begins), place) {
            r.warning(
                &place.span,
                format!("`{fault}`, a fault, begins as `{good}`, which conforms"),
                frame.label("where the rest is not heard, it conforms"),
                "say first what is wrong, in words of its own",
            );
        }
    }
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
pub fn add_both_and_neither(
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
