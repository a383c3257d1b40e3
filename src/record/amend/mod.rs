//! Amendments: what a reviewer says about a record afterwards, each a signed entry of its own.
//!
//! An amendment is a DSSE envelope in `amendments/`, numbered from `0000.json`. Its payload, an
//! [`Amendment`], carries the hash of the amendment before it and of the journal's last line at that
//! time. The journal is not touched, so a sealed record takes amendments too.
//!
//! An amendment never makes a check conforming and never clears a deficiency of the walk: it can only
//! open a check, name a deficiency that the walk missed, or add a note. What it opens is settled by
//! inspecting again. A slip is taken back by a withdrawal, one more amendment, by the holder of the
//! same key and while no seal covers the slip; both stay in sight.

mod effect;
mod hears;
mod read;
mod write;

pub(super) use effect::{
    Effect, Effects, effect, effects, heard_deficient, heeded, left_out_since,
};
pub use hears::typed_value;
pub use read::AmendmentCheck;
pub(super) use read::read_amendments;
pub use write::{AmendError, amend, no_such_check};

use crate::plan::CheckId;
use serde::{Deserialize, Serialize};

/// The payload's type, which the signature covers.
pub const AMENDMENT_TYPE: &str = "application/vnd.loadwalk.amendment.v1+json";

/// Longest reason or note, in characters.
pub const MAX_AMENDMENT_CHARS: usize = 4_000;

/// Most amendments of one record.
pub const MAX_AMENDMENTS: usize = 9_999;

/// What a reviewer says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Change {
    /// The answer of an entry is not what was said.
    HeardWrong {
        /// The check.
        check: CheckId,
        /// The number of the answer's entry in the journal.
        entry: u64,
        /// What the reviewer hears in the sound, as a value of the check; `None`: no answer.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        hears: Option<String>,
    },
    /// The check has to be inspected again.
    ReInspect {
        /// The check.
        check: CheckId,
    },
    /// A note that changes no outcome.
    Note {
        /// The check; `None`: the load.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        check: Option<CheckId>,
    },
    /// An earlier amendment of the same key no longer counts.
    Withdraw {
        /// The number of that amendment.
        amendment: u64,
    },
}

impl Change {
    /// The check that it is about.
    pub fn check(&self) -> Option<&CheckId> {
        match self {
            Self::HeardWrong { check, .. } | Self::ReInspect { check } => Some(check),
            Self::Note { check } => check.as_ref(),
            Self::Withdraw { .. } => None,
        }
    }

    /// Its kind in words.
    pub fn words(&self) -> &'static str {
        match self {
            Self::HeardWrong { .. } => "heard wrong",
            Self::ReInspect { .. } => "re-inspect",
            Self::Note { .. } => "note",
            Self::Withdraw { .. } => "withdrawal",
        }
    }
}

/// An amendment; exactly these bytes are signed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Amendment {
    /// Running number from 0.
    pub number: u64,
    /// SHA-256 of the bytes of the amendment's file before; 64 zeros in the first.
    pub prev: String,
    /// When, by the reviewer's clock (RFC 9557).
    pub wall: String,
    /// Who.
    pub by: String,
    /// Entries of the journal at that time.
    pub entries: u64,
    /// SHA-256 of the last of them.
    pub last_sha256: String,
    /// What is amended.
    pub change: Change,
    /// The reason, or the note.
    pub text: String,
    /// The reviewer's public key (SubjectPublicKeyInfo PEM).
    pub key: String,
}

/// The file name of an amendment.
fn file_name(number: u64) -> String {
    format!("{number:04}.json")
}
