//! What leaves a record: exports for people and programs. All are made from one
//! [`View`], say what the tool does not do, and leave the signing to a person.
//!
//! | export | for |
//! | --- | --- |
//! | [`html()`] | reading on a screen or paper: one file, no script, no outside resources |
//! | [`csv()`] | spreadsheets: one row an answer |
//! | [`vtt()`] | players: prompts, answers and notes in time |
//! | [`json()`] | programs: the view as it is |
//! | [`session_sound`] | audio editors: the session as Broadcast Wave or FLAC with marks |
//! | [`Server`] (feature `page`) | the local review page |
//! | `pdf` (feature `pdf`) | paper and archives: A4 or Letter, tagged, PDF/A |

#[cfg(test)]
mod contrast;
mod csv;
mod hanging;
mod html;
#[cfg(feature = "page")]
mod page;
#[cfg(feature = "pdf")]
mod pdf;
mod sound;
pub(crate) mod stations;
mod vtt;

pub use csv::csv;
pub use hanging::Hanging;
pub use html::html;
#[cfg(feature = "page")]
pub use page::{ExportError, Reviewer, ServeError, Server, export_page};
#[cfg(feature = "pdf")]
pub use pdf::{Paper, PdfError, pdf};
pub use sound::{MAX_PART_MIN, SessionSound, SoundError, session_sound};
pub use vtt::vtt;

use crate::record::{
    AnswerView, DeficiencyView, FaultView, Given, HoldView, Moment, NoteView, View, amendment,
    clock_time, duration,
};
use crate::walk::{CapacityLine, turns};

/// The view as indented JSON with a newline at its end.
pub fn json(view: &View) -> String {
    // Every field is a string, a number or a list of such, so this cannot fail.
    let mut text = serde_json::to_string_pretty(view).expect("a view is plain data");
    text.push('\n');
    text
}

/// Text of an export without what turns the order of the letters behind it.
fn unturned(text: &str) -> String {
    text.replace(turns, "\u{fffd}")
}

/// Text with a capital at its start.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    let first: String = chars
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    first + chars.as_str()
}

/// An entry as its mark or cue tells it: one that starts again with the time of day, since the session's own time stood still.
fn moment_text(moment: &Moment) -> String {
    match moment.kind {
        "resumed" => format!("{}, {}", moment.text, clock_time(&moment.wall)),
        _ => moment.text.clone(),
    }
}

/// How an answer was heard, in a line.
fn how_heard(answer: &AnswerView) -> String {
    let mut text = if answer.heard.clip.is_empty() {
        "typed".to_owned()
    } else {
        format!(
            "heard \u{201c}{}\u{201d} {:.0} %",
            answer.heard.words,
            answer.heard.confidence * 100.0
        )
    };
    if let Some(second) = &answer.confirmed_by {
        text.push_str(&format!(", confirmed \u{201c}{}\u{201d}", second.words));
    }
    text
}

/// Where in the work an answer was given.
fn stage(answer: &AnswerView) -> &'static str {
    match answer.given() {
        Given::First => "first answer",
        Given::Correction => "correction",
        Given::Again => "said again",
        Given::Reinspection => "re-inspection",
    }
}

/// A note with its origin.
fn note_text(note: &NoteView) -> String {
    match (note.typed, note.transcript.trim()) {
        (_, text) if note.by_tool => format!("By loadwalk: {text}"),
        (true, text) => format!("Note, typed: {text}"),
        (false, "") => "Note, spoken; no machine transcript".to_owned(),
        (false, text) => format!("Note, machine transcript: \u{201c}{text}\u{201d}"),
    }
}

/// What an export of the record is called.
fn title(view: &View) -> String {
    match view.practice {
        Some(_) => format!("Practice walk: {}", view.load),
        None => format!("Inspection of {}", view.load),
    }
}

/// Stands in place of the lines to sign on under a practice walk.
const NOT_SIGNED: &str = "A practice walk is not signed: it vouches for nothing.";

