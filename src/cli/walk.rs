//! `loadwalk walk` and `loadwalk resume`.

use super::args::{ModelArgs, read_plan};
use super::drive::{
    AnswerList, Driver, JsonLines, Keyboard, Mouthed, Observer, Plain, Port, PromptSound, Reader,
    Scripted, Understands, Unspoken, WalkClock,
};
use super::exit::{Exit, Failure, Outcome};
use crate::ears::endpoint::Endpointing;
use crate::ears::{Cutter, Ears, SpeechActivity};
use crate::grammar::GrammarSet;
use crate::record::{Record, folder_name, sha256_hex};
use crate::voice::{Preference, choose};
use crate::walk::{CapacityLine, Ending, Opening, Settings, Walk};
use clap::Args;
use std::path::{Path, PathBuf};

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
struct How {
    /// Spoken answers from files: a text file with one sound file a line, used in order; `-` reads
    /// the lines from standard input, each when it is wanted
    #[arg(long, value_name = "LIST", conflicts_with = "keys")]
    answers: Option<PathBuf>,
    /// Answers typed on the keyboard, a line each
    #[arg(long)]
    keys: bool,
    /// Microphone, by a name from `devices`
    #[arg(long, value_name = "NAME")]
    mic: Option<String>,
    /// Loudspeaker, by a name from `devices`
    #[arg(long, value_name = "NAME")]
    speaker: Option<String>,
    /// With `--answers`: neither speaks aloud nor waits; time is that of the sounds
    #[arg(long)]
    fast: bool,
    /// Writes every prompt as a sound file into this folder
    #[arg(long, value_name = "DIR")]
    prompts: Option<PathBuf>,
    /// Logs a deficiency and leaves it open: asks neither for a note nor for a repair
    #[arg(long)]
    brief: bool,
    /// One JSON object a line on stdout
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    model: ModelArgs,
}

/// Runs `walk`.
pub fn walk(command: &WalkCommand) -> Outcome {
    let file = read_plan(&command.plan)?;
    let capacity = crate::figures::capacity(&file.plan);
    let capacity = crate::figures::worst_of_each(&capacity)
        .into_iter()
        .map(|v| CapacityLine {
            question: v.question.key().to_owned(),
            passes: v.passes(),
            spoken: v.spoken(),
        })
        .collect();
    let opening = Opening {
        inspector: command.inspector.trim().to_owned(),
        rigger: command.rigger.trim().to_owned(),
        plan_sha256: sha256_hex(&file.bytes),
        route: file.plan.route().clone(),
        capacity,
    };
    let load = opening.route.load.clone();
    let walk = Walk::new(opening, settings(&command.how)).map_err(Failure::wrong)?;
    let mut world = World::open(&command.how)?;
    let folder = command.record.clone().unwrap_or_else(|| {
        Path::new("records").join(folder_name(&load, &jiff::ZonedDateTime::now()))
    });
    let clock = WalkClock::default();
    let record =
        Record::create(&folder, &file.bytes, Box::new(clock.clone())).map_err(Failure::wrong)?;
    drive(&command.how, walk, record, clock, &mut world)
}

/// Runs `resume`.
pub fn resume(command: &ResumeCommand) -> Outcome {
    let clock = WalkClock::default();
    let (record, opened) =
        Record::open(&command.record, Box::new(clock.clone())).map_err(Failure::wrong)?;
    if let Some(torn) = &opened.torn {
        eprintln!(
            "loadwalk: a line of {} bytes was broken off while it was written; it never counted and is kept in {}",
            torn.bytes, torn.file
        );
    }
    let entries: Vec<_> = opened.entries.into_iter().map(|e| e.entry).collect();
    let walk = Walk::restore(&entries, settings(&command.how)).map_err(Failure::wrong)?;
    let mut world = World::open(&command.how)?;
    drive(&command.how, walk, record, clock, &mut world)
}

fn settings(how: &How) -> Settings {
    Settings {
        brief: how.brief,
        ..Settings::default()
    }
}

