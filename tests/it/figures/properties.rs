//! What must hold for every rig, of one to six legs, and for two coupled pieces.

use super::gear::plan;
use loadwalk::figures::{Hang, HangLimits, Leg, LengthUnit, MassUnit, PlusMinus, Rig, hang};
use loadwalk::plan::{Carrying, ChainMode};
use proptest::prelude::*;

fn leg(at: [f64; 3], length_m: f64, stretch: f64) -> Leg {
    Leg {
        station: "s".to_owned(),
        name: "leg".to_owned(),
        provision_m: at,
        provision_rating_kg: None,
        full_length_m: length_m,
        pitch_m: 0.0,
        mode: ChainMode::Direct,
        links: 0,
        planned_links: 0,
        links_max: 0,
        rating_kg: 2_000.0,
        stretch_at_rating: stretch,
        hitch_keeps: 1.0,
        missing: false,
        let_go: false,
    }
}

prop_compose! {
    /// One to six legs round a box, lengths within a few percent, weight below.
    fn rigs()(
        n in 1_usize..=6,
        half in (0.8..3.0_f64, 0.5..1.5_f64),
        off in prop::array::uniform6((-0.1..0.1_f64, -0.1..0.1_f64, -0.1..0.1_f64)),
        longer in prop::array::uniform6(-0.03..0.03_f64),
        reach in 1.3..2.2_f64,
        cg in (-0.2..0.2_f64, -0.2..0.2_f64, -1.0..0.0_f64),
        mass_kg in 300.0..4_000.0_f64,
        stretch in 0.005..0.04_f64,
    ) -> Rig {
        let corners: &[[f64; 2]] = match n {
            1 => &[[0.0, 0.0]],
            2 => &[[1.0, 0.0], [-1.0, 0.0]],
            3 => &[[1.0, 0.0], [-1.0, 1.0], [-1.0, -1.0]],
            4 => &[[1.0, 1.0], [1.0, -1.0], [-1.0, 1.0], [-1.0, -1.0]],
            5 => &[[1.0, 1.0], [1.0, -1.0], [-1.0, 1.0], [-1.0, -1.0], [-1.3, 0.0]],
            _ => &[[1.0, 1.0], [1.0, -1.0], [0.0, 1.1], [0.0, -1.1], [-1.0, 1.0], [-1.0, -1.0]],
        };
        // One leg or two hold nothing upright whose centre of gravity is not below them.
        let below = if n < 3 { 0.5 } else { 0.1 };
        let far = (half.0 * half.0 + half.1 * half.1).sqrt();
        let legs = corners.iter().enumerate().map(|(i, c)| {
            let at = [c[0] * half.0 + off[i].0, c[1] * half.1 + off[i].1, off[i].2];
            leg(at, far * reach * (1.0 + longer[i]), stretch)
        });
        Rig {
            name: "any".to_owned(),
            mass_kg,
            cg_m: [cg.0 * half.0, cg.1 * half.1, cg.2 - below],
            box_m: None,
            below: None,
            legs: legs.collect(),
            carrying: Carrying::Two,
            plus_minus: PlusMinus::default(),
            dynamic_factor: 1.0,
            limits: HangLimits::default(),
            unit: MassUnit::Kg,
            length_unit: LengthUnit::M,
        }
    }
}

/// Force and moment about the centre of gravity left over, as shares of weight and weight × height.
fn left_over(rig: &Rig, hang: &Hang) -> (f64, f64) {
    let weight = rig.weight_n();
    let mut force: [f64; 3] = hang.up.map(|u| -u * weight);
    let mut moment = [0.0; 3];
    for (leg, hung) in rig.legs.iter().zip(&hang.legs) {
        let run: Vec<f64> = (0..3)
            .map(|i| hang.apex_m[i] - leg.provision_m[i])
            .collect();
        let long = run.iter().map(|r| r * r).sum::<f64>().sqrt();
        let pull: Vec<f64> = run.iter().map(|r| r / long * hung.tension_n).collect();
        let arm: Vec<f64> = (0..3).map(|i| leg.provision_m[i] - rig.cg_m[i]).collect();
        for i in 0..3 {
            force[i] += pull[i];
            let (j, k) = ((i + 1) % 3, (i + 2) % 3);
            moment[i] += arm[j] * pull[k] - arm[k] * pull[j];
        }
    }
    let size = |v: [f64; 3]| v.iter().map(|x| x * x).sum::<f64>().sqrt();
    (
        size(force) / weight,
        size(moment) / (weight * hang.apex_over_cg_m),
    )
}

