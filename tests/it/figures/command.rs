//! `loadwalk figures`: answers on stdout, messages on stderr, exit codes, the picture.

use crate::command::talk::{self, loadwalk, shipped};
use std::path::{Path, PathBuf};

fn skid() -> PathBuf {
    shipped("generator-skid.toml")
}

/// Exit code, stdout, stderr.
fn ran(plan: &Path, more: &[&str]) -> (i32, String, String) {
    let mut command = loadwalk();
    let output = command.arg("figures").arg(plan).args(more).output();
    talk::ran(&output.expect("it runs"))
}

/// The plan of the skid with one thing changed, in a folder that goes with the first of both.
fn changed(from: &str, to: &str) -> (tempfile::TempDir, PathBuf) {
    let text = std::fs::read_to_string(skid()).unwrap();
    assert!(text.contains(from), "{from}");
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("plan.toml");
    std::fs::write(&plan, text.replace(from, to)).unwrap();
    (folder, plan)
}

#[test]
fn a_good_plan_passes_with_its_caution() {
    let (code, out, err) = ran(&skid(), &[]);
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.contains("Nothing fails."));
    assert!(out.contains("qualified person decide"));
    assert!(
        out.contains("table, rows 6000 ft and 8000 ft, columns 0 °C and 10 °C (1800 kg, 1750 kg;"),
        "{out}"
    );
}

#[test]
fn one_leg_is_not_told_as_two_that_carry() {
    let (code, out, err) = ran(&shipped("gravel-net.toml"), &[]);
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.contains(" under the legs, on one leg\n"), "{out}");
}

#[test]
fn json_is_all_there_is_on_stdout() {
    let (code, out, err) = ran(&skid(), &["--json", "--count", "rear-right=20", "--level"]);
    assert_eq!((code, err.as_str()), (1, ""));
    let value: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(value["pass"], false);
    assert_eq!(value["counts"]["rear-right"], 20);
    assert_eq!(value["found"]["matters"], true);
    assert!(
        value["caution"]
            .as_str()
            .unwrap()
            .contains("qualified person")
    );
    assert!(value["hang"]["tilt_deg"].as_f64().unwrap() > 1.0);
    for verdict in value["verdicts"].as_array().unwrap() {
        for key in [
            "question",
            "grade",
            "value",
            "limit",
            "share_percent",
            "rule",
            "spoken",
        ] {
            assert!(verdict.get(key).is_some(), "no {key}: {verdict}");
        }
    }
}

#[test]
fn what_is_wrong_is_said_with_exit_code_two() {
    let (code, out, err) = ran(Path::new("no-such-plan.toml"), &[]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("no-such-plan.toml"), "{err}");

    let (code, out, err) = ran(&skid(), &["--count", "middle=3"]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(
        err.contains("front-left, front-right, rear-left, rear-right"),
        "{err}"
    );
}

#[test]
fn the_picture_is_true_to_scale_and_prints_its_numbers() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("skid.svg");
    let file = path.to_str().unwrap();
    ran(&skid(), &["--svg", file, "--count", "rear-right=20"]);
    let svg = std::fs::read_to_string(&path).unwrap();
    for words in [
        "generator skid",
        "slack",
        "link 20!",
        "from the front",
        "from above",
        "1 m",
    ] {
        assert!(svg.contains(words), "{words}");
    }
    assert!(!svg.contains("NaN") && !svg.contains("inf"));
    // The plan view's outline is the skid's 2.4 by 1.5 m, seen straight from above when level, the
    // front up.
    ran(&skid(), &["--svg", file]);
    let svg = std::fs::read_to_string(&path).unwrap();
    let scale = number_after(&svg, "<line x1=\"24.0\"", "x2=\"") - 24.0;
    let points: Vec<(f64, f64)> = svg
        .match_indices("<polygon points=\"")
        .last()
        .map(|(at, head)| {
            let list = &svg[at + head.len()..];
            let list = &list[..list.find('"').unwrap()];
            list.split(' ')
                .map(|p| {
                    let (x, y) = p.split_once(',').unwrap();
                    (x.parse().unwrap(), y.parse().unwrap())
                })
                .collect()
        })
        .unwrap();
    let span = |of: fn(&(f64, f64)) -> f64| {
        let values: Vec<f64> = points.iter().map(of).collect();
        values.iter().copied().fold(f64::MIN, f64::max)
            - values.iter().copied().fold(f64::MAX, f64::min)
    };
    assert!((span(|p| p.0) / scale - 1.5).abs() < 0.02);
    assert!((span(|p| p.1) / scale - 2.4).abs() < 0.02);
}

