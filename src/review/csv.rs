//! CSV as RFC 4180 has it: a header, one row an answer, and a row for each check without one.

use super::{deficiency_line, note_text, stage, unturned};
use crate::record::{AnswerView, CheckView, View, amendment, state_words};

const HEADER: [&str; 33] = [
    "load",
    "inspector",
    "rigger",
    "station",
    "check",
    "name",
    "expected",
    "status",
    "deficiency",
    "why",
    "entry",
    "time",
    "recorded_ms",
    "value",
    "outcome_then",
    "stage",
    "stands",
    "words",
    "confidence",
    "snr_db",
    "confirmed_words",
    "clip",
    "clip_sha256",
    "notes",
    "rigger_mark",
    "status_by_the_walk",
    "amendments",
    "record_state",
    "stands_against",
    "notes_on_the_load",
    "intact",
    "mind",
    "found_to_fix",
];

/// What each row says, since rows get copied one by one.
const MIND: &str = "does not certify the load; a person signs, never the tool";

/// One row an answer, in walking order, also answers that no longer stand; UTF-8, lines ended by
/// CR LF. Each row has how the record stands, since rows get copied one by one. Text that a spreadsheet would take for a formula is put behind an apostrophe.
pub fn csv(view: &View) -> String {
    let mut out = String::new();
    row(&mut out, &HEADER.map(str::to_owned));
    for check in &view.checks {
        if check.answers.is_empty() {
            row(&mut out, &fields(view, check, None));
        }
        for answer in &check.answers {
            row(&mut out, &fields(view, check, Some(answer)));
        }
    }
    unturned(&out)
}

fn fields(view: &View, check: &CheckView, answer: Option<&AnswerView>) -> [String; 33] {
    // A guess of the machine's is told from what a person wrote.
    let notes: Vec<String> = check.notes.iter().map(note_text).collect();
    let on_the_load: Vec<String> = view.notes.iter().map(note_text).collect();
    let amended: Vec<String> = check.amendments.iter().map(amendment).collect();
    let of_the_check = view.deficiencies.iter().filter(|d| d.check == check.check);
    let found: Vec<String> = of_the_check.map(|d| deficiency_line(view, d)).collect();
    let of = |field: fn(&AnswerView) -> String| answer.map_or_else(String::new, field);
    [
        plain(&view.load),
        plain(&view.inspector),
        plain(&view.rigger),
        plain(&check.station),
        plain(&check.check.0),
        plain(&check.name),
        plain(&check.expected),
        check.status.words().to_owned(),
        plain(check.deficiency.as_deref().unwrap_or_default()),
        plain(check.why.as_deref().unwrap_or_default()),
        of(|a| a.entry.to_string()),
        of(|a| a.wall.clone()),
        of(|a| a.mono_ms.to_string()),
        of(|a| plain(&a.value)),
        of(|a| a.outcome.words().to_owned()),
        of(|a| stage(a).to_owned()),
        of(|a| if a.stands { "yes" } else { "no" }.to_owned()),
        of(|a| plain(&a.heard.words)),
        of(|a| a.heard.confidence.to_string()),
        of(|a| a.heard.snr_db.map_or_else(String::new, |db| db.to_string())),
        of(|a| {
            a.confirmed_by
                .as_ref()
                .map_or_else(String::new, |c| plain(&c.words))
        }),
        of(|a| plain(&a.heard.clip)),
        of(|a| plain(&a.heard.clip_sha256)),
        plain(&notes.join(" / ")),
        plain(check.rigger_mark.as_deref().unwrap_or_default()),
        check.walked.words().to_owned(),
        plain(&amended.join(" / ")),
        plain(&state_words(view)),
        plain(&view.against.join(" / ")),
        plain(&on_the_load.join(" / ")),
        if view.integrity.is_intact() {
            "yes"
        } else {
            "NO"
        }
        .to_owned(),
        MIND.to_owned(),
        plain(&found.join(" / ")),
    ]
}

/// Text that no spreadsheet runs; a number stays a number.
fn plain(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    if formula && text.parse::<f64>().is_err() {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

fn row(out: &mut String, fields: &[String]) {
    for (i, field) in fields.iter().enumerate() {
        if i > 0 {
            out.push(',');
        }
        if field.contains([',', '"', '\r', '\n']) {
            out.push('"');
            out.push_str(&field.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(field);
        }
    }
    out.push_str("\r\n");
}
