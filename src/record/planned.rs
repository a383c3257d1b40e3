//! The plan that a record keeps, and what the record says beside it. The plan is hashed; the route and the capacity
//! verdicts are lines of the journal, which whoever writes it anew can change.

use super::capacity::capacity_lines;
use super::envelope::sha256_hex;
use super::folder::PLAN;
use super::parse::Parsed;
use super::problem::{Place, Problem, ProblemKind};
use crate::plan::{self, Check, CheckKind, LeftOut, NamedState, Plan, Route};
use crate::walk::{CapacityLine, Entry};
use std::collections::HashMap;
use std::path::Path;

/// The plan of the record in a folder; `None` where it cannot be read, or is not that of the walk by its SHA-256
/// (lower-case hex).
pub fn plan_of(folder: &Path, sha256: &str) -> Option<Plan> {
    let path = folder.join(PLAN);
    let text = std::fs::read_to_string(&path).ok()?;
    if sha256_hex(text.as_bytes()) != sha256 {
        return None;
    }
    plan::read(&path, &text).ok()
}

/// What a plan asks for and says of the lift, as a walk is opened with it.
#[derive(Debug)]
struct Due {
    route: Route,
    capacity: Vec<CapacityLine>,
}

impl Due {
    fn of(plan: &Plan) -> Option<Self> {
        // As it reads back from a journal: not every number comes out of JSON to its last bit.
        let json = serde_json::to_string(plan.route()).ok()?;
        Some(Self {
            route: serde_json::from_str(&json).ok()?,
            capacity: capacity_lines(plan),
        })
    }
}

/// What was worked out from plans so far, by their hash: many records have one plan.
#[derive(Debug, Default)]
pub struct KnownPlans(HashMap<String, Option<Due>>);

/// Plans kept at most; each takes some 100 kB.
const PLANS_MAX: usize = 64;

/// What the record says otherwise than its plan.
#[derive(Debug, Default)]
pub(super) struct Compared {
    /// What is asked, what conforms or what passes is another.
    pub problem: Option<Problem>,
    /// The first words of the route that are others.
    pub other_words: Option<String>,
    pub notes: Vec<String>,
}

/// Holds the first entry to the plan in the folder, whose hash it carries.
pub(super) fn compare(folder: &Path, parsed: &Parsed, known: &mut KnownPlans) -> Compared {
    let mut found = Compared::default();
    let Some(Entry::Opened {
        plan_sha256,
        route,
        left_out,
        capacity,
        ..
    }) = parsed.entries.first().map(|e| &e.entry)
    else {
        return found;
    };
    if known.0.len() >= PLANS_MAX && !known.0.contains_key(plan_sha256) {
        known.0.clear();
    }
    let due = known.0.entry(plan_sha256.clone());
    let due = due.or_insert_with(|| Due::of(&plan_of(folder, plan_sha256)?));
    let Some(due) = due else {
        found.notes.push(
            "the plan in the record cannot be read by this version, so what was asked is not held to it"
                .to_owned(),
        );
        return found;
    };
    let differs = asked_otherwise(route, &due.route)
        .or_else(|| left_out_otherwise(&route.left_out, &due.route.left_out))
        .or_else(|| left_out_otherwise(left_out, &due.route.left_out))
        .or_else(|| passes_wrongly(capacity, &due.capacity));
    found.problem = differs.map(|detail| Problem {
        place: Place::Entry(0),
        kind: ProblemKind::OffPlan,
        detail,
    });
    if found.problem.is_some() {
        return found;
    }
    found.other_words = said_otherwise(route, &due.route);
    if let Some(words) = &found.other_words {
        found.notes.push(format!(
            "{words}: another version of the program may have worded it so, or somebody did"
        ));
    }
    found
        .notes
        .extend(judged_otherwise(capacity, &due.capacity));
    found
}

/// The first thing that is not asked as planned, or not judged by what the plan expects.
fn asked_otherwise(is: &Route, due: &Route) -> Option<String> {
    if is.load != due.load {
        return Some(format!(
            "its load is {}, that of the plan {}",
            is.load, due.load
        ));
    }
    let pairs = |route: &Route| -> Vec<(String, Check)> {
        let stations = route.stations.iter();
        let all = stations.flat_map(|s| s.checks.iter().map(|c| (s.key.clone(), c.clone())));
        all.collect()
    };
    let (is, due) = (pairs(is), pairs(due));
    for at in 0..is.len().max(due.len()) {
        let (station, check, planned) = match (is.get(at), due.get(at)) {
            (Some((station, check)), Some((at, planned))) if check.id == planned.id => {
                (station == at, check, planned)
            }
            (Some((_, check)), Some((_, planned))) => {
                return Some(match is.iter().any(|(_, c)| c.id == planned.id) {
                    true => format!("{} stands where the plan has {}", check.id, planned.id),
                    false => format!("{} is left out, which the plan asks", planned.id),
                });
            }
            (None, Some((_, planned))) => {
                return Some(format!("{} is left out, which the plan asks", planned.id));
            }
            (Some((_, check)), None) => {
                return Some(format!("it asks {}, which the plan does not", check.id));
            }
            (None, None) => break,
        };
        let id = &check.id;
        if judged_by(&check.kind) != judged_by(&planned.kind) {
            return Some(format!(
                "what conforms at {id} is {}, by the plan {}",
                conforms(&check.kind),
                conforms(&planned.kind)
            ));
        }
        let what = if !station {
            "is at another station than in the plan"
        } else if check.when != planned.when {
            "is asked on other conditions than in the plan"
        } else if check.compare != planned.compare {
            "has to agree otherwise than in the plan"
        } else if check.touches != planned.touches {
            "opens other checks where it is put right than in the plan"
        } else {
            continue;
        };
        return Some(format!("{id} {what}"));
    }
    None
}

