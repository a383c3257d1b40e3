//! What was made against the rules that `walk` and `seal` hold to: whoever has a key can write a seal by hand, and
//! whoever writes a whole record anew can name in it whom they like. A seal by hand may also say of the record what it is not.

use super::amend::AmendmentCheck;
use super::envelope::clips_of;
use super::forget::Removed;
use super::parse::Parsed;
use super::problem::{Place, Problem, ProblemKind};
use super::seal::{NOBODY, Role, SealCheck, SealError, Statement, sealed_as};
use crate::walk::{Entry, person_keys, same_person};

/// Marks the seals that `seal` would not have made over these entries and amendments, and returns why.
/// `is_sealed_as_is`: whether a statement lists the very lines of the journal.
pub(super) fn void(
    seals: &mut [SealCheck],
    parsed: &Parsed,
    amendments: &[AmendmentCheck],
    removed: &Removed,
    is_sealed_as_is: impl Fn(&Statement) -> bool,
) -> Vec<Problem> {
    let first = seals.iter().find(|s| role(s) == Some(Role::Inspector));
    let first_key = first.map(|s| s.key_id.clone());
    let mut found = Vec::new();
    for seal in seals.iter_mut().filter(|s| s.problem.is_none()) {
        let Some(statement) = &seal.statement else {
            continue;
        };
        let one_key = statement.role == Role::Second && first_key.as_ref() == Some(&seal.key_id);
        let why = if !is_sealed_as_is(statement) {
            Some(format!(
                "{} signed other entries than those that are here",
                statement.signer
            ))
        } else if one_key {
            Some("it was made with the key of the inspector's".to_owned())
        } else {
            wrong_person(parsed, statement)
                .or_else(|| untrue(parsed, removed, statement))
                .or_else(|| {
                    let covered = amendments.get(..statement.amendments.len());
                    too_much(parsed, covered.unwrap_or(amendments), statement)
                })
        };
        seal.problem = why.map(|detail| Problem {
            place: Place::Seal(seal.file.clone()),
            kind: ProblemKind::Void,
            detail,
        });
        found.extend(seal.problem.clone());
    }
    found
}

fn role(seal: &SealCheck) -> Option<Role> {
    seal.statement.as_ref().map(|s| s.role)
}

/// Why whoever signed may not sign so.
fn wrong_person(parsed: &Parsed, statement: &Statement) -> Option<String> {
    let (inspector, rigger) = people(parsed)?;
    if person_keys(&statement.signer).is_none() {
        return Some(SealError::Name(NOBODY).to_string());
    }
    match super::seal::role(&statement.signer, inspector, rigger) {
        Err(error) => Some(error.to_string()),
        Ok(role) if role == statement.role => None,
        Ok(Role::Inspector) => Some(format!(
            "{} is the inspector, not a second person",
            statement.signer
        )),
        Ok(Role::Second) => Some(format!(
            "{} is not the inspector {inspector}",
            statement.signer
        )),
    }
}

/// What the seal says of the plan, the load or the sounds, and the entries that it signs do not.
fn untrue(parsed: &Parsed, removed: &Removed, statement: &Statement) -> Option<String> {
    let Some(Entry::Opened {
        plan_sha256, route, ..
    }) = parsed.entries.first().map(|e| &e.entry)
    else {
        return None;
    };
    if statement.plan_sha256 != *plan_sha256 {
        return Some("it names another plan than the entries that it signs".to_owned());
    }
    if statement.load != route.load {
        return Some(format!(
            "it names the load {}, the entries that it signs {}",
            statement.load, route.load
        ));
    }
    let mut named = parsed.entries.iter().flat_map(|e| clips_of(&e.entry));
    named.find_map(|clip| match statement.clips.get(clip.file) {
        Some(sealed) if sealed == clip.sha256 => None,
        Some(_) => Some(format!(
            "it has another hash for the sound `{}` than the entries that it signs",
            clip.file
        )),
        // What was removed on purpose before is no longer there to be sealed.
        None if removed.has(clip.file) => None,
        None => Some(format!(
            "it does not cover the sound `{}`, which an entry names",
            clip.file
        )),
    })
}

/// Why this record could not be sealed, or not as what the seal says.
fn too_much(parsed: &Parsed, covered: &[AmendmentCheck], statement: &Statement) -> Option<String> {
    match sealed_as(parsed, covered) {
        Err(error) => Some(error.to_string()),
        Ok(ready) => match (statement.ready, ready) {
            (true, false) => Some("it calls the load ready, and the record does not".to_owned()),
            (false, true) => Some("it calls the load not ready, and the record does".to_owned()),
            _ => None,
        },
    }
}

/// The inspector and the rigger.
fn people(parsed: &Parsed) -> Option<(&str, &str)> {
    match parsed.entries.first().map(|e| &e.entry) {
        Some(Entry::Opened {
            inspector, rigger, ..
        }) => Some((inspector, rigger)),
        _ => None,
    }
}

/// A walk whose inspector rigged the load.
pub(super) fn one_person(parsed: &Parsed) -> Option<Problem> {
    let (inspector, rigger) = people(parsed)?;
    same_person(inspector, rigger).then(|| Problem {
        place: Place::Entry(0),
        kind: ProblemKind::Void,
        detail: format!("{inspector} rigged this load and cannot inspect it"),
    })
}

#[cfg(test)]
mod tests;
