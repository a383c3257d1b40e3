//! The worst of the plus and minus, and what cannot be asked, on small rigs whose answers follow by hand.

use super::verdicts::{SKID, links, one, plan, skid};
use loadwalk::figures::{Figures, Found, Grade, Quantity, Question, Rig, Verdict};

/// Two plain legs of 3 m to provisions 1 m before and behind the middle.
const BRIDLE: &str = r#"
format = 1
[load]
name = "roof truss"
kind = "rigid"
mass = "1600 kg"
mass_from = "scale"
size = { length = "2 m", width = "1 m", height = "1 m" }
centre_of_gravity = { forward = "0 m", left = "0 m", up = "0 m" }
[load.provisions]
front = { forward = "1 m", left = "0 m", up = "1 m", rating = "10 t" }
rear = { forward = "-1 m", left = "0 m", up = "1 m", rating = "10 t" }
[sling_set]
name = "two-leg set"
key = "two"
rated_capacity = "100 t"
mass = "1 kg"
number_of_legs = 2
[sling_set.each_leg]
length = "3 m"
rating = "10 t"
stretch_at_rating = "0.01 percent"
[[sling_set.leg]]
number = 1
provision = "front"
station = "front"
[[sling_set.leg]]
number = 2
provision = "rear"
station = "rear"
[lift]
by = "crane"
allowable = "100 t"
allowable_from = "load chart"
[[station]]
name = "front"
[[station.check]]
name = "shackle pin"
kind = "presence"
[[station]]
name = "rear"
[[station.check]]
name = "shackle pin"
kind = "presence"
"#;

fn bridle(changes: &[(&str, &str)]) -> Figures {
    let mut text = BRIDLE.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    Figures::of(&plan(&text))
}

fn at_worst(figures: &Figures, question: Question) -> f64 {
    let verdict = one(&figures.verdicts, question);
    verdict.at_worst().expect("a number").number()
}

fn fails(figures: &Figures, question: Question) -> bool {
    let of = |v: &&Verdict| v.question == question && v.grade == Grade::Fail;
    figures.verdicts.iter().any(|v| of(&v))
}

/// Both plans must end alike: the one with a plus or minus, and the one with its worst end typed in.
fn alike(question: Question, typed: &[(&str, &str)], extreme: &[(&str, &str)]) {
    let (worst, end) = (bridle(typed), bridle(extreme));
    assert!(fails(&end, question), "{:#?}", end.verdicts);
    assert!(fails(&worst, question), "{:#?}", worst.verdicts);
    if let Some(value) = one(&end.verdicts, question).value {
        let found = at_worst(&worst, question);
        assert!((found - value.number()).abs() < 0.02, "{found} {value:?}");
    }
}

#[test]
fn a_bridle_rolls_over_within_the_plus_or_minus_of_its_provisions() {
    let at = |up: &str| format!("up = \"{up}\", rating");
    let (typed, end) = (at("0.05 m +/- 0.06 m"), at("-0.01 m"));
    alike(
        Question::Hangs,
        &[("up = \"1 m\", rating", &typed)],
        &[("up = \"1 m\", rating", &end)],
    );
}

#[test]
fn provisions_off_to_one_side_are_as_the_centre_of_gravity_off_to_the_other() {
    let side = "left = \"0 m\", up = \"1 m\"";
    alike(
        Question::Tilt,
        &[(side, "left = \"0 m +/- 0.35 m\", up = \"1 m\"")],
        &[(side, "left = \"0.35 m\", up = \"1 m\"")],
    );
    // By hand: the centre of gravity comes to hang plumb below the line of the provisions, 1 m above it.
    let worst = bridle(&[(side, "left = \"0 m +/- 0.35 m\", up = \"1 m\"")]);
    let by_hand = (0.35_f64 / 1.0).atan().to_degrees();
    assert!((at_worst(&worst, Question::Tilt) - by_hand).abs() < 0.01);
}

