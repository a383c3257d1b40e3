//! The last tryout, kept for the next walk.

use crate::cli::kept::{place, write};
use crate::walk::{Tryout, same_person};
use anyhow::Context;
use jiff::{SignedDuration, ZonedDateTime};
use std::path::PathBuf;

/// How long a tryout counts.
const COUNTS: SignedDuration = SignedDuration::from_hours(12);
/// Names the file; without it `tryout.json` in the user's data folder of loadwalk.
const FILE_VARIABLE: &str = "LOADWALK_TRYOUT";

/// What the last tryout is to a walk that begins.
#[derive(Debug, PartialEq)]
pub enum Last {
    /// It counts.
    Counts(Box<Tryout>),
    /// There is none of the last 12 hours.
    None,
    /// It was with another person or microphone, and what to say of that.
    Other(String),
}

fn file() -> Option<PathBuf> {
    place(FILE_VARIABLE, "tryout.json")
}

/// Keeps a tryout in the place of the last one.
///
/// # Errors
/// Where the file cannot be written.
#[cfg_attr(
    not(feature = "whisper"),
    expect(dead_code, reason = "nothing is tried out without ears")
)]
pub fn keep(tryout: &Tryout) -> anyhow::Result<()> {
    let path = file()
        .context("there is no home folder to keep the result in; name a file in LOADWALK_TRYOUT")?;
    let wrong = || format!("the result cannot be kept in {}", path.display());
    let text = serde_json::to_string_pretty(tryout)?;
    write(&path, &(text + "\n")).with_context(wrong)
}

/// What the last tryout is to a walk of this inspector with this microphone. A file that cannot be read
/// counts as none.
pub fn last(inspector: &str, microphone: &str) -> Last {
    let text = file().and_then(|path| std::fs::read_to_string(path).ok());
    let kept = text.and_then(|text| serde_json::from_str::<Tryout>(&text).ok());
    match kept {
        Some(kept) => fits(kept, inspector, microphone, &ZonedDateTime::now()),
        None => Last::None,
    }
}

fn fits(kept: Tryout, inspector: &str, microphone: &str, now: &ZonedDateTime) -> Last {
    let age = kept
        .wall
        .parse::<ZonedDateTime>()
        .map(|wall| now.duration_since(&wall));
    // A clock that was set back since makes a time to come; that is no time at all.
    if !age.is_ok_and(|age| (SignedDuration::ZERO..=COUNTS).contains(&age)) {
        return Last::None;
    }
    let named = kept.inspector.trim();
    if !named.is_empty() && named != inspector.trim() && !same_person(named, inspector) {
        return Last::Other(format!("the last tryout was spoken by {named}"));
    }
    if kept.microphone != microphone {
        return Last::Other(format!("the last tryout was with {}", kept.microphone));
    }
    Last::Counts(Box::new(kept))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::walk::Advice;

    fn kept(wall: &str, inspector: &str) -> Tryout {
        Tryout {
            wall: wall.to_owned(),
            inspector: inspector.to_owned(),
            microphone: "headset".to_owned(),
            advice: Advice::ConfirmMore,
            reasons: vec!["why".to_owned()],
            words: 12,
            taken: 8,
            confirmed: 2,
            refused: 1,
            misheard: 0,
            unheard: 1,
            speech_dbfs: Some(-20.0),
            noise_dbfs: None,
            snr_db: None,
            clipped: 0.0,
        }
    }

    #[test]
    fn a_tryout_counts_for_half_a_day_for_the_same_person_and_microphone() {
        let now: ZonedDateTime = "2026-07-01T12:00:00+02:00[Europe/Zurich]".parse().unwrap();
        let look =
            |wall: &str, by: &str, who: &str, mic: &str| fits(kept(wall, by), who, mic, &now);
        let morning = "2026-07-01T00:00:00+02:00[Europe/Zurich]";
        let counts = |last: Last| matches!(last, Last::Counts(_));
        assert!(counts(look(morning, "Ida Fern", "Ida Fern", "headset")));
        assert!(counts(look(morning, "", "Ida Fern", "headset")));
        let old = "2026-06-30T23:59:59+02:00[Europe/Zurich]";
        let later = "2026-07-01T12:00:01+02:00[Europe/Zurich]";
        for wall in [old, later, "yesterday"] {
            assert_eq!(look(wall, "", "Ida Fern", "headset"), Last::None, "{wall}");
        }
        let other = |last: Last| matches!(last, Last::Other(_));
        assert!(other(look(morning, "Tom Alder", "Ida Fern", "headset")));
        assert!(other(look(morning, "", "Ida Fern", "files")));
    }
}
