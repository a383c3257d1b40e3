//! A walk by headset: loudspeaker and microphone in turns, the keyboard beside them.

mod early;
mod fitness;
mod microphone;
mod over;

use super::keyboard::{Stroke, Typing, each_stroke};
use super::turns::{Onset, Turns};
use super::{Happening, Meter, Port};
use crate::audio::devices::{Capture, DeviceError};
use crate::ears::Cutter;
use crate::voice::{Chosen, Earcon, Mouth, Spoken, Tell, earcon};
use crate::walk::{Listen, Manner, MonotonicMs, Say, Tone};
use early::Early;
use fitness::Fitness;
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// How often the microphone is read, in ms.
const LOOK_MS: MonotonicMs = 10;
/// Pause before a phrase that could not be spoken is tried again, in ms.
const VOICE_RETRY_MS: MonotonicMs = 2_000;
/// So often a voice that failed is tried again before another one is looked for.
const TRIES_WITH_ONE_VOICE: u32 = 1;
/// Rate at which the length of a tone is reckoned, Hz.
const TONE_RATE: u32 = 1_000;

/// What reaches the port from other threads.
enum Report {
    /// Of the mouth with this number.
    Spoken(u64, Spoken),
    Typed(Stroke),
}

/// The voice as it was last found.
enum Voice {
    Works,
    /// Phrases fail; they are tried again at this time, or are being tried (`None`).
    Lost(Option<MonotonicMs>),
}

/// Finds a mouth that works.
pub type Choose = Box<dyn Fn(Tell) -> Chosen>;

/// Speaks and listens in turns: what the microphone takes while the tool speaks is thrown away.
pub struct Headset {
    opened: Instant,
    mouth: Box<dyn Mouth>,
    /// Its number; what an earlier one still tells does not count.
    mouths: u64,
    mouth_name: String,
    choose: Choose,
    sender: Sender<Report>,
    /// Tries in a row to say what failed.
    tries: u32,
    /// What took the place of a lost device and is not told yet.
    replaced: Vec<String>,
    microphone: Capture,
    microphone_name: String,
    cutter: Cutter,
    reports: Receiver<Report>,
    turns: Turns,
    voice: Voice,
    microphone_lost: bool,
    /// Whether the sound read last went to the cutter.
    open: bool,
    gaps: u64,
    /// Whether what the microphone gives can carry an answer, where that is watched.
    fitness: Option<Fitness>,
    meter: Meter,
    sound: Vec<f32>,
    waiting: VecDeque<Happening>,
    manner: Manner,
    /// When the sound by which an echo is looked for was played.
    checked: Option<Instant>,
    onset: Onset,
    /// Whether the walk takes answers while it is spoken, whatever the headset makes of it.
    walk_over: bool,
    /// Greatest level at which the tool's own voice can come back, dB of full scale.
    echo_dbfs: f32,
    /// Whether something was said while the utterance began.
    over_speech: bool,
    /// Whether the walk gives tones.
    tones: bool,
    /// After an answer that was taken early: whether more is said.
    early: Option<Early>,
    /// When an utterance was handed out last.
    handed: Option<MonotonicMs>,
    /// Its level, dB of full scale.
    handed_dbfs: f32,
    /// Whether nothing was read of the microphone since.
    unread: bool,
    /// Whether what is cut was said before anything was answered to it.
    behind_unread: bool,
    /// Whether the utterance begun last was begun right behind it.
    behind: bool,
}

impl Headset {
    /// Opens the microphone of this name (the default one where `None`), takes over what is typed and
    /// Ctrl-C, shows the level on `meter`, and speaks through what `choose` makes of the way to be told; it is asked again where
    /// the voice fails and does not recover.
    ///
    /// # Errors
    /// Any [`DeviceError`] of the microphone.
    pub fn open(
        microphone: Option<&str>,
        cutter: Cutter,
        choose: Choose,
        typing: Typing,
        meter: Meter,
    ) -> Result<(Self, String, bool), DeviceError> {
        let microphone = Capture::open(microphone)?;
        let (sender, reports) = channel();
        let chosen = choose(tell(sender.clone(), 0));
        let message = format!("listening on {}, {}", microphone.name(), chosen.message);
        let lines = sender.clone();
        // Where the line is not taken any more, the walk is over.
        each_stroke(typing, move |stroke| {
            lines.send(Report::Typed(stroke)).is_ok()
        });
        watch_interrupts(sender.clone());
        let headset = Self {
            opened: Instant::now(),
            mouths: 0,
            mouth_name: chosen.mouth.name(),
            mouth: chosen.mouth,
            choose,
            sender,
            tries: 0,
            replaced: Vec::new(),
            gaps: microphone.gaps(),
            fitness: None,
            microphone_name: microphone.name().to_owned(),
            microphone,
            meter,
            cutter,
            reports,
            turns: Turns::default(),
            voice: Voice::Works,
            microphone_lost: false,
            open: false,
            sound: Vec::new(),
            waiting: VecDeque::new(),
            manner: Manner::default(),
            checked: None,
            onset: Onset::default(),
            walk_over: false,
            echo_dbfs: f32::NEG_INFINITY,
            over_speech: false,
            tones: false,
            early: None,
            handed: None,
            handed_dbfs: f32::NEG_INFINITY,
            unread: false,
            behind_unread: false,
            behind: false,
        };
        Ok((headset, message, chosen.speaks))
    }

