use super::capture::take;
use super::keeper::Health;
use super::playback::Callback;
use super::*;
use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use rtrb::RingBuffer;
use std::sync::atomic::Ordering;

/// Ends the test program where something is allocated or freed inside [`assert_no_alloc`].
#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

#[test]
fn the_microphone_s_callback_allocates_nothing_and_counts_what_is_lost() {
    let (mut ring, mut taken) = RingBuffer::new(1_000);
    let health = Health::default();
    let stereo: Vec<i16> = (0..600).flat_map(|_| [8_192, -24_576]).collect();
    for _ in 0..3 {
        assert_no_alloc(|| take(&stereo, 2, &mut ring, &health));
    }
    assert_eq!(health.overruns.load(Ordering::Relaxed), 800);
    assert_eq!(health.gaps.load(Ordering::Relaxed), 2);
    assert_eq!(health.calls.load(Ordering::Relaxed), 3);
    assert_eq!(taken.slots(), 1_000);
    // The mean of a quarter and minus three quarters of full scale.
    assert_eq!(taken.pop(), Ok(-0.25));
}

#[test]
fn the_loudspeaker_s_callback_allocates_nothing() {
    let (mut callback, mut end) = Callback::new(48_000, 2);
    let mut out = vec![0i16; 2_000];
    assert!(end.ring.push_entire_slice(&[0.5; 1_500]).is_ok());
    let at = cpal::StreamInstant::new(0, 0);
    let info = cpal::OutputCallbackInfo::new(cpal::OutputStreamTimestamp {
        callback: at,
        playback: at,
    });
    assert_no_alloc(|| callback.fill(&mut out, &info));
    assert!(out.iter().all(|s| *s == 16_384));
    out.fill(0);
    assert_no_alloc(|| callback.fill(&mut out, &info));
    assert_eq!(out.iter().filter(|s| **s == 16_384).count(), 1_000);
    assert_no_alloc(|| callback.fill(&mut out, &info));
}

fn names() -> Vec<(String, String)> {
    [
        ("Built-in microphone", "host:pci-0"),
        ("Headset A mono", "host:usb-a"),
        ("Headset B mono", "host:usb-b"),
    ]
    .map(|(name, id)| (name.to_owned(), id.to_owned()))
    .to_vec()
}

#[test]
fn a_device_is_picked_by_id_name_or_part() {
    let pick = |wanted| pick(&names(), "microphone", wanted);
    assert_eq!(pick("host:usb-b"), Ok(2));
    assert_eq!(pick("usb-b"), Ok(2));
    assert_eq!(pick("headset a MONO"), Ok(1));
    assert_eq!(pick("built"), Ok(0));
    let error = pick("headset").unwrap_err().to_string();
    assert!(
        error.contains("Headset A") && error.contains("Headset B"),
        "{error}"
    );
    let error = pick("lapel").unwrap_err().to_string();
    assert!(
        error.contains("Built-in") && error.contains("lapel"),
        "{error}"
    );
}

#[test]
fn no_device_at_all_is_told() {
    let error = pick(&[], "microphone", "any").unwrap_err().to_string();
    assert!(error.contains("connect a headset"), "{error}");
}
