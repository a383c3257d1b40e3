//! Synthesised speech and tones through a loudspeaker of our own.

use crate::audio::Clip;
use crate::audio::devices::{DeviceError, Playback, Played};
use crate::voice::{Earcon, Manner, Mouth, PhraseId, Spoken, Store, Tell, VoiceError, earcon};
use std::collections::VecDeque;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Sender, channel};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};

/// Sample rate at which tones are made, Hz.
const TONE_RATE: u32 = 48_000;

/// A voice that one thread speaks with and another prepares.
type SharedVoice = Arc<Mutex<Store>>;

/// Speaks through a loudspeaker. Synthesis and playing run on a thread of their own, and phrases are made
/// ready on another one.
pub struct Speaker {
    queue: Arc<Queue>,
    ahead: Option<Sender<(Vec<String>, Manner)>>,
    name: Arc<Mutex<String>>,
    manner: Manner,
}

enum Job {
    Say(PhraseId, String, Manner),
    Tone(Earcon, Manner),
}

#[derive(Default)]
struct Queue {
    jobs: Mutex<Jobs>,
    more: Condvar,
    /// Raised by each stop; a job of an earlier round is cut.
    round: AtomicU64,
}

#[derive(Default)]
struct Jobs {
    waiting: VecDeque<(u64, Job)>,
    closed: bool,
}

impl Queue {
    fn lock(&self) -> MutexGuard<'_, Jobs> {
        // The queue is whole between any two statements that change it.
        self.jobs.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn add(&self, job: Job) {
        let mut jobs = self.lock();
        let round = self.round.load(Ordering::Acquire);
        jobs.waiting.push_back((round, job));
        self.more.notify_one();
    }

    /// The next job, or `None` when closed.
    fn next(&self) -> Option<(u64, Job)> {
        let mut jobs = self.lock();
        loop {
            if jobs.closed {
                return None;
            }
            if let Some(job) = jobs.waiting.pop_front() {
                return Some(job);
            }
            jobs = self.more.wait(jobs).unwrap_or_else(PoisonError::into_inner);
        }
    }
}

impl Speaker {
    /// Opens the loudspeaker (see [`Playback::open`]). Without a voice only tones are played, and
    /// phrases count as said at once.
    ///
    /// # Errors
    /// Any [`DeviceError`].
    pub fn open(
        voice: Option<Store>,
        loudspeaker: Option<&str>,
        tell: Tell,
    ) -> Result<Self, DeviceError> {
        let playback = Playback::open(loudspeaker)?;
        let voice_name = voice.as_ref().map(|voice| voice.name().to_owned());
        let name = Arc::new(Mutex::new(name_of(voice_name.as_deref(), &playback)));
        let voice = voice.map(|voice| Arc::new(Mutex::new(voice)));
        let ahead = voice.clone().map(prepare_ahead).transpose()?;
        let queue = Arc::new(Queue::default());
        let worker = Worker {
            queue: Arc::clone(&queue),
            voice,
            voice_name,
            playback,
            tell,
            name: Arc::clone(&name),
        };
        std::thread::Builder::new()
            .name("speaker".to_owned())
            .spawn(move || worker.run())
            .map_err(|e| DeviceError::System(e.to_string()))?;
        Ok(Self {
            queue,
            ahead,
            name,
            manner: Manner::default(),
        })
    }
}

