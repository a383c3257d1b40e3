//! Whose keys signed what: one under several names, one name with several, and those that were given and signed nothing.

use super::amend::AmendmentCheck;
use super::folder::SEALS;
use super::keys::PublicKey;
use super::parse::Parsed;
use super::problem::{Place, Problem, ProblemKind};
use super::seal::SealCheck;
use crate::walk::{Entry, person_keys, same_person};
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

/// A name with the key under which it stands, and where.
struct Hand<'a> {
    key: &'a str,
    name: &'a str,
    place: String,
}

/// All that was signed with a good signature, whoever's the key is.
fn hands<'a>(seals: &'a [SealCheck], amendments: &'a [AmendmentCheck]) -> Vec<Hand<'a>> {
    let seals = seals.iter().filter_map(|s| {
        Some(Hand {
            key: &s.key_id,
            name: &s.statement.as_ref()?.signer,
            place: format!("seal `{}`", s.file),
        })
    });
    let amendments = amendments.iter().filter_map(|a| {
        let amendment = a.amendment.as_ref()?;
        Some(Hand {
            key: &a.key_id,
            name: &amendment.by,
            place: format!("amendment {}", amendment.number),
        })
    });
    // Without a number the signature did not fit.
    let all = seals.chain(amendments);
    all.filter(|hand| !hand.key.is_empty()).collect()
}

/// One key under the names of several people, and one person with several keys: a name is what somebody typed.
pub(super) fn note_hands(
    seals: &[SealCheck],
    amendments: &[AmendmentCheck],
    notes: &mut Vec<String>,
) {
    let hands = hands(seals, amendments);
    let mut told: Vec<&Hand<'_>> = Vec::new();
    for hand in &hands {
        if told.iter().any(|t| t.key == hand.key) {
            continue;
        }
        told.push(hand);
        let mut people: Vec<&Hand<'_>> = Vec::new();
        for other in hands.iter().filter(|h| h.key == hand.key) {
            if !people.iter().any(|p| is_one_person(p.name, other.name)) {
                people.push(other);
            }
        }
        if people.len() > 1 {
            let names = people.iter().map(|h| format!("{} ({})", h.name, h.place));
            notes.push(format!(
                "the key {} signed under several names, so they show one hand: {}",
                hand.key,
                names.collect::<Vec<_>>().join(", ")
            ));
        }
    }
    let mut told: Vec<&Hand<'_>> = Vec::new();
    for hand in &hands {
        if told.iter().any(|t| is_one_person(t.name, hand.name)) {
            continue;
        }
        told.push(hand);
        let mut keys: Vec<&Hand<'_>> = Vec::new();
        for other in hands.iter().filter(|h| is_one_person(h.name, hand.name)) {
            if !keys.iter().any(|k| k.key == other.key) {
                keys.push(other);
            }
        }
        if keys.len() > 1 {
            let keys = keys.iter().map(|h| format!("{} ({})", h.key, h.place));
            notes.push(format!(
                "{} signed with several keys, which may be those of several people: {}",
                hand.name,
                keys.collect::<Vec<_>>().join(", ")
            ));
        }
    }
}

/// Whether two names are one person's; those without a letter are nobody's and one.
fn is_one_person(a: &str, b: &str) -> bool {
    same_person(a, b) || person_keys(a).is_none() && person_keys(b).is_none()
}
