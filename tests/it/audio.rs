//! Sound through virtual devices. `tests/virtual-headset.sh` starts a private sound server with a
//! microphone and a loudspeaker made of null sinks and runs the test; without them it passes over.

#![cfg(feature = "devices")]

use loadwalk::audio::devices::{self, Capture, DeviceEvent, Direction, Playback, Played};
use loadwalk::audio::{Clip, RATE};
use loadwalk::voice::{Earcon, Mouth, Speaker, Tell, earcon};
use std::process::Command;
use std::sync::{Arc, mpsc};
use std::time::{Duration, Instant};

/// What nothing here should ever take.
const LONG: Duration = Duration::from_secs(20);

fn tone(hz: f64, rate: u32, seconds: f64) -> Clip {
    let count = (f64::from(rate) * seconds) as usize;
    let at = |i: usize| std::f64::consts::TAU * hz * i as f64 / f64::from(rate);
    Clip {
        rate,
        samples: (0..count).map(|i| 0.5 * at(i).sin() as f32).collect(),
    }
}

/// Reads until `done` says so.
#[track_caller]
fn read_until(
    capture: &mut Capture,
    mut done: impl FnMut(&[f32], Option<&DeviceEvent>) -> bool,
) -> Vec<f32> {
    let since = Instant::now();
    let mut sound = Vec::new();
    loop {
        let captured = capture.read(&mut sound);
        if done(&sound, captured.event.as_ref()) {
            return sound;
        }
        assert!(
            since.elapsed() < LONG,
            "waited in vain, {} samples came, {} of them loud",
            sound.len(),
            sound.iter().filter(|s| s.abs() > 0.05).count()
        );
        std::thread::sleep(Duration::from_millis(10));
    }
}

fn pactl(arguments: &[&str]) {
    let status = Command::new("pactl")
        .args(arguments)
        .stdout(std::process::Stdio::null())
        .status();
    assert!(status.unwrap().success(), "pactl {arguments:?}");
}

