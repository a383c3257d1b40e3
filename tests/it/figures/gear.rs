//! Hitches, moving lifts, leg angles with a plus or minus, and coupled pieces, each through a plan.

use loadwalk::figures::{Figures, Found, Grade, Quantity, Question, Rig, hang, miscount};
use loadwalk::plan::{Plan, read};
use std::path::Path;

const LB: f64 = 0.453_592_37;

/// A load of 6,000 lb on a rectangle of 20 by 8 ft, four plain legs of `leg_ft`; `load`, `set`, `each`
/// and `lift` are further lines of these tables.
pub(super) fn plan(leg_ft: f64, load: &str, set: &str, each: &str, lift: &str) -> Plan {
    let corners = [("a", 10, 4), ("b", 10, -4), ("c", -10, 4), ("d", -10, -4)];
    let provisions: String = corners
        .iter()
        .map(|(n, x, y)| {
            format!("{n} = {{ forward = \"{x} ft\", left = \"{y} ft\", up = \"0 ft\" }}\n")
        })
        .collect();
    let legs: String = (1..)
        .zip(corners)
        .map(|(i, (n, ..))| {
            format!("[[sling_set.leg]]\nnumber = {i}\nprovision = \"{n}\"\nstation = \"{n}\"\n")
        })
        .collect();
    let stations: String = corners
        .iter()
        .map(|(n, ..)| {
            format!(
                "[[station]]\nkey = \"{n}\"\nname = \"corner {n}\"\n[[station.check]]\n\
                 name = \"shackle\"\nkind = \"presence\"\n"
            )
        })
        .collect();
    let text = format!(
        "format = 1\n[load]\nname = \"frame\"\nkind = \"rigid\"\nmass_from = \"scale\"\n\
         size = {{ length = \"20 ft\", width = \"8 ft\", height = \"4 ft\" }}\n{load}\n\
         [load.provisions]\n{provisions}[sling_set]\nname = \"set\"\nkey = \"set\"\n\
         rated_capacity = \"9900 lb\"\nmass = \"50 lb\"\nnumber_of_legs = 4\n{set}\n\
         [sling_set.each_leg]\nrating = \"5000 lb\"\nlength = \"{leg_ft} ft\"\n{each}\n{legs}\
         [lift]\nby = \"crane\"\nallowable = \"20000 lb\"\nallowable_from = \"chart\"\n{lift}\n{stations}"
    );
    read(Path::new("frame.toml"), &text).unwrap_or_else(|d| panic!("{d}"))
}

const WHOLE: &str = "mass = \"6000 lb\"\n\
    centre_of_gravity = { forward = \"0 ft\", left = \"0 ft\", up = \"-2 ft\" }";

/// Value and limit of the first verdict on a question, lb.
fn pounds(plan: &Plan, question: Question) -> (f64, f64) {
    let figures = Figures::of(plan);
    let verdict = figures.verdicts.iter().find(|v| v.question == question);
    let verdict = verdict.unwrap_or_else(|| panic!("no {question:?}"));
    let (Some(Quantity::Kg(value)), Some(Quantity::Kg(limit))) =
        (verdict.at_worst(), verdict.limit)
    else {
        panic!("{verdict:?}");
    };
    (value / LB, limit / LB)
}

#[test]
fn a_crane_that_pulls_harder_pulls_each_leg_harder() {
    // MIL-STD-209K 5.1.2.a and 5.1.3.1.a, evaluated: 20 by 8 ft wants legs of 15.232 ft, which stand
    // at 45°; 6,000 lb on four of them, 2,121 lb each at rest and 4,879 lb at 2.3 times.
    let all = "carrying = \"all\"\ncarrying_statement = \"certificate 7 of the maker\"";
    let stiff = "stretch_at_rating = \"0.01 percent\"";
    let rest = plan(15.232, WHOLE, all, stiff, "");
    let (pull, _) = pounds(&rest, Question::Leg);
    assert!((pull / 2_121.0 - 1.0).abs() < 1e-3, "{pull}");
    let moving = plan(15.232, WHOLE, all, stiff, "dynamic_factor = 2.3");
    let (pull, _) = pounds(&moving, Question::Leg);
    assert!((pull / 4_879.0 - 1.0).abs() < 1e-3, "{pull}");
    let (set, _) = pounds(&moving, Question::SlingSet);
    assert!((set - 2.3 * 6_000.0).abs() < 1e-6, "{set}");
    // What the crane's chart allows is for a load at rest.
    let (hook, _) = pounds(&moving, Question::Aircraft);
    assert!((hook - 6_050.0).abs() < 1e-6, "{hook}");
    let verdicts = Figures::of(&moving).verdicts;
    // A crane is not held to an aircraft's rule.
    assert!(verdicts.iter().all(|v| !v.rule.contains("14 CFR")));
    let leg = verdicts.iter().find(|v| v.question == Question::Leg);
    assert!(leg.unwrap().to_string().contains("times 2.3"), "{leg:?}");
}

