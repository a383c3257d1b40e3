//! Entries and clocks for the tests of this module.

use super::clock::Clock;
use crate::plan::{Check, CheckId, CheckKind, Route, Station};
use crate::walk::{CapacityLine, Decision, Entry, Heard, Hearing, Meaning, Note, Outcome, Stage};
use jiff::ZonedDateTime;
use std::cell::Cell;

/// A clock that goes on by 250 ms each time it is read.
pub(crate) struct StepClock {
    wall_ms: Cell<i64>,
    mono_ms: Cell<u64>,
}

impl StepClock {
    /// 2 June 2031, 07:40:12 local time, plus some milliseconds.
    pub(crate) fn at(offset_ms: i64) -> Self {
        Self {
            wall_ms: Cell::new(1_938_145_212_000 + offset_ms),
            mono_ms: Cell::new(0),
        }
    }

    pub(crate) fn set_back(&self, ms: i64) {
        self.wall_ms.set(self.wall_ms.get() - ms);
    }
}

impl Clock for StepClock {
    fn wall(&self) -> ZonedDateTime {
        self.wall_ms.set(self.wall_ms.get() + 250);
        let at = jiff::Timestamp::from_millisecond(self.wall_ms.get()).unwrap();
        at.to_zoned_datetime(jiff::tz::TimeZone::fixed(jiff::tz::offset(2)))
    }

    fn mono_ms(&self) -> u64 {
        self.mono_ms.set(self.mono_ms.get() + 250);
        self.mono_ms.get()
    }
}

pub(crate) fn id(text: &str) -> CheckId {
    CheckId(text.to_owned())
}

pub(crate) fn check(station: &str, key: &str, name: &str, kind: CheckKind) -> Check {
    Check {
        id: id(&format!("{station}/{key}")),
        name: name.to_owned(),
        also: Vec::new(),
        together: None,
        ask: format!("{name}?"),
        kind,
        when: Vec::new(),
        touches: Vec::new(),
        compare: None,
        deficiency: None,
    }
}

/// Two corners with two checks each.
pub(crate) fn route() -> Route {
    let corner = |key: &str, name: &str| Station {
        key: key.to_owned(),
        name: name.to_owned(),
        arrive: String::new(),
        place_m: Some([1.0, if key == "front-left" { 0.5 } else { -0.5 }]),
        checks: vec![
            check(
                key,
                "hook-pin",
                "hook pin",
                CheckKind::Presence { must_be: true },
            ),
            check(
                key,
                "hook-links",
                "hook links",
                CheckKind::Count {
                    expected: Some(3),
                    noun: "links".to_owned(),
                },
            ),
        ],
    };
    Route {
        load: "stove crate".to_owned(),
        stations: vec![
            corner("front-left", "front left corner"),
            corner("front-right", "front right corner"),
        ],
        left_out: Vec::new(),
        outline_m: Some([[-1.2, -0.75], [1.2, 0.75]]),
    }
}

pub(crate) fn opened() -> Entry {
    Entry::Opened {
        format: super::FORMAT,
        inspector: "Ida Fern".to_owned(),
        rigger: "Tom Alder".to_owned(),
        plan_sha256: super::sha256_hex(PLAN),
        route: Box::new(route()),
        left_out: Vec::new(),
        capacity: vec![CapacityLine {
            question: "aircraft".to_owned(),
            passes: true,
            spoken: "640 of 900 kilograms".to_owned(),
            look: "Front left leg, over 80 percent of its limit".to_owned(),
        }],
        tryout: None,
        rigger_marks: Default::default(),
        practice: None,
        pace: None,
    }
}

pub(crate) const PLAN: &[u8] = b"# not read by the record\nload = \"stove crate\"\n";

pub(crate) fn hearing(rule: &str, value: &str, words: &str) -> Hearing {
    Hearing {
        decision: Decision::Take {
            meaning: Meaning {
                rule: rule.to_owned(),
                value: value.to_owned(),
            },
        },
        words: words.to_owned(),
        confidence: 0.97,
        clip: String::new(),
        clip_sha256: String::new(),
        snr_db: Some(18.5),
        others: Vec::new(),
    }
}

pub(crate) fn answered(check: &str, value: &str, outcome: Outcome) -> Entry {
    Entry::Answered {
        check: id(check),
        value: value.to_owned(),
        outcome,
        stage: Stage::Walk,
        heard: Heard {
            hearing: hearing("presence", value, value),
            confirmed_by: None,
        },
    }
}

pub(crate) fn noted(n: u32) -> Entry {
    Entry::Noted {
        check: None,
        note: Note {
            machine_transcript: format!("note {n} Öse \"quoted\"\nand a second line"),
            clip: String::new(),
            clip_sha256: String::new(),
            typed: false,
            by_tool: false,
        },
    }
}
