//! The plan that a record keeps.

use super::envelope::sha256_hex;
use super::folder::PLAN;
use crate::plan::{self, Plan};
use std::path::Path;

/// The plan of the record in a folder; `None` where it cannot be read, or is not that of the walk by its SHA-256
/// (lower-case hex).
pub fn plan_of(folder: &Path, sha256: &str) -> Option<Plan> {
    let path = folder.join(PLAN);
    let text = std::fs::read_to_string(&path).ok()?;
    if sha256_hex(text.as_bytes()) != sha256 {
        return None;
    }
    plan::read(&path, &text).ok()
}