#[test]
fn a_choker_takes_a_quarter_off() {
    // Crane safety authority of British Columbia, rigging quiz: a bridle of 9,900 lb used as a choker
    // is good for 7,425 lb.
    let choked = plan(16.0, WHOLE, "", "hitch = \"choker\"", "");
    let (_, set) = pounds(&choked, Question::SlingSet);
    assert!((set - 7_425.0).abs() < 1e-6, "{set}");
    let (_, leg) = pounds(&choked, Question::Leg);
    assert!((leg - 3_750.0).abs() < 1e-6, "{leg}");
    let maker = plan(
        16.0,
        WHOLE,
        "",
        "hitch = \"choker\"\nchoker_keeps = \"80 percent\"",
        "",
    );
    let (_, leg) = pounds(&maker, Question::Leg);
    assert!((leg - 4_000.0).abs() < 1e-6, "{leg}");
}

/// The inspector holds the tag: 5,000 lb straight, of which a choker leaves 3,750, and knows the load.
#[test]
fn a_factor_and_a_choker_are_said_with_the_numbers_that_have_them_in() {
    let said = |each: &str, lift: &str, question: Question| {
        let verdicts = Figures::of(&plan(16.0, WHOLE, "", each, lift)).verdicts;
        let verdict = verdicts.into_iter().find(|v| v.question == question);
        verdict.expect("a verdict").spoken()
    };
    let choker = "hitch = \"choker\"";
    let factor = "dynamic_factor = 1.25";
    let set = |each, lift| said(each, lift, Question::SlingSet);
    assert_eq!(set("", ""), "Sling set: 6000 pounds of 9900 pounds.");
    assert_eq!(
        set(choker, factor),
        "Sling set overloaded: 7500 pounds with the factor of 1.25, it is rated 7425 pounds in a choker."
    );
    assert_eq!(
        set(choker, ""),
        "Sling set: 6000 pounds of 7425 pounds in a choker."
    );
    assert_eq!(
        set("", factor),
        "Sling set: 7500 pounds of 9900 pounds, with the factor of 1.25."
    );
    let leg = said(choker, factor, Question::Leg);
    assert!(leg.contains("pounds with the factor of 1.25"), "{leg}");
    let end = ", it is rated 3750 pounds in a choker, two legs carrying.";
    assert!(leg.ends_with(end), "{leg}");
    let leg = said(choker, "", Question::Leg);
    assert!(leg.ends_with(end) && !leg.contains("factor"), "{leg}");
    let leg = said("", "dynamic_factor = 1.2", Question::Leg);
    let end = " of 5000 pounds, with the factor of 1.2, two legs carrying.";
    assert!(leg.ends_with(end), "{leg}");
    // What aircraft or crane allow is for a load at rest.
    let crane = said(choker, factor, Question::Aircraft);
    assert!(
        !crane.contains("factor") && !crane.contains("choker"),
        "{crane}"
    );
    let verdicts = Figures::of(&plan(16.0, WHOLE, "", choker, factor)).verdicts;
    let leg = verdicts.iter().find(|v| v.question == Question::Leg);
    let leg = serde_json::to_value(leg.expect("a leg")).expect("JSON");
    assert_eq!(
        (&leg["dynamic_factor"], &leg["hitch_keeps"]),
        (&1.25.into(), &0.75.into())
    );
}

#[test]
fn a_leg_angle_with_a_plus_or_minus_is_judged_at_its_flattest() {
    let plan = plan(15.232, WHOLE, "angle_plus_minus = \"3 degrees\"", "", "");
    let figures = Figures::of(&plan);
    let angle = figures
        .verdicts
        .iter()
        .find(|v| v.question == Question::LegAngle);
    let angle = angle.unwrap();
    let Some(Quantity::Deg(worst)) = angle.worst else {
        panic!("{angle:?}");
    };
    // 45° by the length, and the stretch of the legs lets it be a little steeper.
    assert!((worst - 42.0).abs() < 0.5, "{worst}");
    assert_eq!(angle.decided_by.as_deref(), Some("leg angles"));
    // Two legs carrying: half the weight over the sine.
    let (pull, _) = pounds(&plan, Question::Leg);
    let hand = 3_000.0 / worst.to_radians().sin();
    assert!((pull / hand - 1.0).abs() < 1e-3, "{pull} {hand}");
}

