//! A record's folder: made for a new walk, or opened to go on with one.

use super::clip::{Clip, MAX_CLIP_BYTES, clip_stem, is_plain_name};
use super::clock::Clock;
use super::envelope::{Envelope, clips_of, sha256_hex};
use super::error::RecordError;
use super::file::{DiskFile, sync_folder, write_new};
use super::journal::{Journal, Torn};
use super::own::is_seal;
use crate::durable::make_folders;
use crate::walk::Entry;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

/// The plan's exact bytes inside a record's folder.
pub const PLAN: &str = "plan.toml";
/// The journal inside a record's folder.
pub const JOURNAL: &str = "journal.jsonl";
/// Other names there.
pub(super) const CLIPS: &str = "clips";
pub(super) const SEALS: &str = "seals";
pub(super) const AMENDMENTS: &str = "amendments";
/// How the names of files with torn lines start.
pub(super) const LEFTOVER: &str = "journal.torn-";
/// Written and removed again to see whether the disk has room.
const ROOM: &str = "room.tmp";
const LOCK: &str = "journal.lock";
const README: &str = "README.txt";
const README_TEXT: &str = include_str!("README.txt");

/// A record open for writing, by this process alone.
pub struct Record {
    folder: PathBuf,
    journal: Journal<DiskFile>,
    clock: Box<dyn Clock>,
    _lock: Lock,
}

impl std::fmt::Debug for Record {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Record")
            .field("folder", &self.folder)
            .field("next_seq", &self.journal.next_seq())
            .finish_non_exhaustive()
    }
}

/// What was found when a record was opened to go on.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// All entries so far, in order; not empty.
    pub entries: Vec<Envelope>,
    /// The remains of a line whose writing was broken off. It was never acknowledged; tell the
    /// person where it is kept.
    pub torn: Option<Torn>,
}

impl Record {
    /// Makes the folder of a new record, with the plan's exact bytes; all durable on return.
    ///
    /// # Errors
    /// [`RecordError::NotEmpty`] where the folder holds anything, [`RecordError::Inside`] where it would lie in another
    /// record; file errors. Nothing is left behind then.
    pub fn create(folder: &Path, plan: &[u8], clock: Box<dyn Clock>) -> Result<Self, RecordError> {
        let made = |e| RecordError::io(folder, "made", e);
        let existed = folder.exists();
        if existed && fs::read_dir(folder).map_err(made)?.next().is_some() {
            return Err(RecordError::NotEmpty(folder.to_owned()));
        }
        if let Some(record) = record_around(folder) {
            return Err(RecordError::Inside {
                path: folder.to_owned(),
                record,
            });
        }
        make_folders(folder).map_err(made)?;
        let written = fill(folder, plan);
        match written {
            Ok((lock, file)) => Ok(Self {
                journal: Journal::start(file, &*clock),
                folder: folder.to_owned(),
                clock,
                _lock: lock,
            }),
            Err(error) => {
                // What made it fail says more than a failure to clear up after it.
                if !matches!(error, RecordError::NotEmpty(_)) {
                    for name in [JOURNAL, README, PLAN, LOCK] {
                        let _ = fs::remove_file(folder.join(name));
                    }
                    let _ = fs::remove_dir(folder.join(CLIPS));
                    if !existed {
                        let _ = fs::remove_dir(folder);
                    }
                }
                Err(error)
            }
        }
    }

    /// Opens a record to go on with its walk. A torn last line is set aside and reported.
    ///
    /// # Errors
    /// [`RecordError::InUse`] where another process has it open, [`RecordError::Broken`] naming the
    /// first bad entry, [`RecordError::Newer`], [`RecordError::Empty`], [`RecordError::Sealed`],
    /// [`RecordError::NotARecord`], [`RecordError::NotPlain`]; file errors.
    pub fn open(folder: &Path, clock: Box<dyn Clock>) -> Result<(Self, Opened), RecordError> {
        let path = folder.join(JOURNAL);
        if !path.is_file() {
            return Err(RecordError::NotARecord(folder.to_owned()));
        }
        if path.is_symlink() {
            return Err(RecordError::NotPlain(path));
        }
        let lock = lock(folder, false)?;
        if has_seal(folder) {
            return Err(RecordError::Sealed(folder.to_owned()));
        }
        let file = DiskFile::open(&path, false).map_err(|e| RecordError::io(&path, "opened", e))?;
        // Where a record was copied by what leaves empty folders out, it has none.
        let clips = folder.join(CLIPS);
        make_folders(&clips).map_err(|e| RecordError::io(&clips, "made", e))?;
        let (journal, entries, torn) = Journal::recover(file, &*clock)?;
        if entries.is_empty() {
            return Err(RecordError::Empty(folder.to_owned()));
        }
        let record = Self {
            folder: folder.to_owned(),
            journal,
            clock,
            _lock: lock,
        };
        Ok((record, Opened { entries, torn }))
    }

