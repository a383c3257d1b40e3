//! Which files in a record's folders are its own. A file manager, a sync program or a person leaves others beside them
//! (`.DS_Store`, `Thumbs.db`, `@eaDir/`): nothing covers those, and they spoil nothing. What is called like a file of the
//! record, or holds what one holds, is judged as one.

use super::clip::MAX_CLIP_BYTES;
use super::dsse;
use super::envelope::clips_of;
use super::folder::{AMENDMENTS, CLIPS, SEALS};
use super::parse::Parsed;
use super::seal::{MAX_SEAL_BYTES, Role};
use super::verify::files_in;
use std::collections::{BTreeSet, HashSet};
use std::fs;
use std::path::Path;

/// The names in one of a record's folders, sorted.
pub(super) struct Names {
    /// Of the record's files, and of what looks like one.
    pub own: BTreeSet<String>,
    /// Of everything else.
    pub strays: BTreeSet<String>,
}

/// The names in `seals/`; none where it cannot be read.
pub(super) fn seals_in(record: &Path) -> Names {
    let folder = record.join(SEALS);
    names(&folder, |name| is_seal(&folder, name))
}

/// The names in `amendments/`; none where it cannot be read.
pub(super) fn amendments_in(record: &Path) -> Names {
    let folder = record.join(AMENDMENTS);
    names(&folder, |name| {
        is_amendment_name(name) || is_envelope(&folder, name)
    })
}

/// The names in `clips/`: those that an entry names and those that only the walk gives are the record's.
pub(super) fn clips_in(record: &Path, parsed: &Parsed) -> Names {
    let folder = record.join(CLIPS);
    let named: HashSet<&str> = (parsed.entries.iter())
        .flat_map(|e| clips_of(&e.entry))
        .map(|clip| clip.file)
        .collect();
    names(&folder, |name| {
        named.contains(name) || is_clip(&folder, name)
    })
}

fn names(folder: &Path, is_own: impl Fn(&str) -> bool) -> Names {
    let (own, strays) = files_in(folder).into_iter().partition(|name| is_own(name));
    Names { own, strays }
}

/// Whether a file in the folder `seals` is a seal, or looks like one.
pub(super) fn is_seal(seals: &Path, name: &str) -> bool {
    let roles = [Role::Inspector, Role::Second];
    roles.iter().any(|r| r.file().eq_ignore_ascii_case(name)) || is_envelope(seals, name)
}

/// `0000.json`, and what is called so but for the number of digits.
fn is_amendment_name(name: &str) -> bool {
    let name = name.to_ascii_lowercase();
    let number = name.strip_suffix(".json").unwrap_or_default();
    !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit())
}

/// A seal or an amendment under another name was renamed, and may be what opens a check again.
fn is_envelope(folder: &Path, name: &str) -> bool {
    dsse::read_file(&folder.join(name), MAX_SEAL_BYTES).is_ok_and(|bytes| dsse::is_envelope(&bytes))
}

/// Whether a file in the folder `clips` that no entry names can be one that the walk wrote before it broke off.
fn is_clip(clips: &Path, name: &str) -> bool {
    let meta = || fs::symlink_metadata(clips.join(name)).ok();
    is_clip_name(name)
        && meta().is_some_and(|meta| meta.is_file() && meta.len() <= MAX_CLIP_BYTES as u64)
}

/// As [`clip_stem`](super::clip::clip_stem) makes them: `0042-front-left-hook-links-1.wav`.
fn is_clip_name(name: &str) -> bool {
    let name = name.to_ascii_lowercase();
    let Some((number, rest)) = name
        .strip_suffix(".wav")
        .and_then(|stem| stem.split_once('-'))
    else {
        return false;
    };
    number.len() >= 4
        && number.bytes().all(|b| b.is_ascii_digit())
        && !rest.is_empty()
        && rest.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::clip::clip_stem;

    #[test]
    fn what_the_walk_calls_its_clips_is_known_and_nothing_else() {
        for (seq, hint) in [(7, ""), (42, "front-left/hook-links"), (123_456, "Öse")] {
            let name = format!("{}-1.wav", clip_stem(seq, hint));
            assert!(is_clip_name(&name), "{name}");
        }
        for name in [
            ".DS_Store",
            "._0001-clip-1.wav",
            "Thumbs.db",
            "@eaDir",
            "stray.wav",
            "001-clip-1.wav",
            "0001-.wav",
            "0001-clip-1.wav.part",
            "0001-clip 1.wav",
        ] {
            assert!(!is_clip_name(name), "{name}");
        }
    }

    #[test]
    fn an_amendment_is_known_by_its_name_however_many_digits() {
        for name in ["0000.json", "9999.json", "1.json", "00001.JSON"] {
            assert!(is_amendment_name(name), "{name}");
        }
        for name in [".json", "0000.json.bak", "0000 (1).json", "x.json", "0000"] {
            assert!(!is_amendment_name(name), "{name}");
        }
    }
}
