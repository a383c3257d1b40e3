//! Sound removed on purpose.

use super::samples::{Sample, answer, clock, completed};
use crate::command::talk::{Talk, loadwalk, ran};
use jiff::SignedDuration;
use loadwalk::record::{
    Clock, ForgetError, Place, ProblemKind, Record, SystemClock, forget_sound, seal, view,
};
use loadwalk::walk::Entry;
use std::fs;

const NONE: SignedDuration = SignedDuration::ZERO;

#[test]
fn without_its_sound_a_sealed_record_still_proves_hashes_and_text() {
    let sample = Sample::sealed();
    let before = view(&sample.folder).unwrap();
    let now = SystemClock::default();
    assert_eq!(forget_sound(&sample.folder, NONE, &now).unwrap().clips(), 1);
    assert!(!sample.clip().exists());
    let found = sample.expect_intact();
    assert!(
        found.notes.iter().any(|n| n.contains("removed on purpose")),
        "{:?}",
        found.notes
    );
    assert!(found.proves.iter().any(|p| p.contains("as Ida Fern")));
    let after = view(&sample.folder).unwrap();
    let (a, b) = (&before.checks[0].answers[0], &after.checks[0].answers[0]);
    assert_eq!(
        (&a.said, &a.heard.clip_sha256),
        (&b.said, &b.heard.clip_sha256)
    );
    assert_eq!(forget_sound(&sample.folder, NONE, &now).unwrap().clips(), 0);

    // The text is proven as before.
    let mut lines = sample.lines();
    lines[3] = lines[3].replace("frayed", "good");
    sample.write_lines(&lines);
    sample.expect(Place::Entry(3), ProblemKind::Changed);
}

#[test]
fn sound_that_came_back_changed_is_named() {
    let sample = Sample::complete();
    forget_sound(&sample.folder, NONE, &SystemClock::default()).unwrap();
    fs::write(sample.clip(), b"RIFF").unwrap();
    let place = Place::Clip {
        file: "0002-front-left-hook-pin-1.wav".to_owned(),
        entry: Some(2),
    };
    sample.expect(place, ProblemKind::Changed);
}

/// A clock set back since the walk: its last entry lies in the future.
struct SetBack;

impl Clock for SetBack {
    fn wall(&self) -> jiff::ZonedDateTime {
        jiff::ZonedDateTime::now() - SignedDuration::from_hours(48)
    }

    fn mono_ms(&self) -> u64 {
        0
    }
}

#[test]
fn a_clock_set_back_keeps_no_sound_that_is_to_go() {
    let sample = Sample::complete();
    let day = SignedDuration::from_hours(24);
    assert_eq!(
        forget_sound(&sample.folder, day, &SetBack).unwrap().clips(),
        0
    );
    assert_eq!(
        forget_sound(&sample.folder, NONE, &SetBack)
            .unwrap()
            .clips(),
        1
    );
    assert!(!sample.clip().exists());
}

#[test]
fn young_sound_and_sound_of_a_changed_record_stay() {
    let sample = Sample::complete();
    let now = SystemClock::default();
    let day = SignedDuration::from_hours(24);
    assert_eq!(forget_sound(&sample.folder, day, &now).unwrap().clips(), 0);
    assert!(sample.clip().exists());
    let mut lines = sample.lines();
    lines[3] = lines[3].replace("frayed", "good");
    sample.write_lines(&lines);
    let error = forget_sound(&sample.folder, NONE, &now).unwrap_err();
    assert!(matches!(error, ForgetError::NotIntact(_)), "{error}");
    assert!(sample.clip().exists());
}

/// `loadwalk` with settings for how long sound is kept.
fn with_settings(sample: &Sample, settings: &str, args: &[&str]) -> std::process::Command {
    let file = sample.folder.with_file_name("inspectors.toml");
    fs::write(&file, settings).unwrap();
    let mut command = loadwalk();
    command.env("LOADWALK_INSPECTORS", file);
    command
        .args(&args[..1])
        .arg(&sample.folder)
        .args(&args[1..]);
    command
}

