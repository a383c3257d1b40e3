//! The mel filter bank that a Whisper model file carries.

/// Bands of the bank.
pub const BANDS: usize = 80;
/// Frequency bins of a 400-point transform of real samples.
pub const BINS: usize = 201;

/// Sample rate for which the models were trained, Hz.
const RATE: f64 = 16_000.0;
/// Width of one bin, Hz: 16 kHz / 400.
const BIN_HZ: f64 = RATE / 400.0;
/// Slaney's scale: linear below 1 kHz with this many hertz a mel,
const HZ_PER_MEL: f64 = 200.0 / 3.0;
/// logarithmic above it,
const LOG_FROM_HZ: f64 = 1_000.0;
/// with 27 steps from 1 kHz to 6.4 kHz.
const STEPS: f64 = 27.0;
const STEPS_RATIO: f64 = 6.4;

/// The bank, row after row: [`BANDS`] triangles over [`BINS`] bins from 0 to 8 kHz, each of unit area.
///
/// Scale and norm: M. Slaney, Auditory Toolbox (1998), the default of librosa's `filters.mel`, with
/// which the Whisper models were trained. Logarithms come from `libm`, so that the result is the same
/// on every machine.
pub fn bank() -> Vec<f32> {
    let top = mel_of_hz(RATE / 2.0);
    let edges: Vec<f64> = (0..BANDS + 2)
        .map(|i| hz_of_mel(top * i as f64 / (BANDS + 1) as f64))
        .collect();
    let mut bank = Vec::with_capacity(BANDS * BINS);
    for edge in edges.windows(3) {
        let (low, middle, high) = (edge[0], edge[1], edge[2]);
        let norm = 2.0 / (high - low);
        for bin in 0..BINS {
            let hz = bin as f64 * BIN_HZ;
            let rising = (hz - low) / (middle - low);
            let falling = (high - hz) / (high - middle);
            bank.push((rising.min(falling).max(0.0) * norm) as f32);
        }
    }
    bank
}

fn mel_of_hz(hz: f64) -> f64 {
    if hz < LOG_FROM_HZ {
        hz / HZ_PER_MEL
    } else {
        LOG_FROM_HZ / HZ_PER_MEL + libm::log(hz / LOG_FROM_HZ) / (libm::log(STEPS_RATIO) / STEPS)
    }
}

fn hz_of_mel(mel: f64) -> f64 {
    let knee = LOG_FROM_HZ / HZ_PER_MEL;
    if mel < knee {
        mel * HZ_PER_MEL
    } else {
        LOG_FROM_HZ * libm::exp((mel - knee) * libm::log(STEPS_RATIO) / STEPS)
    }
}
