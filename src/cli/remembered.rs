//! The headset that was named last, kept for the next walk.

use crate::audio::devices::{Direction, is_there};
use crate::cli::kept::{place, write};
use crate::cli::out::tell;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Names the file; without it `devices.json` in the user's data folder of loadwalk.
const FILE_VARIABLE: &str = "LOADWALK_DEVICES";
/// Names the system's default device, and forgets another one.
const DEFAULT: &str = "default";

/// Names as they were given; the system's default where there is none.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Devices {
    /// The microphone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mic: Option<String>,
    /// The loudspeaker.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub speaker: Option<String>,
}

fn file() -> Option<PathBuf> {
    place(FILE_VARIABLE, "devices.json")
}

/// The devices to use where these were given: what is not given is as it was last, if it is there now.
/// Says which are taken from last time, and which of them are missing.
pub fn settled(given: &Devices) -> Devices {
    let kept = file().map_or_else(Devices::default, |path| kept_in(&path));
    let (devices, messages) = merged(given, kept, &is_there);
    for message in messages {
        tell!("loadwalk: {message}");
    }
    devices
}

/// The loudspeaker to use where this one was given, as [`settled`].
pub fn speaker(given: Option<&str>) -> Option<String> {
    let given = Devices {
        // The microphone is not asked for, so nothing is told of it.
        mic: Some(DEFAULT.to_owned()),
        speaker: given.map(str::to_owned),
    };
    settled(&given).speaker
}

fn merged(
    given: &Devices,
    kept: Devices,
    is_there: &dyn Fn(Direction, &str) -> bool,
) -> (Devices, Vec<String>) {
    let mut messages = Vec::new();
    let mut one = |given: &Option<String>, kept: Option<String>, direction, what: &str| {
        if let Some(given) = given {
            return (given != DEFAULT).then(|| given.clone());
        }
        let kept = kept?;
        if is_there(direction, &kept) {
            messages.push(format!(
                "the {what} is {kept:?} as last time; another one by --{}, the system's own by `{DEFAULT}`",
                option(direction)
            ));
            return Some(kept);
        }
        messages.push(format!(
            "the {what} of last time, {kept:?}, is not here; the system's default is used"
        ));
        None
    };
    let devices = Devices {
        mic: one(&given.mic, kept.mic, Direction::In, "microphone"),
        speaker: one(&given.speaker, kept.speaker, Direction::Out, "loudspeaker"),
    };
    (devices, messages)
}

fn option(direction: Direction) -> &'static str {
    match direction {
        Direction::In => "mic",
        Direction::Out => "speaker",
    }
}

/// Keeps the names that were given, once they could be used. Where that fails the walk goes on, and it is
/// told.
pub fn keep(given: &Devices) {
    if *given == Devices::default() {
        return;
    }
    let kept = file().map(|path| keep_in(&path, given));
    if let Some(Err(error)) = kept {
        tell!("loadwalk: the choice of headset is not kept for the next walk: {error:#}");
    }
}

fn kept_in(path: &Path) -> Devices {
    let text = std::fs::read_to_string(path).ok();
    text.and_then(|text| serde_json::from_str(&text).ok())
        .unwrap_or_default()
}

fn keep_in(path: &Path, given: &Devices) -> anyhow::Result<()> {
    use anyhow::Context;
    let kept = kept_in(path);
    let one = |given: &Option<String>, kept: Option<String>| match given.as_deref() {
        Some(DEFAULT) => None,
        Some(name) => Some(name.to_owned()),
        None => kept,
    };
    let devices = Devices {
        mic: one(&given.mic, kept.mic),
        speaker: one(&given.speaker, kept.speaker),
    };
    let wrong = || path.display().to_string();
    let text = serde_json::to_string(&devices)? + "\n";
    write(path, &text).with_context(wrong)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn devices(mic: Option<&str>, speaker: Option<&str>) -> Devices {
        Devices {
            mic: mic.map(str::to_owned),
            speaker: speaker.map(str::to_owned),
        }
    }

    #[test]
    fn what_was_named_is_kept_until_another_or_the_default_is() {
        let scratch = tempfile::tempdir().unwrap();
        let path = scratch.path().join("new folder").join("devices.json");
        assert_eq!(kept_in(&path), Devices::default());
        keep_in(&path, &devices(Some("headset a"), Some("headset a"))).unwrap();
        keep_in(&path, &devices(None, Some("horn"))).unwrap();
        assert_eq!(kept_in(&path), devices(Some("headset a"), Some("horn")));
        keep_in(&path, &devices(Some(DEFAULT), None)).unwrap();
        assert_eq!(kept_in(&path), devices(None, Some("horn")));
        std::fs::write(&path, "{").unwrap();
        assert_eq!(kept_in(&path), Devices::default());
    }

    #[test]
    fn a_headset_that_is_not_there_is_missed_and_the_default_is_used() {
        let kept = devices(Some("headset a"), Some("headset b"));
        let only_a = |_: Direction, name: &str| name == "headset a";
        let (used, messages) = merged(&Devices::default(), kept.clone(), &only_a);
        assert_eq!(used, devices(Some("headset a"), None));
        assert!(messages[0].contains("--mic") && messages[1].contains("not here"));
        let given = devices(Some(DEFAULT), Some("headset c"));
        let (used, messages) = merged(&given, kept, &only_a);
        assert_eq!(used, devices(None, Some("headset c")));
        assert_eq!(messages, [] as [String; 0]);
    }
}
