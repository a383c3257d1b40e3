//! What the report says, in which order.

use super::draw::{About, FOOT, draw};
use super::fonts::{Face, Fonts};
use super::layout::{Column, Flow, MARGIN, Row, TEXT, heading_with};
use super::summary::{Cut, capacity, summary};
use super::{Paper, PdfError};
use crate::figures::picture;
use crate::record::{
    CheckView, Given, NoteView, Status, View, amendment, answer_time, tryout_words,
};
use crate::review::{
    Hanging, amendment_lines, capital, clock_time, counts_line, deficiency_lines, hold_lines,
    how_heard, integrity_lines, json, left_out_lines, note_text, practice_lines, rhythm_lines,
    stage, title,
};
use krilla::metadata::DateTime;

/// The report as PDF/A-3a and PDF/UA-1, with the load as it hangs where that is known, and with the
/// view as JSON embedded. The same view gives the same bytes. `copy` names whom this copy is for at the
/// foot of each page: the load, the crew, the file.
///
/// # Errors
/// [`PdfError::Writer`], which no record should bring about.
pub fn pdf(
    view: &View,
    paper: Paper,
    hanging: Option<&Hanging>,
    copy: Option<&str>,
) -> Result<Vec<u8>, PdfError> {
    let fonts = Fonts::new().ok_or_else(|| PdfError::Writer("a font is damaged".to_owned()))?;
    let (width, height) = paper.points();
    let (mut flow, cut) = summary(view, || Flow::new(&fonts, width, height));
    flow.new_page();
    if let Some(hanging) = hanging {
        flow.heading(2, &hanging.heading);
        if let Some(effect) = hanging.as_found() {
            flow.paragraph(Face::Bold, TEXT, &effect);
        }
        flow.picture(picture(&hanging.rig, &hanging.hang));
    }
    checks(&mut flow, view);
    rest(&mut flow, view, cut);
    let title = title(view);
    let title = fonts.clean(Face::Regular, &title).replace('\n', " ");
    let about = About {
        foot: foot(
            view,
            &fonts,
            &title,
            copy,
            width - 2.0 * MARGIN - PAGE_NUMBER,
        ),
        title,
        author: view.inspector.clone(),
        when: date(&view.last),
        json: json(view),
    };
    draw(&flow.finish(), about, paper)
}

/// What stands at the foot of each page.
pub(super) fn foot(
    view: &View,
    fonts: &Fonts,
    title: &str,
    copy: Option<&str>,
    width: f32,
) -> String {
    let copy = copy.map_or_else(String::new, |copy| format!("Copy: {copy}. "));
    let last = view.amendments.last().map_or(&view.last, |a| &a.wall);
    let rest = format!(
        ", {}, record {}. It does not certify the load.",
        clock_time(last),
        view.integrity.code()
    );
    // What tells copies and records apart stays; a long title is cut.
    let mut title: Vec<char> = title.chars().collect();
    let mut cut = "";
    loop {
        let short: String = title.iter().collect();
        let text = fonts.clean(
            Face::Regular,
            &format!("{copy}{}{cut}{rest}", short.trim_end()),
        );
        if title.is_empty() || fonts.width(Face::Regular, FOOT, &text) <= width {
            return text;
        }
        title.pop();
        cut = "...";
    }
}

/// Room for the number of the page behind the foot, in points.
const PAGE_NUMBER: f32 = 70.0;

fn date(wall: &str) -> Option<DateTime> {
    let at: jiff::Timestamp = wall.parse().ok()?;
    let at = at.to_zoned_datetime(jiff::tz::TimeZone::UTC);
    let small = |n: i8| u8::try_from(n).ok();
    Some(
        DateTime::new(u16::try_from(at.year()).ok()?)
            .month(small(at.month())?)
            .day(small(at.day())?)
            .hour(small(at.hour())?)
            .minute(small(at.minute())?)
            .second(small(at.second())?)
            .utc_offset_hour(0)
            .utc_offset_minute(0),
    )
}

