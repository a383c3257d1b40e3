//! Keeps a stream open: watches it, drops it when it fails, opens it again when the device is back.

use crate::audio::devices::{DeviceError, Direction, find, find_exactly};
use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{
    BufferSize, Device, DeviceId, ErrorKind, Host, Stream, StreamConfig, SupportedBufferSize,
};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A stream whose callback is silent for this long is lost, whatever the system says.
const SILENT: Duration = Duration::from_millis(800);
/// A stream that was just opened gets longer, until its callback came regularly for a while: a server may
/// ask for the first buffer at once and for the next one two seconds later.
const SETTLING: Duration = Duration::from_secs(4);
/// So many looks in a row with a fresh callback in each make a stream regular.
const REGULAR: u32 = 20;
/// How often a stream is looked at.
const LOOK: Duration = Duration::from_millis(50);
/// How often the system is asked whether the device is still there: some move a stream to another
/// device without a word.
const PRESENT: Duration = Duration::from_secs(1);
/// Pauses between tries to open a lost device again, first and longest.
const RETRY: (Duration, Duration) = (Duration::from_millis(500), Duration::from_secs(5));
/// Frames a callback at 48 kHz, in and out: 21 ms. Powers of two, as some servers stutter on others. A server
/// keeps two of them for a loudspeaker: with twice as many words were read back after 484 ms in place of 409, with fewer a
/// busy machine is late for more, and sound is dropped.
const FRAMES: u32 = 1024;

/// What happens to a device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DeviceEvent {
    /// It is lost; sound stopped.
    Lost {
        /// Why, in words that can be spoken.
        why: String,
    },
    /// Sound runs again.
    Back {
        /// The device, which is another one where the default was asked for and it changed.
        name: String,
    },
}

/// What a callback reports.
#[derive(Default)]
pub(super) struct Health {
    /// Callbacks so far.
    pub calls: AtomicU64,
    /// Samples lost because nobody took them in time.
    pub overruns: AtomicU64,
    /// How often samples were lost: for that reason, or as the system tells.
    pub gaps: AtomicU64,
    failed: AtomicBool,
    why: Mutex<String>,
}

impl Health {
    /// For the stream's error callback. Some systems repeat an error without end, so that only the first
    /// one is looked at.
    pub fn report(&self, error: &cpal::Error) {
        if error.kind() == ErrorKind::Xrun {
            self.gaps.fetch_add(1, Ordering::Relaxed);
            return;
        }
        if error.kind() == ErrorKind::RealtimeDenied || self.failed.swap(true, Ordering::AcqRel) {
            return;
        }
        if let Ok(mut why) = self.why.lock() {
            *why = error.to_string();
        }
    }

    fn failure(&self) -> Option<String> {
        self.failed.load(Ordering::Acquire).then(|| {
            self.why
                .lock()
                .map_or_else(|_| String::new(), |why| why.clone())
        })
    }
}

/// A stream just built, with what its user needs.
pub(super) struct Built<End> {
    pub stream: Stream,
    pub end: End,
}

/// What the keeper tells its user.
pub(super) enum Message<End> {
    Opened { name: String, end: End },
    Lost { why: String },
}

/// Builds a stream on a device.
pub(super) type Build<End> = Box<
    dyn Fn(
            &Device,
            StreamConfig,
            cpal::SampleFormat,
            &Arc<Health>,
        ) -> Result<Built<End>, cpal::Error>
        + Send,
>;

/// The user's side of a kept stream. Dropping it closes the stream.
pub(super) struct Kept<End> {
    pub messages: Receiver<Message<End>>,
    _stop: Sender<()>,
}

