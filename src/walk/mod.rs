//! The walk as a pure state machine: events in, effects out; no clock, no I/O, no async.

mod effect;
mod entry;
mod event;

pub use crate::grammar::Meaning;
pub use effect::{Effect, Ending, Listen, Phrase, Say, SayId, Tone};
pub use entry::{CapacityLine, Entry, Heard, Outcome, Stage};
pub use event::{Decision, Event, Hearing, Note};

/// Milliseconds on a clock that never goes back, counted from the start of the process.
pub type MonotonicMs = u64;
