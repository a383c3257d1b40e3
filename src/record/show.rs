//! The record as text for a terminal or a pager: plain, without colour, one thing a line.

use super::error::RecordError;
use super::view::{
    AmendmentView, AnswerView, CheckView, FaultView, Given, NoteView, State, Status, View, view,
};
use crate::walk::{Tryout, steers};
use std::fmt::{self, Write as _};
use std::path::Path;

/// The record as text.
///
/// # Errors
/// Where there is no journal to read, or no entry in it.
pub fn show(folder: &Path) -> Result<String, RecordError> {
    Ok(text(&view(folder)?))
}

/// A view as text. What a record holds and steers a terminal, or would look like lines of the record's own, stands as a
/// replacement character.
pub fn text(view: &View) -> String {
    text_with(view, None)
}

/// A view as text, with what the counts found do to the lift: how that was worked out, and a sentence.
pub fn text_with(view: &View, as_found: Option<(&str, &str)>) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = write_text(&mut out, view, as_found);
    out
}

fn write_text(out: &mut String, view: &View, as_found: Option<(&str, &str)>) -> fmt::Result {
    writeln!(out, "{}", plain(&view.load))?;
    writeln!(
        out,
        "  inspected by {}, rigged by {}",
        plain(&view.inspector),
        plain(&view.rigger)
    )?;
    writeln!(
        out,
        "  from {} to {}",
        plain(&clock_time(&view.started)),
        plain(&clock_time(&view.last))
    )?;
    writeln!(out, "  recorded time {}", duration(view.recorded_ms))?;
    if let (Some(lifter), Some(set)) = (&view.lifter, &view.sling_set) {
        let lifted = format!("lifted by: {lifter}; sling set: {set}");
        writeln!(out, "  {}", plain(&lifted))?;
    }
    writeln!(out, "  {}", plain(&state_words(view)))?;
    write_list(
        out,
        "tried out before the walk",
        view.tryout.iter().map(tryout_words),
    )?;
    write_list(
        out,
        "tried out again in a break",
        view.tried_again.iter().cloned(),
    )?;
    write_list(
        out,
        "capacity",
        view.capacity.iter().map(|line| {
            let verdict = match (line.passes, line.look.is_empty()) {
                (false, _) => "FAIL",
                (true, false) => "LOOK",
                (true, true) => "pass",
            };
            format!("{verdict}  {}: {}", line.question, line.told())
        }),
    )?;
    if let Some(debrief) = &view.practice {
        let planted = debrief.faults.iter().map(FaultView::line);
        write_list(out, "planted for practice", planted)?;
        let others = debrief.unplanted.iter().map(|o| o.deficiency.clone());
        write_list(out, "called deficient, not planted", others)?;
    }
    if let Some((how, sentence)) = as_found {
        write_list(out, how, std::iter::once(sentence.to_owned()))?;
    }
    write_list(out, "stands against the load", view.against.iter().cloned())?;
    write_list(
        out,
        "called not applicable",
        view.not_applicable.iter().cloned(),
    )?;
    write_checks(out, view)?;
    write_list(
        out,
        "deficiencies found and no longer standing",
        view.deficiencies
            .iter()
            .filter(|d| !d.stands)
            .map(|d| format!("{} ({}, {})", d.name, d.found_words(view), d.fate(view))),
    )?;
    write_list(
        out,
        "deficiencies left open",
        view.deficiencies
            .iter()
            .filter(|d| d.stands && d.left_open.is_some())
            .map(|d| format!("{} ({}, {})", d.name, d.found_words(view), d.fate(view))),
    )?;
    write_list(out, "notes on the load", view.notes.iter().map(note))?;
    write_list(
        out,
        "said in review (the walk's own entries stay as they were)",
        view.amendments.iter().map(amendment),
    )?;
    write_list(
        out,
        "does not apply to this load",
        view.left_out
            .iter()
            .map(|l| format!("{} ({}): {}", l.name, l.check, l.reason)),
    )?;
    write_list(
        out,
        "stood still",
        view.holds.iter().map(|h| {
            let at = h
                .check
                .as_ref()
                .map_or_else(String::new, |c| format!(" at {c}"));
            let long = h.held_ms.map_or_else(|| "still".to_owned(), duration);
            format!("{}{at}: {} ({long})", clock_time(&h.wall), h.why)
        }),
    )?;
    write_list(
        out,
        "rhythm in which nobody looks",
        view.rhythms
            .iter()
            .map(|r| format!("{}: {}", clock_time(&r.wall), r.line())),
    )?;
    let c = view.counts;
    writeln!(out, "\ncounts")?;
    writeln!(
        out,
        "  asked {}, answered {}, refused {}, doubted {}, corrected {}, put right {}, held {}, started again {}",
        c.asked, c.answered, c.refused, c.doubted, c.corrected, c.put_right, c.held, c.resumed
    )?;
    write_integrity(out, view)?;
    write_list(out, "mind", view.cautions.iter().cloned())
}

