//! How the tool spoke last, kept for the next walk.

use crate::walk::Manner;
use std::path::PathBuf;

/// Names the file; without it `voice.json` in the user's data folder of loadwalk.
const FILE_VARIABLE: &str = "LOADWALK_VOICE";

fn file() -> Option<PathBuf> {
    let named = std::env::var_os(FILE_VARIABLE).filter(|f| !f.is_empty());
    named.map(PathBuf::from).or_else(|| {
        let home = directories::ProjectDirs::from("", "", "loadwalk")?;
        Some(home.data_dir().join("voice.json"))
    })
}

/// The manner kept last; the voice's own where there is none or it cannot be read.
pub fn kept() -> Manner {
    let text = file().and_then(|path| std::fs::read_to_string(path).ok());
    let kept = text.and_then(|text| serde_json::from_str::<Manner>(&text).ok());
    kept.unwrap_or_default().nearest()
}

/// Keeps a manner.
///
/// # Errors
/// Where the file cannot be written.
pub fn keep(manner: Manner) -> anyhow::Result<()> {
    let Some(path) = file() else {
        anyhow::bail!("there is no home folder; name a file in {FILE_VARIABLE}");
    };
    let wrong = |e: std::io::Error| anyhow::anyhow!("{}: {e}", path.display());
    if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
        std::fs::create_dir_all(folder).map_err(wrong)?;
    }
    std::fs::write(&path, serde_json::to_string(&manner)? + "\n").map_err(wrong)
}
