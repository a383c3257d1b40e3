//! The length that is told for a leg that stands too flat really stands at 45°: the load is hung again with it.

use super::gear::plan as frame;
use super::verdicts::plan;
use crate::command::lines::PLAN as CRATE;
use loadwalk::figures::{Figures, Question, Rig, hang};
use loadwalk::plan::Plan;

/// What is told of the legs' angles: of one leg alone, of every leg, and of how many nothing.
#[derive(Default)]
struct Told {
    alone: usize,
    every: usize,
    nothing: usize,
}

/// Hangs a rig again with each length that is told of it; all are as typed in.
fn holds(plan: &Plan, rig: &Rig, told: &mut Told) {
    let unit = rig.length_unit;
    let before = hang(rig).expect("it hangs");
    for verdict in Figures::with_rig(plan, rig.clone()).verdicts {
        if verdict.question != Question::LegAngle || verdict.grade < loadwalk::figures::Grade::Warn
        {
            continue;
        }
        let at = rig.legs.iter();
        let mut at = at.map(|leg| format!("{} leg", leg.name));
        let at = at.position(|name| name == verdict.subject).expect("a leg");
        let number = |from: &str| {
            let rest = verdict.note.split_once(from)?.1;
            let number: f64 = rest.split(' ').next()?.parse().ok()?;
            Some(number * unit.m())
        };
        let mut longer = rig.clone();
        if let Some(long) = number("a leg of ") {
            let more = long - rig.legs[at].length_m();
            assert!(more > 0.0, "{verdict}");
            longer.legs[at].full_length_m += more;
            told.alone += 1;
        } else if let Some(more) = number("with every leg ") {
            longer
                .legs
                .iter_mut()
                .for_each(|leg| leg.full_length_m += more);
            told.every += 1;
        } else {
            assert_eq!(verdict.note, "", "{verdict}");
            told.nothing += 1;
            continue;
        }
        let after = hang(&longer).expect("it hangs");
        let angle = after.legs[at].angle_deg;
        assert!(angle >= 45.0, "{angle}: {verdict}");
        // No more is told than it takes: two hundredths, where it is to stand without stretch as well.
        let less = 0.02 * unit.m();
        for leg in longer.legs.iter_mut() {
            leg.full_length_m -= less;
            leg.stretch_at_rating = 1e-4;
        }
        let angle = hang(&longer).map_or(0.0, |h| h.legs[at].angle_deg);
        assert!(angle < 45.0, "{angle}: {verdict}");
        assert!(after.legs.iter().all(|leg| !leg.slack), "{verdict}");
        assert!(after.tilt_deg <= before.tilt_deg.max(5.0), "{verdict}");
    }
}

#[test]
fn a_length_that_is_told_for_a_flat_leg_stands_at_45_degrees() {
    let mut told = Told::default();
    // By MIL-STD-209K 5.1.2.a legs of 15.232 ft stand at 45° over 20 by 8 ft; the load off its middle leans and its
    // rear legs stand flatter, although they are longer than that.
    for forward in [0.0, 0.5, 1.0, 2.0, 3.0] {
        for leg_ft in [12.5, 14.5, 15.4, 15.9] {
            let load = format!(
                "mass = \"6000 lb\"\ncentre_of_gravity = {{ forward = \"{forward} ft\", left = \"0.3 ft\", up = \"-2 ft\" }}"
            );
            let plan = frame(leg_ft, &load, "", "", "");
            holds(&plan, &Rig::from_plan(&plan), &mut told);
        }
    }
    // A bridle with one leg shorter than the other: over 0.8 m, one stands at more than 45° and the other at less.
    let crate_plan = plan(CRATE);
    for (front, rear) in [(0.5, 0.6), (0.52, 0.56), (0.54, 0.58), (0.62, 0.5)] {
        let mut rig = Rig::from_plan(&crate_plan);
        rig.legs[0].full_length_m = front;
        rig.legs[1].full_length_m = rear;
        holds(&crate_plan, &rig, &mut told);
    }
    assert!(
        told.alone > 0 && told.every > 10,
        "{} {}",
        told.alone,
        told.every
    );
}

#[test]
fn a_length_is_told_where_only_the_plus_or_minus_makes_a_leg_flat() {
    let load = "mass = \"6000 lb\"\n\
        centre_of_gravity = { forward = \"0 ft +/- 1 ft\", left = \"0 ft\", up = \"-2 ft\" }";
    let plan = frame(15.5, load, "", "", "");
    let verdicts = Figures::of(&plan).verdicts;
    let flat = verdicts.iter().filter(|v| v.question == Question::LegAngle);
    let flat: Vec<_> = flat.filter(|v| v.look().is_some()).collect();
    assert!(!flat.is_empty());
    for verdict in flat {
        assert!(
            verdict.value.expect("an angle").number() > 45.0,
            "{verdict}"
        );
        let more = verdict.note.strip_prefix("with every leg ");
        let more = more.and_then(|m| m.strip_suffix(" ft longer it would stand at 45°"));
        let more: f64 = more
            .unwrap_or_else(|| panic!("{verdict}"))
            .parse()
            .expect("feet");
        // With it no leg wants a look any more.
        let longer = frame(15.5 + more, load, "", "", "");
        let verdicts = Figures::of(&longer).verdicts;
        let of = |v: &&loadwalk::figures::Verdict| {
            v.question == Question::LegAngle && v.subject == verdict.subject
        };
        let again = verdicts.iter().find(of).expect("the same leg");
        assert_eq!(again.look(), None, "{again}");
    }
}
