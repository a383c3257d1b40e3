//! How an inspector likes to walk: by the command's options, or by a file with a table for each.

use super::args::{as_text, read_bytes};
use super::exit::Failure;
use crate::plan::Route;
use crate::walk::{self, CalledAt, Entry, rules, same_person};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

/// Names the file of settings; without it `inspectors.toml` in the user's configuration of loadwalk.
const FILE_VARIABLE: &str = "LOADWALK_INSPECTORS";

/// Where the inspector calls findings off, and whether a rhythm is answered.
#[derive(Clone, Debug, Default, PartialEq, Eq, clap::Args)]
pub struct Pace {
    /// Findings are called off, by name and in any order, and not asked; at these stations alone where
    /// keys are given. By voice: "my findings", "ask me"
    #[arg(
        long,
        value_name = "STATION,...",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "",
        value_delimiter = ','
    )]
    called: Option<Vec<String>>,
    /// Every check is asked, whatever the inspector's settings say
    #[arg(long, conflicts_with = "called")]
    led: bool,
    /// Asks one item again where answers come faster than one can look, or all alike
    #[arg(long)]
    look_again: bool,
}

/// One inspector's table in the file.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Habits {
    called: Option<Called>,
    #[serde(default)]
    look_again: bool,
    tones: Option<bool>,
    /// Days after which the sound of a record is due to be removed; 0: when the walk is complete.
    keep_sound_days: Option<u32>,
}

/// The table that holds for everybody without one of their own.
const EVERYBODY: &str = "*";

/// Everywhere or nowhere, or at some stations.
#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum Called {
    All(bool),
    At(Vec<String>),
}

impl Pace {
    /// Where findings are called off, and whether one item is asked again for a rhythm: as the options
    /// say, else as the inspector's settings do.
    ///
    /// # Errors
    /// Where the file of settings cannot be used.
    pub fn settled(&self, inspector: &str) -> Result<(CalledAt, bool), Failure> {
        let habits = habits(inspector)?;
        let called = match (&self.called, habits.called) {
            (None, _) if self.led => CalledAt::Nowhere,
            (Some(keys), _) => at(keys, CalledAt::Everywhere),
            (None, Some(Called::All(true))) => CalledAt::Everywhere,
            (None, Some(Called::At(keys))) => at(&keys, CalledAt::Nowhere),
            (None, Some(Called::All(false)) | None) => CalledAt::Nowhere,
        };
        Ok((called, self.look_again || habits.look_again))
    }

    /// The same where a walk is taken up again: without a word about it, as it was walked.
    ///
    /// # Errors
    /// As [`Pace::settled`].
    pub fn resumed(&self, inspector: &str, entries: &[Entry]) -> Result<(CalledAt, bool), Failure> {
        let (mut called, look_again) = self.settled(inspector)?;
        let opened = opened_at(entries);
        if !self.is_chosen() {
            called = match opened {
                Some(pace) => pace.called.clone(),
                // No pace was written down: led, or by an earlier version.
                None => as_walked(entries),
            };
        }
        let looked_again = |e: &Entry| matches!(e, Entry::Rhythm { again: Some(_), .. });
        let look_again = look_again
            || opened.is_some_and(|pace| pace.look_again)
            || entries.iter().any(looked_again);
        Ok((called, look_again))
    }

    /// Whether an option says where findings are called off.
    pub fn is_chosen(&self) -> bool {
        self.called.is_some() || self.led
    }

    /// Refuses stations of the option that the plan does not have; those of the settings are meant for
    /// many plans.
    ///
    /// # Errors
    /// Naming the first that is not visited.
    pub fn check(&self, route: &Route) -> Result<(), Failure> {
        let CalledAt::Stations(keys) = at(
            self.called.as_deref().unwrap_or_default(),
            CalledAt::Nowhere,
        ) else {
            return Ok(());
        };
        let has = |key: &String| route.stations.iter().any(|s| s.key == *key);
        match keys.iter().find(|k| !has(k)) {
            None => Ok(()),
            Some(key) => {
                let all: Vec<&str> = route.stations.iter().map(|s| s.key.as_str()).collect();
                Err(Failure::wrong(anyhow::anyhow!(
                    "--called names the station `{key}`, which is not visited; name one of {}",
                    all.join(", ")
                )))
            }
        }
    }
}

/// At which pace the walk was opened, where that was written down.
pub(super) fn opened_at(entries: &[Entry]) -> Option<&walk::Pace> {
    match entries.first() {
        Some(Entry::Opened { pace, .. }) => pace.as_deref(),
        _ => None,
    }
}

