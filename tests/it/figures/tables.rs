//! Published tables and formulas of loads that legs share evenly. Each row names where its value is from.

use super::statics::{close, near, sine};
use loadwalk::figures::shared;

#[test]
fn a_shared_load_pulls_each_leg_as_published() {
    // Weight, legs that carry, degrees from the horizontal, pull of each; source.
    let rows = [
        // Wire-rope sling guidance, load-factor table: tension per unit of half load, two legs.
        (2.0, 2.0, 90.0, 1.000, 0.001),
        (2.0, 2.0, 85.0, 1.003, 0.001),
        (2.0, 2.0, 80.0, 1.015, 0.001),
        (2.0, 2.0, 75.0, 1.035, 0.001),
        (2.0, 2.0, 70.0, 1.064, 0.001),
        (2.0, 2.0, 65.0, 1.103, 0.001),
        (2.0, 2.0, 60.0, 1.154, 0.001),
        (2.0, 2.0, 55.0, 1.220, 0.001),
        (2.0, 2.0, 50.0, 1.305, 0.001),
        (2.0, 2.0, 45.0, 1.414, 0.001),
        (2.0, 2.0, 40.0, 1.555, 0.001),
        (2.0, 2.0, 35.0, 1.743, 0.001),
        (2.0, 2.0, 30.0, 2.000, 0.001),
        // The same guidance: 1,000 lb on two legs.
        (1_000.0, 2.0, 60.0, 577.0, 1.0),
        (1_000.0, 2.0, 45.0, 707.0, 1.0),
        // A lineworkers' rigging exam page: 2,000 lb on two legs, each 30° from the vertical.
        (2_000.0, 2.0, 60.0, 1_155.0, 1.0),
        // Plain statics: 10,000 lb on four legs at 60°, carried by four, three and two of them.
        (10_000.0, 4.0, 60.0, 2_886.8, 0.1),
        (10_000.0, 3.0, 60.0, 3_849.0, 0.1),
        (10_000.0, 2.0, 60.0, 5_773.5, 0.1),
        // US multiservice sling-load manuals rate a certified set as four legs: sets of 10,000 lb (leg
        // from memory) and 25,000 lb (leg from an exam page).
        (10_000.0, 4.0, 90.0, 2_500.0, 1e-9),
        (25_000.0, 4.0, 90.0, 6_250.0, 1e-9),
    ];
    for (weight, legs, angle, published, off) in rows {
        let what = format!("{weight} on {legs} at {angle}°");
        close(&what, shared(weight, legs, sine(angle)), published, off);
    }
    // Crane safety authority of British Columbia, rigging quiz: 15,000 lb, two legs of 16 ft,
    // 12 ft high; T = L W / (2 H). FM 5-125 ch. 2 has the same for N legs: T = (W / N) (L / V) (from
    // memory).
    near("quiz", shared(15_000.0, 2.0, 12.0 / 16.0), 10_000.0, 1e-12);
    for legs in [2.0, 3.0, 4.0] {
        let (weight, long, high) = (9_000.0, 15.0, 12.0);
        let field_manual = weight / legs * (long / high);
        near(
            "FM 5-125",
            shared(weight, legs, high / long),
            field_manual,
            1e-12,
        );
    }
}

#[test]
fn a_sling_keeps_the_published_share_of_its_capacity_at_an_angle() {
    // Sling-angle chart of a netting maker: capacity left of 1,000, printed truncated.
    let rows = [
        (75.0, 966.0),
        (60.0, 866.0),
        (45.0, 707.0),
        (30.0, 500.0),
        (15.0, 258.0),
        (5.0, 87.0),
    ];
    for (angle, published) in rows {
        let capacity = 1_000.0 / shared(1.0, 1.0, sine(angle));
        close(&format!("{angle}°"), capacity, published, 1.0);
    }
}

#[test]
fn capacities_agree_with_the_general_sling_tables() {
    // OSHA Guidance on Safe Sling Use, tables 1 (grade 80) and 2 (grade 100): single leg, then
    // double and quad at 60°, 45°, 30°. Quads are rated as three legs. Printed to the hundred.
    let rows = [
        (
            3_500.0,
            [6_100.0, 4_900.0, 3_500.0],
            [9_100.0, 7_400.0, 5_200.0],
        ),
        (
            12_000.0,
            [20_800.0, 17_000.0, 12_000.0],
            [31_200.0, 25_500.0, 18_000.0],
        ),
        (
            72_300.0,
            [125_200.0, 102_200.0, 72_300.0],
            [187_800.0, 153_400.0, 108_400.0],
        ),
        (
            4_300.0,
            [7_400.0, 6_100.0, 4_300.0],
            [11_200.0, 9_100.0, 6_400.0],
        ),
        (
            15_000.0,
            [26_000.0, 21_200.0, 15_000.0],
            [39_000.0, 31_800.0, 22_500.0],
        ),
    ];
    for (single, double, quad) in rows {
        for (i, angle) in [60.0, 45.0, 30.0].into_iter().enumerate() {
            let of = |legs: f64| single / shared(1.0, legs, sine(angle));
            close(
                &format!("double {single} at {angle}°"),
                of(2.0),
                double[i],
                60.0,
            );
            close(
                &format!("quad {single} at {angle}°"),
                of(3.0),
                quad[i],
                60.0,
            );
        }
    }
}

#[test]
fn an_angle_between_two_columns_of_a_table_lies_between_their_capacities() {
    // OSHA Guidance on Safe Sling Use: between two columns take the next lower angle, or have it
    // calculated. The lower column, of the chain of 3,500 lb above, is never the weaker rule.
    for (angle, lower, upper) in [(52.0, 4_900.0, 6_100.0), (37.5, 3_500.0, 4_900.0)] {
        let capacity = 3_500.0 / shared(1.0, 2.0, sine(angle));
        assert!(lower < capacity && capacity < upper, "{angle}°: {capacity}");
    }
}

#[test]
fn uniform_load_factors_of_the_european_chain_standard_are_met() {
    // EN 818-4, 10 mm grade 80, 3.15 t: two legs 4.41 and 3.15 t, three or four legs 6.62 and
    // 4.73 t at up to 45° and 60° from the vertical. The factors round cos 45° up to 0.7.
    for (legs, angle, published, share) in [
        (2.0, 45.0, 4.41, 0.011),
        (2.0, 30.0, 3.15, 1e-9),
        (3.0, 45.0, 6.62, 0.011),
        (3.0, 30.0, 4.73, 0.002),
    ] {
        let capacity = 3.15 / shared(1.0, legs, sine(angle));
        near(
            &format!("{legs} legs at {angle}°"),
            capacity,
            published,
            share,
        );
    }
}
