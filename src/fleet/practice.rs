//! Practice walks together: what each learner found of what was planted, and what is missed most.

use super::error::FleetError;
use super::index::Index;
use super::query::Filter;
use super::text::table;
use crate::record::{Debrief, FaultView, KnownPlans, View, glance, plain};
use serde::Serialize;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// One complete practice walk.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PracticeRow {
    /// Its folder, below the folder of records.
    pub folder: String,
    /// Local day of its first entry.
    pub day: String,
    /// The load's name.
    pub load: String,
    /// Faults planted.
    pub planted: usize,
    /// Of these, called deficient.
    pub found: usize,
    /// Of these, called conforming or not applicable, or left out, by what the learner said unasked.
    pub missed: usize,
    /// Of those not found, faults where a review says that an answer was heard wrong.
    pub reviewed: usize,
    /// Checks called deficient where nothing was planted.
    pub unplanted: usize,
    /// Checks of the route.
    pub checks: usize,
    /// Recorded time less the time held, in milliseconds.
    pub walked_ms: u64,
    /// Times at which answers came in a rhythm in which nobody looks.
    pub rhythms: usize,
}

impl PracticeRow {
    /// Of a practice walk; `None` of an inspection, and while it is not complete.
    pub fn of(folder: &str, view: &View) -> Option<Self> {
        let debrief = view.practice.as_ref().filter(|d| d.complete)?;
        let missed = debrief.faults.iter().filter(|f| f.verdict.is_missed());
        Some(Self {
            folder: folder.to_owned(),
            day: view.started.get(..10).unwrap_or_default().to_owned(),
            load: view.load.clone(),
            planted: debrief.faults.len(),
            found: debrief.found(),
            missed: missed.count(),
            reviewed: debrief.faults.iter().filter(|f| is_doubtful(f)).count(),
            unplanted: debrief.unplanted.len(),
            checks: view.checks.len(),
            walked_ms: walked_ms(view),
            rhythms: view.rhythms.len(),
        })
    }
}

/// Whether a fault was not found, and a review says that an answer there was heard wrong.
fn is_doubtful(fault: &FaultView) -> bool {
    fault.reviewed && !fault.verdict.is_found()
}

/// Recorded time less the time held, in milliseconds.
fn walked_ms(view: &View) -> u64 {
    let held: u64 = view.holds.iter().map(|h| h.recorded_ms).sum();
    view.recorded_ms.saturating_sub(held)
}

/// A learner's practice.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LearnerRow {
    /// The name as spelled in the earliest walk, as in a list.
    pub learner: String,
    /// The walks, oldest first.
    pub walks: Vec<PracticeRow>,
    /// By the rule that answers the check: planted and found.
    pub by_kind: BTreeMap<&'static str, (usize, usize)>,
}

impl LearnerRow {
    fn sum(&self, of: impl Fn(&PracticeRow) -> usize) -> usize {
        self.walks.iter().map(of).sum()
    }
}

/// A check at which planted faults were not found.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TimesMissed {
    /// The load.
    pub load: String,
    /// Station and check, as spoken.
    pub place: String,
    /// How often a fault was planted there.
    pub planted: usize,
    /// How often it was found.
    pub found: usize,
    /// How often of the rest a review says that an answer was heard wrong.
    pub reviewed: usize,
}

/// Practice walks together.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Progress {
    /// By name.
    pub learners: Vec<LearnerRow>,
    /// Most often not found first; only checks that were not always found.
    pub missed: Vec<TimesMissed>,
    /// Practice walks that are not complete.
    pub open: usize,
}

impl Progress {
    /// Adds a walk of a learner, by the name under which the index has the person.
    fn add(&mut self, folder: &str, learner: &str, view: &View, debrief: &Debrief) {
        let Some(row) = PracticeRow::of(folder, view) else {
            self.open += 1;
            return;
        };
        let known = self.learners.iter().position(|l| l.learner == learner);
        let at = known.unwrap_or_else(|| {
            self.learners.push(LearnerRow {
                learner: learner.to_owned(),
                walks: Vec::new(),
                by_kind: BTreeMap::new(),
            });
            self.learners.len() - 1
        });
        let learner = &mut self.learners[at];
        learner.walks.push(row);
        for fault in &debrief.faults {
            let found = usize::from(fault.verdict.is_found());
            let reviewed = usize::from(is_doubtful(fault));
            let (planted, of) = learner.by_kind.entry(fault.kind).or_default();
            *planted += 1;
            *of += found;
            let place = |m: &&mut TimesMissed| m.load == view.load && m.place == fault.place;
            match self.missed.iter_mut().find(place) {
                Some(row) => {
                    row.planted += 1;
                    row.found += found;
                    row.reviewed += reviewed;
                }
                None => self.missed.push(TimesMissed {
                    load: view.load.clone(),
                    place: fault.place.clone(),
                    planted: 1,
                    found,
                    reviewed,
                }),
            }
        }
    }
}

