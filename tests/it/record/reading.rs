//! What a reader gets: the view, `show`, the schema, a verdict that the entries do not bear.

use super::samples::{
    PLAN, RIGGER_SAYS, Sample, asked, clock, completed, heard, id, opened_with_count, taken,
};
use loadwalk::record::{
    Place, ProblemKind, Record, State, Status, clip_wav, clock_time, sha256_hex, show, text, view,
};
use loadwalk::review;
use loadwalk::walk::{Decision, Entry, Heard, Note, Outcome, Pattern, Stage};
use std::fs;

/// A walk with everything that a reader must see: a refused and a doubted utterance, a correction,
/// a stand-by, a deficiency put right, a note, a second deficiency that stays.
fn full() -> Sample {
    let sample = Sample::empty();
    let mut record = Record::create(&sample.folder, PLAN, clock()).unwrap();
    let pin = "front-left/hook-pin";
    let links = "front-left/hook-links";
    let mut put = |entry: Entry| record.append(&entry).unwrap();
    put(opened_with_count());
    put(asked(pin));
    put(Entry::Refused {
        check: Some(id(pin)),
        hearing: heard(
            Decision::Refuse {
                reason: "too quiet".to_owned(),
            },
            "<a remark & more>",
        ),
    });
    put(answered(pin, "present", Outcome::Conforming, Stage::Walk));
    put(Entry::Control {
        control: "correction".to_owned(),
        check: Some(id(pin)),
        hearing: taken("control", "correction"),
        deficiency: None,
    });
    put(asked(pin));
    put(answered(
        pin,
        "missing",
        deficient("front left hook pin missing"),
        Stage::Correction,
    ));
    put(Entry::Noted {
        check: Some(id(pin)),
        note: Note {
            machine_transcript: "pin hangs by its lanyard".to_owned(),
            clip: String::new(),
            clip_sha256: String::new(),
            typed: false,
            by_tool: false,
        },
    });
    put(Entry::PutRight {
        check: id(pin),
        again: vec![id(pin)],
        hearing: taken("fixing", "fixed"),
    });
    put(Entry::Held {
        why: "standing by".to_owned(),
        check: Some(id(pin)),
    });
    put(Entry::Carried {
        check: Some(id(pin)),
    });
    put(answered(
        pin,
        "present",
        Outcome::Conforming,
        Stage::Reinspection,
    ));
    put(asked(links));
    put(Entry::Doubted {
        check: id(links),
        hearing: taken("count", "2"),
    });
    put(answered(
        links,
        "2",
        deficient("front left hook links 2, not 3"),
        Stage::Walk,
    ));
    put(completed(false));
    drop(record);
    sample
}

fn deficient(name: &str) -> Outcome {
    Outcome::Deficient {
        deficiency: name.to_owned(),
    }
}

fn answered(check: &str, value: &str, outcome: Outcome, stage: Stage) -> Entry {
    let rule = if check.ends_with("links") {
        "count"
    } else {
        "presence"
    };
    Entry::Answered {
        check: id(check),
        value: value.to_owned(),
        outcome,
        stage,
        heard: Heard {
            hearing: taken(rule, value),
            confirmed_by: None,
        },
    }
}

#[test]
fn a_view_tells_what_counts_and_what_no_longer_does() {
    let sample = full();
    let view = view(&sample.folder).unwrap();
    assert_eq!(view.integrity.problems, []);
    assert_eq!(view.state, State::NotReady);
    let pin = &view.checks[0];
    assert_eq!(pin.status, Status::Conforming);
    assert_eq!((pin.asked, pin.refused), (2, 1));
    let stands: Vec<bool> = pin.answers.iter().map(|a| a.stands).collect();
    assert_eq!(stands, [false, false, true]);
    assert_eq!(pin.notes.len(), 1);
    let links = &view.checks[1];
    assert_eq!(links.status, Status::Deficient);
    assert_eq!(
        (links.expected.as_str(), links.answers[0].said.as_str()),
        ("3 links", "2 links")
    );
    assert_eq!(view.against.len(), 1);
    let deficiencies: Vec<(bool, Option<u64>)> = view
        .deficiencies
        .iter()
        .map(|d| (d.stands, d.put_right))
        .collect();
    assert_eq!(deficiencies, [(false, Some(8)), (true, None)]);
    assert_eq!(view.holds.len(), 1);
    assert!(view.holds[0].held_ms.is_some());
    let c = view.counts;
    assert_eq!(
        (c.answered, c.refused, c.doubted, c.corrected, c.put_right),
        (4, 1, 1, 1, 1)
    );
    assert_eq!(view.timeline.len(), 15);
}

