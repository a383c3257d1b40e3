//! Noise of a landing pad with the rotor turning, made from a seed, and mixing it under speech.
//!
//! It imitates the structure that is published for rotorcraft: broadband noise that falls off above
//! some 500 Hz and is modulated by the blades passing, harmonics of the blade-pass frequency
//! (revolutions a second times blades, 10 to 30 Hz), harmonics of the tail rotor (50 to 140 Hz),
//! whistling lines of a turbine (2 to 8 kHz) or the exhaust of a piston engine (200 to 1,000 Hz), and
//! wind gusts on the microphone. Frequencies and proportions of the presets are choices within those
//! ranges, not measurements of a machine, so a figure taken with them speaks for this noise only.
//!
//! The same seed gives the same samples on every machine: random numbers come from SplitMix64, fixed
//! by its publication (Steele, Lea and Flood 2014), and sine and exponential from the `libm` crate
//! rather than from the platform.

use std::f64::consts::TAU;
use std::str::FromStr;

mod mix;

pub use mix::{MixError, mix, snr_db, speech_active};

/// Samples a second of everything here.
pub const SAMPLE_RATE: u32 = crate::audio::RATE;
/// Root mean square of generated noise relative to full scale (-20 dBFS).
pub const NOISE_RMS: f64 = 0.1;
/// Blade-pass harmonics of the main rotor.
const ROTOR_HARMONICS: u32 = 20;
const TAIL_HARMONICS: u32 = 6;
const RATE: f64 = SAMPLE_RATE as f64;

/// What a pad sounds like. Levels are in decibels relative to the broadband part; `None` leaves a
/// part out.
#[derive(Debug, Clone, PartialEq)]
pub struct PadNoise {
    /// Fall of the broadband part above 500 Hz, in dB an octave; 3 to 6 is usual, 0 to 12 allowed.
    pub tilt_db_per_octave: f64,
    /// Blades passing a second, in hertz.
    pub blade_pass_hz: f64,
    /// How far the broadband part sinks between blades: 0 (steady) to 1 (silence).
    pub modulation_depth: f64,
    /// 1 is a smooth beat; higher makes each blade a shorter slap.
    pub slap: f64,
    /// Level of the blade-pass harmonics.
    pub rotor_db: Option<f64>,
    /// Fundamental of the tail rotor in hertz and the level of its harmonics.
    pub tail: Option<(f64, f64)>,
    /// Lines of a turbine: hertz and level of each.
    pub turbine: Vec<(f64, f64)>,
    /// Firing frequency of a piston engine in hertz and the level of its exhaust lines.
    pub piston: Option<(f64, f64)>,
    /// Gusts a minute and their level at the height of the gust.
    pub gusts: Option<(f64, f64)>,
    /// Corner of the microphone's own low cut, in hertz. Without one, most of the power of a rotor
    /// lies below what a speech microphone passes and a stated signal-to-noise ratio means little.
    pub low_cut_hz: f64,
}

/// Ready-made pads. The names are neutral: they stand for no machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Preset {
    /// Two blades, strong slap, turbine whistle.
    LightTwoBlade,
    /// Four blades, faster and smoother.
    MediumFourBlade,
    /// Large and slow, deep roar, little beat.
    Heavy,
    /// A piston engine's exhaust.
    Piston,
    /// Rotor some way off, gusts over the microphone.
    Gusty,
}

impl Preset {
    /// Every preset.
    pub const ALL: [Self; 5] = [
        Self::LightTwoBlade,
        Self::MediumFourBlade,
        Self::Heavy,
        Self::Piston,
        Self::Gusty,
    ];