#[test]
fn a_virtual_headset_carries_sound_both_ways_and_is_missed_when_pulled() {
    if std::env::var_os("LOADWALK_VIRTUAL_HEADSET").is_none() {
        return;
    }
    let listed = devices::list().unwrap();
    let has = |direction, name: &str| {
        let mut all = listed.iter().filter(|d| d.direction == direction);
        all.any(|d| d.id.contains(name) || d.name.contains(name))
    };
    assert!(
        has(Direction::In, "vmic") && has(Direction::Out, "vspk"),
        "{listed:#?}"
    );
    assert!(Capture::open(Some("no such microphone")).is_err());

    // A tone spoken into the microphone's sink comes out as it went in.
    let mut mouth = Playback::open(Some("vmic_in")).unwrap();
    let mut capture = Capture::open(Some("vmic")).unwrap();
    let speaking = std::thread::spawn(move || {
        let played = mouth.play(&tone(1_000.0, 22_050, 1.0), 1.0, &|| false);
        (mouth, played)
    });
    let loud = |sound: &[f32]| sound.iter().filter(|s| s.abs() > 0.05).count();
    let enough = RATE as usize * 9 / 10;
    let sound = read_until(&mut capture, |sound, _| loud(sound) >= enough);
    let (mut mouth, played) = speaking.join().unwrap();
    assert_eq!(played, Played::Whole);
    let first = sound.iter().position(|s| s.abs() > 0.05).unwrap();
    let inner = &sound[first + 1_600..first + 9_600];
    let crossings = inner
        .windows(2)
        .filter(|w| w[0] < 0.0 && w[1] >= 0.0)
        .count();
    assert!(
        (498..=502).contains(&crossings),
        "{crossings} periods in half a second of 1 kHz"
    );
    let level = (inner.iter().map(|s| s * s).sum::<f32>() / inner.len() as f32).sqrt();
    assert!((level - 0.3536).abs() < 0.02, "{level}");
    assert_eq!(capture.overruns(), 0);

    // A cut is obeyed, and the next clip plays whole.
    let since = Instant::now();
    let cut = || since.elapsed() > Duration::from_millis(200);
    assert_eq!(
        mouth.play(&tone(500.0, 48_000, 60.0), 1.0, &cut),
        Played::Cut
    );
    assert_eq!(
        mouth.play(&earcon(Earcon::Heard, 48_000), 1.0, &|| false),
        Played::Whole
    );

    // A phrase is told when it was heard, and when it was cut.
    if let Ok(voice) = loadwalk::voice::find_program() {
        let (send, told) = mpsc::channel();
        let tell: Tell = Arc::new(move |spoken| send.send(spoken).unwrap_or(()));
        let mut speaker = Speaker::open(Some(voice), Some("vspk"), tell).unwrap();
        speaker.prepare(&["Carry on.".to_owned()]);
        speaker.tone(Earcon::Listening);
        speaker.say(1, "Front left hook.");
        assert_eq!(format!("{:?}", told.recv_timeout(LONG).unwrap()), "Said(1)");
        speaker.say(2, &"and so on ".repeat(60));
        speaker.say(3, "Never said.");
        std::thread::sleep(Duration::from_millis(300));
        speaker.stop();
        speaker.say(4, "Carry on.");
        for due in ["Cut(2)", "Cut(3)", "Said(4)"] {
            assert_eq!(format!("{:?}", told.recv_timeout(LONG).unwrap()), due);
        }
    }

    // The microphone pulled and put back.
    pactl(&["unload-module", "module-remap-source"]);
    read_until(&mut capture, |_, event| {
        matches!(event, Some(DeviceEvent::Lost { .. }))
    });
    assert!(!capture.is_open());
    let load = "source_name=vmic master=vmic_in.monitor";
    pactl(&["load-module", "module-remap-source", load]);
    read_until(&mut capture, |_, event| {
        matches!(event, Some(DeviceEvent::Back { .. }))
    });
    read_until(&mut capture, |sound, _| sound.len() > 1_000);

    // The loudspeaker pulled while it plays.
    let mut speaker = Playback::open(Some("vspk")).unwrap();
    let playing =
        std::thread::spawn(move || speaker.play(&tone(500.0, 48_000, 60.0), 1.0, &|| false));
    std::thread::sleep(Duration::from_millis(300));
    let sinks = Command::new("pactl")
        .args(["list", "short", "modules"])
        .output()
        .unwrap();
    let sinks = String::from_utf8_lossy(&sinks.stdout).into_owned();
    let module = sinks
        .lines()
        .find(|line| line.contains("sink_name=vspk"))
        .unwrap();
    pactl(&["unload-module", module.split('\t').next().unwrap()]);
    assert!(matches!(playing.join().unwrap(), Played::Lost { .. }));
}

/// The speech service tells the end of a phrase, obeys a stop, and is missed when it dies.
#[cfg(feature = "speech-service")]
#[test]
fn a_speech_service_speaks_and_its_death_is_told() {
    use loadwalk::voice::Service;
    let Ok(process) = std::env::var("LOADWALK_SPEECH_SERVICE") else {
        return;
    };
    let (send, told) = mpsc::channel();
    let tell: Tell = Arc::new(move |spoken| send.send(format!("{spoken:?}")).unwrap_or(()));
    let mut service = Service::open(None, tell).unwrap();
    let mut capture = Capture::open(Some("vspk.monitor")).unwrap();
    service.say(1, "Front left hook, pin present or missing?");
    assert_eq!(told.recv_timeout(LONG).unwrap(), "Said(1)");
    let loud = |sound: &[f32]| sound.iter().filter(|s| s.abs() > 0.02).count();
    read_until(&mut capture, |sound, _| loud(sound) > 4_000);
    service.say(2, &"and so on ".repeat(60));
    service.say(3, "Never said.");
    std::thread::sleep(Duration::from_millis(500));
    service.stop();
    service.say(4, "Carry on.");
    for due in ["Cut(2)", "Cut(3)", "Said(4)"] {
        assert_eq!(told.recv_timeout(LONG).unwrap(), due);
    }
    let killed = Command::new("kill").args(["-9", &process]).status();
    assert!(killed.unwrap().success());
    service.say(5, "Anyone?");
    service.say(6, "Anyone?");
    for due in ["Failed(5", "Failed(6"] {
        let spoken = told.recv_timeout(LONG).unwrap();
        assert!(spoken.starts_with(due), "{spoken}");
    }
}
