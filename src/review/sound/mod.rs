//! The whole session as sound with marks: every clip at its time, silence between, a mark at each
//! prompt, answer and note. Prompts are not recorded, so they are marks alone.
//!
//! | file | marks |
//! | --- | --- |
//! | `.wav` | Broadcast Wave: `bext` time stamp (EBU Tech 3285 version 1), RIFF `cue ` points with `labl` texts |
//! | `.flac` | Vorbis comments `CHAPTER001=`, `CHAPTER001NAME=`; the time stamp as `DATE` |
//!
//! 16 kHz, 16 bit, mono: 115.2 MB an hour as WAV. A long session goes on in a next file (`walk-2.wav`).

mod flac;
mod wav;

use super::{moment_text, unturned};
use crate::durable::replace;
use crate::record::{
    CLIP_RATE_HZ, Moment, Session, View, clip_samples, record_around, session, state_words,
};
use jiff::civil::DateTime;
use jiff::{SignedDuration, Span};
use std::collections::BTreeSet;
use std::io;
use std::path::{Path, PathBuf};

/// Longest file, minutes: 18 hours as WAV stay under 2^31 bytes, which every program reads.
pub const MAX_PART_MIN: u32 = 18 * 60;

/// Longest text of a mark, characters.
const MAX_MARK: usize = 200;

/// A mark in the session.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Mark {
    /// Samples from the start.
    at: u64,
    text: String,
}

/// What one file holds besides its sound.
struct Part<'a> {
    /// Samples from midnight (local time) to its first sample.
    after_midnight: u64,
    /// Local date and time of its first sample, by its first entry.
    starts: DateTime,
    /// What was walked, and whether for practice.
    title: &'a str,
    inspector: &'a str,
    /// Its marks, counted from its own start.
    marks: Vec<Mark>,
    samples: u64,
}

/// What was written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SessionSound {
    /// The files, in order.
    pub files: Vec<PathBuf>,
    /// Clips that entries name and that are not there any more; silence stands for them.
    pub missing: usize,
}

/// Why a session was not written as sound.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SoundError {
    /// The name ends neither in `.wav` nor in `.flac`.
    #[error("{0} is neither .wav nor .flac; name the file so that it ends in one of them")]
    Kind(PathBuf),
    /// A file cannot be written.
    #[error("cannot write {path}: {why}; check folder and free space")]
    Write {
        /// The file.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// By the times of its entries the session lasts longer than any.
    #[error(
        "by its entries the session lasted {0} hours; times of the journal must be wrong, the clips in the record play by themselves"
    )]
    TooLong(u64),
    /// The file would come to lie in a record.
    #[error("{path} lies in the record {record}, which nothing is added to; name a file elsewhere")]
    Inside {
        /// The file.
        path: PathBuf,
        /// The record.
        record: PathBuf,
    },
}

/// More than any walk lasts, breaks included: a week. What is longer is a wrong time, and would fill the disk.
const LONGEST_MS: u64 = 7 * 24 * 3_600_000;

/// Writes the session of a record as sound into `file` and, where it is longer than `part_min`
/// minutes (1 to [`MAX_PART_MIN`], else brought there), into further files beside it.
///
/// # Errors
/// As the variants of [`SoundError`] say; files already finished stay.
pub fn session_sound(
    folder: &Path,
    view: &View,
    file: &Path,
    part_min: u32,
) -> Result<SessionSound, SoundError> {
    let flac = match file.extension().and_then(|e| e.to_str()) {
        Some(e) if e.eq_ignore_ascii_case("wav") => false,
        Some(e) if e.eq_ignore_ascii_case("flac") => true,
        _ => return Err(SoundError::Kind(file.to_owned())),
    };
    if let Some(record) = record_around(file) {
        let path = file.to_owned();
        return Err(SoundError::Inside { path, record });
    }
    let rate = u64::from(CLIP_RATE_HZ);
    let laid = session(folder, &view.entries);
    // Two entries name one clip where an answer was doubted first.
    let named: BTreeSet<&String> = view.timeline.iter().flat_map(|m| &m.clips).collect();
    let mut done = SessionSound {
        files: Vec::new(),
        missing: named.len().saturating_sub(laid.clips.len()),
    };
    if laid.length_ms > LONGEST_MS {
        return Err(SoundError::TooLong(laid.length_ms / 3_600_000));
    }
    let marks = marks(view, &laid);
    let title = match view.practice {
        Some(_) => format!("Practice walk round {}", view.load),
        None => format!("Walk round {}", view.load),
    };
    // One sample at least, so that an empty walk is a file that plays.
    let length = (laid.length_ms * rate / 1_000).max(1);
    let most = u64::from(part_min.clamp(1, MAX_PART_MIN)) * 60 * rate;
    for (n, from) in (0..length)
        .step_by(usize::try_from(most).unwrap_or(usize::MAX))
        .enumerate()
    {
        let to = (from + most).min(length);
        let path = part_path(file, n);
        let starts = starts(view, &laid, from * 1_000 / rate);
        let part = Part {
            after_midnight: after_midnight(starts),
            starts,
            title: &title,
            inspector: &view.inspector,
            marks: part_marks(&marks, from, to, to == length),
            samples: to - from,
        };
        let sound = Sound::new(folder, &laid, from, to);
        // Half a file would pass for the whole, and what was there stays until the whole is.
        let written = replace(&path, |to| match flac {
            true => flac::write(to, &part, sound),
            false => wav::write(to, &part, sound),
        });
        if let Err(error) = written {
            return Err(SoundError::Write {
                why: error.to_string(),
                path,
            });
        }
        done.files.push(path);
    }
    Ok(done)
}