#[test]
fn the_mass_is_taken_at_its_minus_too() {
    // Soft legs stand flatter below a light load.
    let soft = (
        "stretch_at_rating = \"0.01 percent\"",
        "stretch_at_rating = \"20 percent\"",
    );
    let (length, rating) = (
        ("length = \"3 m\"", "length = \"1.1 m\""),
        ("rating = \"10 t\"", "rating = \"1700 kg\""),
    );
    alike(
        Question::LegAngle,
        &[
            soft,
            length,
            rating,
            ("\"1600 kg\"", "\"1000 kg +/- 600 kg\""),
        ],
        &[soft, length, rating, ("\"1600 kg\"", "\"400 kg\"")],
    );
}

#[test]
fn what_lies_on_a_limit_counts_by_its_plus_or_minus() {
    let lift = "allowable_from = \"load chart\"";
    alike(
        Question::Tilt,
        &[
            (
                lift,
                "allowable_from = \"load chart\"\nmax_tilt = \"4 degrees +/- 2 degrees\"",
            ),
            ("forward = \"0 m\", left", "forward = \"0.2 m\", left"),
        ],
        &[
            (
                lift,
                "allowable_from = \"load chart\"\nmax_tilt = \"2 degrees\"",
            ),
            ("forward = \"0 m\", left", "forward = \"0.2 m\", left"),
        ],
    );
    let chart = ("allowable = \"100 t\"", "allowable = \"1750 kg\"");
    alike(
        Question::Aircraft,
        &[
            chart,
            (
                lift,
                "allowable_from = \"load chart\"\ndeduction = \"5 percent +/- 5 percent\"",
            ),
        ],
        &[
            chart,
            (
                lift,
                "allowable_from = \"load chart\"\ndeduction = \"10 percent\"",
            ),
        ],
    );
    let leg = (
        "rating = \"10 t\"\nstretch",
        "rating = \"1300 kg\"\nstretch",
    );
    alike(
        Question::Leg,
        &[
            leg,
            (
                "length = \"3 m\"",
                "length = \"3 m\"\nhitch = \"choker\"\nchoker_keeps = \"75 percent +/- 15 percent\"",
            ),
        ],
        &[
            leg,
            (
                "length = \"3 m\"",
                "length = \"3 m\"\nhitch = \"choker\"\nchoker_keeps = \"60 percent\"",
            ),
        ],
    );
}

/// A bar of 400 kg below the bridle, 0.6 m off to the front of its middle.
const BAR: &str = r#"[spreader]
name = "bar"
mass = "400 kg"
rating = "5 t"
length = "2 m"
drops = "0 m"
centre_of_gravity = { forward = "0 m", left = "0 m", up = "1 m" }
[spreader.provisions]
front = { forward = "1 m", left = "0 m", up = "1.1 m", rating = "10 t" }
rear = { forward = "-1 m", left = "0 m", up = "1.1 m", rating = "10 t" }
[sling_set]"#;

fn with_bar(mass: &str, cg: &str, bar: &str) -> Figures {
    let provisions = "[load.provisions]\nfront = { forward = \"1 m\", left = \"0 m\", up = \"1 m\", rating = \"10 t\" }\nrear = { forward = \"-1 m\", left = \"0 m\", up = \"1 m\", rating = \"10 t\" }\n";
    let bar = BAR.replace("{ forward = \"0 m\", left = \"0 m\", up = \"1 m\" }", bar);
    bridle(&[
        (provisions, ""),
        ("[sling_set]", &bar),
        ("mass = \"1600 kg\"", &format!("mass = \"{mass}\"")),
        (
            "centre_of_gravity = { forward = \"0 m\", left = \"0 m\", up = \"0 m\" }",
            &format!("centre_of_gravity = {cg}"),
        ),
    ])
}

