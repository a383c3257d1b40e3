//! Measures the ears, and rivals on the same sound, on the evaluation set that `hearing/build.py` makes.
//!
//! Every file is heard with its own rule alone, quiet and with seeded pad noise mixed in; what is no
//! answer is heard against one of the answer rules. Writes a line for each utterance and system, and one
//! with each system's memory; `hearing/report.py` makes tables and plots of them.

mod rivals;

use anyhow::Context;
use clap::Parser;
use loadwalk::audio::pad_noise::{Preset, mix};
use loadwalk::ears::decide::Verdict;
use loadwalk::ears::endpoint::Endpointing;
use loadwalk::ears::{Active, Cutter, Ears, Recognition, SpeechActivity, Utterance};
use loadwalk::grammar::GrammarSet;
use rivals::Rival;
use serde::Deserialize;
use serde_json::json;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Signal-to-noise ratios in dB; `None` is quiet.
const RATIOS: [Option<f64>; 5] = [None, Some(20.0), Some(10.0), Some(5.0), Some(0.0)];
/// Rules against which what is no answer is heard.
const ANSWERS: [&str; 5] = ["presence", "count", "condition", "control", "yes-no"];

/// Measures the ears on the evaluation set.
#[derive(Parser)]
struct Options {
    /// Folder made by hearing/build.py
    set: PathBuf,
    /// Speakers of this split only
    #[arg(long, default_value = "test")]
    split: String,
    /// A ggml Whisper file
    #[arg(long, default_value = "models/ggml-tiny.en-pad-q8_0.bin")]
    model: PathBuf,
    /// Another ggml Whisper file for a second opinion
    #[arg(long)]
    second: Option<PathBuf>,
    /// The voice activity network
    #[arg(long, default_value = "models/silero-vad-16k.onnx")]
    activity: PathBuf,
    /// Takes every N-th answer only
    #[arg(long, default_value_t = 1)]
    every: usize,
    /// Takes every N-th file that is no answer only
    #[arg(long, default_value_t = 1)]
    every_other: usize,
    /// What is no answer is heard against another rule and in other noise, so many turns on
    #[arg(long, default_value_t = 0)]
    turn: usize,
    /// Threads of the recognisers
    #[arg(long, default_value_t = 2)]
    threads: usize,
    /// Hears the same sound with the rivals too: free text with the nearest phrase, the larger model, and
    /// a JSGF decoder run by this Python (made by hearing/build.py)
    #[arg(long, value_name = "PYTHON")]
    rivals: Option<PathBuf>,
    /// The published file of the first model, with which the first rival hears
    #[arg(long, default_value = "models/ggml-tiny.en-q8_0.bin")]
    published: PathBuf,
    /// The same of the second, for the larger rival
    #[arg(long, default_value = "models/ggml-base-q8_0.bin")]
    published_larger: PathBuf,
    /// Writes what each model alone makes of every sound in place of loadwalk's decision, for setting limits
    #[arg(long)]
    opinions: bool,
    /// A line for each utterance and system; without it heard.jsonl in the folder of the set
    #[arg(long)]
    out: Option<PathBuf>,
}

/// A line of set.jsonl.
#[derive(Clone, Deserialize)]
struct Spoken {
    path: String,
    rule: String,
    words: String,
    expected: Option<String>,
    voice: String,
    kind: String,
    split: String,
    /// With the rule `state`: the states of the check, each with its spoken forms.
    #[serde(default)]
    states: Vec<(String, Vec<String>)>,
}

/// One sound to be heard, as every system gets it.
struct Case {
    spoken: Spoken,
    /// The rule it is heard against.
    rule: String,
    ratio: Option<f64>,
    /// `None` where no speech was found in it.
    utterance: Option<Utterance>,
}

/// What a system made of a case.
struct Outcome {
    verdict: &'static str,
    value: Option<String>,
    ms: f64,
    /// Loadwalk's own evidence.
    more: serde_json::Value,
}

fn main() -> anyhow::Result<()> {
    let options = Options::parse();
    let cases = cases(&options)?;
    println!("{} sounds", cases.len());
    let heard = options.set.join("heard.jsonl");
    let heard = options.out.as_ref().unwrap_or(&heard);
    let file = std::fs::File::create(heard).with_context(|| heard.display().to_string())?;
    let mut out = BufWriter::new(file);
    let mut ears = Ears::load(&options.model, options.threads, GrammarSet::builtin())?;
    if let Some(second) = &options.second {
        ears = ears.with_second(second, options.threads)?;
    }
    run(&mut out, "loadwalk", &cases, None, |case| {
        let active = Active {
            rules: vec![case.rule.clone()],
            states: case.spoken.states.clone(),
            ..Active::default()
        };
        Ok(match &case.utterance {
            Some(utterance) if options.opinions => Outcome {
                more: json!(ears.opinions(utterance, &active)?),
                ..no_speech()
            },
            Some(utterance) => own(&ears.hear(utterance, &active)?),
            None => no_speech(),
        })
    })?;
    drop(ears);
    let Some(python) = &options.rivals else {
        return Ok(());
    };
    let larger = options
        .second
        .as_ref()
        .context("the rivals need --second")?;
    for rival in [
        rivals::free_text("whisper, free text, nearest phrase", &options.published),
        rivals::free_text(
            "larger whisper, free text, nearest phrase",
            &options.published_larger,
        ),
        rivals::larger_search(larger),
        rivals::jsgf(python),
    ] {
        let before = memory_mb("VmRSS");
        let mut rival: Box<dyn Rival> = rival.load(options.threads)?;
        let name = rival.name();
        run(&mut out, &name, &cases, Some(before), |case| {
            Ok(match &case.utterance {
                Some(utterance) => rival.hear(utterance, &case.rule)?,
                None => no_speech(),
            })
        })?;
        if let Some(mb) = rival.own_memory_mb() {
            writeln!(out, "{}", json!({"system": name, "memory_mb": mb}))?;
        }
    }
    out.flush()?;
    Ok(())
}

