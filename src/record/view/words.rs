//! Values, expectations and entries in words.

use crate::grammar::NEGATED;
use crate::plan::{Check, CheckId, CheckKind};
use crate::walk::{Decision, Entry, Hearing, Ledger, Note};

/// Station and name of a check of this walk.
pub(super) fn place(ledger: &Ledger, check: &CheckId) -> String {
    match ledger.locate(check) {
        Some((station, check)) => format!("{}, {}", station.name, check.name),
        None => check.to_string(),
    }
}

/// What conforms.
pub(super) fn expected(ledger: &Ledger, check: &Check) -> String {
    let own = match &check.kind {
        CheckKind::Presence { must_be: true } => "present".to_owned(),
        CheckKind::Presence { must_be: false } => "missing".to_owned(),
        CheckKind::Count { expected, noun } => match expected {
            Some(n) => format!("{n} {noun}"),
            None => String::new(),
        },
        CheckKind::State { states } => {
            let good: Vec<&str> = states
                .iter()
                .filter(|s| s.deficiency.is_none())
                .map(|s| s.spoken.first().unwrap_or(&s.key).as_str())
                .collect();
            good.join(" or ")
        }
        CheckKind::Reading { unit, min, max } => match (min, max) {
            (Some(min), Some(max)) => format!("{min} to {max} {unit}"),
            (Some(min), None) => format!("{min} {unit} or more"),
            (None, Some(max)) => format!("{max} {unit} or less"),
            (None, None) => format!("any number of {unit}"),
        },
        CheckKind::Tag { expected } => expected.clone().unwrap_or_else(|| "any tag".to_owned()),
        CheckKind::Condition => "good".to_owned(),
    };
    let Some(compare) = &check.compare else {
        return own;
    };
    // As what is expected: it does not say that it does.
    let with = place(ledger, &compare.with);
    if own.is_empty() {
        format!("to agree with {with}")
    } else {
        format!("{own}, and must agree with {with}")
    }
}

/// An answer's value.
pub(super) fn said(check: &Check, value: &str) -> String {
    match &check.kind {
        _ if matches!(value, "not-applicable" | "not-seen") => value.replace('-', " "),
        _ if value == NEGATED => "denied".to_owned(),
        CheckKind::Count { noun, .. } => format!("{value} {noun}"),
        CheckKind::Reading { unit, .. } => format!("{value} {unit}"),
        CheckKind::State { states } => states
            .iter()
            .find(|s| s.key == value)
            .and_then(|s| s.spoken.first())
            .map_or_else(|| value.to_owned(), Clone::clone),
        _ => value.to_owned(),
    }
}

/// A note's text, marked where a machine wrote it down.
pub(super) fn note(note: &Note) -> String {
    match (note.typed || note.by_tool, note.machine_transcript.trim()) {
        (true, text) => text.to_owned(),
        (false, "") => "spoken, no machine transcript".to_owned(),
        (false, text) => format!("machine transcript: {text}"),
    }
}

/// An entry's kind as in the journal.
pub(super) fn kind(entry: &Entry) -> &'static str {
    match entry {
        Entry::Opened { .. } => "opened",
        Entry::Asked { .. } => "asked",
        Entry::Calling { .. } => "calling",
        Entry::Rhythm { .. } => "rhythm",
        Entry::Answered { .. } => "answered",
        Entry::Refused { .. } => "refused",
        Entry::Doubted { .. } => "doubted",
        Entry::Control { .. } => "control",
        Entry::Noted { .. } => "noted",
        Entry::PutRight { .. } => "put-right",
        Entry::Held { .. } => "held",
        Entry::Carried { .. } => "carried",
        Entry::Resumed { .. } => "resumed",
        Entry::Completed { .. } => "completed",
    }
}

/// An entry in a line.
pub(super) fn entry(entry: &Entry, check: Option<&Check>) -> String {
    match entry {
        Entry::Opened { inspector, .. } => format!("opened by {inspector}"),
        Entry::Asked { attempt, .. } => {
            let ask = check.map_or("", |c| c.ask.as_str());
            match attempt {
                0 | 1 => ask.to_owned(),
                n => format!("{ask} (time {n})"),
            }
        }
        Entry::Calling { station, which } => {
            let which = if *which { ", which was wrong" } else { "" };
            format!("findings called off at {station}{which}")
        }
        Entry::Rhythm {
            checks, pattern, ..
        } => format!("{} answers {}", checks.len(), pattern.words()),
        Entry::Answered { value, .. } => check.map_or_else(|| value.clone(), |c| said(c, value)),
        Entry::Refused { hearing, .. } => match &hearing.decision {
            Decision::Refuse { reason } => format!("not taken: {reason}{}", heard(hearing)),
            _ => format!("not taken{}", heard(hearing)),
        },
        Entry::Doubted { hearing, .. } => format!("to be confirmed{}", heard(hearing)),
        Entry::Control { control, .. } => control.replace('-', " "),
        Entry::Noted { note: n, .. } => note(n),
        Entry::PutRight { .. } => "put right, to be re-inspected".to_owned(),
        Entry::Held { why, .. } => format!("held: {why}"),
        Entry::Carried { .. } => "carried on".to_owned(),
        Entry::Resumed { .. } => "started again".to_owned(),
        Entry::Completed { ready: true, .. } => "complete, ready for signature".to_owned(),
        Entry::Completed { ready: false, .. } => "complete, not ready".to_owned(),
    }
}

fn heard(hearing: &Hearing) -> String {
    if hearing.words.is_empty() {
        return String::new();
    }
    format!(" (\"{}\")", hearing.words)
}
