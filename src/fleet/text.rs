//! Lists and trends as text.

use super::query::{CheckRow, GroupRow, Row, Trends};
use crate::record::plain;
use std::fmt::Write as _;

/// A table: a head, then rows; columns that start with a digit in every row stand to the right.
pub(super) fn table(head: &[&str], rows: &[Vec<String>]) -> String {
    // Once a column, not once a cell: a list has 100,000 rows.
    let columns: Vec<(usize, bool)> = (0..head.len())
        .map(|i| {
            let cells = || rows.iter().filter_map(|row| row.get(i));
            let widest = cells().map(|c| c.chars().count()).max().unwrap_or(0);
            let right =
                cells().all(|c| c == "-" || c.trim_end_matches(" %").parse::<f64>().is_ok());
            (widest.max(head[i].chars().count()), right)
        })
        .collect();
    let line = |cells: &mut dyn Iterator<Item = &str>| {
        let mut text = String::from(" ");
        for (cell, &(width, right)) in cells.zip(&columns) {
            let pad = " ".repeat(width.saturating_sub(cell.chars().count()));
            let (before, after) = if right {
                (pad.as_str(), "")
            } else {
                ("", pad.as_str())
            };
            // Writing to a string cannot fail.
            let _ = write!(text, " {before}{cell}{after} ");
        }
        format!("{}\n", text.trim_end())
    };
    let mut text = line(&mut head.iter().copied());
    for row in rows {
        text.push_str(&line(&mut row.iter().map(String::as_str)));
    }
    text
}

/// Records, a line each.
pub fn list_text(rows: &[Row]) -> String {
    let head = [
        "day",
        "load",
        "inspector",
        "rigger",
        "state",
        "checks",
        "found",
        "deficient",
        "open",
        "minutes",
        "sealed",
        "sound",
        "record",
    ];
    let cells: Vec<Vec<String>> = rows
        .iter()
        .map(|r| match &r.problem {
            Some(why) => {
                let mut cells = vec!["-".to_owned(); 12];
                cells[4] = "unreadable".to_owned();
                cells.push(plain(&format!("{}: {why}", r.folder)));
                cells
            }
            None => vec![
                r.day.clone(),
                plain(&r.load),
                plain(&r.inspector),
                plain(&r.rigger),
                r.state.replace('-', " "),
                r.checks.to_string(),
                r.found.to_string(),
                r.deficient.to_string(),
                r.open.to_string(),
                format!("{:.1}", r.walked_ms as f64 / 60_000.0),
                if r.sealed { "yes" } else { "no" }.to_owned(),
                sound(r),
                plain(&r.folder),
            ],
        })
        .collect();
    table(&head, &cells)
}

/// Whether the sound is still there.
fn sound(r: &Row) -> String {
    match (r.sound_removed, r.clips) {
        (_, 0) => "none".to_owned(),
        (0, _) => "kept".to_owned(),
        (removed, clips) if removed == clips => "removed".to_owned(),
        (removed, clips) => format!("{removed} of {clips} removed"),
    }
}

fn percent(part: u64, whole: u64) -> String {
    match whole {
        0 => "-".to_owned(),
        _ => format!("{:.1} %", 100.0 * part as f64 / whole as f64),
    }
}

fn minutes(value: Option<f64>) -> String {
    value.map_or_else(|| "-".to_owned(), |m| format!("{m:.1}"))
}

fn group_cells(name: String, g: &GroupRow) -> Vec<String> {
    vec![
        name,
        g.walks.to_string(),
        percent(g.ready, g.walks),
        percent(g.with_deficiency, g.walks),
        percent(g.with_reinspection, g.walks),
        percent(g.asked_again, g.asked),
        minutes(g.median_min),
        minutes(g.nine_tenths_min),
    ]
}

const GROUP_HEAD: [&str; 7] = [
    "walks",
    "ready",
    "with deficiency",
    "re-inspected",
    "asked again",
    "middle min",
    "9 of 10 min",
];

fn groups(out: &mut String, title: &str, rows: &[GroupRow]) {
    let head: Vec<&str> = std::iter::once(title).chain(GROUP_HEAD).collect();
    let cells: Vec<_> = rows
        .iter()
        .map(|g| group_cells(named(&g.group), g))
        .collect();
    out.push_str(&table(&head, &cells));
}

fn named(group: &str) -> String {
    if group.is_empty() {
        "(not known)".to_owned()
    } else {
        plain(group)
    }
}

/// What records tell together, in tables.
pub fn trends_text(t: &Trends) -> String {
    let mut out = String::from("walks\n");
    let head: Vec<&str> = std::iter::once("").chain(GROUP_HEAD).collect();
    out.push_str(&table(&head, &[group_cells("all".to_owned(), &t.all)]));
    if let Some(by) = t.by {
        let _ = writeln!(out, "\nby {by}");
        groups(&mut out, by, &t.groups);
    }
    out.push_str("\nchecks that fail most\n");
    let mut head = vec![
        "check",
        "walks",
        "deficient",
        "share",
        "re-inspected",
        "asked again",
    ];
    if let Some(by) = t.by {
        head.insert(0, by);
    }
    let cells: Vec<Vec<String>> = t
        .checks
        .iter()
        .map(|c| check_cells(c, t.by.is_some()))
        .collect();
    out.push_str(&table(&head, &cells));
    if t.by != Some("week") {
        out.push_str("\nby week\n");
        groups(&mut out, "week", &t.weeks);
    }
    out.push_str("\nutterances by signal to noise\n");
    let cells: Vec<Vec<String>> = t
        .noise
        .iter()
        .enumerate()
        .map(|(i, n)| {
            let name = match i {
                0 if n.from_db <= 0 => "below 5 dB".to_owned(),
                _ => format!("from {} dB", n.from_db),
            };
            vec![
                name,
                n.heard.to_string(),
                n.not_taken.to_string(),
                percent(n.not_taken, n.heard),
            ]
        })
        .collect();
    out.push_str(&table(
        &["noise", "heard", "not taken at once", "share"],
        &cells,
    ));
    if t.unreadable > 0 {
        let _ = writeln!(
            out,
            "\n{} records or folders are not intact or cannot be read, and do not count; `loadwalk list --state unreadable` names them",
            t.unreadable
        );
    }
    if t.copies > 0 {
        let _ = writeln!(
            out,
            "\ncopies of other records, not counted: {}; `loadwalk list` names them",
            t.copies
        );
    }
    out
}

fn check_cells(c: &CheckRow, grouped: bool) -> Vec<String> {
    let mut cells = vec![
        plain(&c.place),
        c.walks.to_string(),
        c.deficient.to_string(),
        percent(c.deficient, c.walks),
        c.reinspected.to_string(),
        c.asked_again.to_string(),
    ];
    if grouped {
        cells.insert(0, named(&c.group));
    }
    cells
}