/// A kind without its words: what an answer is judged by.
fn judged_by(kind: &CheckKind) -> CheckKind {
    match kind {
        CheckKind::Count { expected, .. } => CheckKind::Count {
            expected: *expected,
            noun: String::new(),
        },
        CheckKind::State { states } => CheckKind::State {
            states: states
                .iter()
                .map(|state| NamedState {
                    key: state.key.clone(),
                    spoken: Vec::new(),
                    deficiency: state.deficiency.as_ref().map(|_| String::new()),
                })
                .collect(),
        },
        kind => kind.clone(),
    }
}

/// That in words.
fn conforms(kind: &CheckKind) -> String {
    match kind {
        CheckKind::Presence { must_be: true } => "present".to_owned(),
        CheckKind::Presence { must_be: false } => "missing".to_owned(),
        CheckKind::Count { expected, .. } => match expected {
            Some(n) => n.to_string(),
            None => "any count".to_owned(),
        },
        CheckKind::State { states } => {
            let states = states.iter().map(|s| match &s.deficiency {
                None => s.key.clone(),
                Some(_) => format!("not {}", s.key),
            });
            states.collect::<Vec<_>>().join(", ")
        }
        CheckKind::Reading { unit, min, max } => {
            let bound =
                |word: &str, bound: Option<f64>| bound.map(|x| format!("{word} {x} {unit}"));
            let bounds = [bound("at least", *min), bound("at most", *max)];
            let told: Vec<String> = bounds.into_iter().flatten().collect();
            match &told[..] {
                [] => format!("any {unit}"),
                told => told.join(" and "),
            }
        }
        CheckKind::Tag { expected } => match expected {
            Some(tag) => format!("tag {tag}"),
            None => "any tag".to_owned(),
        },
        CheckKind::Condition => "good".to_owned(),
    }
}

fn left_out_otherwise(is: &[LeftOut], due: &[LeftOut]) -> Option<String> {
    let at = (0..is.len().max(due.len()))
        .find(|&at| is.get(at).map(|l| &l.check) != due.get(at).map(|l| &l.check))?;
    let told = |left: Option<&LeftOut>| left.map_or("none".to_owned(), |l| l.check.to_string());
    Some(format!(
        "what this build does not have is {}, by the plan {}",
        told(is.get(at)),
        told(due.get(at))
    ))
}

/// A question that fails by the plan and that the record has as passed, or not at all.
fn passes_wrongly(is: &[CapacityLine], due: &[CapacityLine]) -> Option<String> {
    let fails = |lines: &[CapacityLine], question: &str| {
        lines.iter().any(|l| l.question == question && !l.passes)
    };
    let line = due
        .iter()
        .find(|line| !line.passes && !fails(is, &line.question))?;
    Some(format!(
        "its capacity question `{}` does not fail, by the plan it does: {}",
        line.question, line.spoken
    ))
}

/// Verdicts that are others without being better: figures may have been worked out otherwise by another version.
fn judged_otherwise(is: &[CapacityLine], due: &[CapacityLine]) -> Option<String> {
    let differs = |line: &&CapacityLine| !due.contains(line);
    let line = is.iter().find(differs).or_else(|| {
        let missing = |line: &&CapacityLine| !is.iter().any(|l| l.question == line.question);
        due.iter().find(missing)
    })?;
    Some(format!(
        "the capacity question `{}` is not told as this version works it out from the plan: look with `loadwalk figures`",
        line.question
    ))
}

/// The first words that are others than those of the plan. What older records do not have yet is none.
fn said_otherwise(is: &Route, due: &Route) -> Option<String> {
    for (station, planned) in is.stations.iter().zip(&due.stations) {
        if (&station.name, &station.arrive) != (&planned.name, &planned.arrive) {
            return Some(format!(
                "station `{}` has other words than in the plan",
                station.key
            ));
        }
        if station.place_m.is_some() && station.place_m != planned.place_m {
            return Some(format!(
                "station `{}` is elsewhere than in the plan",
                station.key
            ));
        }
        for (check, planned) in station.checks.iter().zip(&planned.checks) {
            let mut planned = planned.clone();
            if check.together.is_none() {
                planned.together = None;
            }
            if check.deficiency.is_none() {
                planned.deficiency = None;
            }
            if *check != planned {
                return Some(format!("{} has other words than in the plan", check.id));
            }
        }
    }
    let outline = is.outline_m.is_some() && is.outline_m != due.outline_m;
    outline.then(|| "the load has another outline than in the plan".to_owned())
}

#[cfg(test)]
mod tests;
