//! The robot: reads the events of a walk and speaks fixtures into the microphone's sink.

use loadwalk::audio::devices::{Playback, Played};
use loadwalk::audio::pad_noise::Preset;
use loadwalk::audio::{Clip, RATE};
use serde_json::Value;
use std::io::{BufRead, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// What nothing here should ever take.
const LONG: Duration = Duration::from_secs(60);

static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());

/// The only one at the headset; `None` without a virtual headset.
pub fn alone() -> Option<MutexGuard<'static, ()>> {
    std::env::var_os("LOADWALK_VIRTUAL_HEADSET")?;
    Some(ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner))
}

pub fn seconds(s: f64) {
    std::thread::sleep(Duration::from_secs_f64(s));
}

/// Runs pactl; gives what it prints.
pub fn pactl(arguments: &[&str]) -> String {
    let ran = Command::new("pactl").args(arguments).output();
    let ran = ran.expect("pactl runs");
    String::from_utf8_lossy(&ran.stdout).into_owned()
}

pub fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("audio-fixtures")
        .join(name)
}

/// Peak of the noise in a quiet room, full scale 1.
pub const FAINT: f32 = 0.003;

/// Faint noise in the microphone, as in any room: a microphone that gives nothing at all is muted.
pub struct Room(Arc<AtomicBool>);

impl Room {
    /// Noise of this peak, full scale 1, into a sink.
    pub fn of(sink: &'static str, level: f32) -> Self {
        let over = Arc::new(AtomicBool::new(false));
        let cut = Arc::clone(&over);
        std::thread::spawn(move || {
            let noise = Preset::Gusty.parameters().generate(160_000, 11);
            let peak = noise.iter().fold(0.0f32, |m, s| m.max(s.abs()));
            let clip = Clip {
                rate: RATE,
                samples: noise,
            };
            let mut room = Playback::open(Some(sink)).expect("the microphone's sink");
            let cut = || cut.load(Ordering::Relaxed);
            while !cut() {
                room.play(&clip, level / peak, &cut);
            }
        });
        Self(over)
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// What an inspector says who finds all in order.
pub fn word_for(question: &str) -> &'static str {
    let words = [
        ("Did you", "joe/yes-no/yes.flac"),
        ("Say yes", "joe/yes-no/yes.flac"),
        ("All checks done", "joe/yes-no/yes.flac"),
        ("sheet", "joe/presence/present.flac"),
        ("Loops", "joe/count/four.flac"),
        ("", "joe/condition/good.flac"),
    ];
    let fits = words.iter().find(|(part, _)| question.contains(part));
    fits.expect("the last fits all").1
}

/// A walk by headset, and its events so far.
pub struct Robot {
    child: Child,
    lines: Receiver<(Instant, Value)>,
    stderr: Arc<Mutex<String>>,
    /// Everything printed, in order.
    pub events: Vec<Value>,
    /// When each was printed.
    pub times: Vec<Instant>,
    /// Where the record is.
    pub folder: tempfile::TempDir,
}

impl Robot {
    /// Starts a walk that prints JSON and keeps its record in `folder/record`.
    pub fn start(mut command: Command, folder: tempfile::TempDir) -> Self {
        command.args(["--json", "--record"]);
        command.arg(folder.path().join("record"));
        command.stdin(Stdio::null());
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().expect("it starts");
        let (send, lines) = channel();
        let out = BufReader::new(child.stdout.take().expect("piped"));
        std::thread::spawn(move || {
            let events = out.lines().map_while(Result::ok);
            events
                .filter_map(|line| serde_json::from_str(&line).ok())
                .all(|event| send.send((Instant::now(), event)).is_ok())
        });
        let stderr = Arc::new(Mutex::new(String::new()));
        let (mut err, kept) = (child.stderr.take().expect("piped"), Arc::clone(&stderr));
        std::thread::spawn(move || {
            let mut piece = [0; 4_096];
            while let Ok(n @ 1..) = err.read(&mut piece) {
                let text = String::from_utf8_lossy(&piece[..n]);
                kept.lock().expect("whole").push_str(&text);
            }
        });
        Self {
            child,
            lines,
            stderr,
            events: Vec::new(),
            times: Vec::new(),
            folder,
        }
    }

    pub fn stderr(&self) -> String {
        self.stderr.lock().expect("whole").clone()
    }

