//! Sound files, devices and resampling.
//!
//! Everything inside is mono at [`RATE`]; files and devices have what rate they like.

#[cfg(feature = "devices")]
pub mod devices;
pub mod echo;
mod error;
mod file;
pub mod pad_noise;
mod resample;
mod samples;

pub use error::{FileError, SoundError};
pub use file::{
    MAX_FILE_BYTES, decode_flac, decode_wav, read, read_sound_bytes, read_wav_bytes, wav_bytes,
    wav_bytes_at,
};
pub use resample::{RATES, RateError, Resampler, resample};
pub use samples::{Clip, MAX_SECONDS, RATE, Samples};

#[cfg(test)]
mod tests;
