//! The session in time: where each entry and each clip lies on one line from its start to its end.

use super::clip::{CLIP_RATE_HZ, MAX_CLIP_BYTES, is_plain_name};
use super::envelope::{Envelope, clips_of};
use super::folder::CLIPS;
use hound::WavReader;
use std::collections::HashSet;
use std::fs::{self, File};
use std::io::BufReader;
use std::path::{Path, PathBuf};

/// A session laid out in time. Times are milliseconds from the first entry.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Session {
    /// When each entry was written down, in the order of the journal.
    pub entries_ms: Vec<u64>,
    /// The clips in the order in which they were heard; none lies over another.
    pub clips: Vec<PlacedClip>,
    /// The end.
    pub length_ms: u64,
}

impl Session {
    /// When what an entry tells began, in milliseconds from the first entry: its sound where it has
    /// one, else when it was written down. `None` where there is no such entry.
    pub fn starts_ms(&self, entry: u64) -> Option<u64> {
        // Clips lie in the order of their entries.
        let at = self.clips.partition_point(|clip| clip.entry < entry);
        match self.clips.get(at) {
            Some(clip) if clip.entry == entry => Some(clip.start_ms),
            _ => self.entries_ms.get(usize::try_from(entry).ok()?).copied(),
        }
    }
}

/// A clip laid out in time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlacedClip {
    /// Its file name inside `clips/`.
    pub file: String,
    /// Number of the first entry that names it.
    pub entry: u64,
    /// Its start.
    pub start_ms: u64,
    /// Its length.
    pub length_ms: u64,
}

/// Lays a record out in time. The journal tells when an entry was written down, not when its sound
/// began, so a clip ends where its entry was written. Where it would lie over the one before (a walk
/// on files runs faster than its sound), it and all after it move back.
pub fn session(folder: &Path, entries: &[Envelope]) -> Session {
    let mut session = Session::default();
    let mut known = HashSet::new();
    let (mut shift, mut free_from) = (0, 0);
    for envelope in entries {
        for clip in clips_of(&envelope.entry) {
            let Some(samples) = clip_length(folder, clip.file).filter(|_| known.insert(clip.file))
            else {
                continue;
            };
            let length_ms = samples * 1_000 / u64::from(CLIP_RATE_HZ);
            let end_ms = envelope
                .mono_ms
                .saturating_add(shift)
                .max(free_from + length_ms);
            shift = end_ms.saturating_sub(envelope.mono_ms);
            free_from = end_ms;
            session.clips.push(PlacedClip {
                file: clip.file.to_owned(),
                entry: envelope.seq,
                start_ms: end_ms - length_ms,
                length_ms,
            });
        }
        session
            .entries_ms
            .push(envelope.mono_ms.saturating_add(shift));
    }
    session.length_ms = session.entries_ms.last().copied().unwrap_or(0);
    session
}

/// The samples of a clip; `None` where it is not there or is no clip.
pub fn clip_samples(folder: &Path, file: &str) -> Option<Vec<i16>> {
    let reader = reader(folder, file)?;
    reader.into_samples::<i16>().collect::<Result<_, _>>().ok()
}

/// Samples in a clip by its head alone: a long record has thousands of clips.
fn clip_length(folder: &Path, file: &str) -> Option<u64> {
    Some(u64::from(reader(folder, file)?.duration()))
}

fn reader(folder: &Path, file: &str) -> Option<WavReader<BufReader<File>>> {
    let reader = WavReader::open(clip_path(folder, file)?).ok()?;
    let spec = reader.spec();
    let fits = (spec.channels, spec.sample_rate, spec.bits_per_sample) == (1, CLIP_RATE_HZ, 16);
    fits.then_some(reader)
}

/// The bytes of a clip; `None` where it is no plain file of a clip's length inside the record.
pub fn clip_bytes(folder: &Path, file: &str) -> Option<Vec<u8>> {
    fs::read(clip_path(folder, file)?).ok()
}

fn clip_path(folder: &Path, file: &str) -> Option<PathBuf> {
    if !is_plain_name(file) {
        return None;
    }
    let path = folder.join(CLIPS).join(file);
    let meta = fs::symlink_metadata(&path).ok()?;
    (meta.is_file() && meta.len() <= MAX_CLIP_BYTES as u64).then_some(path)
}
