//! What those who sign must read beside the numbers: how many legs are taken to carry, by which procedure, and whose word.

use super::verdicts::{one, plan, skid};
use loadwalk::figures::{Figures, Grade, Question, Verdict, capacity, worst_of_each};

const ALL: (&str, &str) = (
    "carrying = \"two\"",
    "carrying = \"all\"\ncarrying_statement = \"rigging office; sheet 9\"",
);

/// Legs that hold as much as all four would pull, and not what two would.
fn weak_legs(carrying: (&str, &str)) -> Vec<Verdict> {
    let changes = [("rating = \"1250 kg\"", "rating = \"600 kg\""), carrying];
    Figures::of(&skid(&changes)).verdicts
}

/// The two plans differ in one word: one fails, the other passed without a word of it where people sign.
#[test]
fn how_many_legs_carry_is_said_beside_each_leg_and_provision() {
    let two = weak_legs(("carrying = \"two\"", "carrying = \"two\""));
    let all = weak_legs(ALL);
    assert_eq!(one(&two, Question::Leg).grade, Grade::Fail);
    assert!(one(&all, Question::Leg).passes());
    for (verdicts, mode) in [
        (&two, ", two legs carrying."),
        (&all, ", all legs carrying."),
    ] {
        for question in [Question::Leg, Question::Provision] {
            let said = one(verdicts, question).spoken();
            assert!(said.ends_with(mode), "{said}");
        }
        assert!(
            !one(verdicts, Question::SlingSet)
                .spoken()
                .contains("carrying")
        );
    }
}

#[test]
fn that_all_legs_carry_wants_a_look_with_whose_word_it_is() {
    let all = weak_legs(ALL);
    let look = one(&all, Question::Carrying).look().expect("a look");
    assert!(
        look.starts_with(
            "Sling set: all legs are taken to carry, on the word of rigging office, sheet 9, and with "
        ),
        "{look}"
    );
    // By hand: the leg's 738 kg of 600 with two carrying.
    assert!(
        look.ends_with("one would pull 123 percent of its rating"),
        "{look}"
    );
    let two = weak_legs(("carrying = \"two\"", "carrying = \"two\""));
    assert!(two.iter().all(|v| v.question != Question::Carrying));
    // It is among what a walk is opened with.
    let told = capacity(&skid(&[ALL]));
    assert!(told.iter().any(|v| v.question == Question::Carrying));
    // On two legs statics alone decide.
    let beams = include_str!("../../../plans/roof-beams.toml");
    let beams = plan(&beams.replace(ALL.0, ALL.1));
    let verdicts = Figures::of(&beams).verdicts;
    assert!(verdicts.iter().all(|v| v.question != Question::Carrying));
    assert!(!one(&verdicts, Question::Leg).spoken().contains("carrying"));
}

#[test]
fn a_procedure_for_one_lift_wants_a_look_and_each_is_named() {
    let suitable = capacity(&skid(&[]));
    let procedure = one(&suitable, Question::Procedure);
    assert_eq!(procedure.grade, Grade::Pass);
    assert_eq!(
        procedure.spoken(),
        "Rigging procedure: rigging sheet 7, skids to 1500 kg, judged suitable, by rigging engineer of the hut works."
    );
    let once = capacity(&skid(&[("status = \"suitable\"", "status = \"one-time\"")]));
    let look = one(&once, Question::Procedure).look().expect("a look");
    assert!(
        look.contains("for this one lift alone, by rigging engineer"),
        "{look}"
    );
}

#[test]
fn how_the_mass_is_known_is_said_with_what_the_aircraft_carries() {
    let verdicts = capacity(&skid(&[]));
    let said = one(&verdicts, Question::Aircraft).spoken();
    assert!(
        said.ends_with("; mass of the load from load cell at the roadhead, fuel at one quarter."),
        "{said}"
    );
}

/// Legs that bring the apex over a centre of gravity 13 cm in front of the foremost lugs: all else is within its limits.
#[test]
fn a_centre_of_gravity_outside_the_legs_fails() {
    let at = |forward: &str| {
        let limits = [
            (
                "forward = \"0.08 m +/- 0.03 m\"",
                format!("forward = \"{forward}\""),
            ),
            (
                "max_tilt = \"5 degrees\"",
                "max_tilt = \"25 degrees\"".to_owned(),
            ),
        ];
        let changes: Vec<(&str, &str)> = limits.iter().map(|(a, b)| (*a, b.as_str())).collect();
        Figures::of(&skid(&changes)).verdicts
    };
    let outside = |verdicts: &[Verdict]| {
        let found = verdicts
            .iter()
            .find(|v| v.subject == "the centre of gravity");
        found.map(|v| (v.passes(), v.note.clone()))
    };
    assert_eq!(outside(&at("1.04 m")), None);
    let (passes, note) = outside(&at("1.18 m")).expect("it is told");
    assert!(!passes);
    assert!(
        note.contains("130 mm outside the lifting provisions"),
        "{note}"
    );
    // So does one that may be outside.
    let (passes, note) = outside(&at("1.02 m +/- 0.05 m")).expect("it is told");
    assert!(!passes);
    assert!(
        note.starts_with("at worst by the centre of gravity forward: "),
        "{note}"
    );
    let verdicts = at("1.18 m");
    let worst = worst_of_each(&verdicts);
    let hangs = worst.iter().find(|v| v.question == Question::Hangs);
    let said = hangs.expect("a verdict").spoken();
    assert!(
        said.starts_with("How it hangs: fails. The centre of gravity is 130 mm"),
        "{said}"
    );
}

/// With its plus a leg comes to carry that hangs slack with its minus: the set fails by the light load, and was told to
/// hold less "at worst" than as typed in.
#[test]
fn a_set_that_fails_by_a_slack_leg_is_told_with_the_most_that_it_holds() {
    let station = "station = \"rear-right\"\n";
    let own = format!("{station}hardware = \"0.23 m\"\n");
    let verdicts = Figures::of(&skid(&[(station, own.as_str())])).verdicts;
    let set = one(&verdicts, Question::SlingSet);
    assert_eq!(set.grade, Grade::Fail, "{set}");
    assert!(set.note.contains("carries nothing"), "{set}");
    let numbers = [set.value, set.worst].map(|n| n.expect("a number").number());
    assert_eq!(numbers, [1240.0, 1280.0], "{set}");
}