    /// Holds the walk while the microphone is muted, driven over or drowned in noise.
    pub fn watch_fitness(&mut self) {
        self.fitness = Some(Fitness::default());
    }

    /// The microphone's name.
    pub fn microphone(&self) -> &str {
        &self.microphone_name
    }

    fn take(&mut self, report: Report) {
        let now = self.now();
        match report {
            Report::Spoken(mouth, _) if mouth != self.mouths => {}
            Report::Spoken(_, Spoken::Said(id)) => {
                if self.turns.said(id, now) {
                    self.waiting.push_back(Happening::Said(id));
                    self.voice_works();
                    self.voice_moved();
                    self.tone_in_place_of_the_walk();
                }
            }
            // Cut by ourselves; the walk knows.
            Report::Spoken(_, Spoken::Cut(_)) => {}
            Report::Spoken(_, Spoken::Failed(id, error)) => {
                if self.turns.is_saying(id) {
                    if matches!(self.voice, Voice::Works) {
                        self.waiting.push_back(Happening::Lost(error.to_string()));
                    }
                    self.voice = Voice::Lost(Some(now + VOICE_RETRY_MS));
                }
            }
            Report::Typed(Stroke::Line(line)) => {
                if self.turns.is_listening() {
                    self.waiting.push_back(Happening::Typed(line));
                } else if !line.trim().is_empty() {
                    // It was meant for another question, or for none.
                    self.waiting.push_back(Happening::Remark(
                        "typed while nothing was asked, so it does not count; type it after the tone"
                            .to_owned(),
                    ));
                }
            }
            Report::Typed(Stroke::Interrupt) => self
                .waiting
                .push_front(Happening::Over("it was interrupted".into())),
        }
    }

    /// Says again what failed. The walk waits in its hold meanwhile.
    fn try_voice_again(&mut self) {
        let Voice::Lost(Some(at)) = self.voice else {
            return;
        };
        if self.now() < at {
            return;
        }
        self.voice = Voice::Lost(None);
        self.tries += 1;
        if self.tries > TRIES_WITH_ONE_VOICE && !self.choose_again() {
            self.voice = Voice::Lost(Some(self.now() + VOICE_RETRY_MS));
            return;
        }
        let mut tried = false;
        for say in self.turns.phrases() {
            self.mouth.say(say.id, &say.text);
            tried = true;
        }
        if !tried {
            // Nothing is left that could fail; the next phrase will show.
            self.voice_works();
        }
    }

    /// Takes another mouth in the place of one that does not recover, as a speech service that missed
    /// the end of a phrase. False where nothing on this machine speaks.
    fn choose_again(&mut self) -> bool {
        let chosen = (self.choose)(tell(self.sender.clone(), self.mouths + 1));
        if !chosen.speaks {
            return false;
        }
        self.waiting.push_back(Happening::Remark(chosen.message));
        self.mouth = chosen.mouth;
        self.mouth.set_manner(spoken_so(self.manner));
        self.mouths += 1;
        true
    }

    fn voice_works(&mut self) {
        self.tries = 0;
        if matches!(self.voice, Voice::Lost(_)) {
            self.voice = Voice::Works;
            let name = self.mouth.name();
            if name != self.mouth_name {
                self.replaced.push(format!("the voice is now {name}"));
                self.mouth_name = name;
                self.no_more_talking_over();
            }
            self.tell_if_back();
        }
    }

    /// A loudspeaker may go and another come while nothing is said, so that nothing fails: what the microphone hears of
    /// that one was never measured.
    fn voice_moved(&mut self) {
        let name = self.mouth.name();
        if name == self.mouth_name {
            return;
        }
        self.waiting
            .push_back(Happening::Replaced(format!("the voice is now {name}")));
        self.mouth_name = name;
        self.no_more_talking_over();
    }

