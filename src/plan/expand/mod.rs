//! Expands stations, blocks and options to a route.

mod arrival;
mod blind;
mod fill;
mod kind;
mod lookup;
mod reach;
mod references;
mod speech;
mod states;
mod together;
mod walker;

#[cfg(test)]
mod tests;

use crate::plan::read::{BlockDraft, CountsDraft, Findings, StationDraft, Text};
use crate::plan::{CheckId, CheckKind, LoadOption, Route};
use fill::Frame;
use std::collections::HashSet;
use std::ops::Range;
use walker::Walker;

pub(crate) use speech::capital;
pub use speech::{CONTROL_PHRASES, SPOKEN_UNITS};

/// What an expansion draws on.
pub(in crate::plan) struct Sources<'a> {
    pub load: &'a str,
    pub load_span: Range<usize>,
    pub stations: &'a [StationDraft],
    pub blocks: &'a [BlockDraft],
    pub options: &'a [LoadOption],
    pub counts: &'a [CountsDraft],
    pub set_key: Option<&'a str>,
}

/// A route, and what of the sources it used.
pub(in crate::plan) struct Expanded {
    pub route: Route,
    /// Checks that count.
    pub count_checks: Vec<CountCheck>,
    pub used_blocks: HashSet<String>,
    pub used_options: HashSet<String>,
    pub used_tables: HashSet<String>,
}

/// A check that counts something.
pub(in crate::plan) struct CountCheck {
    pub station: String,
    pub id: CheckId,
    /// The table that it counts against, where it has one.
    pub table: Option<String>,
    /// What is counted ("links").
    pub noun: String,
    /// The number that conforms, where it is not only compared.
    pub expected: Option<u32>,
    /// Whether it is asked only after certain answers.
    pub conditional: bool,
    /// The check that it must be like, where there is one.
    pub like: Option<CheckId>,
    pub span: Range<usize>,
}

/// A check on its way into the route.
struct Item {
    id: String,
    station: usize,
    name: String,
    span: Range<usize>,
    label: String,
    state: State,
}

enum State {
    /// To be asked.
    Asked(Box<Pending>),
    /// Not of this build, with the reason.
    LeftOut(String),
}

/// A check whose references are not looked up yet.
struct Pending {
    also: Vec<String>,
    together: Option<Text>,
    ask: String,
    /// Where the question stands, or the name that it is made from.
    ask_span: Range<usize>,
    /// `None`: told already; the check is not asked, but others may refer to it.
    kind: Option<CheckKind>,
    table: Option<String>,
    deficiency: Option<Text>,
    when: Vec<FilledWhen>,
    touches: Vec<Text>,
    compare: Option<FilledCompare>,
}

#[derive(Clone)]
struct FilledWhen {
    check: Text,
    is: Vec<Text>,
    is_not: Vec<Text>,
    at_least: Option<(f64, Range<usize>)>,
    at_most: Option<(f64, Range<usize>)>,
}

struct FilledCompare {
    with: Text,
    mirrored: bool,
    pairs: Vec<[Text; 2]>,
    span: Range<usize>,
}

/// Conditions of station and blocks round a check.
#[derive(Clone, Default)]
struct Outer {
    left_out: Option<String>,
    when: Vec<FilledWhen>,
}

/// Small letters, digits and hyphens for a name.
pub(in crate::plan) fn slug(name: &str) -> String {
    let words: Vec<String> = name
        .to_lowercase()
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(str::to_string)
        .collect();
    words.join("-")
}

/// The route of a plan. What does not hold together is told; the route is of use only where nothing
/// is.
pub(in crate::plan) fn expand(r: &mut Findings, sources: &Sources<'_>) -> Expanded {
    let mut walker = Walker::new(sources);
    for (index, station) in sources.stations.iter().enumerate() {
        let frame = Frame {
            station: station.key.value.clone(),
            blocks: Vec::new(),
            arguments: Vec::new(),
        };
        let outer = Outer {
            left_out: walker.unmet(r, &station.needs, &frame),
            when: Vec::new(),
        };
        walker.steps_of(r, &station.steps, index, &frame, &outer);
    }
    arrival::check_said_before(r, &walker);
    references::resolve(r, walker)
}
