//! `loadwalk walk` and `loadwalk resume`.

use super::args::read_plan;
use super::drive::{Driver, Observer, WalkClock};
use super::exit::{Exit, Failure, Outcome, told};
use super::forget::at_the_end;
use super::inspector::{Pace, opened_at};
use super::lift::PlannedRig;
use super::marks;
use super::practice;
use super::taken_up::{is_known, noted, sent_back};
use super::tryout::kept::{Last, last};
use super::watch::Watch;
use super::world::{Means, TalkOver, World};
use crate::cli::out::tell;
use crate::plan::Plan;
use crate::record::{
    PLAN_FILE, Record, RecordError, State as RecordState, capacity_lines, folder_name, sha256_hex,
    state_words, view,
};
use crate::walk::{CalledAt, Ending, Entry, Ledger, Opening, Settings, Tryout, Walk};
use clap::Args;
use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};
use std::rc::Rc;

/// Walks round a load: asks every check aloud and takes spoken answers.
#[derive(Debug, Args)]
pub struct WalkCommand {
    /// The plan of the load
    plan: PathBuf,
    /// Who inspects
    #[arg(long, value_name = "NAME")]
    inspector: String,
    /// Who rigged the load; never the inspector
    #[arg(long, value_name = "NAME")]
    rigger: String,
    /// What the rigger says of the checks, to stand beside the answers in the record: TOML, a line a
    /// check, as "front-left/shackle-pin" = "pinned". Never spoken, and no answer
    #[arg(long, value_name = "FILE")]
    rigger_marks: Option<PathBuf>,
    /// Practice: what an instructor planted on the load, TOML, a line a check, as "rear/door" = "open";
    /// `loadwalk practice plant` draws some. Such a walk vouches for nothing
    #[arg(long, value_name = "FILE")]
    planted: Option<PathBuf>,
    /// Folder of the new record; by default one named for load and time under `records/`
    #[arg(long, value_name = "DIR")]
    record: Option<PathBuf>,
    #[command(flatten)]
    how: How,
}

/// Goes on with an open record, at the check that was broken off.
#[derive(Debug, Args)]
pub struct ResumeCommand {
    /// Folder of the record
    record: PathBuf,
    #[command(flatten)]
    how: How,
}

/// How a walk speaks and listens.
#[derive(Debug, Args)]
pub struct How {
    #[command(flatten)]
    pub means: Means,
    /// With a headset: whether answers count while it speaks
    #[arg(long, value_name = "WHEN", value_enum, default_value_t)]
    pub talk_over: TalkOver,
    /// Answers typed on the keyboard, a line each; all that would be spoken is written in lines
    #[arg(long, conflicts_with_all = ["answers", "mic", "speaker", "talk_over", "prompts"])]
    pub keys: bool,
    /// Writes every prompt as a sound file into this folder
    #[arg(long, value_name = "DIR")]
    pub prompts: Option<PathBuf>,
    /// Rotors turn near the load: before the first check it says that the headset must not hide alarms,
    /// and leaves this many seconds to listen round
    #[arg(long, value_name = "SECONDS", num_args = 0..=1, require_equals = true,
          default_missing_value = "10", value_parser = clap::value_parser!(u64).range(1..=300))]
    rotors: Option<u64>,
    /// Plays no tones; `tones = false` in the inspector's settings does the same
    #[arg(long)]
    no_tones: bool,
    /// Logs a deficiency and leaves it open: asks neither for a note nor for a repair
    #[arg(long)]
    brief: bool,
    #[command(flatten)]
    pace: Pace,
    /// One JSON object a line on stdout
    #[arg(long)]
    pub json: bool,
    /// Lines instead of the full-screen view that a terminal gets
    #[arg(long)]
    pub plain: bool,
    /// With `--keys`: the full-screen view, which shows the latest of what would be spoken
    #[arg(long, requires = "keys", conflicts_with = "plain")]
    pub view: bool,
}

