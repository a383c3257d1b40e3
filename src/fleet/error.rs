//! Why many records could not be looked at.

use crate::record::record_around;
use std::path::{Path, PathBuf};

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
    /// The index or an export would come to lie in a record.
    #[error(
        "{path} lies in the record {record}, which nothing is added to; name a place elsewhere"
    )]
    Inside {
        /// The file or folder.
        path: PathBuf,
        /// The record.
        record: PathBuf,
    },
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

/// Refuses a place that lies in a record.
pub(super) fn outside_records(path: &Path) -> Result<(), FleetError> {
    match record_around(path) {
        None => Ok(()),
        Some(record) => Err(FleetError::Inside {
            path: path.to_owned(),
            record,
        }),
    }
}