#[test]
fn a_spreader_counts_with_its_own_share_and_plus_or_minus() {
    let middle = "{ forward = \"0 m\", left = \"0 m\", up = \"1 m\" }";
    let off = "{ forward = \"0.4 m\", left = \"0 m\", up = \"0 m\" }";
    let tilt = |figures: &Figures| at_worst(figures, Question::Tilt);
    // A heavier load takes the centre of gravity further its way.
    let (worst, end) = (
        with_bar("600 kg +/- 400 kg", off, middle),
        with_bar("1000 kg", off, middle),
    );
    assert!(
        (tilt(&worst) - tilt(&end)).abs() < 0.02,
        "{} {}",
        tilt(&worst),
        tilt(&end)
    );
    let level = "{ forward = \"0 m\", left = \"0 m\", up = \"0 m\" }";
    let (worst, end) = (
        with_bar(
            "600 kg",
            level,
            "{ forward = \"0 m +/- 0.9 m\", left = \"0 m\", up = \"1 m\" }",
        ),
        with_bar(
            "600 kg",
            level,
            "{ forward = \"0.9 m\", left = \"0 m\", up = \"1 m\" }",
        ),
    );
    assert!(
        (tilt(&worst) - tilt(&end)).abs() < 0.02,
        "{} {}",
        tilt(&worst),
        tilt(&end)
    );
}

#[test]
fn all_that_hangs_on_one_provision_counts_there_together() {
    // Two legs on each of two provisions: by statics each holds 1600 / 2 over the sine of its legs, which are
    // 3 m long and reach 1 m out: 848.5 kg. As four legs by stiffness each pulls 424 kg.
    let text = BRIDLE
        .replace("number_of_legs = 2", "number_of_legs = 4\ncarrying = \"all\"\ncarrying_statement = \"Runa Feld, engineer\"")
        .replace("rating = \"10 t\" }", "rating = \"600 kg\" }")
        .replace("[lift]", "[[sling_set.leg]]\nnumber = 3\nprovision = \"front\"\nstation = \"front\"\n[[sling_set.leg]]\nnumber = 4\nprovision = \"rear\"\nstation = \"rear\"\n[lift]");
    for text in [
        text.clone(),
        text.replace(
            "carrying = \"all\"\ncarrying_statement = \"Runa Feld, engineer\"",
            "carrying = \"three\"",
        ),
    ] {
        let figures = Figures::of(&plan(&text));
        let by_hand = 1600.0 / 2.0 / (8.0_f64.sqrt() / 3.0);
        let provision = one(&figures.verdicts, Question::Provision);
        let Some(Quantity::Kg(pull)) = provision.value else {
            panic!("{provision:?}")
        };
        assert!((pull - by_hand).abs() < 0.5, "{pull} {by_hand}");
        assert_eq!(provision.grade, Grade::Fail);
    }
}

#[test]
fn a_stretch_that_nobody_gave_passes_nothing() {
    // Two legs of 1.1456 m reach 1 m out. The published T = (W / N) (L / V) on these gives 29.2 degrees and
    // 1,076 kg of 1,050; a percent of stretch would have made it 30.2 degrees and 1,044.
    let changes = [
        ("\"1600 kg\"", "\"1050 kg\""),
        (
            "length = \"3 m\"\nrating = \"10 t\"\nstretch_at_rating = \"0.01 percent\"",
            "length = \"1.1456 m\"\nrating = \"1060 kg\"",
        ),
    ];
    let figures = bridle(&changes);
    assert!(fails(&figures, Question::LegAngle) && fails(&figures, Question::Leg));
    let v = (1.1456_f64.powi(2) - 1.0).sqrt();
    let by_hand = 1050.0 / 2.0 * (1.1456 / v);
    assert!((at_worst(&figures, Question::Leg) - by_hand).abs() < 1.0);
    assert!(
        (at_worst(&figures, Question::LegAngle) - (v / 1.1456).asin().to_degrees()).abs() < 0.05
    );
    let leg = one(&figures.verdicts, Question::Leg);
    assert_eq!(leg.decided_by.as_deref(), Some("stretch that is not given"));
    // Where it decides nothing it is not spoken of.
    let easy = bridle(&[(
        "rating = \"10 t\"\nstretch_at_rating = \"0.01 percent\"",
        "rating = \"10 t\"",
    )]);
    assert!(
        easy.verdicts.iter().all(|v| v.decided_by.is_none()),
        "{:#?}",
        easy.verdicts
    );
}

