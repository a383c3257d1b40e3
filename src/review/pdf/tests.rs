use super::Paper;
use super::fonts::{Face, Fonts};
use super::layout::{Column, Flow, Ink, Layout, Row};
use super::report::{check_row, checks, foot};
use super::summary::summary;
use crate::record::samples::{PLAN, StepClock, answered, opened};
use crate::record::{NoteView, Record, View, view};
use crate::walk::{CapacityLine, Outcome};

/// A walk of two corners with nothing answered, so four open checks.
fn open_walk() -> View {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("walk");
    let mut record = Record::create(&folder, PLAN, Box::new(StepClock::at(0))).unwrap();
    record.append(&opened()).unwrap();
    drop(record);
    view(&folder).unwrap()
}

/// The pages of the summary and the words on the first one.
fn laid_out(view: &View, paper: Paper) -> (usize, String) {
    let fonts = Fonts::new().unwrap();
    let (width, height) = paper.points();
    let (flow, _) = summary(view, || Flow::new(&fonts, width, height));
    let layout = flow.finish();
    let words = layout.pages[0].iter().filter_map(|(_, ink)| match ink {
        Ink::Text { text, y, .. } => {
            assert!(*y < height - 30.0, "`{text}` lies off the page");
            Some(text.as_str())
        }
        _ => None,
    });
    let words = words.collect::<Vec<_>>().join(" ");
    (layout.pages.len(), words)
}

#[test]
fn the_summary_stays_one_page_whatever_stands_against_the_load() {
    let mut view = open_walk();
    let stations = view.checks.clone();
    for paper in [Paper::A4, Paper::Letter] {
        for lines in [0, 12, 150] {
            for fails in [0, 25] {
                for corners in [12, 40] {
                    view.against = (0..lines)
                        .map(|i| {
                            format!("rear left corner, hook pin {i} missing and its keeper open")
                        })
                        .collect();
                    view.capacity = (0..30)
                        .map(|i| CapacityLine {
                            question: format!("question {i}"),
                            passes: i >= fails,
                            spoken: "1,240 of 900 kilograms".to_owned(),
                            look: String::new(),
                        })
                        .collect();
                    view.checks.clear();
                    for corner in 0..corners {
                        let mut check = stations[0].clone();
                        check.station = format!("corner {corner}");
                        check.place_m = Some([f64::from(corner), 1.0]);
                        view.checks.push(check);
                    }
                    let (pages, words) = laid_out(&view, paper);
                    let case = format!("{paper:?} {lines} {fails} {corners}: {words}");
                    assert_eq!(pages, 1, "{case}");
                    let shown = words.matches("hook pin").count();
                    assert!(shown >= lines.min(8), "{case}");
                    if shown < lines {
                        let more = format!("AND {} MORE, {lines} in all", lines - shown);
                        assert!(words.contains(&more), "{case}");
                    }
                    let failing = words.matches("FAILS").count();
                    if failing < fails {
                        let more = format!("{} MORE FAIL", fails - failing);
                        assert!(words.contains(&more), "{case}");
                    }
                }
            }
        }
    }
}

#[test]
fn what_fits_is_not_cut() {
    let mut view = open_walk();
    view.against = (0..10).map(|i| format!("deficiency {i}")).collect();
    let (pages, words) = laid_out(&view, Paper::Letter);
    assert_eq!(pages, 1);
    assert!(!words.contains("MORE"), "{words}");
    for line in &view.against {
        assert!(words.contains(line), "{words}");
    }
    assert!(words.contains("forward"), "the stations are drawn: {words}");
}

#[test]
fn one_deficiency_longer_than_a_page_is_told_after_the_checks() {
    let mut view = open_walk();
    view.against = vec!["the strap is worn ".repeat(900)];
    let (pages, words) = laid_out(&view, Paper::A4);
    assert_eq!(pages, 1);
    assert!(words.contains("AND 1 MORE, 1 in all"), "{words}");
}

#[test]
fn a_copy_is_named_at_the_foot() {
    let view = open_walk();
    let fonts = Fonts::new().expect("fonts");
    let foot = |view: &_, title: &str, copy| foot(view, &fonts, title, copy, 430.0);
    let own = foot(&view, "Inspection of beams", Some("crew"));
    assert!(own.starts_with("Copy: crew. Inspection of beams"), "{own}");
    assert!(!foot(&view, "Inspection of beams", None).contains("Copy"));
}

