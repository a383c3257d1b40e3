//! Appends entries to the journal so that none that was acknowledged is ever lost.

use super::clock::{Clock, instant, wall_text};
use super::envelope::{ClockNotice, Envelope, NO_PREV, sha256_hex};
use super::error::RecordError;
use super::file::JournalFile;
use super::parse::{Parsed, parse_journal};
use super::problem::ProblemKind;
use crate::walk::Entry;
use jiff::Timestamp;
use serde::Serialize;
use std::io;

/// Longest journal, in bytes: a walk of 8 hours with 2,000 utterances writes about 2 MB.
pub const MAX_JOURNAL_BYTES: u64 = 256 << 20;

/// The remains of a line whose writing a crash broke off.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Torn {
    /// The file beside the journal that now holds them.
    pub file: String,
    /// How many bytes they are.
    pub bytes: usize,
}

/// A journal open for appending.
///
/// States: *whole* (every byte of the file is an acknowledged entry) or *stopped* (an operation
/// failed; what follows the acknowledged bytes is unknown). Only a whole journal takes entries;
/// [`Journal::mend`] makes a stopped one whole.
pub(super) struct Journal<F> {
    file: F,
    next_seq: u64,
    acknowledged_bytes: u64,
    prev: String,
    last_wall: Option<Timestamp>,
    /// Added to the clock so that `mono_ms` goes on from the last entry of an earlier run.
    mono_offset_ms: i128,
    last_mono_ms: u64,
    stopped: Option<String>,
}

/// A line as written.
#[derive(Serialize)]
struct Line<'a> {
    seq: u64,
    wall: &'a str,
    mono_ms: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    clock: Option<ClockNotice>,
    prev: &'a str,
    entry: &'a Entry,
}

impl<F: JournalFile> Journal<F> {
    /// A journal on an empty file.
    pub(super) fn start(file: F, clock: &dyn Clock) -> Self {
        Self {
            file,
            next_seq: 0,
            acknowledged_bytes: 0,
            prev: NO_PREV.to_owned(),
            last_wall: None,
            mono_offset_ms: -i128::from(clock.mono_ms()),
            last_mono_ms: 0,
            stopped: None,
        }
    }

    /// Goes on with a journal: reads it, sets a torn end aside, makes what is there durable.
    pub(super) fn recover(
        mut file: F,
        clock: &dyn Clock,
    ) -> Result<(Self, Vec<Envelope>, Option<Torn>), RecordError> {
        let parsed = read_whole(&mut file)?;
        let torn = match parsed.torn_bytes {
            0 => None,
            bytes => Some(set_aside(&mut file, &parsed, bytes)?),
        };
        settle(&mut file, &parsed)?;
        let last = parsed.entries.last();
        let last_mono_ms = last.map_or(0, |e| e.mono_ms);
        let journal = Self {
            file,
            next_seq: parsed.entries.len() as u64,
            acknowledged_bytes: parsed.whole_bytes as u64,
            prev: parsed.last_hash().to_owned(),
            last_wall: last.and_then(Envelope::instant),
            mono_offset_ms: i128::from(last_mono_ms) - i128::from(clock.mono_ms()),
            last_mono_ms,
            stopped: None,
        };
        Ok((journal, parsed.entries, torn))
    }

    /// The number that the next entry gets.
    pub(super) fn next_seq(&self) -> u64 {
        self.next_seq
    }

    /// Appends an entry; when this returns, it is on the disk.
    pub(super) fn append(&mut self, entry: &Entry, clock: &dyn Clock) -> Result<u64, RecordError> {
        if let Some(why) = &self.stopped {
            return Err(RecordError::Stopped(why.clone()));
        }
        let (line, wall, mono_ms) = self.line(entry, clock)?;
        let found_bytes = self
            .file
            .length()
            .map_err(|e| RecordError::io(self.file.path(), "read", e))?;
        if found_bytes != self.acknowledged_bytes {
            return Err(RecordError::ChangedUnderneath {
                path: self.file.path().to_owned(),
                found_bytes,
                expected_bytes: self.acknowledged_bytes,
            });
        }
        let written = write_all_at(&mut self.file, self.acknowledged_bytes, &line)
            .and_then(|()| self.file.sync());
        if let Err(error) = written {
            self.stopped = Some(error.to_string());
            // At best the file is whole again at once; at worst `mend` or the next start does it.
            let _ = self.file.truncate(self.acknowledged_bytes);
            return Err(RecordError::io(self.file.path(), "written", error));
        }
        let seq = self.next_seq;
        self.next_seq += 1;
        self.acknowledged_bytes += line.len() as u64;
        self.prev = sha256_hex(&line[..line.len() - 1]);
        self.last_wall = wall;
        self.last_mono_ms = mono_ms;
        Ok(seq)
    }

