//! Why many records could not be looked at.

use std::path::PathBuf;

/// Why many records could not be looked at.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FleetError {
    /// There is no such folder, or it cannot be read.
    #[error("cannot read the folder {path} ({source}); name the folder that holds the records")]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The folder is a record itself.
    #[error("{0} is a record; name the folder that holds the records")]
    Record(PathBuf),
    /// The index cannot be opened or written.
    #[error(
        "the index {path} cannot be used ({source}); remove it, or name another place with --index FILE"
    )]
    Index {
        /// Its file.
        path: PathBuf,
        /// What the database said.
        source: rusqlite::Error,
    },
    /// The index file holds something else.
    #[error("{0} is a database of something else; name another place with --index FILE")]
    Foreign(PathBuf),
    /// An export cannot be written.
    #[error("cannot write {path}: {why}; name a new file in a folder that can be written")]
    Export {
        /// Where.
        path: PathBuf,
        /// Why.
        why: String,
    },
}
