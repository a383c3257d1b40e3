//! A thousand random rigs against a general-purpose optimiser.
//!
//! `tests/reference/hang_reference.py` made the file with scipy's SLSQP on another statement of the
//! same statics: the load's six degrees of freedom and one stretch for each leg.

#[path = "../../reference/general.rs"]
mod general;

use loadwalk::figures::{HangLimits, Leg, LengthUnit, MassUnit, PlusMinus, Rig, hang};
use loadwalk::plan::{Carrying, ChainMode};

const FILE: &str = include_str!("../../reference/hang_reference.csv");

/// One row: the rig, and the reference's tilt, apex and tensions.
fn row(line: &str) -> (Rig, f64, [f64; 3], Vec<f64>) {
    let numbers: Vec<f64> = line.split(',').map(|n| n.parse().unwrap()).collect();
    let (head, legs) = numbers.split_at(9);
    let legs: Vec<&[f64]> = legs.chunks(7).collect();
    assert_eq!(legs.len(), head[0] as usize);
    let leg = |(i, n): (usize, &&[f64])| Leg {
        station: format!("s{i}"),
        name: format!("number {i}"),
        provision_m: [n[0], n[1], n[2]],
        provision_rating_kg: None,
        full_length_m: n[3],
        pitch_m: 0.0,
        mode: ChainMode::Direct,
        links: 0,
        planned_links: 0,
        links_max: 0,
        rating_kg: n[4],
        stretch_at_rating: n[5],
        hitch_keeps: 1.0,
        missing: false,
        let_go: false,
    };
    let rig = Rig {
        name: "reference".to_owned(),
        mass_kg: head[1],
        cg_m: [head[2], head[3], head[4]],
        box_m: None,
        below: None,
        legs: legs.iter().enumerate().map(leg).collect(),
        carrying: Carrying::All,
        plus_minus: PlusMinus::default(),
        dynamic_factor: 1.0,
        limits: HangLimits::default(),
        unit: MassUnit::Kg,
        length_unit: LengthUnit::M,
    };
    let tensions = legs.iter().map(|n| n[6]).collect();
    (rig, head[5], [head[6], head[7], head[8]], tensions)
}

#[test]
fn a_thousand_rigs_hang_as_a_general_optimiser_finds() {
    let mut seen = 0;
    let mut slack = 0;
    for line in FILE.lines().filter(|l| !l.starts_with('#')) {
        let (rig, tilt_deg, apex_m, tensions) = row(line);
        let hang = hang(&rig).unwrap_or_else(|e| panic!("{e}: {line}"));
        let weight = rig.weight_n();
        for (leg, reference) in hang.legs.iter().zip(&tensions) {
            // 0.1 % of the pull; where a leg hardly pulls, 0.1 % of a twentieth of the weight.
            let off = 1e-3 * reference.max(0.05 * weight);
            assert!(
                (leg.tension_n - reference).abs() <= off,
                "{} pulls {} N, reference {reference} N: {line}",
                leg.name,
                leg.tension_n
            );
            slack += usize::from(leg.slack);
        }
        assert!(
            (hang.tilt_deg - tilt_deg).abs() <= 1e-3 * tilt_deg.max(1.0),
            "{line}"
        );
        for (found, reference) in hang.apex_m.iter().zip(apex_m) {
            let apart = (found - reference).abs();
            assert!(apart <= 1e-3 * hang.apex_over_cg_m, "{line}");
        }
        assert!(hang.unbalanced < 1e-6);
        seen += 1;
    }
    assert_eq!(seen, 1000);
    assert!(slack > 100, "the reference must hold slack legs, {slack}");
}

#[test]
fn another_optimiser_finds_the_same_where_it_finds_a_rest() {
    let rigs = general::reference();
    let mut agreed = 0;
    for rig in &rigs {
        let ours = hang(rig).unwrap();
        // It knows nothing of falling through the load, nor of kinks; what it finds must agree.
        let Some(apex) = general::general(rig) else {
            continue;
        };
        for (leg, hung) in rig.legs.iter().zip(&ours.legs) {
            let pull = general::pull(leg, &apex);
            let off = 1e-3 * hung.tension_n.max(0.05 * rig.weight_n());
            assert!(
                (pull - hung.tension_n).abs() <= off,
                "{pull} N against {} N",
                hung.tension_n
            );
        }
        agreed += 1;
    }
    assert!(agreed >= 800, "{agreed} of {} rigs", rigs.len());
}
