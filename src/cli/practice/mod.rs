//! `loadwalk practice`: faults planted for a learner, and what was found of them.

mod draw;

use super::args::read_plan;
use super::exit::{Exit, Failure, Outcome};
use super::fleet::{Chosen, tell_copies, tell_unreadable};
use super::lift::PlannedRig;
use super::marks::{at_line, read_lines};
use super::walk::kept_plan;
use crate::cli::out::{output, outside_records, print, tell};
use crate::durable::write_new;
use crate::fleet::{PracticeRow, progress_text};
use crate::plan::{Check, CheckId, CheckKind, Route, Station, tag_signs};
use crate::record::{Debrief, View, clock_time, duration, typed_value, view};
use crate::walk::{Practice, Verdict, agrees_with, holds, planted_deficiency};
use clap::{Args, Subcommand};
use draw::{Drawn, draw};
use serde::Serialize;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Practice for inspectors: draws faults to plant on a load, tells what a learner found of them, and how that
/// changes. `loadwalk walk --planted FILE` is the walk itself.
#[derive(Debug, Args)]
pub struct PracticeCommand {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Draws faults for the instructor to plant on a rigged load, as a file for `walk --planted`
    Plant(PlantCommand),
    /// Tells what a complete practice walk found of what was planted
    Debrief(DebriefCommand),
    /// Tells what learners found over many practice walks, and what is missed most
    Progress(ProgressCommand),
}

#[derive(Debug, Args)]
struct PlantCommand {
    /// The plan of the load
    plan: PathBuf,
    /// How many faults
    #[arg(long, value_name = "N", default_value_t = 4)]
    number: usize,
    /// Draws the same again; without it, one of chance
    #[arg(long, value_name = "N")]
    seed: Option<u64>,
    /// A new file for them; without it they are printed
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

#[derive(Debug, Args)]
struct DebriefCommand {
    /// Folder of the record
    record: PathBuf,
    #[command(flatten)]
    asked: Asked,
    /// As JSON
    #[arg(long)]
    json: bool,
}

/// What a practice walk has to come to.
#[derive(Clone, Copy, Debug, Default, Args)]
struct Asked {
    /// Faults to be found; without it, all that were planted
    #[arg(long, value_name = "N")]
    needed: Option<usize>,
    /// Time for the walk, holds left out
    #[arg(long, value_name = "MINUTES", value_parser = minutes)]
    minutes: Option<f64>,
    /// Most checks that may be called deficient where nothing was planted; without it, any number
    #[arg(long, value_name = "N")]
    false_alarms: Option<usize>,
}

/// One thing that a practice walk has to come to.
#[derive(Debug, Serialize)]
struct Point {
    /// What is asked.
    asked: String,
    /// What the walk came to.
    came_to: String,
    met: bool,
}

impl Asked {
    /// What is asked, with what the walk came to; that faults are found always is.
    fn points(self, walk: &PracticeRow) -> Vec<Point> {
        let needed = self.needed.unwrap_or(walk.planted);
        let found = Point {
            asked: format!("{needed} found"),
            came_to: walk.found.to_string(),
            met: walk.found >= needed,
        };
        let minutes = self.minutes.map(|minutes| Point {
            asked: format!("in {minutes} min"),
            came_to: duration(walk.walked_ms),
            met: walk.walked_ms as f64 <= minutes * 60_000.0,
        });
        let false_alarms = self.false_alarms.map(|most| Point {
            asked: format!("at most {most} more called deficient"),
            came_to: walk.unplanted.to_string(),
            met: walk.unplanted <= most,
        });
        std::iter::once(found)
            .chain(minutes)
            .chain(false_alarms)
            .collect()
    }

    /// Whether the walk comes to what is asked.
    fn is_met(self, walk: &PracticeRow) -> bool {
        self.points(walk).iter().all(|point| point.met)
    }