    /// Appends an entry and returns its number; it is on the disk then.
    ///
    /// # Errors
    /// Where the entry did not reach the disk. After a file error the journal is stopped: every
    /// further append fails until [`Record::mend`]; append the entry again after that.
    pub fn append(&mut self, entry: &Entry) -> Result<u64, RecordError> {
        for clip in clips_of(entry) {
            if !is_plain_name(clip.file) || !self.folder.join(CLIPS).join(clip.file).is_file() {
                return Err(RecordError::UnknownClip {
                    seq: self.journal.next_seq(),
                    file: clip.file.to_owned(),
                });
            }
        }
        self.journal.append(entry, &*self.clock)
    }

    /// Makes a stopped journal take entries again once the cause (a full disk, say) is gone. The
    /// entry whose append failed is not in the journal. Does nothing where it is not stopped.
    ///
    /// # Errors
    /// Where the cause is not gone; the journal stays stopped.
    pub fn mend(&mut self) -> Result<(), RecordError> {
        self.journal.mend()
    }

    /// Writes the bytes of a clip, durable on return; call it before the entry that names it.
    /// The name is made of the next entry's number and the hint (a check's name, say).
    ///
    /// # Errors
    /// [`RecordError::ClipTooLong`]; file errors, and then no clip is left.
    pub fn write_clip(&mut self, hint: &str, wav: &[u8]) -> Result<Clip, RecordError> {
        if wav.len() > MAX_CLIP_BYTES {
            return Err(RecordError::ClipTooLong(wav.len()));
        }
        let stem = clip_stem(self.journal.next_seq(), hint);
        let folder = self.folder.join(CLIPS);
        let mut n = 1u32;
        loop {
            let file = format!("{stem}-{n}.wav");
            let path = folder.join(&file);
            match write_new(&path, wav) {
                Ok(()) => {
                    let sha256 = sha256_hex(wav);
                    return Ok(Clip { file, sha256 });
                }
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => n += 1,
                Err(e) => return Err(RecordError::io(&path, "written", e)),
            }
        }
    }

    /// Whether so many bytes of sound reach the disk now. Chance bytes take as much of it as sound does also where the file
    /// system compresses: zeros would be stored as next to nothing there.
    pub fn has_room(&self, bytes: usize) -> bool {
        let path = self.folder.join(ROOM);
        let mut trial = vec![0; bytes.min(MAX_CLIP_BYTES)];
        let written = getrandom::fill(&mut trial).is_ok() && write_new(&path, &trial).is_ok();
        let removed = fs::remove_file(&path).is_ok();
        written && removed
    }

    /// The record's folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The number that the next entry gets; also how many there are.
    pub fn next_seq(&self) -> u64 {
        self.journal.next_seq()
    }
}

/// A folder name for a new record: day, time and load, in safe characters, and so in order of time
/// where folders are listed by name (`2031-06-02-074012-generator-skid`).
pub fn folder_name(load: &str, now: &jiff::ZonedDateTime) -> String {
    let has_letters = load.chars().any(|c| c.is_ascii_alphanumeric());
    let stem = clip_stem(0, if has_letters { load } else { "load" });
    // The stem starts with the four digits of a number that is of no use here.
    format!("{}{}", now.strftime("%Y-%m-%d-%H%M%S"), &stem[4..])
}

/// Whether any seal lies in a record, or what looks like one.
pub(super) fn has_seal(folder: &Path) -> bool {
    let seals = folder.join(SEALS);
    match fs::read_dir(&seals) {
        // What cannot be looked at may be one.
        Ok(mut files) => files.any(|file| {
            file.map_or(true, |file| {
                is_seal(&seals, &file.file_name().to_string_lossy())
            })
        }),
        // What cannot be read may well hold one.
        Err(e) => e.kind() != io::ErrorKind::NotFound,
    }
}

