//! The interface to whatever speaks.

use crate::voice::{Earcon, VoiceError};
use std::sync::Arc;

/// Numbers a phrase, so that its end can be told.
pub type PhraseId = u64;

/// What became of a phrase. Each phrase gets exactly one of these.
#[derive(Debug)]
pub enum Spoken {
    /// It was heard to its end.
    Said(PhraseId),
    /// It was cut off or dropped by [`Mouth::stop`].
    Cut(PhraseId),
    /// It could not be said; the mouth may be dead.
    Failed(PhraseId, VoiceError),
}

/// Is told what became of phrases, from a thread of the mouth; it must return soon.
pub type Tell = Arc<dyn Fn(Spoken) + Send + Sync>;

/// How to speak.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manner {
    /// Pace, 1 is normal; 0.5 to 2.
    pub rate: f32,
    /// Loudness, 0 to 1.
    pub volume: f32,
}

impl Manner {
    /// The nearest manner within bounds.
    pub fn bounded(self) -> Self {
        let within = |value: f32, low, high, normal| {
            if value.is_nan() {
                normal
            } else {
                value.clamp(low, high)
            }
        };
        Self {
            rate: within(self.rate, 0.5, 2.0, 1.0),
            volume: within(self.volume, 0.0, 1.0, 1.0),
        }
    }
}

impl Default for Manner {
    fn default() -> Self {
        Self {
            rate: 1.0,
            volume: 1.0,
        }
    }
}

/// Says phrases and plays tones in the order asked, and tells what became of each phrase. No call
/// blocks.
pub trait Mouth: Send {
    /// What speaks, for messages.
    fn name(&self) -> String;

    /// Says a phrase after what is queued.
    fn say(&mut self, id: PhraseId, text: &str);

    /// Plays a tone after what is queued; nothing is told.
    fn tone(&mut self, which: Earcon);

    /// Ends what is being said and drops what is queued.
    fn stop(&mut self);

    /// Speaks so from the next phrase on.
    fn set_manner(&mut self, manner: Manner);

    /// Gets sounds ready for phrases that will come, where that saves time.
    fn prepare(&mut self, texts: &[String]) {
        let _ = texts;
    }
}

/// Says nothing; every phrase has been said at once. For runs in which the text on the screen is
/// enough.
pub struct TextOnly {
    tell: Tell,
}

impl TextOnly {
    /// Tells `tell` that each phrase was said.
    pub fn new(tell: Tell) -> Self {
        Self { tell }
    }
}

impl Mouth for TextOnly {
    fn name(&self) -> String {
        "text only".to_owned()
    }

    fn say(&mut self, id: PhraseId, _: &str) {
        (self.tell)(Spoken::Said(id));
    }

    fn tone(&mut self, _: Earcon) {}

    fn stop(&mut self) {}

    fn set_manner(&mut self, _: Manner) {}
}
