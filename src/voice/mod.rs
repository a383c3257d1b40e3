//! Words to sound.
//!
//! A [`Voice`] makes sound of words; a [`Mouth`] says phrases one after the other and tells when each
//! has been heard to its end. [`choose()`] picks the best mouth that works on this machine.

mod choose;
mod earcon;
mod error;
mod mouth;
mod program;
#[cfg(feature = "speech-service")]
mod service;
#[cfg(feature = "devices")]
mod speaker;
mod spoken;
mod store;
mod writer;

pub use choose::{Chosen, Preference, choose, find_program};
pub use earcon::{Earcon, earcon};
pub use error::VoiceError;
pub use mouth::{Manner, Mouth, PhraseId, Spoken, Tell, TextOnly};
pub use program::{Kind, Program};
#[cfg(feature = "speech-service")]
pub use service::Service;
#[cfg(feature = "devices")]
pub use speaker::Speaker;
pub use spoken::spoken;
pub use store::Store;
pub use writer::WavWriter;

use crate::audio::Clip;

/// Makes sound of words.
pub trait Voice: Send {
    /// What makes the sound, for messages.
    fn name(&self) -> &str;

    /// The sound of a text at a pace of 1 (as trained) times `rate`.
    ///
    /// # Errors
    /// Where the synthesiser fails, is too slow or makes no sound.
    fn synthesise(&mut self, text: &str, rate: f32) -> Result<Clip, VoiceError>;
}

#[cfg(test)]
mod tests;
