//! The microphone.

use crate::audio::devices::keeper::{Build, Built, Health, Kept, Message, keep};
use crate::audio::devices::{DeviceError, DeviceEvent, Direction};
use crate::audio::{RATE, Resampler};
use cpal::traits::DeviceTrait;
use cpal::{Device, FromSample, Sample, SampleFormat, SizedSample, StreamConfig};
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// Sound that the ring holds, seconds; a recogniser that is busy for longer loses samples, which are
/// counted.
const RING_SECONDS: u32 = 20;

/// The user's end of a capture stream.
struct End {
    ring: Consumer<f32>,
    rate: u32,
    health: Arc<Health>,
}

/// What one reading brought.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Captured {
    /// Samples appended.
    pub samples: usize,
    /// What happened to the device since the last reading; sound appended is from after it.
    pub event: Option<DeviceEvent>,
}

/// A microphone as mono sound at [`RATE`]. Read it often; every 10 to 50 ms.
pub struct Capture {
    kept: Kept<End>,
    end: Option<(End, Resampler)>,
    name: String,
    raw: Vec<f32>,
    lost_before: u64,
    gaps_before: u64,
}

impl Capture {
    /// Opens the microphone by name, part of a name or id; the system's default where it is `None`.
    ///
    /// # Errors
    /// Any [`DeviceError`].
    pub fn open(wanted: Option<&str>) -> Result<Self, DeviceError> {
        let build: Build<End> = Box::new(build);
        let kept = keep(Direction::In, wanted, build)?;
        let mut capture = Self {
            kept,
            end: None,
            name: String::new(),
            raw: Vec::new(),
            lost_before: 0,
            gaps_before: 0,
        };
        // The first message is the opening that was waited for.
        if let Ok(message) = capture.kept.messages.recv() {
            capture.take(message);
        }
        Ok(capture)
    }

    /// The device's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether sound is coming in.
    pub fn is_open(&self) -> bool {
        self.end.is_some()
    }

    /// Device samples lost so far because they were not read in time.
    pub fn overruns(&self) -> u64 {
        let now = self.end.as_ref();
        self.lost_before + now.map_or(0, |(end, _)| end.health.overruns.load(Ordering::Relaxed))
    }

    /// How often sound was lost so far: because it was not read in time, or because the system told of it.
    pub fn gaps(&self) -> u64 {
        let now = self.end.as_ref();
        self.gaps_before + now.map_or(0, |(end, _)| end.health.gaps.load(Ordering::Relaxed))
    }

    /// Appends what has come in since the last reading; never waits.
    pub fn read(&mut self, out: &mut Vec<f32>) -> Captured {
        let event = match self.kept.messages.try_recv() {
            Ok(message) => self.take(message),
            Err(_) => None,
        };
        let before = out.len();
        if let Some((end, resampler)) = &mut self.end {
            let ready = end.ring.slots();
            self.raw.resize(ready, 0.0);
            // As many were ready a moment ago, and nobody else takes them.
            if end.ring.pop_entire_slice(&mut self.raw).is_ok() {
                resampler.push(&self.raw, out);
            }
        }
        Captured {
            samples: out.len() - before,
            event,
        }
    }

    fn take(&mut self, message: Message<End>) -> Option<DeviceEvent> {
        let (overruns, gaps) = (self.overruns(), self.gaps());
        match message {
            Message::Lost { why } => {
                self.lost_before = overruns;
                self.gaps_before = gaps;
                self.end = None;
                Some(DeviceEvent::Lost { why })
            }
            Message::Opened { name, end } => {
                // The rate was checked when the stream was built.
                self.end = Resampler::new(end.rate, RATE).ok().map(|r| (end, r));
                self.name.clone_from(&name);
                Some(DeviceEvent::Back { name })
            }
        }
    }
}

fn build(
    device: &Device,
    config: StreamConfig,
    format: SampleFormat,
    health: &Arc<Health>,
) -> Result<Built<End>, cpal::Error> {
    if Resampler::new(config.sample_rate, RATE).is_err() {
        return Err(unsupported(format!("a rate of {} Hz", config.sample_rate)));
    }
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

/// An error of the kind that the system gives for formats it does not take.
pub(super) fn unsupported(what: String) -> cpal::Error {
    cpal::Error::with_message(cpal::ErrorKind::UnsupportedConfig, what)
}

fn build_as<T>(
    device: &Device,
    config: StreamConfig,
    health: &Arc<Health>,
) -> Result<Built<End>, cpal::Error>
where
    T: SizedSample,
    f32: FromSample<T>,
{
    let channels = usize::from(config.channels.max(1));
    let (mut ring, taken) = RingBuffer::new((config.sample_rate * RING_SECONDS) as usize);
    let (at_data, at_error) = (Arc::clone(health), Arc::clone(health));
    let stream = device.build_input_stream::<T, _, _>(
        config,
        move |data, _| take(data, channels, &mut ring, &at_data),
        move |error| at_error.report(&error),
        None,
    )?;
    Ok(Built {
        stream,
        end: End {
            ring: taken,
            rate: config.sample_rate,
            health: Arc::clone(health),
        },
    })
}

/// The callback: brings frames into the ring as mono, and counts those for which it has no room.
pub(super) fn take<T>(data: &[T], channels: usize, ring: &mut Producer<f32>, health: &Health)
where
    T: SizedSample,
    f32: FromSample<T>,
{
    let share = 1.0 / channels as f32;
    let frames = data.len() / channels;
    let room = ring.slots().min(frames);
    let mono = data
        .chunks_exact(channels)
        .map(|frame| frame.iter().map(|&s| f32::from_sample(s)).sum::<f32>() * share);
    if let Ok(chunk) = ring.write_chunk_uninit(room) {
        chunk.fill_from_iter(mono);
    }
    let lost = (frames - room) as u64;
    if lost > 0 {
        health.gaps.fetch_add(1, Ordering::Relaxed);
    }
    health.overruns.fetch_add(lost, Ordering::Relaxed);
    health.calls.fetch_add(1, Ordering::Relaxed);
}
