//! What can be wrong with a sound file: each message names the cause and ends in what to do.

use crate::audio::samples::MAX_SECONDS;
use std::path::PathBuf;

/// Why bytes are not a sound that can be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SoundError {
    /// No bytes.
    #[error("the file is empty; record it again")]
    Empty,
    /// A sound file without a sample.
    #[error("the file holds no sound; record it again")]
    Silent,
    /// Another kind of file.
    #[error("not a WAV or FLAC file; convert it to WAV")]
    Unknown,
    /// Ends before what its head announces.
    #[error("the file is cut short ({0}); copy or record it again")]
    Short(String),
    /// Contradicts itself.
    #[error("the file is damaged ({0}); copy or record it again")]
    Damaged(String),
    /// A known container with contents that are not read.
    #[error("{0}; convert it to WAV with 16-bit samples")]
    Unsupported(String),
    /// Longer than [`MAX_SECONDS`].
    #[error("the sound is longer than {MAX_SECONDS} s; cut it into single answers")]
    TooLong,
    /// The file is larger than any sound of [`MAX_SECONDS`] needs to be.
    #[error("the file has {0} bytes or more, too many for an answer; cut it into single answers")]
    TooLarge(u64),
    /// The file cannot be read.
    #[error("it cannot be read ({0}); check that it exists and may be read")]
    Unreadable(#[source] std::io::Error),
}

/// A [`SoundError`] with its file.
#[derive(Debug, thiserror::Error)]
#[error("{}: {source}", path.display())]
pub struct FileError {
    /// The file.
    pub path: PathBuf,
    /// What is wrong.
    pub source: SoundError,
}
