//! Other ways to hear the same answers.

use super::{Outcome, own, process_memory_mb};
use anyhow::Context;
use loadwalk::ears::{Active, Ears, Utterance};
use loadwalk::grammar::{GrammarSet, Graph, Label, Meaning, Phrase};
use serde_json::{Value, json};
use std::collections::HashMap;
use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::Instant;
use whisper_rs::{
    FullParams, SamplingStrategy, WhisperContext, WhisperContextParameters, WhisperState,
};

/// Phrases among which the nearest is looked for; a reading or a tag has more, and free text that is in
/// the grammar as it stands is found without them.
const PHRASES_MAX: usize = 20_000;
/// Least likeness of free text to a phrase, 0 to 1, from which it is taken: common practice, no source.
const LEAST_LIKENESS: f64 = 0.6;
/// Whisper's stock call wants a second of sound.
const LEAST_SAMPLES: usize = 16_800;

/// A recogniser that answers take or refuse.
pub trait Rival {
    fn name(&self) -> String;
    fn hear(&mut self, utterance: &Utterance, rule: &str) -> anyhow::Result<Outcome>;
    /// Memory of a process of its own, in megabytes.
    fn own_memory_mb(&self) -> Option<f64> {
        None
    }
}

/// A rival before its model is loaded.
pub enum Unloaded {
    FreeText { name: &'static str, model: PathBuf },
    LargerSearch { model: PathBuf },
    Jsgf { python: PathBuf },
}

pub fn free_text(name: &'static str, model: &Path) -> Unloaded {
    Unloaded::FreeText {
        name,
        model: model.into(),
    }
}

pub fn larger_search(model: &Path) -> Unloaded {
    Unloaded::LargerSearch {
        model: model.into(),
    }
}

pub fn jsgf(python: &Path) -> Unloaded {
    Unloaded::Jsgf {
        python: python.into(),
    }
}

impl Unloaded {
    pub fn load(self, threads: usize) -> anyhow::Result<Box<dyn Rival>> {
        Ok(match self {
            Self::FreeText { name, model } => Box::new(FreeText::load(name, &model, threads)?),
            Self::LargerSearch { model } => Box::new(LargerSearch {
                ears: Ears::load(&model, threads, GrammarSet::builtin())?,
            }),
            Self::Jsgf { python } => Box::new(Jsgf::start(&python)?),
        })
    }
}

/// The graph of each rule, and its phrases, made once.
#[derive(Default)]
struct Rules {
    grammars: Option<GrammarSet>,
    known: HashMap<String, (Graph, Vec<Phrase>)>,
}

impl Rules {
    fn of(&mut self, rule: &str) -> anyhow::Result<&(Graph, Vec<Phrase>)> {
        if !self.known.contains_key(rule) {
            let grammars = self.grammars.get_or_insert_with(GrammarSet::builtin);
            let graph = grammars.graph(&[rule], &[])?;
            let phrases = graph.phrases(PHRASES_MAX);
            self.known.insert(rule.to_owned(), (graph, phrases));
        }
        Ok(&self.known[rule])
    }
}

/// Whisper as its own examples call it, then the nearest phrase by Levenshtein's distance.
struct FreeText {
    name: &'static str,
    state: WhisperState,
    threads: usize,
    rules: Rules,
}

impl FreeText {
    fn load(name: &'static str, model: &Path, threads: usize) -> anyhow::Result<Self> {
        let context = WhisperContext::new_with_params(model, WhisperContextParameters::default())?;
        Ok(Self {
            name,
            state: context.create_state()?,
            threads,
            rules: Rules::default(),
        })
    }
}

impl Rival for FreeText {
    fn name(&self) -> String {
        self.name.to_owned()
    }

    fn hear(&mut self, utterance: &Utterance, rule: &str) -> anyhow::Result<Outcome> {
        let begun = Instant::now();
        let mut parameters = FullParams::new(SamplingStrategy::Greedy { best_of: 1 });
        parameters.set_n_threads(self.threads as i32);
        parameters.set_language(Some("en"));
        parameters.set_print_progress(false);
        parameters.set_print_realtime(false);
        parameters.set_print_timestamps(false);
        parameters.set_no_context(true);
        let mut samples = utterance.samples.clone();
        samples.resize(samples.len().max(LEAST_SAMPLES), 0.0);
        self.state.full(parameters, &samples)?;
        let mut text = String::new();
        for n in 0..self.state.full_n_segments() {
            if let Some(segment) = self.state.get_segment(n) {
                text.push_str(&segment.to_str_lossy()?);
            }
        }
        let (graph, phrases) = self.rules.of(rule)?;
        let meaning = nearest(&text, graph, phrases);
        Ok(Outcome {
            verdict: if meaning.is_some() { "take" } else { "refuse" },
            value: meaning.map(|m| m.value),
            ms: begun.elapsed().as_secs_f64() * 1e3,
            more: json!({"heard": text.trim()}),
        })
    }
}

/// What free text means: as it stands, or the nearest phrase.
fn nearest(text: &str, graph: &Graph, phrases: &[Phrase]) -> Option<Meaning> {
    let plain: String = text
        .to_lowercase()
        .chars()
        .map(|c| match c {
            '.' | ',' | '!' | '?' | '-' => ' ',
            c => c,
        })
        .collect();
    let plain = plain.split_whitespace().collect::<Vec<_>>().join(" ");
    let pointed = text.trim().trim_end_matches(['.', '!', '?']).to_lowercase();
    for as_it_stands in [&pointed, &plain] {
        if let [only] = graph.match_words(as_it_stands).as_slice() {
            return Some(only.clone());
        }
    }
    let best = phrases
        .iter()
        .map(|p| (strsim::normalized_levenshtein(&p.words, &plain), p))
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    (best.0 >= LEAST_LIKENESS).then(|| best.1.meanings[0].clone())
}

/// The search and the decision of loadwalk, with the larger model alone.
struct LargerSearch {
    ears: Ears,
}

impl Rival for LargerSearch {
    fn name(&self) -> String {
        "loadwalk with the larger model alone".to_owned()
    }

