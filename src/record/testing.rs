//! A file in memory whose operations can be made to fail, as disks do.

use super::file::JournalFile;
use std::io;
use std::path::Path;
use std::sync::{Arc, Mutex};

/// What the next operations on a [`MemoryFile`] do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fault {
    /// As it should be.
    None,
    /// A write takes at most so many bytes.
    Short(usize),
    /// A write takes so many bytes, then fails.
    WriteFails(usize),
    /// A sync fails; its bytes stay to be read but will never reach the disk.
    SyncFails,
    /// Cutting fails.
    TruncateFails,
}

#[derive(Clone, Debug)]
enum Change {
    Write { offset: usize, bytes: Vec<u8> },
    Truncate(usize),
}

#[derive(Debug, Default)]
struct State {
    /// What is on the disk.
    durable: Vec<u8>,
    /// What a reader sees.
    visible: Vec<u8>,
    /// What a sync would bring to the disk.
    pending: Vec<Change>,
    aside: Vec<Vec<u8>>,
    faults: Vec<Fault>,
}

/// A journal in memory; clones share the bytes.
#[derive(Clone, Debug, Default)]
pub(crate) struct MemoryFile(Arc<Mutex<State>>);

impl MemoryFile {
    pub(crate) fn with_bytes(bytes: &[u8]) -> Self {
        let file = Self::default();
        let mut state = file.0.lock().unwrap();
        state.durable = bytes.to_vec();
        state.visible = bytes.to_vec();
        drop(state);
        file
    }

    pub(crate) fn visible(&self) -> Vec<u8> {
        self.0.lock().unwrap().visible.clone()
    }

    pub(crate) fn aside(&self) -> Vec<Vec<u8>> {
        self.0.lock().unwrap().aside.clone()
    }

    /// Each operation that can fail takes one of these, the first first.
    pub(crate) fn plan_faults(&self, faults: impl IntoIterator<Item = Fault>) {
        let mut faults: Vec<Fault> = faults.into_iter().collect();
        faults.reverse();
        self.0.lock().unwrap().faults = faults;
    }

    /// The power goes: of the changes since the last sync the first `whole` reach the disk, the next
    /// one only up to `torn` bytes, with zeros in `hole` of it; the others are lost.
    pub(crate) fn crash(&self, whole: usize, torn: usize, hole: std::ops::Range<usize>) {
        self.crash_out_of_order(whole, torn, hole, 0);
    }

    /// Likewise, but of the others those reach the disk whose bit is set in `late`: a disk may write
    /// in any order what was not synced.
    pub(crate) fn crash_out_of_order(
        &self,
        whole: usize,
        torn: usize,
        hole: std::ops::Range<usize>,
        late: u32,
    ) {
        let mut state = self.0.lock().unwrap();
        let pending = std::mem::take(&mut state.pending);
        let mut durable = std::mem::take(&mut state.durable);
        for (i, change) in pending.into_iter().enumerate() {
            let after = i.saturating_sub(whole + 1).min(31);
            if i > whole && late >> after & 1 == 0 {
                continue;
            }
            match change {
                Change::Write { offset, mut bytes } => {
                    if i == whole {
                        // Bytes that the disk held already are the same before and after.
                        let fresh = durable.len().saturating_sub(offset).min(bytes.len());
                        bytes.truncate(torn.max(fresh));
                        for at in hole.clone() {
                            if at >= fresh && at < bytes.len() {
                                bytes[at] = 0;
                            }
                        }
                    }
                    put(&mut durable, offset, &bytes);
                }
                Change::Truncate(length) if i != whole => durable.truncate(length),
                Change::Truncate(_) => {}
            }
        }
        state.visible.clone_from(&durable);
        state.durable = durable;
    }
}

fn put(file: &mut Vec<u8>, offset: usize, bytes: &[u8]) {
    // A write beyond the end leaves zeros between, as a file system does.
    file.resize(file.len().max(offset + bytes.len()), 0);
    file[offset..offset + bytes.len()].copy_from_slice(bytes);
}

fn full() -> io::Error {
    io::ErrorKind::StorageFull.into()
}

impl State {
    fn fault(&mut self) -> Fault {
        self.faults.pop().unwrap_or(Fault::None)
    }

    fn write(&mut self, offset: u64, bytes: &[u8]) {
        let offset = usize::try_from(offset).unwrap();
        put(&mut self.visible, offset, bytes);
        self.pending.push(Change::Write {
            offset,
            bytes: bytes.to_vec(),
        });
    }
}

impl JournalFile for MemoryFile {
    fn length(&mut self) -> io::Result<u64> {
        Ok(self.0.lock().unwrap().visible.len() as u64)
    }

    fn read_all(&mut self) -> io::Result<Vec<u8>> {
        Ok(self.visible())
    }

    fn write_at(&mut self, offset: u64, bytes: &[u8]) -> io::Result<usize> {
        let mut state = self.0.lock().unwrap();
        match state.fault() {
            Fault::Short(most) if most < bytes.len() && most > 0 => {
                state.write(offset, &bytes[..most]);
                Ok(most)
            }
            Fault::WriteFails(some) => {
                let some = some.min(bytes.len());
                state.write(offset, &bytes[..some]);
                Err(full())
            }
            _ => {
                state.write(offset, bytes);
                Ok(bytes.len())
            }
        }
    }

    fn sync(&mut self) -> io::Result<()> {
        let mut state = self.0.lock().unwrap();
        if state.fault() == Fault::SyncFails {
            // The system marks the bytes as clean and forgets to write them.
            state.pending.clear();
            return Err(io::Error::other("input/output error"));
        }
        for change in std::mem::take(&mut state.pending) {
            match change {
                Change::Write { offset, bytes } => put(&mut state.durable, offset, &bytes),
                Change::Truncate(length) => state.durable.truncate(length),
            }
        }
        Ok(())
    }

    fn truncate(&mut self, length: u64) -> io::Result<()> {
        let length = usize::try_from(length).unwrap();
        let mut state = self.0.lock().unwrap();
        if state.fault() == Fault::TruncateFails {
            return Err(io::Error::other("input/output error"));
        }
        state.visible.truncate(length);
        state.pending.push(Change::Truncate(length));
        Ok(())
    }

    fn set_aside(&mut self, bytes: &[u8]) -> io::Result<String> {
        let mut state = self.0.lock().unwrap();
        state.aside.push(bytes.to_vec());
        Ok(format!("journal.torn-{}", state.aside.len()))
    }

    fn path(&self) -> &Path {
        Path::new("journal.jsonl")
    }
}
