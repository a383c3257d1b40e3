//! Reads amendments with their signatures and their chain checked.

use super::{AMENDMENT_TYPE, AmendError, Amendment, Change, MAX_AMENDMENTS, file_name};
use crate::record::dsse::{self, Signed};
use crate::record::envelope::{NO_PREV, sha256_hex};
use crate::record::folder::AMENDMENTS;
use crate::record::keys::PublicKey;
use crate::record::own::amendments_in;
use crate::record::parse::{Parsed, newer_kind, unknown_kind};
use crate::record::problem::{Place, Problem, ProblemKind};
use crate::walk::{Ledger, person_keys, same_person};
use serde::Serialize;
use std::path::Path;

/// Longest file of an amendment, in bytes.
const MAX_BYTES: u64 = 256 << 10;

/// An amendment as found.
#[derive(Clone, Debug, Serialize)]
pub struct AmendmentCheck {
    /// Its file name in `amendments/`.
    pub file: String,
    /// SHA-256 of the file's bytes; empty where it could not be read.
    pub sha256: String,
    /// The number of the reviewer's key; empty where it could not be read.
    pub key_id: String,
    /// Whether the key is one that the caller trusts.
    pub trusted: bool,
    /// What is wrong with it.
    pub problem: Option<Problem>,
    /// The number of the sound amendment that withdraws it.
    pub withdrawn_by: Option<u64>,
    /// What it says. There too where its signature does not fit: since an amendment makes nothing
    /// better, it is heeded all the same.
    pub amendment: Option<Amendment>,
}

/// All amendments of a record in their order. `sealed` holds how many of them each seal covers.
pub(in crate::record) fn read_amendments(
    folder: &Path,
    parsed: &Parsed,
    sealed: &[usize],
    trusted: &[PublicKey],
) -> Vec<AmendmentCheck> {
    let files = amendments_in(folder).own;
    let folder = folder.join(AMENDMENTS);
    let ledger = ledger_before_fault(parsed);
    let mut prev = NO_PREV.to_owned();
    let mut checks = Vec::new();
    for (number, file) in (0..).zip(files.into_iter().take(MAX_AMENDMENTS)) {
        let check = check(&folder, file, number, &prev, parsed, &ledger, trusted);
        prev.clone_from(&check.sha256);
        checks.push(check);
    }
    for at in 0..checks.len() {
        withdraw(&mut checks, at, sealed);
    }
    checks
}

/// Lets a withdrawal count, or says why it does not.
fn withdraw(checks: &mut [AmendmentCheck], at: usize, sealed: &[usize]) {
    let check = &checks[at];
    let Some(Change::Withdraw { amendment }) = check.amendment.as_ref().map(|a| &a.change) else {
        return;
    };
    // Unlike the others it can make an outcome better, so it must be sound.
    if check.problem.is_some() {
        return;
    }
    let target = *amendment;
    let by = check.amendment.as_ref().map(|a| a.number);
    match withdrawable(&checks[..at], target, &check.key_id, sealed, at) {
        Ok(target) => checks[target].withdrawn_by = by,
        Err(why) => {
            checks[at].problem = Some(Problem {
                place: Place::Amendment(checks[at].file.clone()),
                kind: ProblemKind::Unfit,
                detail: why,
            });
        }
    }
}

/// The place of the amendment that the holder of a key may withdraw by an amendment numbered `at`,
/// after those `before`; why not otherwise.
pub(super) fn withdrawable(
    before: &[AmendmentCheck],
    number: u64,
    key_id: &str,
    sealed: &[usize],
    at: usize,
) -> Result<usize, String> {
    let place = usize::try_from(number).unwrap_or(usize::MAX);
    let Some(target) = before.get(place) else {
        return Err(format!("there is no amendment {number} before it"));
    };
    let Some(amendment) = &target.amendment else {
        return Err(format!("amendment {number} cannot be read"));
    };
    if let Some(by) = target.withdrawn_by {
        return Err(format!("amendment {number} was withdrawn by {by} already"));
    }
    if matches!(amendment.change, Change::Withdraw { .. }) {
        return Err(format!(
            "amendment {number} is a withdrawal itself; amend anew instead"
        ));
    }
    if target.key_id != key_id || key_id.is_empty() {
        return Err(format!(
            "amendment {number} was signed by {} with another key; only that one withdraws it",
            amendment.by
        ));
    }
    if sealed.iter().any(|&covers| place < covers && covers <= at) {
        return Err(format!(
            "amendment {number} is under a seal; inspect again in a new walk instead"
        ));
    }
    Ok(place)
}

/// The ledger of the entries that follow from each other.
fn ledger_before_fault(parsed: &Parsed) -> Ledger {
    let mut ledger = Ledger::default();
    for envelope in &parsed.entries {
        if ledger.apply(&envelope.entry).is_err() {
            break;
        }
    }
    ledger
}

