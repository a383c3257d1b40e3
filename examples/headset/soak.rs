//! A long walk at the speed of life through a microphone whose clock runs slow: memory stays flat, no sound
//! is lost, and answers are heard as soon at the end as at the beginning.

use crate::inspector::{Robot, fixture, pactl, seconds};
use crate::plan::word_for;
use anyhow::{Context, Result, ensure};
use loadwalk::audio::RATE;
use loadwalk::audio::pad_noise::Preset;
use serde_json::Value;
use std::fs::OpenOptions;
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// The microphone's clock over that of the machine: 200 millionths slow, a poor crystal. Not fast: the sound
/// server takes no more from a pipe than its rate, so that the surplus would wait in the pipe.
const CLOCK: f64 = 0.999_8;
/// Samples written at a time: 20 ms.
const BLOCK: usize = RATE as usize / 50;
/// Peak of the noise in the microphone, full scale 1.
const NOISE: f32 = 0.003;
/// Growth of the resident memory over the last third that counts as flat, MB an hour. The walk keeps
/// every answer, some kB each.
const FLAT: f64 = 24.0;
/// How much later answers may be heard in the last third than in the first, ms.
const LATER: f64 = 150.0;
/// Seconds a check takes at least.
const CHECK: u64 = 4;
/// Most checks of a plan: an hour at the pace of a person has some 650.
const CHECKS_MAX: usize = 800;

/// What to do.
#[derive(clap::Args)]
pub struct Options {
    /// Length in minutes
    #[arg(long, default_value_t = 60)]
    minutes: u64,
    /// More options for `loadwalk walk`, after `--`
    #[arg(last = true)]
    more: Vec<String>,
}

/// Words waiting to be spoken, and when the last one ended.
#[derive(Default)]
struct Lips {
    waiting: Vec<f32>,
    ended: Option<Instant>,
}

/// A microphone with a clock of its own: noise and words written into a pipe at its own pace.
struct Microphone {
    lips: Arc<Mutex<Lips>>,
    over: Arc<AtomicBool>,
    written: std::thread::JoinHandle<Result<u64>>,
}

impl Microphone {
    fn open(pipe: &Path) -> Result<Self> {
        pactl(&[
            "load-module",
            "module-pipe-source",
            "source_name=soak_mic",
            &format!("file={}", pipe.display()),
            "format=s16le",
            &format!("rate={RATE}"),
            "channels=1",
        ]);
        let lips = Arc::new(Mutex::new(Lips::default()));
        let over = Arc::new(AtomicBool::new(false));
        let (speaking, end) = (Arc::clone(&lips), Arc::clone(&over));
        let mut out = OpenOptions::new()
            .write(true)
            .open(pipe)
            .context("the pipe into the microphone")?;
        let written = std::thread::spawn(move || {
            let noise = Preset::Gusty.parameters().generate(60 * RATE as usize, 11);
            let peak = noise.iter().fold(0.0f32, |m, s| m.max(s.abs()));
            let begun = Instant::now();
            let mut at = 0u64;
            while !end.load(Ordering::Relaxed) {
                let from = at as usize % (noise.len() - BLOCK);
                let mut block: Vec<f32> = noise[from..from + BLOCK]
                    .iter()
                    .map(|s| s * NOISE / peak)
                    .collect();
                let mut lips = speaking.lock().expect("whole");
                let n = lips.waiting.len().min(BLOCK);
                for (b, w) in block.iter_mut().zip(lips.waiting.drain(..n)) {
                    *b += w;
                }
                if n > 0 && lips.waiting.is_empty() {
                    lips.ended = Some(Instant::now());
                }
                drop(lips);
                let full = |s: &f32| ((s.clamp(-1.0, 1.0) * 32_767.0) as i16).to_le_bytes();
                out.write_all(&block.iter().flat_map(full).collect::<Vec<u8>>())?;
                at += BLOCK as u64;
                let due = at as f64 / (f64::from(RATE) * CLOCK);
                let wait = Duration::from_secs_f64(due).saturating_sub(begun.elapsed());
                std::thread::sleep(wait);
            }
            Ok(at)
        });
        Ok(Self {
            lips,
            over,
            written,
        })
    }

    fn speak(&self, word: &str) -> Result<()> {
        let sound = loadwalk::audio::read(&fixture(word))?;
        let mut lips = self.lips.lock().expect("whole");
        lips.ended = None;
        lips.waiting.extend_from_slice(&sound);
        Ok(())
    }

    fn ended(&self) -> Option<Instant> {
        self.lips.lock().expect("whole").ended
    }

