//! What the page shows, as JSON.

use super::Reviewer;
use crate::plan::{CheckKind, Route};
use crate::record::{View, state_words, tryout_words};
use crate::review::stations::{drawing, stations};
use crate::review::{
    Hanging, capacity_verdict, deficiency_lines, hold_lines, integrity_lines, left_out_lines,
    note_text, practice_lines, rhythm_lines, unturned,
};
use crate::walk::{Entry, rules, state_forms};
use serde::Serialize;
use serde_json::json;
use std::collections::BTreeMap;
use std::path::Path;

/// How an answer to a check is given.
#[derive(Serialize)]
struct Values {
    /// Value and words of each; empty where any number or tag may be given.
    choices: Vec<(String, String)>,
    /// What to call a free value (a unit, "tag").
    unit: String,
}

/// The view of the record in a folder for the page, as JSON; `copy` where no server stands behind it.
pub(super) fn record(
    folder: &Path,
    view: &View,
    reviewer: Option<&Reviewer>,
    copy: bool,
) -> String {
    let values = match view.entries.first().map(|e| &e.entry) {
        Some(Entry::Opened { route, .. }) => values(route),
        _ => BTreeMap::new(),
    };
    let hanging = Hanging::of(folder, view);
    let capacity: Vec<_> = view
        .capacity
        .iter()
        .map(|line| json!([line.question, capacity_verdict(line), line.told()]))
        .collect();
    let sections = [
        ("Planted for practice", practice_lines(view)),
        ("Deficiencies from finding to fix", deficiency_lines(view)),
        (
            "Notes on the load",
            view.notes.iter().map(note_text).collect(),
        ),
        ("What does not apply to this load", left_out_lines(view)),
        ("When the walk stood still", hold_lines(view)),
        ("Rhythm in which nobody looks", rhythm_lines(view)),
        ("The record itself", integrity_lines(view)),
    ];
    let sections: Vec<_> = sections
        .iter()
        .filter(|(_, lines)| !lines.is_empty())
        .map(|(title, lines)| json!([title, lines]))
        .collect();
    let shown = json!({
        "reviewer": reviewer.map(|r| &r.name),
        // Whose amendments may be withdrawn here.
        "key_id": reviewer.map(|r| r.key.public().id()),
        "copy": copy,
        "verdict": state_words(view),
        "tryout": view.tryout.as_ref().map(tryout_words),
        "tried_again": view.tried_again,
        "values": values,
        "drawing": plan_view(view),
        "elsewhere": elsewhere(view),
        "hanging": hanging.as_ref().map(Hanging::svg),
        "hanging_title": hanging.as_ref().map(|h| &h.heading),
        "as_found": hanging.as_ref().and_then(Hanging::as_found),
        "capacity": capacity,
        "sections": sections,
        "code": view.integrity.code(),
        "view": view,
    });
    unturned(&shown.to_string())
}

fn plan_view(view: &View) -> serde_json::Value {
    drawing(view).map_or(serde_json::Value::Null, |drawing| {
        let marks = drawing.marks.iter().map(
            |m| json!({"number": m.number, "name": m.name, "status": m.status, "x": m.x, "y": m.y}),
        );
        json!({"aspect": drawing.aspect, "outline": drawing.outline, "marks": marks.collect::<Vec<_>>()})
    })
}

/// Stations that are not on the drawing: those without a place, or all where there is none.
fn elsewhere(view: &View) -> Vec<serde_json::Value> {
    let drawn = drawing(view).map_or_else(Vec::new, |d| d.marks);
    let all = (1..).zip(stations(view));
    all.filter(|(number, _)| drawn.iter().all(|m| m.number != *number))
        .map(
            |(number, (name, status, _))| json!({"number": number, "name": name, "status": status}),
        )
        .collect()
}

fn values(route: &Route) -> BTreeMap<String, Values> {
    let all = route.checks();
    all.map(|check| {
        let words: Vec<&str> = match &check.kind {
            CheckKind::Presence { .. } => vec![rules::PRESENT, rules::MISSING, rules::DEFICIENT],
            CheckKind::Condition => vec![rules::GOOD, rules::DEFICIENT],
            // A fault that the plan has no word for.
            CheckKind::State { states } if states.iter().all(|s| s.key != rules::DEFICIENT) => {
                vec![rules::DEFICIENT]
            }
            _ => Vec::new(),
        };
        let plain = words.iter().map(|w| ((*w).to_owned(), (*w).to_owned()));
        let states = state_forms(&check.kind).into_iter();
        let states = states.map(|(key, forms)| {
            let words = forms.into_iter().next().unwrap_or_else(|| key.clone());
            (key, words)
        });
        let unit = match &check.kind {
            CheckKind::Count { noun, .. } => noun.clone(),
            CheckKind::Reading { unit, .. } => unit.clone(),
            CheckKind::Tag { .. } => "tag".to_owned(),
            _ => String::new(),
        };
        let mut choices: Vec<(String, String)> = match check.kind {
            CheckKind::State { .. } => states.chain(plain).collect(),
            _ => plain.collect(),
        };
        if unit.is_empty() {
            for value in [rules::NOT_APPLICABLE, rules::NOT_SEEN] {
                choices.push((value.to_owned(), value.replace('-', " ")));
            }
        }
        (check.id.to_string(), Values { choices, unit })
    })
    .collect()
}
