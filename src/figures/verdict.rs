//! A verdict: one question about the lift, answered with a number, a limit and the rule behind it.

use super::judge::exact;
use super::question::Question;
use super::rig::HangLimits;
use super::units::{LengthUnit, MassUnit};
use crate::plan::capital;
use serde::Serialize;
use std::fmt;

/// Stands beside every verdict.
pub const CAUTION: &str = "Estimates from typed-in numbers. The maker's tag, the flight manual, \
     local rules and a qualified person decide. Never for people.";

/// What the numbers say.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Grade {
    /// Within the limit.
    Pass,
    /// Within the limit, but worth a qualified person's look.
    Warn,
    /// Over the limit.
    Fail,
}

/// Which way a limit goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Bound {
    /// The number must be as much, or more.
    Least,
    /// The number must be as much, or less.
    #[default]
    Most,
}

/// A number with its unit, so that kilograms are not taken for degrees.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "unit", content = "value", rename_all = "kebab-case")]
pub enum Quantity {
    /// Mass, or a pull as the mass that it would hold, kg.
    Kg(f64),
    /// Angle, degrees.
    Deg(f64),
    /// A plain ratio.
    Ratio(f64),
    /// Chain links.
    Links(f64),
    /// Height, m.
    M(f64),
}

/// Share of a rating from which a leg or a provision is worth a second look, percent. Common practice, no source.
pub(super) const NEAR_PERCENT: f64 = 80.0;

impl Quantity {
    /// The bare number in the unit of its variant.
    pub fn number(self) -> f64 {
        match self {
            Quantity::Kg(v)
            | Quantity::Deg(v)
            | Quantity::Ratio(v)
            | Quantity::Links(v)
            | Quantity::M(v) => v,
        }
    }

    /// With so many decimals more than usual.
    fn written(self, unit: MassUnit, length: LengthUnit, more: usize) -> String {
        match self {
            Quantity::Kg(v) => unit.written_finer(v, more),
            Quantity::Deg(v) => format!("{v:.*}°", 1 + more),
            Quantity::Ratio(v) => format!("{v:.*}", 2 + more),
            Quantity::Links(v) => format!("{v:.0} links"),
            Quantity::M(v) => length.written(v),
        }
    }

    fn spoken(self, unit: MassUnit, length: LengthUnit, more: usize) -> String {
        match self {
            Quantity::Kg(v) => unit.spoken_finer(v, more),
            Quantity::Deg(v) => format!("{v:.*} degrees", 1 + more),
            Quantity::Ratio(v) => format!("{v:.1} times"),
            Quantity::Links(v) => format!("{v:.0} links"),
            Quantity::M(v) => length.spoken(v),
        }
    }
}

/// One question about the lift with its answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// What is asked.
    pub question: Question,
    /// What it is asked of ("front left leg"); empty for the whole lift.
    pub subject: String,
    /// The answer.
    pub grade: Grade,
    /// The number found; `None` where there is none, and `note` says why.
    pub value: Option<Quantity>,
    /// The limit that it is held against.
    pub limit: Option<Quantity>,
    /// Which way the limit goes.
    pub limit_is: Bound,
    /// How much of the limit is used, percent, at the worst of the inputs' plus and minus.
    pub share_percent: Option<f64>,
    /// Why there is no share, where there is none.
    pub no_share: Option<&'static str>,
    /// The number at the worst of the inputs' plus and minus, where that is worse than `value`.
    pub worst: Option<Quantity>,
    /// The input whose plus or minus decides the worst ("centre of gravity forward").
    pub decided_by: Option<String>,
    /// How many legs or drops are taken to carry, in words, where the number depends on that; `None` where it does not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub carrying: Option<&'static str>,
    /// The lift's dynamic factor, over 1, where `value` and `worst` have it in them; `None` where they are at rest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dynamic_factor: Option<f64>,
    /// Share of the tag's rating that a choker hitch leaves, over 0 and under 1, where `limit` is that; `None` where it is
    /// the tag's own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hitch_keeps: Option<f64>,
    /// How the load's mass is known ("load cell"), where the whole lift is asked about; `None` elsewhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_from: Option<String>,
    /// The rule behind it.
    pub rule: String,
    /// What else a reader must know; may be empty.
    pub note: String,
    /// The unit in which masses are said.
    #[serde(skip)]
    pub unit: MassUnit,
    /// The unit in which lengths are said.
    #[serde(skip)]
    pub length_unit: LengthUnit,
}

impl Verdict {
    /// Whether the lift may go on as far as this question is concerned; a warning passes.
    pub fn passes(&self) -> bool {
        self.grade != Grade::Fail
    }

