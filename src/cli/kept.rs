//! Small files that are kept for the next walk.

use super::out;
use std::path::{Path, PathBuf};

/// The file that a variable names; without it one of this name in the user's data folder of loadwalk. `None` where there
/// is no home folder.
pub fn place(variable: &str, name: &str) -> Option<PathBuf> {
    let named = std::env::var_os(variable).filter(|f| !f.is_empty());
    named.map(PathBuf::from).or_else(|| {
        let home = directories::ProjectDirs::from("", "", "loadwalk")?;
        Some(home.data_dir().join(name))
    })
}

/// Writes such a file with its folder: all of it or, where that fails, none, since half of it would count as nothing kept.
///
/// # Errors
/// What the system says.
pub fn write(path: &Path, text: &str) -> std::io::Result<()> {
    if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder)?;
    }
    out::file(path, text.as_bytes())
}