/// `walk.wav`, then `walk-2.wav`, `walk-3.wav`.
fn part_path(file: &Path, n: usize) -> PathBuf {
    if n == 0 {
        return file.to_owned();
    }
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    let extension = file.extension().unwrap_or_default().to_string_lossy();
    file.with_file_name(format!("{stem}-{}.{extension}", n + 1))
}

/// Local date and time of the day at a place in the session, in milliseconds from its start, by the time of the first entry
/// there: time between two runs is no part of the session, so that its own time tells nothing of the day's.
fn starts(view: &View, laid: &Session, from_ms: u64) -> DateTime {
    let at = laid.entries_ms.partition_point(|&ms| ms < from_ms);
    let entry = view.entries.get(at).zip(laid.entries_ms.get(at));
    let by_entry = entry.filter(|_| from_ms > 0).and_then(|(entry, &ms)| {
        let before = Span::new().try_milliseconds(i64::try_from(ms - from_ms).ok()?);
        local(&entry.wall)?.checked_sub(before.ok()?).ok()
    });
    let by_start = || {
        let since = Span::new().try_milliseconds(i64::try_from(from_ms).ok()?);
        local(&view.started)?.checked_add(since.ok()?).ok()
    };
    by_entry.or_else(by_start).unwrap_or(DateTime::ZERO)
}

/// The local date and time of a written one.
fn local(wall: &str) -> Option<DateTime> {
    // Offset and zone are passed over: the day's own clock counts.
    wall.parse().ok()
}

fn after_midnight(at: DateTime) -> u64 {
    let since = at.duration_since(at.date().to_datetime(jiff::civil::Time::midnight()));
    let ms = since.max(SignedDuration::ZERO).as_millis();
    u64::try_from(ms).unwrap_or(0) * u64::from(CLIP_RATE_HZ) / 1_000
}

/// A mark an entry: at the start of its sound where it has one, else where it was written down.
fn marks(view: &View, laid: &Session) -> Vec<Mark> {
    let per_ms = u64::from(CLIP_RATE_HZ) / 1_000;
    let mark = |moment: &Moment| {
        let ms = laid.starts_ms(moment.entry)?;
        let place = moment
            .check
            .as_ref()
            .and_then(|id| view.checks.iter().find(|c| c.check == *id));
        let place = place.map_or_else(String::new, |c| format!("{}, {}: ", c.station, c.name));
        // A sound goes from hand to hand without its record: its end tells how that stands, reviews included.
        let says = match moment.kind {
            "completed" => state_words(view),
            _ => moment_text(moment),
        };
        let text = format!("{} {}: {place}{says}", moment.entry, moment.kind);
        let one_line = text.split_whitespace().collect::<Vec<_>>().join(" ");
        Some(Mark {
            at: ms * per_ms,
            text: unturned(&one_line).chars().take(MAX_MARK).collect(),
        })
    };
    let mut marks: Vec<Mark> = view.timeline.iter().filter_map(mark).collect();
    marks.sort_by_key(|m| m.at);
    marks
}

/// The marks of a file, counted from its start. One at the very end goes with the last file.
fn part_marks(marks: &[Mark], from: u64, to: u64, last: bool) -> Vec<Mark> {
    let within = marks.iter().filter(|m| m.at >= from && (m.at < to || last));
    let own = within.map(|m| Mark {
        at: (m.at - from).min(to - from - 1),
        text: m.text.clone(),
    });
    own.collect()
}

/// The sound of a stretch of the session, read clip by clip.
struct Sound<'a> {
    folder: &'a Path,
    session: &'a Session,
    at: u64,
    to: u64,
    next: usize,
    clip: (u64, Vec<i16>),
}

impl<'a> Sound<'a> {
    fn new(folder: &'a Path, session: &'a Session, from: u64, to: u64) -> Self {
        Self {
            folder,
            session,
            at: from,
            to,
            next: 0,
            clip: (0, Vec::new()),
        }
    }

    /// Fills a block; how many samples it got, 0 at the end.
    fn read(&mut self, block: &mut [i16]) -> usize {
        let per_ms = u64::from(CLIP_RATE_HZ) / 1_000;
        let n = block
            .len()
            .min(usize::try_from(self.to - self.at).unwrap_or(usize::MAX));
        for sample in &mut block[..n] {
            while self.clip.0 + self.clip.1.len() as u64 <= self.at {
                let Some(placed) = self.session.clips.get(self.next) else {
                    break;
                };
                let start = placed.start_ms * per_ms;
                if start > self.at {
                    break;
                }
                self.next += 1;
                // Clips that end before this stretch need not be read.
                if (placed.start_ms + placed.length_ms + 1) * per_ms > self.at {
                    let samples = clip_samples(self.folder, &placed.file).unwrap_or_default();
                    self.clip = (start, samples);
                }
            }
            let inside = self
                .at
                .checked_sub(self.clip.0)
                .and_then(|i| usize::try_from(i).ok());
            *sample = inside
                .and_then(|i| self.clip.1.get(i))
                .copied()
                .unwrap_or(0);
            self.at += 1;
        }
        n
    }
}

fn too_long() -> io::Error {
    io::Error::other("the session is too long for this kind of file")
}

#[cfg(test)]
mod tests;
