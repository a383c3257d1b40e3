//! Seals: who signed a complete record, with what key, over which bytes.
//!
//! A seal is a DSSE envelope in `seals/`. Its payload, a [`Statement`], lists the hash of every line of
//! the journal, of every clip and of every amendment so far, so that a verification can name exactly
//! what differs.
//!
//! A record whose walk ended "not ready" can be sealed too: it is evidence of what was found, and
//! the seal says so. What is open cannot.

use super::amend::{AmendmentCheck, Effect, MAX_AMENDMENT_CHARS, effects, heeded};
use super::clip::hash_file;
use super::clock::{Clock, wall_text};
use super::dsse::{self, Signed};
use super::error::RecordError;
use super::file::{sync_folder, write_whole};
use super::folder::{CLIPS, SEALS, lock};
use super::keys::{PublicKey, SecretKey};
use super::own::{clips_in, seals_in};
use super::parse::Parsed;
use super::problem::{Place, Problem, ProblemKind};
use super::verify::{examine, examine_sealed, read};
use crate::plan::CheckId;
use crate::walk::{Entry, Ledger, mixes_scripts, person_keys, same_person, steers};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

/// The payload's type, which the signature covers.
pub const SEAL_TYPE: &str = "application/vnd.loadwalk.seal.v1+json";

/// Longest seal, in bytes; one of 20,000 entries has about 2 MB.
pub(super) const MAX_SEAL_BYTES: u64 = 64 << 20;

/// In what capacity somebody seals a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// The inspector of the walk.
    Inspector,
    /// A second person, who is neither inspector nor rigger, after the inspector.
    Second,
}

impl Role {
    /// The name of its file in `seals/`.
    pub(super) fn file(self) -> &'static str {
        match self {
            Self::Inspector => "inspector.json",
            Self::Second => "second.json",
        }
    }
}

/// What a seal says; exactly these bytes are signed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Statement {
    /// Who signs.
    pub signer: String,
    /// In what capacity.
    pub role: Role,
    /// When, by the signer's clock (RFC 9557).
    pub sealed: String,
    /// Whether the walk ended ready for signature and no amendment says otherwise.
    pub ready: bool,
    /// The load.
    pub load: String,
    /// SHA-256 of each line of the journal without its newline, in order.
    pub entries: Vec<String>,
    /// SHA-256 of the plan.
    pub plan_sha256: String,
    /// SHA-256 of each sound in `clips/`, by its file name: those that entries name, and those that the walk wrote before it
    /// broke off.
    pub clips: BTreeMap<String, String>,
    /// SHA-256 of each amendment's file so far, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub amendments: Vec<String>,
    /// The signer's public key (SubjectPublicKeyInfo PEM).
    pub key: String,
}

/// A seal as found.
#[derive(Clone, Debug, Serialize)]
pub struct SealCheck {
    /// Its file name in `seals/`.
    pub file: String,
    /// The number of its key; empty where it could not be read.
    pub key_id: String,
    /// Whether the key is one that the caller trusts.
    pub trusted: bool,
    /// What is wrong with it.
    pub problem: Option<Problem>,
    /// What it says; `None` where it could not be read or its signature does not fit. As JSON
    /// with the lengths of the lists of hashes in their place.
    #[serde(serialize_with = "summary")]
    pub statement: Option<Statement>,
}

fn summary<S: serde::Serializer>(
    statement: &Option<Statement>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Summary<'a> {
        signer: &'a str,
        role: Role,
        sealed: &'a str,
        ready: bool,
        entries: usize,
        clips: usize,
        amendments: usize,
    }
    let summary = statement.as_ref().map(|s| Summary {
        signer: &s.signer,
        role: s.role,
        sealed: &s.sealed,
        ready: s.ready,
        entries: s.entries.len(),
        clips: s.clips.len(),
        amendments: s.amendments.len(),
    });
    summary.serialize(serializer)
}