#[test]
fn letters_that_the_font_lacks_are_counted_on_the_first_page() {
    let mut view = open_walk();
    let told = |view: &View| {
        let words = laid_out(view, Paper::A4).1;
        words.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert!(!told(&view).contains("cannot be printed"));
    // Printed after the first page, and each letter counted once.
    view.checks[0].deficiency = Some("\u{524d}\u{90e8}\u{30d4}\u{30f3}\u{524d}".to_owned());
    let words = told(&view);
    let line = "4 different letters of this record cannot be printed here and stand as \"?\"";
    assert!(words.contains(line), "{words}");
}

#[test]
fn an_answer_of_another_day_or_zone_is_told_with_them_and_a_note_with_its_clip() {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("walk");
    let mut record = Record::create(&folder, PLAN, Box::new(StepClock::at(0))).unwrap();
    record.append(&opened()).unwrap();
    let pin = answered("front-left/hook-pin", "present", Outcome::Conforming);
    record.append(&pin).unwrap();
    drop(record);
    let mut view = view(&folder).unwrap();
    let told = |view: &View| check_row(view, &view.checks[0]).cells[2].1.clone();
    assert!(
        told(&view).contains("; 07:40:12, entry 1)"),
        "{}",
        told(&view)
    );
    for wall in [
        "2031-06-03T07:40:12.500+02:00[Europe/Vienna]",
        "2031-06-02T07:40:12.500+03:00[Europe/Sofia]",
    ] {
        view.checks[0].answers[0].wall = wall.to_owned();
        let plain = format!("; {} 07:40:12 {}, entry 1)", &wall[..10], &wall[23..29]);
        assert!(told(&view).contains(&plain), "{plain}: {}", told(&view));
    }
    view.checks[0].notes.push(NoteView {
        entry: 2,
        wall: view.started.clone(),
        transcript: "hangs by its lanyard".to_owned(),
        typed: false,
        by_tool: false,
        clip: "0002-note-1.wav".to_owned(),
        clip_sha256: "ab".repeat(32),
    });
    assert!(
        told(&view).contains("lanyard\u{201d}\n0002-note-1.wav abababab"),
        "{}",
        told(&view)
    );
}

#[test]
fn a_practice_walk_has_no_line_to_sign_on() {
    let mut view = open_walk();
    let (_, words) = laid_out(&view, Paper::A4);
    assert!(
        words.contains("Second person: name, date, signature"),
        "{words}"
    );
    view.practice = Some(crate::record::Debrief::default());
    let (_, words) = laid_out(&view, Paper::A4);
    assert!(words.contains("A practice walk is not signed"), "{words}");
    assert!(words.contains("Practice walk: "), "{words}");
    assert!(!words.contains("signature"), "{words}");
}

/// The texts of each page, from above.
fn texts(layout: &Layout) -> Vec<Vec<&str>> {
    let mut pages = Vec::new();
    for page in &layout.pages {
        let texts = page.iter().filter_map(|(_, ink)| match ink {
            Ink::Text { text, .. } => Some(text.trim_end()),
            _ => None,
        });
        pages.push(texts.collect());
    }
    pages
}

#[test]
fn no_page_ends_with_the_head_of_a_table_or_a_heading_alone() {
    let mut view = open_walk();
    let fonts = Fonts::new().unwrap();
    let (width, height) = Paper::A4.points();
    // A row of few lines, of half a page, and of more than one.
    for lines in [1, 30, 120] {
        view.checks[0].deficiency = Some("the pin is bent\n".repeat(lines));
        // The page is full to this place before the checks begin.
        for above in (0..780).step_by(12) {
            let mut flow = Flow::new(&fonts, width, height);
            flow.space(above as f32);
            checks(&mut flow, &view);
            let layout = flow.finish();
            for page in texts(&layout) {
                let last = page.last().copied().unwrap_or("row");
                let alone = [
                    "Checks",
                    "front left corner",
                    "front right corner",
                    "Expected",
                ];
                assert!(!alone.contains(&last), "{lines} {above}: {page:?}");
            }
        }
    }
}

#[test]
fn a_first_row_that_fits_on_a_page_goes_there_whole_with_its_head() {
    let fonts = Fonts::new().unwrap();
    let (width, height) = Paper::A4.points();
    let columns = [Column {
        title: "Check",
        share: 1.0,
    }];
    let mut flow = Flow::new(&fonts, width, height);
    flow.space(600.0);
    let cells = vec![(Face::Regular, "a line\n".repeat(20))];
    flow.table(&columns, vec![Row { cells, bad: false }]);
    let layout = flow.finish();
    let pages = texts(&layout);
    assert_eq!(pages.len(), 2);
    assert_eq!(pages[0], [""; 0]);
    assert_eq!(pages[1].iter().filter(|t| **t == "a line").count(), 20);
    assert_eq!(pages[1].iter().filter(|t| **t == "Check").count(), 1);
}