    /// Its name on the command line.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::LightTwoBlade => "light-two-blade",
            Self::MediumFourBlade => "medium-four-blade",
            Self::Heavy => "heavy",
            Self::Piston => "piston",
            Self::Gusty => "gusty",
        }
    }

    /// Its parameters.
    #[must_use]
    pub fn parameters(self) -> PadNoise {
        let base = PadNoise {
            tilt_db_per_octave: 4.5,
            blade_pass_hz: 13.2,
            modulation_depth: 0.6,
            slap: 3.0,
            rotor_db: Some(-2.0),
            tail: Some((88.0, -8.0)),
            turbine: vec![(3_150.0, -24.0), (5_420.0, -28.0)],
            piston: None,
            gusts: None,
            low_cut_hz: 100.0,
        };
        match self {
            Self::LightTwoBlade => PadNoise {
                modulation_depth: 0.8,
                slap: 4.0,
                ..base
            },
            Self::MediumFourBlade => PadNoise {
                tilt_db_per_octave: 3.5,
                blade_pass_hz: 26.0,
                modulation_depth: 0.5,
                slap: 2.0,
                tail: Some((128.0, -6.0)),
                turbine: vec![(2_380.0, -22.0), (4_760.0, -26.0), (7_310.0, -30.0)],
                ..base
            },
            Self::Heavy => PadNoise {
                tilt_db_per_octave: 6.0,
                blade_pass_hz: 17.2,
                modulation_depth: 0.35,
                slap: 2.0,
                rotor_db: Some(2.0),
                tail: Some((54.0, -4.0)),
                turbine: vec![(2_050.0, -26.0), (6_640.0, -32.0)],
                ..base
            },
            Self::Piston => PadNoise {
                tilt_db_per_octave: 5.0,
                blade_pass_hz: 16.3,
                turbine: Vec::new(),
                piston: Some((90.0, 2.0)),
                tail: Some((112.0, -8.0)),
                ..base
            },
            Self::Gusty => PadNoise {
                modulation_depth: 0.4,
                rotor_db: Some(-6.0),
                gusts: Some((40.0, 12.0)),
                ..base
            },
        }
    }
}

/// A name that is no preset.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "no pad noise is called `{0}`: choose one of light-two-blade, medium-four-blade, heavy, piston, gusty"
)]
pub struct UnknownPreset(String);

impl FromStr for Preset {
    type Err = UnknownPreset;

    fn from_str(name: &str) -> Result<Self, Self::Err> {
        Self::ALL
            .into_iter()
            .find(|p| p.name() == name)
            .ok_or_else(|| UnknownPreset(name.to_owned()))
    }
}

/// SplitMix64, whose stream is fixed by its publication.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// 0 to 1, not 1.
    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Mean 0, variance 1, near enough to normal: the sum of four uniform numbers.
    fn normal(&mut self) -> f64 {
        ((0..4).map(|_| self.unit()).sum::<f64>() - 2.0) * 3f64.sqrt()
    }
}

/// One-pole low pass with gain 1 at 0 Hz.
struct LowPass {
    keep: f64,
    out: f64,
}

impl LowPass {
    fn new(corner_hz: f64) -> Self {
        Self {
            keep: libm::exp(-TAU * corner_hz / RATE),
            out: 0.0,
        }
    }

    fn run(&mut self, x: f64) -> f64 {
        self.out = self.keep * self.out + (1.0 - self.keep) * x;
        self.out
    }
}

