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

/// The clips that an entry names, in the order in which they were heard.
pub fn clips_of(entry: &Entry) -> Vec<ClipRef<'_>> {
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
        .filter(|(file, _)| !file.is_empty())
        .map(|(file, sha256)| ClipRef { file, sha256 })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_that_of_the_standard() {
        // FIPS 180-4 example "abc", as published in the NIST example values for SHA-256.
        assert_eq!(
            sha256_hex(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
