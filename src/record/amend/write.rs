//! Adds an amendment.

use super::hears::{Heard, heard};
use super::read::withdrawable;
use super::{AMENDMENT_TYPE, Amendment, Change, MAX_AMENDMENT_CHARS, MAX_AMENDMENTS, file_name};
use crate::plan::{CheckId, CheckKind};
use crate::record::clock::{Clock, wall_text};
use crate::record::dsse;
use crate::record::envelope::NO_PREV;
use crate::record::error::RecordError;
use crate::record::file::{sync_folder, write_whole};
use crate::record::folder::{AMENDMENTS, lock};
use crate::record::keys::SecretKey;
use crate::record::problem::Problem;
use crate::record::seal::covered;
use crate::record::verify::{examine, read};
use crate::walk::{Entry, Ledger, mixes_scripts, person_keys, rules, same_person, steers};
use std::fs;
use std::io;
use std::path::Path;

/// Why a record was not amended.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AmendError {
    /// The record does not verify.
    #[error("{0}; a record is amended only while nothing in it was changed")]
    NotIntact(Problem),
    /// The rigger wants to amend.
    #[error("{0} rigged this load and cannot review its inspection; somebody else must")]
    Rigger(String),
    /// No name, or one without a letter or digit.
    #[error("an amendment needs the name of the person who signs it")]
    NoName,
    /// A name with a line break or another character that steers a terminal.
    #[error("the reviewer's name holds a control character; write it with letters alone")]
    Control,
    /// A name with letters of two scripts.
    #[error(
        "the reviewer's name mixes letters of two scripts and can pass for another name; write it in one script"
    )]
    Mixed,
    /// No reason, or no text.
    #[error("an amendment needs a reason or a note; say in a sentence why")]
    NoText,
    /// Text or name is too long.
    #[error("the text is longer than {MAX_AMENDMENT_CHARS} characters; shorten it")]
    TooLong,
    /// No room.
    #[error("the record has {MAX_AMENDMENTS} amendments; start a new inspection")]
    TooMany,
    /// No such check.
    #[error("the route has no check `{0}`; the nearest are {1}")]
    NoSuchCheck(CheckId, String),
    /// The entry is no answer to that check that stands.
    #[error(
        "entry {entry} is not the answer that stands at {check}; amend that one (`loadwalk show`)"
    )]
    NotStanding {
        /// The check.
        check: CheckId,
        /// The entry.
        entry: u64,
    },
    /// The value is none of the check's.
    #[error("`{value}` is no answer to {check}; give {may_be}, or leave it out")]
    NoValue {
        /// The check.
        check: CheckId,
        /// The value.
        value: String,
        /// What it may be.
        may_be: String,
    },
    /// The value may be words that were meant for something else.
    #[error(
        "`{value}` may be words and not the tag of {check}; write the letters of a tag in capitals with its digits (`KL-7`) or \
         spell it (`kilo lima seven`), or leave it out"
    )]
    MayBeWords {
        /// The check.
        check: CheckId,
        /// The value.
        value: String,
    },
    /// What was heard is what was written down.
    #[error(
        "`{value}` is what stands at {check} already; give what the sound says instead, or use `note`"
    )]
    Stands {
        /// The check.
        check: CheckId,
        /// The value.
        value: String,
    },
    /// That amendment stays.
    #[error("{0}")]
    NotWithdrawn(String),
    /// The record could not be read or written.
    #[error(transparent)]
    Record(#[from] RecordError),
}

/// Signs an amendment and adds it to the record; it is on the disk on return.
///
/// # Errors
/// As the variants of [`AmendError`] say; nothing is written then.
pub fn amend(
    folder: &Path,
    by: &str,
    key: &SecretKey,
    change: Change,
    text: &str,
    clock: &dyn Clock,
) -> Result<Amendment, AmendError> {
    let (by, text) = (by.trim(), text.trim());
    if by.chars().any(steers) {
        return Err(AmendError::Control);
    }
    if mixes_scripts(by) {
        return Err(AmendError::Mixed);
    }
    if person_keys(by).is_none() {
        return Err(AmendError::NoName);
    }
    if text.is_empty() {
        return Err(AmendError::NoText);
    }
    if text.chars().count() > MAX_AMENDMENT_CHARS || by.chars().count() > MAX_AMENDMENT_CHARS {
        return Err(AmendError::TooLong);
    }
    // Before the lock, which would make its file in any folder.
    read(folder)?;
    let _lock = lock(folder, false)?;
    let (parsed, found) = examine(folder, &[], true)?;
    if let Some(problem) = found.first_problem {
        return Err(AmendError::NotIntact(problem));
    }
    let Some(Entry::Opened { rigger, .. }) = parsed.entries.first().map(|e| &e.entry) else {
        return Err(RecordError::Empty(folder.to_owned()).into());
    };
    if same_person(by, rigger) {
        return Err(AmendError::Rigger(by.to_owned()));
    }
    // The verification has shown already that the entries fit together.
    let ledger = Ledger::of(parsed.entries.iter().map(|e| &e.entry)).unwrap_or_default();
    let change = fits(&ledger, change)?;
    if found.amendments.len() >= MAX_AMENDMENTS {
        return Err(AmendError::TooMany);
    }
    if let Change::Withdraw { amendment } = &change {
        let (before, key_id) = (&found.amendments, key.public().id());
        let sealed = covered(&found.seals);
        withdrawable(before, *amendment, &key_id, &sealed, before.len())
            .map_err(AmendError::NotWithdrawn)?;
    }
    let prev = found.amendments.last().map(|a| a.sha256.clone());
    let amendment = Amendment {
        number: found.amendments.len() as u64,
        prev: prev.unwrap_or_else(|| NO_PREV.to_owned()),
        wall: wall_text(&clock.wall()),
        by: by.to_owned(),
        entries: parsed.entries.len() as u64,
        last_sha256: parsed.last_hash().to_owned(),
        change,
        text: text.to_owned(),
        key: key.public().to_pem(),
    };
    write(folder, &amendment, key)?;
    Ok(amendment)
}

