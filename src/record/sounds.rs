//! Sounds that stand for more than one answer.

use super::clip::clip_stem;
use super::envelope::clips_of;
use super::parse::Parsed;
use crate::plan::CheckId;
use crate::walk::{Entry, Ledger};
use std::collections::{BTreeMap, HashMap, HashSet};

/// Sounds that are named in a note of many.
const NAMED: usize = 3;

/// Notes answers whose sound is called after another check, or was there before their question was put, and sounds with the
/// same bytes under several names. A breath, and one "yes" for several, rightly stand for several checks: those are of one
/// utterance, and nothing was asked in between.
pub(super) fn note_sounds(parsed: &Parsed, notes: &mut Vec<String>) {
    let Ok(ledger) = Ledger::of(parsed.entries.iter().map(|e| &e.entry)) else {
        return;
    };
    let checks: Vec<(&CheckId, String)> = ledger
        .route()
        .checks()
        .map(|c| (&c.id, stem(&c.id)))
        .collect();
    // By sound: the first answer that it was given for, and the entries that put it in doubt.
    let mut answers: HashMap<&str, (&CheckId, u64)> = HashMap::new();
    let mut doubted: HashSet<(&str, &CheckId)> = HashSet::new();
    let mut asked: HashMap<&CheckId, u64> = HashMap::new();
    for envelope in &parsed.entries {
        match &envelope.entry {
            Entry::Asked { check, .. } => drop(asked.insert(check, envelope.seq)),
            Entry::Doubted { check, hearing } => drop(doubted.insert((&hearing.clip, check))),
            Entry::Answered { check, heard, .. } if !heard.hearing.clip.is_empty() => {
                let clip = heard.hearing.clip.as_str();
                if let Some(other) = called_after(clip, check, &checks) {
                    notes.push(format!(
                        "the answer of entry {} to {check} has the sound `{clip}`, which is called after {other}: listen to it",
                        envelope.seq
                    ));
                }
                match answers.get(clip) {
                    None => drop(answers.insert(clip, (check, envelope.seq))),
                    Some((other, first)) => {
                        let asked_since = asked.get(check).is_some_and(|at| at > first);
                        if *other != check && asked_since && !doubted.contains(&(clip, check)) {
                            notes.push(format!(
                                "the answer of entry {} to {check} has the sound of the answer of entry {first} to {other}, \
                                 and was asked for behind that: listen to it",
                                envelope.seq
                            ));
                        }
                    }
                }
            }
            _ => {}
        }
    }
    note_copies(parsed, notes);
}

/// Sounds with the same bytes under several names: no two utterances are alike to the last bit.
fn note_copies(parsed: &Parsed, notes: &mut Vec<String>) {
    let mut names: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    let mut order: Vec<&str> = Vec::new();
    for clip in parsed.entries.iter().flat_map(|e| clips_of(&e.entry)) {
        let of = names.entry(clip.sha256).or_default();
        if !of.contains(&clip.file) {
            of.push(clip.file);
            if of.len() == 2 {
                order.push(clip.sha256);
            }
        }
    }
    let mut told: Vec<String> = (order.iter().take(NAMED))
        .filter_map(|hash| names.get(hash))
        .map(|of| format!("`{}` is `{}`", of[1], of[0]))
        .collect();
    if order.len() > told.len() {
        told.push(format!("{} more", order.len() - told.len()));
    }
    if !told.is_empty() {
        notes.push(format!(
            "sounds stand under several names with the same bytes, as a recording that was used again does: {}",
            told.join(", ")
        ));
    }
}

/// The part of a clip's name that comes from the check that it was heard at, behind its number.
fn stem(check: &CheckId) -> String {
    let stem = clip_stem(0, &check.0);
    stem.split_once('-')
        .map_or(String::new(), |(_, hint)| hint.to_owned())
}

