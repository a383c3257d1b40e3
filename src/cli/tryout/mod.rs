//! `loadwalk tryout`: a dozen words, and whether voice can be relied on.

pub mod kept;
#[cfg(feature = "whisper")]
mod source;
#[cfg(feature = "whisper")]
mod trial;

#[cfg(feature = "whisper")]
pub use source::Source;

use super::exit::Outcome;
use super::world::Means;
use std::path::PathBuf;

/// Tries headset, voice and noise before going out: a dozen words are read aloud, and it says whether to
/// rely on voice.
///
/// The result is kept for 12 hours and goes into the record of the next walk by the same inspector with the
/// same microphone. Exit code 1: do not use voice here.
#[derive(Debug, clap::Args)]
pub struct TryoutCommand {
    /// The plan of the load, to try words of its own too
    pub plan: Option<PathBuf>,
    /// Who speaks; the result counts for walks of this inspector alone
    #[arg(
        long,
        value_name = "NAME",
        default_value = "",
        hide_default_value = true
    )]
    pub inspector: String,
    #[command(flatten)]
    pub means: Means,
    /// One JSON object a line on stdout: one for each word, then the result
    #[arg(long)]
    pub json: bool,
}

/// Runs the command.
#[cfg(feature = "whisper")]
pub fn run(command: &TryoutCommand) -> Outcome {
    trial::run(command)
}

/// Runs the command.
#[cfg(not(feature = "whisper"))]
pub fn run(_: &TryoutCommand) -> Outcome {
    Err(super::exit::Failure::missing(anyhow::anyhow!(
        super::NO_EARS
    )))
}