    /// The number that decides: the worst one where the inputs have a plus or minus.
    pub fn at_worst(&self) -> Option<Quantity> {
        self.worst.or(self.value)
    }

    /// The number as typed in and, beside it, the one at the worst of the plus and minus where that
    /// is another when spoken.
    fn both_spoken(&self) -> String {
        let more = self.decimals_more();
        let say =
            |number: Option<Quantity>| number.map(|n| n.spoken(self.unit, self.length_unit, more));
        match (say(self.value), say(self.worst)) {
            (Some(value), Some(worst)) if value != worst => {
                format!("{value} as typed in, at worst {worst}")
            }
            (value, worst) => worst.or(value).unwrap_or_default(),
        }
    }

    /// Why a qualified person should look at it though it passes, in words that can be spoken.
    pub fn look(&self) -> Option<String> {
        if self.grade != Grade::Warn {
            return None;
        }
        let (subject, more) = (&self.subject, self.decimals_more());
        let said = match self.question {
            _ if self.value.is_none() => format!("{subject}: {}", self.note),
            Question::LegAngle => format!(
                "{subject} is flat, {} from the horizontal",
                self.at_worst().map_or(String::new(), |v| v.spoken(
                    self.unit,
                    self.length_unit,
                    more
                ))
            ),
            // The first part of the note has the heights.
            Question::Hangs => self
                .note
                .split_once("; ")
                .map_or(self.note.clone(), |(_, why)| why.to_owned()),
            Question::TensionRatio => format!("{}, one pulls much harder", self.note),
            Question::Counts => format!("{subject}: {}", self.note),
            Question::Tilt => format!(
                "hangs {} off level",
                self.at_worst().map_or(String::new(), |v| v.spoken(
                    self.unit,
                    self.length_unit,
                    more
                ))
            ),
            _ if self.share_percent.is_some_and(|share| share > NEAR_PERCENT) => {
                format!("{subject}, over {NEAR_PERCENT:.0} percent of its limit",)
            }
            _ => format!("{subject}: {}", self.note),
        };
        Some(capital(&said))
    }

    /// Decimals more than usual by which a number reads otherwise than the limit that decides its grade.
    fn decimals_more(&self) -> usize {
        let limits = HangLimits::default();
        let decides = match (self.question, self.grade) {
            (_, Grade::Fail) => self.limit,
            (Question::LegAngle, _) => Some(Quantity::Deg(limits.angle_warned_deg)),
            (Question::Tilt, Grade::Warn) => Some(Quantity::Deg(limits.tilt_deg)),
            _ => None,
        };
        let (Some(number), Some(limit)) = (self.at_worst(), decides) else {
            return 0;
        };
        let written = |q: Quantity, more| q.written(self.unit, self.length_unit, more);
        let differs = |more: &usize| written(number, *more) != written(limit, *more);
        (0..4).find(differs).unwrap_or(0)
    }