#[test]
fn sound_is_removed_when_the_settings_say_that_it_is_due() {
    let sample = Sample::complete();
    let due = |settings: &str| {
        let mut command = with_settings(&sample, settings, &["forget-sound", "--due"]);
        let (code, _, told) = ran(&command.output().unwrap());
        assert_eq!(code, 0, "{told}");
        told
    };
    assert!(due("[\"Eva Rowan\"]\nkeep_sound_days = 0\n").contains("no settings say"));
    assert!(due("[\"Ida Fern\"]\nkeep_sound_days = 30\n").contains("too young"));
    // One's own setting comes before that of everybody.
    let both = "[\"Ida Fern\"]\nkeep_sound_days = 30\n[\"*\"]\nkeep_sound_days = 0\n";
    assert!(due(both).contains("too young"));
    assert!(sample.clip().exists());
    assert!(due("[\"*\"]\nkeep_sound_days = 0\n").contains("1 clips removed"));
    assert!(!sample.clip().exists());
    sample.expect_intact();
    // Young as it is, there is nothing left that could stay.
    let told = due("[\"Ida Fern\"]\nkeep_sound_days = 30\n");
    assert!(
        told.contains("there is none") && !told.contains("young"),
        "{told}"
    );
}

/// A slip in the name of a folder must not pass for sound that is kept by the rules.
#[test]
fn a_folder_that_is_no_record_is_told_before_the_settings_are_asked() {
    let sample = Sample::complete();
    let other = sample.folder.with_file_name("nowhere");
    let nowhere = other.to_str().unwrap();
    let settings = sample.folder.with_file_name("none.toml");
    let run = |args: &[&str]| {
        let mut command = loadwalk();
        command.env("LOADWALK_INSPECTORS", &settings).args(args);
        ran(&command.output().unwrap())
    };
    for how in [&["--due"][..], &["--older-than", "0"]] {
        let (code, _, told) = run(&[&["forget-sound", nowhere], how].concat());
        assert_eq!(code, 2, "{told}");
        assert!(
            told.contains("nowhere") && !told.contains("settings"),
            "{told}"
        );
    }
    // It does not keep the others.
    let named = sample.folder.to_str().unwrap();
    let (code, _, told) = run(&["forget-sound", nowhere, named, "--older-than", "0"]);
    assert_eq!(code, 2, "{told}");
    assert!(told.contains("1 clips removed"), "{told}");
}

#[test]
fn a_walk_keeps_no_sound_where_the_settings_say_so_in_advance() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    let none = "[\"Ida Fern\"]\nkeep_sound_days = 0\n";
    let mut talk = Talk::of(with_settings(&sample, none, &["resume"]), &[]);
    assert!(talk.listens());
    assert!(sample.clip().exists(), "it goes when the walk is complete");
    talk.types("yes");
    assert!(!talk.listens(), "{:?}", talk.said);
    talk.child.wait().unwrap();
    assert!(!sample.clip().exists(), "{:?}", talk.said);
    let found = sample.expect_intact();
    assert!(found.notes.iter().any(|n| n.contains("removed on purpose")));
}

/// A clock that is ahead by so many hours: what was said then is that old.
struct Later(i64);

impl Clock for Later {
    fn wall(&self) -> jiff::ZonedDateTime {
        jiff::ZonedDateTime::now() + SignedDuration::from_hours(self.0)
    }

    fn mono_ms(&self) -> u64 {
        0
    }
}

#[test]
fn the_sound_of_an_open_walk_stays_for_a_day() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    for clock in [Later(0), Later(23), Later(-48)] {
        assert_eq!(
            forget_sound(&sample.folder, NONE, &clock).unwrap().clips(),
            0
        );
        assert!(sample.clip().exists());
    }
    let week = SignedDuration::from_hours(7 * 24);
    assert_eq!(
        forget_sound(&sample.folder, week, &Later(25))
            .unwrap()
            .clips(),
        0
    );
    let args = ["forget-sound", "--older-than", "0"];
    let (code, _, told) = ran(&with_settings(&sample, "", &args).output().unwrap());
    assert_eq!(code, 0, "{told}");
    assert!(told.contains("the walk is open"), "{told}");
    assert!(sample.clip().exists());
    assert_eq!(
        forget_sound(&sample.folder, NONE, &Later(25))
            .unwrap()
            .clips(),
        1
    );
    assert!(!sample.clip().exists());
}