/// Runs `walk`.
pub fn walk(command: &WalkCommand) -> Outcome {
    let file = read_plan(&command.plan)?;
    let mut opening = Opening {
        inspector: command.inspector.trim().to_owned(),
        rigger: command.rigger.trim().to_owned(),
        plan_sha256: sha256_hex(&file.bytes),
        route: file.plan.route().clone(),
        capacity: capacity_lines(&file.plan),
        tryout: None,
        rigger_marks: match &command.rigger_marks {
            Some(path) => marks::read(path, file.plan.route())?,
            None => BTreeMap::new(),
        },
        practice: match &command.planted {
            Some(path) => Some(practice::read_planted(path, file.plan.route())?),
            None => None,
        },
    };
    command.how.pace.check(&opening.route)?;
    let load = opening.route.load.clone();
    let pace = command.how.pace.settled(&opening.inspector)?;
    let settings = settings(&command.how, &opening.inspector, pace)?;
    // What cannot be walked, or kept, is refused before any device is opened.
    Walk::new(opening.clone(), settings.clone()).map_err(Failure::wrong)?;
    let folder = new_record(command, &load)?;
    let watch = Watch::of(&command.how);
    let (mut world, watch) = watch.open_world(&command.how)?;
    opening.tryout = tried_out(&command.how, &opening.inspector, &world.microphone);
    let walk = Walk::new(opening, settings).map_err(Failure::wrong)?;
    let walk = with_lift(walk, Some(&file.plan));
    let clock = WalkClock::default();
    let record =
        Record::create(&folder, &file.bytes, Box::new(clock.clone())).map_err(Failure::wrong)?;
    let observer = watch.observer(&Ledger::default(), &world);
    drive(walk, record, clock, &mut world, observer, &command.how)
}

/// The folder of a new record: one that holds nothing, and in which nothing else will lie.
fn new_record(command: &WalkCommand, load: &str) -> Result<PathBuf, Failure> {
    let folder = command.record.clone().unwrap_or_else(|| {
        Path::new("records").join(folder_name(load, &jiff::ZonedDateTime::now()))
    });
    if std::fs::read_dir(&folder).is_ok_and(|mut files| files.next().is_some()) {
        return Err(Failure::wrong(RecordError::NotEmpty(folder)));
    }
    if let Some(prompts) = &command.how.prompts
        && lies_in(prompts, &folder)
    {
        return Err(Failure::wrong(anyhow::anyhow!(
            "the prompts would lie in the record `{}`, which keeps the walk alone; name another folder for them",
            folder.display()
        )));
    }
    Ok(folder)
}

/// Whether a path lies in a folder, or would once both are made.
fn lies_in(path: &Path, folder: &Path) -> bool {
    let plain = |path: &Path| {
        let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
        let mut plain = PathBuf::new();
        for part in absolute.components() {
            match part {
                Component::ParentDir => drop(plain.pop()),
                part => plain.push(part),
            }
        }
        plain
    };
    plain(path).starts_with(plain(folder))
}

/// Runs `resume`.
pub fn resume(command: &ResumeCommand) -> Outcome {
    let clock = WalkClock::default();
    let (record, opened) =
        Record::open(&command.record, Box::new(clock.clone())).map_err(Failure::wrong)?;
    if let Some(torn) = &opened.torn {
        tell!(
            "loadwalk: a line of {} bytes was broken off while it was written; it never counted and is kept in {}",
            torn.bytes,
            torn.file
        );
    }
    let mut record = record;
    let mut entries: Vec<_> = opened.entries.into_iter().map(|e| e.entry).collect();
    // With its sounds: a clip that was changed leaves the record no more intact than a changed line does.
    let seen = view(&command.record).map_err(Failure::wrong)?;
    if let Some(problem) = &seen.integrity.first_problem {
        return Err(Failure::wrong(anyhow::anyhow!(
            "{problem}; a record that is not intact is not gone on with: put back what was there, or start a new walk"
        )));
    }
    if let Some(words) = &seen.integrity.other_words {
        return Err(Failure::wrong(anyhow::anyhow!(
            "{words}; a walk is gone on with only in the words of its plan: go on with the version of loadwalk that began it, \
             or start a new walk"
        )));
    }
    if matches!(seen.state, RecordState::Ready | RecordState::NotReady) {
        tell!(
            "{}; a complete walk is not gone on with, inspect the load in a new one",
            state_words(&seen)
        );
        return Ok(match seen.state {
            RecordState::Ready => Exit::Done,
            _ => Exit::No,
        });
    }
    // Written once all is open: a resume that fails adds nothing.
    let mut to_write = sent_back(&seen, &entries);
    entries.extend(to_write.iter().cloned());
    let inspector = match entries.first() {
        Some(Entry::Opened { inspector, .. }) => inspector.as_str(),
        _ => "",
    };
    let inspector = inspector.to_owned();
    if let Some(Entry::Opened { route, .. }) = entries.first() {
        command.how.pace.check(route)?;
    }
    let pace = command.how.pace.resumed(&inspector, &entries)?;
    let mut settings = settings(&command.how, &inspector, pace)?;
    settings.brief |= opened_at(&entries).is_some_and(|pace| pace.brief);
    settings.pace_chosen = command.how.pace.is_chosen();
    // What cannot be gone on with is refused before any device is opened.
    Walk::restore(&entries, settings.clone()).map_err(Failure::wrong)?;
    let (mut world, watch) = Watch::of(&command.how).open_world(&command.how)?;
    if let Some(tryout) = tried_out(&command.how, &inspector, &world.microphone) {
        settings.advice = Some(tryout.advice);
        if !is_known(&tryout, &entries) {
            let entry = noted(&tryout);
            to_write.push(entry.clone());
            entries.push(entry);
        }
    }
    for entry in &to_write {
        record.append(entry).map_err(Failure::wrong)?;
    }
    let walk = Walk::restore(&entries, settings).map_err(Failure::wrong)?;
    let walk = with_lift(walk, kept_plan(&command.record).as_ref());
    let observer = watch.observer(walk.ledger(), &world);
    drive(walk, record, clock, &mut world, observer, &command.how)
}