/// Where findings were called off in a walk: everywhere, or at some stations where others were asked from the start; not
/// any more where "ask me" came last.
fn as_walked(entries: &[Entry]) -> CalledAt {
    let mut called = BTreeSet::new();
    let mut asked = BTreeSet::new();
    let mut led = false;
    for entry in entries {
        match entry {
            Entry::Calling { station, .. } => {
                led = false;
                called.insert(station.clone());
            }
            Entry::Control { control, .. } if control == rules::LED => led = true,
            Entry::Asked { check, .. } => {
                let station = check.0.split_once('/').map_or("", |(station, _)| station);
                if !called.contains(station) {
                    asked.insert(station.to_owned());
                }
            }
            _ => {}
        }
    }
    if led || called.is_empty() {
        CalledAt::Nowhere
    } else if asked.is_empty() {
        CalledAt::Everywhere
    } else {
        CalledAt::Stations(called)
    }
}

fn at(keys: &[String], none: CalledAt) -> CalledAt {
    let keys = keys.iter().map(|key| key.trim());
    let keys: BTreeSet<String> = keys.filter(|k| !k.is_empty()).map(str::to_owned).collect();
    if keys.is_empty() {
        none
    } else {
        CalledAt::Stations(keys)
    }
}

/// Days for which the sound of this inspector's walks is kept, where the settings say so: in the
/// inspector's own table, else in that of everybody.
///
/// # Errors
/// Where the file of settings cannot be used.
pub(super) fn keep_sound_days(inspector: &str) -> Result<Option<u32>, Failure> {
    match habits(inspector)?.keep_sound_days {
        None => Ok(habits(EVERYBODY)?.keep_sound_days),
        own => Ok(own),
    }
}

/// Whether the inspector wants tones; yes where the settings do not say.
///
/// # Errors
/// Where the file of settings cannot be used.
pub fn tones(inspector: &str) -> Result<bool, Failure> {
    Ok(habits(inspector)?.tones.unwrap_or(true))
}

/// The inspector's settings; none where there is no file or no table of that name.
fn habits(inspector: &str) -> Result<Habits, Failure> {
    let named = std::env::var_os(FILE_VARIABLE).filter(|f| !f.is_empty());
    let path = match named.map(PathBuf::from) {
        Some(path) => path,
        None => match directories::ProjectDirs::from("", "", "loadwalk") {
            Some(home) if home.config_dir().join("inspectors.toml").is_file() => {
                home.config_dir().join("inspectors.toml")
            }
            _ => return Ok(Habits::default()),
        },
    };
    let bytes = read_bytes(&path)?;
    let text = as_text(&path, &bytes)?;
    let mut all: BTreeMap<String, Habits> = toml::from_str(text).map_err(|error| {
        Failure::wrong(anyhow::anyhow!(
            "{}: {error}; write a table [\"NAME\"] with called = true and look_again = true, say",
            path.display()
        ))
    })?;
    let named: Vec<String> = all
        .keys()
        .filter(|name| name.trim() == inspector.trim() || same_person(name, inspector))
        .cloned()
        .collect();
    match named.as_slice() {
        [] => Ok(Habits::default()),
        [name] => Ok(all.remove(name).unwrap_or_default()),
        [one, other, ..] => Err(Failure::wrong(anyhow::anyhow!(
            "{}: [{one:?}] and [{other:?}] are one person; put both tables into one",
            path.display()
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::as_walked;
    use crate::plan::CheckId;
    use crate::walk::{CalledAt, Entry};

    fn calling(station: &str) -> Entry {
        Entry::Calling {
            station: station.to_owned(),
            which: false,
        }
    }

    fn asked(check: &str) -> Entry {
        Entry::Asked {
            check: CheckId(check.to_owned()),
            attempt: 1,
        }
    }

    #[test]
    fn a_walk_is_taken_up_at_the_pace_at_which_it_was_walked() {
        assert_eq!(as_walked(&[asked("front/pin")]), CalledAt::Nowhere);
        let all = [calling("front"), asked("front/pin"), calling("rear")];
        assert_eq!(as_walked(&all), CalledAt::Everywhere);
        let some = [asked("papers/tag"), calling("front"), asked("front/pin")];
        let CalledAt::Stations(stations) = as_walked(&some) else {
            panic!("{:?}", as_walked(&some));
        };
        assert!(stations.contains("front") && stations.len() == 1);
    }
}
