//! Leg pulls and attitudes. Each row names where its value is from.

use loadwalk::figures::{
    HangLimits, Leg, LengthUnit, MassUnit, PlusMinus, Rig, RigError, carrying_words, hang,
};
use loadwalk::plan::{Carrying, ChainMode};

pub(super) const LB: f64 = 0.453_592_37;
pub(super) const FT: f64 = 0.3048;

/// Within `share` of the published value.
pub(super) fn near(what: &str, found: f64, published: f64, share: f64) {
    assert!(
        (found - published).abs() <= share * published.abs(),
        "{what}: found {found}, published {published}"
    );
}

/// Within `off` of the published value.
pub(super) fn close(what: &str, found: f64, published: f64, off: f64) {
    assert!(
        (found - published).abs() <= off,
        "{what}: found {found}, published {published}"
    );
}

pub(super) fn sine(degrees: f64) -> f64 {
    degrees.to_radians().sin()
}

/// A leg of almost no stretch; feet.
fn leg(name: &str, at_ft: [f64; 3], length_ft: f64) -> Leg {
    Leg {
        station: name.replace(' ', "-"),
        name: name.to_owned(),
        provision_m: at_ft.map(|v| v * FT),
        provision_rating_kg: None,
        full_length_m: length_ft * FT,
        pitch_m: 0.0,
        mode: ChainMode::Looped,
        links: 0,
        planned_links: 0,
        links_max: 0,
        rating_kg: 10_000.0,
        stretch_at_rating: 1e-5,
        hitch_keeps: 1.0,
        missing: false,
        let_go: false,
    }
}

/// A load in pounds and feet.
fn rig(weight_lb: f64, cg_ft: [f64; 3], legs: Vec<Leg>) -> Rig {
    Rig {
        name: "test load".to_owned(),
        mass_kg: weight_lb * LB,
        cg_m: cg_ft.map(|v| v * FT),
        box_m: None,
        below: None,
        legs,
        carrying: Carrying::Two,
        plus_minus: PlusMinus::default(),
        dynamic_factor: 1.0,
        limits: HangLimits::default(),
        unit: MassUnit::Lb,
        length_unit: LengthUnit::Ft,
    }
}

/// Four legs at (±5, ±3) ft, front and rear legs of the given lengths in feet.
pub(super) fn four(cg_ft: [f64; 3], front_ft: f64, rear_ft: f64) -> Rig {
    rig(
        8_000.0,
        cg_ft,
        vec![
            leg("front left", [5.0, 3.0, 0.0], front_ft),
            leg("front right", [5.0, -3.0, 0.0], front_ft),
            leg("rear left", [-5.0, 3.0, 0.0], rear_ft),
            leg("rear right", [-5.0, -3.0, 0.0], rear_ft),
        ],
    )
}

/// Pulls of each leg by stiffness, lb.
fn pulls_lb(rig: &Rig) -> Vec<f64> {
    let hang = hang(rig).unwrap();
    // As the mass that hangs so at standard gravity, SI brochure (9th edition), 3rd CGPM 1901.
    let kg = hang.legs.iter().map(|l| l.tension_n / 9.806_65);
    kg.map(|kg| kg / LB).collect()
}

#[test]
fn a_hook_plumb_over_an_uneven_load_pulls_two_legs_as_the_handbook_formula() {
    // T1 = W D2 S1 / (H (D1 + D2)), the rigging handbooks' formula (from memory), here as exact
    // statics. Weight, D1, D2, H; T1, T2.
    let rows = [
        (10_000.0, 2.0, 8.0, 6.0, 8_432.7, 3_333.3),
        (1_400.0, 9.0, 5.0, 12.0, 625.0, 975.0),
        (6_000.0, 3.0, 5.0, 12.0, 3_865.4, 2_437.5),
    ];
    for (weight, d1, d2, h, t1, t2) in rows {
        let rig = rig(
            weight,
            [0.0, 0.0, -1.0],
            vec![
                leg("front", [d1, 0.0, 0.0], f64::sqrt(d1 * d1 + h * h)),
                leg("rear", [-d2, 0.0, 0.0], f64::sqrt(d2 * d2 + h * h)),
            ],
        );
        let pulls = pulls_lb(&rig);
        near("T1", pulls[0], t1, 1e-3);
        near("T2", pulls[1], t2, 1e-3);
        let hang = hang(&rig).unwrap();
        // Each holds up what the other's distance says: W D2 / (D1 + D2) and W D1 / (D1 + D2).
        for ((leg, pull), other) in hang.legs.iter().zip(&pulls).zip([d2, d1]) {
            near(
                "upright part",
                pull * leg.sine,
                weight * other / (d1 + d2),
                1e-3,
            );
        }
        close("tilt", hang.tilt_deg, 0.0, 1e-2);
        assert!(hang.determinate);
    }
}