/// The tryout that counts for this walk, and a word about one that is wanted.
fn tried_out(how: &How, inspector: &str, microphone: &str) -> Option<Tryout> {
    if how.keys {
        return None;
    }
    let why = match last(inspector, microphone) {
        Last::Counts(tryout) => {
            tell!("loadwalk: tried out before: {}", tryout.line());
            return Some(*tryout);
        }
        Last::Other(why) => why,
        Last::None => "there was no tryout in the last 12 hours".to_owned(),
    };
    if how.means.answers.is_none() {
        tell!("loadwalk: {why}; `loadwalk tryout` tells whether voice can be relied on");
    }
    None
}

fn with_lift(walk: Walk, plan: Option<&Plan>) -> Walk {
    match plan.and_then(PlannedRig::of) {
        Some(rig) => walk.over_lift(Rc::new(rig)),
        None => walk,
    }
}

/// The plan that the record keeps. Without it the walk goes on; only the effect of a wrong count is
/// not told.
pub(super) fn kept_plan(record: &Path) -> Option<Plan> {
    let path = record.join(PLAN_FILE);
    let text = std::fs::read_to_string(&path).ok()?;
    crate::plan::read(&path, &text).ok()
}

fn settings(
    how: &How,
    inspector: &str,
    (called, rhythm_asks): (CalledAt, bool),
) -> Result<Settings, Failure> {
    let tones = !how.no_tones && super::inspector::tones(inspector)?;
    Ok(Settings {
        brief: how.brief,
        called,
        rhythm_asks,
        typed: how.keys,
        tones,
        reminder_ms: how.rotors.map_or(0, |seconds| seconds * 1_000),
        manner: super::manner::kept(),
        ..Settings::default()
    })
}

fn drive(
    walk: Walk,
    record: Record,
    clock: WalkClock,
    world: &mut World,
    mut observer: Box<dyn Observer>,
    how: &How,
) -> Outcome {
    let folder = record.folder().to_owned();
    let opening = walk.ledger().opening();
    let inspector = opening.map_or_else(String::new, |o| o.inspector.clone());
    let is_practice = walk.ledger().practice().is_some();
    let walk = match world.talk_over {
        Some(talk_over) => walk.with_turns(talk_over),
        None => walk,
    };
    let ending = Driver::new(
        walk,
        Box::new(record),
        &mut *world.ears,
        &mut *world.port,
        &mut *observer,
        clock,
    )
    .run();
    // A view gives the terminal back before anything else is said.
    drop(observer);
    tell!("record: {}", folder.display());
    let ending = ending.map_err(|error| {
        tell!(
            "the walk is open; once that is put right, go on with `loadwalk resume {}`",
            folder.display()
        );
        failed(error)
    })?;
    if ending != Ending::Open {
        // The walk's own answer stands, whatever becomes of its sound.
        if let Err(failure) = at_the_end(&folder, &inspector) {
            tell!("loadwalk: the sound is kept: {}", told(&failure.error));
        }
        if is_practice {
            return practice::at_the_end(&folder, how.json);
        }
    }
    Ok(match ending {
        Ending::Ready => Exit::Done,
        Ending::NotReady => Exit::No,
        Ending::Open => {
            tell!(
                "the walk is open; go on with `loadwalk resume {}`",
                folder.display()
            );
            Exit::No
        }
    })
}

/// What ended a walk before its end: a file of the command's, or else a device or a model.
fn failed(error: anyhow::Error) -> Failure {
    let mut causes = error.chain();
    if causes.any(|c| c.is::<crate::audio::SoundError>() || c.is::<RecordError>()) {
        Failure::wrong(error)
    } else {
        Failure::missing(error)
    }
}
