//! What a walk writes down. Entries are the only memory: a walk is restored by applying them in order.

use crate::plan::{CheckId, LeftOut, Route};
use crate::walk::{Hearing, Note, Pace, Practice, Tryout};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// An outcome of a check. A check without one is open.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "outcome", rename_all = "kebab-case")]
pub enum Outcome {
    /// As it should be.
    Conforming,
    /// Not as it should be.
    Deficient {
        /// The deficiency's name ("front left hook pin missing").
        deficiency: String,
    },
    /// The inspector says that it does not apply here.
    NotApplicable,
    /// The inspector could not see it.
    NotSeen,
}

/// Where in the work on one check an answer was given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stage {
    /// First time round.
    Walk,
    /// Corrected by the inspector.
    Correction,
    /// Asked again because this or a touched check was put right.
    Reinspection,
}

/// A rhythm of answers in which nobody looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Pattern {
    /// Faster than a person can look.
    Fast,
    /// The same answer over and over.
    Chant,
}

impl Pattern {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Fast => "faster than one can look",
            Self::Chant => "the same answer over and over",
        }
    }
}

/// An accepted answer with the way it was heard.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Heard {
    /// The utterance that gave the answer.
    pub hearing: Hearing,
    /// The utterance that confirmed it, where it was asked ("did you say three?").
    pub confirmed_by: Option<Hearing>,
}

/// One line of the journal (inside the envelope that the record adds: number, times, hashes).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "entry", rename_all = "kebab-case")]
pub enum Entry {
    /// The first entry.
    Opened {
        /// Format of the journal.
        format: u32,
        /// Who inspects.
        inspector: String,
        /// Who rigged.
        rigger: String,
        /// SHA-256 of the plan file's bytes, lower-case hex.
        plan_sha256: String,
        /// The route as walked.
        route: Box<Route>,
        /// Checks that do not apply to this build.
        left_out: Vec<LeftOut>,
        /// The capacity questions, as spoken, with their verdicts.
        capacity: Vec<CapacityLine>,
        /// What trying headset and voice out came to shortly before, where that was done.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        tryout: Option<Box<Tryout>>,
        /// What the rigger says of checks, where that was given. Never spoken, and no answer.
        #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
        rigger_marks: BTreeMap<CheckId, String>,
        /// What was planted, of a practice walk. Never spoken before its end.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        practice: Option<Practice>,
        /// At which pace it is walked; absent where every check is asked and nothing else was set.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pace: Option<Box<Pace>>,
    },
    /// A check was put to the inspector.
    Asked {
        /// The check.
        check: CheckId,
        /// First, second, ... time it is asked in a row.
        attempt: u32,
    },
    /// A station was opened to call findings off, anew or again.
    Calling {
        /// Its key.
        station: String,
        /// Whether it is asked which of several answers there was wrong; until that is told nothing goes on.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        which: bool,
    },
    /// Answers came in a rhythm in which nobody looks. They stand, but for the one asked again.
    Rhythm {
        /// The checks, in the order answered.
        checks: Vec<CheckId>,
        /// What was seen.
        pattern: Pattern,
        /// The check that is asked again; its answer no longer stands.
        again: Option<CheckId>,
    },
    /// An answer was accepted. A later entry for the same check stands beside it and prevails.
    Answered {
        /// The check.
        check: CheckId,
        /// The meaning's value (`present`, `3`, `12.5`, `A7`, a state's key, `not-applicable`, `not-seen`).
        value: String,
        /// What it makes of the check.
        outcome: Outcome,
        /// Where in the work.
        stage: Stage,
        /// How it was heard.
        heard: Heard,
    },
    /// An utterance that did not become an answer.
    Refused {
        /// The check being asked, if any.
        check: Option<CheckId>,
        /// What was heard.
        hearing: Hearing,
    },
    /// An utterance that must be confirmed before it counts.
    Doubted {
        /// The check being asked.
        check: CheckId,
        /// What was heard.
        hearing: Hearing,
    },
    /// A control phrase was obeyed.
    Control {
        /// Its value (`say-again`, `stand-by`, ...; also `leave` for a deficiency left open).
        control: String,
        /// The check that it is about. After `correction` that check's answer no longer stands.
        check: Option<CheckId>,
        /// How it was heard.
        hearing: Hearing,
        /// With `sent-back`, the deficiency that a review heard at that check: it stands until the check is answered again.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        deficiency: Option<String>,
    },
    /// A note, on a check or on the load.
    Noted {
        /// The check it belongs to.
        check: Option<CheckId>,
        /// The note.
        note: Note,
    },
    /// The inspector says that a deficiency was put right; the listed checks are open again.
    PutRight {
        /// The deficient check.
        check: CheckId,
        /// The checks to ask again, this one first.
        again: Vec<CheckId>,
        /// How it was heard.
        hearing: Hearing,
    },
    /// The walk stands still.
    Held {
        /// Why.
        why: String,
        /// The check that it broke.
        check: Option<CheckId>,
    },
    /// The walk goes on.
    Carried {
        /// The check asked again first.
        check: Option<CheckId>,
    },
    /// The process was started again on an open record.
    Resumed {
        /// The check asked again first.
        check: Option<CheckId>,
    },
    /// Every check has an outcome.
    Completed {
        /// Whether the load is ready for a person to sign.
        ready: bool,
        /// Deficiencies and points that stand against it, as spoken.
        against: Vec<String>,
    },
}

/// One capacity question and its verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CapacityLine {
    /// Which question (`aircraft`, `container`, `sling-set`, `leg`).
    pub question: String,
    /// Whether it passes.
    pub passes: bool,
    /// The verdict in words that can be spoken, with number, limit and the rule behind it.
    pub spoken: String,
    /// Why a qualified person should look at it though it passes, as spoken; empty where nothing asks for that.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub look: String,
}

impl CapacityLine {
    /// The figures, and why a qualified person should look at them.
    pub fn told(&self) -> String {
        if self.look.is_empty() {
            self.spoken.clone()
        } else {
            let spoken = self.spoken.trim_end_matches('.');
            // What was not asked says the same twice.
            if self.look.trim_end_matches('.').eq_ignore_ascii_case(spoken) {
                return format!("For a qualified person: {spoken}.");
            }
            format!("{spoken}. For a qualified person: {}.", self.look)
        }
    }
}
