//! Sound to answer: end-pointing, recogniser, and the decision to take, confirm or refuse.

#[cfg(feature = "whisper")]
mod activity;
pub mod breath;
#[cfg(feature = "whisper")]
mod cutter;
pub mod decide;
#[cfg(feature = "whisper")]
mod denial;
pub mod endpoint;
#[cfg(feature = "whisper")]
mod hearer;
mod lattice;
pub mod level;
#[cfg(feature = "whisper")]
mod listener;
#[cfg(feature = "whisper")]
mod mel;
#[cfg(feature = "whisper")]
mod opinion;
pub mod pace;
#[cfg(feature = "whisper")]
mod pieces;
#[cfg(feature = "whisper")]
mod recognition;
mod search;
mod strings;
#[cfg(feature = "whisper")]
mod strung;
pub mod tryout;
#[cfg(feature = "whisper")]
mod whisper;

#[cfg(feature = "whisper")]
pub use activity::{CHUNK, SpeechActivity};
pub use breath::{Breath, HeardItem};
#[cfg(feature = "whisper")]
pub use cutter::{Cutter, FAR_DB, Utterance};
#[cfg(feature = "whisper")]
pub use hearer::{Active, Alone, Ears};
pub use lattice::{Spelled, Strung};
#[cfg(feature = "whisper")]
pub use recognition::{Recognition, Spent};
pub use search::{Candidate, Found, GAP_MAX, Lattice, STEPS_MAX, search};
pub use strings::{FoundString, STRING_GAP_MAX, Strings, search_string};
#[cfg(feature = "whisper")]
pub use whisper::Whisper;

use std::path::PathBuf;

/// A vocabulary entry of the model.
pub type Token = i32;

/// Log-probabilities of what may come next.
pub trait Scorer {
    /// The token that ends an utterance.
    fn end(&self) -> Token;
    /// Natural-log probabilities over the whole vocabulary after `path`.
    ///
    /// # Errors
    /// [`EarsError::Engine`] when the model cannot be evaluated.
    fn next(&mut self, path: &[Token]) -> Result<&[f32], EarsError>;
}

/// Why nothing could be heard at all; what was heard badly is a refusal, not an error.
#[derive(Debug, thiserror::Error)]
pub enum EarsError {
    /// The weights are missing or are not a model that this engine reads.
    #[error("cannot load the model {path}: {cause}; bring it again with `loadwalk model fetch`")]
    Model {
        /// The file.
        path: PathBuf,
        /// The engine's words.
        cause: String,
    },
    /// The active rules cannot be put together.
    #[error(transparent)]
    Grammar(#[from] crate::grammar::GraphError),
    /// The sound is shorter than 25 ms.
    #[error("the sound is too short to hear anything in")]
    TooShort,
    /// The model could not be evaluated.
    #[error("the recogniser failed: {cause}; start the walk again with `loadwalk resume`")]
    Engine {
        /// The engine's words.
        cause: String,
    },
}
