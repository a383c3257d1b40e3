//! The one loop that joins a walk to the world. It obeys and never decides.

mod calls;
mod driver;
#[cfg(all(feature = "devices", feature = "whisper"))]
mod headset;
mod holds;
mod keyboard;
mod meter;
mod observe;
#[cfg(feature = "whisper")]
mod prompts;
mod reader;
#[cfg(feature = "whisper")]
mod scripted;
#[cfg(feature = "whisper")]
mod speech;
#[cfg(all(feature = "devices", feature = "whisper"))]
mod turns;
mod typed;

pub use driver::{Driver, Understands, WalkClock, clock_text};
#[cfg(all(feature = "devices", feature = "whisper"))]
pub use headset::Headset;
pub use keyboard::{Keyboard, Stroke, Typing, each_stroke};
pub use meter::Meter;
pub use observe::{JsonLines, Observer, Plain};
#[cfg(feature = "whisper")]
pub use prompts::{Mouthed, Unspoken};
pub use reader::Reader;
#[cfg(feature = "whisper")]
pub use scripted::{AnswerList, PromptSound, Scripted};

use crate::walk::{Listen, Manner, MonotonicMs, Say, Tone};

/// Something that reached the driver from outside.
#[derive(Debug)]
pub enum Happening {
    /// A phrase was spoken to its end.
    Said(u64),
    /// An utterance cut from the stream.
    #[cfg(feature = "whisper")]
    Utterance {
        /// The sound with its level.
        utterance: crate::ears::Utterance,
        /// Where it came from, for messages ("joe/present.flac"); empty for a microphone.
        from: String,
    },
    /// An utterance in its first pause, which may be its end.
    #[cfg(feature = "whisper")]
    Paused(crate::ears::Utterance),
    /// More was said than the answer that was taken; it ends now.
    #[cfg(feature = "whisper")]
    WentOn {
        /// What was said, with the answer before it or without.
        utterance: crate::ears::Utterance,
        /// Samples of it that were handed out as the answer; 0 where it has what came behind alone.
        handed: usize,
    },
    /// Somebody begins to speak.
    Began,
    /// A line was typed.
    Typed(String),
    /// The deadline passed and nothing happened.
    Deadline,
    /// A device went away or broke.
    Lost(String),
    /// It is back.
    Back,
    /// Another one took its place; what it is.
    Replaced(String),
    /// Something worth telling whoever watches; the walk goes on as before.
    Remark(String),
    /// The inspector cannot speak any more (the list is used up, the keyboard closed) or asked to
    /// break off from outside the walk.
    Over(String),
}

/// The world as the driver sees it: a mouth, an inspector and a clock.
pub trait Port {
    /// Milliseconds since the port was opened; never goes back.
    fn now(&self) -> MonotonicMs;
    /// Begins to speak; [`Happening::Said`] follows.
    ///
    /// # Errors
    /// When the voice fails for good.
    fn say(&mut self, say: &Say) -> anyhow::Result<()>;
    /// Opens the ears.
    fn listen(&mut self, listen: &Listen);
    /// Closes the ears.
    fn hush(&mut self);
    /// Stops speaking at once; nothing is sent for what was cut off.
    fn quiet(&mut self);
    /// Speaks so from the next phrase on, where it speaks.
    fn manner(&mut self, manner: Manner) {
        let _ = manner;
    }
    /// Gets the sound of phrases ready that may follow, where that saves time.
    fn prepare(&mut self, texts: &[String]) {
        let _ = texts;
    }
    /// Takes the utterance that was handed out in its pause, with so many samples, as over, if nothing was said
    /// since. Until the usual quiet has passed [`Happening::WentOn`] tells if more is said all the same.
    ///
    /// # Errors
    /// When the ears fail for good.
    fn end_early(&mut self, samples: usize) -> anyhow::Result<bool> {
        let _ = samples;
        Ok(false)
    }
    /// Plays a tone.
    fn tone(&mut self, tone: Tone);
    /// Waits for the next happening, at the longest until the deadline.
    ///
    /// # Errors
    /// When the ears or a sound file fail for good.
    fn wait(&mut self, deadline: Option<MonotonicMs>) -> anyhow::Result<Happening>;
}
