use super::slug;
use super::speech::derived_ask;
use crate::plan::{CheckId, CheckKind, NamedState, Plan, Relation, Test, read};
use std::path::Path;

const HEAD: &str = r#"
format = 1
[load]
name = "tank"
kind = "rigid"
mass = "800 kg"
mass_from = "load cell"
size = { length = "2 m", width = "1 m", height = "1 m" }
centre_of_gravity = { forward = "0 m", left = "0 m", up = "0.5 m" }
[load.provisions]
eye = { forward = "0 m", left = "0 m", up = "1 m" }
[sling_set]
name = "strop"
key = "strop"
rated_capacity = "1500 kg"
mass = "5 kg"
number_of_legs = 1
[[sling_set.leg]]
number = 1
provision = "eye"
station = "a"
rating = "1500 kg"
length = "4 m"
[lift]
by = "crane"
allowable = "2 t"
allowable_from = "crane table"
[options]
lid = { values = ["steel", "wood"], chosen = "steel" }
"#;

fn plan(checks: &str) -> Plan {
    let text = format!("{HEAD}{checks}");
    read(Path::new("test.toml"), &text).unwrap_or_else(|d| panic!("{d}"))
}

fn told(checks: &str) -> String {
    let text = format!("{HEAD}{checks}");
    match read(Path::new("test.toml"), &text) {
        Ok(_) => panic!("nothing is told"),
        Err(d) => d.to_string(),
    }
}

fn ids(plan: &Plan) -> Vec<String> {
    plan.route().checks().map(|c| c.id.to_string()).collect()
}

fn left_out(plan: &Plan) -> Vec<String> {
    let all = plan.route().left_out.iter();
    all.map(|l| format!("{}: {}", l.check, l.reason)).collect()
}

#[test]
fn a_block_is_repeated_with_its_arguments() {
    let plan = plan(
        r#"
[block.pin]
parameters = ["side", "pins"]
[[block.pin.check]]
name = "{side} pin"
kind = "presence"
deficiency = "{side} pin out at {station}"
touches = ["{side}-pins"]
[[block.pin.check]]
name = "{side} pins"
kind = "count"
noun = "pins"
ask = "How many pins?"
expected = "{pins}"
[block.both-sides]
[[block.both-sides.check]]
block = "pin"
with = { side = "left", pins = 2 }
[[block.both-sides.check]]
block = "pin"
with = { side = "right", pins = 4 }
[[station]]
key = "a"
name = "front"
[[station.check]]
block = "both-sides"
[[station]]
key = "b"
name = "rear"
[[station.check]]
name = "lid"
kind = "condition"
[[station.check]]
block = "pin"
with = { side = "upper", pins = 1 }
"#,
    );
    assert_eq!(
        ids(&plan),
        [
            "a/left-pin",
            "a/left-pins",
            "a/right-pin",
            "a/right-pins",
            "b/lid",
            "b/upper-pin",
            "b/upper-pins",
        ]
    );
    let right = plan
        .route()
        .check(&CheckId("a/right-pin".into()))
        .expect("a check");
    assert_eq!(right.deficiency.as_deref(), Some("right pin out at a"));
    assert_eq!(right.touches, [CheckId("a/right-pins".into())]);
    let pins = plan
        .route()
        .check(&CheckId("a/right-pins".into()))
        .expect("a check");
    assert!(matches!(
        pins.kind,
        CheckKind::Count {
            expected: Some(4),
            ..
        }
    ));
}

/// A check without an answer fails `is` and the bounds, and passes `is_not`.
#[test]
fn what_depends_on_a_check_that_is_left_out_is_left_out_too() {
    let plan = plan(
        r#"
[[station]]
key = "a"
name = "front"
[[station.check]]
name = "wood lid"
kind = "presence"
needs_option = { option = "lid", is = "wood" }
[[station.check]]
name = "lid nails"
kind = "count"
noun = "nails"
expected = 8
when = { check = "wood-lid", is = "present" }
[[station.check]]
name = "nail heads"
kind = "condition"
when = { check = "lid-nails", at_least = 1 }
[[station.check]]
name = "lid bolts"
kind = "condition"
when = { check = "wood-lid", is_not = "present" }
touches = ["wood-lid", "hinge"]
[[station.check]]
name = "hinge"
kind = "condition"
needs_option = { option = "lid", is_not = "wood" }
"#,
    );
    assert_eq!(ids(&plan), ["a/lid-bolts", "a/hinge"]);
    assert_eq!(
        left_out(&plan),
        [
            "a/wood-lid: option lid is steel, not wood",
            "a/lid-nails: a/wood-lid is left out",
            "a/nail-heads: a/lid-nails is left out",
        ]
    );
    let bolts = &plan.route().stations[0].checks[0];
    assert!(bolts.when.is_empty());
    assert_eq!(bolts.touches, [CheckId("a/hinge".into())]);
}