#[test]
fn a_limit_that_is_not_given_is_told() {
    let figures = Figures::of(&skid(&[("hook_limit = \"1800 kg\"\n", "")]));
    let hook = one(&figures.verdicts, Question::Hook);
    assert_eq!((hook.grade, hook.value), (Grade::Warn, None));
    assert!(hook.spoken().contains("no limit"), "{}", hook.spoken());
    let bare = bridle(&[(", rating = \"10 t\" }", " }")]);
    let provisions = one(&bare.verdicts, Question::Provision);
    assert_eq!(provisions.grade, Grade::Warn);
    assert!(
        provisions.to_string().contains("front, rear"),
        "{provisions}"
    );
}

#[test]
fn legs_a_little_out_of_line_still_face_each_other() {
    let moved = SKID.replacen("forward = \"1.05 m\"", "forward = \"1.11 m\"", 1);
    assert_ne!(moved, SKID);
    let planned = Rig::from_plan(&plan(&moved));
    let found = planned.as_found(&[links("front-right", 5)]).unwrap();
    let figures = Figures::with_rig(&plan(&moved), found);
    assert!(fails(&figures, Question::Counts), "{:#?}", figures.verdicts);
}

#[test]
fn a_bridle_near_to_rolling_over_wants_a_look() {
    // The centre of gravity a millimetre below the line of the provisions.
    let near = bridle(&[("up = \"1 m\", rating", "up = \"0.001 m\", rating")]);
    let hangs = one(&near.verdicts, Question::Hangs);
    assert_eq!(hangs.grade, Grade::Warn, "{hangs}");
    // Provisions at unlike heights: the line between them counts, at the plumb line, not the lowest.
    let uneven = BRIDLE
        .replacen("up = \"1 m\", rating", "up = \"0.2 m\", rating", 1)
        .replacen("up = \"1 m\", rating", "up = \"-0.1 m\", rating", 1);
    let hangs = Figures::of(&plan(&uneven)).verdicts;
    let share = one(&hangs, Question::Hangs).share_percent.unwrap();
    assert!(share < 100.0, "{share}");
}

#[test]
fn a_count_of_one_leg_leaves_the_other_at_the_station_alone() {
    // Both left legs are inspected at one station, each counted by a check of its own.
    let text = SKID.replace("station = \"rear-left\"", "station = \"front-left\"");
    let rig = Rig::from_plan(&plan(&text));
    let at = rig
        .legs
        .iter()
        .position(|l| l.name == "rear left")
        .expect("a leg by its provision");
    let found = rig.clone().with_links(at, 5).unwrap();
    assert_eq!(found.legs.iter().filter(|l| l.links == 5).count(), 1);
    let both = Found::Links {
        station: "front-left".to_owned(),
        links: 5,
    };
    let told = rig.as_found(&[both]).unwrap_err().to_string();
    assert!(
        told.contains("front-left") && told.contains("rear-left"),
        "{told}"
    );
    assert!(rig.as_found(&[links("rear-left", 5)]).is_ok());
}

