//! What the conversation is about. Answers are not here: they are in the ledger.
//!
//! ```text
//! Fresh -> Asking <-> Confirming
//!            |  ^          ^
//!            |  +- Calling -+     (findings called off, at stations where they are; doubts may be confirmed together)
//!   deficient v  | put right / left open
//!          Noting -> Fixing
//!   all done -> Closing -> Last -> Done
//!   any of them <-> Leaving -> Last;  a hold lies over any of them
//! ```

use crate::plan::CheckId;
use crate::walk::{Ending, Hearing};

/// What is asked, or about to be.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Phase {
    /// Before `Begin`.
    Fresh,
    /// The inspector listens round for alarms before the first check.
    Heeding,
    /// A check was put.
    Asking(CheckId),
    /// The inspector calls findings off.
    Calling(Call),
    /// "Did you say ...?"
    Confirming(Doubt),
    /// "Did you say ..., ...?" of good words called off, each of which one yes would confirm.
    ConfirmingTogether(Vec<Doubt>),
    /// A note is awaited.
    Noting { about: Option<CheckId>, then: Then },
    /// "Put right now, or leave open?"
    Fixing(CheckId),
    /// "Close the walk?"
    Closing,
    /// "End the walk?" over another phase.
    Leaving(Then),
    /// The last words are being spoken.
    Last(Ending),
    /// `Finish` is out.
    Done,
}

/// A station at which findings are called off.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Call {
    /// Its key.
    pub station: String,
    /// The checks among which it is asked which is to be corrected; none where nothing is asked.
    pub which: Vec<CheckId>,
    /// Whether anything was called since the last prompt.
    pub begun: bool,
}

impl Call {
    /// Whether it is asked which item is to be corrected. Until that is told nothing goes on.
    pub(super) fn asks_which(&self) -> bool {
        !self.which.is_empty()
    }
}

/// An answer that is not yet one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Doubt {
    pub check: CheckId,
    pub value: String,
    pub first: Hearing,
    /// Whether its check must be named, since it was not asked.
    pub called: bool,
}

/// What follows an aside.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Then {
    /// The question how the deficiency is dealt with.
    Fix(CheckId),
    /// That phase again.
    Back(Box<Phase>),
    /// The hold over that phase again.
    Hold(Box<Phase>),
}

impl Phase {
    /// The check that it is about.
    pub(super) fn check(&self) -> Option<&CheckId> {
        match self {
            Self::Asking(check) | Self::Fixing(check) => Some(check),
            Self::Confirming(doubt) => Some(&doubt.check),
            Self::ConfirmingTogether(doubts) => doubts.first().map(|d| &d.check),
            Self::Noting { about, then } => about.as_ref().or_else(|| then.check()),
            Self::Leaving(then) => then.check(),
            Self::Calling(_)
            | Self::Fresh
            | Self::Heeding
            | Self::Closing
            | Self::Last(_)
            | Self::Done => None,
        }
    }

    /// The phase to come back to after an aside or a hold. Asides do not pile up, and a doubted
    /// answer is asked from the start.
    pub(super) fn beneath(self) -> Self {
        match self {
            Self::Confirming(doubt) => Self::Asking(doubt.check),
            Self::ConfirmingTogether(doubts) if !doubts.is_empty() => {
                Self::Asking(doubts[0].check.clone())
            }
            Self::Noting {
                then: Then::Back(phase) | Then::Hold(phase),
                ..
            }
            | Self::Leaving(Then::Back(phase) | Then::Hold(phase)) => *phase,
            Self::Leaving(Then::Fix(check)) => Self::Fixing(check),
            other => other,
        }
    }
}

impl Then {
    pub(super) fn check(&self) -> Option<&CheckId> {
        match self {
            Self::Fix(check) => Some(check),
            Self::Back(phase) | Self::Hold(phase) => phase.check(),
        }
    }
}

/// A standstill over a phase.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Hold {
    /// Ends with `Cleared`; nothing is heard meanwhile.
    pub outside: bool,
    /// Ends with a spoken "carry on".
    pub voice: bool,
    /// "Carry on" was half heard once.
    pub half: bool,
    /// Utterances that were no command.
    pub refused: u32,
}

/// Failures in a row at one question.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Patience {
    pub refused: u32,
    pub silent: u32,
}

/// What the walk waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wait {
    /// The record's word for this entry.
    Journal(u64),
    /// The end of this phrase.
    Phrase(u64),
    /// Something heard on this listen.
    Silence(u64),
}
