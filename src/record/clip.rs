//! Clips: one WAV file an utterance, named so that a person finds it.

use super::envelope::hex;
use super::problem::ProblemKind;
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::{self, Cursor, Read};
use std::path::Path;

/// Sampling rate of a clip, Hz.
pub const CLIP_RATE_HZ: u32 = 16_000;

/// Longest clip, in bytes: 35 minutes at 16 kHz and 16 bits.
pub const MAX_CLIP_BYTES: usize = 64 << 20;

/// Longest part of a clip's name that comes from its hint, in characters.
const MAX_HINT: usize = 48;

/// A clip as written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Clip {
    /// Its file name inside `clips/`.
    pub file: String,
    /// SHA-256 of its bytes, lower-case hex.
    pub sha256: String,
}

/// A WAV file of mono samples (-1 to 1 at [`CLIP_RATE_HZ`]) in 16 bits; louder ones are clipped.
pub fn clip_wav(samples: &[f32]) -> Vec<u8> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: CLIP_RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = Cursor::new(Vec::with_capacity(44 + 2 * samples.len()));
    let written = (|| {
        let mut writer = hound::WavWriter::new(&mut bytes, spec)?;
        for &sample in samples {
            // A float turned to an integer saturates; not-a-number becomes 0.
            writer.write_sample((sample * 32_768.0).round() as i16)?;
        }
        writer.finalize()
    })();
    // Writing to memory fails only beyond 4 GiB, 18 hours of one utterance.
    written.expect("a clip fits into memory");
    bytes.into_inner()
}

/// The start of a clip's name: the entry's number and what of the hint is safe in a file name.
pub(super) fn clip_stem(seq: u64, hint: &str) -> String {
    let mut safe = String::new();
    for c in hint.chars() {
        if safe.len() >= MAX_HINT {
            break;
        }
        if c.is_ascii_alphanumeric() {
            safe.push(c.to_ascii_lowercase());
        } else if !safe.is_empty() && !safe.ends_with('-') {
            safe.push('-');
        }
    }
    let safe = safe.trim_end_matches('-');
    let safe = if safe.is_empty() { "clip" } else { safe };
    format!("{seq:04}-{safe}")
}

/// Whether a clip's name stays inside `clips/` on every system.
pub(super) fn is_plain_name(name: &str) -> bool {
    !name.is_empty()
        && name.len() <= 255
        && !name.starts_with('.')
        && !name.contains(|c: char| matches!(c, '/' | '\\' | ':') || c.is_control())
}

/// Reads a clip against the hash that an entry carries: what happened to it and how that shows.
pub(super) fn check_clip(folder: &Path, file: &str, sha256: &str) -> Option<(ProblemKind, String)> {
    if !is_plain_name(file) {
        let detail = "its name leads out of the record".to_owned();
        return Some((ProblemKind::Malformed, detail));
    }
    let path = folder.join(file);
    match fs::symlink_metadata(&path) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => {
            return Some((ProblemKind::Removed, "there is no such file".to_owned()));
        }
        Err(e) => return Some((ProblemKind::Malformed, e.to_string())),
        Ok(meta) if !meta.is_file() => {
            return Some((ProblemKind::Changed, "it is no plain file".to_owned()));
        }
        Ok(meta) if meta.len() > MAX_CLIP_BYTES as u64 => {
            let detail = format!("{} bytes, longer than any clip", meta.len());
            return Some((ProblemKind::Changed, detail));
        }
        Ok(_) => {}
    }
    match hash_file(&path) {
        Err(e) => Some((ProblemKind::Malformed, e.to_string())),
        Ok(found) if found.sha256 == sha256 => None,
        Ok(found) => {
            let detail = match found.promised_bytes {
                Some(promised) if promised > found.bytes => {
                    let detail = format!("{} of {promised} bytes are there", found.bytes);
                    return Some((ProblemKind::Truncated, detail));
                }
                _ if found.bytes == 0 => {
                    return Some((ProblemKind::Truncated, "it is empty".to_owned()));
                }
                _ => "its bytes give another hash than the entry carries".to_owned(),
            };
            Some((ProblemKind::Changed, detail))
        }
    }
}

/// What a file on the disk holds.
pub(super) struct Found {
    /// SHA-256 of its bytes, lower-case hex.
    pub(super) sha256: String,
    /// Its length.
    pub(super) bytes: u64,
    /// The length that its RIFF header promises.
    pub(super) promised_bytes: Option<u64>,
}

/// Hashes a file without holding it in memory.
pub(super) fn hash_file(path: &Path) -> io::Result<Found> {
    let mut file = File::open(path)?.take(MAX_CLIP_BYTES as u64 + 1);
    let mut hash = Sha256::new();
    let mut head = Vec::new();
    let mut bytes = 0u64;
    let mut buffer = vec![0u8; 64 << 10];
    loop {
        let n = match file.read(&mut buffer) {
            Ok(0) => break,
            Ok(n) => n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(e),
        };
        hash.update(&buffer[..n]);
        if head.len() < 8 {
            head.extend_from_slice(&buffer[..n.min(8 - head.len())]);
        }
        bytes += n as u64;
    }
    let promised_bytes = match head[..] {
        [b'R', b'I', b'F', b'F', a, b, c, d] => {
            Some(u64::from(u32::from_le_bytes([a, b, c, d])) + 8)
        }
        _ => None,
    };
    Ok(Found {
        sha256: hex(&hash.finalize()),
        bytes,
        promised_bytes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clip_is_named_for_entry_and_check_in_safe_characters() {
        assert_eq!(
            clip_stem(42, "front-left/hook-links"),
            "0042-front-left-hook-links"
        );
        assert_eq!(clip_stem(7, "../../etc/passwd"), "0007-etc-passwd");
        assert_eq!(clip_stem(7, "Öse/\0 Süd"), "0007-se-s-d");
        assert_eq!(clip_stem(123_456, ""), "123456-clip");
        assert_eq!(clip_stem(1, &"x".repeat(500)).len(), 5 + MAX_HINT);
        assert!(is_plain_name(&clip_stem(1, "a\\b:c\nd")));
    }

    #[test]
    fn names_that_lead_out_of_the_record_are_known() {
        for name in [
            "", "..", ".hidden", "../x.wav", "/etc/x", "a\\b", "C:x", "a\0b",
        ] {
            assert!(!is_plain_name(name), "{name:?}");
        }
    }

    #[test]
    fn a_clip_reads_back_at_16_khz_and_16_bits() {
        let wav = clip_wav(&[0.0, 0.5, -1.0, 2.0, f32::NAN]);
        let mut reader = hound::WavReader::new(&wav[..]).unwrap();
        assert_eq!(reader.spec().sample_rate, 16_000);
        assert_eq!(reader.spec().bits_per_sample, 16);
        let samples: Vec<i16> = reader.samples().map(Result::unwrap).collect();
        assert_eq!(samples, [0, 16_384, -32_768, 32_767, 0]);
    }
}