/// Held while a record is open; the system frees it if the process is killed.
pub(super) struct Lock(File);

impl Drop for Lock {
    fn drop(&mut self) {
        // Closing alone would not do: a child process just being started shares the open file.
        let _ = self.0.unlock();
    }
}

/// Takes a record's lock for this process.
pub(super) fn lock(folder: &Path, new: bool) -> Result<Lock, RecordError> {
    let path = folder.join(LOCK);
    let file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(false)
        .create_new(new)
        .open(&path)
        .map_err(|e| match e.kind() {
            io::ErrorKind::AlreadyExists => RecordError::NotEmpty(folder.to_owned()),
            _ => RecordError::io(&path, "opened", e),
        })?;
    match file.try_lock() {
        Ok(()) => Ok(Lock(file)),
        Err(TryLockError::WouldBlock) => Err(RecordError::InUse(folder.to_owned())),
        Err(TryLockError::Error(e)) => Err(RecordError::io(&path, "locked", e)),
    }
}

/// Writes the files of a new record into its empty folder.
fn fill(folder: &Path, plan: &[u8]) -> Result<(Lock, DiskFile), RecordError> {
    let lock = lock(folder, true)?;
    let put = |name: &str, bytes: &[u8]| {
        let path = folder.join(name);
        write_new(&path, bytes).map_err(|e| RecordError::io(&path, "written", e))
    };
    put(PLAN, plan)?;
    put(README, README_TEXT.as_bytes())?;
    let clips = folder.join(CLIPS);
    fs::create_dir(&clips).map_err(|e| RecordError::io(&clips, "made", e))?;
    let journal = folder.join(JOURNAL);
    let file = DiskFile::open(&journal, true).map_err(|e| RecordError::io(&journal, "made", e))?;
    // The folders above have its name already.
    let durable = sync_folder(&clips).and_then(|()| sync_folder(folder));
    durable.map_err(|e| RecordError::io(folder, "made durable", e))?;
    Ok((lock, file))
}

/// The record in which a path lies, or would lie once it is made, links resolved; `None` where there is none. Nothing is
/// written into a record but by its own walk, review and seal.
pub fn record_around(path: &Path) -> Option<PathBuf> {
    let path = std::path::absolute(path).and_then(|path| nearest(&path));
    let path = path.ok()?;
    let mut folders = path.ancestors();
    folders
        .find(|folder| folder.join(JOURNAL).is_file())
        .map(Path::to_owned)
}

/// The nearest folder above that exists, links resolved.
fn nearest(path: &Path) -> io::Result<PathBuf> {
    match fs::canonicalize(path) {
        Err(error) => match path.parent() {
            Some(parent) => nearest(parent),
            None => Err(error),
        },
        found => found,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::samples::{PLAN as TEXT, StepClock};

    #[test]
    fn a_record_is_found_round_what_lies_in_it_or_would() {
        let root = tempfile::tempdir().unwrap();
        let root = root.path().canonicalize().unwrap();
        let record = root.join("walk");
        drop(Record::create(&record, TEXT, Box::new(StepClock::at(0))).unwrap());
        for inside in [
            "",
            "journal.jsonl",
            "clips",
            "clips/none/new.wav",
            "../walk/x",
        ] {
            assert_eq!(
                record_around(&record.join(inside)),
                Some(record.clone()),
                "{inside}"
            );
        }
        for outside in ["", "walk-2", "other/new.csv", "walk/../x"] {
            assert_eq!(record_around(&root.join(outside)), None, "{outside}");
        }
        #[cfg(unix)]
        {
            let link = root.join("link");
            std::os::unix::fs::symlink(record.join("clips"), &link).unwrap();
            assert_eq!(record_around(&link.join("x")), Some(record.clone()));
        }
        let inner = record.join("clips/walk");
        let error = Record::create(&inner, TEXT, Box::new(StepClock::at(0))).unwrap_err();
        assert!(matches!(error, RecordError::Inside { .. }), "{error}");
        assert!(!inner.exists());
    }
}
