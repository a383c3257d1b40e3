//! The session's loudness over time, small enough to send.

use crate::record::{CLIP_RATE_HZ, Envelope, clip_samples, session};
use serde_json::json;
use std::path::Path;

/// Peaks a second.
const PER_SECOND: u32 = 20;

/// The digits of a peak, softest first.
const DIGITS: &[u8; 64] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz-_";

/// Where each entry and clip lies in the session, and the peaks of each clip, as JSON. A peak is one
/// digit: the square root of the greatest amplitude in a twentieth of a second, in 64 steps.
pub(super) fn wave(folder: &Path, entries: &[Envelope]) -> String {
    let session = session(folder, entries);
    let clips = session.clips.iter().map(|clip| {
        let samples = clip_samples(folder, &clip.file).unwrap_or_default();
        json!({
            "file": clip.file,
            "entry": clip.entry,
            "start": clip.start_ms,
            "length": clip.length_ms,
            "peaks": peaks(&samples),
        })
    });
    json!({
        "per_second": PER_SECOND,
        "length": session.length_ms,
        "clips": clips.collect::<Vec<_>>(),
        "entries": session.entries_ms,
    })
    .to_string()
}

fn peaks(samples: &[i16]) -> String {
    let digit = |part: &[i16]| {
        let peak = part.iter().map(|s| s.unsigned_abs()).max().unwrap_or(0);
        let step = (f64::from(peak) / 32_768.0).sqrt() * 63.0;
        char::from(DIGITS[step.round().clamp(0.0, 63.0) as usize])
    };
    let length = (CLIP_RATE_HZ / PER_SECOND) as usize;
    samples.chunks(length).map(digit).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn peaks_follow_the_loudest_sample_of_each_part() {
        let mut samples = vec![0; 1_600];
        samples[900] = i16::MIN;
        // A quarter of full scale has the square root of one half.
        samples[10] = 8_192;
        assert_eq!(peaks(&samples), "W_");
        assert_eq!(peaks(&[]), "");
    }
}