/// What stands below the lines on which the record is signed; `None` where it is not to be.
fn signature_lines(view: &View) -> Option<[String; 2]> {
    view.practice.is_none().then(|| {
        [
            format!("Inspector {}: date, signature", view.inspector),
            "Second person: name, date, signature".to_owned(),
        ]
    })
}

/// The verdict on a capacity question: where a qualified person should look, it does not merely pass.
fn capacity_verdict(line: &CapacityLine) -> &'static str {
    match (line.passes, line.look.is_empty()) {
        (true, true) => "passes",
        (true, false) => "LOOK",
        (false, _) => "FAILS",
    }
}

/// How often and when the record was reviewed; `None` where it was not.
fn reviewed_line(view: &View) -> Option<String> {
    let last = view.amendments.last()?;
    let times = match view.amendments.len() {
        1 => "once".to_owned(),
        n => format!("{n} times"),
    };
    Some(format!(
        "{times}, last by {}, {}",
        last.by,
        clock_time(&last.wall)
    ))
}

/// What was planted for practice and what was made of it, in lines.
fn practice_lines(view: &View) -> Vec<String> {
    let Some(debrief) = &view.practice else {
        return Vec::new();
    };
    let planted = debrief.faults.iter().map(FaultView::line);
    let others = debrief.unplanted.iter();
    let others = others.map(|o| format!("called deficient, not planted: {}", o.deficiency));
    planted.chain(others).collect()
}

/// Each deficiency from finding to fix, in a line.
fn deficiency_lines(view: &View) -> Vec<String> {
    let all = view.deficiencies.iter();
    all.map(|d| deficiency_line(view, d)).collect()
}

/// A deficiency from finding to fix, in a line.
fn deficiency_line(view: &View, d: &DeficiencyView) -> String {
    let (found, fate) = (d.found_words(view), d.fate(view));
    format!("{} ({}), {found}: {fate}", d.name, d.check)
}

/// What reviewers said, in lines.
fn amendment_lines(view: &View) -> Vec<String> {
    view.amendments.iter().map(amendment).collect()
}

/// What does not apply to the load, in lines.
fn left_out_lines(view: &View) -> Vec<String> {
    let lines = view.left_out.iter();
    lines
        .map(|l| format!("{} ({}): {}", l.name, l.check, l.reason))
        .collect()
}

/// When the walk stood still, in lines.
fn hold_lines(view: &View) -> Vec<String> {
    let line = |hold: &HoldView| {
        let long = hold.held_ms.map_or_else(|| "still".to_owned(), duration);
        format!("{}, {} ({long})", clock_time(&hold.wall), hold.why)
    };
    view.holds.iter().map(line).collect()
}

/// Where answers came in a rhythm in which nobody looks, in lines.
fn rhythm_lines(view: &View) -> Vec<String> {
    let lines = view.rhythms.iter();
    lines
        .map(|r| format!("{}, {}", clock_time(&r.wall), r.line()))
        .collect()
}

/// How the walk went, in a line.
fn counts_line(view: &View) -> String {
    let c = view.counts;
    format!(
        "questions asked {}, answers taken {}, utterances not taken {}, confirmed first {}, \
         corrections {}, deficiencies put right {}, held {}, started again {}",
        c.asked, c.answered, c.refused, c.doubted, c.corrected, c.put_right, c.held, c.resumed
    )
}

/// What is wrong with the record, who sealed it, what that proves, in lines.
fn integrity_lines(view: &View) -> Vec<String> {
    let found = &view.integrity;
    let wrong = found.problems.iter().map(|p| format!("NOT INTACT: {p}"));
    let sound = found.seals.iter().filter(|seal| seal.problem.is_none());
    let seals = sound.filter_map(|seal| {
        let statement = seal.statement.as_ref()?;
        Some(format!(
            "sealed{} by {} at {} with key {}",
            if statement.ready { "" } else { " as NOT READY" },
            statement.signer,
            clock_time(&statement.sealed),
            seal.key_id
        ))
    });
    let rest = found.notes.iter().chain(&found.proves).cloned();
    wrong.chain(seals).chain(rest).collect()
}

#[cfg(test)]
mod tests;
