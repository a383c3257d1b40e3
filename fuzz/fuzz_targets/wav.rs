//! Any bytes read as a sound file without a panic, and what is read is a sound.

#![no_main]

use libfuzzer_sys::fuzz_target;
use loadwalk::audio::{decode_wav, read_sound_bytes};

fuzz_target!(|bytes: &[u8]| {
    let _ = decode_wav(bytes);
    if let Ok(sound) = read_sound_bytes(bytes) {
        assert!(sound.iter().all(|s| s.is_finite()));
    }
});
