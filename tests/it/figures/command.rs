//! `loadwalk figures`: answers on stdout, messages on stderr, exit codes, the picture.

use loadwalk::cli::figures::{FiguresArgs, run};
use std::path::{Path, PathBuf};

fn skid() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("plans/generator-skid.toml")
}

fn args(plan: PathBuf) -> FiguresArgs {
    FiguresArgs {
        plan,
        json: false,
        count: Vec::new(),
        missing: Vec::new(),
        slack: Vec::new(),
        level: false,
        design: false,
        svg: None,
        png: None,
    }
}

/// Exit code, stdout, stderr.
fn ran(args: &FiguresArgs) -> (u8, String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(args, &mut out, &mut err).unwrap();
    (
        code,
        String::from_utf8(out).unwrap(),
        String::from_utf8(err).unwrap(),
    )
}

#[test]
fn a_good_plan_passes_with_its_caution() {
    let (code, out, err) = ran(&args(skid()));
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.contains("Nothing fails."));
    assert!(out.contains("qualified person decide"));
    assert!(
        out.contains("table, rows 6000 ft and 8000 ft, columns 0 °C and 10 °C (1800 kg, 1750 kg;"),
        "{out}"
    );
}

#[test]
fn json_is_all_there_is_on_stdout() {
    let mut args = args(skid());
    args.json = true;
    args.count = vec![("rear-right".to_owned(), 20)];
    args.level = true;
    let (code, out, err) = ran(&args);
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
    let (code, out, err) = ran(&args(PathBuf::from("no-such-plan.toml")));
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("no-such-plan.toml"), "{err}");

    let mut bad = args(skid());
    bad.count = vec![("middle".to_owned(), 3)];
    let (code, out, err) = ran(&bad);
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
    let mut args = args(skid());
    args.svg = Some(path.clone());
    args.count = vec![("rear-right".to_owned(), 20)];
    ran(&args);
    let svg = std::fs::read_to_string(path).unwrap();
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
    args.count.clear();
    ran(&args);
    let svg = std::fs::read_to_string(args.svg.as_ref().unwrap()).unwrap();
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
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("plan.toml");
    let text = std::fs::read_to_string(skid()).unwrap();
    std::fs::write(
        &plan,
        text.replace("hook_limit = \"1800 kg\"", "hook_limit = \"1800 t\""),
    )
    .unwrap();
    let mut args = args(plan);
    let (code, out, err) = ran(&args);
    assert_eq!(code, 0);
    assert!(
        err.contains("the hook has a limit of 1452 times the load"),
        "{err}"
    );
    assert!(out.contains("WARN  slip, the plan"), "{out}");
    assert!(out.contains("1 wants a qualified person's look"), "{out}");
    args.json = true;
    let value: serde_json::Value = serde_json::from_str(&ran(&args).1).unwrap();
    assert_eq!(
        value["warnings"][0]["title"],
        "the hook has a limit of 1452 times the load"
    );
    assert!(value["warnings"][0]["line"].as_u64() > Some(50));
}

#[test]
fn a_deduction_is_told_as_it_is_used() {
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("plan.toml");
    let text = std::fs::read_to_string(skid()).unwrap();
    std::fs::write(&plan, text.replace("\"10 percent\"", "\"7.5 percent\"")).unwrap();
    let (_, out, _) = ran(&args(plan));
    assert!(out.contains("less 7.5 percent:"), "{out}");
}

#[test]
fn two_findings_of_one_leg_that_cannot_both_be_are_refused() {
    let station = || "rear-right".to_owned();
    let refused = |args: FiguresArgs| {
        let (code, _, err) = ran(&args);
        assert_eq!(code, 2, "{err}");
        assert!(
            err.contains("two things are said to have been found at the rear right leg"),
            "{err}"
        );
    };
    let mut twice = args(skid());
    twice.count = vec![(station(), 3), (station(), 8)];
    refused(twice);
    let mut both = args(skid());
    (both.missing, both.slack) = (vec![station()], vec![station()]);
    refused(both);
    let mut counted = args(skid());
    (counted.missing, counted.count) = (vec![station()], vec![(station(), 3)]);
    refused(counted);
    let mut same = args(skid());
    same.count = vec![(station(), 3), (station(), 3)];
    assert_eq!(ran(&same).0, 0);
}

#[test]
fn a_picture_does_not_go_into_a_record() {
    let folder = tempfile::tempdir().unwrap();
    let record = folder.path().join("record");
    std::fs::create_dir_all(record.join("clips")).unwrap();
    std::fs::write(record.join(loadwalk::record::JOURNAL_FILE), "").unwrap();
    for place in ["record/skid.svg", "record/clips/skid.svg"] {
        let mut args = args(skid());
        args.svg = Some(folder.path().join(place));
        let (code, _, err) = ran(&args);
        assert_eq!(code, 2, "{err}");
        assert!(err.contains("lies in a record"), "{err}");
        assert!(!folder.path().join(place).exists());
    }
    let mut beside = args(skid());
    beside.svg = Some(folder.path().join("skid.svg"));
    assert_eq!(ran(&beside).0, 0);
}