/// The number that follows `key` in the element that starts with `element`.
fn number_after(svg: &str, element: &str, key: &str) -> f64 {
    let at = svg.find(element).unwrap();
    let at = at + svg[at..].find(key).unwrap() + key.len();
    let end = at + svg[at..].find('"').unwrap();
    svg[at..end].parse().unwrap()
}

#[test]
fn warnings_of_the_plan_are_told_with_the_figures() {
    let (_folder, plan) = changed("hook_limit = \"1800 kg\"", "hook_limit = \"1800 t\"");
    let (code, out, err) = ran(&plan, &[]);
    assert_eq!(code, 0);
    // Drawn as `lint` draws them: title, place, fix.
    let told = "warning: the hook has a limit of 1452 times the load";
    assert!(err.starts_with(told), "{err}");
    assert_eq!(err.matches(told).count(), 1, "{err}");
    assert!(err.contains("--> ") && err.contains("help: "), "{err}");
    assert!(out.contains("WARN  slip, the plan"), "{out}");
    assert!(out.contains("1 wants a qualified person's look"), "{out}");
    let (_, out, _) = ran(&plan, &["--json"]);
    let value: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(
        value["warnings"][0]["title"],
        "the hook has a limit of 1452 times the load"
    );
    assert!(value["warnings"][0]["line"].as_u64() > Some(50));
}

/// What only this rigging shows is drawn in the same way, once, and the answer follows.
#[test]
fn a_rig_that_cannot_hang_is_told_with_its_line_and_the_rest_is_answered() {
    let from = "front-left  = { forward = \"1.05 m\"";
    let (_folder, plan) = changed(from, "front-left  = { forward = \"9 m\"");
    let (code, out, err) = ran(&plan, &[]);
    assert_eq!(code, 1, "{err}");
    let told = err.split("\n\n").find(|told| told.starts_with("error: "));
    let told = told.expect("the rig's fault");
    assert!(told.contains("they cannot meet"), "{err}");
    assert!(told.contains("plan.toml:47:1\n"), "{err}");
    assert_eq!(err.matches("they cannot meet").count(), 1, "{err}");
    assert!(out.contains("qualified person decide"), "{out}");
}

/// Whoever closes or fills stderr takes the messages from himself, not the answer.
#[cfg(target_os = "linux")]
#[test]
fn messages_that_cannot_be_written_take_nothing_from_the_answer() {
    let (_folder, plan) = changed("hook_limit = \"1800 kg\"", "hook_limit = \"1800 t\"");
    let full = std::fs::File::options().write(true).open("/dev/full");
    let mut command = loadwalk();
    command.arg("figures").arg(&plan).arg("--json");
    command.stderr(full.unwrap());
    let (code, out, _) = talk::ran(&command.output().unwrap());
    assert_eq!(code, 0);
    let value: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(value["pass"], true);
}

#[cfg(target_os = "linux")]
#[test]
fn an_answer_that_cannot_be_written_is_told() {
    let full = std::fs::File::options().write(true).open("/dev/full");
    let mut command = loadwalk();
    command.arg("figures").arg(skid()).stdout(full.unwrap());
    let (code, _, err) = talk::ran(&command.output().unwrap());
    assert_eq!(code, 2, "{err}");
    assert!(err.contains("the output could not be written"), "{err}");
}

/// With less memory than a file without an end would take.
#[cfg(target_os = "linux")]
#[test]
fn a_plan_without_an_end_is_refused_and_not_read_on() {
    for what in ["figures", "lint"] {
        let mut command = std::process::Command::new("sh");
        command.args(["-c", "ulimit -v 1000000; exec \"$@\"", "sh"]);
        command.args([env!("CARGO_BIN_EXE_loadwalk"), what, "/dev/zero"]);
        let (code, out, err) = talk::ran(&command.output().unwrap());
        assert_eq!((code, out.as_str()), (2, ""), "{what}: {err}");
        assert!(err.contains("it has more than 4194304 bytes"), "{err}");
    }
}

#[test]
fn a_deduction_is_told_as_it_is_used() {
    let (_folder, plan) = changed("\"10 percent\"", "\"7.5 percent\"");
    let (_, out, _) = ran(&plan, &[]);
    assert!(out.contains("less 7.5 percent:"), "{out}");
}

