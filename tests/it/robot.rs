//! A robot inspector walks by headset: it listens to what the program says, and speaks recorded words into
//! the microphone of a virtual headset. `tests/virtual-headset.sh cargo test --test it robot::` runs it;
//! without the virtual headset it passes over.

#![cfg(all(feature = "devices", feature = "whisper"))]

mod called;
#[allow(dead_code, reason = "examples/headset uses all of it")]
mod inspector;
mod walks;

use crate::command::talk::{loadwalk, ran};
use inspector::{FAINT, Robot, Room, alone, pactl, seconds, word_for};
use loadwalk::audio::devices::Playback;
use serde_json::Value;
use std::path::Path;

/// A walk round the net by headset.
fn walk(more: &[&str]) -> Robot {
    walk_by("tests/it/robot/gravel.toml", more)
}

fn walk_by(plan: &str, more: &[&str]) -> Robot {
    let plan = Path::new(env!("CARGO_MANIFEST_DIR")).join(plan);
    let mut command = loadwalk();
    command.arg("walk").arg(plan).args(more);
    command.args(["--inspector", "Ilse Brandt", "--rigger", "Oskar Venn"]);
    command.arg("--brief");
    let folder = tempfile::tempdir().expect("a folder");
    let kept = folder.path().join("devices.json");
    std::fs::write(&kept, r#"{"mic": "vmic", "speaker": "vspk"}"#).expect("it is written");
    command.env("LOADWALK_DEVICES", kept);
    Robot::start(command, folder)
}

/// Where the microphone does not hear the tool, an answer is taken while the question is still spoken, and
/// the question stops.
#[test]
fn an_answer_over_the_question_stops_it() {
    let Some(_alone) = alone() else { return };
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = walk(&["--talk-over", "auto"]);
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
    robot.walk_on(&mut mouth, word_for);
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

/// The entries of the record.
fn record(robot: &Robot) -> Vec<Value> {
    let lines = robot.events.iter().filter(|e| e["seq"].is_u64());
    lines.cloned().collect()
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
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = walk(&["--talk-over", "auto"]);
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

/// The headset that was named is taken again where none is named, though the system's default is another.
#[test]
fn a_headset_named_once_is_remembered() {
    let Some(_alone) = alone() else { return };
    let _room = Room::of("vmic_in", FAINT);
    pactl(&["set-default-source", "vspk.monitor"]);
    let mut robot = walk(&["--talk-over", "off", "--mic", "vmic"]);
    robot.until(|e| e["phrase"] == "ask");
    robot.kill();
    let kept = std::fs::read_to_string(robot.folder.path().join("devices.json"));
    assert_eq!(
        kept.expect("it is kept").trim(),
        r#"{"mic":"vmic","speaker":"vspk"}"#
    );
    let named = robot.stderr();
    let listening = named.split("listening on ").nth(1).expect("it is told");
    let microphone = listening.split(',').next().expect("a name");
    let mut robot = walk(&["--talk-over", "off"]);
    robot.until(|e| e["phrase"] == "ask");
    robot.kill();
    pactl(&["set-default-source", "vmic"]);
    let again = robot.stderr();
    assert!(again.contains("as last time"), "{again}");
    assert!(
        again.contains(&format!("listening on {microphone},")),
        "{again}"
    );
}
