//! What a verification notes and does not call wrong.

use super::amend::AmendmentCheck;
use super::clock::instant;
use super::folder::LEFTOVER;
use super::parse::Parsed;
use super::seal::SealCheck;
use super::verify::files_in;
use jiff::{SignedDuration, Timestamp};
use std::collections::BTreeSet;
use std::path::Path;

/// By how much the clocks of two machines may differ without a word.
const CLOCKS_DIFFER: SignedDuration = SignedDuration::from_mins(2);

/// Clocks that were set back, and seals and amendments dated before what they are about.
pub(super) fn note_clocks(
    parsed: &Parsed,
    seals: &[SealCheck],
    amendments: &[AmendmentCheck],
    notes: &mut Vec<String>,
) {
    for envelope in parsed.entries.iter().filter(|e| e.clock.is_some()) {
        notes.push(format!(
            "the clock had been set back before entry {} ({})",
            envelope.seq, envelope.wall
        ));
    }
    let entry = |at: u64| parsed.entries.get(usize::try_from(at).ok()?);
    let said = amendments.iter().filter_map(|a| a.amendment.as_ref());
    for a in said.clone() {
        let before = a.entries.checked_sub(1).and_then(entry);
        if let Some(before) = before.filter(|b| is_before(&a.wall, b.instant())) {
            notes.push(format!(
                "amendment {} is dated {}, before entry {} ({}), after which it was made",
                a.number, a.wall, before.seq, before.wall
            ));
        }
    }
    let last = parsed.entries.last();
    for (file, s) in seals
        .iter()
        .filter_map(|s| Some((&s.file, s.statement.as_ref()?)))
    {
        if let Some(last) = last.filter(|last| is_before(&s.sealed, last.instant())) {
            notes.push(format!(
                "the seal `{file}` is dated {}, before the last entry ({})",
                s.sealed, last.wall
            ));
        }
        let mut covered = said.clone().take(s.amendments.len());
        if let Some(a) = covered.find(|a| is_before(&s.sealed, instant(&a.wall))) {
            notes.push(format!(
                "the seal `{file}` is dated {}, before amendment {} ({}), which it covers",
                s.sealed, a.number, a.wall
            ));
        }
    }
}

/// Whether a written time is before another, or none at all.
pub(super) fn is_before(wall: &str, other: Option<Timestamp>) -> bool {
    let Some(other) = other else { return false };
    instant(wall).is_none_or(|at| other.duration_since(at) > CLOCKS_DIFFER)
}

/// Names that are told of what lies in a folder and is none of the record's.
const STRAYS_NAMED: usize = 3;

/// What lies in one of the record's folders and is none of its files.
pub(super) fn note_strays(folder: &str, strays: &BTreeSet<String>, notes: &mut Vec<String>) {
    let mut named: Vec<String> = (strays.iter().take(STRAYS_NAMED))
        .map(|name| format!("`{name}`"))
        .collect();
    if strays.len() > named.len() {
        named.push(format!("{} more", strays.len() - named.len()));
    }
    if let Some(last) = named.pop() {
        let named = match &named[..] {
            [] => last,
            before => format!("{} and {last}", before.join(", ")),
        };
        notes.push(format!(
            "in `{folder}/` lies what is none of the record's files, and nothing covers it: {named}"
        ));
    }
}

/// Lines that a crash broke off.
pub(super) fn note_leftovers(folder: &Path, notes: &mut Vec<String>) {
    for file in files_in(folder) {
        if file.starts_with(LEFTOVER) {
            notes.push(format!(
                "`{file}` holds a line that a crash broke off; it was never acknowledged"
            ));
        }
    }
}
