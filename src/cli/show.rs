//! `loadwalk show` and `loadwalk verify`: a record as text, and whether it is intact.

use super::exit::{Exit, Failure, Outcome};
use crate::cli::out::output;
use crate::record::{self, PublicKey};
use crate::review::Hanging;
use clap::Args;
use serde::Serialize;
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

/// Proves that nothing in a record changed, or names the first entry or sound that did; and tells how the walk stands. That a
/// record is intact does not make its load ready.
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

/// What `verify --json` prints. What cannot be read of a record is null.
#[derive(Serialize)]
struct Told<'a> {
    /// How the walk stands, in words.
    stands: Option<&'a str>,
    /// The same as [`View::state`](record::View::state) has it.
    state: Option<record::State>,
    /// How the walk itself ended, without reviews.
    walked_state: Option<record::State>,
    /// Whether it was practice, which vouches for nothing.
    practice: Option<bool>,
    #[serde(flatten)]
    found: &'a record::Verification,
}

/// Runs `show`.
pub fn show(command: &ShowCommand) -> Outcome {
    let view = record::view(&command.record).map_err(Failure::wrong)?;
    if command.json {
        super::out::print(format_args!("{}", crate::review::json(&view)))?;
    } else {
        let hanging = Hanging::of(&command.record, &view);
        let told = hanging.as_ref().and_then(|h| Some((h, h.as_found()?)));
        let told = told.as_ref();
        let told = told.map(|(hanging, sentence)| (hanging.heading(), sentence.as_str()));
        super::out::print(format_args!("{}", record::text_with(&view, told)))?;
    }
    Ok(Exit::Done)
}

/// Runs `verify`.
pub fn verify(command: &VerifyCommand) -> Outcome {
    let trusted = command
        .key
        .iter()
        .map(|path| PublicKey::read(path))
        .collect::<Result<Vec<_>, _>>()
        .map_err(Failure::wrong)?;
    let (found, view) = record::verified_view(&command.record, &trusted).map_err(Failure::wrong)?;
    let stands = view.as_ref().map(record::state_words);
    if command.json {
        let told = Told {
            stands: stands.as_deref(),
            state: view.as_ref().map(|v| v.state),
            walked_state: view.as_ref().map(|v| v.walked_state),
            practice: view.as_ref().map(|v| v.practice.is_some()),
            found: &found,
        };
        let json = serde_json::to_string_pretty(&told).map_err(Failure::wrong)?;
        output!("{json}");
    } else {
        for problem in &found.problems {
            output!("not intact: {problem}");
        }
        if found.is_intact() {
            output!(
                "intact: {} entries, record code {}",
                found.entries,
                found.code()
            );
        }
        let stands = stands
            .as_deref()
            .unwrap_or("unknown, since it cannot be read");
        output!("the walk: {}", record::plain(stands));
        for line in found.notes.iter().chain(&found.proves) {
            output!("  {}", record::plain(line));
        }
    }
    Ok(if found.is_intact() {
        Exit::Done
    } else {
        Exit::No
    })
}
