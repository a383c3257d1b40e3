//! `loadwalk forget-sound`: removes voices, keeps hashes and text.

use super::exit::{Exit, Failure, Outcome};
use super::inspector::keep_sound_days;
use crate::cli::out::tell;
use crate::record::{ForgetError, SystemClock, forget_sound, read};
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
fn kept_days(folder: &Path) -> Result<Option<u32>, Failure> {
    // A record that cannot be read is named where its sound is to go.
    let parsed = read(folder).unwrap_or_default();
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
    let clips = forget_sound(folder, SignedDuration::ZERO, &SystemClock::default())
        .map_err(Failure::wrong)?;
    if clips > 0 {
        tell!("the settings keep no sound: {clips} clips removed");
    }
    Ok(())
}

/// Runs the command. One record that cannot be done does not keep the others.
pub fn run(command: &ForgetCommand) -> Outcome {
    let mut exit = Exit::Done;
    for folder in &command.records {
        let days = match command.due {
            false => command.older_than,
            true => kept_days(folder)?,
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
            Ok(0) => tell!(
                "{}: no sound removed; there is none, or its last entry is too young{}",
                folder.display(),
                match read(folder).is_ok_and(|record| record.is_open()) {
                    true => " (the walk is open, so its sound stays for a day)",
                    false => "",
                }
            ),
            Ok(clips) => tell!("{}: {clips} clips removed", folder.display()),
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
