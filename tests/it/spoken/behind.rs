//! Sound files that hold more than one answer.

use super::{fixtures, hear};
use crate::command::talk::{loadwalk, ran};
use loadwalk::audio;
use serde_json::Value;
use std::path::{Path, PathBuf};

/// Writes fixtures one behind the other, with a second and a half between them.
fn joined(folder: &Path, name: &str, words: &[&str]) -> PathBuf {
    let mut sound: Vec<f32> = Vec::new();
    for word in words {
        sound.extend_from_slice(&audio::read(&fixtures().join(word)).expect("a fixture"));
        sound.extend([0.0; 24_000]);
    }
    let file = folder.join(name);
    std::fs::write(&file, loadwalk::record::clip_wav(&sound)).expect("written");
    file
}

#[test]
fn of_a_file_with_two_answers_none_is_taken() {
    let scratch = tempfile::tempdir().expect("a folder");
    let present = "joe/presence/present.flac";
    let missing = "joe/presence/missing.flac";
    let files = [
        joined(scratch.path(), "both.wav", &[present, missing]),
        joined(scratch.path(), "other.wav", &[missing, present]),
        joined(scratch.path(), "twice.wav", &[present, present]),
    ];
    let heard = hear("presence", &files);
    let decisions: Vec<&str> = heard
        .iter()
        .filter_map(|h| h["decision"].as_str())
        .collect();
    assert_eq!(decisions, ["confirm", "confirm", "take"], "{heard:?}");
    let reason = heard[0]["reason"].as_str();
    assert_eq!(reason, Some("the file has another answer too"));
}

#[test]
fn what_a_file_holds_behind_its_answer_takes_the_answer_back() {
    let scratch = tempfile::tempdir().expect("a folder");
    let present = fixtures().join("joe/presence/present.flac");
    let both = ["joe/presence/present.flac", "joe/presence/missing.flac"];
    let list = scratch.path().join("answers.txt");
    // Begins with a mark of its byte order, as some editors write it.
    let lines = format!(
        "\u{feff}{}\n{}\n",
        joined(scratch.path(), "both.wav", &both).display(),
        present.display()
    );
    std::fs::write(&list, lines).expect("written");
    let mut walk = loadwalk();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    walk.arg("walk")
        .arg(root.join("tests/it/robot/gravel.toml"));
    walk.args(["--inspector", "Ilse Brandt", "--rigger", "Oskar Venn"]);
    walk.arg("--answers").arg(&list);
    walk.args(["--fast", "--json", "--record"]);
    let (_, out, err) = ran(&walk
        .arg(scratch.path().join("record"))
        .output()
        .expect("it starts"));
    let entries: Vec<Value> = out
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).expect("JSON"))
        .map(|mut event| event["entry"].take())
        .collect();
    // Taken, taken back with the sound of what was said, asked again and answered.
    let answered = entries.iter().filter(|e| e["entry"] == "answered");
    assert_eq!(answered.count(), 2, "{err}{out}");
    let mut taken_back = entries.iter().filter(|e| e["control"] == "correction");
    let clip = taken_back
        .next()
        .and_then(|e| e["hearing"]["clip"].as_str());
    assert!(clip.is_some_and(|c| c.contains("went-on")), "{out}");
    assert!(taken_back.next().is_none(), "{out}");
}

#[test]
fn a_file_that_is_no_sound_is_a_wrong_file() {
    let scratch = tempfile::tempdir().expect("a folder");
    let text = scratch.path().join("text.wav");
    std::fs::write(&text, "no sound").expect("written");
    let list = scratch.path().join("answers.txt");
    std::fs::write(&list, "text.wav\n").expect("written");
    let mut walk = loadwalk();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    walk.arg("walk").arg(root.join("plans/generator-skid.toml"));
    walk.args(["--inspector", "Ilse Brandt", "--rigger", "Oskar Venn"]);
    walk.arg("--answers")
        .arg(&list)
        .args(["--fast", "--record"]);
    let (code, _, err) = ran(&walk
        .arg(scratch.path().join("record"))
        .output()
        .expect("it starts"));
    assert_eq!(code, 2, "{err}");
    assert!(
        err.contains("text.wav") && err.contains("loadwalk resume"),
        "{err}"
    );
}
