//! One line of the journal: an entry with its number, times and link to the line before.

use super::clock::instant;
use crate::walk::Entry;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// Version of the journal's format that this program writes, and the newest that it reads.
pub use crate::walk::JOURNAL_FORMAT as FORMAT;

/// What the first line carries as `prev`: 64 zeros.
pub const NO_PREV: &str = "0000000000000000000000000000000000000000000000000000000000000000";

/// One line of the journal as read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Envelope {
    /// Running number of the entry, from 0; equals the line's number less one.
    pub seq: u64,
    /// Time of day, RFC 9557 with offset and zone.
    pub wall: String,
    /// Milliseconds that the record had been open, on a clock that never goes back. Time between
    /// two runs of the program does not count.
    pub mono_ms: u64,
    /// Set where the time of day cannot be trusted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock: Option<ClockNotice>,
    /// SHA-256 of the exact bytes of the line before without its newline, lower-case hex;
    /// [`NO_PREV`] in the first line.
    pub prev: String,
    /// What happened.
    pub entry: Entry,
}

/// Why a time of day cannot be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClockNotice {
    /// It is earlier than the time of the entry before.
    SetBack,
}

impl Envelope {
    /// The instant of [`Envelope::wall`]; `None` where it does not read as a time.
    pub fn instant(&self) -> Option<Timestamp> {
        instant(&self.wall)
    }
}

/// SHA-256 of bytes as 64 lower-case hex digits.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Lower-case hex digits.
pub(super) fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        // Writing to a string cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// A clip that an entry names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClipRef<'a> {
    /// Its file name inside `clips/`.
    pub file: &'a str,
    /// SHA-256 of its bytes, lower-case hex.
    pub sha256: &'a str,
}

/// Whether a text is a hash as [`sha256_hex`] writes it.
fn is_sha256_hex(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'))
}

/// The first hash of a clip that is none.
pub(super) fn no_hash(entry: &Entry) -> Option<&str> {
    let mut clips = named(entry).into_iter();
    clips
        .find(|c| !(is_sha256_hex(c.sha256) || c.file.is_empty() && c.sha256.is_empty()))
        .map(|c| c.sha256)
}

/// The clips that an entry names, in the order in which they were heard.
pub fn clips_of(entry: &Entry) -> Vec<ClipRef<'_>> {
    let mut clips = named(entry);
    clips.retain(|c| !c.file.is_empty());
    clips
}

/// Likewise with those of what was typed, which have no name.
fn named(entry: &Entry) -> Vec<ClipRef<'_>> {
    let pairs: Vec<(&String, &String)> = match entry {
        Entry::Answered { heard, .. } => std::iter::once(&heard.hearing)
            .chain(&heard.confirmed_by)
            .map(|h| (&h.clip, &h.clip_sha256))
            .collect(),
        Entry::Refused { hearing, .. }
        | Entry::Doubted { hearing, .. }
        | Entry::Control { hearing, .. }
        | Entry::PutRight { hearing, .. } => vec![(&hearing.clip, &hearing.clip_sha256)],
        Entry::Noted { note, .. } => vec![(&note.clip, &note.clip_sha256)],
        Entry::Opened { .. }
        | Entry::Asked { .. }
        | Entry::Calling { .. }
        | Entry::Rhythm { .. }
        | Entry::Held { .. }
        | Entry::Carried { .. }
        | Entry::Resumed { .. }
        | Entry::Completed { .. } => Vec::new(),
    };
    pairs
        .into_iter()
        .map(|(file, sha256)| ClipRef { file, sha256 })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::samples::{PLAN, StepClock, answered, opened};
    use crate::record::{ProblemKind, Record, read};
    use crate::walk::Outcome;

    #[test]
    fn what_is_no_hash_of_a_sound_is_not_read_as_one() {
        for (clip, hash, reads) in [
            ("", "", true),
            ("0001-a.wav", NO_PREV, true),
            ("", "=HYPERLINK(1)", false),
            ("0001-a.wav", "", false),
            ("0001-a.wav", "AB", false),
        ] {
            let mut entry = answered("front-left/hook-pin", "present", Outcome::Conforming);
            if let Entry::Answered { heard, .. } = &mut entry {
                heard.hearing.clip = clip.to_owned();
                heard.hearing.clip_sha256 = hash.to_owned();
            }
            assert_eq!(no_hash(&entry).is_none(), reads, "{clip} {hash}");
            // No record takes an entry whose clip it does not have.
            if !clip.is_empty() {
                continue;
            }
            let root = tempfile::tempdir().unwrap();
            let folder = root.path().join("walk");
            let mut record = Record::create(&folder, PLAN, Box::new(StepClock::at(0))).unwrap();
            record.append(&opened()).unwrap();
            record.append(&entry).unwrap();
            let problem = read(&folder).unwrap().problem;
            let malformed = problem.is_some_and(|p| p.kind == ProblemKind::Malformed);
            assert_eq!(malformed, !reads, "{clip} {hash}");
        }
    }

    #[test]
    fn the_hash_is_that_of_the_standard() {
        // FIPS 180-4 example "abc", as published in the NIST example values for SHA-256.
        assert_eq!(
            sha256_hex(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