    /// Makes a stopped journal take entries again, once the cause is gone. The entry whose append
    /// failed is not in it; append it again.
    pub(super) fn mend(&mut self) -> Result<(), RecordError> {
        if self.stopped.is_none() {
            return Ok(());
        }
        self.file
            .truncate(self.acknowledged_bytes)
            .map_err(|e| RecordError::io(self.file.path(), "cut to its last whole entry", e))?;
        let parsed = read_whole(&mut self.file)?;
        if parsed.last_hash() != self.prev {
            return Err(RecordError::ChangedUnderneath {
                path: self.file.path().to_owned(),
                found_bytes: parsed.whole_bytes as u64,
                expected_bytes: self.acknowledged_bytes,
            });
        }
        settle(&mut self.file, &parsed)?;
        self.stopped = None;
        Ok(())
    }

    /// The bytes of an entry's line with its newline, and its times.
    fn line(
        &self,
        entry: &Entry,
        clock: &dyn Clock,
    ) -> Result<(Vec<u8>, Option<Timestamp>, u64), RecordError> {
        let wall = wall_text(&clock.wall());
        let now = instant(&wall);
        let set_back = matches!((now, self.last_wall), (Some(now), Some(last)) if now < last);
        let mono_ms = u64::try_from(i128::from(clock.mono_ms()) + self.mono_offset_ms)
            .unwrap_or(0)
            .max(self.last_mono_ms);
        let unreadable = |why: String| RecordError::Unreadable {
            seq: self.next_seq,
            why,
        };
        let mut line = serde_json::to_vec(&Line {
            seq: self.next_seq,
            wall: &wall,
            mono_ms,
            clock: set_back.then_some(ClockNotice::SetBack),
            prev: &self.prev,
            entry,
        })
        .map_err(|e| unreadable(e.to_string()))?;
        // A number that is not finite is written as null and would make the whole journal
        // unreadable; find that before the line is on the disk.
        serde_json::from_slice::<Envelope>(&line).map_err(|e| unreadable(e.to_string()))?;
        line.push(b'\n');
        if line.len() > super::MAX_LINE_BYTES {
            return Err(unreadable("its line is too long".to_owned()));
        }
        Ok((line, now, mono_ms))
    }
}

/// Reads a journal in which nothing but its very end may be wrong.
fn read_whole(file: &mut impl JournalFile) -> Result<Parsed, RecordError> {
    let reading = |file: &dyn JournalFile, e| RecordError::io(file.path(), "read", e);
    let length = file.length().map_err(|e| reading(file, e))?;
    if length > MAX_JOURNAL_BYTES {
        return Err(RecordError::TooLong {
            path: file.path().to_owned(),
            limit_bytes: MAX_JOURNAL_BYTES,
        });
    }
    let bytes = file.read_all().map_err(|e| reading(file, e))?;
    let parsed = parse_journal(&bytes);
    let path = file.path().to_owned();
    match parsed.problem {
        None => Ok(parsed),
        Some(problem) if problem.kind == ProblemKind::Newer => {
            Err(RecordError::Newer { path, problem })
        }
        Some(problem) => Err(RecordError::Broken { path, problem }),
    }
}

/// Keeps a torn end in a file of its own, then cuts it off.
fn set_aside(
    file: &mut impl JournalFile,
    parsed: &Parsed,
    bytes: usize,
) -> Result<Torn, RecordError> {
    let all = file
        .read_all()
        .map_err(|e| RecordError::io(file.path(), "read", e))?;
    let name = file
        .set_aside(&all[parsed.whole_bytes..])
        .map_err(|e| RecordError::io(file.path(), "set aside its torn end", e))?;
    file.truncate(parsed.whole_bytes as u64)
        .map_err(|e| RecordError::io(file.path(), "cut to its last whole entry", e))?;
    Ok(Torn { file: name, bytes })
}

/// Makes the last line durable. After a failed sync the system may hold a line as written that never
/// reached the disk, and a new sync would not write it; the same bytes written again make it do so.
/// Only the last line can be such a one, since a journal takes no entry after a failed sync.
fn settle(file: &mut impl JournalFile, parsed: &Parsed) -> Result<(), RecordError> {
    let fail = |file: &dyn JournalFile, e| RecordError::io(file.path(), "made durable", e);
    let bytes = file.read_all().map_err(|e| fail(file, e))?;
    let whole = &bytes[..parsed.whole_bytes];
    let start = whole[..whole.len().saturating_sub(1)]
        .iter()
        .rposition(|&b| b == b'\n')
        .map_or(0, |at| at + 1);
    write_all_at(file, start as u64, &whole[start..]).map_err(|e| fail(file, e))?;
    file.sync().map_err(|e| fail(file, e))
}

/// Writes all bytes, however few the file takes at a time.
fn write_all_at(file: &mut impl JournalFile, offset: u64, bytes: &[u8]) -> io::Result<()> {
    let mut done = 0;
    while done < bytes.len() {
        match file.write_at(offset + done as u64, &bytes[done..]) {
            Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
            Ok(n) => done += n,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
            Err(e) => return Err(e),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests;
