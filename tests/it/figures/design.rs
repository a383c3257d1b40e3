//! Limits and design rules of published standards.

use super::statics::{FT, close, four, near, sine};
use loadwalk::figures::{
    CLEARANCE_LEAST_M, CONE_DEG, DesignRule, HEIGHT_MOST_M, HangLimits, LEG_LEAST_M, Rig, design,
    design_length_m, hang, length_at_45_m, shared,
};

#[test]
fn limits_are_those_of_the_published_rules() {
    let limits = HangLimits::default();
    // MIL-STD-1365C 5.7.1.2: level to 5 degrees. OSHA guidance on safe sling use: not under 30 degrees
    // from the horizontal.
    close("tilt", limits.tilt_deg, 5.0, 0.0);
    close("refused", limits.angle_refused_deg, 30.0, 0.0);
    // MIL-STD-209K 5.1.2.a, b, g, i: 12 ft, 1 in, 120 degrees, 24 ft.
    near("shortest leg", LEG_LEAST_M / FT, 12.0, 1e-12);
    near("clearance", CLEARANCE_LEAST_M * 12.0 / FT, 1.0, 1e-12);
    close("cone", CONE_DEG, 120.0, 0.0);
    near("height", HEIGHT_MOST_M / FT, 24.0, 1e-12);
    // 29 CFR 1910.184(b), angle of loading: 5 degrees or less from the vertical may be taken as
    // vertical. The exact pull, which is used here, is no more than 0.4 % above it.
    let exact = shared(1.0, 1.0, sine(85.0));
    assert!((1.0..1.004).contains(&exact), "{exact}");
}

/// The rule of that paragraph.
fn rule(rig: &Rig, paragraph: &str) -> Option<DesignRule> {
    let rules = design(rig, &hang(rig).unwrap());
    rules.into_iter().find(|r| r.paragraph == paragraph)
}

#[test]
fn design_rules_of_mil_std_209k_are_held_against_a_rig() {
    // 5.1.2.a: 10 by 6 ft wants 8.246 ft for 45 degrees, so 12 ft; 20 by 8 ft wants 15.232 ft.
    let mut rig = four([0.0, 0.0, -2.0], 12.0, 12.0);
    assert!(rule(&rig, "5.1.2.a").unwrap().kept);
    for leg in &mut rig.legs {
        leg.full_length_m = 11.9 * FT;
    }
    let short = rule(&rig, "5.1.2.a").unwrap();
    assert!(!short.kept);
    near("least", short.limit / FT, 12.0, 1e-9);
    for leg in &mut rig.legs {
        leg.provision_m[0] *= 2.0;
        leg.provision_m[1] *= 4.0 / 3.0;
        leg.full_length_m = 15.0 * FT;
    }
    let flat = rule(&rig, "5.1.2.a").unwrap();
    near("least", flat.limit / FT, 15.232, 1e-3);
    assert!(!flat.kept);

    // 5.1.2.b: a box that reaches 6 ft above the provisions and out to them in the length: by hand the
    // legs, 10.4881 ft high over 5 ft, cross its upper edge at 5 (1 − 6 / 10.4881) = 2.140 ft.
    let mut rig = four([0.0, 0.0, -2.0], 12.0, 12.0);
    let box_to = |x: f64| {
        Some([
            [-x * FT, -0.1 * FT, -4.0 * FT],
            [x * FT, 0.1 * FT, 6.0 * FT],
        ])
    };
    rig.box_m = box_to(3.0);
    let touches = rule(&rig, "5.1.2.b").unwrap();
    assert!(touches.value > 0.0, "its legs pass beside: {touches:?}");
    for leg in &mut rig.legs {
        leg.provision_m[1] = 0.05_f64.copysign(leg.provision_m[1]) * FT;
        leg.full_length_m = f64::sqrt(25.0 + 0.0025 + 110.0) * FT;
    }
    let through = rule(&rig, "5.1.2.b").unwrap();
    assert!(!through.kept && through.value == 0.0, "{through:?}");
    let crossing = 5.0 * (1.0 - 6.0 / f64::sqrt(110.0));
    rig.box_m = box_to(crossing - 0.1);
    let beside = rule(&rig, "5.1.2.b").unwrap();
    // By hand: from the edge to the leg, at right angles.
    let hand = 0.1 * f64::sqrt(110.0 / 135.0) * FT;
    near("clearance", beside.value, hand, 2e-3);
    assert_eq!(beside.kept, hand >= 0.0254);

    // 5.1.2.g: the nearer lines run 3 ft beside the centre of gravity; 3 / tan 60° = 1.732 ft above
    // them it comes to the cone.
    for (up, kept) in [(1.70, true), (1.76, false)] {
        let rig = four([0.0, 0.0, up], 12.0, 12.0);
        let rule = rule(&rig, "5.1.2.g").unwrap();
        assert_eq!(rule.kept, kept, "{rule:?}");
        near("cone", rule.value, (3.0 / up).atan().to_degrees(), 1e-9);
    }
    assert_eq!(rule(&four([0.0, 0.0, -0.1], 12.0, 12.0), "5.1.2.g"), None);

    // 5.1.2.i: 10.488 ft of legs on a load of 13 ft, and of 14 ft, below the provisions.
    for (high, kept) in [(13.0, true), (14.0, false)] {
        let mut rig = four([0.0, 0.0, -2.0], 12.0, 12.0);
        rig.box_m = Some([[-1.0, -1.0, -high * FT], [1.0, 1.0, 0.0]]);
        assert_eq!(rule(&rig, "5.1.2.i").unwrap().kept, kept);
    }
}

#[test]
fn design_lengths_stand_at_45_degrees() {
    // MIL-STD-209K 5.1.2.a, evaluated: four provisions on a rectangle, ft; leg length.
    for (length, width, published) in [(10.0, 6.0, 8.246), (16.0, 7.0, 12.349), (20.0, 8.0, 15.232)]
    {
        let diagonal = f64::sqrt(length * length + width * width);
        near("length", length_at_45_m(diagonal / 2.0), published, 1e-4);
        let design = f64::max(published, 12.0);
        near(
            "design",
            design_length_m(diagonal / 2.0 * FT) / FT,
            design,
            1e-4,
        );
    }
    // 6,000 lb on four such legs: 0.3536 of the weight each.
    near("pull", shared(6_000.0, 4.0, sine(45.0)), 2_121.0, 1e-3);
    // Times 2.3, the crane design factor of 5.1.3.1.a.
    let designed = 2.3 * shared(6_000.0, 4.0, sine(45.0));
    near("design pull", designed, 4_879.0, 1e-3);
}
