//! Measures the ears on the evaluation set that `hearing/build.py` makes.
//!
//! Every file is heard with its own rule alone, quiet and with seeded pad noise mixed in; what is no
//! answer is heard against one of the answer rules. Prints a table and writes a line for each utterance.

use anyhow::Context;
use clap::Parser;
use loadwalk::audio::pad_noise::{Preset, mix};
use loadwalk::ears::decide::Verdict;
use loadwalk::ears::endpoint::Endpointing;
use loadwalk::ears::{Active, Cutter, Ears, Recognition, SpeechActivity, Utterance};
use loadwalk::grammar::GrammarSet;
use serde::Deserialize;
use serde_json::json;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Signal-to-noise ratios in dB; `None` is quiet.
const RATIOS: [Option<f64>; 5] = [None, Some(20.0), Some(10.0), Some(5.0), Some(0.0)];
/// Rules against which what is no answer is heard.
const ANSWERS: [&str; 5] = ["presence", "count", "condition", "control", "yes-no"];
/// Zeros after a file, as `loadwalk hear` has them: half a second and more ends an utterance.
const TAIL: usize = 12_800;

/// Measures the ears on the evaluation set.
#[derive(Parser)]
struct Options {
    /// Folder made by hearing/build.py
    set: PathBuf,
    /// Speakers of this split only
    #[arg(long, default_value = "test")]
    split: String,
    /// A ggml Whisper file
    #[arg(long, default_value = "models/ggml-tiny.en-q8_0.bin")]
    model: PathBuf,
    /// Another ggml Whisper file for a second opinion
    #[arg(long)]
    second: Option<PathBuf>,
    /// The voice activity network
    #[arg(long, default_value = "models/silero-vad-16k.onnx")]
    activity: PathBuf,
    /// Takes every N-th file only
    #[arg(long, default_value_t = 1)]
    every: usize,
    /// Threads of the recogniser
    #[arg(long, default_value_t = 1)]
    threads: usize,
    /// A line for each utterance
    #[arg(long, default_value = "hearing-out/heard.jsonl")]
    out: PathBuf,
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
}

#[derive(Default)]
struct Tally {
    right: usize,
    asked: usize,
    refused: usize,
    wrong: usize,
}

impl Tally {
    fn all(&self) -> usize {
        self.right + self.asked + self.refused + self.wrong
    }

    fn row(&self) -> String {
        let share = |n: usize| 100.0 * n as f64 / self.all().max(1) as f64;
        format!(
            "{} | {:.1} % | {:.1} % | {:.1} % | **{}**",
            self.all(),
            share(self.right),
            share(self.asked),
            share(self.refused),
            self.wrong
        )
    }
}

struct Bench {
    ears: Ears,
    cutter: Cutter,
    out: std::fs::File,
    tallies: BTreeMap<String, Tally>,
    wrong: Vec<String>,
    ms: Vec<f64>,
}

fn main() -> anyhow::Result<()> {
    let options = Options::parse();
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
    let mut ears = Ears::load(&options.model, options.threads, GrammarSet::builtin())?;
    if let Some(second) = &options.second {
        ears = ears.with_second(second, options.threads)?;
    }
    let mut bench = Bench {
        ears,
        cutter: Cutter::new(
            SpeechActivity::load(&options.activity)?,
            Endpointing::default(),
        ),
        out: std::fs::File::create(&options.out)?,
        tallies: BTreeMap::new(),
        wrong: Vec::new(),
        ms: Vec::new(),
    };
    let chosen = set.iter().filter(|s| s.split == options.split);
    for (n, spoken) in chosen.enumerate().filter(|(n, _)| n % options.every == 0) {
        bench.measure(n, spoken, &options.set)?;
    }
    bench.report();
    Ok(())
}

