//! The sweep of [`Earcon::Check`] is what [`echo`] finds.

use super::*;
use crate::audio::RATE;
use crate::audio::echo::echo;
use crate::audio::pad_noise::Preset;

fn sweep() -> Vec<f32> {
    earcon(Earcon::Check, RATE).samples
}

/// Noise at this root mean square with the sweep 300 ms in at this gain.
fn heard(noise_rms: f32, gain: f32, seed: u64) -> Vec<f32> {
    let noise = Preset::MediumFourBlade.parameters().generate(24_000, seed);
    let power = noise.iter().map(|s| s * s).sum::<f32>() / noise.len() as f32;
    let mut heard: Vec<f32> = noise.iter().map(|s| s * noise_rms / power.sqrt()).collect();
    for (h, p) in heard[4_800..].iter_mut().zip(sweep()) {
        *h += gain * p;
    }
    heard
}

#[test]
fn an_echo_is_found_with_its_gain_and_delay() {
    for (rms, gain) in [(0.001, 0.5), (0.01, 0.05), (0.05, 0.2)] {
        let found = echo(&sweep(), &heard(rms, gain, 3)).unwrap();
        let due = 20.0 * gain.log10();
        let gain_db = found.gain_db.expect("found");
        assert!((gain_db - due).abs() < 1.0, "{found:?}, due {due}");
        assert!((found.delay_ms - 300.0).abs() < 2.0, "{found:?}");
    }
}

#[test]
fn noise_alone_is_no_echo() {
    for seed in 0..20 {
        let found = echo(&sweep(), &heard(0.05, 0.0, seed)).unwrap();
        assert_eq!(found.gain_db, None, "{seed}: {found:?}");
    }
}

#[test]
fn what_noise_hides_is_told() {
    let quiet = echo(&sweep(), &heard(0.000_1, 0.0, 5)).unwrap();
    let loud = echo(&sweep(), &heard(0.2, 0.0, 5)).unwrap();
    assert!(quiet.least_db < -60.0, "{quiet:?}");
    // Twenty times a tenth of it twice more: the spread follows the noise, dB for dB.
    let apart = loud.least_db - quiet.least_db;
    assert!((apart - 66.0).abs() < 3.0, "{apart}");
}

#[test]
fn silence_tells_nothing() {
    assert_eq!(echo(&sweep(), &[0.0; 24_000]), None);
    assert_eq!(echo(&sweep(), &[0.1; 100]), None);
}
