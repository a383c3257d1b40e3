//! Whole walks by headset.

use super::inspector::{FAINT, Robot, Room, alone, pactl, seconds, word_for};
use super::{record, verifies, walk};
use loadwalk::audio::devices::{Capture, Playback};
use loadwalk::ears::endpoint::Endpointing;
use loadwalk::ears::{Cutter, Ears, SpeechActivity};
use loadwalk::model::{Purpose, find};
use serde_json::Value;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// What the loudspeaker gives, as a recording.
struct Recording {
    over: Arc<AtomicBool>,
    thread: std::thread::JoinHandle<Vec<f32>>,
}

impl Recording {
    fn of(source: &'static str) -> Self {
        let over = Arc::new(AtomicBool::new(false));
        let cut = Arc::clone(&over);
        let thread = std::thread::spawn(move || {
            let mut capture = Capture::open(Some(source)).expect("the loudspeaker's monitor");
            let mut sound = Vec::new();
            while !cut.load(Ordering::Relaxed) {
                capture.read(&mut sound);
                std::thread::sleep(Duration::from_millis(20));
            }
            assert_eq!(capture.overruns(), 0);
            sound
        });
        Self { over, thread }
    }

    fn stop(self) -> Vec<f32> {
        self.over.store(true, Ordering::Relaxed);
        self.thread.join().expect("it records")
    }
}

/// Words as alike as this (Jaro and Winkler) are one, heard badly.
const NEAR: f64 = 0.8;

/// Words in lower case, numbers as figures.
fn words(text: &str) -> Vec<String> {
    let text = text.to_lowercase();
    let each = text.split(|c: char| !c.is_alphanumeric());
    let figures = [("one", "1"), ("three", "3"), ("four", "4")];
    each.filter(|w| !w.is_empty())
        .map(|w| {
            let figure = figures.iter().find(|(word, _)| *word == w);
            figure.map_or(w, |(_, figure)| figure).to_owned()
        })
        .collect()
}

/// What each model writes down. Either leaves out whole sentences now and then.
fn transcripts(sound: &[f32]) -> [String; 2] {
    let model = |purpose| find(None, purpose, None).expect("run `make test`, which fetches it");
    let network = SpeechActivity::load(&model(Purpose::VoiceActivity)).expect("it loads");
    let mut cutter = Cutter::new(network, Endpointing::default());
    let mut utterances = cutter.push(sound).expect("it listens");
    utterances.extend(cutter.finish());
    [Purpose::Speech, Purpose::SecondOpinion].map(|purpose| {
        let grammars = loadwalk::grammar::GrammarSet::builtin();
        let mut ears = Ears::load(&model(purpose), 2, grammars).expect("it loads");
        let texts = utterances
            .iter()
            .map(|u| ears.transcribe(&u.samples).expect("it hears"));
        texts.collect::<Vec<_>>().join(" ")
    })
}

/// All conforms, and what the loudspeaker gave is what the events say was spoken.
#[test]
fn a_conforming_walk_is_heard_as_it_was_spoken() {
    let Some(_alone) = alone() else { return };
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let recording = Recording::of("vspk.monitor");
    let mut robot = walk(&["--talk-over", "off", "--no-tones"]);
    robot.walk_on(&mut mouth, word_for);
    assert_eq!(robot.end(), 0, "ready");
    verifies(&robot);
    let heard = transcripts(&recording.stop()).map(|text| words(&text));
    let mut left = heard.clone();
    let spoken = robot.events.iter().filter_map(|e| e["say"].as_str());
    let spoken: Vec<String> = spoken.flat_map(words).collect();
    // A synthesiser's "three" is written down as "free" now and then.
    let mut is_heard = |word: &String| {
        let near = |other: &String| strsim::jaro_winkler(word, other) >= NEAR;
        // Of each model, so that neither has a word left for what was not spoken.
        let by_each = left.each_mut().map(|left| {
            let exact = left.iter().position(|other| other == word);
            let at = exact.or_else(|| left.iter().position(near));
            at.map(|at| left.swap_remove(at)).is_some()
        });
        by_each.contains(&true)
    };
    let found = spoken.iter().filter(|word| is_heard(word));
    let (found, all) = (found.count(), spoken.len());
    assert!(
        found * 10 >= all * 9,
        "{found} of {all} words: {spoken:?} was spoken, {heard:?} was heard"
    );
}

/// A missing paper and a wrong count are in the record, and the load is not ready.
#[test]
fn faults_are_found_and_the_load_is_not_ready() {
    let Some(_alone) = alone() else { return };
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = walk(&["--talk-over", "on"]);
    robot.walk_on(&mut mouth, |question| match word_for(question) {
        "joe/presence/present.flac" => "joe/presence/missing.flac",
        "joe/count/four.flac" => "joe/count/three.flac",
        other => other,
    });
    assert_eq!(robot.end(), 1, "not ready");
    verifies(&robot);
    let outcomes: Vec<(String, String)> = robot
        .events
        .iter()
        .filter(|e| e["entry"]["entry"] == "answered")
        .map(|e| {
            let text = |v: &Value| v.as_str().unwrap_or_default().to_owned();
            let entry = &e["entry"];
            (text(&entry["value"]), text(&entry["outcome"]["outcome"]))
        })
        .collect();
    let due = [
        ("missing", "deficient"),
        ("good", "conforming"),
        ("3", "deficient"),
        ("good", "conforming"),
    ];
    let due = due.map(|(v, o)| (v.to_owned(), o.to_owned()));
    assert_eq!(outcomes, due);
}