    /// Waits for an event from here on.
    #[track_caller]
    pub fn until(&mut self, wanted: impl Fn(&Value) -> bool) -> Value {
        let since = Instant::now();
        loop {
            let left = LONG.saturating_sub(since.elapsed());
            let Some(event) = self.next(left) else {
                let last = self.events.iter().rev().take(40).rev();
                let last: Vec<String> = last.map(ToString::to_string).collect();
                panic!(
                    "waited in vain; stderr: {}; the last events:\n{}",
                    self.stderr(),
                    last.join("\n")
                );
            };
            if wanted(&event) {
                return event;
            }
        }
    }

    /// The next event, if one comes in time.
    pub fn next(&mut self, within: Duration) -> Option<Value> {
        let (at, event) = self.lines.recv_timeout(within).ok()?;
        self.events.push(event.clone());
        self.times.push(at);
        Some(event)
    }

    /// Waits until the phrase before this one was spoken: phrases are handed out ahead.
    pub fn until_begun(&mut self, say: &Value) {
        let before = say["id"].as_u64().expect("a number") - 1;
        self.until(|e| e["said"] == before);
    }

    /// Whether these words were spoken so far.
    pub fn said(&self, words: &str) -> bool {
        let mut said = self.events.iter().filter_map(|e| e["say"].as_str());
        said.any(|s| s.contains(words))
    }

    /// The events after this one.
    pub fn after<'a>(&'a self, event: &Value) -> impl Iterator<Item = &'a Value> {
        let at = self.events.iter().position(|e| e == event);
        self.events[at.expect("it came") + 1..].iter()
    }

    /// Speaks a fixture to its end.
    pub fn speak(&self, mouth: &mut Playback, name: &str) {
        speak(mouth, samples(name));
    }

    /// Speaks two fixtures, this long after the end of the speech in the first, in seconds, that in the second.
    pub fn speak_both(&self, mouth: &mut Playback, names: [&str; 2], gap: f32) {
        let [mut first, second] = names.map(|name| {
            let sound = samples(name);
            let peak = sound.iter().fold(0.0f32, |m, s| m.max(s.abs()));
            let loud = |s: &f32| s.abs() > peak / 300.0;
            let from = sound.iter().position(loud).unwrap_or(0);
            let to = sound.iter().rposition(loud).unwrap_or(0);
            sound[from..=to].to_vec()
        });
        first.resize(first.len() + (gap * RATE as f32) as usize, 0.0);
        first.extend(second);
        speak(mouth, first);
    }

    /// Answers every question, each after it was spoken, with the fixture that `word` names; until the
    /// program ends.
    pub fn walk_on(&mut self, mouth: &mut Playback, word: impl Fn(&str) -> &'static str) {
        let mut ask = Value::Null;
        let since = Instant::now();
        while since.elapsed() < 3 * LONG {
            let Some(event) = self.next(LONG) else {
                return;
            };
            if event["phrase"] == "ask" {
                ask = event;
            } else if !ask.is_null() && event["said"] == ask["id"] {
                seconds(0.7);
                self.speak(mouth, word(ask["say"].as_str().expect("text")));
            }
        }
    }

    /// Waits for the end; gives the exit code.
    #[track_caller]
    pub fn end(&mut self) -> i32 {
        let since = Instant::now();
        while since.elapsed() < LONG {
            if let Some(status) = self.child.try_wait().expect("it can be asked") {
                return status.code().expect("it ended by itself");
            }
            while self.next(Duration::from_millis(50)).is_some() {}
            seconds(0.01);
        }
        let events = self.events.len().saturating_sub(12);
        let _ = self.child.kill();
        panic!("it does not end: {:#?}", &self.events[events..]);
    }

    /// Whether the program still runs.
    pub fn is_running(&mut self) -> bool {
        matches!(self.child.try_wait(), Ok(None))
    }

    /// The program's process.
    pub fn process(&self) -> u32 {
        self.child.id()
    }

    pub fn kill(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Drop for Robot {
    fn drop(&mut self) {
        self.kill();
    }
}

fn samples(name: &str) -> Vec<f32> {
    let sound = loadwalk::audio::read(&fixture(name)).expect("it reads");
    sound.into_vec()
}

fn speak(mouth: &mut Playback, samples: Vec<f32>) {
    let clip = Clip {
        rate: RATE,
        samples,
    };
    assert_eq!(mouth.play(&clip, 1.0, &|| false), Played::Whole);
}
