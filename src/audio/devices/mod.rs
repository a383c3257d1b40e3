//! Microphones and loudspeakers.
//!
//! A stream is owned by a thread of its own, the keeper, which watches it, drops it when it fails, tells
//! of the loss, and opens it again when the device is back. Sound callbacks only move samples through a
//! ring and count; they never allocate, lock or wait.

mod capture;
mod keeper;
mod playback;

pub use capture::{Capture, Captured};
pub use keeper::DeviceEvent;
pub use playback::{Playback, Played};

use cpal::traits::{DeviceTrait, HostTrait};
use cpal::{Device, Host};

/// What can be wrong with a device: each message ends in what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DeviceError {
    /// No device at all.
    #[error("no {what} was found; connect a headset and check the system's sound settings")]
    None {
        /// `microphone` or `loudspeaker`.
        what: &'static str,
    },
    /// No device of this name.
    #[error("no {what} is called {wanted:?}; there is {}", known.join(", "))]
    NotFound {
        /// `microphone` or `loudspeaker`.
        what: &'static str,
        /// As asked for.
        wanted: String,
        /// Names there are.
        known: Vec<String>,
    },
    /// Several devices match.
    #[error("{wanted:?} could be any of {}; give more of the name", matching.join(", "))]
    Ambiguous {
        /// As asked for.
        wanted: String,
        /// Names that match.
        matching: Vec<String>,
    },
    /// The sound system cannot be asked.
    #[error("the sound system does not answer ({0}); check that it is running")]
    System(String),
    /// The device cannot be opened.
    #[error("{name} cannot be opened ({why}); close other programs that use it, or choose another")]
    Open {
        /// The device.
        name: String,
        /// The cause.
        why: String,
    },
}

/// Which way sound goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// A microphone.
    In,
    /// A loudspeaker.
    Out,
}

impl Direction {
    fn word(self) -> &'static str {
        match self {
            Self::In => "microphone",
            Self::Out => "loudspeaker",
        }
    }
}

/// A device as a person sees it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceInfo {
    /// Which way sound goes.
    pub direction: Direction,
    /// Name, also accepted by [`Capture::open`] and [`Playback::open`].
    pub name: String,
    /// Name that stays the same after it was pulled and put back; accepted as well.
    pub id: String,
    /// Whether it is the system's default for its direction.
    pub default: bool,
}

/// All microphones, then all loudspeakers. Where none is found both lists are empty.
///
/// # Errors
/// [`DeviceError::System`].
pub fn list() -> Result<Vec<DeviceInfo>, DeviceError> {
    let host = cpal::default_host();
    let mut all = Vec::new();
    for direction in [Direction::In, Direction::Out] {
        let default = default_device(&host, direction).and_then(|d| d.id().ok());
        for device in devices(&host, direction)? {
            let Ok(id) = device.id() else {
                continue; // Gone while being listed.
            };
            all.push(DeviceInfo {
                direction,
                name: device.to_string(),
                default: default.as_ref() == Some(&id),
                id: id.to_string(),
            });
        }
    }
    Ok(all)
}

fn devices(host: &Host, direction: Direction) -> Result<Vec<Device>, DeviceError> {
    let system = |e: cpal::Error| DeviceError::System(e.to_string());
    Ok(match direction {
        Direction::In => host.input_devices().map_err(system)?.collect(),
        Direction::Out => host.output_devices().map_err(system)?.collect(),
    })
}

fn default_device(host: &Host, direction: Direction) -> Option<Device> {
    match direction {
        Direction::In => host.default_input_device(),
        Direction::Out => host.default_output_device(),
    }
}

/// Whether exactly one device answers to this name now.
pub fn is_there(direction: Direction, wanted: &str) -> bool {
    find(&cpal::default_host(), direction, Some(wanted)).is_ok()
}

/// The device wanted: by its id, its name, or a part of its name that fits one only; or the default.
fn find(host: &Host, direction: Direction, wanted: Option<&str>) -> Result<Device, DeviceError> {
    let what = direction.word();
    let Some(wanted) = wanted else {
        return default_device(host, direction).ok_or(DeviceError::None { what });
    };
    let mut all = devices(host, direction)?;
    let names: Vec<(String, String)> = all
        .iter()
        .map(|d| {
            (
                d.to_string(),
                d.id().map_or_else(|_| String::new(), |id| id.to_string()),
            )
        })
        .collect();
    let at = pick(&names, what, wanted)?;
    Ok(all.swap_remove(at))
}

/// The device of this id.
fn find_exactly(host: &Host, direction: Direction, wanted: &str) -> Result<Device, DeviceError> {
    let what = direction.word();
    let all = devices(host, direction)?;
    let is_it = |device: &Device| device.id().is_ok_and(|id| id.to_string() == wanted);
    all.into_iter()
        .find(is_it)
        .ok_or(DeviceError::None { what })
}

/// The place of the one device meant, among (name, id) pairs.
fn pick(
    names: &[(String, String)],
    what: &'static str,
    wanted: &str,
) -> Result<usize, DeviceError> {
    // An id is `system:device`; the system's part may be left out.
    let is_id = |id: &str| id == wanted || id.split_once(':').is_some_and(|(_, id)| id == wanted);
    let exact = names
        .iter()
        .position(|(name, id)| is_id(id) || name.eq_ignore_ascii_case(wanted));
    if let Some(at) = exact {
        return Ok(at);
    }
    let part = wanted.to_lowercase();
    let matching: Vec<usize> = (0..names.len())
        .filter(|&at| {
            names[at].0.to_lowercase().contains(&part) || names[at].1.to_lowercase().contains(&part)
        })
        .collect();
    let list = |places: &mut dyn Iterator<Item = usize>| {
        places
            .map(|at| format!("{:?}", names[at].0))
            .collect::<Vec<_>>()
    };
    match matching[..] {
        [at] => Ok(at),
        [] if names.is_empty() => Err(DeviceError::None { what }),
        [] => Err(DeviceError::NotFound {
            what,
            wanted: wanted.to_owned(),
            known: list(&mut (0..names.len())),
        }),
        _ => Err(DeviceError::Ambiguous {
            wanted: wanted.to_owned(),
            matching: list(&mut matching.iter().copied()),
        }),
    }
}

#[cfg(test)]
mod tests;