/// Opens a stream and keeps it open. Waits for the first opening.
pub(super) fn keep<End: Send + 'static>(
    direction: Direction,
    wanted: Option<&str>,
    build: Build<End>,
) -> Result<Kept<End>, DeviceError> {
    let wanted = wanted.map(str::to_owned);
    let (tell, messages) = mpsc::channel();
    let (stop, stopped) = mpsc::channel();
    let (first, opened) = mpsc::channel();
    let keeper = Keeper {
        direction,
        wanted,
        exactly: false,
        build,
        tell,
        stopped,
    };
    std::thread::Builder::new()
        .name(format!("{} keeper", direction.word()))
        .spawn(move || keeper.run(&first))
        .map_err(|e| DeviceError::System(e.to_string()))?;
    match opened.recv() {
        Ok(Ok(())) => Ok(Kept {
            messages,
            _stop: stop,
        }),
        Ok(Err(error)) => Err(error),
        Err(_) => Err(DeviceError::System("its thread ended".to_owned())),
    }
}

struct Keeper<End> {
    direction: Direction,
    wanted: Option<String>,
    /// Whether `wanted` is the whole id of the device.
    exactly: bool,
    build: Build<End>,
    tell: Sender<Message<End>>,
    /// Closed when the user is gone.
    stopped: Receiver<()>,
}

struct Open {
    host: Host,
    id: Option<DeviceId>,
    health: Arc<Health>,
    stream: Stream,
}

impl<End: Send + 'static> Keeper<End> {
    fn run(mut self, first: &Sender<Result<(), DeviceError>>) {
        let mut open = match self.open() {
            Ok(open) => open,
            Err(error) => {
                // The receiver waits for exactly this.
                let _ = first.send(Err(error));
                return;
            }
        };
        let _ = first.send(Ok(()));
        loop {
            // A part of a name may fit another device once the one that was meant is gone.
            if let (true, Some(id)) = (self.wanted.is_some(), &open.id) {
                self.wanted = Some(id.to_string());
                self.exactly = true;
            }
            let Some(why) = self.watch(&open) else {
                return;
            };
            // Dropped here, on a thread that is not the stream's own.
            drop(open);
            if self.tell.send(Message::Lost { why }).is_err() {
                return;
            }
            let mut pause = RETRY.0;
            open = loop {
                if !self.pause(pause) {
                    return;
                }
                match self.open() {
                    Ok(open) => break open,
                    Err(_) => pause = (pause * 2).min(RETRY.1),
                }
            };
        }
    }

    /// Waits; `false` when the user is gone.
    fn pause(&self, time: Duration) -> bool {
        matches!(
            self.stopped.recv_timeout(time),
            Err(RecvTimeoutError::Timeout)
        )
    }

    fn open(&self) -> Result<Open, DeviceError> {
        let host = cpal::default_host();
        let device = match (&self.wanted, self.exactly) {
            (Some(id), true) => find_exactly(&host, self.direction, id)?,
            (wanted, _) => find(&host, self.direction, wanted.as_deref())?,
        };
        let name = device.to_string();
        let failed = |e: cpal::Error| DeviceError::Open {
            name: name.clone(),
            why: e.to_string(),
        };
        let supported = match self.direction {
            Direction::In => device.default_input_config(),
            Direction::Out => device.default_output_config(),
        }
        .map_err(failed)?;
        let format = supported.sample_format();
        let mut config = supported.config();
        config.buffer_size = BufferSize::Fixed(frames(config.sample_rate, supported.buffer_size()));
        let health = Arc::new(Health::default());
        let built = (self.build)(&device, config, format, &health).or_else(|e| match e.kind() {
            // Some devices take only their own size.
            ErrorKind::UnsupportedConfig | ErrorKind::InvalidInput => {
                config.buffer_size = BufferSize::Default;
                (self.build)(&device, config, format, &health)
            }
            _ => Err(e),
        });
        let built = built.map_err(failed)?;
        built.stream.play().map_err(failed)?;
        // Where the receiver is gone, the next look at `stopped` ends the thread.
        let _ = self.tell.send(Message::Opened {
            name: name.clone(),
            end: built.end,
        });
        Ok(Open {
            id: device.id().ok(),
            host,
            health,
            stream: built.stream,
        })
    }

    /// Watches until the stream is lost (why) or the user is gone (`None`).
    fn watch(&self, open: &Open) -> Option<String> {
        let mut silence = Silence::default();
        let mut looked = Instant::now();
        let mut asked = Instant::now();
        while self.pause(LOOK) {
            if let Some(why) = open.health.failure() {
                return Some(why);
            }
            let calls = open.health.calls.load(Ordering::Relaxed);
            if silence.look(calls, looked.elapsed()) {
                return Some(format!("the {} went silent", self.direction.word()));
            }
            if asked.elapsed() > PRESENT {
                if !is_present(open) {
                    return Some(format!("the {} is gone", self.direction.word()));
                }
                asked = Instant::now();
            }
            looked = Instant::now();
        }
        let _ = open.stream.pause();
        None
    }
}

