//! `loadwalk hear`: recognises sound files against a rule.

use super::args::ModelArgs;
use super::exit::Outcome;
use clap::Args;
use std::path::PathBuf;

/// Recognises sound files against a rule: one line each.
#[derive(Debug, Args)]
pub struct HearCommand {
    /// The rule listened for; give it again for several rules active together
    #[arg(long, value_name = "RULE", required = true)]
    pub rule: Vec<String>,
    /// A grammar file (W3C SRGS 1.0 ABNF) with the rule, beside the built-in ones
    #[arg(long, value_name = "FILE")]
    pub grammar: Option<PathBuf>,
    #[command(flatten)]
    pub model: ModelArgs,
    /// One JSON object a line
    #[arg(long)]
    pub json: bool,
    /// Sound files, WAV or FLAC
    #[arg(value_name = "WAV", required = true)]
    pub files: Vec<PathBuf>,
}

/// Runs the command.
#[cfg(feature = "whisper")]
pub fn run(command: &HearCommand) -> Outcome {
    super::heard::run(command)
}

/// Runs the command.
#[cfg(not(feature = "whisper"))]
pub fn run(_: &HearCommand) -> Outcome {
    Err(super::exit::Failure::missing(anyhow::anyhow!(
        super::NO_EARS
    )))
}
