//! Sound removed on purpose.

use super::samples::Sample;
use jiff::SignedDuration;
use loadwalk::record::{Clock, ForgetError, Place, ProblemKind, SystemClock, forget_sound, view};
use std::fs;

const NONE: SignedDuration = SignedDuration::ZERO;

#[test]
fn without_its_sound_a_sealed_record_still_proves_hashes_and_text() {
    let sample = Sample::sealed();
    let before = view(&sample.folder).unwrap();
    let now = SystemClock::default();
    assert_eq!(forget_sound(&sample.folder, NONE, &now).unwrap(), 1);
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
    assert_eq!(forget_sound(&sample.folder, NONE, &now).unwrap(), 0);

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
    assert_eq!(forget_sound(&sample.folder, day, &SetBack).unwrap(), 0);
    assert_eq!(forget_sound(&sample.folder, NONE, &SetBack).unwrap(), 1);
    assert!(!sample.clip().exists());
}

#[test]
fn young_sound_and_sound_of_a_changed_record_stay() {
    let sample = Sample::complete();
    let now = SystemClock::default();
    let day = SignedDuration::from_hours(24);
    assert_eq!(forget_sound(&sample.folder, day, &now).unwrap(), 0);
    assert!(sample.clip().exists());
    let mut lines = sample.lines();
    lines[3] = lines[3].replace("frayed", "good");
    sample.write_lines(&lines);
    let error = forget_sound(&sample.folder, NONE, &now).unwrap_err();
    assert!(matches!(error, ForgetError::NotIntact(_)), "{error}");
    assert!(sample.clip().exists());
}