#[test]
fn the_same_said_again_is_no_correction_and_one_rule_counts_them() {
    let sample = Sample::empty();
    let mut record = Record::create(&sample.folder, PLAN, clock()).unwrap();
    let (pin, links) = ("front-left/hook-pin", "front-left/hook-links");
    let present = |stage| answered(pin, "present", Outcome::Conforming, stage);
    let correction = |check| Entry::Control {
        control: "correction".to_owned(),
        check: Some(id(check)),
        hearing: taken("control", "correction"),
        deficiency: None,
    };
    let missing = deficient("front left hook pin missing");
    let two = deficient("front left hook links 2, not 3");
    for entry in [
        opened_with_count(),
        answered(pin, "missing", missing, Stage::Walk),
        Entry::PutRight {
            check: id(pin),
            again: vec![id(pin)],
            hearing: taken("fixing", "fixed"),
        },
        present(Stage::Reinspection),
        // Called off once more, and once more after it was called wrong.
        present(Stage::Correction),
        correction(pin),
        present(Stage::Correction),
        answered(links, "2", two, Stage::Walk),
        answered(links, "3", Outcome::Conforming, Stage::Correction),
        // What was looked at again may be called wrong too.
        correction(pin),
        answered(
            pin,
            "missing",
            deficient("front left hook pin missing"),
            Stage::Reinspection,
        ),
    ] {
        record.append(&entry).unwrap();
    }
    drop(record);
    let view = view(&sample.folder).unwrap();
    let told = |at: usize| -> Vec<(bool, Option<u64>)> {
        let answers = view.checks[at].answers.iter();
        answers.map(|a| (a.corrects, a.said_again)).collect()
    };
    let again = [None, Some(4), Some(6), None, None];
    let mut wanted = again.map(|again| (false, again));
    wanted[4].0 = true;
    assert_eq!(told(0), wanted);
    assert_eq!(told(1), [(false, None), (true, None)]);
    assert_eq!(view.counts.corrected, 2);
    // The word as it was heard stays.
    assert_eq!(view.checks[0].answers[3].stage, Stage::Correction);

    let text = text(&view);
    assert_eq!(text.matches(", corrected [").count(), 2, "{text}");
    assert!(text.contains("missing, corrected [typed"), "{text}");
    assert!(text.contains("3 links, corrected [typed"), "{text}");
    assert!(text.contains("present, said again [typed"), "{text}");
    assert!(
        text.contains("said again in entry 4: present, re-inspected [typed"),
        "{text}"
    );
    assert_eq!(text.matches("no longer stands: ").count(), 3, "{text}");
    let page = review::html(&view, None, None);
    assert!(
        page.contains("said again, said again in entry 6; typed"),
        "{page}"
    );
    assert_eq!(page.matches(">correction; ").count(), 2, "{page}");
    let table = review::csv(&view);
    assert_eq!(table.matches(",said again,").count(), 2, "{table}");
    assert_eq!(table.matches(",correction,").count(), 2, "{table}");
}

#[test]
fn show_prints_the_record_as_text() {
    let text = show(&full().folder).unwrap();
    for words in [
        "inspected by Ida Fern, rigged by Tom Alder",
        "complete: NOT READY",
        "LOOK  aircraft: 640 of 900 kilograms. For a qualified person: Front left leg",
        "confirm more: Ida Fern on headset, 9 of 12 words taken at once",
        "no longer stands: missing, corrected",
        "DEFICIENT",
        "(expected 3 links)",
        "put right in entry 8",
        "machine transcript: \"pin hangs by its lanyard\"",
        "stood still",
        "does not apply to this load",
        "a person signs, never the tool",
    ] {
        assert!(text.contains(words), "{words:?} is not in\n{text}");
    }
}

