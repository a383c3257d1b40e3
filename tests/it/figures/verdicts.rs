//! Verdicts on plans, and rigs as found.

use loadwalk::diagnostic::Severity;
use loadwalk::figures::{
    Figures, Found, Grade, Quantity, Question, Rig, RigError, Verdict, capacity, findings, hang,
    miscount, worst_of_each,
};
use loadwalk::plan::{Plan, read};
use std::path::Path;

pub(super) const SKID: &str = include_str!("../../../plans/generator-skid.toml");

pub(super) fn plan(text: &str) -> Plan {
    read(Path::new("test.toml"), text).unwrap_or_else(|d| panic!("{d}"))
}

/// The skid's plan with some text put for other text; each must be there.
pub(super) fn skid(changes: &[(&str, &str)]) -> Plan {
    let mut text = SKID.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from}");
        text = text.replace(from, to);
    }
    plan(&text)
}

pub(super) fn one(verdicts: &[Verdict], question: Question) -> &Verdict {
    verdicts
        .iter()
        .find(|v| v.question == question)
        .unwrap_or_else(|| panic!("no {question:?}"))
}

pub(super) fn links(station: &str, links: u32) -> Found {
    Found::Links {
        station: station.to_owned(),
        links,
    }
}

#[test]
fn the_demo_skid_passes_its_capacity_questions() {
    let verdicts = capacity(&plan(SKID));
    assert!(verdicts.iter().all(Verdict::passes), "{verdicts:#?}");
    // 1,550 kg less 10 percent, as the plan says: what EASA's rules for montage by helicopter, AMC1
    // SPO.SPEC.HESLO.100, take off.
    let aircraft = one(&verdicts, Question::Aircraft);
    let Some(Quantity::Kg(limit)) = aircraft.limit else {
        panic!("{aircraft:?}");
    };
    assert!((limit - 1395.0).abs() < 1e-9);
    // 1,240 kg, the set's 28 kg, the line's 22 kg and the swivel's 4 kg; 40 kg more at worst.
    assert_eq!(aircraft.value, Some(Quantity::Kg(1294.0)));
    assert_eq!(aircraft.worst, Some(Quantity::Kg(1334.0)));
    assert_eq!(aircraft.decided_by.as_deref(), Some("mass"));
    let questions: Vec<Question> = worst_of_each(&verdicts)
        .iter()
        .map(|v| v.question)
        .collect();
    assert_eq!(
        questions,
        [
            Question::Aircraft,
            Question::Hook,
            Question::Rigging,
            Question::SlingSet,
            Question::Leg,
            Question::Provision,
            Question::Procedure
        ]
    );
}

#[test]
fn a_load_that_is_only_too_heavy_at_its_plus_fails() {
    let just = skid(&[("1240 kg +/- 40 kg", "1320 kg +/- 40 kg")]);
    let verdicts = capacity(&just);
    let aircraft = one(&verdicts, Question::Aircraft);
    assert_eq!(aircraft.grade, Grade::Fail);
    assert!(aircraft.share_percent > Some(100.0));
    assert!(
        aircraft
            .spoken()
            .contains("1414 kilograms, only 1395 kilograms"),
        "{}",
        aircraft.spoken()
    );
}

#[test]
fn both_masses_stand_side_by_side() {
    // 1,240 kg as typed in, 40 kg more at worst, on a set of 28 kg and rigging of 26 kg.
    let said = one(&capacity(&plan(SKID)), Question::Hook).spoken();
    assert_eq!(
        said,
        "Cargo hook: 1294 kilograms as typed in, at worst 1334 kilograms of 1800 kilograms."
    );
    let sure = skid(&[("1240 kg +/- 40 kg", "1240 kg")]);
    let said = one(&capacity(&sure), Question::Hook).spoken();
    assert_eq!(said, "Cargo hook: 1294 kilograms of 1800 kilograms.");
}