    /// In a line; `None` where nothing but what holds of every walk is asked.
    fn line(self, walk: &PracticeRow) -> Option<String> {
        let is_asked =
            self.needed.is_some() || self.minutes.is_some() || self.false_alarms.is_some();
        let points = self.points(walk);
        let told = points.iter().map(|point| {
            let not = if point.met { "" } else { "not " };
            format!("{} ({not}met: {})", point.asked, point.came_to)
        });
        let told: Vec<String> = told.collect();
        is_asked.then(|| format!("asked for: {}", told.join(", ")))
    }
}

#[derive(Debug, Args)]
struct ProgressCommand {
    #[command(flatten)]
    chosen: Chosen,
}

fn minutes(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(minutes) if minutes > 0.0 && minutes.is_finite() => Ok(minutes),
        _ => Err("give minutes as a number above 0, as 2 or 2.5".to_owned()),
    }
}

/// Runs `practice`.
pub fn run(command: &PracticeCommand) -> Outcome {
    match &command.command {
        Command::Plant(command) => plant(command),
        Command::Debrief(command) => debrief(command),
        Command::Progress(command) => progress(command),
    }
}

/// Reads what was planted: TOML, `"station/check" = "value"`.
///
/// # Errors
/// Where the file cannot be read, names a check that the route does not have, or a value that is no fault of it, and where
/// what is planted elsewhere leaves a check out.
pub(super) fn read_planted(path: &Path, route: &Route) -> Result<Practice, Failure> {
    let mut practice = Practice::default();
    let mut lines = Vec::new();
    for (id, (line, written)) in read_lines(path, route)? {
        let stations = route.stations.iter();
        let mut all = stations.flat_map(|s| s.checks.iter().map(move |c| (s, c)));
        let value = all
            .find(|(_, check)| check.id == id)
            .and_then(|(station, check)| fault(station, check, &written));
        let Some(value) = value else {
            let what = format!(
                "`{written}` is no fault of `{id}`; write the value that is found there and must not be, as \
                 `missing`, `deficient`, a state, a count, a reading or a tag (`loadwalk practice plant` draws some)"
            );
            return Err(at_line(path, line, &what));
        };
        lines.push((id.clone(), line));
        practice.planted.insert(id, value);
    }
    for (id, line) in lines {
        if let Some((with, found)) = agrees_with(route, &practice, &id) {
            let value = &practice.planted[&id];
            let why = match practice.planted.contains_key(&with) {
                true => "is planted",
                false => "the plan has it",
            };
            let what = format!(
                "`{value}` is no fault of `{id}`, which only has to agree with `{with}`, where `{found}` is found, as \
                 {why}; write a value that does not agree with it"
            );
            return Err(at_line(path, line, &what));
        }
        if let Some(by) = left_out_by(route, &practice, &id) {
            let found = &practice.planted[by];
            let what = format!(
                "`{id}` is not asked where `{by}` is found `{found}`, as is planted, so nobody can find its fault; \
                 strike out one of the two"
            );
            return Err(at_line(path, line, &what));
        }
    }
    Ok(practice)
}

/// The value of a fault that is written for a check, as the walk writes it down; it may be written as one says it. `None` where it
/// is none.
fn fault(station: &Station, check: &Check, written: &str) -> Option<String> {
    let is_fault = |value: &String| planted_deficiency(station, check, value).is_some();
    if is_fault(&written.to_owned()) {
        return Some(written.to_owned());
    }
    // A tag in small letters may be words where it is typed in a walk; with a figure in it and no blank it is a tag here.
    let is_tag = matches!(check.kind, CheckKind::Tag { .. })
        && written.contains(|c: char| c.is_ascii_digit())
        && !written.contains(char::is_whitespace);
    let read = typed_value(check, written);
    read.or_else(|| tag_signs(written).filter(|_| is_tag))
        .filter(is_fault)
}