/// What a walk speaks and listens with.
struct World {
    ears: Box<dyn Understands>,
    port: Box<dyn Port>,
}

impl World {
    fn open(how: &How) -> Result<Self, Failure> {
        let grammars = GrammarSet::builtin();
        if how.keys {
            return Ok(Self {
                ears: Box::new(Reader::new(grammars)),
                port: Box::new(Keyboard::new()),
            });
        }
        let speech = how.model.speech()?;
        let activity = how.model.activity()?;
        let network = SpeechActivity::load(&activity).map_err(Failure::missing)?;
        let cutter = Cutter::new(network, Endpointing::default());
        let ears = Ears::load(&speech, how.model.threads, grammars).map_err(Failure::missing)?;
        let port: Box<dyn Port> = match &how.answers {
            Some(list) => {
                let list = if list.as_os_str() == "-" {
                    AnswerList::standard_input()
                } else {
                    AnswerList::read(list).map_err(Failure::wrong)?
                };
                Box::new(Scripted::new(list, cutter, prompt_sound(how)?))
            }
            None => headset(how, cutter)?,
        };
        Ok(Self {
            ears: Box::new(ears),
            port,
        })
    }
}

fn drive(how: &How, walk: Walk, record: Record, clock: WalkClock, world: &mut World) -> Outcome {
    let folder = record.folder().to_owned();
    let mut observer: Box<dyn Observer> = if how.json {
        Box::new(JsonLines)
    } else {
        Box::new(Plain)
    };
    let driver = Driver {
        walk,
        record,
        ears: &mut *world.ears,
        port: &mut *world.port,
        observer: &mut *observer,
        clock,
    };
    let ending = driver.run().map_err(Failure::missing)?;
    eprintln!("record: {}", folder.display());
    Ok(match ending {
        Ending::Ready => Exit::Done,
        Ending::NotReady => Exit::No,
        Ending::Open => {
            eprintln!(
                "the walk is open; go on with `loadwalk resume {}`",
                folder.display()
            );
            Exit::No
        }
    })
}

fn prompt_sound(how: &How) -> Result<Box<dyn PromptSound>, Failure> {
    if let Some(dir) = &how.prompts {
        let voice = crate::voice::find_program().map_err(Failure::missing)?;
        let files = Mouthed::files(voice, dir).map_err(Failure::wrong)?;
        return Ok(Box::new(files));
    }
    if how.fast {
        return Ok(Box::new(Unspoken));
    }
    let aloud = Mouthed::new::<Failure>(|tell| {
        let chosen = choose(Preference::Best, how.speaker.as_deref(), tell);
        eprintln!("loadwalk: {}", chosen.message);
        Ok(chosen.mouth)
    })?;
    Ok(Box::new(aloud))
}

#[cfg(feature = "devices")]
fn headset(how: &How, cutter: Cutter) -> Result<Box<dyn Port>, Failure> {
    let speaker = how.speaker.as_deref();
    let (headset, message, speaks) =
        super::drive::Headset::open(how.mic.as_deref(), cutter, |tell| {
            choose(Preference::Best, speaker, tell)
        })
        .map_err(|error| {
            Failure::missing(anyhow::anyhow!(
                "{error}; `loadwalk devices` lists what there is, and `--keys` takes typed answers"
            ))
        })?;
    if let (Some(speaker), false) = (speaker, speaks) {
        return Err(Failure::missing(anyhow::anyhow!(
            "the loudspeaker {speaker:?} cannot be used: {message}; `loadwalk devices` lists what there is"
        )));
    }
    eprintln!("loadwalk: {message}");
    Ok(Box::new(headset))
}

#[cfg(not(feature = "devices"))]
fn headset(_: &How, _: Cutter) -> Result<Box<dyn Port>, Failure> {
    Err(Failure::missing(anyhow::anyhow!(
        "no microphone; give spoken answers with `--answers LIST` or type them with `--keys`"
    )))
}