#[test]
fn two_coupled_pieces_hang_as_the_body_that_they_make() {
    let pieces = "[[load.piece]]\nname = \"front piece\"\nmass = \"4000 lb\"\n\
         centre_of_gravity = { forward = \"4 ft\", left = \"0 ft\", up = \"-1 ft\" }\n\
         [[load.piece]]\nname = \"rear piece\"\nmass = \"2000 lb\"\n\
         centre_of_gravity = { forward = \"-5 ft\", left = \"0.3 ft\", up = \"-4 ft\" }";
    // By hand: (4000 · 4 − 2000 · 5) / 6000 = 1, 2000 · 0.3 / 6000 = 0.1, −(4000 + 8000) / 6000 = −2.
    let one = "mass = \"6000 lb\"\n\
         centre_of_gravity = { forward = \"1 ft\", left = \"0.1 ft\", up = \"-2 ft\" }";
    let coupled = hang(&Rig::from_plan(&plan(16.0, pieces, "", "", ""))).unwrap();
    let body = hang(&Rig::from_plan(&plan(16.0, one, "", "", ""))).unwrap();
    assert!(coupled.nose_down_deg > 1.0);
    assert!((coupled.tilt_deg - body.tilt_deg).abs() < 1e-9);
    for (a, b) in coupled.legs.iter().zip(&body.legs) {
        assert!((a.tension_n - b.tension_n).abs() < 1e-6 * b.tension_n.max(1.0));
    }
}

#[test]
fn a_leg_found_slack_carries_nothing_and_is_called_slack() {
    let rig = Rig::from_plan(&plan(16.0, WHOLE, "", "", ""));
    let slack = Found::Slack {
        station: "b".to_owned(),
    };
    let found = rig.as_found(&[slack]).unwrap();
    let told = miscount(&rig, &found).unwrap();
    assert!(
        told.sentence.starts_with("corner b leg slack"),
        "{}",
        told.sentence
    );
    assert!(told.matters);
    let hung = hang(&found).unwrap();
    assert!(hung.legs[1].tension_n.abs() < f64::EPSILON);
}

#[test]
fn of_two_legs_the_greatest_over_the_least_pull_is_judged_at_the_worst_centre_of_gravity() {
    let off = "mass = \"6000 lb\"\ncentre_of_gravity = { forward = \"0 ft +/- 1 ft\", \
         left = \"0 ft\", up = \"-2 ft\" }";
    let figures = Figures::of(&plan(
        16.0,
        off,
        "",
        "stretch_at_rating = \"2 percent\"",
        "",
    ));
    let ratio = figures
        .verdicts
        .iter()
        .find(|v| v.question == Question::TensionRatio);
    let ratio = ratio.unwrap();
    assert!(ratio.worst.is_some(), "{ratio:?}");
    assert_eq!(
        ratio.decided_by.as_deref(),
        Some("centre of gravity forward")
    );
}

#[test]
fn a_plan_in_feet_is_answered_in_feet() {
    // Level by symmetry, 16-ft legs over half a diagonal of 20 by 8 ft: the apex is
    // √(256 − 116) = 11.83 ft above the provisions; the centre of gravity 2 ft below them.
    let stiff = "stretch_at_rating = \"0.01 percent\"";
    let plan = plan(16.0, WHOLE, "", stiff, "");
    let verdicts = Figures::of(&plan).verdicts;
    let hangs = verdicts.iter().find(|v| v.question == Question::Hangs);
    let said = hangs.unwrap().to_string();
    assert!(said.contains("-2.00 ft, limit 11.83 ft"), "{said}");
    assert!(said.contains("2.00 ft below"), "{said}");
    let rig = Rig::from_plan(&plan);
    let drawn = loadwalk::figures::drawing(&rig, &hang(&rig).unwrap());
    assert!(drawn.contains("2 ft, all views to one scale"));
}

#[test]
fn a_slack_leg_that_may_come_to_carry_must_not_be_flat() {
    // Three legs hold; the fourth, to a provision far behind, is slack by 10 mm and may be 20 mm shorter.
    let far = |length_m: f64| {
        let away = super::verdicts::SKID.replace(
            "rear-right  = { forward = \"-1.05 m\"",
            "rear-right  = { forward = \"-5 m\"",
        );
        let own = format!("number = 4\nlength = \"{length_m:.4} m +/- 20 mm\"");
        let text = away.replace("number = 4", &own).replace(
            "left = \"0 m +/- 0.03 m\", up = \"0.7 m +/- 0.1 m\"",
            "left = \"0.15 m\", up = \"0.7 m\"",
        );
        super::verdicts::plan(&text)
    };
    let rig = Rig::from_plan(&far(8.0));
    let hung = hang(&rig).unwrap();
    assert!(hung.legs[3].slack && hung.legs[3].angle_deg < 30.0);
    let run = [0, 1, 2].map(|i| (hung.apex_m[i] - rig.legs[3].provision_m[i]).powi(2));
    let hardware_m = 0.12;
    let near = far(run.iter().sum::<f64>().sqrt() + 0.01 - hardware_m);
    assert!(hang(&Rig::from_plan(&near)).unwrap().legs[3].slack);
    let verdicts = Figures::of(&near).verdicts;
    let flat = verdicts
        .iter()
        .find(|v| v.question == Question::LegAngle && v.subject == "rear right leg")
        .expect("an angle of the leg that may come to carry");
    assert_eq!(flat.grade, Grade::Fail, "{flat}");
    assert!(
        flat.note.starts_with("at worst by the leg lengths"),
        "{flat}"
    );
}