    fn hear(&mut self, utterance: &Utterance, rule: &str) -> anyhow::Result<Outcome> {
        let active = Active {
            rules: vec![rule.to_owned()],
            ..Active::default()
        };
        Ok(own(&self.ears.hear(utterance, &active)?))
    }
}

/// A JSGF decoder in a process of its own; `hearing/jsgf.py` is the other end.
struct Jsgf {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
    rules: Rules,
    given: Vec<String>,
}

impl Jsgf {
    fn start(python: &Path) -> anyhow::Result<Self> {
        let mut child = Command::new(python)
            .arg("hearing/jsgf.py")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .with_context(|| format!("cannot start {}", python.display()))?;
        let to = child.stdin.take().context("no way to the JSGF decoder")?;
        let from = child
            .stdout
            .take()
            .context("no way from the JSGF decoder")?;
        Ok(Self {
            child,
            to,
            from: BufReader::new(from),
            rules: Rules::default(),
            given: Vec::new(),
        })
    }

    fn ask(&mut self, question: &Value, sound: &[u8]) -> anyhow::Result<Value> {
        writeln!(self.to, "{question}")?;
        self.to.write_all(sound)?;
        self.to.flush()?;
        let mut line = String::new();
        self.from.read_line(&mut line)?;
        serde_json::from_str(&line).context("the JSGF decoder stopped")
    }
}

impl Rival for Jsgf {
    fn name(&self) -> String {
        "JSGF decoder".to_owned()
    }

    fn hear(&mut self, utterance: &Utterance, rule: &str) -> anyhow::Result<Outcome> {
        // The decoder takes over nine gigabytes for the graph of this rule, and is killed.
        if rule == "tag" {
            return Ok(crate::no_speech());
        }
        if !self.given.iter().any(|known| known == rule) {
            let text = as_jsgf(&self.rules.of(rule)?.0);
            self.ask(&json!({"rule": rule, "grammar": text}), &[])?;
            self.given.push(rule.to_owned());
        }
        let sound: Vec<u8> = utterance
            .samples
            .iter()
            .flat_map(|s| ((s * 32_767.0).clamp(-32_768.0, 32_767.0) as i16).to_le_bytes())
            .collect();
        let begun = Instant::now();
        let answer = self.ask(&json!({"rule": rule, "bytes": sound.len()}), &sound)?;
        let ms = begun.elapsed().as_secs_f64() * 1e3;
        let words = answer["words"].as_str();
        let graph = &self.rules.of(rule)?.0;
        let meaning = words.and_then(|words| match graph.match_words(words).as_slice() {
            [only] => Some(only.clone()),
            _ => None,
        });
        Ok(Outcome {
            verdict: if meaning.is_some() { "take" } else { "refuse" },
            value: meaning.map(|m| m.value),
            ms,
            more: json!({"heard": words}),
        })
    }

    fn own_memory_mb(&self) -> Option<f64> {
        let status = format!("/proc/{}/status", self.child.id());
        Some(process_memory_mb(Path::new(&status), "VmHWM"))
    }
}

impl Drop for Jsgf {
    fn drop(&mut self) {
        // It only reads and answers; there is nothing to lose.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// A graph as a grammar in the JSpeech Grammar Format (W3C Note, 2000): a rule for each node, which is
/// right-recursive in form only, since the graph has no cycles.
fn as_jsgf(graph: &Graph) -> String {
    let mut text = "#JSGF V1.0;\ngrammar answers;\n".to_owned();
    let _ = writeln!(text, "public <answer> = <n{}>;", graph.start);
    for (node, edges) in graph.nodes.iter().enumerate() {
        let ways: Vec<String> = edges
            .iter()
            .map(|edge| match &edge.label {
                Label::Word(word) => format!("{} <n{}>", word.to_lowercase(), edge.to),
                Label::Null | Label::Tag(_) | Label::Rule(_) => format!("<n{}>", edge.to),
            })
            .collect();
        let body = if node == graph.end {
            "<NULL>".to_owned()
        } else if ways.is_empty() {
            "<VOID>".to_owned()
        } else {
            ways.join(" | ")
        };
        let _ = writeln!(text, "<n{node}> = {body};");
    }
    text
}
