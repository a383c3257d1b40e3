//! Whether the centre of gravity lies between the points that hold the load, seen from above as it stands level.
//!
//! A load can hang with its centre of gravity outside them, leaning until the plumb line passes between, and falls out
//! of its legs as soon as it is set down or swings.

use super::below::{Below, LEAST_M, line};
use super::judge::Case;
use super::question::Question;
use super::verdict::{Grade, Verdict};
use nalgebra::Vector3;

/// Nearer than this to the outline it counts as on it, m.
const HAIR_M: f64 = 1e-3;

impl Case<'_> {
    /// That the centre of gravity is outside the lifting provisions, or below a spreader outside where the drops are
    /// made fast; nothing where it is not. Without one of its legs a load fails for that.
    pub(super) fn outside(&self) -> Option<Verdict> {
        let rig = self.rig;
        if rig.legs.iter().any(|leg| leg.missing) {
            return None;
        }
        let legs: Vec<Vector3<f64>> = rig.legs.iter().map(|l| l.provision()).collect();
        let held = |points: &[Vector3<f64>], cg: [f64; 3], what| {
            let off = outside_m(points, cg);
            (off > HAIR_M).then_some((off, what))
        };
        let drops = match &rig.below {
            Some(Below::Drops(drops)) => held(
                &drops.points(),
                drops.cg_m,
                "the places where the drops are made fast",
            ),
            _ => None,
        };
        let (off, what) = drops.or_else(|| held(&legs, rig.cg_m, "the lifting provisions"))?;
        Some(Verdict {
            no_share: Some("it must not be outside at all"),
            note: format!(
                "the centre of gravity is {} outside {what}, seen from above",
                rig.length_unit.small(off)
            ),
            ..self.blank(
                Question::Hangs,
                "the centre of gravity",
                Grade::Fail,
                "between the lifting points, as MIL-STD-209K 5.1.2 sets them round it",
            )
        })
    }
}

/// How far a place is outside the outline of some points seen from above, m; 0 within it. Of points in line it is how
/// far the place is beyond their ends: beside the line the load swings under it. One point has no outline.
fn outside_m(points: &[Vector3<f64>], at: [f64; 3]) -> f64 {
    let at = Vector3::new(at[0], at[1], 0.0);
    let run = |p: &Vector3<f64>| Vector3::new(p.x, p.y, 0.0) - at;
    let runs: Vec<Vector3<f64>> = points.iter().map(run).collect();
    if let Some(along) = line(points) {
        let places = || runs.iter().map(|run| run.dot(&along));
        let least = places().fold(f64::INFINITY, f64::min);
        let most = places().fold(f64::NEG_INFINITY, f64::max);
        return least.max(-most).max(0.0);
    }
    let apart = |p: &Vector3<f64>| (p - runs[0]).norm() > LEAST_M;
    if !runs.iter().any(apart) {
        return 0.0;
    }
    // Beside them all, no point is seen in a half turn.
    let mut round: Vec<f64> = runs.iter().map(|run| libm::atan2(run.y, run.x)).collect();
    round.sort_by(f64::total_cmp);
    let turn = 2.0 * std::f64::consts::PI;
    let first = round.first().map_or(turn, |first| first + turn);
    let next = round.iter().skip(1).copied().chain([first]);
    let gap = round.iter().zip(next).map(|(a, b)| b - a);
    if gap.fold(0.0, f64::max) <= std::f64::consts::PI {
        return 0.0;
    }
    // Lines between points that are no edge lie farther off.
    let ends = runs.iter().enumerate();
    let lines = ends.flat_map(|(i, one)| runs[i + 1..].iter().map(move |other| (one, other)));
    lines.fold(f64::INFINITY, |least, (one, other)| {
        let along = other - one;
        let share = -one.dot(&along) / along.norm_squared().max(1e-12);
        least.min((one + along * share.clamp(0.0, 1.0)).norm())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn how_far_outside_a_place_is() {
        let four: Vec<Vector3<f64>> = [[1.0, 1.0], [1.0, -1.0], [-1.0, 1.0], [-1.0, -1.0]]
            .map(|[x, y]| Vector3::new(x, y, 2.0))
            .into();
        let near = |found: f64, wanted: f64| assert!((found - wanted).abs() < 1e-9, "{found}");
        near(outside_m(&four, [0.0, 0.0, 0.5]), 0.0);
        near(outside_m(&four, [1.0, 0.2, 0.5]), 0.0);
        near(outside_m(&four, [1.25, 0.5, 0.5]), 0.25);
        near(outside_m(&four, [4.0, 5.0, 0.5]), 5.0);
        // The fourth gone, the middle is on the edge of what is left.
        near(outside_m(&four[..3], [0.0, 0.0, 0.5]), 0.0);
        near(outside_m(&four[..3], [-0.5, -0.5, 0.5]), 0.5_f64.sqrt());
        // Beside a line is under it.
        near(outside_m(&four[..2], [3.0, 0.5, 0.0]), 0.0);
        near(outside_m(&four[..2], [1.0, 1.5, 0.0]), 0.5);
        near(outside_m(&four[..1], [9.0, 9.0, 0.0]), 0.0);
        // Four within millimetres are one.
        let one: Vec<Vector3<f64>> = four.iter().map(|p| p * 0.003).collect();
        near(outside_m(&one, [0.5, 0.0, 0.0]), 0.0);
    }
}