#[test]
fn three_legs_pull_as_statics_say() {
    // Worked statics of a tripod at (6, 0), (−3, ±4), apex 8 up over the centroid, 9,000 lb; then
    // with apex and centre of gravity at x = 1.
    for (x, pulls) in [(0.0, [3_750.0, 3_537.7]), (1.0, [4_717.0, 3_061.9])] {
        let run = |dx: f64, dy: f64| f64::sqrt(dx * dx + dy * dy + 64.0);
        let rig = rig(
            9_000.0,
            [x, 0.0, 0.0],
            vec![
                leg("front", [6.0, 0.0, 0.0], run(6.0 - x, 0.0)),
                leg("rear left", [-3.0, 4.0, 0.0], run(-3.0 - x, 4.0)),
                leg("rear right", [-3.0, -4.0, 0.0], run(-3.0 - x, 4.0)),
            ],
        );
        let found = pulls_lb(&rig);
        near("front", found[0], pulls[0], 1e-3);
        near("rear left", found[1], pulls[1], 1e-3);
        near("rear right", found[2], pulls[1], 1e-3);
    }
}

#[test]
fn four_legs_hang_as_worked_by_hand() {
    // Worked statics: four stiff legs, pairs alike. CG, front and rear length in feet; nose down in
    // degrees; front and rear pull in lb.
    let rows = [
        ([0.0, 0.0, 0.0], 12.0, 12.0, 0.0, 2_288.3, 2_288.3),
        ([1.0, 0.0, 0.0], 12.0, 12.0, 5.446, 2_733.6, 1_822.4),
        ([1.0, 0.0, -2.0], 12.0, 12.0, 4.578, 2_664.1, 1_897.9),
        ([0.0, 0.0, -2.0], 11.0, 12.0, -5.539, 2_307.5, 2_329.2),
        (
            [1.0, 0.0, -2.0],
            f64::sqrt(124.0),
            12.0,
            0.0,
            2_686.0,
            1_929.7,
        ),
    ];
    for (cg, front, rear, nose_down, front_lb, rear_lb) in rows {
        let rig = four(cg, front, rear);
        let what = format!("{cg:?} {front} {rear}");
        let found = pulls_lb(&rig);
        for i in 0..2 {
            near(&what, found[i], front_lb, 1e-3);
            near(&what, found[i + 2], rear_lb, 1e-3);
        }
        let hang = hang(&rig).unwrap();
        close(&what, hang.nose_down_deg, nose_down, 5e-3);
        close(&what, hang.tilt_deg, nose_down.abs(), 5e-3);
        close(&what, hang.left_down_deg, 0.0, 1e-6);
        if front < 11.1 {
            // The same worked statics: where the short front legs bring the apex.
            near(&what, hang.apex_m[0] / FT, 1.150, 1e-3);
            near(&what, hang.apex_m[2] / FT, 9.858, 1e-3);
        }
        assert!(!hang.determinate);
        assert!(hang.unbalanced < 1e-6, "{}", hang.unbalanced);
    }
}

#[test]
fn a_level_four_leg_rig_shows_its_apex_and_its_bounds() {
    // Worked statics of the first row above; MIL-STD-209K's 12-ft legs on 10 by 6 ft.
    let rig = four([0.0; 3], 12.0, 12.0);
    let hang = hang(&rig).unwrap();
    near("apex", hang.apex_m[2] / FT, 10.4881, 1e-4);
    for leg in &hang.legs {
        near("angle", leg.angle_deg, 60.93, 1e-4);
    }
    for (carrying, published) in [
        (Carrying::All, 2_288.3),
        (Carrying::Three, 3_051.1),
        (Carrying::Two, 4_576.6),
    ] {
        for leg in &hang.legs {
            let pull = leg.carried_n(carrying) / (LB * 9.806_65);
            near(carrying_words(carrying), pull, published, 1e-3);
        }
    }
    // One diagonal may carry everything, the other nothing (NAVEDTRA 14081 fig. 13-50: two of four legs
    // may support practically the full load while the others only balance it).
    for leg in &hang.legs {
        close("least", leg.bounds_n[0], 0.0, 1e-3 * rig.weight_n());
        near("most", leg.bounds_n[1] / (LB * 9.806_65), 4_576.6, 1e-3);
    }
}

#[test]
fn angles_are_those_of_the_tilted_load() {
    // Worked statics: centre of gravity 1 ft forward; front and rear legs' angles as it hangs.
    let hang = hang(&four([1.0, 0.0, 0.0], 12.0, 12.0)).unwrap();
    close("front", hang.legs[0].angle_deg, 65.45, 0.02);
    close("rear", hang.legs[2].angle_deg, 56.15, 0.02);
}

