//! Reads lists of checks and uses of blocks.

use super::conditions::{read_compare, read_needs, read_whens};
use super::drafts::{CheckDraft, KindDraft, Step, UseDraft};
use super::fields::Fields;
use super::reader::{Findings, Text};
use super::states::read_states;
use super::values::number_text;
use crate::plan::expand::slug;

pub(super) fn read_steps(r: &mut Findings, f: &mut Fields<'_>) -> Vec<Step> {
    let steps: Vec<Step> = f
        .tables(r, "check")
        .into_iter()
        .filter_map(|t| {
            if t.has("block") {
                read_use(r, t).map(Step::Use)
            } else {
                read_check(r, t).map(|c| Step::Check(Box::new(c)))
            }
        })
        .collect();
    if !f.has("check") {
        let inner = f.place.trim_matches(|c| c == '[' || c == ']').to_string();
        r.misfit(
            &f.span,
            format!("{} has no checks", f.place),
            "",
            format!("add [[{inner}.check]] with name and kind, or block = \"…\""),
        );
    }
    steps
}

fn read_use(r: &mut Findings, mut f: Fields<'_>) -> Option<UseDraft> {
    let block = f.need_text(r, "block", "corner");
    let mut with = Vec::new();
    if let Some(table) = f.table(r, "with") {
        for (name, value) in table.entries() {
            match number_text(value) {
                Some(text) => with.push((name, text)),
                None => r.error(
                    &value.span(),
                    format!("argument `{}` must be a text or a number", name.value),
                    "put into the block's texts",
                    format!("write {} = \"left\", say", name.value),
                ),
            }
        }
    }
    let needs = read_needs(r, &mut f);
    let when = read_whens(r, &mut f);
    let span = f.span.clone();
    f.finish(r);
    Some(UseDraft {
        block: block?,
        with,
        needs,
        when,
        span,
    })
}

const KINDS: [(&str, &str); 7] = [
    ("presence", "presence"),
    ("count", "count"),
    ("one-of", "one-of"),
    ("state", "state"),
    ("reading", "reading"),
    ("tag", "tag"),
    ("condition", "condition"),
];

fn read_check(r: &mut Findings, mut f: Fields<'_>) -> Option<CheckDraft> {
    let name = f.need_text(r, "name", "hook keeper");
    let key = f.text(r, "key", "hook-keeper").or_else(|| {
        name.as_ref().map(|n| Text {
            value: slug_keeping_holes(&n.value),
            span: n.span.clone(),
        })
    });
    if let Some(name) = &name {
        f.place = format!("check `{}`", name.value);
    }
    if !f.has("kind") {
        f.missing(r, "kind", "\"presence\"");
    }
    let kind = f.choice(r, "kind", &KINDS);
    let kind = match kind {
        Some(kind) => read_kind(r, &mut f, kind),
        None => {
            // The keys of any kind are let pass where the kind itself is wrong.
            for key in KIND_KEYS {
                f.value(key);
            }
            None
        }
    };
    let draft = CheckDraft {
        also: f.texts(r, "also", "keeper"),
        together: f.text(r, "together", "pins"),
        ask: f.text(r, "ask", "Hook keeper?"),
        deficiency: f.text(r, "deficiency", "hook keeper missing"),
        kind,
        needs: read_needs(r, &mut f),
        when: read_whens(r, &mut f),
        touches: f.texts(r, "touches", "hook-links"),
        compare: read_compare(r, &mut f),
        span: f.span.clone(),
        key: match key {
            Some(key) => key,
            None => {
                f.finish(r);
                return None;
            }
        },
        name,
    };
    f.finish(r);
    Some(draft)
}

const KIND_KEYS: [&str; 10] = [
    "must_be", "table", "expected", "noun", "states", "both", "neither", "unit", "min", "max",
];

fn read_kind(r: &mut Findings, f: &mut Fields<'_>, kind: &str) -> Option<KindDraft> {
    match kind {
        "presence" => {
            let must_be = f.choice(r, "must_be", &[("present", true), ("absent", false)]);
            (must_be.is_some() || !f.has("must_be")).then(|| KindDraft::Presence {
                must_be: must_be.unwrap_or(true),
            })
        }
        "count" => {
            let noun = f.text(r, "noun", "links");
            Some(KindDraft::Count {
                table: f.text(r, "table", "hook-links"),
                expected: f.number_text(r, "expected", "a number", "4"),
                noun: noun.unwrap_or_else(|| Text {
                    value: "links".into(),
                    span: f.span.clone(),
                }),
            })
        }
        "one-of" => Some(KindDraft::OneOf {
            states: read_states(r, f, true),
            both: f.text(r, "both", "drain plugged and blanked"),
            neither: f.text(r, "neither", "drain open"),
        }),
        "state" => Some(KindDraft::State {
            states: read_states(r, f, false),
        }),
        "reading" => {
            let min = f.number_text(r, "min", "a number", "2.0");
            let max = f.number_text(r, "max", "a number", "2.5");
            Some(KindDraft::Reading {
                unit: f.need_text(r, "unit", "bar")?,
                min,
                max,
            })
        }
        "tag" => Some(KindDraft::Tag {
            expected: f.number_text(r, "expected", "a tag in quotes", "\"A7\""),
        }),
        _ => Some(KindDraft::Condition),
    }
}

/// Like [`slug`], but `{side}` stays.
fn slug_keeping_holes(name: &str) -> String {
    let mut out = String::new();
    let mut rest = name;
    while let Some(open) = rest.find('{') {
        let close = rest[open..]
            .find('}')
            .map_or(rest.len(), |at| open + at + 1);
        let before = slug(&rest[..open]);
        if !before.is_empty() {
            if !out.is_empty() {
                out.push('-');
            }
            out.push_str(&before);
        }
        if !out.is_empty() {
            out.push('-');
        }
        out.push_str(&rest[open..close]);
        rest = &rest[close..];
    }
    let last = slug(rest);
    if !out.is_empty() && !last.is_empty() {
        out.push('-');
    }
    out + &last
}
