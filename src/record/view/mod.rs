//! A record as its readers want it: everything that `show`, the exports and the review page print,
//! gathered once. What counts comes from the walk's own [`Ledger`](crate::walk::Ledger).
//!
//! As JSON it has the shape of these types, field for field, names as here, enums in kebab case;
//! `format` changes when a field is taken away or changes its meaning.

mod amended;
mod build;
mod debrief;
mod found;
mod words;

use super::envelope::Envelope;
use super::verify::Verification;
use crate::plan::{CheckId, LeftOut};
use crate::walk::{CapacityLine, Stage, Tryout};
use serde::Serialize;

pub use build::{glance, verified_view, view};
pub use debrief::{Debrief, FaultView, UnplantedView};

/// Version of the JSON shape of a [`View`].
pub const VIEW_FORMAT: u32 = 2;

/// What the tool's own note of a tryout made in a break begins with.
pub const TRIED_OUT: &str = "tried out: ";

/// What every export says besides its content.
pub const CAUTIONS: [&str; 5] = [
    "this record does not certify the load: a person signs, never the tool",
    "local rules, the maker's tag, the flight manual and licensed practice come first",
    "it is for loads only, never for people",
    "what was heard is a machine's reading of the sound: where it matters, listen to the clip",
    "a transcript of a note is a machine's guess: the sound counts",
];

/// A record as its readers want it.
#[derive(Clone, Debug, Serialize)]
pub struct View {
    /// [`VIEW_FORMAT`].
    pub format: u32,
    /// The load's name.
    pub load: String,
    /// Who inspected.
    pub inspector: String,
    /// Who rigged.
    pub rigger: String,
    /// What lifts by the plan, with its name where it has one ("crane (yard crane)"); `None` where the record's plan cannot be
    /// read, is not that of the walk, or was not looked at.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lifter: Option<String>,
    /// The sling set's name by the plan; `None` as with the lifter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sling_set: Option<String>,
    /// SHA-256 of the plan, lower-case hex.
    pub plan_sha256: String,
    /// Time of the first entry, RFC 9557; empty where there is none.
    pub started: String,
    /// Time of the last entry.
    pub last: String,
    /// How long the record was open, in milliseconds.
    pub recorded_ms: u64,
    /// How far the walk is; amendments, and a record that is not intact, can make a ready one not
    /// ready, never the other way.
    pub state: State,
    /// How far it is by the entries alone.
    pub walked_state: State,
    /// Why it is held, where it is.
    pub held: Option<String>,
    /// The capacity questions with their verdicts.
    pub capacity: Vec<CapacityLine>,
    /// What trying headset and voice out came to before the walk, where that was done.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tryout: Option<Tryout>,
    /// What the latest tryout in a break came to, in words, where one was made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tried_again: Option<String>,
    /// Of a practice walk, what was found of what was planted.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub practice: Option<Debrief>,
    /// What stands against the load now, as spoken; first, where the record is not intact, that.
    pub against: Vec<String>,
    /// The checks that were called not applicable, as spoken. They do not stand against the load, but whoever signs
    /// reads them.
    pub not_applicable: Vec<String>,
    /// Every deficiency found, also those put right: one a finding.
    pub deficiencies: Vec<DeficiencyView>,
    /// The checks that are open or were not seen.
    pub open: Vec<OpenView>,
    /// Every check of the route, in walking order.
    pub checks: Vec<CheckView>,
    /// The load's outline from above, metres forward and left: its rear right and front left corner.
    pub outline_m: Option<[[f64; 2]; 2]>,
    /// Notes on the load, not on a check.
    pub notes: Vec<NoteView>,
    /// What reviewers said afterwards, in its order.
    pub amendments: Vec<AmendmentView>,
    /// Checks that this build of the load does not have.
    pub left_out: Vec<LeftOut>,
    /// When the walk stood still, and why.
    pub holds: Vec<HoldView>,
    /// The clips whose sound was removed on purpose, by file name, sorted.
    pub sound_removed: Vec<String>,
    /// Where answers came in a rhythm in which nobody looks.
    pub rhythms: Vec<RhythmView>,
    /// How often what happened.
    pub counts: Counts,
    /// Every entry but `opened`, one line each.
    pub timeline: Vec<Moment>,
    /// The entries from which all this was gathered, and those after them that do not fit to them; no part of the JSON.
    #[serde(skip)]
    pub entries: Vec<Envelope>,
    /// Whether anything was changed, the seals, and what that proves.
    pub integrity: Verification,
    /// [`CAUTIONS`].
    pub cautions: Vec<String>,
}