/// What trying headset and voice out came to, in a line.
pub fn tryout_words(tryout: &Tryout) -> String {
    format!("{}: {}", clock_time(&tryout.wall), tryout.line())
}

/// How the walk stands, in a line.
pub fn state_words(view: &View) -> String {
    if view.practice.is_some() {
        return match view.state {
            State::Ready | State::NotReady => {
                "PRACTICE, complete: it vouches for nothing".to_owned()
            }
            State::Open | State::Held => {
                "PRACTICE, not complete: it vouches for nothing".to_owned()
            }
        };
    }
    match view.state {
        State::Ready => "complete: READY for a person to sign".to_owned(),
        State::NotReady if view.integrity.first_problem.is_some() => {
            "complete: NOT READY: the record is not intact".to_owned()
        }
        State::NotReady if view.walked_state == State::Ready => {
            "complete: NOT READY: a review changed what the walk found ready".to_owned()
        }
        State::NotReady => "complete: NOT READY".to_owned(),
        State::Open | State::Held if view.integrity.first_problem.is_some() => {
            "NOT READY: the record is not intact".to_owned()
        }
        State::Open => "OPEN: not complete, not ready".to_owned(),
        State::Held => format!(
            "HELD: {}; not complete, not ready",
            view.held.as_deref().unwrap_or("standing by")
        ),
    }
}

/// A time of day as people read it: day and time without milliseconds and zone name.
pub fn clock_time(wall: &str) -> String {
    let plain = wall.split('[').next().unwrap_or(wall);
    let (day, rest) = plain.split_once('T').unwrap_or((plain, ""));
    let time = rest.get(..8).unwrap_or(rest);
    let zone = rest.find(['+', 'Z']).or(rest.rfind('-'));
    let zone = zone.map_or("", |at| &rest[at..]);
    format!("{day} {time} {zone}").trim_end().to_owned()
}

/// When an answer was given, as short as it is plain: with its day and zone where the walk did not begin in them.
pub fn answer_time(view: &View, wall: &str) -> String {
    let parts = |wall: &str| {
        let time = clock_time(wall);
        let mut words = time.split(' ').map(str::to_owned);
        (words.next(), words.next(), words.next())
    };
    let (day, time, zone) = parts(wall);
    let (first_day, _, first_zone) = parts(&view.started);
    match time {
        Some(time) if day == first_day && zone == first_zone => time,
        _ => clock_time(wall),
    }
}

/// A line without anything that moves a terminal's cursor, turns the order of its letters or makes lines of its own.
pub fn plain(line: &str) -> String {
    line.chars()
        .map(|c| if steers(c) { '\u{fffd}' } else { c })
        .collect()
}

/// A time span as hours, minutes and seconds.
pub fn duration(ms: u64) -> String {
    let s = ms / 1_000;
    match s {
        0..60 => format!("{s} s"),
        60..3_600 => format!("{} min {} s", s / 60, s % 60),
        _ => format!("{} h {} min", s / 3_600, s / 60 % 60),
    }
}

fn write_list(out: &mut String, title: &str, lines: impl Iterator<Item = String>) -> fmt::Result {
    let mut lines = lines.peekable();
    if lines.peek().is_some() {
        writeln!(out, "\n{title}")?;
    }
    lines.try_for_each(|line| writeln!(out, "  {}", plain(&line)))
}

fn write_checks(out: &mut String, view: &View) -> fmt::Result {
    let width = view.checks.iter().map(|c| c.name.chars().count()).max();
    let width = width.unwrap_or(0).min(40);
    let mut station = "";
    writeln!(out, "\nchecks")?;
    for check in &view.checks {
        if check.station != station {
            station = &check.station;
            writeln!(out, "  {}", plain(station))?;
        }
        let status = match check.status {
            Status::Conforming | Status::NotAsked | Status::NotApplicable => {
                check.status.words().to_owned()
            }
            bad => bad.words().to_uppercase(),
        };
        write!(out, "    {status:<14}  {:<width$}", plain(&check.name))?;
        writeln!(out, "  {}", plain(&summary(view, check)))?;
        for earlier in &check.answers {
            if let Some(gone) = earlier.gone() {
                let line = format!("{gone}: {}", answer(view, earlier));
                writeln!(out, "{:22}{}", "", plain(&line))?;
            }
        }
        if let Some(mark) = &check.rigger_mark {
            writeln!(out, "{:22}the rigger's mark: {}", "", plain(mark))?;
        }
        for n in &check.notes {
            writeln!(out, "{:22}{}", "", plain(&note(n)))?;
        }
        if let Some(amended) = check.amended() {
            writeln!(out, "{:22}{}", "", plain(&amended))?;
        }
        for a in &check.amendments {
            writeln!(out, "{:22}{}", "", plain(&amendment(a)))?;
        }
    }
    Ok(())
}