#[test]
fn a_station_without_checks_is_dropped() {
    let plan = plan(
        r#"
[[station]]
key = "a"
name = "front"
[[station.check]]
name = "eye"
kind = "condition"
[[station]]
key = "b"
name = "lid"
needs_option = { option = "lid", is = "wood" }
[[station.check]]
name = "nails"
kind = "condition"
"#,
    );
    let stations: Vec<&str> = plan
        .route()
        .stations
        .iter()
        .map(|s| s.key.as_str())
        .collect();
    assert_eq!(stations, ["a"]);
    assert_eq!(left_out(&plan), ["b/nails: option lid is steel, not wood"]);
}

/// A count with nothing to agree with would let every answer pass.
#[test]
fn a_count_that_only_agrees_needs_the_other_count() {
    let checks = r#"
[[station]]
key = "a"
name = "front"
[[station.check]]
name = "left nails"
kind = "count"
noun = "nails"
expected = 8
needs_option = { option = "lid", is = "wood" }
[[station.check]]
name = "right nails"
kind = "count"
noun = "nails"
compare = { with = "left-nails", how = "alike" }
"#;
    assert_eq!(
        told(checks),
        "test.toml:40:1: error: nothing says which count conforms, since the check to compare with \
         is not asked; help: add expected, a table, or the same needs_option as that check has"
    );
}

#[test]
fn conditions_and_mirrors_speak_in_keys() {
    let plan = plan(
        r#"
[[station]]
key = "a"
name = "front"
[[station.check]]
name = "choke"
kind = "state"
ask = "Choke?"
states = [
  { say = ["left", "left side"], conforms = true },
  { say = ["right", "right side"], conforms = true },
]
[[station.check]]
name = "knot"
kind = "presence"
when = { check = "choke", is = "Left side" }
[[station]]
key = "b"
name = "rear"
[[station.check]]
name = "choke"
kind = "state"
ask = "Choke?"
states = [
  { say = ["left", "left side"], conforms = true },
  { say = ["right", "right side"], conforms = true },
]
compare = { with = "a/choke", how = "mirrored", pairs = [["left", "right side"]] }
"#,
    );
    let checks: Vec<_> = plan.route().checks().collect();
    assert_eq!(checks[1].when[0].test, Test::Is(vec!["left".into()]));
    let compare = checks[2].compare.as_ref().expect("a comparison");
    assert_eq!(compare.with, CheckId("a/choke".into()));
    assert_eq!(
        compare.relation,
        Relation::Mirrored(vec![["left".into(), "right".into()]])
    );
}

#[test]
fn exactly_one_of_three_has_two_ways_to_fail() {
    let plan = plan(
        r#"
[[station]]
key = "a"
name = "front"
[[station.check]]
name = "drain"
kind = "one-of"
states = ["plugged", "capped", { say = ["blanked off", "blanked"] }]
"#,
    );
    let check = plan.route().checks().next().expect("a check");
    assert_eq!(check.ask, "Drain: plugged, capped or blanked off?");
    let CheckKind::State { states } = &check.kind else {
        panic!("not states")
    };
    let keys: Vec<(&str, Option<&str>)> = states
        .iter()
        .map(|s| (s.key.as_str(), s.deficiency.as_deref()))
        .collect();
    assert_eq!(
        keys,
        [
            ("plugged", None),
            ("capped", None),
            ("blanked-off", None),
            (
                "both",
                Some("drain in more than one state of plugged, capped and blanked off")
            ),
            (
                "neither",
                Some("drain in no state of plugged, capped and blanked off")
            ),
        ]
    );
}