/// How far a walk is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// It stands still.
    Held,
    /// It is complete, and the load is not ready.
    NotReady,
    /// It is not complete.
    Open,
    /// It is complete, and the load is ready for a person to sign.
    Ready,
}

/// A check with everything that happened at it.
#[derive(Clone, Debug, Serialize)]
pub struct CheckView {
    /// Its name in the plan.
    pub check: CheckId,
    /// The station's name as spoken.
    pub station: String,
    /// Its name as spoken.
    pub name: String,
    /// The question.
    pub ask: String,
    /// What conforms, in words; the inspector does not hear it before the answer.
    pub expected: String,
    /// Where its station is, metres forward and metres left of the load's origin.
    pub place_m: Option<[f64; 2]>,
    /// What holds of it now, amendments included.
    pub status: Status,
    /// What holds of it by the walk's own answers, as if no review had said anything, also where the walk was taken up
    /// again for what a review sent back.
    pub walked: Status,
    /// The deficiency that stands, or stood when a review opened the check.
    pub deficiency: Option<String>,
    /// Why it is open, or why it was not asked.
    pub why: Option<String>,
    /// Every answer, oldest first, also those that no longer stand.
    pub answers: Vec<AnswerView>,
    /// How often it was asked.
    pub asked: u32,
    /// Utterances at it that did not become an answer.
    pub refused: u32,
    /// Utterances at it that had to be confirmed first.
    pub doubted: u32,
    /// What the rigger says of it, where that was given; no answer.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rigger_mark: Option<String>,
    /// Notes on it.
    pub notes: Vec<NoteView>,
    /// Amendments of it.
    pub amendments: Vec<AmendmentView>,
    /// What a reviewer heard in place of the latest answer, in words, as long as that speaks against it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heard_in_review: Option<String>,
}

impl CheckView {
    /// What a review changed at it, in a line; `None` where it changed nothing.
    pub fn amended(&self) -> Option<String> {
        let heard = self.heard_in_review.as_ref();
        let heard = heard.map_or(String::new(), |heard| format!(", heard as {heard}"));
        let changed = self.walked != self.status || !heard.is_empty();
        let walked = self.walked.words();
        changed.then(|| format!("amended in review{heard}; by the walk: {walked}"))
    }
}

/// What a reviewer said afterwards.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct AmendmentView {
    /// Its number, from 0.
    pub number: u64,
    /// Time of day.
    pub wall: String,
    /// Who.
    pub by: String,
    /// `heard wrong`, `re-inspect`, `note` or `withdrawal`.
    pub kind: &'static str,
    /// The check; `None`: the load.
    pub check: Option<CheckId>,
    /// Station and check, as spoken.
    pub place: Option<String>,
    /// The entry of the answer that was heard wrong.
    pub entry: Option<u64>,
    /// What the reviewer hears instead, in words.
    pub hears: Option<String>,
    /// That as a value of the check; no part of the JSON.
    #[serde(skip)]
    pub hears_value: Option<String>,
    /// The reason, or the note.
    pub text: String,
    /// What it makes of the check; empty for a note, and where it was withdrawn.
    pub does: String,
    /// What it makes of the check as long as it speaks against it; not where it was withdrawn or settled since.
    #[serde(skip)]
    pub against: Option<Against>,
    /// Whether it asks for another inspection.
    #[serde(skip)]
    pub sends_back: bool,
    /// The number of the amendment that it withdraws.
    pub withdraws: Option<u64>,
    /// The number of the amendment that withdraws it.
    pub withdrawn_by: Option<u64>,
    /// The number of the reviewer's key; empty where it could not be read.
    pub key_id: String,
    /// Whether its signature and place are sound. It is heeded in any case, except a withdrawal.
    pub sound: bool,
}

/// What a review makes of a check against what the walk has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Against {
    /// It is open.
    Open,
    /// It is deficient.
    Deficient,
}

