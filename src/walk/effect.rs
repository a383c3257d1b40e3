//! What a walk wants done.

use crate::walk::{Entry, Manner};

/// Numbers a phrase, so that its end can be told.
pub type SayId = u64;

/// What a walk wants done, in order. The driver obeys and never decides.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// Append and make durable, then send [`crate::walk::Event::Journalled`].
    Journal {
        /// Running number of the entry in the journal, from 0.
        seq: u64,
        /// The entry.
        entry: Box<Entry>,
    },
    /// Speak, then send [`crate::walk::Event::Said`].
    Say(Say),
    /// Listen for one utterance at a time until the next `Listen` or `Hush`.
    Listen(Listen),
    /// Stop listening.
    Hush,
    /// Stop speaking at once. Phrases not yet spoken to their end are dropped, and nothing is
    /// sent for them.
    Quiet,
    /// Speak so from the next phrase on, and keep it for the next walk.
    Manner(Manner),
    /// Play a short tone; nothing is awaited.
    Tone(Tone),
    /// Nothing more will come.
    Finish(Ending),
}

/// A phrase to speak.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Say {
    /// Its number.
    pub id: SayId,
    /// Its words.
    pub text: String,
    /// What it is for.
    pub phrase: Phrase,
}

/// What a phrase is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phrase {
    /// A question; may be talked over.
    Ask,
    /// An answer read back.
    ReadBack,
    /// Something to be heard to its end.
    Tell,
}

/// What to listen for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listen {
    /// Its number; hearings carry it.
    pub id: u64,
    /// Names of grammar rules active together. `state` stands for `states` below.
    pub rules: Vec<String>,
    /// Spoken forms of the check's own states: (key, forms).
    pub states: Vec<(String, Vec<String>)>,
    /// What is counted, in the plural, where `count` is among the rules; the unit, where `reading` is.
    pub noun: Option<String>,
    /// What may be called off, several items in a breath, with [`crate::grammar::called::graph`]; then
    /// `rules` holds commands alone. Empty where a question was put.
    pub items: Vec<crate::grammar::CalledItem>,
    /// Whether free speech is wanted (a note); control phrases stay active.
    pub free: bool,
}

/// A short tone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Listening has begun.
    Listening,
    /// An answer was heard.
    Heard,
    /// An answer was refused.
    Refused,
    /// The walk is held.
    Held,
}

/// How a walk ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// All checks have an outcome, nothing is deficient or unseen, capacity passed.
    Ready,
    /// All checks have an outcome, but the load is not ready.
    NotReady,
    /// The walk was broken off or is held; it can be resumed.
    Open,
}
