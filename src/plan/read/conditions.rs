//! Reads what a check depends on: options, earlier answers, another check to agree with.

use super::drafts::{CompareDraft, NeedDraft, WhenDraft};
use super::fields::Fields;
use super::reader::Findings;
use super::values::number_text;
use crate::plan::limits;
use toml::de::DeValue;

pub(super) fn read_needs(r: &mut Findings, f: &mut Fields<'_>) -> Vec<NeedDraft> {
    let tables = f.one_or_more(r, "needs_option");
    let mut needs = Vec::new();
    for mut t in tables {
        let option = t.need_text(r, "option", "spreader");
        let is = t.words_or_numbers(r, "is", "\"fitted\"");
        let is_not = t.words_or_numbers(r, "is_not", "\"none\"");
        if t.has("is") == t.has("is_not") {
            r.error(
                &t.span,
                format!("{} takes one of is and is_not", t.place),
                "which value is needed?",
                "write { option = \"spreader\", is = \"fitted\" }, say",
            );
        }
        t.finish(r);
        if let Some(option) = option {
            needs.push(NeedDraft { option, is, is_not });
        }
    }
    needs
}

pub(super) fn read_whens(r: &mut Findings, f: &mut Fields<'_>) -> Vec<WhenDraft> {
    let tables = f.one_or_more(r, "when");
    let mut whens = Vec::new();
    for mut t in tables {
        let check = t.need_text(r, "check", "front-left/hook-links");
        let is = t.words_or_numbers(r, "is", "\"present\"");
        let is_not = t.words_or_numbers(r, "is_not", "\"missing\"");
        let at_least = t.number(r, "at_least");
        let at_most = t.number(r, "at_most");
        let tests = ["is", "is_not", "at_least", "at_most"];
        if !tests.iter().any(|k| t.has(k)) {
            r.error(
                &t.span,
                format!("{} does not say what the answer must be", t.place),
                "is what?",
                "add is, is_not, at_least or at_most: { check = \"drain\", is = \"plugged\" }",
            );
        }
        t.finish(r);
        if let Some(check) = check {
            whens.push(WhenDraft {
                check,
                is,
                is_not,
                at_least,
                at_most,
            });
        }
    }
    whens
}

pub(super) fn read_compare(r: &mut Findings, f: &mut Fields<'_>) -> Option<CompareDraft> {
    let mut t = f.table(r, "compare")?;
    let with = t.need_text(r, "with", "front-left/hook-links");
    if !t.has("how") {
        t.missing(r, "how", "\"alike\" or \"mirrored\"");
    }
    let mirrored = t.choice(r, "how", &[("alike", false), ("mirrored", true)]);
    let mut pairs = Vec::new();
    if let Some(value) = t.value("pairs") {
        let items: &[toml::Spanned<DeValue<'_>>] = match value.get_ref() {
            DeValue::Array(items) => items,
            _ => &[],
        };
        let mut bad = items.is_empty();
        for item in items.iter().take(limits::STATES) {
            let pair = match item.get_ref() {
                DeValue::Array(two) if two.len() == 2 => {
                    number_text(&two[0]).zip(number_text(&two[1]))
                }
                _ => None,
            };
            match pair {
                Some((a, b)) => pairs.push([a, b]),
                None => bad = true,
            }
        }
        if bad {
            r.error(
                &value.span(),
                "`pairs` takes a list of pairs",
                "not a list of pairs",
                "write pairs = [[\"inside\", \"outside\"]], say",
            );
        }
    }
    if mirrored == Some(true) && !t.has("pairs") {
        t.missing(r, "pairs", "[[\"left\", \"right\"]]");
    }
    if mirrored == Some(false) && t.has("pairs") {
        r.error(
            &t.key_span("pairs"),
            "answers that must be alike have no pairs",
            "only for mirrored",
            "write how = \"mirrored\", or take the pairs out",
        );
    }
    let span = t.span.clone();
    t.finish(r);
    Some(CompareDraft {
        with: with?,
        mirrored: mirrored?,
        pairs,
        span,
    })
}
