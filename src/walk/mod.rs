//! The walk as a pure state machine: events in, effects out; no clock, no I/O, no async.
//!
//! | file | holds |
//! | --- | --- |
//! | `event`, `effect`, `entry` | what goes in, what comes out, what is written down |
//! | `judge` | what an answer makes of a check |
//! | `ledger`, `folding`, `reading`, `reviewed` | the fold of the entries: everything that counts, its questions, what a review sent back |
//! | `machine`, `settle` | inputs, outputs, the wait for the disk; ears and timers |
//! | `lift` | what a wrong count does to the lift, said after the count |
//! | `phase`, `ends`, `flow`, `hearing`, `control`, `holding` | the conversation |
//! | `called`, `breath`, `calling`, `taking`, `rhythm` | findings called off: what may be said, what is made of it, how fast |
//! | `practice` | faults planted for a learner, and what was found of them |
//! | `tryout` | what trying the headset out came to, as the walk keeps it |
//! | `typed` | what a typed line may be besides an answer |
//! | `wording`, `spoken` | every phrase, numbers and tags as words |
//!
//! The conversation never holds an answer: it writes an entry, and the [`Ledger`] counts it.

mod breath;
mod called;
mod calling;
mod control;
mod effect;
mod ends;
mod entry;
mod event;
mod flow;
mod folding;
mod foresee;
mod hearing;
mod holding;
mod judge;
mod ledger;
mod lift;
mod machine;
mod manner;
mod name;
mod opened;
mod phase;
mod practice;
mod reading;
mod reviewed;
mod rhythm;
pub mod rules;
mod settle;
mod spoken;
mod taking;
mod together;
mod tryout;
mod typed;
mod wording;

pub use crate::grammar::Meaning;
pub use called::called_items;
pub use effect::{Effect, Ending, Listen, Phrase, Say, SayId, Tone};
pub use entry::{CapacityLine, Entry, Heard, Outcome, Pattern, Stage};
pub use event::{Called, Decision, Event, Hearing, Note, Other};
pub use foresee::Foreseen;
pub use hearing::REFUSED_LIMIT;
pub use judge::{agrees, answer, answer_rule, bears, holds, judge, noun, state_forms};
pub use ledger::{Answer, Ledger, Noted, Opening, Unfit};
pub use lift::Lift;
pub use machine::Walk;
pub use manner::Manner;
pub use name::{mixes_scripts, steers, turns};
pub use opened::{
    CalledAt, JOURNAL_FORMAT, OpenError, Pace, RestoreError, Settings, person_keys, same_person,
};
pub use practice::{
    PlantedFault, Practice, Unplanted, Verdict, agrees_with, plantable, planted_deficiency,
};
pub use reading::{Deficiency, NotAsked, OpenPoint, Readiness, Why};
pub use settle::{RECORD_LIMIT_MS, SPEECH_LIMIT_MS, SPEECH_MS_PER_CHAR, UTTERANCE_LIMIT_MS};
pub use tryout::{Advice, Tryout};
pub use typed::{TypedAs, is_left_open, typed_as};

/// Milliseconds on a clock that never goes back, counted from the start of the process.
pub type MonotonicMs = u64;
