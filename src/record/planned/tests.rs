use super::*;
use crate::record::samples::{StepClock, opened};
use crate::record::{Record, Verification, verify};
use crate::walk::Entry;

const SKID: &str = include_str!("../../../plans/generator-skid.toml");

/// What a verification finds of a record that was opened by the skid's plan, changed so.
fn found(
    change: impl FnOnce(&mut Route, &mut Vec<LeftOut>, &mut Vec<CapacityLine>),
) -> Verification {
    let plan = plan::read(Path::new("skid.toml"), SKID).expect("a plan");
    let mut entry = opened();
    let Entry::Opened {
        route,
        left_out,
        capacity,
        plan_sha256,
        ..
    } = &mut entry
    else {
        unreachable!("it is that entry")
    };
    **route = plan.route().clone();
    left_out.clone_from(&route.left_out);
    *capacity = capacity_lines(&plan);
    *plan_sha256 = sha256_hex(SKID.as_bytes());
    change(route, left_out, capacity);
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("walk");
    let clock = Box::new(StepClock::at(0));
    let mut record = Record::create(&folder, SKID.as_bytes(), clock).unwrap();
    record.append(&entry).unwrap();
    verify(&folder, &[]).unwrap()
}

fn check<'a>(route: &'a mut Route, id: &str) -> &'a mut Check {
    let mut all = route.stations.iter_mut().flat_map(|s| &mut s.checks);
    all.find(|c| c.id.0 == id).expect("that check")
}

const LINKS: &str = "rear-left/hook-links";

#[test]
fn a_record_opened_by_its_plan_is_held_to_nothing_else() {
    let found = found(|_, _, _| {});
    assert_eq!((found.problems, found.notes), (vec![], vec![]));
    assert_eq!(found.other_words, None);
}

/// A change of the record's first entry, with the words that name it.
type Forged = (
    fn(&mut Route, &mut Vec<LeftOut>, &mut Vec<CapacityLine>),
    &'static str,
);