#[test]
fn an_open_record_goes_on_without_the_sound_so_far() {
    let sample = Sample::of("Ida Fern", "Tom Alder", false);
    let now = SystemClock::default();
    assert_eq!(
        forget_sound(&sample.folder, NONE, &Later(25))
            .unwrap()
            .clips(),
        1
    );
    let (mut record, _) = Record::open(&sample.folder, clock()).unwrap();
    let error = forget_sound(&sample.folder, NONE, &now).unwrap_err();
    assert!(error.to_string().contains("open in another"), "{error}");
    record.append(&Entry::Resumed { check: None }).unwrap();
    let entry = answer(&mut record, "present");
    record.append(&entry).unwrap();
    record.append(&completed(true)).unwrap();
    drop(record);
    let shown = view(&sample.folder).unwrap();
    assert_eq!(shown.sound_removed, ["0002-front-left-hook-pin-1.wav"]);
    let page = loadwalk::review::html(&shown, Some("clips"), None);
    assert_eq!(page.matches("<audio").count(), 1);
    assert_eq!(page.matches(", sound removed").count(), 1);
    let (key, _) = sample.key("ida");
    seal(&sample.folder, "Ida Fern", &key, &now).unwrap();
    assert_eq!(forget_sound(&sample.folder, NONE, &now).unwrap().clips(), 1);
    sample.expect_intact();
    assert_eq!(view(&sample.folder).unwrap().sound_removed.len(), 2);
}

/// A complete walk of three sounds, at entries 2 to 4.
fn three_sounds() -> Sample {
    let sample = Sample::empty();
    let mut record = Record::create(&sample.folder, super::samples::PLAN, clock()).unwrap();
    let opened = super::samples::opened("Ida Fern", "Tom Alder");
    record.append(&opened).unwrap();
    record
        .append(&super::samples::asked("front-left/hook-pin"))
        .unwrap();
    for _ in 0..3 {
        let entry = answer(&mut record, "present");
        record.append(&entry).unwrap();
    }
    record.append(&completed(true)).unwrap();
    sample
}

/// Whoever takes one sound away can write a list beside it, which nobody signs.
#[test]
fn a_list_that_the_program_cannot_have_written_excuses_no_sound() {
    let day = "1999-05-01T08:00:00+02:00[Europe/Vienna]";
    let now = jiff::ZonedDateTime::now().to_string();
    for sealed in [false, true] {
        let sample = three_sounds();
        let (key, _) = sample.key("ida");
        if sealed {
            seal(&sample.folder, "Ida Fern", &key, &SystemClock::default()).unwrap();
        }
        let clips: Vec<(String, String)> = view(&sample.folder)
            .unwrap()
            .checks
            .iter()
            .flat_map(|c| &c.answers)
            .map(|a| (a.heard.clip.clone(), a.heard.clip_sha256.clone()))
            .collect();
        let [first, second, third] = &clips[..] else {
            panic!("{clips:?}")
        };
        let other = (second.0.clone(), "0".repeat(64));
        let list = sample.folder.join("forgotten-1.json");
        let told = |clips: &[&(String, String)], wall: &str| {
            let clips: std::collections::BTreeMap<_, _> = clips.iter().copied().cloned().collect();
            let text = serde_json::json!({"wall": wall, "clips": clips});
            fs::write(&list, text.to_string()).unwrap();
            sample.verify()
        };
        fs::remove_file(sample.folder.join("clips").join(&second.0)).unwrap();
        let place = Place::Clip {
            file: second.0.clone(),
            entry: Some(3),
        };
        for (clips, why) in [
            (&[second][..], "it lacks `"),
            // All up to it, but the walk went on without a break.
            (&[first, second], "it lacks `"),
            (&[second, third], "it lacks `"),
            (&[first, &other, third], "it has another hash for `"),
        ] {
            let found = told(clips, &now);
            let problem = found.first_problem.expect("a problem");
            assert_eq!(
                (&problem.place, problem.kind),
                (&place, ProblemKind::Removed)
            );
            assert!(problem.detail.contains(why), "{problem}");
            assert!(found.notes.iter().any(|n| n.contains("excuses nothing")));
            assert!(view(&sample.folder).unwrap().sound_removed.is_empty());
        }
        // What the program writes, broken off before the rest went.
        let found = told(&[first, second, third], &now);
        assert_eq!(found.problems, []);
        let named = format!(
            "nobody signed: `{}` to `{}` (2 of them are there)",
            first.0, third.0
        );
        assert!(
            found.notes.iter().any(|n| n.contains(&named)),
            "{:?}",
            found.notes
        );
        let found = told(&[first, second, third], day);
        assert!(
            found
                .notes
                .iter()
                .any(|n| n.contains("is dated before the last of its sounds")),
            "{:?}",
            found.notes
        );
    }
}
