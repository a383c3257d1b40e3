//! Design rules for lifting provisions and legs after MIL-STD-209K, as advice beside the verdicts.
//!
//! The standard is for equipment that is built to be lifted. A load that keeps to other rules may be
//! lifted all the same, so nothing here fails a lift.

use super::hang::Hang;
use super::rig::Rig;
use nalgebra::Vector3;
use serde::Serialize;

/// Shortest leg of a four-point lift, m: 12 ft (5.1.2.a).
pub const LEG_LEAST_M: f64 = 12.0 * 0.3048;
/// Least room between a leg and the load, m: 1 in (5.1.2.b).
pub const CLEARANCE_LEAST_M: f64 = 0.0254;
/// Provisions below the centre of gravity lie outside a cone of this opening under it, degrees
/// (5.1.2.g).
pub const CONE_DEG: f64 = 120.0;
/// Most height of load and legs together, m: 24 ft (5.1.2.i).
pub const HEIGHT_MOST_M: f64 = 24.0 * 0.3048;
/// So near to its provision a leg may touch the load's box, m. Common practice, no source: the box is
/// not the load's shape, and lugs stand on frames.
const AT_PROVISION_M: f64 = 0.3;

/// A design rule, held against a rig as it hangs with the typed-in numbers.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DesignRule {
    /// Its paragraph in MIL-STD-209K.
    pub paragraph: &'static str,
    /// Whether it is kept.
    pub kept: bool,
    /// The number found, in metres or degrees.
    pub value: f64,
    /// What it is held against.
    pub limit: f64,
    /// Both in a sentence.
    pub sentence: String,
}

/// Length that the legs of a four-point lift are designed for, m, by how far a provision is to the side
/// of the apex: each stands at 45°, and none is shorter than 12 ft (MIL-STD-209K 5.1.2.a).
pub fn design_length_m(level_m: f64) -> f64 {
    length_at_45_m(level_m).max(LEG_LEAST_M)
}

/// The rules that say something of a rig.
pub fn design(rig: &Rig, hang: &Hang) -> Vec<DesignRule> {
    let mut rules = Vec::new();
    let apex = Vector3::from(hang.apex_m);
    if rig.present().count() == 4 {
        rules.push(lengths(rig, apex));
    }
    rules.extend(clearance(rig, apex));
    rules.extend(cone(rig));
    rules.extend(height(rig, hang));
    rules
}

/// 5.1.2.a, of the leg that is shortest against its design length.
fn lengths(rig: &Rig, apex: Vector3<f64>) -> DesignRule {
    let legs = rig.present().map(|(_, leg)| {
        let run = apex - leg.provision();
        let level = (run.x * run.x + run.y * run.y).sqrt();
        (leg, leg.length_m(), design_length_m(level))
    });
    let worst = legs.min_by(|a, b| (a.1 - a.2).total_cmp(&(b.1 - b.2)));
    let (name, value, limit) = worst.map_or(("", 0.0, 0.0), |(leg, long, least)| {
        (leg.name.as_str(), long, least)
    });
    DesignRule {
        paragraph: "5.1.2.a",
        kept: value >= limit * (1.0 - 1e-9),
        value,
        limit,
        sentence: format!(
            "{name} leg is {value:.2} m long, designs are for {limit:.2} m: 45 degrees, and 12 ft at \
             least"
        ),
    }
}

/// 5.1.2.b, of the leg that comes nearest to the load's box.
fn clearance(rig: &Rig, apex: Vector3<f64>) -> Option<DesignRule> {
    let [low, high] = rig.box_m?;
    let nearest = rig
        .present()
        .map(|(_, leg)| {
            let foot = leg.provision();
            let from = (AT_PROVISION_M / (apex - foot).norm()).min(1.0);
            let distance = |t: f64| {
                let at = foot + (apex - foot) * t;
                let off = [0, 1, 2].map(|i| (low[i] - at[i]).max(at[i] - high[i]).max(0.0));
                off.iter().map(|o| o * o).sum::<f64>().sqrt()
            };
            (leg.name.as_str(), least_of(distance, from, 1.0))
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let (name, value) = nearest;
    Some(DesignRule {
        paragraph: "5.1.2.b",
        kept: value >= CLEARANCE_LEAST_M,
        value,
        limit: CLEARANCE_LEAST_M,
        sentence: format!(
            "{name} leg passes the load's box at {:.0} mm, 25 mm (1 in) is the least; pad it where it \
             can touch",
            value * 1000.0
        ),
    })
}

/// The least of a convex function between two places, by thirds.
fn least_of(f: impl Fn(f64) -> f64, mut from: f64, mut to: f64) -> f64 {
    for _ in 0..100 {
        let third = (to - from) / 3.0;
        if f(from + third) <= f(to - third) {
            to -= third;
        } else {
            from += third;
        }
    }
    f((from + to) / 2.0)
}

/// 5.1.2.g: where provisions lie below the centre of gravity, the line that joins neighbours keeps out
/// of a cone of 120° that opens downwards from it. `None` where all lie above it.
fn cone(rig: &Rig) -> Option<DesignRule> {
    let cg = Vector3::from(rig.cg_m);
    let mut round: Vec<(&str, Vector3<f64>)> = rig
        .present()
        .map(|(_, leg)| (leg.name.as_str(), leg.provision() - cg))
        .collect();
    round.sort_by(|a, b| libm::atan2(a.1.y, a.1.x).total_cmp(&libm::atan2(b.1.y, b.1.x)));
    let neighbours = (0..round.len()).filter_map(|i| {
        let (one, other) = (round[i], round[(i + 1) % round.len()]);
        let across = one.1.cross(&other.1);
        let below = one.1.z < 0.0 || other.1.z < 0.0;
        // The line and the apex of the cone span a plane; the plumb line meets it at the line's least
        // angle, whose sine is the upright part of the plane's normal.
        (below && across.norm() > 0.0).then(|| {
            let sine = (across.z / across.norm()).abs().min(1.0);
            (one.0, other.0, super::hang::degrees(libm::asin(sine)))
        })
    });
    let (one, other, value) = neighbours.min_by(|a, b| a.2.total_cmp(&b.2))?;
    Some(DesignRule {
        paragraph: "5.1.2.g",
        kept: value >= CONE_DEG / 2.0,
        value,
        limit: CONE_DEG / 2.0,
        sentence: format!(
            "the provisions are below the centre of gravity, and the line from {one} to {other} is \
             {value:.0}° off plumb below it; outside a cone of 120° means 60° at least"
        ),
    })
}

/// 5.1.2.i. `None` where the load's size is not known.
fn height(rig: &Rig, hang: &Hang) -> Option<DesignRule> {
    let [low, _] = rig.box_m?;
    let value = hang.apex_m[2] - low[2];
    Some(DesignRule {
        paragraph: "5.1.2.i",
        kept: value <= HEIGHT_MOST_M,
        value,
        limit: HEIGHT_MOST_M,
        sentence: format!(
            "load and legs are {value:.2} m high, {HEIGHT_MOST_M:.2} m (24 ft) is the most"
        ),
    })
}

/// Length of a leg that stands at 45° over a provision so far to the side of the apex, m: the design
/// length of MIL-STD-209K 5.1.2.a (which asks for 12 ft at least).
pub fn length_at_45_m(level_m: f64) -> f64 {
    level_m * std::f64::consts::SQRT_2
}