#[test]
fn what_is_asked_and_what_conforms_is_what_the_plan_gives() {
    let forged: [Forged; 14] = [
        (
            |r, _, _| r.load = "hut roof".to_owned(),
            "its load is hut roof",
        ),
        (
            |r, _, _| {
                let CheckKind::Count { expected, .. } = &mut check(r, LINKS).kind else {
                    unreachable!("it counts")
                };
                *expected = Some(9);
            },
            "what conforms at rear-left/hook-links is 9, by the plan 3",
        ),
        (
            |r, _, _| {
                let station = r.stations.iter_mut().find(|s| s.key == "rear-left");
                station.unwrap().checks.retain(|c| c.id.0 != LINKS);
            },
            "rear-left/hook-links is left out, which the plan asks",
        ),
        (
            |r, _, _| {
                let extra = check(r, LINKS).clone();
                let last = r.stations.last_mut().unwrap();
                last.checks.push(Check {
                    id: crate::record::samples::id("rear/extra"),
                    ..extra
                });
            },
            "it asks rear/extra, which the plan does not",
        ),
        (
            |r, _, _| r.stations.last_mut().unwrap().checks.reverse(),
            " stands where the plan has ",
        ),
        (
            |r, _, _| {
                let all = r.stations.iter_mut().flat_map(|s| &mut s.checks);
                let mut presence = all.filter(|c| matches!(c.kind, CheckKind::Presence { .. }));
                presence.next().unwrap().kind = CheckKind::Presence { must_be: false };
            },
            " is missing, by the plan present",
        ),
        (
            |r, _, _| {
                let all = r.stations.iter_mut().flat_map(|s| &mut s.checks);
                let mut states = all.filter_map(|c| match &mut c.kind {
                    CheckKind::State { states } => Some(states),
                    _ => None,
                });
                for state in states.next().unwrap() {
                    state.deficiency = None;
                }
            },
            "what conforms at ",
        ),
        // One state whose key reads like the list of those planned.
        (
            |r, _, _| {
                let all = r.stations.iter_mut().flat_map(|s| &mut s.checks);
                let kind = all.map(|c| &mut c.kind);
                let kind = kind
                    .into_iter()
                    .find(|k| matches!(k, CheckKind::State { .. }));
                let kind = kind.unwrap();
                let told = conforms(kind);
                *kind = CheckKind::State {
                    states: vec![NamedState {
                        key: told,
                        spoken: vec!["open".to_owned()],
                        deficiency: None,
                    }],
                };
            },
            "what conforms at ",
        ),
        (
            |r, _, _| {
                let all = r.stations.iter_mut().flat_map(|s| &mut s.checks);
                all.for_each(|c| c.touches.clear());
            },
            "opens other checks where it is put right",
        ),
        (
            |r, _, _| {
                let all = r.stations.iter_mut().flat_map(|s| &mut s.checks);
                all.for_each(|c| c.compare = None);
            },
            "has to agree otherwise",
        ),
        (
            |r, _, _| {
                let first = r.stations[0].checks[0].id.clone();
                check(r, LINKS).when.push(crate::plan::Condition {
                    check: first,
                    test: crate::plan::Test::Is(vec!["never".to_owned()]),
                });
            },
            "is asked on other conditions",
        ),
        (
            |r, _, _| {
                let tag = r
                    .stations
                    .iter_mut()
                    .flat_map(|s| &mut s.checks)
                    .find_map(|c| match &mut c.kind {
                        CheckKind::Tag { expected } if expected.is_some() => Some(expected),
                        _ => None,
                    });
                *tag.unwrap() = None;
            },
            " is any tag, by the plan tag ",
        ),
        (
            |_, l, _| {
                l.push(LeftOut {
                    check: crate::record::samples::id(LINKS),
                    name: "hook links".to_owned(),
                    reason: "not fitted".to_owned(),
                });
            },
            "what this build does not have is rear-left/hook-links",
        ),
        (
            |r, _, _| r.stations[0].key = "elsewhere".to_owned(),
            "is at another station",
        ),
    ];
    for (change, says) in forged {
        let found = found(change);
        let problem = found.first_problem.unwrap_or_else(|| panic!("{says}"));
        assert_eq!(problem.kind, ProblemKind::OffPlan, "{problem}");
        assert_eq!(problem.place, Place::Entry(0));
        assert!(problem.detail.contains(says), "{says}: {problem}");
    }
}

/// What was added to records since, and words that this version makes otherwise, do not break an old one; but nothing is
/// asked, or signed, by other words than those of its plan.
#[test]
fn other_words_are_noted_and_what_older_records_lack_is_not() {
    let lacking = found(|r, _, _| {
        r.outline_m = None;
        for check in r.stations.iter_mut().flat_map(|s| &mut s.checks) {
            check.together = None;
            check.deficiency = None;
        }
        r.stations.iter_mut().for_each(|s| s.place_m = None);
    });
    assert_eq!((lacking.problems, lacking.notes), (vec![], vec![]));
    let worded = found(|r, _, _| check(r, LINKS).ask = "Hook there?".to_owned());
    assert_eq!(worded.problems, []);
    let words = "rear-left/hook-links has other words than in the plan";
    assert_eq!(worded.other_words.as_deref(), Some(words));
    assert!(worded.notes[0].starts_with(words), "{:?}", worded.notes);
}

#[test]
fn a_verdict_is_no_better_than_the_plan_gives_it() {
    let lines = || {
        vec![CapacityLine {
            question: "aircraft".to_owned(),
            passes: false,
            spoken: "439 of 300 kilograms.".to_owned(),
            look: String::new(),
        }]
    };
    let mut passed = lines();
    passed[0].passes = true;
    for better in [&passed[..], &[]] {
        let why = passes_wrongly(better, &lines()).expect("it is better");
        assert!(why.ends_with("439 of 300 kilograms."), "{why}");
    }
    assert_eq!(passes_wrongly(&lines(), &passed), None, "it is worse");
    assert_eq!(passes_wrongly(&lines(), &lines()), None);
    // It is told all the same.
    let found = found(|_, _, c| c[0].passes = false);
    assert_eq!(found.problems, []);
    assert!(
        found.notes[0].starts_with("the capacity question `"),
        "{:?}",
        found.notes
    );
}