/// White noise through a filter that is flat up to 500 Hz and falls by `tilt` dB an octave above.
///
/// A finite filter by frequency sampling under a Hann window: first-order sections bend near half
/// the sample rate, and a fast Fourier transform rounds differently on different processors.
fn tilted_noise(length: usize, tilt: f64, random: &mut Random) -> Vec<f64> {
    const TAPS: usize = 255;
    const GRID: usize = 512;
    let tilt = tilt.clamp(0.0, 12.0);
    let response: Vec<f64> = (0..=GRID / 2)
        .map(|k| gain(-tilt * libm::log2((k as f64 * RATE / GRID as f64 / 500.0).max(1.0))))
        .collect();
    let taps: Vec<f64> = (0..TAPS)
        .map(|n| {
            let from_middle = n as f64 - (TAPS / 2) as f64;
            let wave =
                |k: usize| response[k] * libm::cos(TAU * k as f64 * from_middle / GRID as f64);
            let sum = wave(0) + wave(GRID / 2) + 2.0 * (1..GRID / 2).map(wave).sum::<f64>();
            let window = 0.5 - 0.5 * libm::cos(TAU * (n + 1) as f64 / (TAPS + 1) as f64);
            sum / GRID as f64 * window
        })
        .collect();
    let white: Vec<f64> = (0..length + TAPS - 1).map(|_| random.normal()).collect();
    white
        .windows(TAPS)
        .map(|w| w.iter().zip(&taps).map(|(x, h)| x * h).sum())
        .collect()
}

fn gain(db: f64) -> f64 {
    libm::pow(10.0, db / 20.0)
}

fn rms(x: &[f64]) -> f64 {
    (x.iter().map(|v| v * v).sum::<f64>() / x.len().max(1) as f64).sqrt()
}

/// Brings `part` to an RMS of `level` and adds it.
fn add(total: &mut [f64], part: &[f64], level: f64) {
    let scale = level / rms(part).max(1e-12);
    for (t, p) in total.iter_mut().zip(part) {
        *t += scale * p;
    }
}

/// Harmonics 1, 2, 3 … of a speed that wanders slowly; each has an amplitude and a phase in turns.
fn harmonics(length: usize, base_hz: f64, lines: &[(f64, f64)], random: &mut Random) -> Vec<f64> {
    let mut drift = LowPass::new(0.3);
    let mut turn = 0.0;
    let lines: Vec<_> = lines
        .iter()
        .map(|(a, p)| (a * libm::sin(TAU * p), a * libm::cos(TAU * p)))
        .collect();
    (0..length)
        .map(|_| {
            // Slow noise with an RMS of some 0.2 %: speed is governed, never exact.
            let wander = 0.3 * drift.run(random.normal());
            turn += base_hz * (1.0 + wander.clamp(-0.01, 0.01)) / RATE;
            turn -= if turn >= 1.0 { 1.0 } else { 0.0 };
            // The n-th harmonic is the n-th power of the fundamental on the unit circle.
            let (sin, cos) = (libm::sin(TAU * turn), libm::cos(TAU * turn));
            let (mut s, mut c) = (0.0, 1.0);
            let mut sum = 0.0;
            for (of_cos, of_sin) in &lines {
                (s, c) = (s * cos + c * sin, c * cos - s * sin);
                sum += of_cos * c + of_sin * s;
            }
            sum
        })
        .collect()
}

