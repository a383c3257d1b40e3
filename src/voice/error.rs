//! What can go wrong with speech.

use std::io;
use std::path::PathBuf;

/// Why words cannot be said.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum VoiceError {
    /// No synthesiser on this machine.
    #[error(
        "no speech synthesiser was found (looked for {looked_for}); install one, for example with \
         `apt install espeak-ng`"
    )]
    NotFound {
        /// Programs looked for.
        looked_for: String,
    },
    /// The synthesiser could not be run.
    #[error("{program} cannot be run ({source}); check that it works when called by hand")]
    Run {
        /// The program.
        program: String,
        /// The cause.
        source: io::Error,
    },
    /// The synthesiser failed.
    #[error("{program} failed ({what}); check that it works when called by hand")]
    Failed {
        /// The program or service.
        program: String,
        /// What was seen.
        what: String,
    },
    /// The synthesiser did not end in time.
    #[error("{program} did not answer within {seconds} s; check that it works when called by hand")]
    TooSlow {
        /// The program or service.
        program: String,
        /// Time given.
        seconds: u64,
    },
    /// A phrase longer than any prompt.
    #[error("a phrase of {0} bytes is too long to be spoken; make it shorter")]
    TooLong(usize),
    /// A prompt file could not be written.
    #[error("the prompt {} cannot be written ({source}); check the directory", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// The cause.
        source: io::Error,
    },
    /// The loudspeaker is lost.
    #[error("the loudspeaker is lost ({0}); connect it again")]
    Lost(String),
}