/// What is wrong with a name without a letter or digit.
pub(super) const NOBODY: &str = "is missing; a seal is a person's";

/// Why a record was not sealed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SealError {
    /// The record does not verify.
    #[error("{0}; a record is sealed only while nothing in it was changed")]
    NotIntact(Problem),
    /// The route is not in the words of the plan.
    #[error(
        "{0}; a record is sealed only in the words of its plan: seal it with the version of loadwalk that walked it"
    )]
    OtherWords(String),
    /// The walk is not complete.
    #[error("the walk is not complete: {0}; go on with it by `loadwalk resume`, then seal")]
    Open(String),
    /// It was a practice walk.
    #[error(
        "this was a practice walk, which vouches for nothing; walk the load with `loadwalk walk` and seal that"
    )]
    Practice,
    /// An amendment opened a check of the complete walk.
    #[error("a review opened {0} again; inspect it in a new walk and seal that one")]
    Reviewed(String),
    /// No name, one that is too long, or one with a character that steers a terminal.
    #[error("the signer's name {0}")]
    Name(&'static str),
    /// The inspector rigged the load.
    #[error("{0} is inspector and rigger of this load; somebody else must inspect it")]
    OnePerson(String),
    /// The rigger wants to seal.
    #[error("{0} rigged this load and cannot seal its record; the inspector does")]
    Rigger(String),
    /// A second person comes before the inspector.
    #[error("{name} is not the inspector {inspector}; the inspector seals first")]
    InspectorFirst {
        /// Who wants to seal.
        name: String,
        /// Who inspected.
        inspector: String,
    },
    /// That seal is there.
    #[error("the record carries the seal `{0}` already; a seal is never replaced")]
    Sealed(String),
    /// Both seals would be of one key.
    #[error("the key {0} made the inspector's seal; the second person needs a key of their own")]
    OneKey(String),
    /// The record could not be read or written.
    #[error(transparent)]
    Record(#[from] RecordError),
}

/// Seals a complete record: by the inspector first, then, if wanted, by a second person. Returns
/// what was signed.
///
/// # Errors
/// As the variants of [`SealError`] say; nothing is written then.
pub fn seal(
    folder: &Path,
    name: &str,
    key: &SecretKey,
    clock: &dyn Clock,
) -> Result<Statement, SealError> {
    let name = name.trim();
    let unfit = |why: &'static str| Err(SealError::Name(why));
    match name {
        name if name.chars().any(steers) => {
            return unfit("holds a control character; write it with letters alone");
        }
        name if person_keys(name).is_none() => {
            return unfit(NOBODY);
        }
        name if mixes_scripts(name) => {
            return unfit(
                "mixes letters of two scripts and can pass for another name; write it in one script",
            );
        }
        name if name.chars().count() > MAX_AMENDMENT_CHARS => {
            return unfit("is too long; shorten it");
        }
        _ => {}
    }
    // Before the lock, which would make its file in any folder.
    read(folder)?;
    let _lock = lock(folder, false)?;
    let parsed = read(folder)?;
    if let Some(Entry::Opened {
        inspector, rigger, ..
    }) = parsed.entries.first().map(|e| &e.entry)
        && same_person(inspector, rigger)
    {
        return Err(SealError::OnePerson(inspector.clone()));
    }
    let (parsed, verification) = examine(folder, &[], true)?;
    if let Some(problem) = verification.first_problem {
        return Err(SealError::NotIntact(problem));
    }
    if let Some(words) = verification.other_words {
        return Err(SealError::OtherWords(words));
    }
    let Some(Entry::Opened {
        inspector,
        rigger,
        plan_sha256,
        route,
        ..
    }) = parsed.entries.first().map(|e| &e.entry)
    else {
        return Err(SealError::Open("nothing was asked yet".to_owned()));
    };
    let role = role(name, inspector, rigger)?;
    let ready = sealed_as(&parsed, &verification.amendments)?;
    for seal in &verification.seals {
        if seal.file == role.file() {
            return Err(SealError::Sealed(seal.file.clone()));
        }
        if role == Role::Second && seal.key_id == key.public().id() {
            return Err(SealError::OneKey(seal.key_id.clone()));
        }
    }
    if role == Role::Second && verification.seals.is_empty() {
        return Err(SealError::InspectorFirst {
            name: name.to_owned(),
            inspector: inspector.clone(),
        });
    }
    let statement = Statement {
        signer: name.to_owned(),
        role,
        sealed: wall_text(&clock.wall()),
        ready,
        load: route.load.clone(),
        entries: parsed.hashes.clone(),
        plan_sha256: plan_sha256.clone(),
        clips: clip_hashes(folder, &parsed)?,
        amendments: verification
            .amendments
            .iter()
            .map(|a| a.sha256.clone())
            .collect(),
        key: key.public().to_pem(),
    };
    // A seal is never replaced, so one that would not verify must not be made.
    let seal = SealCheck {
        file: role.file().to_owned(),
        key_id: key.public().id(),
        trusted: false,
        problem: None,
        statement: Some(statement.clone()),
    };
    let (_, sealed) = examine_sealed(folder, seal)?;
    if let Some(problem) = sealed.first_problem {
        return Err(SealError::NotIntact(problem));
    }
    write(folder, &statement, key)?;
    Ok(statement)
}

/// Whether a record with these amendments is sealed as ready, or why it cannot be sealed.
pub(super) fn sealed_as(parsed: &Parsed, amendments: &[AmendmentCheck]) -> Result<bool, SealError> {
    let (ledger, ready) = completion(parsed).map_err(SealError::Open)?;
    if ledger.practice().is_some() {
        return Err(SealError::Practice);
    }
    let amended = effects(&ledger, heeded(amendments));
    let opened = |(_, effect): &(&CheckId, &Effect)| matches!(effect, Effect::Open { .. });
    if let Some((check, _)) = amended.iter().find(opened) {
        return Err(SealError::Reviewed(check.to_string()));
    }
    Ok(ready && amended.is_empty())
}

/// In which role somebody signs, or why they cannot.
pub(super) fn role(name: &str, inspector: &str, rigger: &str) -> Result<Role, SealError> {
    if same_person(name, rigger) {
        return Err(SealError::Rigger(name.to_owned()));
    }
    Ok(if same_person(name, inspector) {
        Role::Inspector
    } else {
        Role::Second
    })
}

/// A complete walk and whether it ended ready; what is open otherwise.
fn completion(parsed: &Parsed) -> Result<(Ledger, bool), String> {
    // The verification has shown already that the entries fit together.
    let ledger = Ledger::of(parsed.entries.iter().map(|e| &e.entry))
        .map_err(|(entry, why)| format!("entry {entry}: {why}"))?;
    if let Some(ready) = ledger.completed() {
        return Ok((ledger, ready));
    }
    let open = ledger.open_points();
    Err(match &open[..] {
        [] => "nothing is open, but its end was not reached".to_owned(),
        [only] => format!("{} is open", only.check),
        [first, others @ ..] => format!("{} and {} more are open", first.check, others.len()),
    })
}

fn clip_hashes(folder: &Path, parsed: &Parsed) -> Result<BTreeMap<String, String>, RecordError> {
    let clips = folder.join(CLIPS);
    (clips_in(folder, parsed).own.into_iter())
        .map(|file| {
            let path = clips.join(&file);
            let found = hash_file(&path).map_err(|e| RecordError::io(&path, "read", e))?;
            Ok((file, found.sha256))
        })
        .collect()
}

fn write(folder: &Path, statement: &Statement, key: &SecretKey) -> Result<(), RecordError> {
    let seals = folder.join(SEALS);
    let fail = |e| RecordError::io(&seals, "written", e);
    let payload = serde_json::to_vec(statement).map_err(|e| fail(e.into()))?;
    let bytes = dsse::envelope(SEAL_TYPE, &payload, key);
    match fs::create_dir(&seals) {
        Err(e) if e.kind() != io::ErrorKind::AlreadyExists => return Err(fail(e)),
        _ => sync_folder(folder).map_err(fail)?,
    }
    write_whole(&seals.join(statement.role.file()), &bytes).map_err(fail)
}

/// How many amendments each seal covers.
pub(super) fn covered(seals: &[SealCheck]) -> Vec<usize> {
    let statements = seals.iter().filter_map(|s| s.statement.as_ref());
    statements.map(|s| s.amendments.len()).collect()
}

/// All seals of a record with their signatures checked, the inspector's first.
pub(super) fn read_seals(folder: &Path, trusted: &[PublicKey]) -> Vec<SealCheck> {
    let seals = folder.join(SEALS);
    let mut checks: Vec<SealCheck> = seals_in(folder)
        .own
        .into_iter()
        .map(|file| check(&seals, file, trusted))
        .collect();
    let first = checks.iter().find_map(|c| {
        let entries = &c.statement.as_ref()?.entries;
        c.problem.is_none().then(|| entries.clone())
    });
    for check in &mut checks {
        let entries = check.statement.as_ref().map(|s| &s.entries);
        if check.problem.is_none() && entries != first.as_ref() {
            let detail = "it covers other entries than the first seal".to_owned();
            check.problem = Some(problem(&check.file, ProblemKind::Changed, detail));
        }
    }
    checks
}

fn problem(file: &str, kind: ProblemKind, detail: String) -> Problem {
    Problem {
        place: Place::Seal(file.to_owned()),
        kind,
        detail,
    }
}

fn check(seals: &Path, file: String, trusted: &[PublicKey]) -> SealCheck {
    let bad = |kind, detail: &str| SealCheck {
        key_id: String::new(),
        trusted: false,
        problem: Some(problem(&file, kind, detail.to_owned())),
        statement: None,
        file: file.clone(),
    };
    let signed = dsse::read_file(&seals.join(&file), MAX_SEAL_BYTES)
        .and_then(|bytes| Signed::parse(&bytes, SEAL_TYPE));
    let signed = match signed {
        Ok(signed) => signed,
        Err((kind, detail)) => return bad(kind, &detail),
    };
    let Some((statement, key)) = open(&signed) else {
        return bad(ProblemKind::Changed, "its signature does not fit its bytes");
    };
    let is_trusted = trusted.contains(&key);
    let wrong = if statement.role.file() != file {
        let detail = "its file name is that of another seal".to_owned();
        Some((ProblemKind::Changed, detail))
    } else if !trusted.is_empty() && !is_trusted {
        let detail = format!("{}; give its --key too if it is known", key.id());
        Some((ProblemKind::OtherKey, detail))
    } else {
        None
    };
    SealCheck {
        key_id: key.id(),
        trusted: is_trusted,
        problem: wrong.map(|(kind, detail)| problem(&file, kind, detail)),
        statement: Some(statement),
        file,
    }
}

/// What a seal says, if its signature fits.
fn open(signed: &Signed) -> Option<(Statement, PublicKey)> {
    let statement: Statement = serde_json::from_slice(&signed.payload).ok()?;
    let key = PublicKey::from_pem(&statement.key)?;
    signed.is_by(&key).then_some((statement, key))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_person_is_known_by_name_whatever_blanks_and_capitals() {
        let error = role("tom alder", "Ida Fern", "Tom Alder").unwrap_err();
        assert!(matches!(error, SealError::Rigger(_)), "{error}");
        assert_eq!(
            role("Ida Fern", "Ida Fern", "Tom Alder").unwrap(),
            Role::Inspector
        );
        assert_eq!(
            role("Eva Rowan", "Ida Fern", "Tom Alder").unwrap(),
            Role::Second
        );
    }
}
