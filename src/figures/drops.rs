//! What the load's own lifting provisions take below a spreader.
//!
//! Plumb drops pull straight up: their pulls balance the load's weight and its moments. Two in line with the weight, or
//! three out of line, have one answer; more of them, not stretching alike, are taken as rigid loads on legs are, with
//! two carrying (NAVEDTRA 14251 fig. 6-60) and never less than balance allows at worst.

use super::below::{Below, line};
use super::hang::Hang;
use super::judge::{Case, warn_near};
use super::pulls::balanced;
use super::question::Question;
use super::verdict::{Grade, Verdict};
use crate::plan::{Plan, Provision};
use nalgebra::Vector3;

/// The load's provisions that a spreader's drops are made fast to: those that no leg is, where one is made fast to the
/// spreader.
fn held_by_drops(plan: &Plan) -> Vec<&Provision> {
    let used = |name: &str| plan.sling_set.legs.iter().any(|l| l.provision == name);
    let spreader = plan.spreader.iter().flat_map(|s| &s.provisions);
    if !spreader.into_iter().any(|p| used(&p.name)) {
        return Vec::new();
    }
    let own = plan.load.provisions.iter();
    own.filter(|p| !used(&p.name)).collect()
}

/// Whether any of these has a rating.
pub(super) fn any_rated(plan: &Plan) -> bool {
    held_by_drops(plan).iter().any(|p| p.rating.is_some())
}

impl Case<'_> {
    /// What each rated provision of the load takes below its spreader; nothing where none is rated, which is told with
    /// all that hangs there.
    pub(super) fn below_spreader(&self, hang: &Hang) -> Vec<Verdict> {
        let held = held_by_drops(self.plan);
        if held.iter().all(|p| p.rating.is_none()) {
            return Vec::new();
        }
        let hung_kg = (self.masses.load_kg + self.masses.container_kg) * self.rig.dynamic_factor;
        let points: Vec<Vector3<f64>> = held.iter().map(|p| p.at.metres().into()).collect();
        let (cg, known) = match &self.rig.below {
            Some(Below::Drops(drops)) => (drops.cg_m, true),
            _ => (self.plan.load.centre_of_gravity.metres(), false),
        };
        let most = most_of_each(&points, cg.into(), hang.load_up.into());
        let carrying = (!most.determinate).then_some("two drops carrying");
        let rule = format!(
            "rating of the provision, {}",
            carrying.unwrap_or("pull by statics alone")
        );
        let mut all = Vec::new();
        for (provision, share) in held.iter().zip(&most.shares) {
            let Some(rating) = &provision.rating else {
                continue;
            };
            let name = provision.name.replace('-', " ");
            let mut verdict = self.moved(self.load(
                Question::Provision,
                &format!("{name} provision below the spreader"),
                share * hung_kg,
                super::from_plan::least_kg(rating),
                &rule,
            ));
            verdict.carrying = carrying;
            warn_near(&mut verdict, false);
            if !known {
                verdict.grade = verdict.grade.max(Grade::Warn);
                verdict.note =
                    "how the load hangs below its spreader is not worked out, so it is taken as one with it"
                        .to_owned();
            }
            all.push(verdict);
        }
        let unrated = held.iter().filter(|p| p.rating.is_none());
        let unrated: Vec<String> = unrated.map(|p| p.name.replace('-', " ")).collect();
        if !unrated.is_empty() {
            all.push(self.not_asked(
                Question::Provision,
                "lifting provisions below the spreader",
                &format!("rating for {}", unrated.join(", ")),
            ));
        }
        all
    }
}

/// The greatest share of a weight that each of some points can come to hold.
struct Most {
    /// By point, 0 to 1.
    shares: Vec<f64>,
    /// Whether statics alone give them.
    determinate: bool,
}

/// Points that are nearer than this are one, m.
const LEAST_M: f64 = 1e-3;

