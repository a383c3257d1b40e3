//! Records of one walk: a folder that was copied, whether one of the two was gone on with or not.

use super::error::FleetError;
use super::index::Index;
use rusqlite::Connection;

/// Writes down anew which records are of a walk that another one tells as much or more of: by entries, then amendments, then
/// a seal, so that no review is passed over for a copy from before it.
pub(super) fn mark_copies(database: &Connection) -> rusqlite::Result<()> {
    database.execute_batch(
        "UPDATE records SET copy_of = NULL WHERE copy_of IS NOT NULL;
         UPDATE records SET copy_of = (
             SELECT other.folder FROM records other
             WHERE other.beginning = records.beginning AND other.problem IS NULL
             ORDER BY other.entries DESC, other.amendments DESC, other.sealed DESC, other.folder LIMIT 1)
         WHERE problem IS NULL AND beginning IN (
             SELECT beginning FROM records WHERE problem IS NULL AND beginning <> ''
             GROUP BY beginning HAVING count(*) > 1);
         UPDATE records SET copy_of = NULL WHERE copy_of = folder;",
    )
}

impl Index {
    /// The records that do not count since another one is of the same walk, each with that one, whatever a filter lets through.
    ///
    /// # Errors
    /// Where the index cannot be read.
    pub fn copies(&self) -> Result<Vec<(String, String)>, FleetError> {
        let sql = "SELECT folder, copy_of FROM records WHERE copy_of IS NOT NULL ORDER BY folder";
        self.rows(sql, Vec::new(), |row| Ok((row.get(0)?, row.get(1)?)))
    }
}
