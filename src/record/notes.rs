//! What a verification notes and does not call wrong.

use super::amend::AmendmentCheck;
use super::clock::instant;
use super::envelope::Envelope;
use super::folder::LEFTOVER;
use super::parse::Parsed;
use super::seal::SealCheck;
use super::verify::files_in;
use jiff::{SignedDuration, Timestamp};
use std::collections::BTreeSet;
use std::path::Path;

/// By how much the clocks of two machines may differ without a word.
const CLOCKS_DIFFER: SignedDuration = SignedDuration::from_mins(2);

/// Clocks that were set back, and seals and amendments dated before what they are about.
pub(super) fn note_clocks(
    parsed: &Parsed,
    seals: &[SealCheck],
    amendments: &[AmendmentCheck],
    notes: &mut Vec<String>,
) {
    let first = parsed.entries.first();
    let pairs = parsed.entries.windows(2);
    let all = first.map(|first| (None, first)).into_iter();
    for (before, envelope) in all.chain(pairs.map(|pair| (Some(&pair[0]), &pair[1]))) {
        note_times(before, envelope, notes);
    }
    let entry = |at: u64| parsed.entries.get(usize::try_from(at).ok()?);
    let said = amendments.iter().filter_map(|a| a.amendment.as_ref());
    for a in said.clone() {
        let before = a.entries.checked_sub(1).and_then(entry);
        if let Some(before) = before.filter(|b| is_before(&a.wall, b.instant())) {
            notes.push(format!(
                "amendment {} is dated {}, before entry {} ({}), after which it was made",
                a.number, a.wall, before.seq, before.wall
            ));
        }
    }
    let last = parsed.entries.last();
    for (file, s) in seals
        .iter()
        .filter_map(|s| Some((&s.file, s.statement.as_ref()?)))
    {
        if let Some(last) = last.filter(|last| is_before(&s.sealed, last.instant())) {
            notes.push(format!(
                "the seal `{file}` is dated {}, before the last entry ({})",
                s.sealed, last.wall
            ));
        }
        let mut covered = said.clone().take(s.amendments.len());
        if let Some(a) = covered.find(|a| is_before(&s.sealed, instant(&a.wall))) {
            notes.push(format!(
                "the seal `{file}` is dated {}, before amendment {} ({}), which it covers",
                s.sealed, a.number, a.wall
            ));
        }
    }
}

/// Times of an entry that do not go on from those of the one before it.
fn note_times(before: Option<&Envelope>, envelope: &Envelope, notes: &mut Vec<String>) {
    let (seq, wall) = (envelope.seq, &envelope.wall);
    let walls = before.and_then(|b| Some((b.instant()?, envelope.instant()?)));
    if envelope.clock.is_some() {
        notes.push(format!(
            "the clock had been set back before entry {seq} ({wall})"
        ));
    } else if let Some(before) = before
        && walls.is_some_and(|(before, now)| now < before)
    {
        // The journal marks what it writes so.
        notes.push(format!(
            "entry {seq} is dated {wall}, before entry {} ({}), and the journal does not say that the clock was set back",
            before.seq, before.wall
        ));
    }
    let Some(before) = before else { return };
    let Some(recorded_ms) = envelope.mono_ms.checked_sub(before.mono_ms) else {
        notes.push(format!(
            "the recorded time of entry {seq} ({} ms) is before that of entry {} ({} ms)",
            envelope.mono_ms, before.seq, before.mono_ms
        ));
        return;
    };
    // A clock set back by less than the time between two entries shows here alone.
    let recorded = SignedDuration::from_millis(i64::try_from(recorded_ms).unwrap_or(i64::MAX));
    let by_the_clock = walls.map(|(before, now)| now.duration_since(before));
    let ahead = |by_the_clock: &SignedDuration| {
        !by_the_clock.is_negative() && recorded.saturating_sub(*by_the_clock) > CLOCKS_DIFFER
    };
    if let Some(by_the_clock) = by_the_clock.filter(ahead) {
        notes.push(format!(
            "between entry {} and entry {seq}, {} ms were recorded, and by the clock {} ms: the clock was set back or the recorded time is wrong",
            before.seq,
            recorded_ms,
            by_the_clock.as_millis()
        ));
    }
}