/// What holds of a check now.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// As it should be.
    Conforming,
    /// Not as it should be.
    Deficient,
    /// The inspector says that it does not apply.
    NotApplicable,
    /// An answer to an earlier check leaves it out.
    NotAsked,
    /// The inspector could not see it.
    NotSeen,
    /// No answer stands.
    Open,
}

impl Status {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Conforming => "conforming",
            Self::Deficient => "deficient",
            Self::NotApplicable => "not applicable",
            Self::NotAsked => "not asked",
            Self::NotSeen => "not seen",
            Self::Open => "open",
        }
    }
}

/// One answer to a check.
#[derive(Clone, Debug, Serialize)]
pub struct AnswerView {
    /// Number of its entry.
    pub entry: u64,
    /// Time of day.
    pub wall: String,
    /// Time on the record's own clock, milliseconds.
    pub mono_ms: u64,
    /// Its value as in the journal.
    pub value: String,
    /// Its value in words.
    pub said: String,
    /// What it made of the check when it was given.
    pub outcome: Status,
    /// The deficiency that it named then.
    pub deficiency: Option<String>,
    /// Where in the work it was given, as in the journal.
    pub stage: Stage,
    /// Whether it corrects the answer before it: given in its place with another value, neither for a repair nor for a review.
    /// The same said again corrects nothing.
    pub corrects: bool,
    /// The entry of the next answer, where that says the same in its place, neither for a repair nor for a review.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub said_again: Option<u64>,
    /// How it was heard.
    pub heard: HeardView,
    /// How the confirmation was heard, where one was asked.
    pub confirmed_by: Option<HeardView>,
    /// Whether it stands.
    pub stands: bool,
}

impl AnswerView {
    /// Where in the work it was given, by what it changed.
    pub fn given(&self) -> Given {
        match self.stage {
            _ if self.corrects => Given::Correction,
            Stage::Walk => Given::First,
            Stage::Correction => Given::Again,
            Stage::Reinspection => Given::Reinspection,
        }
    }

    /// Why it stands no longer, in words; `None` where it stands.
    pub fn gone(&self) -> Option<String> {
        match (self.stands, self.said_again) {
            (true, _) => None,
            (false, Some(entry)) => Some(format!("said again in entry {entry}")),
            (false, None) => Some("no longer stands".to_owned()),
        }
    }
}

/// Where in the work an answer was given, by what it changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// First time round.
    First,
    /// In the place of another value.
    Correction,
    /// In the place of the same value.
    Again,
    /// Since it or what it touches was put right, or a review sent it back.
    Reinspection,
}

/// How an utterance was heard.
#[derive(Clone, Debug, Serialize)]
pub struct HeardView {
    /// The words of the best phrase.
    pub words: String,
    /// Probability that its meaning is right, 0 to 1.
    pub confidence: f64,
    /// Signal to noise in dB, where it was measured.
    pub snr_db: Option<f64>,
    /// What it could have been instead, in words, likeliest first, with how many times less likely
    /// it was (1 or more).
    pub others: Vec<(String, f64)>,
    /// The clip's file name; empty where it was typed.
    pub clip: String,
    /// The clip's SHA-256.
    pub clip_sha256: String,
}

/// A note.
#[derive(Clone, Debug, Serialize)]
pub struct NoteView {
    /// Number of its entry.
    pub entry: u64,
    /// Time of day.
    pub wall: String,
    /// Its text; a machine's guess unless `typed`.
    pub transcript: String,
    /// Whether a person typed it.
    pub typed: bool,
    /// Whether nobody said or typed it: the tool noted a tryout that was made in a break.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub by_tool: bool,
    /// The clip's file name; empty where it was typed.
    pub clip: String,
    /// The clip's SHA-256.
    pub clip_sha256: String,
}

