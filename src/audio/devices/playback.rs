//! The loudspeaker.

use crate::audio::devices::capture::unsupported;
use crate::audio::devices::keeper::{Build, Built, Health, Kept, Message, keep};
use crate::audio::devices::{DeviceError, Direction};
use crate::audio::{Clip, RateError, Resampler};
use cpal::traits::DeviceTrait;
use cpal::{Device, FromSample, OutputCallbackInfo, SampleFormat, SizedSample, StreamConfig};
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Sound ahead of the device, milliseconds. Short, so that a cut is soon heard.
const RING_MS: u32 = 200;
/// How often the ring is filled.
const FILL: Duration = Duration::from_millis(4);
/// Blocks of a clip that are resampled at a time.
const BLOCKS_A_SECOND: u32 = 20;
/// A device's own delay is believed up to this; some report nonsense.
const MAX_DELAY: Duration = Duration::from_millis(800);
/// A cut that the callback does not confirm within this time goes on without it.
const CUT: Duration = Duration::from_millis(300);

/// What became of a clip.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Played {
    /// Heard to its end.
    Whole,
    /// Cut as asked.
    Cut,
    /// The device was lost before the end.
    Lost {
        /// Why, in words that can be spoken.
        why: String,
    },
}

/// What callback and player share.
#[derive(Default)]
struct Shared {
    /// Frames taken from the ring: handed to the device, or thrown away.
    played: AtomicU64,
    /// Time from the last callback to the end of what it handed over being heard, microseconds.
    delay_us: AtomicU64,
    /// Raised to have the ring emptied; the callback follows with `emptied`.
    empty: AtomicU64,
    emptied: AtomicU64,
}

pub(super) struct End {
    pub ring: Producer<f32>,
    rate: u32,
    /// Frames put into the ring so far.
    filled: u64,
    shared: Arc<Shared>,
}

/// A loudspeaker that plays one clip at a time.
pub struct Playback {
    kept: Kept<End>,
    end: Option<End>,
    name: String,
    why: String,
}

impl Playback {
    /// Opens the loudspeaker by name, part of a name or id; the system's default where it is `None`.
    ///
    /// # Errors
    /// Any [`DeviceError`].
    pub fn open(wanted: Option<&str>) -> Result<Self, DeviceError> {
        let build: Build<End> = Box::new(build);
        let kept = keep(Direction::Out, wanted, build)?;
        let mut playback = Self {
            kept,
            end: None,
            name: String::new(),
            why: String::new(),
        };
        // The first message is the opening that was waited for.
        if let Ok(message) = playback.kept.messages.recv() {
            playback.take(message);
        }
        Ok(playback)
    }

    /// The device's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether the device is there; takes note of its loss and return.
    pub fn is_open(&mut self) -> bool {
        while let Ok(message) = self.kept.messages.try_recv() {
            self.take(message);
        }
        self.end.is_some()
    }

    /// Plays a clip at `gain` (1 is as it is) and waits until its last sample is heard, `cut` says
    /// true, or the device is lost.
    pub fn play(&mut self, clip: &Clip, gain: f32, cut: &dyn Fn() -> bool) -> Played {
        match self.hand(clip, gain, cut) {
            Played::Whole => self.wait(cut),
            other => other,
        }
    }

    /// As [`Playback::play`], but waits only until the last sample is on its way to the device, so that
    /// what is played next follows without a pause.
    pub fn hand(&mut self, clip: &Clip, gain: f32, cut: &dyn Fn() -> bool) -> Played {
        if !self.is_open() {
            return self.lost();
        }
        let Some(rate) = self.end.as_ref().map(|end| end.rate) else {
            return self.lost();
        };
        let Ok(mut feed) = Feed::new(clip, gain, rate) else {
            return Played::Lost {
                why: format!("a clip at {} Hz cannot be played", clip.rate),
            };
        };
        loop {
            if !self.is_open() {
                return self.lost();
            }
            let Some(end) = &mut self.end else {
                return self.lost();
            };
            if end.rate != rate {
                // Lost and back between two looks.
                return Played::Lost {
                    why: "the loudspeaker changed".to_owned(),
                };
            }
            if cut() {
                empty(end);
                return Played::Cut;
            }
            if feed.fill(end) {
                return Played::Whole;
            }
            std::thread::sleep(FILL);
        }
    }

    /// Waits until all that was handed over is heard.
    fn wait(&mut self, cut: &dyn Fn() -> bool) -> Played {
        let rate = self.end.as_ref().map(|end| end.rate);
        loop {
            if !self.is_open() {
                return self.lost();
            }
            let Some(end) = &mut self.end else {
                return self.lost();
            };
            if Some(end.rate) != rate {
                return Played::Lost {
                    why: "the loudspeaker changed".to_owned(),
                };
            }
            if cut() {
                empty(end);
                return Played::Cut;
            }
            if end.shared.played.load(Ordering::Acquire) >= end.filled {
                return self.wait_for_delay(cut);
            }
            std::thread::sleep(FILL);
        }
    }

    /// Waits while the device still sounds what it was handed.
    fn wait_for_delay(&self, cut: &dyn Fn() -> bool) -> Played {
        let delay = self
            .end
            .as_ref()
            .map_or(0, |end| end.shared.delay_us.load(Ordering::Relaxed));
        let until = Instant::now() + Duration::from_micros(delay).min(MAX_DELAY);
        while Instant::now() < until {
            if cut() {
                return Played::Cut;
            }
            std::thread::sleep(FILL);
        }
        Played::Whole
    }

    fn lost(&self) -> Played {
        Played::Lost {
            why: self.why.clone(),
        }
    }