/// How long a callback was not seen. On a busy machine the one who looks comes late too, and a late look
/// says nothing of what was missed in between: it counts as one that came in time.
#[derive(Default)]
struct Silence {
    calls: u64,
    quiet: Duration,
    regular: u32,
}

impl Silence {
    /// One look, so long after the last: whether the stream has gone silent.
    fn look(&mut self, calls: u64, after: Duration) -> bool {
        if calls != self.calls {
            self.calls = calls;
            self.quiet = Duration::ZERO;
            self.regular = self.regular.saturating_add(1);
            return false;
        }
        self.quiet += after.min(2 * LOOK);
        let limit = if self.regular < REGULAR {
            self.regular = 0;
            SETTLING
        } else {
            SILENT
        };
        self.quiet > limit
    }
}

/// Whether the device is still listed. ALSA names outlive their devices and listing them opens every
/// one, so that there only the callbacks are watched.
fn is_present(open: &Open) -> bool {
    match &open.id {
        Some(id) if !id.to_string().starts_with("alsa") => open.host.device_by_id(id).is_some(),
        _ => true,
    }
}

/// Frames a callback: [`FRAMES`] at 48 kHz, fewer at lower rates, within what the device takes.
fn frames(rate: u32, supported: &SupportedBufferSize) -> u32 {
    let wanted = if rate < 32_000 { FRAMES / 2 } else { FRAMES };
    match *supported {
        SupportedBufferSize::Range { min, max } => wanted.clamp(min, max.max(min)),
        SupportedBufferSize::Unknown => wanted,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How many looks, `after` apart, until it is called silent.
    fn looks(silence: &mut Silence, calls: u64, after: Duration) -> u32 {
        (1..=1_000)
            .find(|_| silence.look(calls, after))
            .expect("it is called silent at last")
    }

    #[test]
    fn a_stream_that_ran_is_lost_soon_and_one_that_just_opened_late() {
        let mut silence = Silence::default();
        assert_eq!(looks(&mut silence, 0, LOOK), 81);
        let mut silence = Silence::default();
        for call in 1..=u64::from(REGULAR) {
            assert!(!silence.look(call, LOOK));
        }
        assert_eq!(looks(&mut silence, u64::from(REGULAR), LOOK), 17);
    }

    #[test]
    fn a_callback_now_and_then_does_not_make_a_stream_regular() {
        let mut silence = Silence::default();
        for call in 1..=10 {
            assert!(!silence.look(call, LOOK));
            assert!(!silence.look(call, LOOK));
        }
        assert_eq!(silence.regular, 0);
        assert!(looks(&mut silence, 10, LOOK) > 70);
    }

    #[test]
    fn late_looks_of_a_busy_machine_count_as_looks_in_time() {
        let mut silence = Silence::default();
        for call in 1..=u64::from(REGULAR) {
            silence.look(call, LOOK);
        }
        // Two looks three seconds apart: the callback may have been as late as the look.
        assert!(!silence.look(20, Duration::from_secs(3)));
        assert!(!silence.look(20, Duration::from_secs(3)));
        assert!(!silence.look(21, LOOK));
    }
}