proptest! {
    #[test]
    fn forces_and_moments_balance(rig in rigs()) {
        let hang = hang(&rig).unwrap();
        let (force, moment) = left_over(&rig, &hang);
        prop_assert!(force < 1e-6, "force {force}");
        prop_assert!(moment < 1e-6, "moment {moment}");
    }

    #[test]
    fn legs_only_pull_and_slack_ones_are_longer_than_their_run(rig in rigs()) {
        let hang = hang(&rig).unwrap();
        for (leg, hung) in rig.legs.iter().zip(&hang.legs) {
            prop_assert!(hung.tension_n >= 0.0);
            let run = (0..3).map(|i| (hang.apex_m[i] - leg.provision_m[i]).powi(2)).sum::<f64>().sqrt();
            prop_assert_eq!(hung.slack, run <= leg.length_m());
            prop_assert!(hung.bounds_n[0] <= hung.tension_n && hung.tension_n <= hung.bounds_n[1]);
        }
    }

    #[test]
    fn turning_the_plan_turns_the_answer(rig in rigs(), angle in 0.0..6.3_f64) {
        let (s, c) = angle.sin_cos();
        let turn = |p: [f64; 3]| [c * p[0] - s * p[1], s * p[0] + c * p[1], p[2]];
        let mut turned = rig.clone();
        turned.cg_m = turn(rig.cg_m);
        for leg in &mut turned.legs {
            leg.provision_m = turn(leg.provision_m);
        }
        let (before, after) = (hang(&rig).unwrap(), hang(&turned).unwrap());
        prop_assert!((before.tilt_deg - after.tilt_deg).abs() < 1e-6);
        let apex = turn(before.apex_m);
        for (turned, found) in apex.iter().zip(after.apex_m) {
            prop_assert!((turned - found).abs() < 1e-7);
        }
        for (b, a) in before.legs.iter().zip(&after.legs) {
            prop_assert!((b.tension_n - a.tension_n).abs() < 1e-6 * rig.weight_n());
        }
    }

    #[test]
    fn a_heavier_load_pulls_in_proportion_where_legs_hardly_stretch(
        rig in rigs(),
        factor in 1.1..3.0_f64,
    ) {
        let mut rig = rig;
        // Three legs: four stiff ones share by their last hair of length.
        rig.legs.truncate(3);
        rig.cg_m = [0, 1, 2].map(|i| rig.legs.iter().map(|l| l.provision_m[i]).sum::<f64>() / 3.0);
        rig.cg_m[2] -= 0.5;
        for leg in &mut rig.legs {
            leg.stretch_at_rating = 2e-5;
        }
        let before = hang(&rig).unwrap();
        rig.mass_kg *= factor;
        let after = hang(&rig).unwrap();
        for (b, a) in before.legs.iter().zip(&after.legs) {
            // Of the weight: a leg that carries next to nothing is no base for a share.
            let off = a.tension_n - factor * b.tension_n;
            prop_assert!(off.abs() < 1e-3 * rig.weight_n());
        }
    }

    #[test]
    fn heavier_loads_with_softer_ratings_in_step_hang_just_the_same(
        rig in rigs(),
        factor in 0.2..5.0_f64,
    ) {
        // Weight and stiffness in step: a similarity of the statics, exact at any stretch.
        let mut scaled = rig.clone();
        scaled.mass_kg *= factor;
        for leg in &mut scaled.legs {
            leg.rating_kg *= factor;
        }
        let (before, after) = (hang(&rig).unwrap(), hang(&scaled).unwrap());
        for (b, a) in before.legs.iter().zip(&after.legs) {
            prop_assert!((b.tension_n * factor - a.tension_n).abs() < 1e-6 * scaled.weight_n());
        }
    }

    #[test]
    fn a_slack_leg_stays_slack_under_more_slack(rig in rigs(), more in 0.001..1.0_f64) {
        let before = hang(&rig).unwrap();
        for (at, hung) in before.legs.iter().enumerate() {
            if hung.slack {
                let mut longer = rig.clone();
                longer.legs[at].full_length_m += more;
                let after = hang(&longer).unwrap();
                prop_assert!(after.legs[at].slack);
                prop_assert!((after.tilt_deg - before.tilt_deg).abs() < 1e-6);
            }
        }
    }

    #[test]
    fn mirrored_rigs_hang_mirrored(rig in rigs()) {
        let mut mirrored = rig.clone();
        mirrored.cg_m[1] = -mirrored.cg_m[1];
        for leg in &mut mirrored.legs {
            leg.provision_m[1] = -leg.provision_m[1];
        }
        let (before, after) = (hang(&rig).unwrap(), hang(&mirrored).unwrap());
        prop_assert!((before.left_down_deg + after.left_down_deg).abs() < 1e-6);
        prop_assert!((before.nose_down_deg - after.nose_down_deg).abs() < 1e-6);
    }
    #[test]
    fn two_coupled_pieces_balance_each_by_its_own_weight(
        lb in prop::array::uniform2(500.0..5_000.0_f64),
        at in prop::array::uniform2((-3.0..3.0_f64, -1.0..1.0_f64, -4.0..-1.0_f64)),
        factor in 1.1..3.0_f64,
    ) {
        let coupled = |factor: f64| {
            let piece = |i: usize| {
                format!(
                    "[[load.piece]]\nname = \"piece {i}\"\nmass = \"{:.4} lb\"\ncentre_of_gravity = {{ \
                     forward = \"{:.6} ft\", left = \"{:.6} ft\", up = \"{:.6} ft\" }}\n",
                    lb[i] * factor, at[i].0, at[i].1, at[i].2,
                )
            };
            Rig::from_plan(&plan(16.0, &(piece(0) + &piece(1)), "", "", ""))
        };
        let rig = coupled(1.0);
        let hang = hang(&rig).unwrap();
        // Forces and moments about the load's origin, with each piece's weight where the piece is.
        let mut force = [0.0; 3];
        let mut moment = [0.0; 3];
        let mut add = |arm: [f64; 3], pull: [f64; 3]| {
            for i in 0..3 {
                force[i] += pull[i];
                let (j, k) = ((i + 1) % 3, (i + 2) % 3);
                moment[i] += arm[j] * pull[k] - arm[k] * pull[j];
            }
        };
        for (mass, at) in lb.iter().zip(at) {
            let weight = mass * 0.453_592_37 * 9.806_65;
            add([at.0, at.1, at.2].map(|v| v * 0.3048), hang.up.map(|u| -u * weight));
        }
        for (leg, hung) in rig.legs.iter().zip(&hang.legs) {
            let run = [0, 1, 2].map(|i| hang.apex_m[i] - leg.provision_m[i]);
            let long = run.iter().map(|r| r * r).sum::<f64>().sqrt();
            add(leg.provision_m, run.map(|r| r / long * hung.tension_n));
        }
        let size = |v: [f64; 3]| v.iter().map(|x| x * x).sum::<f64>().sqrt();
        // The plan's text holds so many digits.
        prop_assert!(size(force) < 1e-6 * rig.weight_n(), "{force:?}");
        prop_assert!(size(moment) < 1e-6 * rig.weight_n() * hang.apex_over_cg_m, "{moment:?}");

        // Both pieces heavier in step hang as one heavier body does.
        let mut heavier = rig.clone();
        heavier.mass_kg *= factor;
        let (pieces, body) = (
            loadwalk::figures::hang(&coupled(factor)).unwrap(),
            loadwalk::figures::hang(&heavier).unwrap(),
        );
        for (a, b) in pieces.legs.iter().zip(&body.legs) {
            prop_assert!((a.tension_n - b.tension_n).abs() < 1e-5 * heavier.weight_n());
        }
    }
}
