//! How the tool spoke last, kept for the next walk.

use super::kept::{place, write};
use crate::walk::Manner;
use std::path::{Path, PathBuf};

/// Names the file; without it `voice.json` in the user's data folder of loadwalk.
const FILE_VARIABLE: &str = "LOADWALK_VOICE";

fn file() -> Option<PathBuf> {
    place(FILE_VARIABLE, "voice.json")
}

/// The manner kept last; the voice's own where there is none or it cannot be read.
pub fn kept() -> Manner {
    file().map_or_else(Manner::default, |path| kept_in(&path))
}

fn kept_in(path: &Path) -> Manner {
    let text = std::fs::read_to_string(path).ok();
    let kept = text.and_then(|text| serde_json::from_str::<Manner>(&text).ok());
    kept.unwrap_or_default().nearest()
}

/// Keeps a manner.
///
/// # Errors
/// Where the file cannot be written.
#[cfg_attr(
    not(all(feature = "devices", feature = "whisper")),
    expect(
        dead_code,
        reason = "nothing is spoken in another manner without a headset"
    )
)]
pub fn keep(manner: Manner) -> anyhow::Result<()> {
    let Some(path) = file() else {
        anyhow::bail!("there is no home folder; name a file in {FILE_VARIABLE}");
    };
    keep_in(&path, manner)
}

fn keep_in(path: &Path, manner: Manner) -> anyhow::Result<()> {
    let wrong = |e: std::io::Error| anyhow::anyhow!("{}: {e}", path.display());
    write(path, &(serde_json::to_string(&manner)? + "\n")).map_err(wrong)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_kept_comes_back_and_anything_else_is_the_voice_s_own() {
        let scratch = tempfile::tempdir().unwrap();
        let path = scratch.path().join("new folder").join("voice.json");
        assert_eq!(kept_in(&path), Manner::default());
        let manner = Manner {
            rate: 140,
            volume: 50,
        };
        keep_in(&path, manner).unwrap();
        assert_eq!(kept_in(&path), manner);
        for text in ["", "{", r#"{"rate": 140}"#, r#"{"rate": -1, "volume": 50}"#] {
            std::fs::write(&path, text).unwrap();
            assert_eq!(kept_in(&path), Manner::default(), "{text}");
        }
        std::fs::write(&path, r#"{"rate": 9, "volume": 9}"#).unwrap();
        assert_eq!(
            kept_in(&path),
            Manner {
                rate: 60,
                volume: 18
            }
        );
        // A file where the folder should be.
        let wrong = keep_in(&path.join("voice.json"), manner);
        assert!(wrong.unwrap_err().to_string().contains("voice.json"));
    }
}
