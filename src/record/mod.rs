//! The record of a walk: append-only journal, clips, hash chain, verification.
//!
//! A record is a folder; `README.txt` in it says what is what. The journal is JSON Lines: each line
//! an [`Envelope`] that carries the SHA-256 of the exact bytes of the line before, so that nothing
//! in the middle can change unseen. [`Record::append`] returns when the entry is on the disk.
//!
//! What holds:
//! - No acknowledged entry is lost, whatever fails afterwards. After a failed write the journal
//!   takes no entry until it was mended or opened again.
//! - A clip is on the disk before the entry that names it.
//! - The remains of a line that a crash broke off are kept in a file of their own and reported.
//! - One process at a time writes to a record.

mod amend;
mod capacity;
mod clip;
mod clock;
mod dsse;
mod envelope;
mod error;
mod file;
mod folder;
mod forget;
mod hands;
mod journal;
mod keys;
mod notes;
mod own;
mod parse;
mod planned;
mod problem;
mod proves;
#[cfg(test)]
pub(crate) mod samples;
mod seal;
mod session;
mod show;
mod sounds;
#[cfg(test)]
mod testing;
mod verify;
mod view;
mod void;

pub use amend::{
    AMENDMENT_TYPE, AmendError, Amendment, AmendmentCheck, Change, MAX_AMENDMENT_CHARS,
    MAX_AMENDMENTS, amend, no_such_check, typed_value,
};
pub use capacity::capacity_lines;
pub use clip::{CLIP_RATE_HZ, Clip, MAX_CLIP_BYTES, clip_wav};
pub use clock::{Clock, SystemClock};
pub use envelope::{ClipRef, ClockNotice, Envelope, FORMAT, NO_PREV, clips_of, sha256_hex};
pub use error::RecordError;
pub use folder::{
    JOURNAL as JOURNAL_FILE, Opened, PLAN as PLAN_FILE, Record, folder_name, record_around,
};
pub use forget::{ForgetError, Forgotten, OPEN_KEEPS, Removal, forget_sound};
pub use journal::{MAX_JOURNAL_BYTES, Torn};
pub use keys::{KeyError, PublicKey, SecretKey, new_key};
pub use parse::{MAX_LINE_BYTES, Parsed, parse_journal};
pub use planned::{KnownPlans, plan_of};
pub use problem::{Place, Problem, ProblemKind};
pub use seal::{Role, SEAL_TYPE, SealCheck, SealError, Statement, seal};
pub use session::{PlacedClip, Session, clip_bytes, clip_samples, session};
pub use show::{
    amendment, answer_time, clock_time, duration, plain, show, state_words, text, text_with,
    tryout_words,
};
pub use verify::{Verification, read, verify};
pub use view::{
    Against, AmendmentView, AnswerView, CAUTIONS, CheckView, Counts, Debrief, DeficiencyView,
    FaultView, Given, HeardView, HoldView, Moment, NoteView, OpenView, SaidView, State, Status,
    TRIED_OUT, UnplantedView, VIEW_FORMAT, View, glance, verified_view, view,
};
