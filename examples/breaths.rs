//! Measures the ears on breaths of called findings.
//!
//! `list` makes up breaths at the stations of plans, one line each, for `hearing/breaths.py` to have said;
//! `measure` hears them, quiet and with seeded pad noise, and prints a table and a line for each item.

use anyhow::Context;
use clap::{Parser, Subcommand};
use loadwalk::audio::pad_noise::{Preset, mix};
use loadwalk::ears::decide::Verdict;
use loadwalk::ears::endpoint::Endpointing;
use loadwalk::ears::{Active, Breath, CHUNK, Cutter, Ears, SpeechActivity};
use loadwalk::grammar::{CalledItem, GrammarSet, Meaning, Phrase, called};
use loadwalk::walk::called_items;
use rand::rngs::StdRng;
use rand::seq::IndexedRandom as _;
use rand::{Rng, SeedableRng};
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;
use std::time::Instant;

/// Zeros after a file, as `loadwalk hear` has them.
const TAIL: usize = 12_800;
/// Phrases of one item to choose from.
const PHRASES: usize = 4_000;

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
        /// Breaths of up to three items with one "are", each also with "aren't" in its place
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
        } => list(&plans, number, seed, denied),
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
            let mut bench = Bench {
                ears,
                cutter: Cutter::new(activity, Endpointing::default()),
                out: std::fs::File::create(&out)?,
                tallies: BTreeMap::new(),
                wrong: Vec::new(),
                times: Vec::new(),
                stations: BTreeMap::new(),
            };
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

fn list(plans: &[PathBuf], number: usize, seed: u64, denied: bool) -> anyhow::Result<()> {
    let mut rng = StdRng::seed_from_u64(seed);
    let grammars = GrammarSet::builtin();
    let mut all = Vec::new();
    for plan in plans {
        let name = plan.display().to_string();
        for (key, items) in stations(&name)? {
            if items.len() < 2 {
                continue;
            }
            let mut phrases: Vec<Vec<Phrase>> = Vec::new();
            for item in &items {
                let graph = called::single(&grammars, std::slice::from_ref(item))?;
                let own = graph.phrases(PHRASES).into_iter();
                phrases.push(own.filter(|p| is_of(p, item)).collect());
            }
            let graph = called::graph(&grammars, &items)?;
            all.push((name.clone(), key, items, phrases, graph));
        }
    }
    let mut out = std::io::stdout().lock();
    let mut made = 0;
    while made < number {
        let (plan, station, items, phrases, graph) = all.choose(&mut rng).context("no plan")?;
        let most = items.len().min(8);
        let length = rng.random_range(2..=most);
        let chosen = rand::seq::index::sample(&mut rng, items.len(), length).into_vec();
        let mut words = Vec::new();
        let mut meanings = Vec::new();
        for i in chosen {
            let conforms = rng.random_bool(0.75);
            let fits: Vec<&Phrase> = phrases[i]
                .iter()
                .filter(|p| is_conforming(p, &items[i]) == conforms)
                .collect();
            let Some(phrase) = fits.choose(&mut rng) else {
                continue;
            };
            words.push(phrase.words.clone());
            meanings.extend(phrase.meanings.clone());
        }
        let words = words.join(", ");
        if graph.match_strings(&words) != [meanings.clone()] {
            continue;
        }
        let mut say = |words: String, meanings: Vec<Meaning>| {
            let items = meanings.into_iter().map(|m| (m.rule, m.value)).collect();
            let line = Line {
                plan: plan.clone(),
                station: station.clone(),
                words,
                items,
                path: String::new(),
                voice: String::new(),
                split: String::new(),
            };
            made += 1;
            writeln!(out, "{}", serde_json::to_string(&line)?)?;
            anyhow::Ok(())
        };
        if denied {
            let is_short = meanings.len() <= 3 && words.matches(" are ").count() == 1;
            let other = words.replace(" are ", " aren't ");
            // What the grammar does not know as denied has no denial to be heard as.
            let readings = graph.match_strings(&other);
            let ([truth], true) = (readings.as_slice(), is_short) else {
                continue;
            };
            say(other, truth.clone())?;
        }
        say(words, meanings)?;
    }
    Ok(())
}

