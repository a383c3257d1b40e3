//! What is wrong with a record, and where.

use super::show::plain;
use serde::Serialize;
use std::fmt;

/// One thing that is wrong with a record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// Where.
    pub place: Place,
    /// What happened to it.
    pub kind: ProblemKind,
    /// How it shows, in words for a person.
    pub detail: String,
}

/// Where a record is wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// The entry with this number (line number less one).
    Entry(u64),
    /// A clip.
    Clip {
        /// Its file name inside `clips/`.
        file: String,
        /// The first entry that names it; `None` where only a seal does.
        entry: Option<u64>,
    },
    /// The copy of the plan.
    Plan,
    /// A seal, by its file name.
    Seal(String),
    /// An amendment, by its file name.
    Amendment(String),
}

/// What happened to a part of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProblemKind {
    /// Something is there that was not written.
    Added,
    /// It differs from what was written.
    Changed,
    /// It cannot be read as what it should be.
    Malformed,
    /// It was written by a newer program.
    Newer,
    /// It is gone.
    Removed,
    /// It stands elsewhere than where it was written.
    Reordered,
    /// Its end is gone.
    Truncated,
    /// It contradicts what was written before it.
    Unfit,
    /// It does not say what the plan that the record keeps gives.
    OffPlan,
    /// It was signed by a key that is none of those given.
    OtherKey,
    /// It was made against the rules: by whom or over what it must not be.
    Void,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Entry(seq) => write!(f, "entry {seq} (line {})", seq.saturating_add(1)),
            Self::Clip {
                file,
                entry: Some(seq),
            } => write!(f, "clip `{file}` of entry {seq}"),
            Self::Clip { file, entry: None } => write!(f, "clip `{file}`"),
            Self::Plan => f.write_str("plan.toml"),
            Self::Seal(file) => write!(f, "seal `{file}`"),
            Self::Amendment(file) => write!(f, "amendment `{file}`"),
        }
    }
}

impl fmt::Display for ProblemKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Added => "was added",
            Self::Changed => "was changed",
            Self::Malformed => "cannot be read",
            Self::Newer => "was made by a newer version of loadwalk",
            Self::Removed => "was removed",
            Self::Reordered => "is out of its order",
            Self::Truncated => "was cut short",
            Self::Unfit => "does not follow from the entries before it",
            Self::OffPlan => "is not what the plan in the record gives",
            Self::OtherKey => "was signed by a key that is none of those given",
            Self::Void => "does not count",
        })
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // File names and names of people come from whoever wrote them.
        write!(f, "{} {}", plain(&self.place.to_string()), self.kind)?;
        if !self.detail.is_empty() {
            write!(f, ": {}", plain(&self.detail))?;
        }
        Ok(())
    }
}
