//! What happens to a walk.

use crate::grammar::Meaning;
use crate::walk::SayId;
use serde::{Deserialize, Serialize};

/// What the ears decided about one utterance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "decision", rename_all = "kebab-case")]
pub enum Decision {
    /// Evidence suffices.
    Take {
        /// What was meant.
        meaning: Meaning,
    },
    /// Probably this; ask.
    Confirm {
        /// What was probably meant.
        meaning: Meaning,
    },
    /// Not an answer that can be trusted.
    Refuse {
        /// Why, in a few words ("too quiet", "not in the grammar").
        reason: String,
    },
}

/// One utterance as heard, with its evidence.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hearing {
    /// The decision.
    pub decision: Decision,
    /// The words of the best phrase; may be empty.
    pub words: String,
    /// Calibrated probability that the meaning is right, 0 to 1.
    pub confidence: f64,
    /// File name of the sound inside the record's `clips/`; empty where an answer was typed.
    pub clip: String,
    /// SHA-256 of the clip's bytes, lower-case hex; empty where an answer was typed.
    pub clip_sha256: String,
    /// Signal to noise in dB, where it was measured.
    pub snr_db: Option<f64>,
    /// What it could have been instead, likeliest first; a few at most.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<Other>,
}

/// What an utterance could have been instead.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Other {
    /// The meaning.
    pub meaning: Meaning,
    /// How far it is behind the best one: difference of the natural logarithms of their
    /// probabilities, 0 or more.
    pub behind: f64,
}

/// What was called off in one breath.
#[derive(Clone, Debug, PartialEq)]
pub struct Called {
    /// Its items in the order spoken, each with its own piece of the sound. The meanings are those of
    /// [`crate::grammar::called`].
    pub items: Vec<Hearing>,
    /// The whole breath, for where it holds no item; its decision is a refusal.
    pub whole: Hearing,
    /// Whether more was said than its items hold.
    pub more: bool,
}

/// A spoken note: kept as sound, its transcript a machine's guess.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Note {
    /// Unconstrained machine transcript; may be wrong or empty.
    pub machine_transcript: String,
    /// File name of the sound inside the record's `clips/`; empty where typed.
    pub clip: String,
    /// SHA-256 of the clip's bytes, lower-case hex; empty where typed.
    pub clip_sha256: String,
    /// Whether the person typed it (then the transcript is what was meant).
    pub typed: bool,
    /// Whether the tool wrote it down of itself (a tryout made in a break); then nobody typed it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub by_tool: bool,
}

/// What happens to a walk.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// The walk may start or go on; sent once, after the journal is open.
    Begin,
    /// The entry with this number is on the disk.
    Journalled(u64),
    /// The phrase was spoken to its end.
    Said(SayId),
    /// Somebody began to speak (or to type) on the given listen; the time for silence starts anew.
    /// May be left out.
    Started {
        /// The number of the [`crate::walk::Listen`].
        listen: u64,
    },
    /// An utterance was heard (or an answer typed) while listening to the given listen number.
    Heard {
        /// The number of the [`crate::walk::Listen`] that it answers; a stale number is ignored.
        listen: u64,
        /// What was heard.
        hearing: Hearing,
    },
    /// More was said right behind what was heard last, before it was sure that nothing more would be: an answer or findings
    /// taken of that no longer stand, and are asked again. Where nothing was taken it is written down as no answer, and the
    /// question is put again.
    WentOn {
        /// All of what was said, undecided.
        hearing: Hearing,
        /// Whether it was "stop", or may have been: then the walk holds.
        stop: bool,
    },
    /// A breath was heard (or typed) on a listen with items.
    Called {
        /// The number of the listen that it answers.
        listen: u64,
        /// What was called off.
        called: Called,
    },
    /// A note was heard while a listen with `free` was open.
    NoteHeard {
        /// The number of the listen that it answers.
        listen: u64,
        /// The note.
        note: Note,
    },
    /// Something outside makes answers impossible (a lost headset, a full disk, a dead voice).
    Hold {
        /// What happened, in words that can be spoken.
        why: String,
    },
    /// The cause of the last `Hold` is gone.
    Cleared,
    /// The cause of the last `Hold` is gone because another device took the place of the lost one. The
    /// walk stays held until the inspector says "carry on" through it.
    Replaced {
        /// What took its place, in words that can be spoken.
        what: String,
    },
}