/// Whether a person might say it of this item.
fn is_of(phrase: &Phrase, item: &CalledItem) -> bool {
    let is_its = |rule: &str| rule.split(called::AND).any(|k| k == item.key);
    let words = &phrase.words;
    let odd = [
        "fower",
        "fife",
        "niner",
        "is it",
        "are it",
        "is is",
        "are are",
        "is isn't",
        "are aren't",
        "is aren't",
        "are isn't",
        "is there's",
        "are there's",
        "are is",
        "is are",
        "is runs",
        "are runs",
        "is hangs",
        "are hangs",
        "is sits",
        "are sits",
        "are isn't",
        "not seen",
        "cannot be seen",
    ];
    let several = item.names[0].ends_with('s');
    phrase.meanings.len() == 1
        && is_its(&phrase.meanings[0].rule)
        && !odd.iter().any(|odd| words.contains(odd))
        && !words.contains(if several { " is " } else { " are " })
        && words.split(' ').count() <= 8
}

/// Counts conform as the plan has it, which is not looked at here.
fn is_conforming(phrase: &Phrase, item: &CalledItem) -> bool {
    conforms(&phrase.meanings[0], item)
}

fn conforms(meaning: &Meaning, item: &CalledItem) -> bool {
    match item.rule.as_str() {
        "presence" => meaning.value == "present",
        "condition" => meaning.value == "good",
        "state" => item.conforming.contains(&meaning.value),
        _ => !matches!(meaning.value.as_str(), "not-applicable" | "not-seen"),
    }
}

#[derive(Default)]
struct Tally {
    items: usize,
    right: usize,
    open: usize,
    wrong: usize,
    wrong_conforming: usize,
}

/// What a breath took.
#[derive(Clone, Copy)]
struct Times {
    /// Of speech.
    seconds: f32,
    /// To hear it, in ms.
    ms: f64,
    /// Until it was heard, from the end of the quiet that ended it, in ms.
    behind: f64,
}

type Heard = (Breath, Times);

fn sorted(of: &[&Times], value: impl Fn(&Times) -> f64) -> Vec<f64> {
    let mut all: Vec<f64> = of.iter().map(|t| value(t)).collect();
    all.sort_by(f64::total_cmp);
    all
}

/// A quantile, by the nearest rank.
fn at(sorted: &[f64], share: f64) -> f64 {
    let place = (sorted.len() as f64 * share) as usize;
    sorted.get(place).copied().unwrap_or_default()
}

struct Bench {
    ears: Ears,
    cutter: Cutter,
    out: std::fs::File,
    tallies: BTreeMap<String, Tally>,
    wrong: Vec<String>,
    times: Vec<Times>,
    stations: BTreeMap<(String, String), Vec<CalledItem>>,
}

impl Bench {
    fn items(&mut self, line: &Line) -> anyhow::Result<Vec<CalledItem>> {
        let key = (line.plan.clone(), line.station.clone());
        if !self.stations.contains_key(&key) {
            for (station, items) in stations(&line.plan)? {
                self.stations.insert((line.plan.clone(), station), items);
            }
        }
        let items = self.stations.get(&key);
        items.cloned().context("no such station")
    }

    fn measure(
        &mut self,
        n: usize,
        line: &Line,
        sound: &[f32],
        ratios: &[f64],
    ) -> anyhow::Result<()> {
        let items = self.items(line)?;
        let active = Active {
            items: items.clone(),
            ..Active::default()
        };
        self.ears.prepare(&active)?;
        for (k, ratio) in ratios.iter().enumerate() {
            let samples = if *ratio > 90.0 {
                sound.to_vec()
            } else {
                let preset = Preset::ALL[(n + k) % Preset::ALL.len()].parameters();
                mix(
                    sound,
                    &preset.generate(sound.len(), 90_000 + n as u64),
                    *ratio,
                )?
            };
            let heard = self.listen(samples, &active)?;
            self.count(line, &items, *ratio, &heard)?;
        }
        Ok(())
    }

    /// Hears sound as it would come from a microphone, on a clock of its own: what takes time is measured, and
    /// sound that comes meanwhile waits.
    fn listen(&mut self, mut sound: Vec<f32>, active: &Active) -> anyhow::Result<Vec<Heard>> {
        sound.resize((sound.len() + TAIL).next_multiple_of(CHUNK), 0.0);
        self.cutter.restart();
        let mut heard = Vec::new();
        let (mut now, mut last) = (0.0_f64, 0.0);
        for (n, chunk) in sound.chunks(CHUNK).enumerate() {
            let come = ((n + 1) * CHUNK) as f64 / 16.0;
            now = now.max(come);
            let begun = Instant::now();
            let cut = self.cutter.push(chunk)?;
            now += begun.elapsed().as_secs_f64() * 1e3;
            if let Some(utterance) = self.cutter.take_paused() {
                let begun = Instant::now();
                self.ears.hear_ahead(&utterance, active)?;
                last = begun.elapsed().as_secs_f64() * 1e3;
                now += last;
            }
            for utterance in cut {
                let begun = Instant::now();
                let breath = self.ears.hear_breath(&utterance, active)?;
                let spent = begun.elapsed().as_secs_f64() * 1e3;
                now += spent;
                let times = Times {
                    seconds: utterance.speech_seconds,
                    ms: last.max(spent),
                    behind: now - come,
                };
                self.times.push(times);
                heard.push((breath, times));
            }
        }
        Ok(heard)
    }