#[test]
fn two_findings_of_one_leg_that_cannot_both_be_are_refused() {
    let (three, eight) = (["--count", "rear-right=3"], ["--count", "rear-right=8"]);
    let missing = ["--missing", "rear-right"];
    for both in [
        [three, eight],
        [missing, ["--slack", "rear-right"]],
        [missing, three],
    ] {
        let (code, _, err) = ran(&skid(), &both.concat());
        assert_eq!(code, 2, "{err}");
        assert!(
            err.contains("two things are said to have been found at the rear right leg"),
            "{err}"
        );
    }
    assert_eq!(ran(&skid(), &[three, three].concat()).0, 0);
}

#[test]
fn a_picture_does_not_go_into_a_record() {
    let folder = tempfile::tempdir().unwrap();
    let record = folder.path().join("record");
    std::fs::create_dir_all(record.join("clips")).unwrap();
    std::fs::write(record.join(loadwalk::record::JOURNAL_FILE), "").unwrap();
    for place in ["record/skid.svg", "record/clips/skid.svg"] {
        let file = folder.path().join(place);
        let (code, _, err) = ran(&skid(), &["--svg", file.to_str().unwrap()]);
        assert_eq!(code, 2, "{err}");
        assert!(err.contains("lies in the record"), "{err}");
        assert!(!file.exists());
    }
    let beside = folder.path().join("skid.svg");
    assert_eq!(ran(&skid(), &["--svg", beside.to_str().unwrap()]).0, 0);
}

/// Every leg at the other end's count: nothing fails, and it is not as planned all the same.
#[test]
fn counts_that_are_not_as_planned_are_told_at_the_end() {
    let as_planned = |more: &[&str]| {
        let (code, out, _) = ran(&skid(), &[more, &["--json"]].concat());
        let value: serde_json::Value = serde_json::from_str(&out).unwrap();
        (code, value["counts_as_planned"].as_bool().unwrap())
    };
    assert_eq!(as_planned(&[]), (0, true));
    let other = [
        "front-left=3",
        "front-right=3",
        "rear-left=8",
        "rear-right=8",
    ];
    let other: Vec<&str> = other.iter().flat_map(|count| ["--count", count]).collect();
    assert_eq!(as_planned(&other), (0, false));
    let (_, out, _) = ran(&skid(), &other);
    let last = out.lines().find(|l| l.starts_with("Nothing fails."));
    let last = last.unwrap_or_else(|| panic!("{out}"));
    assert!(last.contains("The counts are not as planned: "), "{last}");
    assert!(last.contains("rear left at 8 for 3"), "{last}");
    let (_, out, _) = ran(&skid(), &[]);
    assert!(!out.contains("not as planned"), "{out}");
}

#[test]
fn what_lifts_and_with_which_set_is_told() {
    let (_, out, _) = ran(&skid(), &[]);
    let told = "Lifted by: helicopter (the valley's helicopter); sling set: four-leg set";
    assert!(out.contains(told), "{out}");
    let (_, out, _) = ran(&shipped("gravel-net.toml"), &["--json"]);
    let value: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(value["lifter"], "helicopter");
    assert_eq!(value["sling_set"], "strop");
}

#[test]
fn legs_that_share_a_station_have_counts_of_their_own() {
    let text = std::fs::read_to_string(skid()).unwrap();
    let shared = text.replacen("station = \"front-right\"", "station = \"front-left\"", 1);
    assert_ne!(shared, text);
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("shared.toml");
    std::fs::write(&plan, shared).unwrap();
    let (_, out, err) = ran(&plan, &["--json", "--count", "front-right=9"]);
    let value: serde_json::Value = serde_json::from_str(&out).expect(&err);
    let counts = value["counts"].as_object().unwrap();
    assert_eq!(counts.len(), 4, "{counts:?}");
    assert_eq!(counts["front-left"], 8);
    assert_eq!(counts["front-right"], 9);
}

#[test]
fn a_picture_does_not_take_the_place_of_its_plan() {
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("plan.toml");
    std::fs::copy(skid(), &plan).unwrap();
    let (code, _, err) = ran(&plan, &["--svg", plan.to_str().unwrap()]);
    assert_eq!(code, 2, "{err}");
    assert!(err.contains("is named twice"), "{err}");
    assert_eq!(
        std::fs::read(&plan).unwrap(),
        std::fs::read(skid()).unwrap()
    );
}
