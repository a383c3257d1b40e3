//! What can go wrong with a record.

use super::problem::Problem;
use std::io;
use std::path::{Path, PathBuf};

/// What can go wrong with a record. Each message names the place and ends in what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// The folder for a new record exists and holds something.
    #[error("`{0}` is not empty; name a new folder, or go on with it by `loadwalk resume`")]
    NotEmpty(PathBuf),
    /// The folder for a new record lies in another one.
    #[error(
        "`{path}` lies in the record `{record}`, which nothing is added to; name a folder elsewhere"
    )]
    Inside {
        /// The folder.
        path: PathBuf,
        /// The record round it.
        record: PathBuf,
    },
    /// The folder holds no journal.
    #[error("`{0}` holds no journal.jsonl; name the folder that a walk wrote")]
    NotARecord(PathBuf),
    /// The journal is a link, a folder or a pipe.
    #[error("`{0}` is no plain file, as a walk writes it; put the journal itself there")]
    NotPlain(PathBuf),
    /// The journal holds no whole entry: the walk broke off before its first prompt.
    #[error("`{0}` holds no entry, nothing was asked; start a new walk in another folder")]
    Empty(PathBuf),
    /// Another process has the record open.
    #[error("`{0}` is open in another loadwalk; end that one first, or wait until it has finished")]
    InUse(PathBuf),
    /// The record carries a seal; nothing may be added to the walk.
    #[error("`{0}` is sealed and cannot go on; start a new walk, which leaves this one as it is")]
    Sealed(PathBuf),
    /// The journal was written by a newer program.
    #[error("`{path}`: {problem}")]
    Newer {
        /// The record.
        path: PathBuf,
        /// The first entry that only a newer program can read.
        problem: Problem,
    },
    /// The journal does not hold together.
    #[error(
        "`{path}`: {problem}; do not go on with it: keep it as it is and look with `loadwalk verify`"
    )]
    Broken {
        /// The record.
        path: PathBuf,
        /// The first thing that is wrong.
        problem: Problem,
    },
    /// A file is longer than any record's.
    #[error("`{path}` is longer than {limit_bytes} bytes; it is not a file of a walk")]
    TooLong {
        /// The file.
        path: PathBuf,
        /// The limit.
        limit_bytes: u64,
    },
    /// The disk is full.
    #[error(
        "no space left for `{path}`; free some space, then try again (a walk goes on by `loadwalk resume`)"
    )]
    DiskFull {
        /// The file that did not fit.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// The disk or folder cannot be written.
    #[error(
        "`{path}` cannot be written ({source}); check its owner, mode and mount, then try again"
    )]
    ReadOnly {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// Any other failure of a file.
    #[error("`{path}` could not be {doing} ({source}); check the disk, then try again")]
    Io {
        /// The file.
        path: PathBuf,
        /// What was tried, as a participle ("read").
        doing: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// An earlier append failed; the journal's end is unknown until it is mended.
    #[error("the journal stopped after a failed write ({0}); mend or reopen the record first")]
    Stopped(String),
    /// Another program changed the journal while it was open.
    #[error(
        "`{path}` has {found_bytes} bytes, not the {expected_bytes} written; another program changed it: end that one and verify the record"
    )]
    ChangedUnderneath {
        /// The journal.
        path: PathBuf,
        /// Bytes found.
        found_bytes: u64,
        /// Bytes that were written.
        expected_bytes: u64,
    },
    /// An entry would not read back as it was given (a number that is not finite, say).
    #[error(
        "entry {seq} would not read back as written ({why}); this is a fault in loadwalk, report it"
    )]
    Unreadable {
        /// The number that it would have had.
        seq: u64,
        /// Why.
        why: String,
    },
    /// An entry names a clip that is not in the record.
    #[error(
        "entry {seq} names the clip `{file}`, which is not in the record; write the clip first"
    )]
    UnknownClip {
        /// The number that the entry would have had.
        seq: u64,
        /// The clip.
        file: String,
    },
    /// A clip is longer than [`super::MAX_CLIP_BYTES`].
    #[error("a clip of {0} bytes is longer than the limit; cut the utterance")]
    ClipTooLong(usize),
}

impl RecordError {
    /// Sorts a failure of the system by what a person has to do about it.
    pub(super) fn io(path: &Path, doing: &'static str, source: io::Error) -> Self {
        let path = path.to_owned();
        match source.kind() {
            io::ErrorKind::StorageFull
            | io::ErrorKind::QuotaExceeded
            | io::ErrorKind::FileTooLarge
            | io::ErrorKind::WriteZero => Self::DiskFull { path, source },
            io::ErrorKind::ReadOnlyFilesystem => Self::ReadOnly { path, source },
            io::ErrorKind::PermissionDenied if doing != "read" => Self::ReadOnly { path, source },
            _ => Self::Io {
                path,
                doing,
                source,
            },
        }
    }
}