/// All sounds with the noise mixed in, cut as a walk cuts them.
fn cases(options: &Options) -> anyhow::Result<Vec<Case>> {
    let index = options.set.join("set.jsonl");
    let text = std::fs::read_to_string(&index).with_context(|| {
        format!(
            "cannot read {}; run hearing/build.py first",
            index.display()
        )
    })?;
    let set: Vec<Spoken> = text
        .lines()
        .map(serde_json::from_str)
        .collect::<Result<_, _>>()?;
    let activity = SpeechActivity::load(&options.activity)?;
    let mut cutter = Cutter::new(activity, Endpointing::default());
    let mut out = Vec::new();
    let (mut answers, mut others) = (0, 0);
    for (n, spoken) in set.iter().filter(|s| s.split == options.split).enumerate() {
        let outside = spoken.expected.is_none();
        let (place, every) = if outside {
            (&mut others, options.every_other)
        } else {
            (&mut answers, options.every)
        };
        *place += 1;
        if (*place - 1) % every.max(1) != 0 {
            continue;
        }
        let sound = loadwalk::audio::read(&options.set.join(&spoken.path))?.into_vec();
        // What is no answer is heard once, quiet and in noise by turns; what denies a state each time.
        let elsewhere = outside && spoken.states.is_empty();
        let ratios = if elsewhere {
            let at = (n + options.turn) % 3;
            &RATIOS[at..=at]
        } else {
            &RATIOS[..]
        };
        let rule = if elsewhere {
            ANSWERS[(n / 3 + options.turn) % ANSWERS.len()]
        } else {
            spoken.rule.as_str()
        };
        for (k, ratio) in ratios.iter().enumerate() {
            let samples = match ratio {
                None => sound.clone(),
                Some(ratio) => {
                    let preset = Preset::ALL[(n + k) % Preset::ALL.len()].parameters();
                    let noise = preset.generate(sound.len(), 70_000 + n as u64);
                    mix(&sound, &noise, *ratio)?
                }
            };
            out.push(Case {
                spoken: spoken.clone(),
                rule: rule.to_owned(),
                ratio: *ratio,
                utterance: cutter.one(&samples)?,
            });
        }
    }
    Ok(out)
}

fn no_speech() -> Outcome {
    Outcome {
        verdict: "refuse",
        value: None,
        ms: 0.0,
        more: serde_json::Value::Null,
    }
}

fn own(heard: &Recognition) -> Outcome {
    Outcome {
        verdict: match heard.judgement.verdict {
            Verdict::Take => "take",
            Verdict::Confirm => "ask",
            Verdict::Refuse(_) => "refuse",
        },
        value: heard.meaning.as_ref().map(|m| m.value.clone()),
        ms: heard.ms.total,
        more: json!({
            "heard": heard.words, "confidence": heard.judgement.confidence,
            "evidence": heard.evidence, "second": heard.second, "parts": heard.ms,
        }),
    }
}

/// Lets one system hear every case and writes what it made of them. `before` is the memory of the process
/// before the system was loaded, in megabytes, where others were loaded earlier.
fn run(
    out: &mut impl Write,
    system: &str,
    cases: &[Case],
    before: Option<f64>,
    mut hear: impl FnMut(&Case) -> anyhow::Result<Outcome>,
) -> anyhow::Result<()> {
    let sound: usize = cases
        .iter()
        .filter_map(|c| c.utterance.as_ref())
        .map(|u| u.samples.len() * size_of::<f32>())
        .sum();
    for case in cases {
        let outcome = hear(case)?;
        let Spoken {
            path,
            words,
            expected,
            voice,
            kind,
            ..
        } = &case.spoken;
        let line = json!({
            "system": system, "path": path, "rule": case.rule, "words": words, "expected": expected,
            "voice": voice, "kind": kind, "snr": case.ratio, "verdict": outcome.verdict,
            "value": outcome.value, "ms": outcome.ms, "more": outcome.more,
        });
        writeln!(out, "{line}")?;
    }
    // The sounds of the bench itself are no part of what a system needs.
    let mb = match before {
        Some(before) => memory_mb("VmRSS") - before,
        None => memory_mb("VmHWM") - sound as f64 / 1e6,
    };
    writeln!(out, "{}", json!({"system": system, "memory_mb": mb}))?;
    println!("{system}: heard");
    Ok(())
}

/// Memory of this process from its status file, in megabytes; 0 where there is none.
fn memory_mb(field: &str) -> f64 {
    process_memory_mb(Path::new("/proc/self/status"), field)
}

fn process_memory_mb(status: &Path, field: &str) -> f64 {
    let text = std::fs::read_to_string(status).unwrap_or_default();
    let line = text.lines().find(|line| line.starts_with(field));
    let kib = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok());
    kib.unwrap_or(0.0) * 1024.0 / 1e6
}
