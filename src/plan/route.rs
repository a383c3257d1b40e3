//! The route: what a plan asks for on this walk, in walking order, with every table looked up.
//!
//! A route is all that the walk knows of a plan. It is serialised into the record, so that a record
//! can be read without the plan it came from.

use crate::plan::limits;
use serde::{Deserialize, Serialize};
use std::fmt;

/// Names one check of a route: station key, a slash, check key (`front-left/hook-links`).
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct CheckId(pub String);

impl fmt::Display for CheckId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Everything asked on one walk.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Route {
    /// The load's name as spoken.
    pub load: String,
    /// The stations in walking order; none is empty.
    pub stations: Vec<Station>,
    /// Checks that this build of the load does not have, with the reason.
    pub left_out: Vec<LeftOut>,
    /// The load's outline from above, metres forward and left of its origin: the rear right and the
    /// front left corner of its box. Records of before have none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub outline_m: Option<[[f64; 2]; 2]>,
}

impl Route {
    /// All checks in walking order.
    pub fn checks(&self) -> impl Iterator<Item = &Check> {
        self.stations.iter().flat_map(|s| &s.checks)
    }

    /// The check of that name.
    pub fn check(&self, id: &CheckId) -> Option<&Check> {
        self.checks().find(|c| &c.id == id)
    }
}

/// One place round the load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Station {
    /// Short name without blanks, unique in the route.
    pub key: String,
    /// The name as spoken ("front left corner").
    pub name: String,
    /// Spoken on arrival after the name (where to stand, what to touch); may be empty.
    pub arrive: String,
    /// Where it is on the load in plan view, metres forward and metres left of the load's origin.
    pub place_m: Option<[f64; 2]>,
    /// Its checks in order; not empty.
    pub checks: Vec<Check>,
}

/// One check: one question with one answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Check {
    /// Unique in the route.
    pub id: CheckId,
    /// Short spoken name ("hook keeper").
    pub name: String,
    /// Other spoken names for calling off.
    pub also: Vec<String>,
    /// Spoken name of all checks of the station that may be answered at once ("pins": "both pins in").
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub together: Option<String>,
    /// The question as spoken. It never holds the expected value.
    pub ask: String,
    /// What may be answered and what of it conforms.
    pub kind: CheckKind,
    /// The deficiency's name where an answer does not conform, without the station's name ("pin
    /// missing"). `None`: made from the name and the answer. States carry their own instead.
    #[serde(default)]
    pub deficiency: Option<String>,
    /// All must hold for the check to apply; each looks at an earlier check.
    pub when: Vec<Condition>,
    /// Checks to ask again when this one was put right.
    pub touches: Vec<CheckId>,
    /// The answer must also agree with another check's.
    pub compare: Option<Compare>,
}

/// What may be answered and what of it conforms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum CheckKind {
    /// Grammar rule `presence`: `present` or `missing`.
    Presence {
        /// Whether it must be there (`true`) or must not be there (`false`).
        must_be: bool,
    },
    /// Grammar rule `count`: a whole number 0 to 120. Asked blind.
    Count {
        /// The number that conforms; `None` where only `compare` decides.
        expected: Option<u32>,
        /// What is counted, plural ("links").
        noun: String,
    },
    /// One of several named states; each state is conforming or a deficiency with its own name.
    /// "Exactly one of" checks arrive here with their `both` and `neither` states spelled out.
    State {
        /// At least two.
        states: Vec<NamedState>,
    },
    /// Grammar rule `reading`: a decimal number.
    Reading {
        /// Unit as spoken ("bar").
        unit: String,
        /// Least value that conforms.
        min: Option<f64>,
        /// Greatest value that conforms.
        max: Option<f64>,
    },
    /// Grammar rule `tag`: letters in the ICAO spelling alphabet and digits.
    Tag {
        /// The tag that conforms, capitals and digits; `None` takes any and records it.
        expected: Option<String>,
    },
    /// Grammar rule `condition`: `good` or `deficient`.
    Condition,
}

/// Whether a sign only sets the parts of a tag apart, so that it is neither read out nor compared: a
/// blank, a hyphen or dash of any length, or an underscore.
pub fn parts_a_tag(sign: char) -> bool {
    sign.is_whitespace()
        || matches!(
            sign,
            '-' | '_' | '\u{ad}' | '\u{2010}'..='\u{2015}' | '\u{2212}'
        )
}

/// A tag as it is compared: capitals and digits, without what sets its parts apart. `None` for what no
/// answer can be: nothing, another sign, or more than [`limits::TAG`].
pub fn tag_signs(text: &str) -> Option<String> {
    let parts = text.chars().filter(|&c| !parts_a_tag(c));
    let tag: String = parts.map(|c| c.to_ascii_uppercase()).collect();
    let fits =
        (1..=limits::TAG).contains(&tag.len()) && tag.bytes().all(|b| b.is_ascii_alphanumeric());
    fits.then_some(tag)
}

/// A state that a thing can be found in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NamedState {
    /// The meaning returned by the ears, without blanks.
    pub key: String,
    /// Spoken forms; the first is used for read-back.
    pub spoken: Vec<String>,
    /// `None`: conforming. Otherwise the deficiency's name.
    pub deficiency: Option<String>,
}

/// A test on an earlier check's answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Condition {
    /// An earlier check of the route.
    pub check: CheckId,
    /// What its answer must be.
    pub test: Test,
}

/// What an earlier answer must be. A check without an answer (not applicable, not seen) fails `Is`
/// and the bounds, and passes `IsNot`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Test {
    /// The answer has one of these meanings.
    Is(Vec<String>),
    /// The answer has none of these meanings.
    IsNot(Vec<String>),
    /// The answer is a number not less than this.
    AtLeast(f64),
    /// The answer is a number not greater than this.
    AtMost(f64),
}

impl Test {
    /// Whether it holds on an answer's value; `None` is no answer, or one without a value.
    pub fn holds(&self, value: Option<&str>) -> bool {
        let number = || value.and_then(|v| v.parse::<f64>().ok());
        match self {
            Self::Is(any) => value.is_some_and(|v| any.iter().any(|a| a == v)),
            Self::IsNot(none) => value.is_none_or(|v| none.iter().all(|a| a != v)),
            Self::AtLeast(least) => number().is_some_and(|x| x >= *least),
            Self::AtMost(most) => number().is_some_and(|x| x <= *most),
        }
    }
}

/// An agreement asked between two checks' answers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Compare {
    /// The other check; it comes earlier in the route.
    pub with: CheckId,
    /// How the answers must agree.
    pub relation: Relation,
}

/// How two answers must agree.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Relation {
    /// The same meaning.
    Alike,
    /// Meanings that mirror each other; a meaning in no pair mirrors itself.
    Mirrored(Vec<[String; 2]>),
}

/// A check that this walk does not ask.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// The check it would have been.
    pub check: CheckId,
    /// Its spoken name.
    pub name: String,
    /// Why it does not apply ("option spreader is fitted, not none").
    pub reason: String,
}
