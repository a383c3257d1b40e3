//! Where the record takes its times from.

use jiff::{RoundMode, Timestamp, Unit, ZonedDateTime, ZonedDateTimeRound};
use std::time::Instant;

/// A source of both times that an entry carries.
pub trait Clock: Send {
    /// The time of day with its zone.
    fn wall(&self) -> ZonedDateTime;
    /// Milliseconds on a clock that never goes back, from any start.
    fn mono_ms(&self) -> u64;
}

/// The machine's clocks.
#[derive(Clone, Debug)]
pub struct SystemClock {
    start: Instant,
}

impl Default for SystemClock {
    fn default() -> Self {
        Self {
            start: Instant::now(),
        }
    }
}

impl Clock for SystemClock {
    fn wall(&self) -> ZonedDateTime {
        ZonedDateTime::now()
    }

    fn mono_ms(&self) -> u64 {
        u64::try_from(self.start.elapsed().as_millis()).unwrap_or(u64::MAX)
    }
}

/// The time of day as the journal writes it: RFC 9557 with milliseconds, offset and zone
/// (`2031-06-02T07:40:12.305+02:00[Europe/Vienna]`).
pub(super) fn wall_text(wall: &ZonedDateTime) -> String {
    let to_ms = ZonedDateTimeRound::new()
        .smallest(Unit::Millisecond)
        .mode(RoundMode::Trunc);
    wall.round(to_ms)
        .unwrap_or_else(|_| wall.clone())
        .to_string()
}

/// The instant of a written time. The zone's name is not looked up, only the offset counts, so that
/// a machine without a zone database reads every record.
pub(super) fn instant(wall: &str) -> Option<Timestamp> {
    wall.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_is_written_with_milliseconds_offset_and_zone() {
        // The shape of RFC 9557, section 4.1: date-time of RFC 3339, then the zone in brackets.
        let wall: ZonedDateTime = "2031-06-02T07:40:12.305999+02:00[Europe/Vienna]"
            .parse()
            .unwrap();
        let text = wall_text(&wall);
        assert_eq!(text, "2031-06-02T07:40:12.305+02:00[Europe/Vienna]");
        assert_eq!(
            instant(&text),
            Some("2031-06-02T05:40:12.305Z".parse().unwrap())
        );
    }

    #[test]
    fn a_zone_that_this_machine_does_not_know_is_read_by_its_offset() {
        assert_eq!(
            instant("2031-06-02T07:40:12.305+02:00[Nowhere/Hut]"),
            Some("2031-06-02T05:40:12.305Z".parse().unwrap())
        );
        assert_eq!(instant("yesterday"), None);
    }
}