impl PadNoise {
    /// `length` samples at 16 kHz with an RMS of [`NOISE_RMS`], the same for the same seed everywhere.
    ///
    /// A peak beyond full scale (a rare gust) is cut off there.
    #[must_use]
    pub fn generate(&self, length: usize, seed: u64) -> Vec<f32> {
        let mut random = Random(seed);
        let mut total = self.beating_broadband(length, &mut random);
        let unit = rms(&total);
        if let Some(db) = self.rotor_db {
            // All in step, so that they add up to a slap; each falls by 0.5 dB, so that the part
            // above the microphone's low cut is heard.
            let lines: Vec<_> = (1..=ROTOR_HARMONICS)
                .map(|n| (gain(-0.5 * f64::from(n)), 0.25))
                .collect();
            add(
                &mut total,
                &harmonics(length, self.blade_pass_hz, &lines, &mut random),
                unit * gain(db),
            );
        }
        if let Some((hz, db)) = self.tail {
            let lines: Vec<_> = (1..=TAIL_HARMONICS)
                .map(|n| (gain(-3.0 * f64::from(n)), random.unit()))
                .collect();
            add(
                &mut total,
                &harmonics(length, hz, &lines, &mut random),
                unit * gain(db),
            );
        }
        for &(hz, db) in &self.turbine {
            add(
                &mut total,
                &harmonics(length, hz, &[(1.0, 0.0)], &mut random),
                unit * gain(db),
            );
        }
        if let Some((hz, db)) = self.piston {
            // Half orders too: a four-stroke engine does not fire quite evenly.
            let orders: Vec<_> = (1..=24)
                .map(|half| (half, 0.5 * hz * f64::from(half)))
                .take_while(|(_, at)| *at <= 1_000.0)
                .map(|(half, at)| {
                    let low = if at >= 200.0 { 0.0 } else { -6.0 };
                    let uneven = if half % 2 == 0 { 0.0 } else { -9.0 };
                    (gain(low + uneven), random.unit())
                })
                .collect();
            add(
                &mut total,
                &harmonics(length, 0.5 * hz, &orders, &mut random),
                unit * gain(db),
            );
        }
        if let Some((per_minute, db)) = self.gusts {
            self.blow(&mut total, per_minute, unit * gain(db), &mut random);
        }
        self.through_microphone(&mut total);
        let scale = NOISE_RMS / rms(&total).max(1e-12);
        total
            .iter()
            .map(|v| (v * scale).clamp(-1.0, 1.0) as f32)
            .collect()
    }

    /// Tilted noise whose strength follows the blades; no two blades are quite alike.
    fn beating_broadband(&self, length: usize, random: &mut Random) -> Vec<f64> {
        let noise = tilted_noise(length, self.tilt_db_per_octave, random);
        let mut strength = 1.0;
        let mut turn = 0.0;
        noise
            .iter()
            .map(|x| {
                turn += self.blade_pass_hz / RATE;
                if turn >= 1.0 {
                    turn -= 1.0;
                    strength = 1.0 + 0.1 * random.normal();
                }
                // Loudest in mid-turn, so that a change of blade falls into the quiet.
                let pulse = libm::pow(0.5 - 0.5 * libm::cos(TAU * turn), self.slap.max(1.0));
                let depth = self.modulation_depth.clamp(0.0, 1.0);
                x * (1.0 - depth + depth * pulse * strength)
            })
            .collect()
    }

    /// Adds gusts: noise below some 300 Hz that swells and dies within 0.3 to 2 s.
    fn blow(&self, total: &mut [f64], per_minute: f64, level: f64, random: &mut Random) {
        let mut low = [LowPass::new(150.0), LowPass::new(300.0)];
        let mut wind: Vec<f64> = (0..total.len())
            .map(|_| low.iter_mut().fold(random.normal(), |x, low| low.run(x)))
            .collect();
        let scale = level / rms(&wind).max(1e-12);
        let mut envelope = vec![0.0f64; total.len()];
        let mut at = 0.0;
        loop {
            // Gaps of a random process without memory.
            at += -libm::log(1.0 - random.unit()) * 60.0 / per_minute.max(1e-3) * RATE;
            let (start, span) = (at as usize, ((0.3 + 1.7 * random.unit()) * RATE) as usize);
            let strong = 0.4 + 0.6 * random.unit();
            if start >= total.len() {
                break;
            }
            for (i, e) in envelope.iter_mut().skip(start).take(span).enumerate() {
                let s = libm::sin(TAU / 2.0 * i as f64 / span as f64);
                *e = e.max(strong * s * s);
            }
        }
        for ((t, w), e) in total.iter_mut().zip(&mut wind).zip(&envelope) {
            *t += *w * scale * e;
        }
    }

    /// Two first-order low cuts.
    fn through_microphone(&self, samples: &mut [f64]) {
        for _ in 0..2 {
            let mut below = LowPass::new(self.low_cut_hz);
            for x in samples.iter_mut() {
                *x -= below.run(*x);
            }
        }
    }
}

#[cfg(test)]
mod tests;
