//! Change of sample rate, in a stream or of a whole clip.

use audioadapter_buffers::direct::InterleavedSlice;
use rubato::{Fft, FixedSync, Indexing, Resampler as _};

/// Lowest and highest sample rate read, Hz: telephone lines to studio equipment, with room.
pub const RATES: std::ops::RangeInclusive<u32> = 4_000..=384_000;

/// Blocks a second that a stream is worked in. The delay is half a block, 8 ms; shorter blocks would
/// cut into the highest speech frequencies.
const BLOCKS_A_SECOND: u32 = 62;

/// A rate outside [`RATES`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "a sample rate of {0} Hz is not usable; use one from {least} to {most} Hz",
    least = RATES.start(),
    most = RATES.end()
)]
pub struct RateError(pub u32);

/// Changes the sample rate of a mono stream. The output is aligned with the input: the filter's own
/// delay is left out at the start and made up at the end.
///
/// Not for a sound callback: it allocates.
pub struct Resampler {
    /// `None` where both rates are the same.
    inner: Option<Inner>,
}

struct Inner {
    fft: Fft<f32>,
    pending: Vec<f32>,
    block: Vec<f32>,
    /// Output still to be dropped: the filter's delay.
    to_drop: usize,
    frames_in: u64,
    frames_out: u64,
}

impl Resampler {
    /// A resampler between two rates in Hz.
    ///
    /// # Errors
    /// [`RateError`] with the rate that is outside [`RATES`].
    pub fn new(from: u32, to: u32) -> Result<Self, RateError> {
        for rate in [from, to] {
            if !RATES.contains(&rate) {
                return Err(RateError(rate));
            }
        }
        if from == to {
            return Ok(Self { inner: None });
        }
        let chunk = (from / BLOCKS_A_SECOND) as usize;
        let fft = Fft::new_custom(
            from as usize,
            to as usize,
            chunk,
            1,
            1,
            rubato::WindowFunction::BlackmanHarris2,
            FixedSync::Input,
        )
        .map_err(|_| RateError(from))?;
        let block = vec![0.0; fft.output_frames_max()];
        let to_drop = fft.output_delay();
        Ok(Self {
            inner: Some(Inner {
                fft,
                pending: Vec::new(),
                block,
                to_drop,
                frames_in: 0,
                frames_out: 0,
            }),
        })
    }

    /// Takes samples and appends to `out` what is ready.
    pub fn push(&mut self, samples: &[f32], out: &mut Vec<f32>) {
        match &mut self.inner {
            None => out.extend_from_slice(samples),
            Some(inner) => {
                inner.frames_in += samples.len() as u64;
                inner.pending.extend_from_slice(samples);
                inner.work(out, false);
            }
        }
    }

    /// Appends what is still inside; the stream may begin anew afterwards.
    pub fn finish(&mut self, out: &mut Vec<f32>) {
        let Some(inner) = &mut self.inner else {
            return;
        };
        let ratio = inner.fft.resample_ratio();
        let due = (inner.frames_in as f64 * ratio).round() as u64;
        while inner.frames_out < due {
            let before = out.len();
            inner.work(out, true);
            let over = inner.frames_out.saturating_sub(due) as usize;
            out.truncate((out.len() - over).max(before));
        }
        inner.fft.reset();
        inner.pending.clear();
        inner.to_drop = inner.fft.output_delay();
        inner.frames_in = 0;
        inner.frames_out = 0;
    }
}

impl Inner {
    /// Works through whole blocks; with `flush`, also one block filled up with silence.
    fn work(&mut self, out: &mut Vec<f32>, flush: bool) {
        let mut used = 0;
        let mut last = flush;
        loop {
            let wanted = self.fft.input_frames_next();
            let left = &self.pending[used..];
            let (frames, indexing) = if left.len() >= wanted {
                (wanted, None)
            } else if last {
                last = false;
                (left.len(), Some(Indexing::new().partial_len(left.len())))
            } else {
                break;
            };
            let made = process(
                &mut self.fft,
                &left[..frames],
                &mut self.block,
                indexing.as_ref(),
            );
            used += frames;
            let dropped = made.min(self.to_drop);
            self.to_drop -= dropped;
            self.frames_out += (made - dropped) as u64;
            out.extend_from_slice(&self.block[dropped..made]);
        }
        self.pending.drain(..used);
    }
}

fn process(
    fft: &mut Fft<f32>,
    input: &[f32],
    output: &mut [f32],
    indexing: Option<&Indexing>,
) -> usize {
    let frames = output.len();
    // The sizes come from the resampler itself, so that neither call can refuse them.
    let input = InterleavedSlice::new(input, 1, input.len()).expect("one channel of this length");
    let mut output =
        InterleavedSlice::new_mut(output, 1, frames).expect("one channel of this length");
    let (_, made) = fft
        .process_into_buffer(&input, &mut output, indexing)
        .expect("buffers of the sizes that the resampler asked for");
    made
}

/// Changes the rate of a whole clip.
///
/// # Errors
/// As [`Resampler::new`].
pub fn resample(samples: Vec<f32>, from: u32, to: u32) -> Result<Vec<f32>, RateError> {
    let mut resampler = Resampler::new(from, to)?;
    if from == to {
        return Ok(samples);
    }
    let mut out = Vec::with_capacity(
        (samples.len() as f64 * f64::from(to) / f64::from(from)) as usize + 4096,
    );
    resampler.push(&samples, &mut out);
    resampler.finish(&mut out);
    Ok(out)
}
