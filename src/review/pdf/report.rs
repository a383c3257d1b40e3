//! What the report says, in which order.

use super::draw::{About, draw};
use super::fonts::{Face, Fonts};
use super::layout::{Column, Flow, Ink, Row, TEXT};
use super::{Paper, PdfError};
use crate::record::{CheckView, Status, View, amendment, duration, state_words};
use crate::review::stations::{Drawing, drawing, stations};
use crate::review::{
    amendment_lines, capital, clock_time, counts_line, deficiency_lines, hold_lines, how_heard,
    integrity_lines, json, left_out_lines, note_text, rhythm_lines, stage,
};
use crate::walk::{CapacityLine, Stage};
use krilla::metadata::DateTime;

/// The report as PDF/A-3a and PDF/UA-1, with the view as JSON embedded. The same view gives the
/// same bytes.
///
/// # Errors
/// [`PdfError::Writer`], which no record should bring about.
pub fn pdf(view: &View, paper: Paper) -> Result<Vec<u8>, PdfError> {
    let fonts = Fonts::new().ok_or_else(|| PdfError::Writer("a font is damaged".to_owned()))?;
    let (width, height) = paper.points();
    let mut flow = Flow::new(&fonts, width, height);
    summary(&mut flow, view);
    flow.new_page();
    checks(&mut flow, view);
    rest(&mut flow, view);
    let title = format!("Inspection of {}", view.load);
    let title = fonts.clean(Face::Regular, &title).replace('\n', " ");
    let code = code(&view.integrity.last_sha256);
    let about = About {
        foot: fonts.clean(
            Face::Regular,
            &format!(
                "{title}, {}, record {code}. It does not certify the load.",
                clock_time(&view.last)
            ),
        ),
        title,
        author: view.inspector.clone(),
        when: date(&view.last),
        json: json(view),
    };
    draw(&flow.finish(), about, paper)
}

/// The first 16 digits of a hash in fours, to be compared by eye.
fn code(sha256: &str) -> String {
    let digits: Vec<char> = sha256.chars().take(16).collect();
    let fours: Vec<String> = digits.chunks(4).map(|four| four.iter().collect()).collect();
    fours.join("-")
}

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

/// How many capacity questions the summary tells if none fails.
const CAPACITY_ROWS: usize = 4;

fn capacity<'a>(flow: &mut Flow<'_>, lines: impl Iterator<Item = &'a CapacityLine>) {
    let rows = lines.map(|line| Row {
        cells: vec![
            (Face::Bold, line.question.clone()),
            match line.passes {
                true => (Face::Regular, "passes".to_owned()),
                false => (Face::Bold, "FAILS".to_owned()),
            },
            (Face::Regular, line.spoken.clone()),
        ],
        bad: !line.passes,
    });
    flow.table(
        &[
            Column {
                title: "Question",
                share: 0.2,
            },
            Column {
                title: "Verdict",
                share: 0.13,
            },
            Column {
                title: "Figures",
                share: 0.67,
            },
        ],
        rows.collect(),
    );
}

fn summary(flow: &mut Flow<'_>, view: &View) {
    flow.heading(1, &format!("Inspection of {}", view.load));
    let who = format!(
        "Inspected by {}, rigged by {}.",
        view.inspector, view.rigger
    );
    flow.paragraph(Face::Regular, TEXT, &who);
    let when = format!(
        "From {} to {}, recorded time {}.",
        clock_time(&view.started),
        clock_time(&view.last),
        duration(view.recorded_ms)
    );
    flow.paragraph(Face::Regular, TEXT, &when);
    flow.space(4.0);
    flow.framed(14.0, &capital(&state_words(view)));
    flow.heading(2, "What stands against the load");
    if view.against.is_empty() {
        flow.paragraph(Face::Regular, TEXT, "Nothing that was asked.");
    }
    flow.list(&view.against);
    flow.heading(2, "Capacity");
    let mut lines: Vec<&CapacityLine> = view.capacity.iter().collect();
    lines.sort_by_key(|line| line.passes);
    let fails = lines.iter().filter(|line| !line.passes).count();
    // All that fail, and the first of the others; the detail has every one.
    lines.truncate(fails.max(CAPACITY_ROWS));
    capacity(flow, lines.iter().copied());
    if view.capacity.len() > lines.len() {
        let more = view.capacity.len() - lines.len();
        let text = format!("{more} more pass; all are told after the checks.");
        flow.paragraph(Face::Regular, TEXT, &text);
    }
    flow.keep(190.0);
    flow.heading(2, "The stations");
    let names: Vec<String> = stations(view)
        .iter()
        .enumerate()
        .map(|(i, (name, status, _))| format!("{}  {name}: {}", i + 1, status.words()))
        .collect();
    match drawing(view) {
        Some(drawing) if names.len() <= 24 => draw_stations(flow, &drawing, &names),
        _ => flow.paragraph(Face::Regular, TEXT, &names.join("; ")),
    }
    flow.space(6.0);
    flow.keep(150.0);
    let cautions: Vec<String> = view.cautions.iter().map(|c| capital(c)).collect();
    flow.framed(8.0, &(cautions.join(". ") + "."));
    flow.signature(&[
        format!("Inspector {}: date, signature", view.inspector),
        "Second person: name, date, signature".to_owned(),
    ]);
    let integrity = &view.integrity;
    let intact = match &integrity.first_problem {
        None => String::new(),
        Some(problem) => format!(" NOT INTACT: {problem}."),
    };
    let record = format!(
        "Record {} of {} entries and {} clips; compare it with what \"loadwalk verify\" says.{intact}",
        code(&integrity.last_sha256),
        integrity.entries,
        integrity.clips
    );
    flow.paragraph(Face::Regular, TEXT, &record);
}