fn check(
    folder: &Path,
    file: String,
    number: u64,
    prev: &str,
    parsed: &Parsed,
    ledger: &Ledger,
    trusted: &[PublicKey],
) -> AmendmentCheck {
    let mut found = AmendmentCheck {
        sha256: String::new(),
        key_id: String::new(),
        trusted: false,
        problem: None,
        withdrawn_by: None,
        amendment: None,
        file,
    };
    let wrong = open(folder, &mut found, trusted).and_then(|amendment| {
        let wrong = misplaced(&found.file, number, prev, &amendment)
            .or_else(|| unfit(parsed, ledger, &amendment))
            .or_else(|| wrong_person(ledger, &amendment));
        found.amendment = Some(amendment);
        wrong.map_or(Ok(()), Err)
    });
    found.problem = wrong.err().map(|(kind, detail)| Problem {
        place: Place::Amendment(found.file.clone()),
        kind,
        detail,
    });
    found
}

type Wrong = (ProblemKind, String);

fn open(
    folder: &Path,
    found: &mut AmendmentCheck,
    trusted: &[PublicKey],
) -> Result<Amendment, Wrong> {
    let bytes = dsse::read_file(&folder.join(&found.file), MAX_BYTES)?;
    found.sha256 = sha256_hex(&bytes);
    let signed = Signed::parse(&bytes, AMENDMENT_TYPE)?;
    let amendment: Amendment =
        serde_json::from_slice(&signed.payload).map_err(|e| match unknown_kind(&e) {
            Some(kind) => (ProblemKind::Newer, newer_kind(&kind)),
            None => (ProblemKind::Malformed, e.to_string()),
        })?;
    let key = PublicKey::from_pem(&amendment.key);
    let changed = |detail: String| Err((ProblemKind::Changed, detail));
    found.amendment = Some(amendment.clone());
    let Some(key) = key.filter(|key| signed.is_by(key)) else {
        return changed("its signature does not fit its bytes".to_owned());
    };
    found.key_id = key.id();
    found.trusted = trusted.contains(&key);
    if !trusted.is_empty() && !found.trusted {
        let detail = format!("{}; give its --key too if it is known", found.key_id);
        return Err((ProblemKind::OtherKey, detail));
    }
    Ok(amendment)
}

/// An amendment that does not stand where it was written.
fn misplaced(file: &str, number: u64, prev: &str, amendment: &Amendment) -> Option<Wrong> {
    if amendment.number > number || file != file_name(amendment.number) {
        let detail = format!("amendment {number} is not there");
        return Some((ProblemKind::Removed, detail));
    }
    if amendment.number != number || amendment.prev != prev {
        let detail = "it does not follow from the amendment before it".to_owned();
        return Some((ProblemKind::Reordered, detail));
    }
    None
}

/// Why whoever signed may not review this inspection. What it says against the load is heeded all the same.
fn wrong_person(ledger: &Ledger, amendment: &Amendment) -> Option<Wrong> {
    let by = &amendment.by;
    let why = match ledger.opening() {
        _ if person_keys(by).is_none() => AmendError::NoName,
        Some(opening) if same_person(by, &opening.rigger) => AmendError::Rigger(by.clone()),
        _ => return None,
    };
    Some((ProblemKind::Void, why.to_string()))
}

/// An amendment that was not made for this record.
fn unfit(parsed: &Parsed, ledger: &Ledger, amendment: &Amendment) -> Option<Wrong> {
    let unfit = |detail: String| Some((ProblemKind::Unfit, detail));
    let last = amendment
        .entries
        .checked_sub(1)
        .and_then(|last| parsed.hashes.get(usize::try_from(last).ok()?));
    if last != Some(&amendment.last_sha256) {
        return unfit("it was made for another journal".to_owned());
    }
    if let Some(check) = amendment.change.check()
        && ledger.locate(check).is_none()
    {
        return unfit(format!("the route has no check {check}"));
    }
    if let Change::HeardWrong { check, entry, .. } = &amendment.change
        && !ledger.history(check).iter().any(|a| a.entry == *entry)
    {
        return unfit(format!("entry {entry} is no answer to {check}"));
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(number: u64, key_id: &str, change: Change) -> AmendmentCheck {
        AmendmentCheck {
            file: file_name(number),
            sha256: String::new(),
            key_id: key_id.to_owned(),
            trusted: false,
            problem: None,
            withdrawn_by: None,
            amendment: Some(Amendment {
                number,
                prev: NO_PREV.to_owned(),
                wall: String::new(),
                by: "Eva Rowan".to_owned(),
                entries: 1,
                last_sha256: NO_PREV.to_owned(),
                change,
                text: String::new(),
                key: String::new(),
            }),
        }
    }

    /// What a program writes that does not ask whether it may.
    #[test]
    fn a_withdrawal_by_another_key_or_over_a_seal_is_named_and_not_heeded() {
        let note = || Change::Note { check: None };
        let back = || Change::Withdraw { amendment: 0 };
        for (target, by, sealed, counts) in [
            ("a", "a", &[][..], true),
            ("a", "b", &[], false),
            ("", "", &[], false),
            ("a", "a", &[1], false),
            // Sealed after the withdrawal, or before both.
            ("a", "a", &[2], true),
            ("a", "a", &[0], true),
        ] {
            let mut checks = [found(0, target, note()), found(1, by, back())];
            withdraw(&mut checks, 1, sealed);
            assert_eq!(checks[0].withdrawn_by.is_some(), counts, "{by} {sealed:?}");
            assert_eq!(checks[1].problem.is_none(), counts, "{by} {sealed:?}");
        }
    }
}