#[test]
fn when_and_by_which_sound_a_fault_was_fixed_or_left_open_is_told() {
    let sample = Sample::empty();
    let mut record = Record::create(&sample.folder, PLAN, clock()).unwrap();
    let (pin, links) = ("front-left/hook-pin", "front-left/hook-links");
    record.append(&opened_with_count()).unwrap();
    let missing = deficient("front left hook pin missing");
    let missing = answered(pin, "missing", missing, Stage::Walk);
    record.append(&missing).unwrap();
    let mut hearing = taken("fixing", "fixed");
    let clip = record.write_clip(pin, &clip_wav(&[0.1; 160])).unwrap();
    (hearing.clip, hearing.clip_sha256) = (clip.file, clip.sha256);
    let fixed = Entry::PutRight {
        check: id(pin),
        again: vec![id(pin)],
        hearing: hearing.clone(),
    };
    record.append(&fixed).unwrap();
    let there = answered(pin, "present", Outcome::Conforming, Stage::Reinspection);
    record.append(&there).unwrap();
    let two = deficient("front left hook links 2, not 3");
    record
        .append(&answered(links, "2", two, Stage::Walk))
        .unwrap();
    let left = Entry::Control {
        control: "leave".to_owned(),
        check: Some(id(links)),
        hearing: taken("fixing", "leave it open"),
        deficiency: None,
    };
    record.append(&left).unwrap();
    record.append(&completed(false)).unwrap();
    drop(record);
    let view = view(&sample.folder).unwrap();
    let at = |entry: usize| clock_time(&view.entries[entry].wall);
    let lines = [
        format!(
            "put right in entry 2 ({}, Ida Fern: heard \"fixed\" 0.91 {})",
            at(2),
            hearing.clip
        ),
        format!(
            "left open in entry 5 ({}, Ida Fern: typed \"leave it open\"); it stands",
            at(5)
        ),
    ];
    let page = review::html(&view, None, None).replace("&quot;", "\"");
    let table = review::csv(&view).replace("\"\"", "\"");
    let text = text(&view);
    for line in &lines {
        for export in [&text, &page, &table] {
            assert!(export.contains(line), "{line} is not in\n{export}");
        }
    }
    // Each answer has its time.
    let answer = &view.checks[1].answers[0];
    let timed = format!("2 links [typed, {}]", &at(4)[11..19]);
    assert_eq!(answer.entry, 4);
    assert!(text.contains(&timed), "{timed} is not in\n{text}");
    let json = serde_json::to_value(&view.deficiencies).unwrap();
    assert_eq!(json[0]["put_right"], 2);
    assert_eq!(json[0]["put_right_by"]["clip"], hearing.clip);
    assert_eq!(json[1]["left_open"]["wall"], view.entries[5].wall);
}

#[test]
fn the_json_of_a_view_keeps_its_shape() {
    let view = serde_json::to_value(view(&full().folder).unwrap()).unwrap();
    let keys = |value: &serde_json::Value| {
        let keys: Vec<String> = value.as_object().unwrap().keys().cloned().collect();
        keys.join(" ")
    };
    assert_eq!(view["format"], 2);
    assert_eq!(
        keys(&view),
        "format load inspector rigger plan_sha256 started last recorded_ms state walked_state \
         held capacity tryout against not_applicable deficiencies open checks outline_m notes amendments left_out holds sound_removed rhythms counts \
         timeline integrity cautions"
    );
    assert_eq!(
        keys(&view["checks"][0]),
        "check station name ask expected place_m status walked deficiency why answers asked \
         refused doubted rigger_mark notes amendments"
    );
    assert_eq!(view["checks"][1]["status"], "deficient");
    assert_eq!(view["checks"][1]["answers"][0]["heard"]["words"], "2");
    assert_eq!(view["state"], "not-ready");
}

#[test]
fn an_answer_that_its_evidence_does_not_bear_is_named() {
    // Somebody who writes the whole chain anew still has to write a walk that could have been.
    let sample = Sample::empty();
    let mut record = Record::create(&sample.folder, PLAN, clock()).unwrap();
    record.append(&opened_with_count()).unwrap();
    record
        .append(&answered(
            "front-left/hook-links",
            "2",
            Outcome::Conforming,
            Stage::Walk,
        ))
        .unwrap();
    drop(record);
    sample.expect(Place::Entry(1), ProblemKind::Unfit);

    let sample = Sample::empty();
    let mut record = Record::create(&sample.folder, PLAN, clock()).unwrap();
    record.append(&opened_with_count()).unwrap();
    record.append(&completed(true)).unwrap();
    drop(record);
    sample.expect(Place::Entry(1), ProblemKind::Unfit);
}

#[test]
fn a_rhythm_in_which_nobody_looks_is_shown() {
    let sample = Sample::empty();
    let mut record = Record::create(&sample.folder, PLAN, clock()).unwrap();
    record.append(&opened_with_count()).unwrap();
    record
        .append(&Entry::Calling {
            station: "front-left".to_owned(),
            which: false,
        })
        .unwrap();
    let pin = "front-left/hook-pin";
    record
        .append(&answered(pin, "present", Outcome::Conforming, Stage::Walk))
        .unwrap();
    record
        .append(&Entry::Rhythm {
            checks: vec![id(pin)],
            pattern: Pattern::Chant,
            again: Some(id(pin)),
        })
        .unwrap();
    drop(record);
    let shown = show(&sample.folder).unwrap();
    assert!(shown.contains("rhythm in which nobody looks"), "{shown}");
    assert!(
        shown.contains("the same answer over and over") && shown.contains("was asked again"),
        "{shown}"
    );
    let view = view(&sample.folder).unwrap();
    assert_eq!(
        view.checks[0].status,
        Status::Open,
        "its answer no longer stands"
    );
    assert_eq!(view.timeline[0].text, "findings called off at front-left");
}