/// The check by whose planted value this one is not asked of whoever answers rightly.
fn left_out_by<'a>(route: &'a Route, practice: &Practice, id: &CheckId) -> Option<&'a CheckId> {
    let check = route.checks().find(|c| c.id == *id)?;
    check.when.iter().find_map(|condition| {
        // What is left out itself has no value.
        let further = left_out_by(route, practice, &condition.check);
        let planted = practice.planted.get(&condition.check);
        let value = planted.filter(|_| further.is_none()).map(String::as_str);
        let known = further.is_some() || planted.is_some();
        (known && !holds(&condition.test, value)).then_some(further.unwrap_or(&condition.check))
    })
}

fn plant(command: &PlantCommand) -> Outcome {
    let file = read_plan(&command.plan)?;
    let route = file.plan.route();
    let seed = match command.seed {
        Some(seed) => seed,
        // Short enough to be told on.
        None => u64::from(getrandom::u32().map_err(Failure::wrong)?),
    };
    let drawn = draw(route, command.number, seed).map_err(|most| {
        Failure::wrong(anyhow::anyhow!(
            "{most} faults can be drawn for this load, not {}; give --number {most} or less",
            command.number
        ))
    })?;
    let text = slip(route, seed, &drawn);
    match &command.out {
        None => print(format_args!("{text}"))?,
        Some(path) => {
            outside_records(path)?;
            write_new(path, text.as_bytes()).map_err(|error| {
                Failure::wrong(anyhow::anyhow!(
                    "cannot write {}: {error}; name a new file in a folder that can be written",
                    path.display()
                ))
            })?;
            tell!(
                "{} faults in {} (seed {seed}); for the instructor alone",
                drawn.len(),
                path.display()
            );
        }
    }
    Ok(Exit::Done)
}

/// The file of drawn faults, which says what to do.
fn slip(route: &Route, seed: u64, drawn: &[Drawn]) -> String {
    let mut text = format!(
        "# Practice: {} faults drawn for {} (seed {seed}). For the instructor alone.\n\
         # Plant them, with the load on the ground and no aircraft near; strike out or change what cannot be planted\n\
         # safely. Put all of them right afterwards: the load flies only after a full inspection.\n",
        drawn.len(),
        route.load
    );
    for (n, fault) in drawn.iter().enumerate() {
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        // Writing to a string cannot fail.
        let planned = match fault.planned {
            Some(planned) => format!("; the plan has {planned}"),
            None => String::new(),
        };
        let _ = write!(
            text,
            "\n# {}. {}{planned}\n{} = {}\n",
            n + 1,
            fault.deficiency,
            quoted(&fault.check.0),
            quoted(&fault.value)
        );
    }
    text
}

fn debrief(command: &DebriefCommand) -> Outcome {
    let (view, walk) = complete(&command.record)?;
    if let Some(needed) = command.asked.needed.filter(|&n| n > walk.planted) {
        return Err(Failure::wrong(anyhow::anyhow!(
            "--needed {needed} is more than were planted ({}); give at most that",
            walk.planted
        )));
    }
    if command.json {
        let json = serde_json::json!({
            "load": view.load,
            "learner": view.inspector,
            "rigger": view.rigger,
            "walk": walk,
            "debrief": view.practice,
            "asked_for": command.asked.points(&walk),
            "met": command.asked.is_met(&walk),
        });
        output!(
            "{}",
            serde_json::to_string_pretty(&json).map_err(Failure::wrong)?
        );
    } else {
        print(format_args!("{}", told(&command.record, &view, &walk)))?;
        if let Some(line) = command.asked.line(&walk) {
            output!("  {line}");
        }
    }
    Ok(exit(command.asked, &walk))
}

fn exit(asked: Asked, walk: &PracticeRow) -> Exit {
    if asked.is_met(walk) {
        Exit::Done
    } else {
        Exit::No
    }
}

