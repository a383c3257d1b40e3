//! Names of the grammar rules that a walk listens with, and the values that it obeys.

/// Commands; values below under the same heading.
pub const CONTROL: &str = "control";
/// `yes` or `no`.
pub const YES_NO: &str = "yes-no";
/// `fixed` or `leave`, asked for at a deficiency.
pub const FIXING: &str = "fixing";
/// `present`, `missing`, or `deficient` of what is there and damaged.
pub const PRESENCE: &str = "presence";
/// A whole number from 0 to [`crate::plan::limits::COUNT`].
pub const COUNT: &str = "count";
/// The key of one of the check's own states, or what denies them ([`crate::grammar::NEGATED`]), which counts as [`DEFICIENT`].
pub const STATE: &str = "state";
/// A decimal number.
pub const READING: &str = "reading";
/// Letters and digits.
pub const TAG: &str = "tag";
/// `good` or `deficient`.
pub const CONDITION: &str = "condition";

/// Control: repeat the question.
pub const SAY_AGAIN: &str = "say-again";
/// Control: ask the check answered before.
pub const GO_BACK: &str = "go-back";
/// Control: hold.
pub const STAND_BY: &str = "stand-by";
/// Control: end a hold, decline a note, keep an answer gone back to.
pub const CARRY_ON: &str = "carry-on";
/// Control: the last answer was wrong.
pub const CORRECTION: &str = "correction";
/// Written down as a control, by nobody's word: a review does not let the answer stand, and it is asked again.
pub const SENT_BACK: &str = "sent-back";
/// Control: say the place and what is open.
pub const WHERE: &str = "where";
/// Control: read the deficiencies.
pub const DEFICIENCIES: &str = "deficiencies";
/// Control and answer: the check does not apply here.
pub const NOT_APPLICABLE: &str = "not-applicable";
/// Control and answer: it cannot be seen.
pub const NOT_SEEN: &str = "not-seen";
/// Control: take a spoken note.
pub const NOTE: &str = "note";
/// Control: end the walk.
pub const END_WALK: &str = "end-walk";
/// Control: the inspector calls findings off, here and from here on.
pub const CALL_OFF: &str = "call-off";
/// Control: the tool asks, here and from here on.
pub const LED: &str = "led";
/// Control: nothing more is called off at this station.
pub const DONE: &str = "done";
/// Control: speak faster from here on.
pub const FASTER: &str = "faster";
/// Control: speak slower.
pub const SLOWER: &str = "slower";
/// Control: speak louder.
pub const LOUDER: &str = "louder";
/// Control: speak less loudly.
pub const QUIETER: &str = "quieter";
/// Written down as a control: an item was named without a finding.
pub const NAMED: &str = "named";

/// Value of [`YES_NO`].
pub const YES: &str = "yes";
/// Value of [`YES_NO`].
pub const NO: &str = "no";
/// Value of [`FIXING`]: the deficiency was put right.
pub const FIXED: &str = "fixed";
/// Value of [`FIXING`]: the deficiency stays open.
pub const LEAVE: &str = "leave";
/// Value of [`PRESENCE`].
pub const PRESENT: &str = "present";
/// Value of [`PRESENCE`].
pub const MISSING: &str = "missing";
/// Value of [`CONDITION`].
pub const GOOD: &str = "good";
/// Value of [`CONDITION`] and [`PRESENCE`], and of [`STATE`] where none of the check's own states is it.
pub const DEFICIENT: &str = "deficient";
