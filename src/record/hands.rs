//! Whose keys signed what: those that were given and signed nothing.

use super::amend::AmendmentCheck;
use super::folder::SEALS;
use super::keys::PublicKey;
use super::parse::Parsed;
use super::problem::{Place, Problem, ProblemKind};
use super::seal::SealCheck;
use crate::walk::Entry;
use std::collections::BTreeSet;

/// That no seal is by a key that was given, where one must be: a complete walk is signed for by a seal alone, so what a
/// review signed beside it does not stand for that. An open one has no seal, and needs something that is signed.
pub(super) fn no_seal(
    parsed: &Parsed,
    seals: &[SealCheck],
    amendments: &[AmendmentCheck],
    trusted: &[PublicKey],
) -> Option<Problem> {
    // What is signed by another key says so itself.
    if trusted.is_empty() || !seals.is_empty() {
        return None;
    }
    let ends = |e: &Entry| matches!(e, Entry::Completed { .. });
    let detail = if parsed.entries.iter().any(|e| ends(&e.entry)) {
        "the walk is complete, and no seal on it is by a key that was given: it was taken away, or never was there"
    } else if amendments.is_empty() {
        "nothing here is signed by a key that was given, or never was"
    } else {
        return None;
    };
    Some(Problem {
        place: Place::Seal(SEALS.to_owned()),
        kind: ProblemKind::Removed,
        detail: detail.to_owned(),
    })
}

/// The keys that were given and signed nothing that is here.
pub(super) fn note_idle_keys(
    seals: &[SealCheck],
    amendments: &[AmendmentCheck],
    trusted: &[PublicKey],
    notes: &mut Vec<String>,
) {
    let sealed = seals.iter().map(|s| s.key_id.as_str());
    let signed: BTreeSet<&str> = sealed
        .chain(amendments.iter().map(|a| a.key_id.as_str()))
        .collect();
    let given: BTreeSet<String> = trusted.iter().map(PublicKey::id).collect();
    for key in given.iter().filter(|key| !signed.contains(key.as_str())) {
        notes.push(format!(
            "the key {key} was given and signed nothing that is here: what it signed, if it did, was taken away"
        ));
    }
}
