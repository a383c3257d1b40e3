//! `loadwalk show` and `loadwalk verify`: a record as text, and whether it is intact.

use super::exit::{Exit, Failure, Outcome};
use crate::record::{self, PublicKey};
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

/// Proves that nothing in a record changed, or names the first entry or sound that did.
#[derive(Debug, Args)]
pub struct VerifyCommand {
    /// Folder of the record
    record: PathBuf,
    /// A signer's public key that you had from the signer; may be given again
    #[arg(long, value_name = "FILE")]
    key: Vec<PathBuf>,
    /// As JSON
    #[arg(long)]
    json: bool,
}

/// Runs `show`.
#[expect(clippy::print_stdout, reason = "the command's output")]
pub fn show(command: &ShowCommand) -> Outcome {
    let view = record::view(&command.record).map_err(Failure::wrong)?;
    if command.json {
        print!("{}", crate::review::json(&view));
    } else {
        print!("{}", record::text(&view));
    }
    Ok(Exit::Done)
}

/// Runs `verify`.
#[expect(clippy::print_stdout, reason = "the command's output")]
pub fn verify(command: &VerifyCommand) -> Outcome {
    let trusted = command
        .key
        .iter()
        .map(|path| PublicKey::read(path))
        .collect::<Result<Vec<_>, _>>()
        .map_err(Failure::wrong)?;
    let found = record::verify(&command.record, &trusted).map_err(Failure::wrong)?;
    if command.json {
        let json = serde_json::to_string_pretty(&found).map_err(Failure::wrong)?;
        println!("{json}");
    } else {
        for problem in &found.problems {
            println!("not intact: {problem}");
        }
        if found.is_intact() {
            println!("intact: {} entries", found.entries);
        }
        for line in found.notes.iter().chain(&found.proves) {
            println!("  {line}");
        }
    }
    Ok(if found.is_intact() {
        Exit::Done
    } else {
        Exit::No
    })
}