/// Once the question was spoken, says one fixture and so many seconds later another. The entry that this brings
/// about: the first is taken and then taken back, or both were heard as one that is refused, or asked back and
/// denied.
fn say_both(
    robot: &mut Robot,
    mouth: &mut Playback,
    ask: &Value,
    words: [&str; 2],
    gap: f32,
) -> Value {
    robot.until(|e| e["said"] == ask["id"]);
    seconds(0.7);
    robot.speak_both(mouth, words, gap);
    let wrote = robot.until(|e| {
        let entry = &e["entry"];
        let kinds = ["refused", "doubted"];
        entry["control"] == "correction" || kinds.iter().any(|kind| entry["entry"] == *kind)
    });
    if wrote["entry"]["entry"] == "doubted" {
        let question = robot.until(|e| e["phrase"] == "ask");
        robot.until(|e| e["said"] == question["id"]);
        seconds(0.7);
        robot.speak(mouth, "joe/yes-no/negative.flac");
    }
    wrote["entry"].clone()
}

/// Where something is said right behind an answer, it does not stand and its check is asked again: whether all
/// was heard as one, or the answer was taken in its first pause, or was over already.
#[test]
fn what_is_said_behind_an_answer_takes_it_back() {
    let Some(_alone) = alone() else { return };
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = walk(&["--talk-over", "on"]);
    let mut ask = robot.until(|e| e["phrase"] == "ask");
    let mut taken_back = 0;
    let words = [
        "joe/presence/present.flac",
        "no-answer/mind-the-rope-tilda.flac",
    ];
    for gap in [0.35, 0.55, 0.7] {
        let wrote = say_both(&mut robot, &mut mouth, &ask, words, gap);
        ask = robot.until(|e| e["phrase"] == "ask");
        if wrote["control"] == "correction" {
            taken_back += 1;
            assert!(robot.said("I cut in. Papers, load sheet."));
        }
    }
    assert!(
        taken_back > 0,
        "never taken in its pause: {:#?}",
        robot.events
    );
    robot.until(|e| e["said"] == ask["id"]);
    seconds(0.7);
    robot.speak(&mut mouth, "joe/presence/present.flac");
    robot.walk_on(&mut mouth, word_for);
    assert_eq!(robot.end(), 0, "ready");
    verifies(&robot);
    let entries = record(&robot);
    let counted = |kind: &str, key: &str, value: &str| {
        let of = |e: &&Value| e["entry"]["entry"] == kind && e["entry"][key] == value;
        entries.iter().filter(of).count()
    };
    let answers = counted("answered", "check", "papers/load-sheet");
    assert_eq!(answers, 1 + taken_back, "each but the last was taken back");
}

/// "Stop" right behind an answer takes it back and holds the walk.
#[test]
fn stop_right_behind_an_answer_holds_the_walk() {
    let Some(_alone) = alone() else { return };
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = walk(&["--talk-over", "on"]);
    let mut ask = robot.until(|e| e["phrase"] == "ask");
    let mut held = 0;
    let words = ["joe/presence/present.flac", "joe/control/stop.flac"];
    for gap in [0.35, 0.55, 0.7] {
        let wrote = say_both(&mut robot, &mut mouth, &ask, words, gap);
        if wrote["control"] == "correction" {
            let hold = robot.until(|e| e["entry"]["entry"] == "held");
            assert_eq!(hold["entry"]["why"], "stand by");
            held += 1;
            let tell = robot.until(|e| e["phrase"] == "tell");
            robot.until(|e| e["said"] == tell["id"]);
            seconds(0.7);
            robot.speak(&mut mouth, "joe/control/carry-on.flac");
        }
        ask = robot.until(|e| e["phrase"] == "ask");
    }
    assert!(held > 0, "never taken: {:#?}", robot.events);
    robot.until(|e| e["said"] == ask["id"]);
    seconds(0.7);
    robot.speak(&mut mouth, "joe/presence/present.flac");
    robot.walk_on(&mut mouth, word_for);
    assert_eq!(robot.end(), 0, "ready");
    verifies(&robot);
}

/// Unloads the sound server's module with this argument.
/// Unloads the sound server's module with this argument.
fn unload(argument: &str) {
    let modules = pactl(&["list", "short", "modules"]);
    let line = modules.lines().find(|line| line.contains(argument));
    let number = line
        .and_then(|l| l.split('\t').next())
        .expect("it is loaded");
    pactl(&["unload-module", number]);
}

