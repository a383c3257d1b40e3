//! From the end of the inspector's speech to the start of the read-back. Both sides are the two channels
//! of one null sink, so that they have one clock; the known sounds are found in its recording.

use crate::correlate::{find, sounding};
use crate::inspector::{FAINT, Robot, Room, fixture, pactl, seconds};
use crate::plan::word_for;
use anyhow::{Context, Result, ensure};
use loadwalk::audio::devices::Playback;
use loadwalk::audio::{RATE, resample};
use serde_json::Value;
use std::io::Read;
use std::process::{Child, Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Sample rate of the recording, Hz.
const LAB_RATE: u32 = 48_000;
/// How long a read-back is looked for after the end of an answer, seconds.
const LOOK: usize = 5;
/// A sound found with less than this coefficient counts as not found.
const LIKE: f32 = 0.5;
const MICROPHONE: &str = "lab_mic";
const MOUTH: &str = "lab_mic_in";
const LOUDSPEAKER: &str = "lab_spk";

/// What to measure.
#[derive(clap::Args)]
pub struct Options {
    /// Checks to answer
    #[arg(long, default_value_t = 48)]
    answers: usize,
    /// A line of JSON for each answer
    #[arg(long)]
    json: bool,
    /// More options for `loadwalk walk`, after `--`
    #[arg(last = true)]
    more: Vec<String>,
}

/// One answer as it went.
struct Answer {
    word: String,
    /// Length of the recording as the answer began.
    from: usize,
    /// Place of its question in the events.
    asked: usize,
}

/// Both sides as they sound, left the microphone, right the loudspeaker.
struct Recorder {
    child: Child,
    sound: Arc<Mutex<Vec<[f32; 2]>>>,
    /// When its first sample sounded, as near as the arrivals tell.
    begun: Arc<Mutex<Instant>>,
}

impl Recorder {
    fn start() -> Result<Self> {
        let rate = LAB_RATE.to_string();
        let mut child = Command::new("parec")
            .args(["--device=lab.monitor", "--format=s16le", "--channels=2"])
            .args(["--rate", &rate, "--latency-msec=50", "--raw"])
            .stdout(Stdio::piped())
            .spawn()
            .context("parec records; apt install pulseaudio-utils")?;
        let sound = Arc::new(Mutex::new(Vec::new()));
        let kept = Arc::clone(&sound);
        let begun = Arc::new(Mutex::new(Instant::now()));
        let first = Arc::clone(&begun);
        let mut earliest: Option<Instant> = None;
        let mut out = child.stdout.take().context("piped")?;
        std::thread::spawn(move || {
            let mut frame = [0u8; 4];
            let mut piece = vec![0u8; 1_920];
            let mut rest = Vec::new();
            while let Ok(n @ 1..) = out.read(&mut piece) {
                rest.extend_from_slice(&piece[..n]);
                let whole = rest.len() / 4 * 4;
                let mut kept = kept.lock().expect("whole");
                for bytes in rest[..whole].chunks_exact(4) {
                    frame.copy_from_slice(bytes);
                    let [a, b, c, d] = frame;
                    let full = |low, high| f32::from(i16::from_le_bytes([low, high])) / 32_768.0;
                    kept.push([full(a, b), full(c, d)]);
                }
                let length = Duration::from_secs_f64(kept.len() as f64 / f64::from(LAB_RATE));
                drop(kept);
                // A piece arrives late and never early: the earliest beginning is the true one.
                if let Some(at) = Instant::now().checked_sub(length) {
                    let at = earliest.map_or(at, |e| e.min(at));
                    earliest = Some(at);
                    *first.lock().expect("whole") = at;
                }
                rest.drain(..whole);
            }
        });
        Ok(Self {
            child,
            sound,
            begun,
        })
    }

    fn len(&self) -> usize {
        self.sound.lock().expect("whole").len()
    }

    fn stop(mut self) -> Vec<[f32; 2]> {
        let _ = self.child.kill();
        let _ = self.child.wait();
        self.sound.lock().expect("whole").clone()
    }
}

/// Milliseconds of the parts of one answer.
struct Parts {
    kind: &'static str,
    /// From the end of speech to the start of the read-back, both as recorded.
    all: f64,
    /// From the answer's being heard to its being on the disk.
    written: f64,
    /// From there to the start of the read-back.
    spoken: f64,
    /// Recognition, as the program tells it.
    recognised: f64,
}

/// Runs the measurement.
pub fn run(options: &Options) -> Result<()> {
    set_up();
    let recorder = Recorder::start()?;
    let _room = Room::of(MOUTH, FAINT);
    let mut mouth = Playback::open(Some(MOUTH))?;
    let devices = [MICROPHONE, LOUDSPEAKER];
    let mut robot = crate::walk(options.answers, devices, &options.more)?;
    let answers = answer_all(&mut robot, &mut mouth, &recorder);
    let ended = robot.end();
    eprintln!("the walk ended with {ended}; {}", robot.stderr().trim());
    let begun = *recorder.begun.lock().expect("whole");
    let sound = recorder.stop();
    ensure!(
        sound.len() > LAB_RATE as usize,
        "nothing was recorded: {}",
        robot.stderr()
    );
    let mut parts = Vec::new();
    let mut not_found = 0;
    let mut asked_back = 0;
    for answer in &answers {
        let Some((read_back, heard)) = read_back(&robot, answer) else {
            asked_back += 1;
            continue;
        };
        match measure(&robot, &sound, begun, answer, read_back, heard)? {
            Some(found) => {
                if options.json {
                    print(answer, &found);
                }
                parts.push(found);
            }
            None => not_found += 1,
        }
    }
    ensure!(!parts.is_empty(), "no read-back was found");
    table(&parts);
    say(&format!(
        "{} answers: {} read back, {asked_back} asked back or refused, {not_found} not found in the recording",
        answers.len(),
        parts.len()
    ));
    Ok(())
}

#[expect(clippy::print_stdout, reason = "the measurement")]
fn say(line: &str) {
    println!("{line}");
}

fn print(answer: &Answer, parts: &Parts) {
    say(&serde_json::json!({
        "word": answer.word, "ms": parts.all, "written": parts.written,
        "spoken": parts.spoken, "recognised": parts.recognised,
    })
    .to_string());
}

/// One null sink: its left channel is the microphone's, its right one the loudspeaker.
fn set_up() {
    let rate = format!("rate={LAB_RATE}");
    pactl(&[
        "load-module",
        "module-null-sink",
        "sink_name=lab",
        &rate,
        "channels=2",
    ]);
    for (kind, what, master, channel) in [
        ("sink", MOUTH, "lab", "front-left"),
        ("sink", LOUDSPEAKER, "lab", "front-right"),
        ("source", MICROPHONE, "lab.monitor", "front-left"),
    ] {
        pactl(&[
            "load-module",
            &format!("module-remap-{kind}"),
            &format!("{kind}_name={what}"),
            &format!("master={master}"),
            "channels=1",
            "remix=no",
            &format!("channel_map={channel}"),
            &format!("master_channel_map={channel}"),
        ]);
    }
}

/// Answers every question once it was spoken, until the walk ends.
fn answer_all(robot: &mut Robot, mouth: &mut Playback, recorder: &Recorder) -> Vec<Answer> {
    let mut answers = Vec::new();
    let mut ask = Value::Null;
    let mut asked = 0;
    while let Some(event) = robot.next(Duration::from_secs(30)) {
        if event["phrase"] == "ask" {
            asked = robot.events.len() - 1;
            ask = event;
        } else if !ask.is_null() && event["said"] == ask["id"] {
            seconds(0.6);
            let question = ask["say"].as_str().unwrap_or_default();
            let word = word_for(question, answers.len());
            let from = recorder.len();
            robot.speak(mouth, &word);
            answers.push(Answer { word, from, asked });
        }
    }
    answers
}

/// The read-back that follows an answer, and where it was heard, as places in the events; `None` where it
/// was asked back.
fn read_back(robot: &Robot, answer: &Answer) -> Option<(usize, usize)> {
    let mut heard = None;
    for (at, event) in robot.events.iter().enumerate().skip(answer.asked + 1) {
        if event["heard"].is_string() {
            heard = Some(at);
        } else if event["phrase"] == "read-back" {
            return heard.map(|heard| (at, heard));
        } else if event["phrase"] == "ask" {
            return None;
        }
    }
    None
}

fn measure(
    robot: &Robot,
    sound: &[[f32; 2]],
    begun: Instant,
    answer: &Answer,
    read_back: usize,
    heard: usize,
) -> Result<Option<Parts>> {
    let word = loadwalk::audio::read(&fixture(&answer.word))?;
    let word = resample(word.into_vec(), RATE, LAB_RATE)?;
    let text = robot.events[read_back]["say"].as_str().unwrap_or_default();
    let spoken = loadwalk::voice::find_program()?.sound(text, 1.0)?;
    let spoken = resample(spoken.samples.clone(), spoken.rate, LAB_RATE)?;
    let second = LAB_RATE as usize;
    let side = |side: usize, from: usize, seconds: usize, length: usize| -> Vec<f32> {
        let to = (from + seconds * second + length).min(sound.len());
        sound[from.min(to)..to].iter().map(|f| f[side]).collect()
    };
    let from = answer.from.saturating_sub(second / 2);
    let Some(said) = find(&word, &side(0, from, 2, word.len()))? else {
        return Ok(None);
    };
    let end = from + said.at + sounding(&word).1;
    let Some(back) = find(&spoken, &side(1, end, LOOK, spoken.len()))? else {
        return Ok(None);
    };
    if said.likeness < LIKE || back.likeness < LIKE {
        eprintln!(
            "{}: {:.2}, {text:?}: {:.2}",
            answer.word, said.likeness, back.likeness
        );
        return Ok(None);
    }
    let start = back.at + sounding(&spoken).0;
    let ms = |samples: usize| samples as f64 * 1e3 / f64::from(LAB_RATE);
    let on_disk = (heard..read_back).find(|at| robot.events[*at]["entry"]["entry"] == "answered");
    let on_disk = on_disk.map_or(read_back, |at| at);
    let at = |event: usize| robot.times[event].duration_since(begun).as_secs_f64() * 1e3;
    Ok(Some(Parts {
        kind: if answer.word.contains("count") {
            "count"
        } else {
            "word"
        },
        all: ms(start),
        written: at(on_disk) - at(heard),
        spoken: ms(end + start) - at(on_disk),
        recognised: robot.events[heard]["ms"]["total"].as_f64().unwrap_or(0.0),
    }))
}

fn table(parts: &[Parts]) {
    say("| ms | number | median | 95th percentile | least | most |");
    say("| --- | --- | --- | --- | --- | --- |");
    let all = |what: &dyn Fn(&Parts) -> f64| parts.iter().map(what).collect::<Vec<_>>();
    row("end of speech to read-back", all(&|p| p.all));
    for kind in ["word", "count"] {
        let of: Vec<f64> = parts
            .iter()
            .filter(|p| p.kind == kind)
            .map(|p| p.all)
            .collect();
        row(&format!("  a {kind}"), of);
    }
    row(
        "to the answer heard",
        all(&|p| p.all - p.spoken - p.written),
    );
    row("  of it recognition", all(&|p| p.recognised));
    row("to its being on the disk", all(&|p| p.written));
    row("to the read-back", all(&|p| p.spoken));
}

fn row(what: &str, mut values: Vec<f64>) {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    if n == 0 {
        return;
    }
    // The value that so large a share does not exceed.
    let share = |s: f64| values[((n as f64 * s).ceil() as usize).clamp(1, n) - 1];
    say(&format!(
        "| {what} | {n} | {:.0} | {:.0} | {:.0} | {:.0} |",
        share(0.5),
        share(0.95),
        values[0],
        values[n - 1]
    ));
}
