//! The session in time: where each entry and each clip lies on one line from its start to its end.

use super::clip::{CLIP_RATE_HZ, MAX_CLIP_BYTES, is_plain_name};
use super::envelope::{Envelope, clips_of};
use super::folder::CLIPS;
use crate::walk::Entry;
use hound::WavReader;
use std::collections::HashSet;
use std::fs::{self, File};
use std::io::BufReader;
use std::path::{Path, PathBuf};

/// Longest time in which an entry is written down behind another, in ms: the disk's.
const AT_ONCE_MS: u64 = 100;

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
/// began, so a clip ends where its entry was written. Clips written down at once, as the items of a breath are, lie
/// behind each other, and the last of them ends there. What would lie over the clip before (a walk on files runs faster
/// than its sound) moves back behind it, and with it what was written down meanwhile.
pub fn session(folder: &Path, entries: &[Envelope]) -> Session {
    let mut session = Session::default();
    let mut known = HashSet::new();
    let mut free_from = 0;
    for at_once in entries.chunk_by(at_once) {
        let mut clips: Vec<Vec<(&str, u64)>> = Vec::new();
        for envelope in at_once {
            let all = clips_of(&envelope.entry).into_iter().filter_map(|clip| {
                let samples = clip_length(folder, clip.file)?;
                let length_ms = samples * 1_000 / u64::from(CLIP_RATE_HZ);
                known.insert(clip.file).then_some((clip.file, length_ms))
            });
            clips.push(all.collect());
        }
        let heard = at_once.iter().zip(&clips).filter(|(_, c)| !c.is_empty());
        let end_ms = heard.map(|(e, _)| e.mono_ms).next_back().unwrap_or(0);
        let sum: u64 = clips.iter().flatten().map(|(_, length_ms)| length_ms).sum();
        let mut start_ms = end_ms.saturating_sub(sum).max(free_from);
        for (envelope, clips) in at_once.iter().zip(clips) {
            for (file, length_ms) in clips {
                session.clips.push(PlacedClip {
                    file: file.to_owned(),
                    entry: envelope.seq,
                    start_ms,
                    length_ms,
                });
                start_ms += length_ms;
                free_from = start_ms;
            }
            session.entries_ms.push(envelope.mono_ms.max(free_from));
        }
    }
    session.length_ms = session.entries_ms.last().copied().unwrap_or(0);
    session
}

/// Whether an entry was written down at once with the one before it: of the same utterance, and no answer to a question
/// put in between.
fn at_once(before: &Envelope, next: &Envelope) -> bool {
    next.mono_ms <= before.mono_ms.saturating_add(AT_ONCE_MS)
        && !matches!(next.entry, Entry::Asked { .. } | Entry::Calling { .. })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::clip::clip_wav;
    use crate::record::samples::{answered, id, opened};
    use crate::walk::Outcome;

    /// Entries at these times, each with a clip of that many milliseconds; none where it is 0, a question where it is
    /// `None`.
    fn laid(folder: &Path, entries: &[(u64, Option<u64>)]) -> Session {
        fs::create_dir_all(folder.join(CLIPS)).unwrap();
        let mut all = Vec::new();
        for (seq, &(mono_ms, clip_ms)) in (0..).zip(entries) {
            let mut entry = answered("front-left/hook-pin", "present", Outcome::Conforming);
            match (clip_ms, &mut entry) {
                (None, entry) => {
                    *entry = Entry::Asked {
                        check: id("front-left/hook-pin"),
                        attempt: 1,
                    }
                }
                (Some(0), entry) => *entry = opened(),
                (Some(ms), Entry::Answered { heard, .. }) => {
                    heard.hearing.clip = format!("{seq}.wav");
                    let samples = vec![0.0; usize::try_from(ms).unwrap() * 16];
                    let path = folder.join(CLIPS).join(&heard.hearing.clip);
                    fs::write(path, clip_wav(&samples)).unwrap();
                }
                _ => {}
            }
            all.push(Envelope {
                seq,
                prev: String::new(),
                wall: String::new(),
                mono_ms,
                clock: None,
                entry,
            });
        }
        session(folder, &all)
    }

    fn places(session: &Session) -> Vec<(u64, u64)> {
        let ends = |c: &PlacedClip| (c.start_ms, c.start_ms + c.length_ms);
        session.clips.iter().map(ends).collect()
    }

    #[test]
    fn the_items_of_a_breath_end_where_they_were_written_down_and_push_nothing_later() {
        let root = tempfile::tempdir().unwrap();
        // Three items of a breath, written within a few milliseconds; their clips overlap in the sound.
        let breath = [
            (0, Some(0)),
            (9_000, Some(900)),
            (9_004, Some(900)),
            (9_009, Some(700)),
        ];
        let after = [(12_000, None), (15_000, Some(800))];
        let session = laid(root.path(), &[&breath[..], &after[..]].concat());
        assert_eq!(
            places(&session),
            [
                (6_509, 7_409),
                (7_409, 8_309),
                (8_309, 9_009),
                (14_200, 15_000)
            ]
        );
        assert_eq!(session.entries_ms, [0, 9_000, 9_004, 9_009, 12_000, 15_000]);
    }

    #[test]
    fn a_clip_moves_behind_the_one_before_and_no_further() {
        let root = tempfile::tempdir().unwrap();
        let over = [
            (1_000, Some(1_000)),
            (1_050, None),
            (1_060, Some(1_000)),
            (1_070, None),
        ];
        let later = [(5_000, None), (6_000, Some(500))];
        let session = laid(root.path(), &[&over[..], &later[..]].concat());
        assert_eq!(
            places(&session),
            [(0, 1_000), (1_000, 2_000), (5_500, 6_000)]
        );
        assert_eq!(
            session.entries_ms,
            [1_000, 1_050, 2_000, 2_000, 5_000, 6_000]
        );
        assert_eq!(session.length_ms, 6_000);
    }
}
