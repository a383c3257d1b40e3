//! How a load hangs below a spreader.
//!
//! Plumb drops of one length make a parallelogram of bar and load. Both lean alike, and as the bar turns, the
//! load's centre of gravity rises and sinks as if it sat higher on the bar by the length of the drops (virtual
//! work): that is where its weight acts. Drops in one line hold it against rolling about that line no more than
//! a hinge does: there it comes to rest with its centre of gravity plumb below the line, whatever their length.

use super::error::RigError;
use crate::plan::Plan;
use nalgebra::Vector3;

/// What a plan says of how the load hangs below its spreader.
#[derive(Clone, Debug, PartialEq)]
pub enum Below {
    /// It is not worked out, and why: load and spreader are taken as one stiff body, which leans less than they do.
    Unknown(&'static str),
    /// On plumb drops.
    Drops(Drops),
}

/// Plumb drops of one length between a spreader and its load.
#[derive(Clone, Debug, PartialEq)]
pub struct Drops {
    /// Length of each, m.
    pub length_m: f64,
    /// Where they are made fast to the load, metres forward, left, up; two at least.
    pub lower_m: Vec<[f64; 3]>,
    /// The load's own centre of gravity, m.
    pub cg_m: [f64; 3],
    /// How far it may be off from where the drops are made fast, m.
    pub cg_pm_m: [f64; 3],
    /// The load's share of the mass under the legs.
    pub share: f64,
}

/// Nearer than this points are one, m.
pub(super) const LEAST_M: f64 = 0.01;
/// Points that are beside their line by less than this share of its length are in it.
const IN_LINE: f64 = 1e-3;

impl Below {
    /// From a plan; `None` where no leg is made fast to a spreader, or the load is fixed to it.
    pub(super) fn of(plan: &Plan, share: f64) -> Option<Below> {
        let spreader = plan.spreader.as_ref()?;
        let legs = || plan.sling_set.legs.iter();
        let on_spreader = |name: &str| spreader.provisions.iter().any(|p| p.name == name);
        if !legs().any(|leg| on_spreader(&leg.provision)) {
            return None;
        }
        if !legs().all(|leg| on_spreader(&leg.provision)) {
            return Some(Below::Unknown("not all legs are made fast to the spreader"));
        }
        let Some(drops) = spreader.drops.as_ref() else {
            return Some(Below::Unknown(
                "the plan does not give its drops and where they are made fast to the load",
            ));
        };
        let length_m = drops.value.value;
        if length_m == 0.0 {
            return None;
        }
        let lower = &plan.load.provisions;
        let n = lower.len() as f64;
        let mut cg_pm_m = plan.load.centre_of_gravity.plus_minus_metres();
        for provision in lower {
            for (sum, off) in cg_pm_m.iter_mut().zip(provision.at.plus_minus_metres()) {
                *sum += off / n;
            }
        }
        let drops = Drops {
            length_m,
            lower_m: lower.iter().map(|p| p.at.metres()).collect(),
            cg_m: plan.load.centre_of_gravity.metres(),
            cg_pm_m,
            share,
        };
        let upper: Vec<Vector3<f64>> = legs()
            .filter_map(|leg| Some(Vector3::from(plan.provision(&leg.provision)?.at.metres())))
            .collect();
        // From a bar to points on either side of it drops do not hang plumb.
        let splayed = line(&upper).is_some() && drops.line().is_none();
        Some(if run(&drops.points()).norm() <= LEAST_M {
            Below::Unknown(
                "the plan does not give points of the load, apart from each other, to which its drops are made fast",
            )
        } else if splayed {
            Below::Unknown(
                "its drops run from a bar to both sides, and only plumb ones are worked out",
            )
        } else {
            Below::Drops(drops)
        })
    }

    /// With the load's centre of gravity off by so many of its plus or minus.
    pub(super) fn off_by(&mut self, signs: [f64; 3]) {
        if let Below::Drops(drops) = self {
            let off = signs.iter().zip(drops.cg_pm_m).map(|(sign, pm)| sign * pm);
            for (cg, off) in drops.cg_m.iter_mut().zip(off) {
                *cg += off;
            }
        }
    }

    /// Whether the load's centre of gravity has a plus or minus along an axis.
    pub(super) fn is_off(&self, axis: usize) -> bool {
        matches!(self, Below::Drops(drops) if drops.cg_pm_m[axis] > 0.0)
    }
}

impl Drops {
    pub(super) fn points(&self) -> Vec<Vector3<f64>> {
        self.lower_m.iter().map(|p| Vector3::from(*p)).collect()
    }

    /// The middle of the points where they are made fast, m.
    pub(super) fn middle(&self) -> Vector3<f64> {
        self.points().iter().sum::<Vector3<f64>>() / self.lower_m.len() as f64
    }

    /// The direction of the line that all points are in; `None` where one is beside it.
    pub(super) fn line(&self) -> Option<Vector3<f64>> {
        line(&self.points())
    }

    /// How far the centre of gravity is across the line of the drops, and below it, m.
    fn off_and_under(&self, along: &Vector3<f64>) -> (f64, f64) {
        let cg = Vector3::from(self.cg_m) - self.middle();
        (across(along).dot(&cg), -cg.z)
    }

