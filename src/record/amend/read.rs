//! Reads amendments with their signatures and their chain checked.

use super::{AMENDMENT_TYPE, Amendment, Change, MAX_AMENDMENTS, file_name};
use crate::record::dsse::{self, Signed};
use crate::record::envelope::{NO_PREV, sha256_hex};
use crate::record::folder::AMENDMENTS;
use crate::record::keys::PublicKey;
use crate::record::parse::Parsed;
use crate::record::problem::{Place, Problem, ProblemKind};
use crate::record::verify::files_in;
use crate::walk::Ledger;
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
    /// What it says. There too where its signature does not fit: since an amendment makes nothing
    /// better, it is heeded all the same.
    pub amendment: Option<Amendment>,
}

/// All amendments of a record in their order.
pub(in crate::record) fn read_amendments(
    folder: &Path,
    parsed: &Parsed,
    trusted: &[PublicKey],
) -> Vec<AmendmentCheck> {
    let folder = folder.join(AMENDMENTS);
    let ledger = ledger_before_fault(parsed);
    let mut prev = NO_PREV.to_owned();
    let mut checks = Vec::new();
    for (number, file) in (0..).zip(files_in(&folder).into_iter().take(MAX_AMENDMENTS)) {
        let check = check(&folder, file, number, &prev, parsed, &ledger, trusted);
        prev.clone_from(&check.sha256);
        checks.push(check);
    }
    checks
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
        amendment: None,
        file,
    };
    let wrong = open(folder, &mut found, trusted).and_then(|amendment| {
        let wrong = misplaced(&found.file, number, prev, &amendment)
            .or_else(|| unfit(parsed, ledger, &amendment));
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
    let amendment: Amendment = serde_json::from_slice(&signed.payload)
        .map_err(|e| (ProblemKind::Malformed, e.to_string()))?;
    let key = PublicKey::from_pem(&amendment.key);
    let changed = |detail: String| Err((ProblemKind::Changed, detail));
    found.amendment = Some(amendment.clone());
    let Some(key) = key.filter(|key| signed.is_by(key)) else {
        return changed("its signature does not fit its bytes".to_owned());
    };
    found.key_id = key.id();
    found.trusted = trusted.contains(&key);
    if !trusted.is_empty() && !found.trusted {
        return changed(format!(
            "the key {} made it, which is none of those given",
            found.key_id
        ));
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
