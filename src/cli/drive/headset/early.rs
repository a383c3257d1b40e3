//! An answer taken in its first pause: whether it was all that was said.

use super::{Happening, Headset};
use crate::ears::CHUNK;

/// The rest of the quiet behind an answer that was taken early.
#[derive(Debug, Default)]
pub(super) struct Early {
    /// Whether more is being said.
    goes_on: bool,
}

impl Headset {
    /// Takes the utterance in its pause as over, unless something was said since it was handed out. Only where
    /// one may talk over the tool: else its read-back would hide what is still said.
    pub(super) fn take_early(&mut self) -> anyhow::Result<bool> {
        self.hear()?;
        let nothing_since = self.open && self.cutter.is_pausing();
        if !nothing_since
            || !self.turns.is_over()
            || self.waiting.iter().any(super::microphone::is_sound)
        {
            return Ok(false);
        }
        self.early = Some(Early::default());
        Ok(true)
    }

    /// Hears whether more is said until the utterance is over. What is said stops the voice and is handed
    /// out whole with what was taken.
    pub(super) fn watch_early(&mut self, sound: &[f32]) -> anyhow::Result<()> {
        let echo = self.over_echo_dbfs();
        for piece in sound.chunks(CHUNK) {
            let ended = self.cutter.push(piece)?;
            if let Some(early) = &mut self.early
                && !early.goes_on
                && self.cutter.hears_speech(echo)
            {
                early.goes_on = true;
                self.mouth.stop();
            }
            if let Some(utterance) = ended.into_iter().next() {
                let early = self.early.take().unwrap_or_default();
                if early.goes_on {
                    self.waiting.push_back(Happening::WentOn(utterance));
                }
                break;
            }
        }
        // Pauses of what was dealt with already.
        self.cutter.take_paused();
        Ok(())
    }
}
