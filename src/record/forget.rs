//! Removes the sound of a record and keeps everything else: voices are personal data.
//!
//! What was removed is listed with its hashes in `forgotten-N.json`, so that hashes and text stay
//! verifiable and a clip that somebody else takes away still shows.

use super::clip::hash_file;
use super::clock::{Clock, instant, wall_text};
use super::dsse::read_file;
use super::error::RecordError;
use super::file::{sync_folder, write_new};
use super::folder::{CLIPS, lock};
use super::own::clips_in;
use super::problem::Problem;
use super::verify::{files_in, read, verify};
use jiff::SignedDuration;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// How the names of the lists start.
const FORGOTTEN: &str = "forgotten-";
/// The longest list that is read; each clip takes some 120 bytes of it.
const MAX_LIST_BYTES: u64 = 16 << 20;

/// What was removed at one time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Forgotten {
    /// When (RFC 9557).
    pub wall: String,
    /// SHA-256 of each removed file of `clips/`, by name.
    pub clips: BTreeMap<String, String>,
}

/// Why no sound was removed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ForgetError {
    /// The record does not verify.
    #[error("{0}; its sound is evidence of what happened to it and is kept")]
    NotIntact(Problem),
    /// The record could not be read or written.
    #[error(transparent)]
    Record(#[from] RecordError),
}

/// How old the last entry of an open walk is at least where its sound goes: whoever goes on with it, a day later at most,
/// may want to hear what was said.
pub const OPEN_KEEPS: SignedDuration = SignedDuration::from_hours(24);

/// What became of the sound of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Removal {
    /// So many clips were removed; one at least.
    Removed(usize),
    /// There was none.
    NoSound,
    /// It stays: the last entry is younger than was asked for, or than an open walk keeps it.
    TooYoung {
        /// Whether it stays because the walk is open.
        open: bool,
    },
}

impl Removal {
    /// How many clips were removed.
    pub fn clips(self) -> usize {
        match self {
            Self::Removed(clips) => clips,
            Self::NoSound | Self::TooYoung { .. } => 0,
        }
    }
}

/// Removes every clip of a record whose last entry is at least `age` old, and [`OPEN_KEEPS`] where the walk is not
/// complete. Sealed records too: their seal goes on proving hashes and text.
///
/// # Errors
/// As the variants of [`ForgetError`] say.
pub fn forget_sound(
    folder: &Path,
    age: SignedDuration,
    clock: &dyn Clock,
) -> Result<Removal, ForgetError> {
    // Before the lock, which would make its file in any folder.
    read(folder)?;
    let _lock = lock(folder, false)?;
    let parsed = read(folder)?;
    let clips = folder.join(CLIPS);
    let files = clips_in(folder, &parsed).own;
    let asked = age;
    let age = match parsed.is_open() {
        true => age.max(OPEN_KEEPS),
        false => age,
    };
    let last = parsed.entries.last().and_then(|e| e.instant());
    let old = last.map(|last| clock.wall().timestamp().duration_since(last));
    // Without an age asked for, a clock set back since the walk keeps no sound.
    if !age.is_zero() && old.is_some_and(|old| old < age) {
        let open = asked.is_zero() || old.is_some_and(|old| old >= asked);
        return Ok(match files.is_empty() {
            true => Removal::NoSound,
            false => Removal::TooYoung { open },
        });
    }
    if let Some(problem) = verify(folder, &[])?.first_problem {
        return Err(ForgetError::NotIntact(problem));
    }
    if files.is_empty() {
        return Ok(Removal::NoSound);
    }
    let mut list = Forgotten {
        wall: wall_text(&clock.wall()),
        clips: BTreeMap::new(),
    };
    for file in &files {
        let path = clips.join(file);
        let found = hash_file(&path).map_err(|e| RecordError::io(&path, "read", e))?;
        list.clips.insert(file.clone(), found.sha256);
    }
    // The list first: broken off here, the rest of the clips go at the next call.
    write(folder, &list)?;
    for file in &files {
        let path = clips.join(file);
        fs::remove_file(&path).map_err(|e| RecordError::io(&path, "removed", e))?;
    }
    sync_folder(&clips).map_err(|e| RecordError::io(&clips, "made durable", e))?;
    Ok(Removal::Removed(files.len()))
}

fn write(folder: &Path, list: &Forgotten) -> Result<(), RecordError> {
    let number = files_in(folder)
        .iter()
        .filter(|name| name.starts_with(FORGOTTEN))
        .count();
    let path = folder.join(format!("{FORGOTTEN}{}.json", number + 1));
    let fail = |e| RecordError::io(&path, "written", e);
    let mut bytes = serde_json::to_vec_pretty(list).map_err(|e| fail(e.into()))?;
    bytes.push(b'\n');
    write_new(&path, &bytes).map_err(fail)
}

/// The clips that were removed on purpose and are not there, sorted.
pub(super) fn removed(folder: &Path) -> Vec<String> {
    let listed: BTreeSet<String> = forgotten(folder)
        .into_iter()
        .flat_map(|list| list.clips.into_keys())
        .collect();
    let clips = if listed.is_empty() {
        BTreeSet::new()
    } else {
        files_in(&folder.join(CLIPS))
    };
    listed.difference(&clips).cloned().collect()
}

/// All lists of a record. One that cannot be read, is a link or without a time lists nothing, and the missing clips show.
pub(super) fn forgotten(folder: &Path) -> Vec<Forgotten> {
    files_in(folder)
        .into_iter()
        .filter(|name| name.starts_with(FORGOTTEN))
        .filter_map(|name| read_file(&folder.join(name), MAX_LIST_BYTES).ok())
        .filter_map(|bytes| serde_json::from_slice(&bytes).ok())
        .filter(|list: &Forgotten| instant(&list.wall).is_some())
        .collect()
}
