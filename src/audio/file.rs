//! Sound files: WAV and FLAC in, WAV out.

use crate::audio::error::{FileError, SoundError};
use crate::audio::resample::{RATES, resample};
use crate::audio::samples::{Clip, MAX_SECONDS, RATE, Samples};
use hound::{SampleFormat, WavReader, WavSpec, WavWriter};
use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;

/// Largest file read, bytes: ten minutes of stereo at 48 kHz in 32 bits are 230 MB.
pub const MAX_FILE_BYTES: u64 = 256 << 20;
/// More channels than any recorder of answers has.
const MAX_CHANNELS: u32 = 32;
/// A WAV written to a pipe announces about the largest length that there is, since its writer could
/// not know it; the sound then goes to the end of the file.
const UNKNOWN_LENGTH: u32 = 0x7FFF_0000;

/// Reads a WAV or FLAC file of any rate, channel count and sample size as mono sound at [`RATE`].
///
/// # Errors
/// [`FileError`] that names the file, what is wrong and what to do.
pub fn read(path: &Path) -> Result<Samples, FileError> {
    let of_file = |source| FileError {
        path: path.to_owned(),
        source,
    };
    let bytes = read_bytes(path).map_err(of_file)?;
    read_sound_bytes(&bytes).map_err(of_file)
}