/// The other check that a clip of an answer is called after; `None` where it can be that of this one.
fn called_after<'a>(
    clip: &str,
    check: &CheckId,
    checks: &[(&'a CheckId, String)],
) -> Option<&'a CheckId> {
    let (_, name) = clip.strip_suffix(".wav")?.split_once('-')?;
    let (name, number) = name.rsplit_once('-')?;
    number.parse::<u32>().ok()?;
    let mut alike = checks.iter().filter(|(_, stem)| stem == name).peekable();
    let (first, _) = alike.peek()?;
    let is_own = alike.clone().any(|(id, _)| *id == check);
    (!is_own).then_some(*first)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::envelope::Envelope;
    use crate::record::samples::{answered, hearing, id, opened};
    use crate::walk::Outcome;

    const LEFT: &str = "front-left/hook-pin";
    const RIGHT: &str = "front-right/hook-pin";

    fn asked(check: &str) -> Entry {
        Entry::Asked {
            check: id(check),
            attempt: 1,
        }
    }

    /// An answer with a sound and what its bytes are.
    fn with(check: &str, clip: &str, bytes: &str) -> Entry {
        let mut entry = answered(check, "present", Outcome::Conforming);
        if let Entry::Answered { heard, .. } = &mut entry {
            heard.hearing.clip = clip.to_owned();
            heard.hearing.clip_sha256 = bytes.to_owned();
        }
        entry
    }

    fn doubted(check: &str, clip: &str, bytes: &str) -> Entry {
        let mut hearing = hearing("presence", "present", "present");
        hearing.clip = clip.to_owned();
        hearing.clip_sha256 = bytes.to_owned();
        Entry::Doubted {
            check: id(check),
            hearing,
        }
    }

    fn notes(entries: impl IntoIterator<Item = Entry>) -> Vec<String> {
        let all = std::iter::once(opened()).chain(entries);
        let entries = (0..).zip(all).map(|(seq, entry)| Envelope {
            seq,
            wall: String::new(),
            mono_ms: 0,
            clock: None,
            prev: String::new(),
            entry,
        });
        let parsed = Parsed {
            entries: entries.collect(),
            ..Parsed::default()
        };
        let mut notes = Vec::new();
        note_sounds(&parsed, &mut notes);
        notes
    }

    #[test]
    fn an_answer_with_the_sound_of_another_is_noted() {
        let (left, right) = (
            "0002-front-left-hook-pin-1.wav",
            "0004-front-right-hook-pin-1.wav",
        );
        let walked = |clip: &str, bytes: &str| {
            notes([
                asked(LEFT),
                with(LEFT, left, "a"),
                asked(RIGHT),
                with(RIGHT, clip, bytes),
            ])
        };
        assert_eq!(walked(right, "b"), Vec::<String>::new());
        // By its name, and by having been there before the question.
        let found = walked(left, "a");
        assert_eq!(found.len(), 2, "{found:?}");
        assert!(
            found[0].contains("entry 4 to front-right/hook-pin"),
            "{found:?}"
        );
        assert!(
            found[0].contains("is called after front-left/hook-pin"),
            "{found:?}"
        );
        assert!(
            found[1].contains("entry 2 to front-left/hook-pin"),
            "{found:?}"
        );
        // Under a name of its own, its bytes tell it.
        let found = walked(right, "a");
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(
            found[0].ends_with(&format!("`{right}` is `{left}`")),
            "{found:?}"
        );
    }

    #[test]
    fn what_one_utterance_says_of_several_checks_is_one_sound() {
        let breath = "0002-called-pins-1.wav";
        let together = [with(LEFT, breath, "a"), with(RIGHT, breath, "a")];
        assert_eq!(notes(together), Vec::<String>::new());
        // Half heard, and confirmed one by one.
        let doubts = [
            doubted(LEFT, breath, "a"),
            doubted(RIGHT, breath, "a"),
            asked(LEFT),
            with(LEFT, breath, "a"),
            asked(RIGHT),
            with(RIGHT, breath, "a"),
        ];
        assert_eq!(notes(doubts), Vec::<String>::new());
    }
}