#[test]
fn ten_links_short_in_front_lift_the_nose_two_degrees() {
    // Worked statics: 12-ft legs, front pair short by ten links of 0.3556 ft together.
    let hang = hang(&four([0.0, 0.0, -2.0], 12.0 - 0.3556, 12.0)).unwrap();
    close("nose", hang.nose_down_deg, -1.961, 5e-3);
}

#[test]
fn a_link_moves_a_looped_leg_by_half_a_pitch() {
    // Rope of 12 ft and chain of 8 ft with 112.5 links, looped (values from memory): legs at links
    // 3, 10 and 50 are about 15.9, 15.6 and 14.2 ft.
    let mut leg = leg("front left", [0.0; 3], 12.0 + 8.0 / 2.0);
    leg.pitch_m = 8.0 * FT / 112.5;
    for (links, published) in [(3, 15.9), (10, 15.6), (50, 14.2)] {
        leg.links = links;
        close("looped", leg.length_m() / FT, published, 0.05);
    }
    leg.mode = ChainMode::Direct;
    close("direct", leg.link_step_m() / leg.pitch_m, 1.0, 1e-12);
}

#[test]
fn of_unequal_legs_the_flattest_governs_the_simple_rating() {
    // NAVEDTRA 14251 ch. 6 and NAVEDTRA 14080 fig. 3-23; wire-rope sling guidance has the same for
    // unequal angles. A bridle is good for 2 · single · H/L, with the smallest H/L where legs are
    // unequal, and three and four legs are rated as two. So with two legs carrying no leg is rated for
    // less than W / (2 · smallest H/L), and more than two legs bring no relief.
    let rig = four([0.0, 0.0, -2.0], 11.0, 12.0);
    let hang = hang(&rig).unwrap();
    let height = hang.apex_over_cg_m;
    assert!(height > 0.0);
    let flattest = hang.legs.iter().map(|l| l.sine).fold(1.0, f64::min);
    for (leg, hung) in rig.legs.iter().zip(&hang.legs) {
        // H over L of each leg as it hangs: its upright part over its length.
        let run = [0, 1, 2].map(|i| hang.apex_m[i] - leg.provision_m[i]);
        let up: f64 = run.iter().zip(hang.up).map(|(r, u)| r * u).sum();
        let long = run.iter().map(|r| r * r).sum::<f64>().sqrt();
        near("H/L", hung.sine, up / long, 1e-9);
        let simple = rig.weight_n() / 2.0 / flattest;
        assert!(hung.carried_n(Carrying::Two) >= simple * (1.0 - 1e-9));
        near("two legs", hung.carried_n(Carrying::Two), simple, 0.03);
    }
}

#[test]
fn loads_that_do_not_stay_upright_are_refused() {
    // Centre of gravity above the apex.
    let tall = four([0.0, 0.0, 11.0], 12.0, 12.0);
    assert!(matches!(
        hang(&tall),
        Err(RigError::TurnsOver { .. } | RigError::Unsteady)
    ));
    // Above the two provisions of a bridle.
    let mut bridle = rig(
        1_000.0,
        [0.0, 0.1, 1.0],
        vec![
            leg("front", [4.0, 0.0, 0.0], 6.0),
            leg("rear", [-4.0, 0.0, 0.0], 6.0),
        ],
    );
    assert!(matches!(hang(&bridle), Err(RigError::TurnsOver { .. })));
    bridle.cg_m = [0.0; 3];
    assert_eq!(hang(&bridle), Err(RigError::Unsteady));
    bridle.cg_m = [0.0, 0.0, -0.3];
    assert!(hang(&bridle).is_ok());
}

#[test]
fn legs_that_cannot_meet_are_refused_by_name() {
    let pair = rig(
        1_000.0,
        [0.0, 0.0, -1.0],
        vec![
            leg("front", [4.0, 0.0, 0.0], 3.0),
            leg("rear", [-4.0, 0.0, 0.0], 4.5),
        ],
    );
    let error = hang(&pair).unwrap_err();
    assert!(matches!(error, RigError::PairCannotReach { .. }));
    assert!(error.to_string().contains("front and rear"), "{error}");

    // Each two of these can meet, the three cannot: 8 ft apart each, 4.2 ft long.
    let h = f64::sqrt(48.0);
    let three = rig(
        1_000.0,
        [0.0, 2.3, -1.0],
        vec![
            leg("right", [4.0, 0.0, 0.0], 4.2),
            leg("left", [-4.0, 0.0, 0.0], 4.2),
            leg("far", [0.0, h, 0.0], 4.2),
        ],
    );
    let error = hang(&three).unwrap_err();
    assert!(matches!(error, RigError::CannotReach { .. }), "{error}");
}
