//! `loadwalk forget-sound`: removes voices, keeps hashes and text.

use super::exit::{Exit, Failure, Outcome};
use crate::record::{ForgetError, SystemClock, forget_sound};
use clap::Args;
use jiff::SignedDuration;
use std::path::PathBuf;

/// Removes the sound of records for good; hashes, answers and text stay and verify.
#[derive(Debug, Args)]
pub struct ForgetCommand {
    /// Folders of records
    #[arg(required = true)]
    records: Vec<PathBuf>,
    /// Only where the last entry is at least so many days old
    #[arg(long, value_name = "DAYS", default_value_t = 0)]
    older_than: u32,
}

/// Runs the command. One record that cannot be done does not keep the others.
pub fn run(command: &ForgetCommand) -> Outcome {
    let age = SignedDuration::from_hours(24 * i64::from(command.older_than));
    let mut exit = Exit::Done;
    for folder in &command.records {
        match forget_sound(folder, age, &SystemClock::default()) {
            Ok(0) => eprintln!(
                "{}: no sound removed; there is none, or its last entry is too young",
                folder.display()
            ),
            Ok(clips) => eprintln!("{}: {clips} clips removed", folder.display()),
            Err(error @ ForgetError::NotIntact(_)) => {
                eprintln!("loadwalk: {}: {error}", folder.display());
                exit = Exit::No;
            }
            Err(error) if command.records.len() == 1 => return Err(Failure::wrong(error)),
            Err(error) => {
                eprintln!("loadwalk: {}: {error}", folder.display());
                exit = Exit::Wrong;
            }
        }
    }
    Ok(exit)
}