    fn count(
        &mut self,
        line: &Line,
        items: &[CalledItem],
        ratio: f64,
        heard: &[Heard],
    ) -> anyhow::Result<()> {
        let place = if ratio > 90.0 {
            "quiet".to_owned()
        } else {
            format!("{ratio:.0} dB")
        };
        let all: Vec<_> = heard.iter().flat_map(|(b, ..)| &b.items).collect();
        let mut lines = Vec::new();
        let tally = self.tallies.entry(place.clone()).or_default();
        tally.items += line.items.len();
        let taken = all.iter().filter(|i| i.judgement.verdict == Verdict::Take);
        let mut right = 0;
        for item in taken {
            let m = &item.meaning;
            let is_said = line
                .items
                .iter()
                .any(|(r, v)| *r == m.rule && *v == m.value);
            if is_said {
                right += 1;
                continue;
            }
            tally.wrong += 1;
            let of = items
                .iter()
                .find(|i| m.rule.split(called::AND).any(|k| k == i.key));
            if of.is_some_and(|of| conforms(m, of)) {
                tally.wrong_conforming += 1;
            }
            self.wrong.push(format!(
                "{place} {}: \"{}\" heard \"{}\": {} {}",
                line.voice, line.words, item.words, m.rule, m.value
            ));
        }
        tally.right += right;
        tally.open += line.items.len() - right.min(line.items.len());
        for item in &all {
            let m = &item.meaning;
            let is_said = line
                .items
                .iter()
                .any(|(r, v)| *r == m.rule && *v == m.value);
            lines.push(json!({
                "right": is_said, "rule": m.rule, "value": m.value, "words": item.words,
                "take": item.judgement.verdict == Verdict::Take, "evidence": item.evidence,
                "kind": items.iter().find(|i| i.key == m.rule).map(|i| i.rule.clone()),
                "from": item.from_seconds, "to": item.to_seconds,
            }));
        }
        let line = json!({
            "path": line.path, "voice": line.voice, "said": line.words, "ratio": ratio, "items": lines,
            "truth": line.items, "heard": heard.iter().map(|(b, ..)| b.words.clone()).collect::<Vec<_>>(),
            "seconds": heard.iter().map(|(_, t)| t.seconds).collect::<Vec<_>>(),
            "spent": heard.iter().map(|(b, ..)| b.spent.clone()).collect::<Vec<_>>(),
            "ms": heard.iter().map(|(_, t)| t.ms).collect::<Vec<_>>(),
            "behind": heard.iter().map(|(_, t)| t.behind).collect::<Vec<_>>(),
        });
        writeln!(self.out, "{line}")?;
        Ok(())
    }

    fn report(&mut self) {
        println!("| noise | items | taken right | left open | wrong | wrong conforming |");
        println!("| --- | --- | --- | --- | --- | --- |");
        for (place, t) in &self.tallies {
            let share = |n: usize| 100.0 * n as f64 / t.items.max(1) as f64;
            println!(
                "| {place} | {} | {:.1} % | {:.1} % | {} | {} |",
                t.items,
                share(t.right),
                share(t.open),
                t.wrong,
                t.wrong_conforming
            );
        }
        println!("\n| speech | breaths | heard in, ms | 95th | behind its quiet, ms | 95th |");
        println!("| --- | --- | --- | --- | --- | --- |");
        for (what, from, to) in [("all", 0.0, 99.0), ("5 to 7 s", 5.0, 7.0)] {
            let of = self
                .times
                .iter()
                .filter(|t| t.seconds >= from && t.seconds < to);
            let of: Vec<&Times> = of.collect();
            let (ms, behind) = (sorted(&of, |t| t.ms), sorted(&of, |t| t.behind));
            println!(
                "| {what} | {} | {:.0} | {:.0} | {:.0} | {:.0} |",
                of.len(),
                at(&ms, 0.5),
                at(&ms, 0.95),
                at(&behind, 0.5),
                at(&behind, 0.95)
            );
        }
        for wrong in &self.wrong {
            println!("wrong: {wrong}");
        }
    }
}