    /// The verdict in a short sentence to be spoken.
    pub fn spoken(&self) -> String {
        let yes = self.passes();
        let number = self.both_spoken();
        let limit = self.limit.map_or(String::new(), |v| {
            v.spoken(self.unit, self.length_unit, self.decimals_more())
        });
        let subject = &self.subject;
        let carrying = self.carrying.map_or(String::new(), |c| format!(", {c}"));
        // Whoever holds the tag and knows the load must find both numbers again.
        let moved = self.dynamic_factor.map_or(String::new(), |factor| {
            format!(" with the factor of {}", exact(factor))
        });
        let apart = if moved.is_empty() { "" } else { "," };
        let choked = if self.hitch_keeps.is_some() {
            " in a choker"
        } else {
            ""
        };
        if self.value.is_none() {
            return match (self.question, yes) {
                (Question::Procedure, _) => format!("{}: {}.", capital(subject), self.note),
                (Question::Hangs, false) => {
                    format!("How it hangs: fails. {}.", capital(&self.note))
                }
                (_, true) if self.grade == Grade::Warn => {
                    format!("{}: {}.", capital(subject), self.note)
                }
                (_, true) => format!("{}: passes.", capital(subject)),
                (_, false) => format!("{}: fails. {}.", capital(subject), self.note),
            };
        }
        match (self.question, yes) {
            (Question::Aircraft, true) => {
                let from = self.mass_from.as_ref();
                let from = from.map_or(String::new(), |from| {
                    format!("; mass of the load from {from}")
                });
                format!(
                    "{}: load and rigging {number}, {limit} allowed today{from}.",
                    capital(subject)
                )
            }
            (Question::Aircraft, false) if self.limit.is_none() => format!(
                "{}: load and rigging {number}, but {}.",
                capital(subject),
                self.note
            ),
            (Question::Aircraft, false) => format!(
                "{} cannot carry it: load and rigging {number}, only {limit} allowed today.",
                capital(subject)
            ),
            (
                Question::Hook
                | Question::Container
                | Question::Rigging
                | Question::Spreader
                | Question::Provision,
                true,
            ) => format!(
                "{}: {number} of {limit}{apart}{moved}{carrying}.",
                capital(subject)
            ),
            (
                Question::Hook
                | Question::Container
                | Question::Rigging
                | Question::Spreader
                | Question::Provision,
                false,
            ) => format!(
                "{} overloaded: {number}{moved}, its limit is {limit}{carrying}.",
                capital(subject)
            ),
            (Question::SlingSet, true) => {
                format!("Sling set: {number} of {limit}{choked}{apart}{moved}.")
            }
            (Question::SlingSet, false) if self.share_percent.is_some_and(|s| s <= 100.0) => {
                format!("Sling set not whole: {}.", self.note)
            }
            (Question::SlingSet, false) => {
                format!("Sling set overloaded: {number}{moved}, it is rated {limit}{choked}.")
            }
            (Question::Leg, true) => {
                format!(
                    "{}: pulls {number} of {limit}{choked}{apart}{moved}{carrying}.",
                    capital(subject)
                )
            }
            (Question::Leg, false) => {
                format!(
                    "{} overloaded: pulls {number}{moved}, it is rated {limit}{choked}{carrying}.",
                    capital(subject)
                )
            }
            (Question::LegAngle, true) => {
                format!("{}: {number} from the horizontal.", capital(subject))
            }
            (Question::LegAngle, false) => {
                format!(
                    "{} too flat: {number} from the horizontal.",
                    capital(subject)
                )
            }
            (Question::Tilt, true) => format!("Hangs {number} off level."),
            (Question::Tilt, false) => {
                format!(
                    "Hangs {number} off level, {limit} is the most. {}.",
                    self.note
                )
            }
            // Of what was counted it says nothing: these are the plan's numbers.
            (Question::Counts, true) if self.limit == Some(Quantity::Links(0.0)) => {
                format!("{}: equal counts are planned.", capital(subject))
            }
            (Question::Counts, true) => {
                format!("{}: unequal counts are planned.", capital(subject))
            }
            (Question::Counts, false) if self.limit != Some(Quantity::Links(0.0)) => {
                format!("{}: counts are not as planned.", capital(subject))
            }
            (Question::Counts, false) => {
                format!("{}: counts differ by {number}.", capital(subject))
            }
            (Question::TensionRatio, _) => {
                format!("{}: one pulls {number} the other.", capital(&self.note))
            }
            (Question::Hangs | Question::Procedure | Question::Carrying | Question::Slip, _) => {
                format!("{}.", capital(subject))
            }
        }
    }
}

/// One line for a screen: mark, question, number, limit, share, rule.
impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mark = match self.grade {
            Grade::Pass => "pass",
            Grade::Warn => "WARN",
            Grade::Fail => "FAIL",
        };
        write!(f, "{mark}  {}", self.question.key())?;
        if !self.subject.is_empty() {
            write!(f, ", {}", self.subject)?;
        }
        let more = self.decimals_more();
        let written =
            |number: Option<Quantity>| number.map(|n| n.written(self.unit, self.length_unit, more));
        match (written(self.value), written(self.worst)) {
            (Some(value), Some(worst)) => {
                write!(f, ": {value} as typed in, {worst} at worst")?;
                if let Some(input) = &self.decided_by {
                    write!(f, " (decided by the {input})")?;
                }
            }
            (Some(value), None) => write!(f, ": {value}")?,
            (None, _) => {}
        }
        if let Some(limit) = written(self.limit) {
            let least = match self.limit_is {
                Bound::Least => "at least ",
                Bound::Most => "",
            };
            write!(f, ", limit {least}{limit}")?;
        }
        if let Some(share) = self.share_percent {
            write!(f, ", {}", percent(share, !self.passes()))?;
        } else if let Some(why) = self.no_share {
            write!(f, ", no share: {why}")?;
        }
        write!(f, " ({})", self.rule)?;
        if !self.note.is_empty() {
            write!(f, "; {}", self.note)?;
        }
        Ok(())
    }
}

/// A share of a limit in words. "100 %" beside a failure would read as a slip.
pub(super) fn percent(share: f64, fails: bool) -> String {
    let over = if fails && share > 100.0 && share < 100.5 {
        "over "
    } else {
        ""
    };
    format!("{over}{share:.0} %")
}
