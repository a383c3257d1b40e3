//! How the tool speaks, and how that is changed by voice.

use crate::walk::rules;
use serde::{Deserialize, Serialize};

/// Paces, in percent of the voice's own; each step is about a fifth.
const RATES: [u16; 8] = [60, 70, 85, 100, 120, 140, 170, 200];
/// Loudnesses, in percent of the amplitude; each step is about 3 dB.
const VOLUMES: [u16; 6] = [18, 25, 35, 50, 71, 100];

/// Pace and loudness of speech.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Manner {
    /// Pace in percent of the voice's own, 60 to 200.
    pub rate: u16,
    /// Amplitude in percent of full, 18 to 100.
    pub volume: u16,
}

impl Default for Manner {
    fn default() -> Self {
        Self {
            rate: 100,
            volume: 100,
        }
    }
}

impl Manner {
    /// The nearest manner that can be chosen by voice.
    pub fn nearest(self) -> Self {
        let near = |steps: &[u16], value: u16| {
            let nearest = steps.iter().min_by_key(|step| step.abs_diff(value));
            nearest.copied().unwrap_or(value)
        };
        Self {
            rate: near(&RATES, self.rate),
            volume: near(&VOLUMES, self.volume),
        }
    }

    /// One step as the command says; the same where there is none further. `None` for other commands.
    pub(super) fn after(self, control: &str) -> Option<Self> {
        let up = |steps: &[u16], value: u16| steps.iter().copied().find(|&s| s > value);
        let down = |steps: &[u16], value: u16| steps.iter().copied().rfind(|&s| s < value);
        let Self { rate, volume } = self;
        Some(match control {
            rules::FASTER => Self {
                rate: up(&RATES, rate).unwrap_or(rate),
                volume,
            },
            rules::SLOWER => Self {
                rate: down(&RATES, rate).unwrap_or(rate),
                volume,
            },
            rules::LOUDER => Self {
                rate,
                volume: up(&VOLUMES, volume).unwrap_or(volume),
            },
            rules::QUIETER => Self {
                rate,
                volume: down(&VOLUMES, volume).unwrap_or(volume),
            },
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_step_can_be_taken_back_and_the_ends_hold() {
        let start = Manner::default();
        let faster = start.after(rules::FASTER).unwrap();
        assert_eq!((faster.rate, faster.volume), (120, 100));
        assert_eq!(faster.after(rules::SLOWER), Some(start));
        assert_eq!(
            start.after(rules::LOUDER),
            Some(start),
            "as loud as it goes"
        );
        let mut quiet = start;
        for _ in 0..20 {
            quiet = quiet.after(rules::QUIETER).unwrap();
        }
        // Never silent: a tool that speaks too softly can still be told to speak up.
        assert_eq!(quiet.volume, VOLUMES[0]);
        assert_eq!(start.after(rules::SAY_AGAIN), None);
    }

    #[test]
    fn a_manner_from_elsewhere_is_brought_to_the_nearest_step() {
        let wild = Manner {
            rate: 9_000,
            volume: 0,
        };
        let near = wild.nearest();
        assert_eq!((near.rate, near.volume), (200, 18));
    }
}