impl Mouth for Speaker {
    fn name(&self) -> String {
        self.name
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    fn say(&mut self, id: PhraseId, text: &str) {
        self.queue.add(Job::Say(id, text.to_owned(), self.manner));
    }

    fn tone(&mut self, which: Earcon) {
        self.queue.add(Job::Tone(which, self.manner));
    }

    fn stop(&mut self) {
        // Under the lock, so that a job added later surely belongs to the new round.
        let _jobs = self.queue.lock();
        self.queue.round.fetch_add(1, Ordering::AcqRel);
    }

    fn set_manner(&mut self, manner: Manner) {
        self.manner = manner.bounded();
    }

    fn prepare(&mut self, texts: &[String]) {
        if let Some(ahead) = &self.ahead {
            // The thread lives as long as this end of its channel.
            let _ = ahead.send((texts.to_vec(), self.manner));
        }
    }
}

impl Drop for Speaker {
    fn drop(&mut self) {
        self.queue.lock().closed = true;
        self.queue.round.fetch_add(1, Ordering::AcqRel);
        self.queue.more.notify_one();
    }
}

/// Makes phrases ready; what was asked for last counts.
fn prepare_ahead(voice: SharedVoice) -> Result<Sender<(Vec<String>, Manner)>, DeviceError> {
    let (send, wanted) = channel::<(Vec<String>, Manner)>();
    let run = move || {
        while let Ok((mut texts, mut manner)) = wanted.recv() {
            texts.reverse();
            while let Some(text) = texts.pop() {
                // What fails here fails again, and is told, when it is to be said.
                let _ = lock(&voice).sound(&text, manner.rate);
                while let Ok((newer, newer_manner)) = wanted.try_recv() {
                    (texts, manner) = (newer, newer_manner);
                    texts.reverse();
                }
            }
        }
    };
    std::thread::Builder::new()
        .name("speaker ahead".to_owned())
        .spawn(run)
        .map_err(|e| DeviceError::System(e.to_string()))?;
    Ok(send)
}

fn lock(voice: &SharedVoice) -> MutexGuard<'_, Store> {
    voice.lock().unwrap_or_else(PoisonError::into_inner)
}

struct Worker {
    queue: Arc<Queue>,
    voice: Option<SharedVoice>,
    voice_name: Option<String>,
    playback: Playback,
    tell: Tell,
    /// As it is now; the default loudspeaker may become another one.
    name: Arc<Mutex<String>>,
}

fn name_of(voice: Option<&str>, playback: &Playback) -> String {
    match voice {
        Some(voice) => format!("{voice} on {}", playback.name()),
        None => playback.name().to_owned(),
    }
}

/// Whether what belongs to a round is cut.
fn cut_of(queue: &Arc<Queue>, round: u64) -> impl Fn() -> bool + 'static {
    let queue = Arc::clone(queue);
    move || queue.round.load(Ordering::Acquire) != round
}

impl Worker {
    fn run(mut self) {
        while let Some((round, job)) = self.queue.next() {
            match job {
                Job::Say(id, text, manner) => {
                    let spoken = self.say(id, &text, manner, round);
                    (self.tell)(spoken);
                }
                Job::Tone(which, manner) => {
                    // A tone that is not heard is told by the next phrase, which follows without a pause.
                    let cut = cut_of(&self.queue, round);
                    let tone = earcon(which, TONE_RATE);
                    self.playback.hand(&tone, manner.volume, &cut);
                }
            }
        }
    }

    fn say(&mut self, id: PhraseId, text: &str, manner: Manner, round: u64) -> Spoken {
        if self.queue.round.load(Ordering::Acquire) != round {
            return Spoken::Cut(id);
        }
        let Some(voice) = &self.voice else {
            return Spoken::Said(id);
        };
        let sound = lock(voice).sound(text, manner.rate);
        let clip = match sound {
            Ok(clip) => clip,
            Err(error) => return Spoken::Failed(id, error),
        };
        match self.play(&clip, manner, round) {
            Played::Whole => Spoken::Said(id),
            Played::Cut => Spoken::Cut(id),
            Played::Lost { why } => Spoken::Failed(id, VoiceError::Lost(why)),
        }
    }

    fn play(&mut self, clip: &Clip, manner: Manner, round: u64) -> Played {
        let cut = cut_of(&self.queue, round);
        let played = self.playback.play(clip, manner.volume, &cut);
        *self.name.lock().unwrap_or_else(PoisonError::into_inner) =
            name_of(self.voice_name.as_deref(), &self.playback);
        played
    }
}