/// A complete practice walk whose record is intact.
fn complete(record: &Path) -> Result<(View, PracticeRow), Failure> {
    let view = view(record).map_err(Failure::wrong)?;
    if let Some(problem) = &view.integrity.first_problem {
        return Err(Failure::wrong(anyhow::anyhow!(
            "{problem}; a record that is not intact is no ground for a debrief"
        )));
    }
    if view.practice.is_none() {
        return Err(Failure::wrong(anyhow::anyhow!(
            "this was an inspection, with nothing planted; `loadwalk show {}` prints it",
            record.display()
        )));
    }
    match PracticeRow::of(&record.display().to_string(), &view) {
        Some(walk) => Ok((view, walk)),
        None => Err(Failure::wrong(anyhow::anyhow!(
            "the practice walk is not complete; go on with `loadwalk resume {}`",
            record.display()
        ))),
    }
}

/// Tells what was found, once the walk is over.
///
/// # Errors
/// Where the record cannot be read.
pub(super) fn at_the_end(record: &Path, json: bool) -> Outcome {
    let (view, walk) = complete(record)?;
    // The walk's lines of JSON tell all of it.
    if !json {
        print(format_args!("\n{}", told(record, &view, &walk)))?;
    }
    Ok(exit(Asked::default(), &walk))
}

fn told(record: &Path, view: &View, walk: &PracticeRow) -> String {
    let mut out = String::new();
    let _ = write_told(&mut out, record, view, walk);
    out
}

fn write_told(
    out: &mut String,
    record: &Path,
    view: &View,
    walk: &PracticeRow,
) -> std::fmt::Result {
    writeln!(out, "Practice walk round {}", view.load)?;
    writeln!(
        out,
        "  {} (rigged by {}), {}",
        view.inspector,
        view.rigger,
        clock_time(&view.started)
    )?;
    writeln!(
        out,
        "  {} checks in {}, asked back {} times",
        walk.checks,
        duration(walk.walked_ms),
        view.counts.refused + view.counts.doubted
    )?;
    let Some(debrief) = &view.practice else {
        return Ok(());
    };
    let more = match walk.unplanted {
        0 => String::new(),
        n => format!(", {n} more called deficient"),
    };
    writeln!(
        out,
        "  found {} of {} planted{more}",
        walk.found, walk.planted
    )?;
    for fault in &debrief.faults {
        let took = fault
            .took_ms
            .map_or_else(String::new, |ms| format!(" ({})", duration(ms)));
        writeln!(out, "    {}{took}", fault.line())?;
        if fault.verdict != Verdict::Found
            && let Some(effect) = effect(record, debrief, &fault.check)
        {
            writeln!(out, "      as planted, {effect}")?;
        }
    }
    if !debrief.unplanted.is_empty() {
        writeln!(
            out,
            "  called deficient, not planted: look whether it is real"
        )?;
        for other in &debrief.unplanted {
            writeln!(out, "    {}", other.deficiency)?;
        }
    }
    for rhythm in &view.rhythms {
        writeln!(out, "  rhythm: {}", rhythm.line())?;
    }
    writeln!(
        out,
        "  Put right what was planted. The load flies only after a full inspection."
    )
}

/// What the planted counts together do to the lift, where this is one of them.
fn effect(record: &Path, debrief: &Debrief, check: &CheckId) -> Option<String> {
    let rig = PlannedRig::of(&kept_plan(record)?)?;
    let counts: Vec<(CheckId, u32)> = debrief
        .faults
        .iter()
        .filter_map(|f| Some((f.check.clone(), f.value.parse().ok()?)))
        .collect();
    rig.effect_planted(&counts, check)
}

fn progress(command: &ProgressCommand) -> Outcome {
    let index = command.chosen.index()?;
    let progress = index
        .progress(&command.chosen.filter(None))
        .map_err(Failure::wrong)?;
    if command.chosen.json {
        let json = serde_json::to_string_pretty(&progress).map_err(Failure::wrong)?;
        output!("{json}");
    } else {
        print(format_args!("{}", progress_text(&progress)))?;
    }
    tell_unreadable(&index, &[])?;
    tell_copies(&index)?;
    Ok(Exit::Done)
}
