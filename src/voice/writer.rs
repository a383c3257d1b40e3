//! A mouth that writes what it says to files: for runs without a loudspeaker, and for tests.

use crate::audio::wav_bytes_at;
use crate::voice::{Earcon, Manner, Mouth, PhraseId, Spoken, Store, Tell, VoiceError};
use std::path::{Path, PathBuf};

/// Letters of the text that a file name shows.
const NAME_LETTERS: usize = 40;

/// Writes each phrase as a numbered WAV file and takes it as said.
pub struct WavWriter {
    voice: Store,
    dir: PathBuf,
    next: u32,
    manner: Manner,
    tell: Tell,
}

impl WavWriter {
    /// Writes into `dir`, which is made where it is not there. Numbers go on after files already there.
    ///
    /// # Errors
    /// [`VoiceError::Write`] where the directory cannot be used.
    pub fn new(voice: Store, dir: &Path, tell: Tell) -> Result<Self, VoiceError> {
        let unusable = |source| VoiceError::Write {
            path: dir.to_owned(),
            source,
        };
        std::fs::create_dir_all(dir).map_err(unusable)?;
        let mut last = 0;
        for entry in std::fs::read_dir(dir).map_err(unusable)? {
            let name = entry.map_err(unusable)?.file_name();
            let name = name.to_string_lossy();
            let digits = name.split('-').next().unwrap_or_default();
            last = last.max(digits.parse().unwrap_or(0));
        }
        Ok(Self {
            voice,
            dir: dir.to_owned(),
            next: last + 1,
            manner: Manner::default(),
            tell,
        })
    }

    fn write(&mut self, text: &str) -> Result<(), VoiceError> {
        let clip = self.voice.sound(text, self.manner.rate)?;
        let path = self
            .dir
            .join(format!("{:04}-{}.wav", self.next, slug(text)));
        let bytes = wav_bytes_at(&clip.samples, clip.rate);
        std::fs::write(&path, bytes).map_err(|source| VoiceError::Write { path, source })?;
        self.next += 1;
        Ok(())
    }
}

impl Mouth for WavWriter {
    fn name(&self) -> String {
        format!("{} to files in {}", self.voice.name(), self.dir.display())
    }

    fn say(&mut self, id: PhraseId, text: &str) {
        let spoken = match self.write(text) {
            Ok(()) => Spoken::Said(id),
            Err(error) => Spoken::Failed(id, error),
        };
        (self.tell)(spoken);
    }

    fn tone(&mut self, _: Earcon) {}

    fn stop(&mut self) {}

    fn set_manner(&mut self, manner: Manner) {
        self.manner = manner.bounded();
    }
}

/// A text's first words as part of a file name.
fn slug(text: &str) -> String {
    let mut slug = String::new();
    for c in text.chars().flat_map(char::to_lowercase) {
        if slug.len() >= NAME_LETTERS {
            break;
        }
        if c.is_ascii_alphanumeric() {
            slug.push(c);
        } else if !slug.ends_with('-') && !slug.is_empty() {
            slug.push('-');
        }
    }
    slug.trim_end_matches('-').to_owned()
}
