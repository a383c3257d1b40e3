//! Reads the states of a check.

use super::drafts::StateDraft;
use super::fields::Fields;
use super::reader::{Findings, Text};
use crate::plan::limits;
use toml::de::DeValue;

pub(super) fn read_states(r: &mut Findings, f: &mut Fields<'_>, one_of: bool) -> Vec<StateDraft> {
    let example = if one_of {
        "[\"plugged\", \"blanked\"]"
    } else {
        "[{ say = \"straight\", conforms = true }, { say = \"twisted\", deficiency = \"chain twisted\" }]"
    };
    let Some(value) = f.value("states") else {
        f.missing(r, "states", example);
        return Vec::new();
    };
    let DeValue::Array(items) = value.get_ref() else {
        r.error(
            &value.span(),
            format!("`states` in {} takes a list", f.place),
            "not a list",
            format!("write states = {example}"),
        );
        return Vec::new();
    };
    if items.is_empty() {
        r.error(
            &value.span(),
            format!("`states` in {} is empty", f.place),
            "no state",
            format!("write states = {example}"),
        );
    }
    let mut states = Vec::new();
    for item in items.iter().take(4 * limits::STATES) {
        match item.get_ref() {
            DeValue::String(s) if one_of => states.push(StateDraft {
                key: None,
                say: vec![Text {
                    value: s.trim().to_string(),
                    span: item.span(),
                }],
                deficiency: None,
                span: item.span(),
            }),
            DeValue::Table(table) => {
                let place = format!("a state of {}", f.place);
                states.push(read_state(
                    r,
                    Fields::new(table, item.span(), place),
                    one_of,
                ));
            }
            DeValue::String(s) => r.error(
                &item.span(),
                format!("state `{s}` does not say whether it conforms"),
                "conforming or not?",
                format!(
                    "write {{ say = \"{s}\", conforms = true }} or \
                     {{ say = \"{s}\", deficiency = \"what is wrong\" }}"
                ),
            ),
            _ => r.error(
                &item.span(),
                format!(
                    "`states` in {} holds something that is not a state",
                    f.place
                ),
                "not a state",
                format!("write states = {example}"),
            ),
        }
    }
    states
}

fn read_state(r: &mut Findings, mut f: Fields<'_>, one_of: bool) -> StateDraft {
    let key = f.text(r, "key", "straight");
    let say = f.texts(r, "say", "straight");
    if !f.has("say") {
        f.missing(r, "say", "\"straight\"");
    } else if say.is_empty() {
        r.misfit(
            &f.key_span("say"),
            format!("`say` in {} is empty", f.place),
            "nothing can be said",
            "write how it is spoken: say = \"straight\"",
        );
    }
    let deficiency = if one_of {
        None
    } else {
        let conforms = f.flag(r, "conforms");
        let deficiency = f.text(r, "deficiency", "chain twisted");
        let is_conforming = conforms.as_ref().is_some_and(|(yes, _)| *yes);
        if is_conforming == f.has("deficiency") {
            let (title, label) = if is_conforming {
                (
                    "a state conforms and has a deficiency's name as well",
                    "one or the other",
                )
            } else {
                (
                    "a state neither conforms nor names its deficiency",
                    "conforming or not?",
                )
            };
            r.error(
                &f.span,
                title,
                label,
                "write conforms = true, or deficiency = \"what is wrong\"",
            );
        }
        deficiency
    };
    let span = f.span.clone();
    f.finish(r);
    StateDraft {
        key,
        say,
        deficiency,
        span,
    }
}