pub(super) fn checks(flow: &mut Flow<'_>, view: &View) {
    let columns = [
        Column {
            title: "Check",
            share: 0.2,
        },
        Column {
            title: "Outcome",
            share: 0.13,
        },
        Column {
            title: "Answer, heard as, confidence",
            share: 0.5,
        },
        Column {
            title: "Expected",
            share: 0.17,
        },
    ];
    let mut rest = &view.checks[..];
    let mut begun = false;
    while let Some(first) = rest.first() {
        let end = rest.iter().position(|c| c.station != first.station);
        let (here, others) = rest.split_at(end.unwrap_or(rest.len()));
        let rows: Vec<Row> = here.iter().map(|check| check_row(view, check)).collect();
        // The headings go with the first row.
        let start = rows
            .first()
            .map_or(0.0, |row| flow.table_start(&columns, row));
        let station = heading_with(3, start);
        if begun {
            flow.keep(station);
        } else {
            flow.keep(heading_with(2, station));
            flow.heading(2, "Checks");
            begun = true;
        }
        flow.heading(3, &first.station);
        flow.table(&columns, rows);
        rest = others;
    }
}

pub(super) fn check_row(view: &View, check: &CheckView) -> Row {
    let bad = matches!(
        check.status,
        Status::Deficient | Status::Open | Status::NotSeen
    );
    let outcome = match bad {
        true => (Face::Bold, check.status.words().to_uppercase()),
        false => (Face::Regular, check.status.words().to_owned()),
    };
    let mut lines: Vec<String> = check.deficiency.iter().chain(&check.why).cloned().collect();
    for answer in &check.answers {
        let gone = answer.gone();
        let gone = gone.map_or_else(String::new, |gone| capital(&format!("{gone}: ")));
        let stage = match answer.given() {
            Given::First => String::new(),
            _ => format!("{}, ", stage(answer)),
        };
        lines.push(format!(
            "{gone}{} ({stage}{}; {}, entry {})",
            answer.said,
            how_heard(answer),
            answer_time(view, &answer.wall),
            answer.entry,
        ));
        let second = answer.confirmed_by.as_ref();
        for heard in std::iter::once(&answer.heard).chain(second) {
            lines.extend(clip(&heard.clip, &heard.clip_sha256));
        }
    }
    for (n, what) in [
        (check.refused, "not taken"),
        (check.doubted, "confirmed first"),
    ] {
        if n > 0 {
            lines.push(format!("utterances {what}: {n}"));
        }
    }
    let mark = check.rigger_mark.as_ref();
    lines.extend(mark.map(|mark| format!("The rigger's mark: {mark}")));
    lines.extend(check.notes.iter().flat_map(note_lines));
    lines.extend(check.amended().map(|amended| capital(&amended)));
    lines.extend(check.amendments.iter().map(|a| capital(&amendment(a))));
    Row {
        cells: vec![
            (Face::Bold, check.name.clone()),
            outcome,
            (Face::Regular, lines.join("\n")),
            (Face::Regular, check.expected.clone()),
        ],
        bad,
    }
}

/// A note and the sound that it was written down from.
fn note_lines(note: &NoteView) -> Vec<String> {
    let clip = clip(&note.clip, &note.clip_sha256);
    std::iter::once(note_text(note)).chain(clip).collect()
}

/// A clip by its name and the beginning of its hash; none where it was typed.
fn clip(file: &str, sha256: &str) -> Option<String> {
    let short: String = sha256.chars().take(8).collect();
    (!file.is_empty()).then(|| format!("{file} {short}"))
}

fn rest(flow: &mut Flow<'_>, view: &View, cut: Cut) {
    if view.against.len() > cut.against {
        flow.heading(2, "What stands against the load, in full");
        flow.list(&view.against);
    }
    if view.capacity.len() > cut.capacity {
        flow.heading(2, "Capacity in full");
        capacity(flow, view.capacity.iter());
    }
    let mut section = |title: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            flow.heading(2, title);
            flow.list(&lines);
        }
    };
    section("Planted for practice", practice_lines(view));
    section("Deficiencies from finding to fix", deficiency_lines(view));
    section(
        "Notes on the load",
        view.notes.iter().map(|n| note_lines(n).join(" ")).collect(),
    );
    section("Said in review", amendment_lines(view));
    section("What does not apply to this load", left_out_lines(view));
    section("When the walk stood still", hold_lines(view));
    section("Rhythm in which nobody looks", rhythm_lines(view));
    section(
        "Tried out before the walk",
        view.tryout.iter().map(tryout_words).collect(),
    );
    section(
        "Tried out again in a break",
        view.tried_again.iter().cloned().collect(),
    );
    section("How it went", vec![counts_line(view)]);
    let mut lines = vec![
        format!("last entry, SHA-256: {}", view.integrity.last_sha256),
        format!("plan, SHA-256: {}", view.plan_sha256),
    ];
    lines.extend(integrity_lines(view));
    section("The record itself", lines);
}
