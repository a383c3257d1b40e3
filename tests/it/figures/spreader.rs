//! How a load hangs below a spreader: bar and load are two bodies.

use super::verdicts::{one, plan};
use loadwalk::figures::{Figures, Grade, Question, RigError, Verdict, capacity, drawing, hang};
use loadwalk::plan::read;
use std::path::Path;

const BEAMS: &str = include_str!("../../../plans/roof-beams.toml");
/// Height of the bridle's apex over its bar: legs of 3.1 m that reach 1.5 m out.
const APEX_M: f64 = 2.712_931_993_250_107;

/// The beams with exact numbers, unstretched legs, and these changes; each must be there.
fn beams(changes: &[(&str, &str)]) -> String {
    let exact = [
        ("620 kg +/- 5 %", "620 kg"),
        ("0.05 m +/- 0.05 m", "0 m"),
        ("0 m +/- 1 cm", "0 m"),
        (
            "length = \"3 m +/- 1 cm\"",
            "length = \"3 m\"\nstretch_at_rating = \"0.01 percent\"",
        ),
    ];
    let mut text = BEAMS.to_owned();
    for (from, to) in exact.iter().chain(changes) {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    text
}

fn with_drops(length_m: f64, changes: &[(&str, &str)]) -> Figures {
    let drops = format!("drops = \"{length_m} m\"");
    let up = format!("up = \"{} m\"", 0.5 + length_m);
    let mut all = vec![
        ("drops = \"1.4 m\"", drops.as_str()),
        ("up = \"1.9 m\"", up.as_str()),
    ];
    all.extend(changes);
    Figures::of(&plan(&beams(&all)))
}

const FORWARD: &str = "forward = \"0 m\", left = \"0 m\", up = \"0.25 m\"";

fn forward(m: f64) -> String {
    FORWARD.replace("forward = \"0 m\"", &format!("forward = \"{m} m\""))
}

fn left(m: f64) -> String {
    FORWARD.replace("left = \"0 m\"", &format!("left = \"{m} m\""))
}

/// By virtual work: the load's weight acts 0.25 m below the bar, as far as it is below its drops. A minimum of the
/// energy of bar and load with elastic legs and drops gave 3.6 degrees for 0.2 m and 5.4 for 0.3, for drops of 1.4, 4 and 8 m.
#[test]
fn bar_and_load_lean_as_a_parallelogram_whatever_the_drops_length() {
    for (off, two_bodies) in [(0.1, 1.8), (0.2, 3.6), (0.3, 5.4)] {
        let by_hand = (off * 620.0) / (620.0 * (APEX_M + 0.25) + 48.0 * APEX_M);
        for drops in [1.4, 4.0, 8.0] {
            let figures = with_drops(drops, &[(FORWARD, &forward(off))]);
            let tilt = figures.hang.as_ref().expect("it hangs").tilt_deg;
            assert!((tilt - by_hand.atan().to_degrees()).abs() < 0.02, "{tilt}");
            assert!((tilt - two_bodies).abs() < 0.05, "{tilt} {two_bodies}");
        }
    }
    let over = with_drops(8.0, &[(FORWARD, &forward(0.3))]);
    assert_eq!(one(&over.verdicts, Question::Tilt).grade, Grade::Fail);
    // The centre of gravity is where it is, though its weight acts higher.
    let level = with_drops(8.0, &[]).hang.expect("it hangs");
    let by_hand = (620.0 * (APEX_M + 8.25) + 48.0 * APEX_M) / 668.0;
    assert!((level.apex_over_cg_m - by_hand).abs() < 0.01);
}

#[test]
fn a_load_below_two_drops_rolls_about_their_line() {
    for (off, roll) in [(0.1, 21.8), (0.02, 4.57), (-0.1, -21.8)] {
        for drops in [1.4, 4.0] {
            let figures = with_drops(drops, &[(FORWARD, &left(off))]);
            let hang = figures.hang.as_ref().expect("it hangs");
            assert!((hang.left_down_deg - roll).abs() < 0.01, "{hang:?}");
            assert!((hang.tilt_deg - f64::abs(roll)).abs() < 0.01);
            let fails = one(&figures.verdicts, Question::Tilt).grade == Grade::Fail;
            assert_eq!(fails, f64::abs(roll) > 5.0);
        }
    }
    // Its plus or minus counts as much.
    let unsure = with_drops(
        1.4,
        &[(
            FORWARD,
            &FORWARD.replace("left = \"0 m\"", "left = \"0 m +/- 0.1 m\""),
        )],
    );
    let worst = one(&unsure.verdicts, Question::Tilt)
        .at_worst()
        .expect("a number");
    assert!((worst.number() - 21.8).abs() < 0.01, "{worst:?}");
    // So does that of the points that it hangs from.
    let unsure = with_drops(
        1.4,
        &[
            (
                "front-strop = { forward = \"1.5 m\",  left = \"0 m\"",
                "front-strop = { forward = \"1.5 m\",  left = \"0 m +/- 0.1 m\"",
            ),
            (
                "rear-strop  = { forward = \"-1.5 m\", left = \"0 m\"",
                "rear-strop  = { forward = \"-1.5 m\", left = \"0 m +/- 0.1 m\"",
            ),
        ],
    );
    let worst = one(&unsure.verdicts, Question::Tilt)
        .at_worst()
        .expect("a number");
    assert!((worst.number() - 21.8).abs() < 0.01, "{worst:?}");
    // With its centre of gravity over the line it rolls over.
    let over = with_drops(1.4, &[(FORWARD, &FORWARD.replace("0.25 m", "0.6 m"))]);
    assert!(over.hang.is_err(), "{:?}", over.hang);
    assert!(!over.pass());
}

#[test]
fn a_centre_of_gravity_beside_the_drops_fails() {
    let figures = with_drops(1.4, &[(FORWARD, &forward(1.9))]);
    assert_eq!(figures.hang, Err(RigError::DropSlack));
    assert!(!figures.pass());
    assert!(with_drops(1.4, &[(FORWARD, &forward(0.2))]).pass());
}

/// A frame on four legs with four drops, on a load with its centre of gravity 0.1 m to the left.
#[test]
fn below_a_frame_a_load_leans_to_the_side_as_it_does_forward() {
    let frame = [
        (
            "front-strop = { forward = \"1.5 m\",  left = \"0 m\", up = \"0.5 m\" }",
            "fl = { forward = \"1.5 m\", left = \"0.3 m\", up = \"0.5 m\" }\nfr = { forward = \"1.5 m\", left = \"-0.3 m\", up = \"0.5 m\" }",
        ),
        (
            "rear-strop  = { forward = \"-1.5 m\", left = \"0 m\", up = \"0.5 m\" }",
            "rl = { forward = \"-1.5 m\", left = \"0.3 m\", up = \"0.5 m\" }\nrr = { forward = \"-1.5 m\", left = \"-0.3 m\", up = \"0.5 m\" }",
        ),
    ];
    let mut changes = frame.to_vec();
    changes.extend([
        ("front = { forward = \"1.5 m\",  left = \"0 m\", up = \"1.9 m\", rating = \"1000 kg\" }",
         "a = { forward = \"1.5 m\", left = \"0.3 m\", up = \"1.9 m\", rating = \"1000 kg\" }\nb = { forward = \"1.5 m\", left = \"-0.3 m\", up = \"1.9 m\", rating = \"1000 kg\" }"),
        ("rear  = { forward = \"-1.5 m\", left = \"0 m\", up = \"1.9 m\", rating = \"1000 kg\" }",
         "c = { forward = \"-1.5 m\", left = \"0.3 m\", up = \"1.9 m\", rating = \"1000 kg\" }\nd = { forward = \"-1.5 m\", left = \"-0.3 m\", up = \"1.9 m\", rating = \"1000 kg\" }"),
        ("number_of_legs = 2", "number_of_legs = 4"),
        ("provision = \"front\"", "provision = \"a\""),
        ("provision = \"rear\"", "provision = \"b\""),
        ("[lift]\n", "[[sling_set.leg]]\nnumber = 3\nprovision = \"c\"\nstation = \"bar\"\n[[sling_set.leg]]\nnumber = 4\nprovision = \"d\"\nstation = \"bar\"\n[lift]\n"),
    ]);
    let side = left(0.1);
    changes.push((FORWARD, side.as_str()));
    let figures = Figures::of(&plan(&beams(&changes)));
    let hang = figures.hang.as_ref().expect("it hangs");
    // Legs of 3.1 m that reach out by the half diagonal of 3 by 0.6 m.
    let apex_m = (3.1_f64.powi(2) - 1.5_f64.powi(2) - 0.3_f64.powi(2)).sqrt();
    let by_hand = (0.1 * 620.0) / (620.0 * (apex_m + 0.25) + 48.0 * apex_m);
    assert!(
        (hang.left_down_deg - by_hand.atan().to_degrees()).abs() < 0.05,
        "{hang:?} {by_hand}"
    );
    // From a bar to points on either side of it they would not be plumb.
    let splayed = Figures::of(&plan(&beams(&frame)));
    told_as_unknown(&splayed.verdicts, "from a bar to both sides");
}

fn told_as_unknown(verdicts: &[Verdict], why: &str) {
    let tilt = one(verdicts, Question::Tilt);
    assert_eq!((tilt.grade, tilt.value), (Grade::Warn, None), "{tilt}");
    let look = tilt.look().expect("a look");
    assert!(
        look.starts_with("How it hangs below the spreader: not worked out") && look.contains(why),
        "{look}"
    );
}

#[test]
fn without_its_drops_it_is_told_that_nobody_knows_how_the_load_hangs() {
    let drops = BEAMS
        .lines()
        .find(|l| l.starts_with("drops = "))
        .expect("drops");
    let points = &BEAMS[BEAMS.find("[load.provisions]").expect("a table")
        ..BEAMS.find("# With a spreader").expect("a remark")];
    for (out, why) in [
        (drops, "does not give its drops"),
        (points, "does not give points of the load"),
    ] {
        let text = beams(&[(out, "")]);
        let plan = plan(&text);
        told_as_unknown(&capacity(&plan), why);
        let figures = Figures::of(&plan);
        let hang = figures.hang.as_ref().expect("it hangs");
        assert!(
            hang.lean()
                .ends_with("if the load were one with its spreader")
        );
        assert!(!drawing(&figures.rig, hang).contains("off level at worst"));
        assert!(!plan.warnings().is_empty());
        // The least that it can lean by is over the limit already.
        let far = beams(&[
            (out, ""),
            (FORWARD, &forward(1.0)),
            ("up = \"1.9 m\"", "up = \"0.6 m\""),
        ]);
        let figures = Figures::of(&super::verdicts::plan(&far));
        assert!(!figures.pass());
    }
    // Fixed to the spreader it is one with it, as before.
    let fixed = beams(&[("drops = \"1.4 m\"", "drops = \"0 m\"")]);
    let figures = Figures::of(&plan(&fixed));
    assert_eq!(one(&figures.verdicts, Question::Tilt).grade, Grade::Pass);
    assert!(figures.rig.below.is_none());
}

#[test]
fn drops_that_do_not_fit_their_places_are_warned_of() {
    let titles = |changes: &[(&str, &str)]| -> Vec<String> {
        let plan = plan(&beams(changes));
        plan.warnings().iter().map(|f| f.title.clone()).collect()
    };
    assert_eq!(titles(&[]), [""; 0]);
    let short = titles(&[("drops = \"1.4 m\"", "drops = \"14 cm\"")]);
    assert_eq!(
        short,
        ["the drops end 1.26 m below the provisions of the spreader"]
    );
    let negative = beams(&[("drops = \"1.4 m\"", "drops = \"-1.4 m\"")]);
    let told = read(Path::new("p.toml"), &negative)
        .expect_err("refused")
        .to_string();
    assert!(told.contains("less than nothing"), "{told}");
}

#[test]
fn the_picture_has_bar_and_load_as_they_lean() {
    let figures = with_drops(1.4, &[(FORWARD, &left(0.1))]);
    let svg = drawing(&figures.rig, figures.hang.as_ref().expect("it hangs"));
    assert!(svg.contains("21.8° left side down"));
    let rest = hang(&figures.rig).expect("it hangs");
    assert!(
        rest.load_up[1] < -0.3 && rest.up[1].abs() < 1e-6,
        "{rest:?}"
    );
}

const STROPS: [(&str, &str); 2] = [
    (
        "front-strop = { forward = \"1.5 m\",  left = \"0 m\", up = \"0.5 m\"",
        "front-strop = { forward = \"1.5 m\",  left = \"0 m\", up = \"0.5 m\", rating = \"400 kg\"",
    ),
    (
        "rear-strop  = { forward = \"-1.5 m\", left = \"0 m\", up = \"0.5 m\"",
        "rear-strop  = { forward = \"-1.5 m\", left = \"0 m\", up = \"0.5 m\", rating = \"400 kg\"",
    ),
];

fn below(verdicts: &[Verdict]) -> Vec<&Verdict> {
    let is = |v: &&Verdict| {
        v.question == Question::Provision && v.subject.contains("below the spreader")
    };
    verdicts.iter().filter(is).collect()
}

/// Two strops on 620 kg: by moments about either end, less the hair by which the bundle leans.
#[test]
fn the_own_provisions_of_a_load_are_held_against_what_the_drops_pull() {
    let at = forward(0.3);
    let figures = with_drops(1.4, &[STROPS[0], STROPS[1], (FORWARD, &at)]);
    let told = below(&figures.verdicts);
    let subjects: Vec<&str> = told.iter().map(|v| v.subject.as_str()).collect();
    assert_eq!(
        subjects,
        [
            "front strop provision below the spreader",
            "rear strop provision below the spreader"
        ]
    );
    for (verdict, share) in told.iter().zip([0.6, 0.4]) {
        let kg = verdict.value.expect("a pull").number();
        assert!((kg - share * 620.0).abs() < 10.0, "{verdict}");
    }
    // 372 kg of 400 wants a look, of 300 it fails.
    assert_eq!(told[0].grade, Grade::Warn, "{}", told[0]);
    assert_eq!(told[1].grade, Grade::Pass, "{}", told[1]);
    let weak = beams(&[STROPS[0], STROPS[1], (FORWARD, &at)]).replace("400 kg", "300 kg");
    let verdicts = capacity(&plan(&weak));
    assert_eq!(below(&verdicts)[0].grade, Grade::Fail);
    let spoken = below(&verdicts)[0].spoken();
    assert!(
        spoken.starts_with("Front strop provision below the spreader overloaded: 3"),
        "{spoken}"
    );
    // What moves pulls harder, and the drops still have no place in a plan.
    let moved = with_drops(
        1.4,
        &[
            STROPS[0],
            STROPS[1],
            ("max_tilt = ", "dynamic_factor = 2\nmax_tilt = "),
        ],
    );
    assert_eq!(below(&moved.verdicts)[0].grade, Grade::Fail);
    let drops = moved
        .verdicts
        .iter()
        .find(|v| v.subject == "the drops below the spreader");
    assert_eq!(drops.expect("it is told").grade, Grade::Warn);
    // One without a rating is told where others have one.
    let half = with_drops(1.4, &[STROPS[0]]);
    let told = below(&half.verdicts);
    assert!(
        told[1].note.contains("rating for rear strop"),
        "{}",
        told[1]
    );
    assert!(below(&with_drops(1.4, &[]).verdicts).is_empty());
}

#[test]
fn a_rated_provision_of_a_load_that_hangs_nobody_knows_how_never_merely_passes() {
    let gone = ("drops = \"1.4 m\"", "");
    let figures = Figures::of(&plan(&beams(&[STROPS[0], STROPS[1], gone])));
    let told = below(&figures.verdicts);
    assert_eq!(told.len(), 2);
    for verdict in told {
        assert_eq!(verdict.grade, Grade::Warn, "{verdict}");
        assert!(verdict.note.contains("is not worked out"), "{verdict}");
    }
    let weak = beams(&[STROPS[0], STROPS[1], gone]).replace("400 kg", "300 kg");
    let figures = Figures::of(&plan(&weak));
    assert!(
        below(&figures.verdicts)
            .iter()
            .all(|v| v.grade == Grade::Fail)
    );
}
