//! The system's speech service.

use crate::voice::{Earcon, Manner, Mouth, PhraseId, Spoken, Tell, VoiceError, spoken};
use std::collections::VecDeque;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::time::{Duration, Instant};
use tts::{Tts, UtteranceId};

/// Time that a phrase may take: so long, and so long for each character. A service without a working
/// sound device starts a phrase and never ends it.
const PATIENCE: Duration = Duration::from_secs(2);
const PATIENCE_CHARACTER: Duration = Duration::from_millis(120);

const NAME: &str = "the system's speech service";

/// Speaks through the system's speech service, which is used from one thread only.
pub struct Service {
    orders: Sender<Order>,
    tones: Option<Box<dyn Mouth>>,
    manner: Manner,
}

enum Order {
    Say(Phrase),
    Stop,
    /// The service ended or stopped an utterance.
    Ended(String),
    Close,
}

struct Phrase {
    id: PhraseId,
    text: String,
    manner: Manner,
}

impl Service {
    /// Connects to the service and has it say one silent word, which shows that it works. The service
    /// plays no tones; `tones` does.
    ///
    /// # Errors
    /// [`VoiceError::Failed`] or [`VoiceError::TooSlow`].
    pub fn open(tones: Option<Box<dyn Mouth>>, tell: Tell) -> Result<Self, VoiceError> {
        let (orders, taken) = mpsc::channel();
        let (ready, opened) = mpsc::channel();
        let back = orders.clone();
        std::thread::Builder::new()
            .name("speech service".to_owned())
            .spawn(move || {
                let started = Worker::start(back, taken, tell).and_then(|mut worker| {
                    worker.try_out()?;
                    Ok(worker)
                });
                // The receiver of `ready` waits for exactly one answer.
                match started {
                    Ok(worker) => {
                        let _ = ready.send(Ok(()));
                        worker.run();
                    }
                    Err(error) => {
                        let _ = ready.send(Err(error));
                    }
                }
            })
            .map_err(failed)?;
        match opened.recv() {
            Ok(Ok(())) => Ok(Self {
                orders,
                tones,
                manner: Manner::default(),
            }),
            Ok(Err(error)) => Err(error),
            Err(_) => Err(failed("its thread ended")),
        }
    }
}

impl Mouth for Service {
    fn name(&self) -> String {
        NAME.to_owned()
    }

    fn say(&mut self, id: PhraseId, text: &str) {
        // The thread lives as long as this value.
        let _ = self.orders.send(Order::Say(Phrase {
            id,
            text: spoken(text),
            manner: self.manner,
        }));
    }

    fn tone(&mut self, which: Earcon) {
        if let Some(tones) = &mut self.tones {
            tones.tone(which);
        }
    }

    fn stop(&mut self) {
        let _ = self.orders.send(Order::Stop);
        if let Some(tones) = &mut self.tones {
            tones.stop();
        }
    }

    fn set_manner(&mut self, manner: Manner) {
        self.manner = manner.bounded();
        if let Some(tones) = &mut self.tones {
            tones.set_manner(self.manner);
        }
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        let _ = self.orders.send(Order::Close);
    }
}

/// What is being said.
struct Now {
    id: PhraseId,
    utterance: String,
    until: Instant,
}

struct Worker {
    tts: Tts,
    orders: Receiver<Order>,
    tell: Tell,
    waiting: VecDeque<Phrase>,
    now: Option<Now>,
    /// The service missed an end once; nothing more is given to it.
    dead: bool,
}

impl Worker {
    fn start(back: Sender<Order>, orders: Receiver<Order>, tell: Tell) -> Result<Self, VoiceError> {
        let tts = Tts::default().map_err(failed)?;
        if !tts.supported_features().utterance_callbacks {
            return Err(failed("it does not tell when a phrase ends"));
        }
        // The library holds a lock while it calls these: they must do nothing but send.
        let stopped = back.clone();
        tts.on_utterance_end(Some(Box::new(move |utterance| {
            let _ = back.send(Order::Ended(name_of(&utterance)));
        })))
        .map_err(failed)?;
        tts.on_utterance_stop(Some(Box::new(move |utterance| {
            let _ = stopped.send(Order::Ended(name_of(&utterance)));
        })))
        .map_err(failed)?;
        Ok(Self {
            tts,
            orders,
            tell,
            waiting: VecDeque::new(),
            now: None,
            dead: false,
        })
    }