#[test]
fn coupled_pieces_add_up() {
    let pieces = r#"
[[load.piece]]
name = "front piece"
mass = "600 kg +/- 10 kg"
centre_of_gravity = { forward = "1 m", left = "0 m", up = "0.5 m" }
[[load.piece]]
name = "rear piece"
mass = "200 kg"
centre_of_gravity = { forward = "-1 m +/- 0.1 m", left = "0.4 m", up = "0.5 m" }
[[station]]
key = "a"
name = "front"
[[station.check]]
name = "coupling"
kind = "presence"
"#;
    let text = format!("{HEAD}{pieces}")
        .replace("mass = \"800 kg\"\n", "")
        .replace(
            "centre_of_gravity = { forward = \"0 m\", left = \"0 m\", up = \"0.5 m\" }\n[load.prov",
            "[load.prov",
        );
    let plan = read(Path::new("test.toml"), &text).unwrap_or_else(|d| panic!("{d}"));
    assert_eq!(plan.load.pieces.len(), 2);
    assert_eq!(plan.load.mass.value.value, 800.0);
    assert_eq!(plan.load.mass.plus_minus.value, 10.0);
    // By hand: (600 · 1 - 200 · 1) / 800 and (200 · 0.4) / 800.
    assert_eq!(plan.load.centre_of_gravity.metres(), [0.5, 0.1, 0.5]);
    // By hand, with the front piece at 590 kg and the rear one 0.1 m back: (590 · 1 - 200 · 1.1) / 790.
    let [forward, left, up] = plan.load.centre_of_gravity.plus_minus_metres();
    assert!((forward - (0.5 - 370.0 / 790.0)).abs() < 1e-12);
    // By hand: 200 · 0.4 / 790.
    assert!((left - (80.0 / 790.0 - 0.1)).abs() < 1e-12);
    assert_eq!(up, 0.0);
}

#[test]
fn questions_come_from_name_and_kind() {
    let count = |noun: &str| CheckKind::Count {
        expected: Some(3),
        noun: noun.into(),
    };
    let state = |say: &str, deficiency: Option<&str>| NamedState {
        key: say.into(),
        spoken: vec![say.into()],
        deficiency: deficiency.map(str::to_string),
    };
    assert_eq!(
        derived_ask("hook keeper", &CheckKind::Presence { must_be: true }),
        "Hook keeper?"
    );
    assert_eq!(
        derived_ask("hook links", &count("links")),
        "How many hook links?"
    );
    assert_eq!(
        derived_ask("grab hook", &count("links")),
        "Grab hook, how many links?"
    );
    let states = vec![
        state("straight", None),
        state("twisted", Some("chain twisted")),
    ];
    assert_eq!(
        derived_ask("chain", &CheckKind::State { states }),
        "Chain: straight or twisted?"
    );
    assert_eq!(
        derived_ask("leg rope", &CheckKind::Condition),
        "Leg rope: good or deficient?"
    );
}

#[test]
fn slugs_are_keys() {
    assert_eq!(slug("Front left, upper"), "front-left-upper");
    assert_eq!(slug("  É  "), "");
}

/// Expansion is bounded, whatever the nesting.
#[test]
fn a_plan_that_explodes_is_refused() {
    let mut checks = String::from("[[station]]\nkey = \"a\"\nname = \"front\"\n");
    checks.push_str("[[station.check]]\nblock = \"b0\"\n");
    for depth in 0..3 {
        for _ in 0..40 {
            checks.push_str(&format!(
                "[[block.b{depth}.check]]\nblock = \"b{}\"\n",
                depth + 1
            ));
        }
    }
    checks.push_str("[[block.b3.check]]\nname = \"end\"\nkind = \"condition\"\n");
    assert!(told(&checks).contains("the plan asks for more than 800 checks"));
}

#[test]
fn a_tag_may_be_written_as_it_stands_on_the_metal() {
    let plan = plan(
        r#"
[[station]]
key = "a"
name = "front"
[[station.check]]
name = "lid tag"
kind = "tag"
expected = "sl-204 b"
"#,
    );
    let kind = &plan
        .route()
        .check(&CheckId("a/lid-tag".into()))
        .expect("a check")
        .kind;
    assert_eq!(
        *kind,
        CheckKind::Tag {
            expected: Some("SL204B".into())
        }
    );
}