#[test]
fn every_line_keeps_to_the_published_schema() {
    let schema = include_str!("../../../src/record/journal.schema.json");
    let schema: serde_json::Value = serde_json::from_str(schema).unwrap();
    let mut compiler = boon::Compiler::new();
    let mut schemas = boon::Schemas::new();
    compiler
        .add_resource("journal.schema.json", schema)
        .unwrap();
    let index = compiler
        .compile("journal.schema.json", &mut schemas)
        .unwrap();
    for sample in [full(), Sample::complete()] {
        for line in sample.lines() {
            let line: serde_json::Value = serde_json::from_str(&line).unwrap();
            if let Err(error) = schemas.validate(&line, index) {
                panic!("{error:#}\n{line:#}");
            }
        }
    }
    // What a walk writes where findings are called off, and where a review sent a check back.
    let called = [
        Entry::Control {
            control: "sent-back".to_owned(),
            check: Some(id("front-left/hook-pin")),
            hearing: taken("control", "sent-back"),
            deficiency: Some("front left hook pin missing".to_owned()),
        },
        Entry::Calling {
            station: "front-left".to_owned(),
            which: false,
        },
        Entry::Rhythm {
            checks: vec![id("front-left/hook-pin")],
            pattern: Pattern::Fast,
            again: Some(id("front-left/hook-pin")),
        },
    ];
    for entry in called {
        let mut line = sample_line();
        line["entry"] = serde_json::to_value(entry).unwrap();
        if let Err(error) = schemas.validate(&line, index) {
            panic!("{error:#}\n{line:#}");
        }
    }
    // The schema refuses what is not a line.
    let line = sample_line();
    assert!(schemas.validate(&line, index).is_ok());
    for (key, value) in [
        ("seq", "x".into()),
        ("prev", "00".into()),
        ("more", 1.into()),
    ] {
        let mut wrong: serde_json::Value = line.clone();
        wrong[key] = value;
        assert!(schemas.validate(&wrong, index).is_err(), "{key}");
    }
}

fn sample_line() -> serde_json::Value {
    serde_json::json!({
        "seq": 3,
        "wall": "2031-06-02T07:40:12.305+02:00[Europe/Vienna]",
        "mono_ms": 9_000,
        "clock": "set-back",
        "prev": sha256_hex(b"a line"),
        "entry": {"entry": "held", "why": "headset lost", "check": null}
    })
}

#[test]
fn a_record_that_holds_nothing_says_so() {
    let sample = Sample::empty();
    fs::create_dir(&sample.folder).unwrap();
    let error = view(&sample.folder).unwrap_err();
    assert!(
        error.to_string().contains("holds no journal.jsonl"),
        "{error}"
    );
    fs::write(sample.journal(), "").unwrap();
    let error = view(&sample.folder).unwrap_err();
    assert!(
        error.to_string().contains("the journal is empty"),
        "{error}"
    );
}

/// "Intact: 0 entries" was said of a record whose journal was emptied.
#[test]
fn an_emptied_journal_is_not_intact() {
    let sample = full();
    fs::write(sample.folder.join("journal.jsonl"), "").unwrap();
    let found = loadwalk::record::verify(&sample.folder, &[]).unwrap();
    let removed = |p: &loadwalk::record::Problem| p.kind == ProblemKind::Removed;
    assert!(found.problems.iter().any(removed), "{:?}", found.problems);
}

#[test]
fn the_riggers_own_marks_stand_beside_the_answers_and_are_none() {
    let sample = Sample::empty();
    let mut record = Record::create(&sample.folder, PLAN, clock()).unwrap();
    record.append(&opened_with_count()).unwrap();
    let view = view(&sample.folder).unwrap();
    assert_eq!(view.checks[0].rigger_mark.as_deref(), Some(RIGGER_SAYS));
    assert_eq!(view.checks[1].rigger_mark, None);
    assert_eq!(view.checks[0].status, Status::Open, "a mark is no answer");
    assert!(text(&view).contains("the rigger's mark: pinned & moused\n"));
    let html = loadwalk::review::html(&view, None, None);
    assert!(html.contains("The rigger's mark: pinned &amp; moused"));
    let csv = loadwalk::review::csv(&view);
    assert!(csv.lines().next().unwrap().contains(",rigger_mark,"));
    assert!(csv.contains(",pinned & moused,"));
}
