//! `loadwalk show`: a record as text.

use super::exit::{Exit, Failure, Outcome};
use clap::Args;
use std::path::PathBuf;

/// Prints a record: checks, outcomes, deficiencies, open points.
#[derive(Debug, Args)]
pub struct ShowCommand {
    /// Folder of the record
    record: PathBuf,
    /// As JSON
    #[arg(long)]
    json: bool,
}

/// Runs the command.
#[expect(clippy::print_stdout, reason = "the command's output")]
pub fn run(command: &ShowCommand) -> Outcome {
    if command.json {
        println!(
            "{}",
            crate::record::show_json(&command.record).map_err(Failure::wrong)?
        );
    } else {
        print!(
            "{}",
            crate::record::show(&command.record).map_err(Failure::wrong)?
        );
    }
    Ok(Exit::Done)
}
