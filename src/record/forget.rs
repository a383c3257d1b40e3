//! Removes the sound of a record and keeps everything else: voices are personal data.
//!
//! What was removed is listed with its hashes in `forgotten-N.json`, so that hashes and text stay
//! verifiable and a clip that somebody else takes away still shows.

use super::clip::hash_file;
use super::clock::{Clock, instant, wall_text};
use super::dsse::read_file;
use super::envelope::{Envelope, clips_of};
use super::error::RecordError;
use super::file::{sync_folder, write_new};
use super::folder::{CLIPS, lock};
use super::notes::is_before;
use super::own::clips_in;
use super::problem::Problem;
use super::verify::{files_in, read, verify};
use crate::walk::Entry;
use jiff::SignedDuration;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet, HashSet};
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

/// What the lists of removed sounds tell.
#[derive(Debug, Default)]
pub(super) struct Removed {
    /// The lists that can be the program's own.
    lists: Vec<Forgotten>,
    /// Lists that cannot, by file name, each with why.
    others: Vec<(String, Forgotten, String)>,
    /// When the last of the sounds of a list was written down, where that is after the date of the list.
    later: Vec<(String, String)>,
}

impl Removed {
    /// Reads the lists of a record with these entries. Nobody signs a list, but the program removes all that is there at once
    /// and looks at every hash before: a list that lacks a sound before one that it has, or that nothing but the middle of a
    /// walk parts from the next, or that has another hash, was made up.
    pub(super) fn of(folder: &Path, entries: &[Envelope]) -> Self {
        let all = forgotten(folder);
        let mut removed = Self::default();
        if all.is_empty() {
            return removed;
        }
        let named = named(entries);
        let listed: HashSet<&str> = (all.iter())
            .flat_map(|(_, list)| list.clips.keys().map(String::as_str))
            .collect();
        for (file, list) in &all {
            let own = named.iter().filter(|c| list.clips.contains_key(c.file));
            let last = own.clone().map(|c| c.entry).max();
            let other_hash = own
                .clone()
                .find(|c| list.clips.get(c.file).is_some_and(|hash| hash != c.sha256))
                .map(|c| format!("it has another hash for `{}`", c.file));
            let why = other_hash.or_else(|| lacks(entries, &named, &listed, last?));
            if let Some(why) = why {
                removed.others.push((file.clone(), list.clone(), why));
                continue;
            }
            let last = last.and_then(|last| entries.get(usize::try_from(last).ok()?));
            if let Some(last) = last.filter(|last| is_before(&list.wall, last.instant())) {
                removed.later.push((file.clone(), last.wall.clone()));
            }
            removed.lists.push(list.clone());
        }
        removed
    }

    /// Whether a list that can be the program's own has this sound, by the name in `clips/`.
    pub(super) fn has(&self, file: &str) -> bool {
        self.lists.iter().any(|list| list.clips.contains_key(file))
    }

    /// Whether it has it with this SHA-256 (lower-case hex).
    pub(super) fn has_as(&self, file: &str, sha256: &str) -> bool {
        let as_that = |list: &Forgotten| list.clips.get(file).is_some_and(|hash| hash == sha256);
        self.lists.iter().any(as_that)
    }

    /// Why no list that has this sound says that it was removed on purpose; `None` where none has it.
    pub(super) fn doubted(&self, file: &str) -> Option<String> {
        let mut others = self.others.iter();
        let (name, _, why) = others.find(|(_, list, _)| list.clips.contains_key(file))?;
        Some(format!(
            "`{name}` names it, and is no list of this program: {why}"
        ))
    }

    /// The sounds that were removed on purpose and are not there, sorted.
    pub(super) fn gone(&self, folder: &Path) -> Vec<String> {
        let clips = match self.lists.is_empty() {
            true => BTreeSet::new(),
            false => files_in(&folder.join(CLIPS)),
        };
        let listed: BTreeSet<&String> = self.lists.iter().flat_map(|l| l.clips.keys()).collect();
        let gone = listed.into_iter().filter(|file| !clips.contains(*file));
        gone.cloned().collect()
    }

    /// What went, and what is strange about it.
    pub(super) fn note(&self, folder: &Path, notes: &mut Vec<String>) {
        let there = files_in(&folder.join(CLIPS));
        for list in &self.lists {
            // Broken off, or put back.
            let left = list
                .clips
                .keys()
                .filter(|file| there.contains(*file))
                .count();
            let left = match left {
                0 => String::new(),
                left => format!(" ({left} of them are there)"),
            };
            let named = match (list.clips.keys().next(), list.clips.keys().next_back()) {
                (Some(first), Some(last)) if first != last => format!(": `{first}` to `{last}`"),
                (Some(first), _) => format!(": `{first}`"),
                (None, _) => String::new(),
            };
            notes.push(format!(
                "the sound of {} clips was removed on purpose at {}, says a list that nobody signed{named}{left}; their hashes and \
                 what was heard remain, and nobody can listen again",
                list.clips.len(),
                list.wall
            ));
        }
        for (file, _, why) in &self.others {
            notes.push(format!(
                "`{file}` is no list of this program, and excuses nothing: {why}"
            ));
        }
        for (file, wall) in &self.later {
            notes.push(format!(
                "the list `{file}` is dated before the last of its sounds was written down ({wall})"
            ));
        }
    }
}

/// A sound with the first entry that names it.
struct Named<'a> {
    file: &'a str,
    sha256: &'a str,
    entry: u64,
}

/// The sounds that entries name, each once, in their order.
fn named(entries: &[Envelope]) -> Vec<Named<'_>> {
    let mut known = HashSet::new();
    let all = entries.iter().flat_map(|e| {
        let clips = clips_of(&e.entry).into_iter();
        clips.map(move |clip| Named {
            file: clip.file,
            sha256: clip.sha256,
            entry: e.seq,
        })
    });
    all.filter(|clip| known.insert(clip.file)).collect()
}

/// Why a list whose last sound is that of this entry is not all that was there: no list has one before it, or the walk went on
/// behind it without having been taken up again.
fn lacks(
    entries: &[Envelope],
    named: &[Named<'_>],
    listed: &HashSet<&str>,
    last: u64,
) -> Option<String> {
    let next = named.iter().find(|c| !listed.contains(c.file))?;
    let between = entries
        .iter()
        .skip_while(|e| e.seq <= last)
        .take_while(|e| e.seq <= next.entry);
    let mut taken_up = between.map(|e| matches!(e.entry, Entry::Resumed { .. }));
    (next.entry <= last || !taken_up.any(|taken_up| taken_up)).then(|| {
        format!(
            "it lacks `{}`, which was there and would have been removed with the rest",
            next.file
        )
    })
}

/// All lists of a record with their file names. One that cannot be read, is a link or without a time lists nothing, and the
/// missing clips show.
fn forgotten(folder: &Path) -> Vec<(String, Forgotten)> {
    files_in(folder)
        .into_iter()
        .filter(|name| name.starts_with(FORGOTTEN))
        .filter_map(|name| {
            let bytes = read_file(&folder.join(&name), MAX_LIST_BYTES).ok()?;
            let list: Forgotten = serde_json::from_slice(&bytes).ok()?;
            instant(&list.wall)?;
            Some((name, list))
        })
        .collect()
}