/// The microphone goes and comes back, then the loudspeaker: each time the walk holds, takes nothing
/// meanwhile, and asks the check that was broken off again.
#[test]
fn a_headset_pulled_in_the_middle_holds_the_walk_until_it_is_back() {
    let Some(_alone) = alone() else { return };
    // The server moves sounds to the default sink as that changes: it must be none of those in use.
    pactl(&["load-module", "module-null-sink", "sink_name=spare"]);
    pactl(&["set-default-sink", "spare"]);
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = walk(&["--talk-over", "off"]);
    let ask = robot.until(|e| e["phrase"] == "ask");
    robot.until(|e| e["said"] == ask["id"]);
    unload("source_name=vmic");
    let held = robot.until(|e| e["entry"]["entry"] == "held");
    robot.speak(&mut mouth, "joe/presence/present.flac");
    pactl(&[
        "load-module",
        "module-remap-source",
        "source_name=vmic",
        "master=vmic_in.monitor",
    ]);
    robot.until(|e| e["entry"]["entry"] == "carried");
    let again = robot.until(|e| e["phrase"] == "ask");
    assert_eq!(again["say"], ask["say"], "the check that was broken off");
    assert!(
        !robot
            .after(&held)
            .any(|e| e["entry"]["entry"] == "answered"),
        "{:#?}",
        robot.events
    );
    // Now the loudspeaker, in the middle of the question.
    robot.until_begun(&again);
    unload("sink_name=vspk");
    robot.until(|e| e["entry"]["entry"] == "held");
    seconds(1.0);
    pactl(&[
        "load-module",
        "module-null-sink",
        "sink_name=vspk",
        "rate=48000",
        "channels=2",
    ]);
    robot.until(|e| e["entry"]["entry"] == "carried");
    robot.walk_on(&mut mouth, word_for);
    assert_eq!(robot.end(), 0, "ready: {}", robot.stderr());
    verifies(&robot);
    let held = |e: &&Value| e["entry"]["entry"] == "held";
    let entries = record(&robot);
    assert_eq!(entries.iter().filter(held).count(), 2, "{entries:#?}");
}

/// A minute of talk beside the load changes nothing; then it goes on.
#[test]
#[ignore = "takes two minutes; scripts/nightly.sh runs it"]
fn a_stand_by_of_a_minute_takes_nothing() {
    let Some(_alone) = alone() else { return };
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = walk(&["--talk-over", "on"]);
    let ask = robot.until(|e| e["phrase"] == "ask");
    robot.until(|e| e["said"] == ask["id"]);
    seconds(0.7);
    robot.speak(&mut mouth, "joe/control/stand-by.flac");
    let held = robot.until(|e| e["entry"]["entry"] == "held");
    let talk = [
        "no-answer/mind-the-rope-tilda.flac",
        "joe/presence/present.flac",
        "no-answer/is-that-one-for-the-roof-or-for-the-kitchen.flac",
        "no-answer/cough.flac",
    ];
    for n in 0..12 {
        robot.speak(&mut mouth, talk[n % talk.len()]);
        seconds(4.0);
    }
    robot.speak(&mut mouth, "joe/control/carry-on.flac");
    robot.until(|e| e["entry"]["entry"] == "carried");
    assert!(
        !robot
            .after(&held)
            .any(|e| e["entry"]["entry"] == "answered"),
        "{:#?}",
        robot.events
    );
    robot.walk_on(&mut mouth, word_for);
    assert_eq!(robot.end(), 0, "ready");
    verifies(&robot);
}

/// The speech service dies in the middle: the walk holds, another voice takes its place, and the
/// inspector carries on through it.
#[cfg(feature = "speech-service")]
#[test]
#[ignore = "kills the speech service that other tests use; scripts/nightly.sh runs it"]
fn a_killed_speech_service_is_replaced_and_the_walk_goes_on() {
    let Some(_alone) = alone() else { return };
    let Ok(service) = std::env::var("LOADWALK_SPEECH_SERVICE") else {
        return;
    };
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let mut robot = walk(&["--talk-over", "off"]);
    let ask = robot.until(|e| e["phrase"] == "ask");
    assert!(
        robot.stderr().contains("speech service"),
        "{}",
        robot.stderr()
    );
    robot.until_begun(&ask);
    let killed = std::process::Command::new("kill")
        .args(["-9", &service])
        .status();
    assert!(killed.expect("kill runs").success());
    robot.until(|e| e["entry"]["entry"] == "held");
    let replaced = robot.until(|e| {
        e["say"]
            .as_str()
            .is_some_and(|s| s.contains("voice is now"))
    });
    robot.until(|e| e["said"] == replaced["id"]);
    seconds(1.0);
    robot.speak(&mut mouth, "joe/control/carry-on.flac");
    robot.until(|e| e["entry"]["entry"] == "carried");
    robot.walk_on(&mut mouth, word_for);
    assert_eq!(robot.end(), 0, "ready");
    verifies(&robot);
}