/// Whether a written time is before another, or none at all.
pub(super) fn is_before(wall: &str, other: Option<Timestamp>) -> bool {
    let Some(other) = other else { return false };
    instant(wall).is_none_or(|at| other.duration_since(at) > CLOCKS_DIFFER)
}

/// Names that are told of what lies in a folder and is none of the record's.
const STRAYS_NAMED: usize = 3;

/// What lies in one of the record's folders and is none of its files.
pub(super) fn note_strays(folder: &str, strays: &BTreeSet<String>, notes: &mut Vec<String>) {
    let mut named: Vec<String> = (strays.iter().take(STRAYS_NAMED))
        .map(|name| format!("`{name}`"))
        .collect();
    if strays.len() > named.len() {
        named.push(format!("{} more", strays.len() - named.len()));
    }
    if let Some(last) = named.pop() {
        let named = match &named[..] {
            [] => last,
            before => format!("{} and {last}", before.join(", ")),
        };
        notes.push(format!(
            "in `{folder}/` lies what is none of the record's files, and nothing covers it: {named}"
        ));
    }
}

/// Lines that a crash broke off.
pub(super) fn note_leftovers(folder: &Path, notes: &mut Vec<String>) {
    for file in files_in(folder) {
        if file.starts_with(LEFTOVER) {
            notes.push(format!(
                "`{file}` holds a line that a crash broke off; it was never acknowledged"
            ));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::envelope::ClockNotice;
    use crate::record::samples::noted;

    /// What is noted of an entry behind one of 07:40:00 and 1,000 ms.
    fn told(time: &str, mono_ms: u64, clock: Option<ClockNotice>) -> Vec<String> {
        let envelope = |seq, time: &str, mono_ms, clock| Envelope {
            seq,
            prev: String::new(),
            wall: format!("2031-06-02T{time}+02:00[Europe/Vienna]"),
            mono_ms,
            clock,
            entry: noted(1),
        };
        let before = envelope(4, "07:40:00", 1_000, None);
        let mut notes = Vec::new();
        let entry = envelope(5, time, mono_ms, clock);
        note_times(Some(&before), &entry, &mut notes);
        notes
    }

    #[test]
    fn times_that_go_on_are_not_noted() {
        // At once; after a suspension or a break, while which nothing was recorded; and by clocks that run apart a little.
        for (time, mono_ms) in [
            ("07:40:00", 1_000),
            ("19:40:00", 1_010),
            ("07:40:01", 90_000),
        ] {
            assert_eq!(told(time, mono_ms, None), [""; 0], "{time}");
        }
    }

    #[test]
    fn times_that_do_not_go_on_are_noted_whatever_the_journal_says() {
        let back = Some(ClockNotice::SetBack);
        for (time, mono_ms, clock, words) in [
            ("07:39:59", 2_000, back, "had been set back before entry 5"),
            ("07:39:59", 2_000, None, "the journal does not say"),
            (
                "07:40:01",
                999,
                None,
                "entry 5 (999 ms) is before that of entry 4 (1000 ms)",
            ),
            (
                "07:40:01",
                123_000,
                None,
                "122000 ms were recorded, and by the clock 1000 ms",
            ),
            ("07:40:01", u64::MAX, None, "the recorded time is wrong"),
        ] {
            let notes = told(time, mono_ms, clock);
            assert!(
                notes.len() == 1 && notes[0].contains(words),
                "{words}: {notes:?}"
            );
        }
        let notes = told("07:39:59", 999, None);
        assert_eq!(notes.len(), 2, "{notes:?}");
    }
}