/// A deficiency from finding to fix.
#[derive(Clone, Debug, Serialize)]
pub struct DeficiencyView {
    /// The check.
    pub check: CheckId,
    /// Its name as found last.
    pub name: String,
    /// The entry that found it first; of one that a reviewer heard, that of the answer it was heard in.
    pub found: u64,
    /// The number of the amendment by which a reviewer heard it; `None` where the walk alone found it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub in_review: Option<u64>,
    /// The last entry that says that it was put right.
    pub put_right: Option<u64>,
    /// How that was said; only where `put_right` is set.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub put_right_by: Option<SaidView>,
    /// How it was said last that it is left open, where that was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_open: Option<SaidView>,
    /// The answers given since, by entry: re-inspection or correction.
    pub since: Vec<u64>,
    /// Whether it stands. If not, the check may be open all the same.
    pub stands: bool,
    /// Whether an answer to another check leaves its check out since: nobody put it right.
    pub left_out: bool,
}

/// What was said of a deficiency.
#[derive(Clone, Debug, Serialize)]
pub struct SaidView {
    /// Number of its entry.
    pub entry: u64,
    /// Time of day.
    pub wall: String,
    /// Time on the record's own clock, milliseconds.
    pub mono_ms: u64,
    /// Who said it: the inspector, by the name in the record.
    pub by: String,
    /// The words.
    pub words: String,
    /// Probability that they were heard rightly, 0 to 1.
    pub confidence: f64,
    /// The clip's file name; empty where it was typed.
    pub clip: String,
    /// The clip's SHA-256.
    pub clip_sha256: String,
}

/// A check that is open.
#[derive(Clone, Debug, Serialize)]
pub struct OpenView {
    /// The check.
    pub check: CheckId,
    /// Station and check, as spoken.
    pub place: String,
    /// Why it is open.
    pub why: String,
}

/// A time during which the walk stood still.
#[derive(Clone, Debug, Serialize)]
pub struct HoldView {
    /// Number of its entry.
    pub entry: u64,
    /// Time of day.
    pub wall: String,
    /// Why.
    pub why: String,
    /// The check that it broke.
    pub check: Option<CheckId>,
    /// How long, in milliseconds: of recorded time, or by the time of day where the walk was taken up again; `None` where
    /// it lasts.
    pub held_ms: Option<u64>,
    /// What of it is recorded time, in milliseconds.
    #[serde(skip)]
    pub recorded_ms: u64,
}

/// Answers in a rhythm in which nobody looks.
#[derive(Clone, Debug, Serialize)]
pub struct RhythmView {
    /// Number of its entry.
    pub entry: u64,
    /// Time of day.
    pub wall: String,
    /// What was seen, in words.
    pub what: String,
    /// The checks, in the order answered.
    pub checks: Vec<CheckId>,
    /// The check that was asked again for it.
    pub again: Option<CheckId>,
}

impl RhythmView {
    /// In a line, without its time.
    pub fn line(&self) -> String {
        let first = self.checks.first().map_or("", |c| c.0.as_str());
        let last = self.checks.last().map_or("", |c| c.0.as_str());
        let again = match &self.again {
            Some(check) => format!("; {check} was asked again"),
            None => String::new(),
        };
        format!(
            "{} answers {}, {first} to {last}{again} (entry {})",
            self.checks.len(),
            self.what,
            self.entry
        )
    }
}

/// How often what happened.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Checks asked, repeats included.
    pub asked: u32,
    /// Answers accepted.
    pub answered: u32,
    /// Utterances that did not become an answer.
    pub refused: u32,
    /// Utterances that had to be confirmed.
    pub doubted: u32,
    /// Answers in the place of another value: [`AnswerView::corrects`].
    pub corrected: u32,
    /// Deficiencies said to be put right.
    pub put_right: u32,
    /// Times the walk stood still.
    pub held: u32,
    /// Times the program was started again.
    pub resumed: u32,
}

/// One entry in a line.
#[derive(Clone, Debug, Serialize)]
pub struct Moment {
    /// Number of the entry.
    pub entry: u64,
    /// Time of day.
    pub wall: String,
    /// Time on the record's own clock, milliseconds.
    pub mono_ms: u64,
    /// What kind of entry, as in the journal.
    pub kind: &'static str,
    /// The check that it is about.
    pub check: Option<CheckId>,
    /// What happened, in words.
    pub text: String,
    /// The control as in the journal, where it is one; no part of the JSON.
    #[serde(skip)]
    pub control: Option<String>,
    /// The clips heard, by file name.
    pub clips: Vec<String>,
}
