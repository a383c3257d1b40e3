//! Where prompts go in a scripted walk.

use super::PromptSound;
use crate::voice::{Manner, Mouth, PhraseId, Spoken, Store, Tell, WavWriter};
use crate::walk::{MonotonicMs, Say};
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};

/// Length taken for a prompt that makes no sound, in ms a letter: about 150 words a minute.
const LETTER_MS: usize = 65;

/// Nothing is spoken; time goes on as if it were.
pub struct Unspoken;

impl PromptSound for Unspoken {
    fn speak(&mut self, say: &Say) -> anyhow::Result<MonotonicMs> {
        Ok(estimate(&say.text))
    }
}

fn estimate(text: &str) -> MonotonicMs {
    (text.len() * LETTER_MS) as MonotonicMs
}

/// Speaks through a mouth and waits until it was said.
pub struct Mouthed {
    mouth: Box<dyn Mouth>,
    told: Receiver<Spoken>,
    next: PhraseId,
}

impl Mouthed {
    /// Speaks through whatever `open` makes of the way to be told.
    ///
    /// # Errors
    /// What `open` returns.
    pub fn new<E>(open: impl FnOnce(Tell) -> Result<Box<dyn Mouth>, E>) -> Result<Self, E> {
        let (sender, told) = channel();
        let tell: Tell = Arc::new(move |spoken| {
            // Nobody listens any more once the walk is over.
            let _ = sender.send(spoken);
        });
        Ok(Self {
            mouth: open(tell)?,
            told,
            next: 0,
        })
    }

    /// Writes prompts into a folder.
    ///
    /// # Errors
    /// Where the folder cannot be used.
    pub fn files(voice: Store, dir: &Path) -> Result<Self, crate::voice::VoiceError> {
        Self::new(|tell| {
            let mut writer = WavWriter::new(voice, dir, tell)?;
            writer.set_manner(Manner::default());
            Ok(Box::new(writer) as Box<dyn Mouth>)
        })
    }
}

impl PromptSound for Mouthed {
    fn speak(&mut self, say: &Say) -> anyhow::Result<MonotonicMs> {
        let id = self.next;
        self.next += 1;
        self.mouth.say(id, &say.text);
        loop {
            match self.told.recv()? {
                Spoken::Said(said) | Spoken::Cut(said) if said == id => break,
                Spoken::Failed(said, error) if said == id => return Err(error.into()),
                _ => {}
            }
        }
        Ok(estimate(&say.text))
    }
}
