//! Measures the ears on breaths of called findings.
//!
//! `list` makes up breaths at the stations of plans, one line each, for `hearing/breaths.py` to have said;
//! `measure` hears them, quiet and with seeded pad noise, and prints a table and a line for each item.

mod list;
mod measure;

use anyhow::Context;
use clap::{Parser, Subcommand};
use loadwalk::ears::{Ears, SpeechActivity};
use loadwalk::grammar::{CalledItem, GrammarSet, Meaning};
use loadwalk::walk::called_items;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// Breaths of called findings: makes them up, or measures how they are heard.
#[derive(Parser)]
struct Options {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Prints breaths to be said
    List {
        /// Plans whose stations are called off
        plans: Vec<PathBuf>,
        /// How many
        #[arg(long, default_value_t = 100)]
        number: usize,
        /// Of the random numbers
        #[arg(long, default_value_t = 1)]
        seed: u64,
        /// Breaths of up to three items, each also with one of them denied: "aren't" or "isn't" for its
        /// "are" or "is", or "not" behind its name
        #[arg(long)]
        denied: bool,
    },
    /// Hears the breaths that were said
    Measure {
        /// Lines of hearing/breaths.py, beside the sound
        set: PathBuf,
        /// A ggml Whisper file
        #[arg(long, default_value = "models/ggml-tiny.en-pad-q8_0.bin")]
        model: PathBuf,
        /// Another for the second opinion
        #[arg(long, default_value = "models/ggml-base-pad-q8_0.bin")]
        second: PathBuf,
        /// The voice activity network
        #[arg(long, default_value = "models/silero-vad-16k.onnx")]
        activity: PathBuf,
        /// Threads of the recogniser
        #[arg(long, default_value_t = 2)]
        threads: usize,
        /// Signal-to-noise ratios in dB; 99 is quiet
        #[arg(long, value_delimiter = ',', default_value = "99,20,10,5")]
        ratios: Vec<f64>,
        /// Speakers of this split only
        #[arg(long)]
        split: Option<String>,
        /// Takes every N-th only
        #[arg(long, default_value_t = 1)]
        every: usize,
        /// A line for each item
        #[arg(long, default_value = "breaths-heard.jsonl")]
        out: PathBuf,
    },
}

/// A breath to be said.
#[derive(Clone, Serialize, Deserialize)]
struct Line {
    plan: String,
    station: String,
    words: String,
    items: Vec<(String, String)>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    path: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    voice: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    split: String,
}

fn main() -> anyhow::Result<()> {
    match Options::parse().command {
        Command::List {
            plans,
            number,
            seed,
            denied,
        } => list::list(&plans, number, seed, denied),
        Command::Measure {
            set,
            model,
            second,
            activity,
            threads,
            ratios,
            split,
            every,
            out,
        } => {
            let ears = Ears::load(&model, threads, GrammarSet::builtin())?
                .with_second(&second, threads)?;
            let activity = SpeechActivity::load(&activity)?;
            let out = std::fs::File::create(&out)?;
            let mut bench = measure::Bench::new(ears, activity, out);
            let folder = set.parent().map(PathBuf::from).unwrap_or_default();
            let text = std::fs::read_to_string(&set)
                .with_context(|| format!("cannot read {}", set.display()))?;
            let lines = text.lines().map(serde_json::from_str::<Line>);
            let mut n = 0;
            for line in lines {
                let line = line?;
                if split.as_ref().is_some_and(|s| *s != line.split) {
                    continue;
                }
                n += 1;
                if n % every == 0 {
                    let sound = loadwalk::audio::read(&folder.join(&line.path))?.into_vec();
                    bench.measure(n, &line, &sound, &ratios)?;
                }
            }
            bench.report();
            Ok(())
        }
    }
}

/// The stations of a plan with what can be called at them.
fn stations(plan: &str) -> anyhow::Result<Vec<(String, Vec<CalledItem>)>> {
    let text = std::fs::read_to_string(plan).with_context(|| format!("cannot read {plan}"))?;
    let plan = loadwalk::plan::read(plan.as_ref(), &text).map_err(|e| anyhow::anyhow!("{e:?}"))?;
    let stations = plan.route().stations.iter();
    Ok(stations.map(|s| (s.key.clone(), called_items(s))).collect())
}

/// Whether a finding conforms; a count does as the plan has it, which is not looked at here.
fn conforms(meaning: &Meaning, item: &CalledItem) -> bool {
    match item.rule.as_str() {
        "presence" => meaning.value == "present",
        "condition" => meaning.value == "good",
        "state" => item.conforming.contains(&meaning.value),
        _ => !matches!(meaning.value.as_str(), "not-applicable" | "not-seen"),
    }
}