    fn close(self) -> Result<u64> {
        self.over.store(true, Ordering::Relaxed);
        self.written
            .join()
            .map_err(|_| anyhow::anyhow!("it broke"))?
    }
}

/// Runs it.
pub fn run(options: &Options) -> Result<()> {
    let scratch = tempfile::tempdir()?;
    let microphone = Microphone::open(&scratch.path().join("microphone"))?;
    let length = Duration::from_secs(60 * options.minutes);
    let checks = ((length.as_secs() / CHECK) as usize + 8).min(CHECKS_MAX);
    let mut robot = crate::walk(checks, ["soak_mic", "vspk"], &options.more)?;
    let begun = Instant::now();
    let mut memory = Vec::new();
    let mut delays = Vec::new();
    let mut ask = Value::Null;
    let mut words = 0;
    while begun.elapsed() < length {
        let Some(event) = robot.next(Duration::from_secs(10)) else {
            ensure!(robot.is_running(), "it ended early: {}", robot.stderr());
            continue;
        };
        let hours = begun.elapsed().as_secs_f64() / 3_600.0;
        if event["phrase"] == "ask" {
            ask = event;
        } else if event["heard"].is_string() {
            if let Some(ended) = microphone.ended() {
                delays.push((hours, ended.elapsed().as_secs_f64() * 1e3));
            }
            memory.push((hours, resident_mb(robot.process())?));
        } else if !ask.is_null() && event["said"] == ask["id"] {
            seconds(0.6);
            let question = ask["say"].as_str().unwrap_or_default();
            microphone.speak(&word_for(question, words))?;
            words += 1;
        }
    }
    let count = |entry: &str| {
        let all = robot.events.iter();
        all.filter(|e| e["entry"]["entry"] == entry).count()
    };
    let (answered, held) = (count("answered"), count("held"));
    let asked = count("asked");
    robot.kill();
    let elapsed = begun.elapsed().as_secs_f64();
    let written = microphone.close()?;
    verify(&robot)?;
    let third = elapsed / 3_600.0 / 3.0;
    let (slope, first, last) = (
        slope(memory.iter().filter(|(h, _)| *h > 2.0 * third)),
        median(delays.iter().filter(|(h, _)| *h < third)),
        median(delays.iter().filter(|(h, _)| *h > 2.0 * third)),
    );
    let most = memory.iter().fold(0.0f64, |m, (_, mb)| m.max(*mb));
    tell(&format!(
        "{:.1} min, {words} words, {asked} questions, {answered} answers taken, {held} holds\n\
         microphone {:.0} millionths slow: {:.0} samples fewer than by the machine's clock\n\
         resident memory: {most:.0} MB at most, {slope:+.1} MB an hour over the last third\n\
         end of a word to its being heard: median {first:.0} ms in the first third, {last:.0} ms in the last",
        elapsed / 60.0,
        (1.0 - CLOCK) * 1e6,
        written as f64 * (1.0 / CLOCK - 1.0),
    ));
    ensure!(answered * 10 >= words * 7, "too few answers were taken");
    ensure!(held == 0, "the walk was held: {}", robot.stderr());
    ensure!(slope < FLAT, "memory grows");
    ensure!(last < first + LATER, "answers are heard later and later");
    Ok(())
}

#[expect(clippy::print_stdout, reason = "the measurement")]
fn tell(lines: &str) {
    println!("{lines}");
}

/// Resident memory of a process, MB.
fn resident_mb(process: u32) -> Result<f64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status"))?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"));
    let kb = line.and_then(|l| l.split_whitespace().next());
    Ok(kb.context("no VmRSS")?.parse::<f64>()? / 1_024.0)
}

fn verify(robot: &Robot) -> Result<()> {
    let record = robot.folder.path().join("record");
    let ran = Command::new(crate::program()?)
        .arg("verify")
        .arg(record)
        .output()?;
    ensure!(
        ran.status.success(),
        "the record is not intact: {}",
        String::from_utf8_lossy(&ran.stdout)
    );
    Ok(())
}

/// Slope of the straight line of least squares.
fn slope<'a>(points: impl Iterator<Item = &'a (f64, f64)> + Clone) -> f64 {
    let n = points.clone().count().max(1) as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.clone().map(of).sum::<f64>() / n;
    let (x, y) = (mean(|p| p.0), mean(|p| p.1));
    let along = points.clone().map(|p| (p.0 - x) * (p.1 - y)).sum::<f64>();
    let across = points.map(|p| (p.0 - x).powi(2)).sum::<f64>();
    along / across.max(f64::MIN_POSITIVE)
}

fn median<'a>(points: impl Iterator<Item = &'a (f64, f64)>) -> f64 {
    let mut values: Vec<f64> = points.map(|p| p.1).collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
