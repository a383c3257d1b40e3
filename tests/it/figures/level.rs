//! Counts that level a load, and the sweep of all counts.

use super::verdicts::{SKID, links, one, plan, skid};
use loadwalk::figures::{Figures, Quantity, Question, Rig, Verdict, hang, level, sweep};

#[test]
fn levelling_moves_as_few_links_as_will_do() {
    let rig = Rig::from_plan(&plan(SKID));
    assert_eq!(level(&rig, 3).unwrap().ways[0].moved, 0);

    let off = rig
        .as_found(&[links("rear-left", 23), links("rear-right", 23)])
        .unwrap();
    let ways = level(&off, 4).unwrap().ways;
    let first = &ways[0];
    let hung = hang(&off.with_counts(&first.counts)).unwrap();
    assert!(hung.tilt_deg <= 5.0);
    assert!((hung.tilt_deg - first.tilt_deg).abs() < 1e-6);
    // Of unequal counts both legs' ways are told.
    let one = rig.as_found(&[links("rear-right", 20)]).unwrap();
    for way in level(&one, 4).unwrap().ways {
        let moves = way.counts.iter().zip(&one.legs);
        let moved: u32 = moves.map(|(to, leg)| to.abs_diff(leg.links)).sum();
        assert_eq!(way.moved, moved);
        assert_eq!(way.counts[2], way.counts[3]);
        assert_eq!(moved, 17);
    }
}

#[test]
fn levelling_is_judged_at_the_worst_corner_as_the_verdicts_are() {
    let plan = plan(SKID);
    let rig = Rig::from_plan(&plan);
    let off = rig
        .as_found(&[links("rear-left", 23), links("rear-right", 23)])
        .unwrap();
    let found = level(&off, 4).unwrap();
    assert!(!found.cut_short);
    let verdicts = |counts: &[u32]| Figures::with_rig(&plan, off.with_counts(counts)).verdicts;
    let first = &found.ways[0];
    for way in &found.ways {
        let verdicts = verdicts(&way.counts);
        assert!(verdicts.iter().all(Verdict::passes), "{verdicts:#?}");
        let Some(Quantity::Deg(tilt)) = one(&verdicts, Question::Tilt).at_worst() else {
            panic!("{verdicts:#?}");
        };
        assert!((way.worst_tilt_deg - tilt).abs() < 1e-9, "{way:?} {tilt}");
        assert!(way.worst_tilt_deg > way.tilt_deg, "{way:?}");
    }
    // Every smaller change fails a verdict, and one of them only at the worst: as typed in it would do.
    assert_eq!(first.moved % 2, 0);
    let mut only_at_worst = 0;
    for links in 0..first.moved / 2 {
        for front in 0..=links {
            let rear = links - front;
            for front in [8 - front.min(8), 8 + front] {
                for rear in [23 - rear, 23 + rear] {
                    let verdicts = verdicts(&[front, front, rear, rear]);
                    assert!(
                        !verdicts.iter().all(Verdict::passes),
                        "{front} in front and {rear} behind move less than {first:?}"
                    );
                    let tilt = one(&verdicts, Question::Tilt).value.unwrap().number();
                    only_at_worst += u32::from(tilt <= 5.0);
                }
            }
        }
    }
    assert!(only_at_worst > 0);
}

#[test]
fn where_nothing_levels_a_load_nothing_is_listed() {
    // The centre of gravity to one side, where counts that stay equal left and right do nothing.
    let aside = skid(&[("left = \"0 m +/- 0.03 m\"", "left = \"0.6 m\"")]);
    let found = level(&Rig::from_plan(&aside), 3).unwrap();
    assert_eq!((found.ways.len(), found.cut_short), (0, false));
    let beams = plan(include_str!("../../../plans/roof-beams.toml"));
    let found = level(&Rig::from_plan(&beams), 3).unwrap();
    assert_eq!((found.ways.len(), found.cut_short), (0, false), "no chains");
}

#[test]
fn a_sweep_finds_the_same_on_any_number_of_threads() {
    let rig = Rig::from_plan(&plan(SKID));
    let alone = sweep(&rig, 1..=7, 1).unwrap();
    assert_eq!(alone, sweep(&rig, 1..=7, 3).unwrap());
    assert_eq!(alone.tried, 7_u64.pow(4));
    let best = alone.best.unwrap();
    let hung = hang(&rig.with_counts(&best.counts)).unwrap();
    assert!((hung.tilt_deg - best.tilt_deg).abs() < 1e-6);
}