#[test]
fn every_verdict_has_number_limit_rule_and_a_share_or_why_none() {
    for (name, text) in [
        ("skid", SKID),
        ("beams", include_str!("../../../plans/roof-beams.toml")),
        ("net", include_str!("../../../plans/gravel-net.toml")),
    ] {
        for verdict in Figures::of(&plan(text)).verdicts {
            if verdict.value.is_none() {
                let named = verdict.question == Question::Procedure;
                assert!(named || verdict.note.contains("not asked"), "{verdict}");
                assert!(verdict.no_share.is_some(), "{verdict}");
                continue;
            }
            assert!(
                verdict.value.is_some() && verdict.limit.is_some(),
                "{name}: {verdict}"
            );
            assert!(!verdict.rule.is_empty(), "{name}: {verdict}");
            assert_ne!(
                verdict.share_percent.is_some(),
                verdict.no_share.is_some(),
                "{name}: {verdict}"
            );
        }
    }
}

#[test]
fn how_near_a_load_is_to_turning_over_has_a_share() {
    let hangs = |up: &str| {
        let plan = skid(&[("up = \"0.7 m +/- 0.1 m\"", &format!("up = \"{up}\""))]);
        one(&Figures::of(&plan).verdicts, Question::Hangs).clone()
    };
    // Under the provisions, which are 1.55 m up: far from it.
    let low = hangs("0.7 m");
    assert_eq!((low.grade, low.share_percent), (Grade::Pass, Some(0.0)));
    // Plain statics: half-way from the provisions to the apex, half of the room is used.
    let Some(Quantity::M(apex_m)) = low.limit else {
        panic!("{low:?}");
    };
    let half = hangs(&format!("{:.3} m", 1.55 + apex_m / 2.0));
    assert_eq!(half.grade, Grade::Warn);
    let share = half.share_percent.unwrap();
    assert!((share - 50.0).abs() < 5.0, "{half}");
}

#[test]
fn each_limit_fails_by_itself() {
    for (from, to, question) in [
        (
            "allowable = \"1550 kg\"",
            "allowable = \"1400 kg\"",
            Question::Aircraft,
        ),
        (
            "hook_limit = \"1800 kg\"",
            "hook_limit = \"1300 kg\"",
            Question::Hook,
        ),
        (
            "rating = \"2500 kg\"",
            "rating = \"1300 kg\"",
            Question::Rigging,
        ),
        (
            "rated_capacity = \"2500 kg\"",
            "rated_capacity = \"1250 kg\"",
            Question::SlingSet,
        ),
        ("rating = \"1250 kg\"", "rating = \"700 kg\"", Question::Leg),
        (
            "rating = \"1500 kg\"",
            "rating = \"700 kg\"",
            Question::Provision,
        ),
        (
            "max_tilt = \"5 degrees\"",
            "max_tilt = \"1 degree\"",
            Question::Tilt,
        ),
        ("rope = \"1.8 m", "rope = \"0.5 m", Question::LegAngle),
    ] {
        let verdicts = capacity(&skid(&[(from, to)]));
        let failed: Vec<&Verdict> = verdicts.iter().filter(|v| !v.passes()).collect();
        assert!(
            failed.iter().any(|v| v.question == question),
            "{question:?}: {failed:#?}"
        );
    }
}

#[test]
fn the_carrying_assumption_is_always_said() {
    let verdicts = capacity(&plan(SKID));
    for verdict in verdicts.iter().filter(|v| v.question == Question::Leg) {
        assert!(
            verdict.to_string().contains("two legs carrying"),
            "{verdict}"
        );
    }
}

#[test]
fn two_legs_of_four_carry_where_the_plan_does_not_say() {
    // NAVEDTRA 14081 fig. 13-50; DOE-STD-1090, NASA-STD-8719.9 and NAVFAC P-307 (from memory): of four
    // legs on a rigid load two are taken to carry.
    let unsaid = skid(&[("carrying = \"two\"", "")]);
    let said = Figures::of(&plan(SKID)).verdicts;
    assert_eq!(Figures::of(&unsaid).verdicts, said);
    let leg = |carrying: &str| {
        let plan = skid(&[("carrying = \"two\"", carrying)]);
        one(&Figures::of(&plan).verdicts, Question::Leg)
            .value
            .unwrap()
            .number()
    };
    let (two, three) = (leg("carrying = \"two\""), leg("carrying = \"three\""));
    let all = leg("carrying = \"all\"\ncarrying_statement = \"certificate 12\"");
    // A third for a half, and no less where the load hangs off its middle.
    assert!((1.4..1.501).contains(&(two / three)), "{two} {three}");
    assert!(all < three, "{all} {three}");
}

