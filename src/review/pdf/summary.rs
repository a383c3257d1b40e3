//! The first page: what a person reads before signing.

use super::fonts::Face;
use super::layout::{Column, Flow, Ink, Row, TEXT};
use crate::record::{Status, View, duration, state_words};
use crate::review::stations::{Drawing, drawing, station_lines};
use crate::review::{
    NOT_SIGNED, capacity_verdict, capital, clock_time, json, reviewed_line, signature_lines, title,
};
use crate::walk::CapacityLine;

/// How many capacity questions the summary tells if none fails.
const CAPACITY_ROWS: usize = 4;

pub(super) fn capacity<'a>(flow: &mut Flow<'_>, lines: impl Iterator<Item = &'a CapacityLine>) {
    let rows = lines.map(|line| Row {
        cells: vec![
            (Face::Bold, line.question.clone()),
            match line.passes && line.look.is_empty() {
                true => (Face::Regular, capacity_verdict(line).to_owned()),
                false => (Face::Bold, capacity_verdict(line).to_owned()),
            },
            (Face::Regular, line.told()),
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

/// How much of the summary's lists goes on its page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cut {
    /// Lines of what stands against the load.
    pub against: usize,
    /// Capacity questions, those that fail first.
    pub capacity: usize,
    /// Whether the stations are drawn; if not, they are named.
    drawn: bool,
}

/// So many lines of what stands against the load are worth more than the drawing.
const AGAINST_LINES: usize = 8;

/// The first page, cut so that it is one where that can be: what does not fit is counted on it and
/// told in full after the checks.
pub(super) fn summary<'f>(view: &View, new: impl Fn() -> Flow<'f>) -> (Flow<'f>, Cut) {
    // Of everything that the report can hold, each letter once.
    let lost = new().lost(&json(view));
    let fails = view.capacity.iter().filter(|line| !line.passes).count();
    let all = fails.max(CAPACITY_ROWS).min(view.capacity.len());
    let few = all.min(CAPACITY_ROWS);
    for (capacity, drawn, least) in [
        (all, true, AGAINST_LINES),
        (all, false, AGAINST_LINES),
        (few, false, AGAINST_LINES),
        (few, false, 1),
        (few.min(1), false, 0),
    ] {
        let least = least.min(view.against.len());
        let lines = |against| {
            let cut = Cut {
                against,
                capacity,
                drawn,
            };
            let mut flow = new();
            write(&mut flow, view, cut, lost);
            (flow.pages() == 1).then_some((flow, cut))
        };
        let Some(mut best) = lines(least) else {
            continue;
        };
        // The most lines that fit lie between what fits and what does not.
        let (mut fits, mut beyond) = (least, view.against.len() + 1);
        while fits + 1 < beyond {
            let middle = fits + (beyond - fits) / 2;
            match lines(middle) {
                Some(found) => (fits, best) = (middle, found),
                None => beyond = middle,
            }
        }
        return best;
    }
    let cut = Cut {
        against: view.against.len(),
        capacity: all,
        drawn: true,
    };
    let mut flow = new();
    write(&mut flow, view, cut, lost);
    (flow, cut)
}

fn write(flow: &mut Flow<'_>, view: &View, cut: Cut, lost: usize) {
    flow.heading(1, &title(view));
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
    if let (Some(lifter), Some(set)) = (&view.lifter, &view.sling_set) {
        let lifted = format!("To be lifted by {lifter}, on the sling set \u{201c}{set}\u{201d}.");
        flow.paragraph(Face::Regular, TEXT, &lifted);
    }
    if let Some(reviewed) = reviewed_line(view) {
        flow.paragraph(Face::Bold, TEXT, &format!("Reviewed {reviewed}."));
    }
    if lost > 0 {
        let letters = match lost {
            1 => "A letter of this record cannot be printed here and stands",
            _ => {
                &format!("{lost} different letters of this record cannot be printed here and stand")
            }
        };
        let text = format!("{letters} as \"?\"; the page of --html has all.");
        flow.paragraph(Face::Bold, TEXT, &text);
    }
    flow.space(4.0);
    flow.framed(14.0, &capital(&state_words(view)));
    flow.heading(2, "What stands against the load");
    if view.against.is_empty() {
        flow.paragraph(Face::Regular, TEXT, "Nothing that was asked.");
    }
    flow.list(&view.against[..cut.against]);
    let more = view.against.len() - cut.against;
    if more > 0 {
        let text = format!(
            "AND {more} MORE, {} in all; all are told after the checks.",
            view.against.len()
        );
        flow.paragraph(Face::Bold, TEXT, &text);
    }
    if !view.not_applicable.is_empty() {
        let text = format!(
            "CALLED NOT APPLICABLE ({}): {}.",
            view.not_applicable.len(),
            view.not_applicable.join("; ")
        );
        flow.paragraph(Face::Bold, TEXT, &text);
    }
    flow.heading(2, "Capacity, by the plan");
    let mut lines: Vec<&CapacityLine> = view.capacity.iter().collect();
    lines.sort_by_key(|line| (line.passes, line.look.is_empty()));
    let left = lines.split_off(cut.capacity);
    capacity(flow, lines.iter().copied());
    if !left.is_empty() {
        let of = |verdict| {
            left.iter()
                .filter(|l| capacity_verdict(l) == verdict)
                .count()
        };
        let told: Vec<String> = [
            ("FAILS", "MORE FAIL"),
            ("LOOK", "more LOOK"),
            ("passes", "more pass"),
        ]
        .into_iter()
        .map(|(verdict, words)| (of(verdict), words))
        .filter(|(n, _)| *n > 0)
        .map(|(n, words)| format!("{n} {words}"))
        .collect();
        let face = match of("passes") == left.len() {
            true => Face::Regular,
            false => Face::Bold,
        };
        let text = format!("{}; all are told after the checks.", told.join(", "));
        flow.paragraph(face, TEXT, &text);
    }
    flow.heading(2, "The stations");
    let names: Vec<String> = station_lines(view)
        .iter()
        .enumerate()
        .map(|(i, line)| format!("{}  {line}", i + 1))
        .collect();
    match drawing(view) {
        Some(drawing) if cut.drawn && names.len() <= 24 => draw_stations(flow, &drawing, &names),
        _ => flow.paragraph(Face::Regular, TEXT, &names.join("; ")),
    }
    flow.space(6.0);
    let cautions: Vec<String> = view.cautions.iter().map(|c| capital(c)).collect();
    flow.framed(8.0, &(cautions.join(". ") + "."));
    match signature_lines(view) {
        Some(lines) => flow.signature(&lines),
        None => flow.paragraph(Face::Bold, TEXT, NOT_SIGNED),
    }
    let integrity = &view.integrity;
    let intact = match &integrity.first_problem {
        None => String::new(),
        Some(problem) => format!(" NOT INTACT: {problem}."),
    };
    let record = format!(
        "Record {} of {} entries and {} clips; compare it with what \"loadwalk verify\" says.{intact}",
        integrity.code(),
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
    if let Some(outline) = drawing.outline {
        let [left, top, right, bottom] = outline.map(|v| v as f32 * WIDTH);
        let corners = [[left, top], [right, top], [right, bottom], [left, bottom]];
        parts.push(Ink::Shape {
            points: corners.map(|[x, y]| [x, y + 14.0]).to_vec(),
            filled: false,
        });
    }
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
        "The load and its stations from above, forward is up. {}",
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
