//! What holds a walk from outside. Each cause stands by itself, so that the end of one does not lift the hold of another.

/// Causes that hold a walk, each while it lasts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Holds {
    /// An entry that has not reached the disk.
    record: bool,
    /// Bytes of sound that did not fit the disk.
    sound: Option<usize>,
    /// A device is gone.
    device: bool,
}

impl Holds {
    /// Whether nothing holds the walk.
    pub(super) fn is_free(&self) -> bool {
        *self == Self::default()
    }

    /// An entry did not reach the disk; what to tell, once.
    pub(super) fn record_stuck(&mut self) -> Option<String> {
        let is_new = !std::mem::replace(&mut self.record, true);
        is_new.then(|| RECORD.to_owned())
    }

    /// All entries are on the disk.
    pub(super) fn record_written(&mut self) {
        self.record = false;
    }

    /// So many bytes of sound did not fit; what to tell.
    #[cfg(feature = "whisper")]
    pub(super) fn no_room(&mut self, bytes: usize) -> String {
        self.sound = Some(bytes);
        SOUND.to_owned()
    }

    /// Bytes of sound that wait for room.
    pub(super) fn wants_room(&self) -> Option<usize> {
        self.sound
    }

    /// There is room for them.
    pub(super) fn has_room(&mut self) {
        self.sound = None;
    }

    /// A device went away.
    pub(super) fn device_lost(&mut self) {
        self.device = true;
    }

    /// It, or another, is there.
    pub(super) fn device_found(&mut self) {
        self.device = false;
    }

    /// Why the disk holds the walk, if it does.
    pub(super) fn disk(&self) -> Option<String> {
        let why = if self.record {
            Some(RECORD)
        } else {
            self.sound.map(|_| SOUND)
        };
        why.map(str::to_owned)
    }
}

const RECORD: &str = "the record cannot be written";
const SOUND: &str = "the sound cannot be written, free the disk";