    /// Where the load's weight acts on the spreader, in the load's axes, m: higher than its centre of gravity by
    /// the length of the drops, and where these are in one line, in that.
    pub(super) fn acts_at_m(&self) -> [f64; 3] {
        let mut at = Vector3::from(self.cg_m);
        if let Some(along) = self.line() {
            let (off, _) = self.off_and_under(&along);
            at -= across(&along) * off;
        }
        at.z += self.length_m;
        at.into()
    }

    /// How far that may be off, m, by the plus or minus of the load's centre of gravity (`load_m`), of the
    /// points that it hangs from and of the drops' length (`length_m`).
    pub(super) fn acts_pm_m(&self, load_m: [f64; 3], length_m: f64) -> [f64; 3] {
        let mut off = load_m;
        if let Some(along) = self.line() {
            let across = across(&along);
            let part = |of: &Vector3<f64>, pm: [f64; 3]| of.x.abs() * pm[0] + of.y.abs() * pm[1];
            let points: [f64; 3] = std::array::from_fn(|axis| self.cg_pm_m[axis] - load_m[axis]);
            for (axis, off) in off.iter_mut().enumerate().take(2) {
                *off = along[axis].abs() * part(&along, load_m)
                    + across[axis].abs() * part(&across, points);
            }
        }
        off[2] += length_m;
        off
    }

    /// True up in the axes of the load, where `up` is true up in those of its spreader.
    ///
    /// # Errors
    /// Where it would roll over, or one of the drops would go slack.
    pub(super) fn up_of_load(&self, up: Vector3<f64>) -> Result<Vector3<f64>, RigError> {
        let load_up = match self.line() {
            None => up,
            Some(along) => {
                let (off, under) = self.off_and_under(&along);
                let lean = up.dot(&along);
                let roll = libm::atan2(off, under);
                // What is left of a length of 1 beside the lean along the line.
                let rest = (1.0 - lean * lean).max(0.0).sqrt();
                along * lean - across(&along) * (rest * libm::sin(roll))
                    + Vector3::z() * (rest * libm::cos(roll))
            }
        };
        if self.all_taut(load_up) {
            Ok(load_up)
        } else {
            Err(RigError::DropSlack)
        }
    }

    /// Whether every drop can carry: seen from above, the centre of gravity lies between them.
    fn all_taut(&self, up: Vector3<f64>) -> bool {
        let cg = Vector3::from(self.cg_m);
        let level = |p: Vector3<f64>| {
            let run = p - cg;
            run - up * run.dot(&up)
        };
        if let Some(along) = self.line() {
            let points = self.points();
            let places = || points.iter().map(|p| along.dot(&level(*p)));
            return places().any(|at| at >= 0.0) && places().any(|at| at <= 0.0);
        }
        let ahead = level(cg + Vector3::x()).normalize();
        let left = up.cross(&ahead);
        let mut round: Vec<f64> = self
            .points()
            .into_iter()
            .map(|p| libm::atan2(level(p).dot(&left), level(p).dot(&ahead)))
            .collect();
        round.sort_by(f64::total_cmp);
        let turn = 2.0 * std::f64::consts::PI;
        let first = round.first().copied().unwrap_or_default() + turn;
        let next = round.iter().skip(1).copied().chain([first]);
        // Beside them all, no point is seen in a half turn.
        let gaps = round.iter().zip(next).map(|(a, b)| b - a);
        gaps.fold(0.0, f64::max) <= std::f64::consts::PI + 1e-9
    }

    /// How much lower the centre of gravity of all that the legs hold is than it acts, m, where `up` is true up in
    /// the spreader's axes.
    pub(super) fn lower_m(&self, up: Vector3<f64>) -> f64 {
        let rolled = self.line().map_or(0.0, |along| {
            let (off, under) = self.off_and_under(&along);
            (off.hypot(under) - under) * up.z
        });
        self.share * (self.length_m + rolled)
    }
}

/// Level and to the left of a level direction.
fn across(along: &Vector3<f64>) -> Vector3<f64> {
    Vector3::new(-along.y, along.x, 0.0)
}

/// The longest way from the first point to another, seen from above.
fn run(points: &[Vector3<f64>]) -> Vector3<f64> {
    let first = points.first().copied().unwrap_or_default();
    let level = points.iter().map(|p| {
        let run = p - first;
        Vector3::new(run.x, run.y, 0.0)
    });
    level.fold(Vector3::zeros(), |most, run| {
        if run.norm() > most.norm() { run } else { most }
    })
}

/// The level direction of the line that points are in; `None` where one is beside it, or all are one.
pub(super) fn line(points: &[Vector3<f64>]) -> Option<Vector3<f64>> {
    let run = run(points);
    let along = run.try_normalize(LEAST_M)?;
    let first = points.first()?;
    let beside = |p: &Vector3<f64>| across(&along).dot(&(p - first)).abs();
    points
        .iter()
        .all(|p| beside(p) <= IN_LINE * run.norm())
        .then_some(along)
}