/// The change as it is written down: what was heard may be given as it is spoken.
fn fits(ledger: &Ledger, change: Change) -> Result<Change, AmendError> {
    if let Some(check) = change.check()
        && ledger.locate(check).is_none()
    {
        return Err(no_such_check(check, ledger.route().checks().map(|c| &c.id)));
    }
    let Change::HeardWrong {
        check,
        entry,
        hears,
    } = change
    else {
        return Ok(change);
    };
    if ledger.standing(&check).is_none_or(|a| a.entry != entry) {
        return Err(AmendError::NotStanding { check, entry });
    }
    let (Some(said), Some((_, at))) = (hears, ledger.locate(&check)) else {
        return Ok(Change::HeardWrong {
            check,
            entry,
            hears: None,
        });
    };
    let value = match heard(at, &said) {
        Heard::Value(value) if ledger.would_be(&check, &value).is_some() => value,
        Heard::MayBeWords => return Err(AmendError::MayBeWords { check, value: said }),
        Heard::Value(_) | Heard::Nothing => {
            let may_be = may_be(&at.kind);
            return Err(AmendError::NoValue {
                check,
                value: said,
                may_be,
            });
        }
    };
    if ledger.standing(&check).is_some_and(|a| a.value == value) {
        return Err(AmendError::Stands { check, value });
    }
    Ok(Change::HeardWrong {
        check,
        entry,
        hears: Some(value),
    })
}

/// That a check is not there, with those that are called most alike.
pub fn no_such_check<'a>(check: &CheckId, known: impl Iterator<Item = &'a CheckId>) -> AmendError {
    let mut near: Vec<(f64, &str)> = known
        .map(|k| (strsim::jaro_winkler(&check.0, &k.0), k.0.as_str()))
        .collect();
    near.sort_by(|a, b| b.0.total_cmp(&a.0));
    let near: Vec<&str> = near.iter().take(3).map(|(_, k)| *k).collect();
    AmendError::NoSuchCheck(check.clone(), near.join(", "))
}

/// What an answer to a check of this kind may be.
fn may_be(kind: &CheckKind) -> String {
    match kind {
        CheckKind::Presence { .. } => "present, missing or deficient".to_owned(),
        CheckKind::Condition => "good or deficient".to_owned(),
        CheckKind::Count { .. } => "one whole number".to_owned(),
        CheckKind::Reading { .. } => "one number".to_owned(),
        CheckKind::Tag { .. } => "letters and digits".to_owned(),
        CheckKind::State { states } => {
            let said = states.iter().filter_map(|s| s.spoken.first());
            said.map(|s| format!("`{s}`"))
                .chain([rules::DEFICIENT.to_owned()])
                .collect::<Vec<_>>()
                .join(" or ")
        }
    }
}

fn write(folder: &Path, amendment: &Amendment, key: &SecretKey) -> Result<(), RecordError> {
    let amendments = folder.join(AMENDMENTS);
    let fail = |e| RecordError::io(&amendments, "written", e);
    let payload = serde_json::to_vec(amendment).map_err(|e| fail(e.into()))?;
    let bytes = dsse::envelope(AMENDMENT_TYPE, &payload, key);
    match fs::create_dir(&amendments) {
        Err(e) if e.kind() != io::ErrorKind::AlreadyExists => return Err(fail(e)),
        _ => sync_folder(folder).map_err(fail)?,
    }
    write_whole(&amendments.join(file_name(amendment.number)), &bytes).map_err(fail)
}
