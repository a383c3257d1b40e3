//! Findings called off by headset.

use super::inspector::{FAINT, Room, alone, seconds};
use super::{record, verifies, walk_by};
use loadwalk::audio::devices::Playback;

/// What the three breaths say, and of the corner's twelve checks nothing else.
const SAID: [(&str, &str); 9] = [
    ("lifting-lug", "good"),
    ("shackle-pin", "present"),
    ("leg-rope", "good"),
    ("chain", "straight"),
    ("hook-keeper", "closed"),
    ("hook-links", "3"),
    ("free-end-tie", "present"),
    ("leg-routing", "clear"),
    ("edge-padding", "present"),
];

/// Three breaths are ticked item by item, the wrong count among them is read back by itself, and what was not
/// called is asked.
#[test]
fn findings_called_off_in_breaths_are_taken_and_the_rest_is_asked() {
    let Some(_alone) = alone() else { return };
    let _room = Room::of("vmic_in", FAINT);
    let mut mouth = Playback::open(Some("vmic_in")).expect("the microphone's sink");
    let options = ["--talk-over", "off", "--called=corner"];
    let mut robot = walk_by("hearing/corner.toml", &options);
    robot.until(|e| e["listening"] == true);
    seconds(0.5);
    robot.speak(&mut mouth, "joe/presence/present.flac");
    robot.until(|e| e["say"] == "Your findings.");
    for breath in [
        "demo/lifting-lug-good-pin-in-leg-rope-good.flac",
        "demo/chain-straight-keeper-closed-three-links.flac",
        "demo/free-end-tie-in-place-leg-routing-clear-padding-in-place.flac",
    ] {
        robot.until(|e| e["listening"] == true);
        seconds(0.5);
        robot.speak(&mut mouth, breath);
        robot.until(|e| e["called"].is_string());
    }
    robot.until(|e| e["listening"] == true);
    seconds(0.5);
    robot.speak(&mut mouth, "demo/station-done.flac");
    let asked = robot.until(|e| e["phrase"] == "ask");
    robot.kill();
    let answered: Vec<(String, String)> = record(&robot)
        .iter()
        .filter(|e| e["entry"]["entry"] == "answered")
        .filter_map(|e| {
            let check = e["entry"]["check"].as_str()?.strip_prefix("corner/")?;
            Some((check.to_owned(), e["entry"]["value"].as_str()?.to_owned()))
        })
        .collect();
    let was_said = |(check, value): &(String, String)| SAID.contains(&(check, value));
    assert!(answered.iter().all(was_said), "{answered:?}");
    // More than half of them at once; the rest, and three that were not said, are asked.
    assert!(answered.len() >= 5, "{answered:?}");
    assert!(robot.said(": taken."), "{:?}", robot.events);
    let count = ("hook-links".to_owned(), "3".to_owned());
    if answered.contains(&count) {
        assert!(robot.said("three, not as planned"));
    }
    let question = asked["say"].as_str().expect("text");
    assert!(question.ends_with('?'), "it asks about a check: {question}");
    verifies(&robot);
}
