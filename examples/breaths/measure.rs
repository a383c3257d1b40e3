//! Hears breaths of called findings as a headset would, and counts.

use super::{Line, conforms, stations};
use anyhow::Context;
use loadwalk::audio::pad_noise::{Preset, mix};
use loadwalk::ears::decide::Verdict;
use loadwalk::ears::endpoint::Endpointing;
use loadwalk::ears::{Active, Breath, CHUNK, Cutter, Ears, SpeechActivity};
use loadwalk::grammar::{CalledItem, called};
use serde_json::json;
use std::collections::BTreeMap;
use std::io::Write;
use std::time::Instant;

/// Zeros after a file, as `loadwalk hear` has them.
const TAIL: usize = 12_800;

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

/// Hears and counts.
pub struct Bench {
    ears: Ears,
    cutter: Cutter,
    out: std::fs::File,
    tallies: BTreeMap<String, Tally>,
    wrong: Vec<String>,
    times: Vec<Times>,
    stations: BTreeMap<(String, String), Vec<CalledItem>>,
}

impl Bench {
    /// Writes a line for each breath to `out`.
    pub fn new(ears: Ears, activity: SpeechActivity, out: std::fs::File) -> Self {
        Self {
            ears,
            cutter: Cutter::new(activity, Endpointing::default()),
            out,
            tallies: BTreeMap::new(),
            wrong: Vec::new(),
            times: Vec::new(),
            stations: BTreeMap::new(),
        }
    }

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

    /// Hears one breath in each of these noises; `n` seeds them.
    pub fn measure(
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
        self.cutter.expect_breaths(true);
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
            "more": heard.iter().map(|(b, _)| b.more).collect::<Vec<_>>(),
        });
        writeln!(self.out, "{line}")?;
        Ok(())
    }

    /// Prints the tables.
    pub fn report(&mut self) {
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