#[test]
fn a_count_written_once_for_all_legs_is_each_legs_count() {
    let plan = skid(&[
        ("count_table = \"hook-links\"", "links = 8"),
        (
            "rear-left = 3\nrear-right = 3",
            "rear-left = 8\nrear-right = 8",
        ),
    ]);
    let links: Vec<u32> = Rig::from_plan(&plan).legs.iter().map(|l| l.links).collect();
    assert_eq!(links, [8; 4]);
    // A leg's own line stands before it.
    let own = skid(&[
        ("count_table = \"hook-links\"", "links = 8"),
        ("number = 1\n", "number = 1\nlinks = 5\n"),
        ("number = 2\n", "number = 2\ncount_table = \"hook-links\"\n"),
        (
            "front-left = 8\nfront-right = 8\nrear-left = 3\nrear-right = 3",
            "front-left = 5\nfront-right = 8\nrear-left = 8\nrear-right = 8",
        ),
    ]);
    let links: Vec<u32> = Rig::from_plan(&own).legs.iter().map(|l| l.links).collect();
    assert_eq!(links, [5, 8, 8, 8]);
}

#[test]
fn ratings_count_at_their_minus() {
    let less = skid(&[("rating = \"1250 kg\"", "rating = \"1250 kg +/- 50 kg\"")]);
    let verdicts = Figures::of(&less).verdicts;
    assert_eq!(
        one(&verdicts, Question::Leg).limit,
        Some(Quantity::Kg(1200.0))
    );
}

#[test]
fn faults_point_at_their_line() {
    let at = |plan: &Plan, text: &str| {
        let found = findings(plan);
        assert_eq!(found.len(), 1, "{found:#?}");
        let span = found[0].span.clone().unwrap();
        let rest: Vec<&str> = text[span.start..].lines().take(3).collect();
        (found[0].clone(), rest.join("\n"))
    };
    assert_eq!(findings(&plan(SKID)), []);

    let short = SKID.replace("rope = \"1.8 m", "rope = \"0.12 m");
    let (finding, line) = at(&plan(&short), &short);
    assert_eq!(finding.severity, Severity::Error);
    assert!(finding.title.contains("cannot meet"), "{finding:?}");
    assert!(finding.help.starts_with("use longer legs"), "{finding:?}");
    assert!(line.contains("number = 1\nprovision"), "{line}");

    let tall = SKID.replace("up = \"0.7 m +/- 0.1 m\"", "up = \"5 m\"");
    let (finding, line) = at(&plan(&tall), &tall);
    assert!(finding.title.contains("turns over") || finding.title.contains("upright"));
    assert!(line.contains("5 m"), "{line}");

    // Three places in one line: the left provisions where they are, the right ones between them.
    let line_up = SKID
        .replace(
            "{ forward = \"1.05 m\",  left = \"-0.65 m\"",
            "{ forward = \"0.5 m\",  left = \"0.65 m\"",
        )
        .replace(
            "{ forward = \"-1.05 m\", left = \"-0.65 m\"",
            "{ forward = \"-0.5 m\", left = \"0.65 m\"",
        );
    let (finding, line) = at(&plan(&line_up), &line_up);
    assert_eq!(finding.severity, Severity::Error);
    assert!(finding.title.contains("lie in one line"), "{finding:?}");
    assert!(finding.help.contains("beside the line"), "{finding:?}");
    assert!(line.starts_with("front-left"), "{line}");

    let hot = SKID.replace("temperature = \"14 °C\"", "temperature = \"34 °C\"");
    let (finding, line) = at(&plan(&hot), &hot);
    assert_eq!(finding.severity, Severity::Warning);
    assert!(line.contains("roadhead"), "{line}");
}