/// The stations from above; shape and number tell them apart, in black and white too.
fn draw_stations(flow: &mut Flow<'_>, drawing: &Drawing, names: &[String]) {
    const WIDTH: f32 = 130.0;
    let height = WIDTH * drawing.aspect as f32 + 16.0;
    let middle = WIDTH / 2.0;
    let mut parts = vec![
        Ink::Shape {
            points: vec![[middle, 0.0], [middle + 5.0, 9.0], [middle - 5.0, 9.0]],
            filled: true,
        },
        label(middle + 8.0, 8.5, 7.5, "forward", false),
    ];
    for mark in &drawing.marks {
        let (x, y) = (mark.x as f32 * WIDTH, 14.0 + mark.y as f32 * WIDTH);
        let (points, filled) = match mark.status {
            Status::Deficient => (polygon(x, y, 9.0, 4, 0.125), true),
            Status::Open | Status::NotSeen => (polygon(x, y, 10.5, 3, 0.75), true),
            _ => (polygon(x, y, 8.0, 32, 0.0), false),
        };
        parts.push(Ink::Shape { points, filled });
        let number = mark.number.to_string();
        let half = 2.3 * number.len() as f32;
        parts.push(label(x - half, y + 3.0, 8.0, &number, filled));
    }
    let words: Vec<String> = drawing
        .marks
        .iter()
        .map(|m| format!("{} {}: {}", m.number, m.name, m.status.words()))
        .collect();
    let alt = format!(
        "The stations from above, forward is up. {}",
        words.join("; ")
    );
    flow.drawing(alt, [WIDTH, height], parts, names);
    flow.paragraph(
        Face::Regular,
        7.5,
        "Round and white: nothing wrong. Square and black: deficient. Triangle: open or not seen.",
    );
}

fn label(x: f32, y: f32, size: f32, text: &str, white: bool) -> Ink {
    Ink::Text {
        x,
        y,
        face: Face::Bold,
        size,
        text: text.to_owned(),
        white,
    }
}

/// A regular polygon, its first corner so many turns from the right.
fn polygon(x: f32, y: f32, radius: f32, corners: u16, turn: f32) -> Vec<[f32; 2]> {
    let corner = |i: u16| {
        let turns = f64::from(turn) + f64::from(i) / f64::from(corners);
        let angle = turns * std::f64::consts::TAU;
        [
            x + radius * libm::cos(angle) as f32,
            y + radius * libm::sin(angle) as f32,
        ]
    };
    (0..corners).map(corner).collect()
}

fn checks(flow: &mut Flow<'_>, view: &View) {
    flow.heading(2, "Checks");
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
    while let Some(first) = rest.first() {
        let end = rest.iter().position(|c| c.station != first.station);
        let (here, others) = rest.split_at(end.unwrap_or(rest.len()));
        flow.heading(3, &first.station);
        flow.table(&columns, here.iter().map(check_row).collect());
        rest = others;
    }
}

fn check_row(check: &CheckView) -> Row {
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
        let gone = if answer.stands {
            ""
        } else {
            "No longer stands: "
        };
        let stage = match answer.stage {
            Stage::Walk => String::new(),
            later => format!("{}, ", stage(later)),
        };
        let time = clock_time(&answer.wall);
        lines.push(format!(
            "{gone}{} ({stage}{}; {}, entry {})",
            answer.said,
            how_heard(answer),
            time.get(11..19).unwrap_or(&time),
            answer.entry,
        ));
        let second = answer.confirmed_by.as_ref();
        for heard in std::iter::once(&answer.heard).chain(second) {
            if !heard.clip.is_empty() {
                let short: String = heard.clip_sha256.chars().take(8).collect();
                lines.push(format!("{} {short}", heard.clip));
            }
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
    lines.extend(check.notes.iter().map(note_text));
    if check.walked != check.status {
        let walked = check.walked.words();
        lines.push(format!("Amended in review; by the walk: {walked}"));
    }
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

fn rest(flow: &mut Flow<'_>, view: &View) {
    if view.capacity.len() > CAPACITY_ROWS {
        flow.heading(2, "Capacity in full");
        capacity(flow, view.capacity.iter());
    }
    let mut section = |title: &str, lines: Vec<String>| {
        if !lines.is_empty() {
            flow.heading(2, title);
            flow.list(&lines);
        }
    };
    section("Deficiencies from finding to fix", deficiency_lines(view));
    section(
        "Notes on the load",
        view.notes.iter().map(note_text).collect(),
    );
    section("Said in review", amendment_lines(view));
    section("What does not apply to this load", left_out_lines(view));
    section("When the walk stood still", hold_lines(view));
    section("Rhythm in which nobody looks", rhythm_lines(view));
    section("How it went", vec![counts_line(view)]);
    let mut lines = vec![
        format!("last entry, SHA-256: {}", view.integrity.last_sha256),
        format!("plan, SHA-256: {}", view.plan_sha256),
    ];
    lines.extend(integrity_lines(view));
    section("The record itself", lines);
}
