//! A robot inspector walks by headset: it listens to what the program says, and speaks recorded words into
//! the microphone of a virtual headset. `tests/virtual-headset.sh cargo test --test it robot::` runs it;
//! without the virtual headset it passes over.

#![cfg(all(feature = "devices", feature = "whisper"))]

mod inspector;

use crate::command::talk::{loadwalk, ran};
use inspector::{Robot, Room, alone, pactl, seconds};
use loadwalk::audio::devices::Playback;

/// Where the microphone does not hear the tool, an answer is taken while the question is still spoken, and
/// the question stops.
#[test]
fn an_answer_over_the_question_stops_it() {
    let Some(_alone) = alone() else { return };
    let _room = Room::faint();
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = Robot::walk(&["--talk-over", "auto"]);
    let ask = robot.until(|e| e["phrase"] == "ask");
    assert!(
        robot.said("You may answer while I speak."),
        "{:?}",
        robot.events
    );
    assert!(robot.stderr().contains("answers count while it speaks"));
    robot.until_begun(&ask);
    seconds(1.5);
    robot.speak(&mut mouth, "joe/presence/present.flac");
    let answered = robot.until(|e| e["entry"]["entry"] == "answered");
    assert_eq!(answered["entry"]["value"], "present");
    let after: Vec<_> = robot.after(&ask).collect();
    assert!(after.iter().any(|e| e["quiet"] == true), "{after:#?}");
    assert!(
        !after.iter().any(|e| e["said"] == ask["id"]),
        "it was spoken to its end"
    );
    robot.walk_on(&mut mouth);
    assert_eq!(robot.end(), 0, "ready");
    verifies(&robot);
}

fn verifies(robot: &Robot) {
    let record = robot.folder.path().join("record");
    let (code, out, err) = ran(&loadwalk()
        .arg("verify")
        .arg(record)
        .output()
        .expect("it starts"));
    assert_eq!(code, 0, "{out}{err}");
}

/// Where the microphone hears the loudspeaker, answers count after the tone; what was said over the question
/// is no answer.
#[test]
fn with_a_loudspeaker_answers_wait_for_the_tone() {
    let Some(_alone) = alone() else { return };
    let module = pactl(&[
        "load-module",
        "module-loopback",
        "source=vspk.monitor",
        "sink=vmic_in",
        "latency_msec=60",
    ]);
    // It takes a moment until sound runs through it.
    seconds(1.5);
    let _room = Room::faint();
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = Robot::walk(&["--talk-over", "auto"]);
    let ask = robot.until(|e| e["phrase"] == "ask");
    let stderr = robot.stderr();
    assert!(
        stderr.contains("the microphone hears the loudspeaker"),
        "{stderr}"
    );
    assert!(robot.said("Answer after the tone."));
    robot.until_begun(&ask);
    seconds(1.0);
    robot.speak(&mut mouth, "joe/presence/missing.flac");
    robot.until(|e| e["said"] == ask["id"]);
    robot.until(|e| e["listening"] == true);
    seconds(0.6);
    robot.speak(&mut mouth, "joe/presence/present.flac");
    let answered = robot.until(|e| e["entry"]["entry"] == "answered");
    assert_eq!(answered["entry"]["value"], "present");
    robot.kill();
    pactl(&["unload-module", module.trim()]);
}
