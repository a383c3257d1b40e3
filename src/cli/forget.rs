//! `loadwalk forget-sound`: removes voices, keeps hashes and text.

use super::exit::{Exit, Failure, Outcome};
use super::inspector::keep_sound_days;
use crate::cli::out::tell;
use crate::record::{ForgetError, Parsed, Removal, SystemClock, forget_sound, read};
use crate::walk::Entry;
use clap::Args;
use jiff::SignedDuration;
use std::path::{Path, PathBuf};

/// Removes the sound of records for good; hashes, answers and text stay and verify.
#[derive(Debug, Args)]
pub struct ForgetCommand {
    /// Folders of records
    #[arg(required = true)]
    records: Vec<PathBuf>,
    /// Only where the last entry is at least so many days old; 0 removes it at once. An open walk keeps its sound for a
    /// day at least
    #[arg(long, value_name = "DAYS", required_unless_present = "due")]
    older_than: Option<u32>,
    /// Only where it is due by `keep_sound_days` in the inspector's settings; to be run every day, say
    #[arg(long, conflicts_with = "older_than")]
    due: bool,
}

/// The days for which the settings keep the sound of a record.
fn kept_days(parsed: &Parsed) -> Result<Option<u32>, Failure> {
    // A record that is broken from its beginning is named where its sound is to go.
    match parsed.entries.first().map(|e| &e.entry) {
        Some(Entry::Opened { inspector, .. }) => keep_sound_days(inspector),
        _ => keep_sound_days(""),
    }
}

/// Removes the sound of a complete walk where the settings keep none.
pub(super) fn at_the_end(folder: &Path, inspector: &str) -> Result<(), Failure> {
    if keep_sound_days(inspector)? != Some(0) {
        return Ok(());
    }
    let removal = forget_sound(folder, SignedDuration::ZERO, &SystemClock::default())
        .map_err(Failure::wrong)?;
    if let Removal::Removed(clips) = removal {
        tell!("the settings keep no sound: {clips} clips removed");
    }
    Ok(())
}

/// Runs the command. One record that cannot be done does not keep the others.
pub fn run(command: &ForgetCommand) -> Outcome {
    let mut exit = Exit::Done;
    for folder in &command.records {
        // The folder first: of one that is no record there is nothing to say but that.
        let parsed = match read(folder) {
            Ok(parsed) => parsed,
            Err(error) if command.records.len() == 1 => return Err(Failure::wrong(error)),
            Err(error) => {
                tell!("loadwalk: {}: {error}", folder.display());
                exit = Exit::Wrong;
                continue;
            }
        };
        let days = match command.due {
            false => command.older_than,
            true => kept_days(&parsed)?,
        };
        let Some(days) = days else {
            tell!(
                "{}: no sound removed; no settings say how long it is kept",
                folder.display()
            );
            continue;
        };
        let age = SignedDuration::from_hours(24 * i64::from(days));
        match forget_sound(folder, age, &SystemClock::default()) {
            Ok(removal) => tell!("{}: {}", folder.display(), told(removal, days)),
            Err(error @ ForgetError::NotIntact(_)) => {
                tell!("loadwalk: {}: {error}", folder.display());
                exit = Exit::No;
            }
            Err(error) if command.records.len() == 1 => return Err(Failure::wrong(error)),
            Err(error) => {
                tell!("loadwalk: {}: {error}", folder.display());
                exit = Exit::Wrong;
            }
        }
    }
    Ok(exit)
}

/// What became of the sound, where it was to be so many days old.
fn told(removal: Removal, days: u32) -> String {
    match removal {
        Removal::Removed(clips) => format!("{clips} clips removed"),
        Removal::NoSound => "no sound removed; there is none".to_owned(),
        Removal::TooYoung { open: true } => {
            "no sound removed; the walk is open, so its sound stays for a day".to_owned()
        }
        Removal::TooYoung { open: false } => {
            let days = match days {
                1 => "a day".to_owned(),
                days => format!("{days} days"),
            };
            format!("no sound removed; its last entry is too young, less than {days} old")
        }
    }
}