fn read_bytes(path: &Path) -> Result<Vec<u8>, SoundError> {
    let file = File::open(path).map_err(SoundError::Unreadable)?;
    let mut bytes = Vec::new();
    file.take(MAX_FILE_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(SoundError::Unreadable)?;
    if bytes.len() as u64 > MAX_FILE_BYTES {
        return Err(SoundError::TooLarge(bytes.len() as u64));
    }
    Ok(bytes)
}

/// As [`read`], from the bytes of a WAV or FLAC file.
///
/// # Errors
/// What is wrong with the bytes.
pub fn read_sound_bytes(bytes: &[u8]) -> Result<Samples, SoundError> {
    let clip = match bytes {
        [] => return Err(SoundError::Empty),
        [b'f', b'L', b'a', b'C', ..] => decode_flac(bytes)?,
        [b'R', b'I', b'F', b'F', ..] => decode_wav(bytes)?,
        _ => return Err(SoundError::Unknown),
    };
    to_samples(clip)
}

/// As [`read`], from the bytes of a WAV file.
///
/// # Errors
/// What is wrong with the bytes.
pub fn read_wav_bytes(bytes: &[u8]) -> Result<Samples, SoundError> {
    to_samples(decode_wav(bytes)?)
}

fn to_samples(clip: Clip) -> Result<Samples, SoundError> {
    resample(clip.samples, clip.rate, RATE)
        .map(Samples::new)
        .map_err(|e| SoundError::Unsupported(e.to_string()))
}

/// Decodes the bytes of a WAV file as mono sound at its own rate.
///
/// # Errors
/// What is wrong with the bytes.
pub fn decode_wav(bytes: &[u8]) -> Result<Clip, SoundError> {
    if bytes.is_empty() {
        return Err(SoundError::Empty);
    }
    let (format, data) = wav_chunks(bytes)?;
    // The reader is given a head with the true length: a pipe's writer could not know it.
    let mut head = Vec::with_capacity(format.len() + 28);
    head.extend(b"RIFF");
    head.extend((20 + format.len() as u32 + data.len() as u32).to_le_bytes());
    head.extend(b"WAVEfmt ");
    head.extend((format.len() as u32).to_le_bytes());
    head.extend(format);
    head.extend(b"data");
    head.extend((data.len() as u32).to_le_bytes());
    let mut reader = WavReader::new(Cursor::new(head).chain(data)).map_err(from_hound)?;
    let spec = reader.spec();
    let mut mono = Mono::new(spec.sample_rate, u32::from(spec.channels))?;
    match spec.sample_format {
        SampleFormat::Float => {
            for sample in reader.samples::<f32>() {
                mono.push(sample.map_err(from_hound)?)?;
            }
        }
        SampleFormat::Int => {
            let scale = full_scale(u32::from(spec.bits_per_sample))?;
            for sample in reader.samples::<i32>() {
                mono.push(sample.map_err(from_hound)? as f32 * scale)?;
            }
        }
    }
    mono.finish()
}

/// The format chunk and the sound of a WAV file. Chunks are padded to even length (RIFF, 1991).
fn wav_chunks(bytes: &[u8]) -> Result<(&[u8], &[u8]), SoundError> {
    /// Longer than the longest format chunk (extensible: 40 bytes).
    const MAX_FORMAT: usize = 128;
    let Some((b"RIFF", rest)) = bytes.split_first_chunk::<4>() else {
        return Err(SoundError::Unknown);
    };
    match rest.get(4..8) {
        None => return Err(SoundError::Short("within its head".to_owned())),
        Some(b"WAVE") => {}
        Some(_) => return Err(SoundError::Unknown),
    }
    let mut rest = &rest[8..];
    let mut format = None;
    loop {
        let (Some(name), Some(length)) = (rest.get(..4), rest.get(4..8)) else {
            return Err(SoundError::Short("it ends before its sound".to_owned()));
        };
        // The slice is four bytes long.
        let length = u32::from_le_bytes([length[0], length[1], length[2], length[3]]);
        let body = &rest[8..];
        let whole = body.get(..length as usize);
        match (name, format) {
            (b"data", None) => {
                return Err(SoundError::Damaged("no format before the sound".to_owned()));
            }
            (b"data", Some(format)) => {
                let data = match whole {
                    Some(data) => data,
                    None if length >= UNKNOWN_LENGTH => whole_frames(format, body),
                    None => {
                        return Err(SoundError::Short(format!(
                            "{} of {length} bytes of sound",
                            body.len()
                        )));
                    }
                };
                return Ok((format, data));
            }
            _ => {}
        }
        let Some(whole) = whole else {
            return Err(SoundError::Short("it ends before its sound".to_owned()));
        };
        if name == b"fmt " {
            if whole.len() > MAX_FORMAT {
                return Err(SoundError::Damaged(format!(
                    "a format of {} bytes",
                    whole.len()
                )));
            }
            format = Some(whole);
        }
        rest = body
            .get(whole.len() + whole.len() % 2..)
            .unwrap_or_default();
    }
}

/// Cuts off a last frame that a pipe's writer left unfinished.
fn whole_frames<'a>(format: &[u8], data: &'a [u8]) -> &'a [u8] {
    let frame = match format {
        [_, _, _, _, _, _, _, _, _, _, _, _, low, high, ..] => u16::from_le_bytes([*low, *high]),
        _ => 0,
    };
    let frame = usize::from(frame).max(1);
    &data[..data.len() - data.len() % frame]
}

fn from_hound(error: hound::Error) -> SoundError {
    match error {
        hound::Error::IoError(e) => SoundError::Short(e.to_string()),
        hound::Error::FormatError(what) => SoundError::Damaged(what.to_owned()),
        hound::Error::Unsupported => {
            SoundError::Unsupported("this kind of WAV is not read".to_owned())
        }
        other => SoundError::Damaged(other.to_string()),
    }
}

/// Decodes the bytes of a FLAC file as mono sound at its own rate.
///
/// # Errors
/// What is wrong with the bytes.
pub fn decode_flac(bytes: &[u8]) -> Result<Clip, SoundError> {
    let mut reader = claxon::FlacReader::new(Cursor::new(bytes)).map_err(from_claxon)?;
    let info = reader.streaminfo();
    let scale = full_scale(info.bits_per_sample)?;
    let mut mono = Mono::new(info.sample_rate, info.channels)?;
    for sample in reader.samples() {
        mono.push(sample.map_err(from_claxon)? as f32 * scale)?;
    }
    let clip = mono.finish()?;
    match info.samples {
        Some(due) if (clip.samples.len() as u64) < due => Err(SoundError::Short(format!(
            "{} of {due} samples",
            clip.samples.len()
        ))),
        _ => Ok(clip),
    }
}