#[test]
fn legs_further_out_are_flatter_within_their_plus_or_minus() {
    // Four legs of 2 m at a square of provisions, 1.2 m forward and to the side, each 3 cm off at worst. By hand for 1.23 m:
    // the legs reach 1.23 · sqrt(2) m out, so they stand at acos(that / 2) and two of them pull W / 2 over the sine.
    let four = |place: &str| {
        let mut text = BRIDLE.to_owned();
        let legs = ["front-left", "front-right", "rear-left", "rear-right"];
        let at = |forward: &str, left: &str| {
            format!(
                "{{ forward = \"{forward}{place}\", left = \"{left}{place}\", up = \"1 m\", rating = \"10 t\" }}"
            )
        };
        let provisions = format!(
            "front-left = {}\nfront-right = {}\nrear-left = {}\nrear-right = {}\n",
            at("", ""),
            at("", "-"),
            at("-", ""),
            at("-", "-")
        );
        let (from, to) = (
            text.find("front = {").unwrap(),
            text.find("[sling_set]").unwrap(),
        );
        text.replace_range(from..to, &provisions);
        let (from, to) = (
            text.find("[[sling_set.leg]]").unwrap(),
            text.find("[lift]").unwrap(),
        );
        let tables: String = legs.iter().enumerate().map(|(n, leg)| {
            let station = if leg.starts_with("front") { "front" } else { "rear" };
            format!("[[sling_set.leg]]\nnumber = {}\nprovision = \"{leg}\"\nstation = \"{station}\"\n", n + 1)
        }).collect();
        text.replace_range(from..to, &tables);
        let text = text
            .replace("number_of_legs = 2", "number_of_legs = 4")
            .replace("length = \"3 m\"", "length = \"2 m\"")
            .replace("\"1600 kg\"", "\"1000 kg\"");
        Figures::of(&plan(&text))
    };
    let (worst, end) = (four("1.2 m +/- 3 cm"), four("1.23 m"));
    let reach = 1.23 * std::f64::consts::SQRT_2;
    let sine = (4.0 - reach * reach).sqrt() / 2.0;
    for figures in [&worst, &end] {
        assert!(
            fails(figures, Question::LegAngle),
            "{:#?}",
            figures.verdicts
        );
        assert!(at_worst(figures, Question::LegAngle) <= sine.asin().to_degrees() + 0.1);
        assert!(at_worst(figures, Question::Leg) >= 1000.0 / 2.0 / sine - 1.0);
    }
}

/// What nobody gave is taken at its usual and at nothing; the picture and the sentence about what was found say no less than
/// the verdicts.
#[test]
fn legs_whose_stretch_nobody_gave_are_drawn_as_they_are_judged() {
    let typed = [
        ("stretch_at_rating = \"4 percent\"", ""),
        ("rating = \"1250 kg\"", "rating = \"700 kg\""),
    ];
    let plan = skid(&typed);
    let figures = Figures::of(&plan);
    let failed = figures
        .verdicts
        .iter()
        .filter(|v| v.question == Question::Leg && v.grade == Grade::Fail);
    let failed: Vec<String> = failed.map(|v| v.subject.clone()).collect();
    assert!(!failed.is_empty(), "{:#?}", figures.verdicts);
    let rig = Rig::from_plan(&plan);
    let worst = loadwalk::figures::at_worst(&rig).expect("it hangs");
    for (leg, worst) in rig.legs.iter().zip(&worst.legs) {
        let fails = failed.contains(&format!("{} leg", leg.name));
        assert_eq!(worst.share_percent > 100.0, fails, "{} {worst:?}", leg.name);
    }
}

/// A centre of gravity that is above the provisions only at its plus: what is said is what holds there.
#[test]
fn a_warning_at_a_corner_says_what_it_warns_of() {
    let at = |up: &str| {
        let plan = skid(&[("up = \"0.7 m +/- 0.1 m\"", &format!("up = \"{up}\""))]);
        let figures = Figures::of(&plan);
        one(&figures.verdicts, Question::Hangs).clone()
    };
    let verdict = at("1.4 m +/- 0.3 m");
    assert_eq!(verdict.grade, Grade::Warn, "{verdict}");
    let look = verdict.look().expect("a look");
    assert!(look.contains("above a lifting provision"), "{look}");
    assert_eq!(at("0.7 m +/- 0.1 m").look(), None);
}

/// Where two legs carry at a corner another measure holds, with its own limit: a number is held against nothing else.
#[test]
fn at_worst_a_number_stands_beside_its_own_limit() {
    let typed = [
        ("+/- 4 mm", "+/- 20 mm"),
        ("\"4 percent\"", "\"1 percent\""),
    ];
    let figures = Figures::of(&skid(&typed));
    let verdict = one(&figures.verdicts, Question::Hangs);
    let (number, limit) = (
        verdict.at_worst().unwrap().number(),
        verdict.limit.unwrap().number(),
    );
    let within = match verdict.limit_is {
        loadwalk::figures::Bound::Least => number >= limit,
        loadwalk::figures::Bound::Most => number <= limit,
    };
    assert_eq!(within, verdict.passes(), "{verdict}");
}