#[test]
fn a_miscount_is_told_by_what_it_does() {
    let rig = Rig::from_plan(&plan(SKID));
    assert_eq!(miscount(&rig, &rig), None);

    let both = rig
        .as_found(&[links("rear-left", 23), links("rear-right", 23)])
        .unwrap();
    let told = miscount(&rig, &both).unwrap();
    assert!(told.matters);
    let nose_down = hang(&both).unwrap().nose_down_deg;
    assert_eq!(
        told.sentence,
        format!(
            "rear left at 23 for 3, rear right at 23 for 3: the load hangs {nose_down:.1}° nose down, \
             at worst that is over a limit on tilt, leg angle or rating"
        )
    );
    assert!(told.spoken().contains("degrees"));

    // A link on both sides changes little, unless the plan is just within a limit.
    let little = [links("rear-left", 4), links("rear-right", 4)];
    let told = miscount(&rig, &rig.as_found(&little).unwrap()).unwrap();
    assert!(!told.matters, "{}", told.sentence);
    let Some(Quantity::Deg(worst)) =
        one(&Figures::of(&plan(SKID)).verdicts, Question::Tilt).at_worst()
    else {
        panic!("no tilt");
    };
    let mut close = rig.clone();
    close.limits.tilt_deg = worst + 0.01;
    let told = miscount(&close, &close.as_found(&little).unwrap()).unwrap();
    assert!(
        told.matters && told.sentence.contains("over a limit"),
        "{}",
        told.sentence
    );

    let one = rig.as_found(&[links("rear-right", 20)]).unwrap();
    let told = miscount(&rig, &one).unwrap();
    assert!(told.sentence.contains("slack"), "{}", told.sentence);

    let missing = Found::Missing {
        station: "rear-right".to_owned(),
    };
    let told = miscount(&rig, &rig.as_found(&[missing]).unwrap()).unwrap();
    assert!(
        told.sentence.starts_with("rear right leg missing"),
        "{}",
        told.sentence
    );
}

#[test]
fn counts_that_cannot_be_are_refused() {
    let rig = Rig::from_plan(&plan(SKID));
    assert!(matches!(
        rig.as_found(&[links("rear-rihgt", 3)]),
        Err(RigError::NoSuchStation { .. })
    ));
    assert!(matches!(
        rig.as_found(&[links("rear-right", 90)]),
        Err(RigError::CountBeyond { most: 65, .. })
    ));
}

#[test]
fn unequal_counts_left_and_right_fail() {
    let plan = plan(SKID);
    let found = Rig::from_plan(&plan)
        .as_found(&[links("rear-right", 4)])
        .unwrap();
    let figures = Figures::with_rig(&plan, found);
    let counts = figures
        .verdicts
        .iter()
        .filter(|v| v.question == Question::Counts);
    let grades: Vec<Grade> = counts.map(|v| v.grade).collect();
    assert_eq!(grades, [Grade::Pass, Grade::Fail]);
    assert!(!figures.pass());
}

#[test]
fn counts_that_a_plan_wants_unequal_must_differ_just_so() {
    let plan = skid(&[(
        "front-left = 8\nfront-right = 8\nrear-left = 3\nrear-right = 3",
        "front-left = 10\nfront-right = 8\nrear-left = 3\nrear-right = 3",
    )]);
    let rig = Rig::from_plan(&plan);
    let graded = |left: u32, right: u32| {
        let found = [links("front-left", left), links("front-right", right)];
        let figures = Figures::with_rig(&plan, rig.as_found(&found).unwrap());
        let counts = one(&figures.verdicts, Question::Counts);
        assert!(!counts.spoken().contains("10"), "{}", counts.spoken());
        counts.grade
    };
    assert_eq!(graded(10, 8), Grade::Warn);
    for (left, right) in [(8, 10), (9, 9), (20, 8), (11, 8)] {
        assert_eq!(graded(left, right), Grade::Fail, "{left} and {right}");
    }
}

#[test]
fn a_set_without_all_its_legs_fails() {
    let plan = plan(SKID);
    let station = || "rear-right".to_owned();
    for gone in [
        Found::Missing { station: station() },
        Found::Slack { station: station() },
    ] {
        let found = Rig::from_plan(&plan).as_found(&[gone]).unwrap();
        let figures = Figures::with_rig(&plan, found);
        let set = one(&figures.verdicts, Question::SlingSet);
        assert_eq!(set.grade, Grade::Fail, "{set}");
        assert!(set.share_percent < Some(100.0), "{set}");
        assert!(set.spoken().contains("not whole"), "{}", set.spoken());
        assert!(!figures.pass());
    }
}