/// What holds of a check and how it was heard.
fn summary(view: &View, check: &CheckView) -> String {
    let mut parts = Vec::new();
    if let Some(a) = check.answers.iter().find(|a| a.stands) {
        parts.push(answer(view, a));
    }
    if let Some(deficiency) = &check.deficiency {
        parts.push(format!("{deficiency} (expected {})", check.expected));
    }
    parts.extend(check.why.clone());
    if check.refused > 0 {
        parts.push(format!("refused {}", check.refused));
    }
    if check.doubted > 0 {
        parts.push(format!("doubted {}", check.doubted));
    }
    parts.join("; ")
}

fn answer(view: &View, answer: &AnswerView) -> String {
    let stage = match answer.given() {
        Given::First => "",
        Given::Correction => ", corrected",
        Given::Again => ", said again",
        Given::Reinspection => ", re-inspected",
    };
    let heard = if answer.heard.clip.is_empty() {
        "typed".to_owned()
    } else {
        format!(
            "heard \"{}\" {:.2} {}",
            answer.heard.words, answer.heard.confidence, answer.heard.clip
        )
    };
    let confirmed = answer.confirmed_by.as_ref().map_or_else(String::new, |c| {
        format!(", confirmed \"{}\" {:.2}", c.words, c.confidence)
    });
    let at = answer_time(view, &answer.wall);
    format!("{}{stage} [{heard}{confirmed}, {at}]", answer.said)
}

/// An amendment in a line.
pub fn amendment(amendment: &AmendmentView) -> String {
    let a = amendment;
    let place = a.place.as_deref().unwrap_or("the load");
    let entry = a
        .entry
        .map_or_else(String::new, |e| format!(" (entry {e})"));
    let hears = a
        .hears
        .as_ref()
        .map_or_else(String::new, |h| format!(", heard in review \"{h}\""));
    let does = match a.does.as_str() {
        "" => String::new(),
        does => format!("; {does}"),
    };
    let withdraws = a
        .withdraws
        .map_or_else(String::new, |n| format!(" of review {n}"));
    let withdrawn = a
        .withdrawn_by
        .map_or_else(String::new, |n| format!("WITHDRAWN by review {n}: "));
    let proof = match a.sound {
        true => format!("signed with key {}", a.key_id),
        false if a.withdraws.is_some() => "SIGNATURE OR PLACE NOT SOUND, not heeded".to_owned(),
        false => "SIGNATURE OR PLACE NOT SOUND, heeded all the same".to_owned(),
    };
    format!(
        "review {}: {withdrawn}{}{withdraws} by {}, {place}{entry}{hears}{does}: {} [{}, {proof}]",
        a.number,
        a.kind,
        a.by,
        a.text,
        clock_time(&a.wall)
    )
}

fn note(note: &NoteView) -> String {
    let text = match (note.typed, note.transcript.trim()) {
        (_, text) if note.by_tool => format!("by loadwalk: {text}"),
        (true, text) => format!("note, typed: {text}"),
        (false, "") => "note, no machine transcript".to_owned(),
        (false, text) => format!("note, machine transcript: \"{text}\""),
    };
    match note.clip.as_str() {
        "" => text,
        clip => format!("{text} [{clip}]"),
    }
}

fn write_integrity(out: &mut String, view: &View) -> fmt::Result {
    let integrity = &view.integrity;
    writeln!(out, "\nrecord")?;
    writeln!(
        out,
        "  {} entries, {} clips, record code {}, last entry {}",
        integrity.entries,
        integrity.clips,
        integrity.code(),
        integrity.last_sha256
    )?;
    for problem in &integrity.problems {
        writeln!(out, "  NOT INTACT: {problem}")?;
    }
    for seal in integrity.seals.iter().filter(|s| s.problem.is_none()) {
        if let Some(s) = &seal.statement {
            writeln!(
                out,
                "  sealed{} by {} at {}, key {}",
                if s.ready { "" } else { " as NOT READY" },
                plain(&s.signer),
                plain(&clock_time(&s.sealed)),
                seal.key_id
            )?;
        }
    }
    let rest = integrity.notes.iter().chain(&integrity.proves);
    rest.into_iter()
        .try_for_each(|line| writeln!(out, "  {}", plain(line)))
}