impl Index {
    /// The practice walks that a filter lets through, whatever its state.
    ///
    /// # Errors
    /// Where the index cannot be read. A record that went or broke since it was indexed is left out.
    pub fn progress(&self, filter: &Filter) -> Result<Progress, FleetError> {
        let filter = Filter {
            state: Some("practice".to_owned()),
            ..filter.clone()
        };
        let mut rows = self.list(&filter, usize::MAX)?;
        rows.reverse();
        let mut progress = Progress::default();
        let mut known = KnownPlans::default();
        for row in rows {
            let Ok(view) = glance(&self.root.join(&row.folder), &mut known) else {
                continue;
            };
            if let (Some(debrief), true) = (&view.practice, view.integrity.first_problem.is_none())
            {
                progress.add(&row.folder, &row.inspector, &view, debrief);
            }
        }
        progress.learners.sort_by(|a, b| a.learner.cmp(&b.learner));
        progress.missed.retain(|m| m.found < m.planted);
        let lost = |m: &TimesMissed| m.planted - m.found;
        progress
            .missed
            .sort_by(|a, b| lost(b).cmp(&lost(a)).then_with(|| a.place.cmp(&b.place)));
        Ok(progress)
    }
}

/// Practice walks together, in tables.
pub fn progress_text(progress: &Progress) -> String {
    let mut out = String::new();
    for learner in &progress.learners {
        let (planted, found) = (learner.sum(|w| w.planted), learner.sum(|w| w.found));
        // Writing to a string cannot fail.
        let _ = writeln!(
            out,
            "{}: found {found} of {planted} planted in {} walks, {} more called deficient",
            plain(&learner.learner),
            learner.walks.len(),
            learner.sum(|w| w.unplanted)
        );
        let kinds: Vec<String> = learner
            .by_kind
            .iter()
            .map(|(kind, (planted, found))| format!("{kind} {found} of {planted}"))
            .collect();
        if !kinds.is_empty() {
            let _ = writeln!(out, "  {}", kinds.join(", "));
        }
        let rows: Vec<Vec<String>> = learner.walks.iter().map(cells).collect();
        out.push_str(&table(&HEAD, &rows));
        out.push('\n');
    }
    if !progress.missed.is_empty() {
        out.push_str("not found, all learners\n");
        let rows: Vec<Vec<String>> = progress
            .missed
            .iter()
            .map(|m| {
                vec![
                    plain(&m.load),
                    plain(&m.place),
                    m.planted.to_string(),
                    m.found.to_string(),
                    m.reviewed.to_string(),
                ]
            })
            .collect();
        out.push_str(&table(
            &["load", "check", "planted", "found", "heard wrong"],
            &rows,
        ));
    }
    if progress.open > 0 {
        let _ = writeln!(out, "{} not complete, not counted", progress.open);
    }
    if out.is_empty() {
        out.push_str("no practice walks here\n");
    }
    out
}

const HEAD: [&str; 10] = [
    "day",
    "load",
    "planted",
    "found",
    "missed",
    "heard wrong",
    "other",
    "checks",
    "minutes",
    "rhythm",
];

fn cells(walk: &PracticeRow) -> Vec<String> {
    vec![
        walk.day.clone(),
        plain(&walk.load),
        walk.planted.to_string(),
        walk.found.to_string(),
        walk.missed.to_string(),
        walk.reviewed.to_string(),
        walk.unplanted.to_string(),
        walk.checks.to_string(),
        format!("{:.1}", walk.walked_ms as f64 / 60_000.0),
        walk.rhythms.to_string(),
    ]
}
