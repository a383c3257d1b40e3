//! What one record tells a fleet.

use crate::plan::LoadKind;
use crate::record::{
    Envelope, KnownPlans, PLAN_FILE, RecordError, State, Status, View, glance, sha256_hex,
};
use crate::walk::{Entry, Hearing, Stage};
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::Path;

/// Lower ends of the bands of signal to noise, dB; the first holds all below too.
pub(super) const BANDS_DB: [i64; 6] = [0, 5, 10, 15, 20, 30];

/// What the index keeps of a record.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Facts {
    pub load: String,
    /// `rigid`, `bundle`, `net`; empty where the plan cannot be read.
    pub kind: String,
    /// Name of the sling set; empty where the plan cannot be read.
    pub slings: String,
    pub inspector: String,
    pub rigger: String,
    pub started: String,
    /// The same instant, milliseconds since 1970 UTC; 0 where it does not read as a time.
    pub started_ms: i64,
    pub day: String,
    pub week: String,
    pub walked_ms: u64,
    pub state: &'static str,
    pub deficient: u32,
    pub found: u32,
    pub open: u32,
    pub put_right: u32,
    pub reinspected: u32,
    pub asked: u32,
    pub asked_again: u32,
    pub refused: u32,
    pub doubted: u32,
    pub corrected: u32,
    pub held: u32,
    pub amendments: u32,
    pub sealed: bool,
    /// Sounds that the entries name.
    pub clips: u32,
    /// Of these, removed on purpose.
    pub sound_removed: u32,
    /// Names the checks and their order.
    pub route_sha256: String,
    /// Names the first entry, so that a walk is known again in a copy of its record; empty where there is none.
    pub beginning: String,
    pub entries: u64,
    pub checks: Vec<CheckFacts>,
    /// Utterances and those not taken at once, by lower end of the band.
    pub noise: BTreeMap<i64, (u32, u32)>,
}

/// What happened at one check.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct CheckFacts {
    pub check: String,
    pub station: String,
    pub name: String,
    pub status: Status,
    pub deficient: bool,
    pub deficiency: Option<String>,
    pub asked: u32,
    pub asked_again: u32,
    pub refused: u32,
    pub doubted: u32,
    pub corrected: u32,
    pub reinspected: u32,
}

impl CheckFacts {
    /// Whether there was but one question and one conforming answer.
    pub fn is_plain(&self) -> bool {
        let more = self.asked_again + self.refused + self.doubted + self.corrected;
        self.status == Status::Conforming
            && !self.deficient
            && self.asked == 1
            && more + self.reinspected == 0
    }
}

/// Reads a record. A journal that does not hold together tells nothing: half a walk would count as
/// a short one.
pub(super) fn facts(folder: &Path, plans: &mut Plans) -> Result<Facts, RecordError> {
    let view = glance(folder, &mut plans.known)?;
    if let Some(problem) = view.integrity.first_problem {
        return Err(RecordError::Broken {
            path: folder.to_owned(),
            problem,
        });
    }
    // An intact record's plan has that hash, so that equal plans are read once.
    let known = plans.kinds.entry(view.plan_sha256.clone());
    let (kind, slings) = known.or_insert_with(|| of_plan(folder)).clone();
    let checks: Vec<CheckFacts> = check_facts(&view, &view.entries);
    let sum = |of: fn(&CheckFacts) -> u32| checks.iter().map(of).sum();
    let clips: BTreeSet<&str> = (view.timeline.iter())
        .flat_map(|m| m.clips.iter().map(String::as_str))
        .collect();
    let (day, week) = day_and_week(&view.started);
    let held_ms: u64 = view.holds.iter().map(|h| h.recorded_ms).sum();
    let count = |status| view.checks.iter().filter(|c| c.status == status).count() as u32;
    Ok(Facts {
        kind,
        slings,
        started: view.started,
        started_ms: (view.entries.first())
            .and_then(Envelope::instant)
            .map_or(0, |at| at.as_millisecond()),
        day,
        week,
        walked_ms: view.recorded_ms.saturating_sub(held_ms),
        state: match view.state {
            _ if view.practice.is_some() => "practice",
            State::Held => "held",
            State::NotReady => "not-ready",
            State::Open => "open",
            State::Ready => "ready",
        },
        deficient: count(Status::Deficient),
        found: sum(|c| u32::from(c.deficient)),
        open: count(Status::Open) + count(Status::NotSeen),
        put_right: view.counts.put_right,
        reinspected: sum(|c| c.reinspected),
        asked: view.counts.asked + view.counts.doubted,
        asked_again: sum(|c| c.asked_again),
        refused: view.counts.refused,
        doubted: view.counts.doubted,
        corrected: view.counts.corrected,
        held: view.counts.held,
        amendments: view.amendments.len() as u32,
        sealed: view.integrity.seals.iter().any(|s| s.problem.is_none()),
        clips: clips.len() as u32,
        sound_removed: (view.sound_removed.iter())
            .filter(|file| clips.contains(file.as_str()))
            .count() as u32,
        route_sha256: route_sha256(&checks),
        beginning: beginning(&view.entries),
        entries: view.entries.len() as u64,
        noise: noise(&view.entries),
        load: view.load,
        inspector: view.inspector,
        rigger: view.rigger,
        checks,
    })
}

