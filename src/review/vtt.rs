//! WebVTT (W3C) of prompts, answers and notes, in time with the session's sound.

use super::{amendment_lines, moment_text, unturned};
use crate::plan::CheckId;
use crate::record::{Moment, Session, View, session, state_words};
use crate::walk::rules;
use std::path::Path;

/// How long a cue stays at most, in milliseconds.
const CUE_MS_MAX: u64 = 8_000;

/// One cue an entry that was said or heard, on the time line of
/// [`session_sound`](super::session_sound): a cue starts with its sound, or when its entry was written
/// down where it has none, and ends at the next one, or after 8 seconds. The cue's identifier is the
/// entry's number. What was said stands behind its station and check, unless that check was just asked.
/// `folder` is the view's record, whose clips tell how long they are.
pub fn vtt(folder: &Path, view: &View) -> String {
    cues(view, &session(folder, &view.entries))
}

fn cues(view: &View, laid: &Session) -> String {
    let mut out = String::from("WEBVTT\n\nNOTE\n");
    let head = [
        format!(
            "Load {}, inspected by {}, rigged by {}",
            view.load, view.inspector, view.rigger
        ),
        format!(
            "Time 0 is the first entry, {}; time between two runs does not count, \"started again\" tells the time of day",
            view.started
        ),
        "A cue starts with its sound, else when its entry was written down".to_owned(),
    ];
    let stands = [format!("The record: {}", state_words(view))];
    let against = match view.against.len() {
        0 => None,
        n => Some(format!(
            "{n} {} against the load: {}",
            if n == 1 {
                "point stands"
            } else {
                "points stand"
            },
            view.against.join("; ")
        )),
    };
    let reviewed = amendment_lines(view);
    let head = head.iter().chain(&stands).chain(&against).chain(&reviewed);
    for line in head.chain(&view.cautions) {
        out.push_str(&escape(line));
        out.push('\n');
    }
    let mut starts: Vec<(u64, &Moment)> = (view.timeline.iter())
        .map(|moment| {
            (
                laid.starts_ms(moment.entry).unwrap_or(moment.mono_ms),
                moment,
            )
        })
        .collect();
    starts.sort_by_key(|(start, moment)| (*start, moment.entry));
    // The check whose question stands right before a cue.
    let mut asked = None;
    for (i, &(start, moment)) in starts.iter().enumerate() {
        let Some(speaker) = speaker(view, moment) else {
            continue;
        };
        let end = starts[i + 1..]
            .iter()
            .map(|(next, _)| *next)
            .find(|&next| next > start)
            .unwrap_or(u64::MAX)
            .min(start.saturating_add(CUE_MS_MAX));
        out.push_str(&format!(
            "\n{}\n{} --> {}\n<v {}>{}\n",
            moment.entry,
            time(start),
            time(end),
            escape(speaker),
            escape(&format!(
                "{}{}",
                place(view, moment, asked),
                moment_text(moment)
            ))
        ));
        match moment.kind {
            "asked" => asked = moment.check.as_ref(),
            // What comes behind it may be of any check.
            "calling" => asked = None,
            _ if moment.check.is_some() && moment.check.as_ref() != asked => asked = None,
            _ => {}
        }
    }
    unturned(&out)
}

/// Where what was said belongs, before it unless it stands behind the question of that very check.
fn place(view: &View, moment: &Moment, asked: Option<&CheckId>) -> String {
    let check = moment.check.as_ref().filter(|check| Some(*check) != asked);
    let said = |_: &&CheckId| {
        matches!(
            moment.kind,
            "answered" | "refused" | "doubted" | "control" | "noted" | "put-right"
        )
    };
    let check = check.filter(said);
    let found = check.and_then(|id| view.checks.iter().find(|c| c.check == *id));
    found.map_or_else(String::new, |c| format!("{}, {}: ", c.station, c.name))
}

/// Who is heard in an entry; `None` where nobody is.
fn speaker<'a>(view: &'a View, moment: &Moment) -> Option<&'a str> {
    match moment.kind {
        "asked" | "calling" | "held" | "resumed" | "completed" => Some("loadwalk"),
        // By a review: nobody said it.
        "control" if moment.control.as_deref() == Some(rules::SENT_BACK) => None,
        "noted"
            if view
                .notes
                .iter()
                .any(|n| n.by_tool && n.entry == moment.entry) =>
        {
            Some("loadwalk")
        }
        "answered" | "refused" | "doubted" | "control" | "noted" | "put-right" => {
            Some(&view.inspector)
        }
        _ => None,
    }
}

fn time(ms: u64) -> String {
    let (s, ms) = (ms / 1_000, ms % 1_000);
    format!("{:02}:{:02}:{:02}.{ms:03}", s / 3_600, s / 60 % 60, s % 60)
}

/// Text on one line in which nothing is markup.
fn escape(text: &str) -> String {
    let one_line: Vec<&str> = text.split_whitespace().collect();
    one_line
        .join(" ")
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}