fn from_claxon(error: claxon::Error) -> SoundError {
    match error {
        claxon::Error::IoError(e) => SoundError::Short(e.to_string()),
        claxon::Error::FormatError(what) => SoundError::Damaged(what.to_owned()),
        claxon::Error::Unsupported(what) => SoundError::Unsupported(what.to_owned()),
    }
}

/// Factor from integers of so many bits to -1..1.
fn full_scale(bits: u32) -> Result<f32, SoundError> {
    match bits {
        1..=32 => Ok((1.0 / (1_u64 << (bits - 1)) as f64) as f32),
        _ => Err(SoundError::Damaged(format!("{bits} bits a sample"))),
    }
}

/// Greatest sample of a sound file, in full scales: beyond it a float is damage, not loudness.
const MAX_SAMPLE: f32 = 1e6;

/// Averages channels while checking rate, length and values.
struct Mono {
    clip: Clip,
    channels: u32,
    at: u32,
    sum: f32,
    most: usize,
}

impl Mono {
    fn new(rate: u32, channels: u32) -> Result<Self, SoundError> {
        if !RATES.contains(&rate) {
            return Err(SoundError::Damaged(format!("a sample rate of {rate} Hz")));
        }
        if !(1..=MAX_CHANNELS).contains(&channels) {
            return Err(SoundError::Damaged(format!("{channels} channels")));
        }
        Ok(Self {
            clip: Clip {
                rate,
                samples: Vec::new(),
            },
            channels,
            at: 0,
            sum: 0.0,
            most: rate as usize * MAX_SECONDS as usize,
        })
    }

    fn push(&mut self, sample: f32) -> Result<(), SoundError> {
        if !sample.is_finite() {
            return Err(SoundError::Damaged("a sample is not a number".to_owned()));
        }
        // Filters would turn it into what is not a number; 1 is full scale.
        if sample.abs() > MAX_SAMPLE {
            return Err(SoundError::Damaged(
                "a sample lies far beyond full scale".to_owned(),
            ));
        }
        self.sum += sample;
        self.at += 1;
        if self.at == self.channels {
            if self.clip.samples.len() == self.most {
                return Err(SoundError::TooLong);
            }
            self.clip.samples.push(self.sum / self.channels as f32);
            self.at = 0;
            self.sum = 0.0;
        }
        Ok(())
    }

    fn finish(self) -> Result<Clip, SoundError> {
        if self.at != 0 {
            return Err(SoundError::Damaged(
                "the last frame is not whole".to_owned(),
            ));
        }
        if self.clip.samples.is_empty() {
            return Err(SoundError::Silent);
        }
        Ok(self.clip)
    }
}

/// The bytes of a WAV file with 16-bit mono samples at `rate` Hz; values beyond full scale are clipped.
/// Equal samples give equal bytes, so that their hash can be taken before they are written.
pub fn wav_bytes_at(samples: &[f32], rate: u32) -> Vec<u8> {
    let spec = WavSpec {
        channels: 1,
        sample_rate: rate,
        bits_per_sample: 16,
        sample_format: SampleFormat::Int,
    };
    let mut bytes = Vec::with_capacity(44 + 2 * samples.len());
    // Writing to memory fails only beyond the 4 GB that a WAV can hold, which is days of sound.
    let written = WavWriter::new(Cursor::new(&mut bytes), spec).and_then(|mut writer| {
        for &sample in samples {
            writer.write_sample(to_i16(sample))?;
        }
        writer.finalize()
    });
    written.expect("a sound in memory is far shorter than a WAV can hold");
    bytes
}

/// As [`wav_bytes_at`], at [`RATE`].
pub fn wav_bytes(samples: &[f32]) -> Vec<u8> {
    wav_bytes_at(samples, RATE)
}

/// The nearest 16-bit value; the inverse of reading, so that a clip read and written stays the same.
fn to_i16(sample: f32) -> i16 {
    // A cast from a float saturates, and takes what is not a number as 0.
    (sample * 32_768.0).round() as i16
}
