//! Legs that carry nothing, loads off their middle, and what a plan gives no limit for.

use super::gear::plan as frame;
use super::verdicts::{links, one, plan, skid};
use loadwalk::figures::{Figures, Grade, Question, Rig, capacity, miscount, worst_of_each};

const OFF: &str = "mass = \"6000 lb\"\n\
    centre_of_gravity = { forward = \"4 ft\", left = \"1.5 ft\", up = \"-2 ft\" }";
const WHOLE: &str = "mass = \"6000 lb\"\n\
    centre_of_gravity = { forward = \"0 ft\", left = \"0 ft\", up = \"-2 ft\" }";

fn pounds(kg: f64) -> f64 {
    kg / 0.453_592_37
}

/// Of a centred load three carrying is the even third (NAVEDTRA 14251 ch. 6); off its middle a leg with more than its share
/// takes as much more of it.
#[test]
fn three_legs_carry_no_less_than_the_load_hangs_off_its_middle() {
    let hardest = |load: &str| {
        let plan = frame(16.0, load, "carrying = \"three\"", "", "");
        let verdicts = Figures::of(&plan).verdicts;
        let legs = verdicts.iter().filter(|v| v.question == Question::Leg);
        let of = |v: &loadwalk::figures::Verdict| v.value.expect("a pull").number();
        pounds(legs.map(of).fold(0.0, f64::max))
    };
    // Legs of 16 ft over a rectangle of 20 by 8 ft: 10.77 ft to the side, 11.83 ft up; 6000 / 3 / (11.83 / 16).
    let centred = hardest(WHOLE);
    assert!((centred - 2_705.0).abs() < 15.0, "{centred}");
    assert!(hardest(OFF) > 1.2 * centred, "{}", hardest(OFF));
}

/// A leg of the plan so much longer that it hangs slack only warned, and `--slack` of the same leg failed.
#[test]
fn a_set_with_a_leg_that_hangs_slack_is_not_whole() {
    let longer = |rope: &str| {
        let station = "station = \"rear-right\"\n";
        let own = format!("{station}hardware = \"{rope}\"\n");
        Figures::of(&skid(&[(station, own.as_str())])).verdicts
    };
    let whole = longer("0.12 m");
    assert_eq!(one(&whole, Question::SlingSet).grade, Grade::Pass);
    let idle = longer("0.60 m");
    let set = one(&idle, Question::SlingSet);
    assert_eq!(set.grade, Grade::Fail, "{set}");
    assert!(set.note.contains("1 of them carries nothing"), "{set}");
    // Over nothing there is no ratio, and the leg that pulls hardest is told all the same.
    let ratio = one(&idle, Question::TensionRatio);
    assert_eq!((ratio.grade, ratio.value), (Grade::Warn, None), "{ratio}");
    let worst = worst_of_each(&idle);
    let leg = worst.iter().find(|v| v.question == Question::Leg);
    assert!(leg.expect("a leg").share_percent > Some(50.0), "{leg:?}");
}

/// Of a leg that pulled next to nothing no percentage is told: it was "2495 percent more".
#[test]
fn a_leg_that_comes_to_carry_is_told_in_kilograms() {
    let station = "station = \"rear-right\"\n";
    let own = format!("{station}hardware = \"0.60 m\"\n");
    let planned = Rig::from_plan(&skid(&[(station, own.as_str())]));
    // Seven links more take up 8 cm of it.
    let found = planned
        .as_found(&[links("rear-right", 40)])
        .expect("a chain");
    let told = miscount(&planned, &found).expect("it differs").sentence;
    assert!(told.contains("rear right leg comes to carry"), "{told}");
    assert!(!told.contains("00 % more"), "{told}");
}

/// A net whose limits were typed in was asked for neither: it hung 17 degrees off and was ready.
#[test]
fn a_net_on_several_legs_is_asked_how_it_hangs() {
    let net = |more: &[(&str, &str)]| {
        let mut changes = vec![("kind = \"rigid\"", "kind = \"net\"")];
        changes.extend(more);
        Figures::of(&skid(&changes)).verdicts
    };
    assert_eq!(one(&net(&[]), Question::Tilt).grade, Grade::Pass);
    let off = ("forward = \"0.08 m", "forward = \"0.60 m");
    assert_eq!(one(&net(&[off]), Question::Tilt).grade, Grade::Fail);
    // No rule says how level a net hangs where the plan does not: it wants a look.
    let unset = net(&[off, ("max_tilt = \"5 degrees\"\n", "")]);
    let tilt = one(&unset, Question::Tilt);
    assert_eq!(tilt.grade, Grade::Warn, "{tilt}");
    assert!(tilt.look().expect("a look").ends_with("off level"));
    // On one leg too: within its plus and minus this one may be off its middle, as its picture says.
    let text = include_str!("../../../plans/gravel-net.toml");
    let tilt = |text: &str| one(&Figures::of(&plan(text)).verdicts, Question::Tilt).clone();
    assert_eq!(tilt(text).grade, Grade::Pass);
    let off = text.replace("left = \"0 m +/- 0.08 m\"", "left = \"0 m +/- 0.4 m\"");
    let off = tilt(&off);
    assert_eq!(off.grade, Grade::Warn, "{off}");
    // By hand: 0.40 and 0.08 m off, 1.60 m below the ring.
    let hand = (0.4_f64.hypot(0.08) / 1.6).atan().to_degrees();
    assert!(
        (off.worst.expect("a tilt").number() - hand).abs() < 0.05,
        "{off}"
    );
}

#[test]
fn what_a_plan_gives_no_limit_for_is_told() {
    let told = |plan: &loadwalk::plan::Plan| -> Vec<String> {
        let all = capacity(plan);
        let looks = all.iter().filter_map(loadwalk::figures::Verdict::look);
        looks.collect()
    };
    // A crane without a limit of its hook, legs that meet at nothing named.
    let looks = told(&frame(16.0, WHOLE, "", "", ""));
    for what in ["Crane's hook: not asked", "Apex: not asked"] {
        assert!(looks.iter().any(|l| l.starts_with(what)), "{looks:?}");
    }
    let beams = plan(include_str!("../../../plans/roof-beams.toml"));
    let looks = told(&beams);
    let below = "What hangs below the spreader: not asked";
    assert!(looks.iter().any(|l| l.starts_with(below)), "{looks:?}");
}

/// Said of a walk whose counts were wrong, "counts are as planned" was untrue.
#[test]
fn a_verdict_on_planned_counts_says_nothing_of_what_was_counted() {
    let unequal = skid(&[("front-left = 8", "front-left = 9")]);
    let all = Figures::of(&unequal).verdicts;
    for verdict in worst_of_each(&all) {
        let said = verdict.spoken();
        assert!(!said.contains("as planned"), "{said}");
    }
}