    /// One silent word to its end.
    fn try_out(&mut self) -> Result<(), VoiceError> {
        let silent = Manner {
            volume: 0.0,
            ..Manner::default()
        };
        let utterance = self.speak("ready", silent)?;
        let until = Instant::now() + patience("ready");
        loop {
            match self.orders.recv_timeout(left(until)) {
                Ok(Order::Ended(ended)) if ended == utterance => return Ok(()),
                Ok(_) => {}
                Err(_) => return Err(too_slow("ready")),
            }
        }
    }

    fn run(mut self) {
        loop {
            self.begin_next();
            let order = match &self.now {
                Some(now) => self.orders.recv_timeout(left(now.until)),
                None => self.orders.recv().map_err(RecvTimeoutError::from),
            };
            match order {
                Ok(Order::Say(phrase)) => self.waiting.push_back(phrase),
                Ok(Order::Stop) => self.stop(),
                Ok(Order::Ended(utterance)) => {
                    if let Some(now) = self.now.take_if(|now| now.utterance == utterance) {
                        (self.tell)(Spoken::Said(now.id));
                    }
                }
                Err(RecvTimeoutError::Timeout) => {
                    self.dead = true;
                    if let Some(now) = self.now.take() {
                        (self.tell)(Spoken::Failed(now.id, too_slow("the phrase")));
                    }
                }
                Ok(Order::Close) | Err(RecvTimeoutError::Disconnected) => {
                    self.stop();
                    return;
                }
            }
        }
    }

    fn begin_next(&mut self) {
        while self.now.is_none() {
            let Some(phrase) = self.waiting.pop_front() else {
                return;
            };
            let until = Instant::now() + patience(&phrase.text);
            let spoken = if self.dead {
                Err(failed("it stopped answering"))
            } else {
                self.speak(&phrase.text, phrase.manner)
            };
            match spoken {
                Ok(utterance) => {
                    self.now = Some(Now {
                        id: phrase.id,
                        utterance,
                        until,
                    });
                }
                Err(error) => (self.tell)(Spoken::Failed(phrase.id, error)),
            }
        }
    }

    fn speak(&mut self, text: &str, manner: Manner) -> Result<String, VoiceError> {
        let features = self.tts.supported_features();
        if features.rate {
            let (low, normal, high) = (
                self.tts.min_rate(),
                self.tts.normal_rate(),
                self.tts.max_rate(),
            );
            // Half of the service's range each way; its ends cannot be understood.
            let rate = if manner.rate >= 1.0 {
                normal + (manner.rate - 1.0) * (high - normal) / 2.0
            } else {
                normal - (1.0 - manner.rate) * (normal - low)
            };
            self.tts.set_rate(rate).map_err(failed)?;
        }
        if features.volume {
            let (low, high) = (self.tts.min_volume(), self.tts.max_volume());
            let volume = low + manner.volume * (high - low);
            self.tts.set_volume(volume).map_err(failed)?;
        }
        let utterance = self.tts.speak(text, false).map_err(failed)?;
        utterance
            .map(|utterance| name_of(&utterance))
            .ok_or_else(|| failed("it gave no number for the phrase"))
    }

    fn stop(&mut self) {
        let now = self.now.take().map(|now| now.id);
        if now.is_some() {
            // A phrase that goes on sounding is the service's fault and shows in the next one's end.
            let _ = self.tts.stop();
        }
        for id in now.into_iter().chain(self.waiting.drain(..).map(|p| p.id)) {
            (self.tell)(Spoken::Cut(id));
        }
    }
}

/// The library's numbers are compared by their printed form: not on every system can they be compared
/// themselves.
fn name_of(utterance: &UtteranceId) -> String {
    format!("{utterance:?}")
}

fn patience(text: &str) -> Duration {
    PATIENCE + PATIENCE_CHARACTER * u32::try_from(text.chars().count()).unwrap_or(u32::MAX)
}

fn left(until: Instant) -> Duration {
    until.saturating_duration_since(Instant::now())
}

fn failed(what: impl ToString) -> VoiceError {
    VoiceError::Failed {
        program: NAME.to_owned(),
        what: what.to_string(),
    }
}

fn too_slow(text: &str) -> VoiceError {
    VoiceError::TooSlow {
        program: NAME.to_owned(),
        seconds: patience(text).as_secs(),
    }
}
