//! The few file operations that the journal needs, so that tests can make each of them fail.

use super::folder::LEFTOVER;
pub(super) use crate::durable::{sync_folder, write_new};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// The journal's file. Only [`Journal`](super::journal::Journal) uses it, one process at a time.
pub trait JournalFile: Send {
    /// Its length in bytes.
    ///
    /// # Errors
    /// What the system says.
    fn length(&mut self) -> io::Result<u64>;

    /// All its bytes.
    ///
    /// # Errors
    /// What the system says.
    fn read_all(&mut self) -> io::Result<Vec<u8>>;

    /// Writes some of the bytes at an offset not beyond the end; returns how many.
    ///
    /// # Errors
    /// What the system says; some bytes may have been written all the same.
    fn write_at(&mut self, offset: u64, bytes: &[u8]) -> io::Result<usize>;

    /// Returns when all that was written is on the disk.
    ///
    /// # Errors
    /// What the system says; then nothing is known of the bytes since the last sync.
    fn sync(&mut self) -> io::Result<()>;

    /// Cuts the file to a length.
    ///
    /// # Errors
    /// What the system says.
    fn truncate(&mut self, length: u64) -> io::Result<()>;

    /// Keeps bytes in a new file beside the journal, durable; returns its name.
    ///
    /// # Errors
    /// What the system says.
    fn set_aside(&mut self, bytes: &[u8]) -> io::Result<String>;

    /// What to call it in messages.
    fn path(&self) -> &Path;
}

/// A journal on the disk.
#[derive(Debug)]
pub struct DiskFile {
    file: File,
    path: PathBuf,
}

impl DiskFile {
    /// Opens the journal for reading and writing; makes it where `new` is set.
    ///
    /// # Errors
    /// What the system says; `AlreadyExists` where `new` is set and it is there.
    pub fn open(path: &Path, new: bool) -> io::Result<Self> {
        // Not in append mode: on Linux that would send `write_at` to the end whatever its offset.
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create_new(new)
            .open(path)?;
        Ok(Self {
            file,
            path: path.to_owned(),
        })
    }
}

impl JournalFile for DiskFile {
    fn length(&mut self) -> io::Result<u64> {
        Ok(self.file.metadata()?.len())
    }

    fn read_all(&mut self) -> io::Result<Vec<u8>> {
        let mut bytes = Vec::new();
        self.file.seek(SeekFrom::Start(0))?;
        self.file.read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    fn write_at(&mut self, offset: u64, bytes: &[u8]) -> io::Result<usize> {
        self.file.seek(SeekFrom::Start(offset))?;
        self.file.write(bytes)
    }

    fn sync(&mut self) -> io::Result<()> {
        self.file.sync_data()
    }

    fn truncate(&mut self, length: u64) -> io::Result<()> {
        self.file.set_len(length)?;
        self.file.sync_all()
    }

    fn set_aside(&mut self, bytes: &[u8]) -> io::Result<String> {
        let folder = self.path.parent().unwrap_or(Path::new("."));
        let mut n = 1u32;
        loop {
            let name = format!("{LEFTOVER}{n}");
            match write_new(&folder.join(&name), bytes) {
                Ok(()) => return Ok(name),
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => n += 1,
                Err(e) => return Err(e),
            }
        }
    }

    fn path(&self) -> &Path {
        &self.path
    }
}

/// Writes a file that must not exist so that under its name there is all of it or nothing, whatever
/// breaks off the writing; durable on return. The caller sees to it that nobody else writes it.
pub(super) fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    if path.exists() {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    let folder = path.parent().unwrap_or(Path::new("."));
    // Beside the folder, so that the remains of a crash are not taken for one of its files.
    let part = folder.with_extension("part");
    let _ = fs::remove_file(&part);
    write_new(&part, bytes)?;
    fs::rename(&part, path)
        .and_then(|()| sync_folder(folder))
        .inspect_err(|_| drop(fs::remove_file(&part)))
}
