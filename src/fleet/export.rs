//! Exports for a fleet's own engine.

use super::error::{FleetError, outside_records};
use super::index::Index;
use std::path::Path;

impl Index {
    /// Copies the whole index into a new SQLite file; its view `checked` has a row for every check of
    /// every record.
    ///
    /// # Errors
    /// Where the file is there already, would lie in a record or cannot be written.
    pub fn write_sqlite(&self, file: &Path) -> Result<(), FleetError> {
        let fail = |why: String| FleetError::Export {
            path: file.to_owned(),
            why,
        };
        outside_records(file)?;
        if file.exists() {
            return Err(fail("it is there already".to_owned()));
        }
        let name = file
            .to_str()
            .ok_or_else(|| fail("its name is not UTF-8".to_owned()))?;
        self.database
            .execute("VACUUM INTO ?1", [name])
            .map_err(|e| fail(e.to_string()))?;
        Ok(())
    }
}