    /// Only with both microphone and voice can the walk go on.
    fn tell_if_back(&mut self) {
        let fit = !self.microphone_lost && !self.is_unfit();
        if fit && matches!(self.voice, Voice::Works) {
            let replaced = std::mem::take(&mut self.replaced);
            self.waiting.push_back(if replaced.is_empty() {
                Happening::Back
            } else {
                Happening::Replaced(replaced.join(", "))
            });
        }
    }

    fn turn(&mut self, listening: bool) {
        self.waits_behind();
        self.forget_sound();
        self.waiting.retain(|h| !matches!(h, Happening::Typed(_)));
        self.turns.listen(listening);
    }
}

impl Port for Headset {
    fn now(&self) -> MonotonicMs {
        self.opened.elapsed().as_millis() as MonotonicMs
    }

    fn say(&mut self, say: &Say) -> anyhow::Result<()> {
        self.turns.say(say);
        self.mouth.say(say.id, &say.text);
        Ok(())
    }

    fn listen(&mut self, listen: &Listen) {
        self.cutter.expect_breaths(!listen.items.is_empty());
        // A phrase whose end was never told is over for the walk when it listens.
        if !self.walk_over && self.turns.phrases().next().is_some() {
            self.quiet();
        }
        self.turn(true);
    }

    fn hush(&mut self) {
        self.turn(false);
    }

    fn quiet(&mut self) {
        self.mouth.stop();
        let now = self.now();
        self.turns.drop_phrases(now);
        self.waiting.retain(|h| !matches!(h, Happening::Said(_)));
    }

    fn manner(&mut self, manner: Manner) {
        self.manner = manner;
        self.mouth.set_manner(spoken_so(manner));
        if let Err(error) = crate::cli::manner::keep(manner) {
            self.waiting.push_back(Happening::Remark(format!(
                "how it speaks is not kept for the next walk: {error}"
            )));
        }
    }

    fn prepare(&mut self, texts: &[String]) {
        self.mouth.prepare(texts);
    }

    fn end_early(&mut self, samples: usize) -> anyhow::Result<bool> {
        self.take_early(samples)
    }

    fn tone(&mut self, tone: Tone) {
        self.tones = true;
        let which = match tone {
            Tone::Listening => Earcon::Listening,
            Tone::Heard => Earcon::Heard,
            Tone::Refused => Earcon::Refused,
            Tone::Held => Earcon::Held,
        };
        let length = earcon(which, TONE_RATE).samples.len() as MonotonicMs;
        let now = self.now();
        self.turns.tone(length, now);
        self.mouth.tone(which);
    }

    fn wait(&mut self, deadline: Option<MonotonicMs>) -> anyhow::Result<Happening> {
        loop {
            while let Ok(report) = self.reports.try_recv() {
                self.take(report);
            }
            self.hear()?;
            self.try_voice_again();
            if let Some(happening) = self.waiting.pop_front() {
                return Ok(happening);
            }
            let now = self.now();
            let left = deadline.map_or(LOOK_MS, |d| d.saturating_sub(now));
            if left == 0 {
                return Ok(Happening::Deadline);
            }
            let left = Duration::from_millis(left.min(LOOK_MS));
            if let Ok(report) = self.reports.recv_timeout(left) {
                self.take(report);
            }
        }
    }
}

fn spoken_so(manner: Manner) -> crate::voice::Manner {
    crate::voice::Manner {
        rate: f32::from(manner.rate) / 100.0,
        volume: f32::from(manner.volume) / 100.0,
    }
}

fn tell(sender: Sender<Report>, mouth: u64) -> Tell {
    Arc::new(move |spoken| {
        // Nobody listens any more once the walk is over.
        let _ = sender.send(Report::Spoken(mouth, spoken));
    })
}

/// Breaks the walk off at the first Ctrl-C; a second one ends the process, which the record survives.
fn watch_interrupts(sender: Sender<Report>) {
    std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build();
        // Without a handler Ctrl-C ends the process, as ever.
        let Ok(runtime) = runtime else { return };
        runtime.block_on(async {
            while tokio::signal::ctrl_c().await.is_ok() {
                if sender.send(Report::Typed(Stroke::Interrupt)).is_err() {
                    break;
                }
                if tokio::signal::ctrl_c().await.is_ok() {
                    std::process::exit(1);
                }
            }
        });
    });
}