impl Bench {
    fn measure(&mut self, n: usize, spoken: &Spoken, set: &Path) -> anyhow::Result<()> {
        let sound = loadwalk::audio::read(&set.join(&spoken.path))?.into_vec();
        let outside = spoken.expected.is_none();
        // What is no answer is heard once, quiet and in noise by turns.
        let ratios = if outside {
            &RATIOS[n % 3..=n % 3]
        } else {
            &RATIOS[..]
        };
        let rule = if outside {
            ANSWERS[n / 3 % ANSWERS.len()]
        } else {
            spoken.rule.as_str()
        };
        let active = Active {
            rules: vec![rule.to_owned()],
            states: Vec::new(),
            ..Active::default()
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
            let heard = match self.cut(&samples)? {
                Some(utterance) => Some(self.ears.hear(&utterance, &active)?),
                None => None,
            };
            self.count(spoken, rule, *ratio, heard.as_ref())?;
        }
        Ok(())
    }

    fn cut(&mut self, samples: &[f32]) -> anyhow::Result<Option<Utterance>> {
        self.cutter.restart();
        let mut cut = self.cutter.push(samples)?;
        cut.extend(self.cutter.push(&[0.0; TAIL])?);
        cut.extend(self.cutter.finish());
        let longest = |a: &Utterance, b: &Utterance| a.speech_seconds.total_cmp(&b.speech_seconds);
        Ok(cut.into_iter().max_by(longest))
    }

    fn count(
        &mut self,
        spoken: &Spoken,
        rule: &str,
        ratio: Option<f64>,
        heard: Option<&Recognition>,
    ) -> anyhow::Result<()> {
        let value = heard
            .and_then(|h| h.meaning.as_ref())
            .map(|m| m.value.as_str());
        let verdict = heard.map_or(&Verdict::Refuse("no speech"), |h| &h.judgement.verdict);
        let outside = spoken.expected.is_none();
        let place = ratio.map_or("  quiet".to_owned(), |r| format!("{r:5.0} dB"));
        let keys = if outside {
            vec![format!("3 | no answer, {}", spoken.kind)]
        } else {
            vec![
                format!("1 | {}, {place}", spoken.kind),
                format!("2 | {rule}, {place}"),
            ]
        };
        for key in keys {
            let tally = self.tallies.entry(key).or_default();
            match verdict {
                Verdict::Take if value == spoken.expected.as_deref() => tally.right += 1,
                Verdict::Take => tally.wrong += 1,
                Verdict::Confirm => tally.asked += 1,
                Verdict::Refuse(_) => tally.refused += 1,
            }
        }
        if *verdict == Verdict::Take && value != spoken.expected.as_deref() {
            let taken = value.unwrap_or_default();
            self.wrong.push(format!(
                "{}: \"{}\" by {} at {place} taken as {rule} {taken}",
                spoken.path, spoken.words, spoken.voice
            ));
        }
        self.ms.extend(heard.map(|h| h.ms.total));
        let line = json!({
            "path": spoken.path, "rule": rule, "words": spoken.words, "expected": spoken.expected,
            "voice": spoken.voice, "kind": spoken.kind, "snr": ratio, "value": value,
            "verdict": format!("{verdict:?}"),
            "confidence": heard.map(|h| h.judgement.confidence),
            "evidence": heard.map(|h| h.evidence), "second": heard.and_then(|h| h.second.as_ref()),
            "ms": heard.map(|h| h.ms),
        });
        writeln!(self.out, "{line}")?;
        Ok(())
    }

    fn report(&mut self) {
        println!("| what | number | taken right | asked | refused | wrong taken |");
        println!("| --- | --- | --- | --- | --- | --- |");
        for (key, tally) in &self.tallies {
            println!("| {} | {} |", &key[4..], tally.row());
        }
        self.ms.sort_by(f64::total_cmp);
        let at = |share: f64| {
            let place = (self.ms.len() as f64 * share) as usize;
            self.ms.get(place).copied().unwrap_or_default()
        };
        println!(
            "\nmilliseconds an answer: median {:.0}, 95th percentile {:.0}",
            at(0.5),
            at(0.95)
        );
        for wrong in &self.wrong {
            println!("wrong: {wrong}");
        }
    }
}