/// What is known of plans.
#[derive(Default)]
pub(super) struct Plans {
    /// Kind and sling set by the plan's hash.
    kinds: HashMap<String, (String, String)>,
    known: KnownPlans,
}

/// Kind and sling set of a record's plan; empty where it cannot be read.
fn of_plan(folder: &Path) -> (String, String) {
    let path = folder.join(PLAN_FILE);
    let text = std::fs::read_to_string(&path).ok();
    match text.and_then(|text| crate::plan::read(&path, &text).ok()) {
        Some(plan) => (kind(plan.load.kind).to_owned(), plan.sling_set.name),
        None => (String::new(), String::new()),
    }
}

fn kind(kind: LoadKind) -> &'static str {
    match kind {
        LoadKind::Rigid => "rigid",
        LoadKind::Bundle => "bundle",
        LoadKind::Net => "net",
    }
}

/// The local date and the ISO 8601 week (`2031-W23`) of a time as written: its own zone counts, not
/// that of the reader.
fn day_and_week(wall: &str) -> (String, String) {
    let Some(date) = wall
        .get(..10)
        .and_then(|d| d.parse::<jiff::civil::Date>().ok())
    else {
        return (String::new(), String::new());
    };
    let week = date.iso_week_date();
    let week = format!("{:04}-W{:02}", week.year(), week.week());
    (date.to_string(), week)
}

fn check_facts(view: &View, entries: &[Envelope]) -> Vec<CheckFacts> {
    let mut again: BTreeMap<&str, u32> = BTreeMap::new();
    for envelope in entries {
        match &envelope.entry {
            Entry::Asked { check, attempt } if *attempt > 1 => {
                *again.entry(&check.0).or_default() += 1
            }
            Entry::Doubted { check, .. } => *again.entry(&check.0).or_default() += 1,
            _ => {}
        }
    }
    let of = |map: &BTreeMap<&str, u32>, check: &str| map.get(check).copied().unwrap_or(0);
    let facts = |c: &crate::record::CheckView| CheckFacts {
        check: c.check.0.clone(),
        station: c.station.clone(),
        name: c.name.clone(),
        status: c.status,
        deficient: c.status == Status::Deficient
            || view.deficiencies.iter().any(|d| d.check == c.check),
        deficiency: view
            .deficiencies
            .iter()
            .find(|d| d.check == c.check)
            .map(|d| d.name.clone()),
        // A doubt asks whether it was heard rightly: a question too.
        // What was called off was put all the same.
        asked: (c.asked + c.doubted).max(u32::from(!c.answers.is_empty())),
        asked_again: of(&again, &c.check.0),
        refused: c.refused,
        doubted: c.doubted,
        corrected: c.answers.iter().filter(|a| a.corrects).count() as u32,
        reinspected: c
            .answers
            .iter()
            .filter(|a| a.stage == Stage::Reinspection)
            .count() as u32,
    };
    view.checks.iter().map(facts).collect()
}

fn route_sha256(checks: &[CheckFacts]) -> String {
    let lines = checks
        .iter()
        .map(|c| format!("{}\t{}\t{}\n", c.check, c.station, c.name));
    sha256_hex(lines.collect::<String>().as_bytes())
}

/// Names the first entry by its content: with its times to the millisecond, the names and the route no two walks have the same.
fn beginning(entries: &[Envelope]) -> String {
    let first = entries.first();
    let line = first.and_then(|first| serde_json::to_vec(first).ok());
    line.map_or_else(String::new, |line| sha256_hex(&line))
}

/// What was spoken and measured. Typed words make no noise.
fn noise(entries: &[Envelope]) -> BTreeMap<i64, (u32, u32)> {
    let mut bands = BTreeMap::new();
    let mut put = |hearing: &Hearing, taken: bool| {
        let Some(db) = hearing.snr_db else { return };
        let band = BANDS_DB.into_iter().rev().find(|&from| db >= from as f64);
        let (heard, not_taken): &mut (u32, u32) =
            bands.entry(band.unwrap_or(BANDS_DB[0])).or_default();
        *heard += 1;
        *not_taken += u32::from(!taken);
    };
    for envelope in entries {
        match &envelope.entry {
            Entry::Answered { heard, .. } => match &heard.confirmed_by {
                // What was doubted first has an entry of its own.
                Some(second) => put(second, true),
                None => put(&heard.hearing, true),
            },
            Entry::Refused { hearing, .. } | Entry::Doubted { hearing, .. } => put(hearing, false),
            Entry::Control { hearing, .. } | Entry::PutRight { hearing, .. } => put(hearing, true),
            _ => {}
        }
    }
    bands
}