    fn take(&mut self, message: Message<End>) {
        match message {
            Message::Opened { name, end } => {
                self.name = name;
                self.end = Some(end);
            }
            Message::Lost { why } => {
                self.end = None;
                self.why = why;
            }
        }
    }
}

/// A clip on its way to the device: resampled in blocks, so that it begins to sound at once.
struct Feed<'a> {
    blocks: std::slice::Chunks<'a, f32>,
    resampler: Resampler,
    gain: f32,
    ready: Vec<f32>,
    /// How much of `ready` is in the ring.
    taken: usize,
    ended: bool,
}

impl<'a> Feed<'a> {
    fn new(clip: &'a Clip, gain: f32, rate: u32) -> Result<Self, RateError> {
        let resampler = Resampler::new(clip.rate, rate)?;
        let block = (clip.rate / BLOCKS_A_SECOND) as usize;
        Ok(Self {
            blocks: clip.samples.chunks(block),
            resampler,
            gain,
            ready: Vec::new(),
            taken: 0,
            ended: false,
        })
    }

    /// Fills the ring; true once the last sample is in it.
    fn fill(&mut self, end: &mut End) -> bool {
        loop {
            let more = &self.ready[self.taken..];
            let left = end.ring.push_partial_slice(more).1.len();
            end.filled += (more.len() - left) as u64;
            self.taken = self.ready.len() - left;
            if left > 0 {
                return false;
            }
            if self.ended {
                return true;
            }
            self.ready.clear();
            self.taken = 0;
            match self.blocks.next() {
                Some(block) => self.resampler.push(block, &mut self.ready),
                None => {
                    self.resampler.finish(&mut self.ready);
                    self.ended = true;
                }
            }
            for sample in &mut self.ready {
                *sample = (*sample * self.gain).clamp(-1.0, 1.0);
            }
        }
    }
}

/// Has the callback empty the ring.
fn empty(end: &End) {
    let asked = end.shared.empty.fetch_add(1, Ordering::AcqRel) + 1;
    let since = Instant::now();
    while end.shared.emptied.load(Ordering::Acquire) < asked && since.elapsed() < CUT {
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn build(
    device: &Device,
    config: StreamConfig,
    format: SampleFormat,
    health: &Arc<Health>,
) -> Result<Built<End>, cpal::Error> {
    match format {
        SampleFormat::F32 => build_as::<f32>(device, config, health),
        SampleFormat::F64 => build_as::<f64>(device, config, health),
        SampleFormat::I16 => build_as::<i16>(device, config, health),
        SampleFormat::I32 => build_as::<i32>(device, config, health),
        SampleFormat::I24 => build_as::<cpal::I24>(device, config, health),
        SampleFormat::I8 => build_as::<i8>(device, config, health),
        SampleFormat::U8 => build_as::<u8>(device, config, health),
        SampleFormat::U16 => build_as::<u16>(device, config, health),
        other => Err(unsupported(format!("samples of kind {other}"))),
    }
}

fn build_as<T>(
    device: &Device,
    config: StreamConfig,
    health: &Arc<Health>,
) -> Result<Built<End>, cpal::Error>
where
    T: SizedSample + FromSample<f32>,
{
    let rate = config.sample_rate;
    let (mut callback, end) = Callback::new(rate, config.channels);
    let (at_data, at_error) = (Arc::clone(health), Arc::clone(health));
    let stream = device.build_output_stream::<T, _, _>(
        config,
        move |data, info| {
            callback.fill(data, info);
            at_data.calls.fetch_add(1, Ordering::Relaxed);
        },
        move |error| at_error.report(&error),
        None,
    )?;
    Ok(Built { stream, end })
}

pub(super) struct Callback {
    ring: Consumer<f32>,
    channels: usize,
    rate: u32,
    shared: Arc<Shared>,
    emptied: u64,
}

impl Callback {
    /// A callback for so many channels at a rate in Hz, and the player's end of its ring.
    pub fn new(rate: u32, channels: u16) -> (Self, End) {
        let (filled, ring) = RingBuffer::new((rate / 1_000 * RING_MS) as usize);
        let shared = Arc::new(Shared::default());
        let callback = Self {
            ring,
            channels: usize::from(channels.max(1)),
            rate,
            shared: Arc::clone(&shared),
            emptied: 0,
        };
        let end = End {
            ring: filled,
            rate,
            filled: 0,
            shared,
        };
        (callback, end)
    }

    /// Hands the device what is in the ring, then silence. The device's buffer comes filled with
    /// silence.
    pub fn fill<T: SizedSample + FromSample<f32>>(
        &mut self,
        data: &mut [T],
        info: &OutputCallbackInfo,
    ) {
        let empty = self.shared.empty.load(Ordering::Acquire);
        if empty != self.emptied {
            let ready = self.ring.slots();
            if let Ok(chunk) = self.ring.read_chunk(ready) {
                chunk.commit_all();
            }
            self.shared
                .played
                .fetch_add(ready as u64, Ordering::Release);
            self.emptied = empty;
            self.shared.emptied.store(empty, Ordering::Release);
        }
        let frames = data.len() / self.channels;
        let ready = self.ring.slots().min(frames);
        if ready == 0 {
            return;
        }
        if let Ok(chunk) = self.ring.read_chunk(ready) {
            for (frame, sample) in data.chunks_exact_mut(self.channels).zip(chunk) {
                frame.fill(T::from_sample(sample));
            }
        }
        let stamp = info.timestamp();
        let ahead = stamp.playback.saturating_duration_since(stamp.callback);
        let sounding = ready as u64 * 1_000_000 / u64::from(self.rate);
        let delay = ahead.as_micros() as u64 + sounding;
        self.shared.delay_us.store(delay, Ordering::Relaxed);
        self.shared
            .played
            .fetch_add(ready as u64, Ordering::Release);
    }
}