/// The greatest share of a weight that each point may hold by a plumb drop, with the weight at `cg` and `up` true up.
/// Where it is not between them, each may come to hold all of it.
fn most_of_each(points: &[Vector3<f64>], cg: Vector3<f64>, up: Vector3<f64>) -> Most {
    let ahead = Vector3::x();
    let ahead = (ahead - up * ahead.dot(&up)).normalize();
    let left = up.cross(&ahead);
    let in_line = line(points);
    let level = points.iter().map(|point| {
        let run = point - cg;
        let run = run - up * run.dot(&up);
        match in_line {
            // It has rolled until it is plumb below their line.
            Some(along) => [run.dot(&along), 0.0],
            None => [run.dot(&ahead), run.dot(&left)],
        }
    });
    let level: Vec<[f64; 2]> = level.collect();
    let far = level.iter().map(|[x, y]| x.hypot(*y));
    let far = far.fold(LEAST_M, f64::max);
    let rows: Vec<Vector3<f64>> = level
        .iter()
        .map(|[x, y]| Vector3::new(1.0, x / far, y / far))
        .collect();
    let weight = Vector3::x();
    let n = rows.len();
    let mut shares = vec![0.0_f64; n];
    let mut found = false;
    let mut take = |members: &[usize]| {
        let directions: Vec<Vector3<f64>> = members.iter().map(|&m| rows[m]).collect();
        if let Some(pulls) = balanced(&directions, weight) {
            found = true;
            for (&member, pull) in members.iter().zip(pulls) {
                shares[member] = shares[member].max(pull);
            }
        }
    };
    for a in 0..n {
        take(&[a]);
        for b in a + 1..n {
            take(&[a, b]);
            for c in b + 1..n {
                take(&[a, b, c]);
            }
        }
    }
    let determinate = n < 3 || (n == 3 && in_line.is_none());
    let shares = shares.into_iter().map(|share| match determinate {
        _ if !found => 1.0,
        true => share.min(1.0),
        false => share.clamp(0.5, 1.0),
    });
    Most {
        shares: shares.collect(),
        determinate,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shares(points: &[[f64; 3]], cg: [f64; 3]) -> Vec<f64> {
        let points: Vec<Vector3<f64>> = points.iter().map(|p| Vector3::from(*p)).collect();
        most_of_each(&points, cg.into(), Vector3::z()).shares
    }

    fn near(found: &[f64], wanted: &[f64]) {
        assert_eq!(found.len(), wanted.len());
        for (a, b) in found.iter().zip(wanted) {
            assert!((a - b).abs() < 1e-9, "{found:?} {wanted:?}");
        }
    }

    /// By hand: moments about either end.
    #[test]
    fn two_drops_share_by_moments() {
        let ends = [[1.5, 0.0, 0.5], [-1.5, 0.0, 0.5]];
        near(&shares(&ends, [0.0, 0.0, 0.25]), &[0.5, 0.5]);
        near(&shares(&ends, [0.6, 0.0, 0.25]), &[0.7, 0.3]);
        // Beside the line it has rolled below it, beyond its ends there is no balance.
        near(&shares(&ends, [0.6, 0.2, 0.25]), &[0.7, 0.3]);
        near(&shares(&ends, [1.6, 0.0, 0.25]), &[1.0, 1.0]);
        near(&shares(&ends[..1], [1.5, 0.0, 0.0]), &[1.0]);
    }

    #[test]
    fn three_drops_share_by_moments_and_of_four_two_carry() {
        let three = [[2.0, 0.0, 1.0], [-1.0, 1.0, 1.0], [-1.0, -1.0, 1.0]];
        near(&shares(&three, [0.0, 0.0, 0.0]), &[1.0 / 3.0; 3]);
        let four = [
            [2.0, 1.0, 1.0],
            [2.0, -1.0, 1.0],
            [-2.0, 1.0, 1.0],
            [-2.0, -1.0, 1.0],
        ];
        near(&shares(&four, [0.0, 0.0, 0.0]), &[0.5; 4]);
        // Three quarters forward and three to the left: the diagonal through it can hold all.
        near(&shares(&four, [1.0, 0.5, 0.0]), &[0.75, 0.5, 0.5, 0.5]);
    }
}
