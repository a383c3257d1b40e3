//! The pulls of the legs at rest: by stiffness, and the range that balance allows.

use super::rest::Tie;
use super::rig::LEGS_MAX;
use crate::plan::Carrying;
use nalgebra::{Matrix3, Vector3};

/// A leg counts as one that may come to carry if it is slack by less than this share of its length, where nobody
/// says how well that is known. Common practice, no source.
const NEAR_TAUT_SHARE: f64 = 0.01;

/// What each leg does at rest. Only the first `n` places are used.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pulls {
    pub n: usize,
    /// From the provision to the apex, length 1.
    pub direction: [Vector3<f64>; LEGS_MAX],
    /// Sine of the angle from the horizontal: height over length.
    pub sine: [f64; LEGS_MAX],
    /// Pull by stiffness, N.
    pub tension: [f64; LEGS_MAX],
    /// Slack, m.
    pub slack: [f64; LEGS_MAX],
    /// Whether it may come to carry.
    pub near: [bool; LEGS_MAX],
}

impl Pulls {
    /// At an apex, with `up` true up in the load's axes. `tolerance_m` is the plus or minus of a
    /// leg's length.
    pub fn at(ties: &[Tie], apex: Vector3<f64>, up: Vector3<f64>, tolerance_m: f64) -> Pulls {
        let mut pulls = Pulls {
            n: ties.len(),
            direction: [Vector3::zeros(); LEGS_MAX],
            sine: [0.0; LEGS_MAX],
            tension: [0.0; LEGS_MAX],
            slack: [0.0; LEGS_MAX],
            near: [false; LEGS_MAX],
        };
        for (i, tie) in ties.iter().enumerate() {
            let run = apex - tie.at;
            let length = run.norm();
            let over = length - tie.length_m;
            pulls.direction[i] = run / length;
            pulls.sine[i] = pulls.direction[i].dot(&up);
            pulls.tension[i] = tie.stiffness_n_m * over.max(0.0);
            pulls.slack[i] = (-over).max(0.0);
            let least_m = if tie.known {
                0.0
            } else {
                NEAR_TAUT_SHARE * tie.length_m
            };
            pulls.near[i] = pulls.slack[i] <= tolerance_m.max(least_m);
        }
        pulls
    }

    /// Whether statics alone give every pull: the legs that may carry point in independent
    /// directions, three at most.
    pub fn determinate(&self) -> bool {
        let mut gram = Matrix3::identity();
        let mut members = [0; 3];
        let mut count = 0;
        for i in (0..self.n).filter(|&i| self.near[i]) {
            if count == 3 {
                return false;
            }
            members[count] = i;
            count += 1;
        }
        for (row, &a) in members[..count].iter().enumerate() {
            for (column, &b) in members[..count].iter().enumerate() {
                gram[(row, column)] = self.direction[a].dot(&self.direction[b]);
            }
        }
        gram.determinant() > 1e-9
    }

    /// Least and greatest pull of each leg over every choice of legs that can carry alone, N.
    ///
    /// The pulls that balance `force` form a polytope; its corners are sets of at most three legs, so
    /// trying every set of one, two and three gives the exact range.
    pub fn bounds(&self, force: Vector3<f64>) -> [[f64; 2]; LEGS_MAX] {
        let mut bounds = [[f64::INFINITY, 0.0]; LEGS_MAX];
        for set in 1_u32..1 << self.n {
            let size = set.count_ones() as usize;
            if size > 3 || (0..self.n).any(|i| set >> i & 1 == 1 && !self.near[i]) {
                continue;
            }
            let mut members = [0; 3];
            for (slot, i) in (0..self.n).filter(|i| set >> i & 1 == 1).enumerate() {
                members[slot] = i;
            }
            let members = &members[..size];
            let mut directions = [Vector3::zeros(); 3];
            for (slot, &member) in directions.iter_mut().zip(members) {
                *slot = self.direction[member];
            }
            let Some(balanced) = balanced(&directions[..size], force) else {
                continue;
            };
            for (i, bound) in bounds[..self.n].iter_mut().enumerate() {
                let at = members.iter().position(|&m| m == i);
                let pull = at.map_or(0.0, |at| balanced[at]);
                bound[0] = bound[0].min(pull);
                bound[1] = bound[1].max(pull);
            }
        }
        for (bound, tension) in bounds.iter_mut().zip(self.tension) {
            *bound = [bound[0].min(tension), bound[1].max(tension)];
        }
        bounds
    }

    /// The pull that each leg must be rated for under a carrying assumption, N.
    ///
    /// Where statics alone decide, every assumption gives the same. Otherwise two and three legs
    /// carrying is the weight over that many legs at the flattest leg's angle (the smallest height
    /// over length governs, NAVEDTRA 14251 ch. 6), and never less than the leg's own share by
    /// stiffness; with two legs carrying also never less than balance allows at worst. The even third is that of a
    /// load hung in its middle: where a leg has more than its even share, three carrying give it as much more (common
    /// practice, no source).
    pub fn carried(
        &self,
        force: Vector3<f64>,
        bounds: &[[f64; 2]; LEGS_MAX],
        carrying: Carrying,
    ) -> [f64; LEGS_MAX] {
        let determinate = self.determinate();
        let weight = force.norm();
        let flattest = (0..self.n)
            .filter(|&i| self.near[i])
            .map(|i| self.sine[i])
            .fold(1.0, f64::min);
        let mut carried = [0.0; LEGS_MAX];
        for i in 0..self.n {
            let most = bounds[i][1];
            carried[i] = match carrying {
                _ if determinate || most <= 0.0 => most,
                Carrying::Two => most.max(shared(weight, 2.0, flattest)),
                Carrying::Three => {
                    let carrying = (0..self.n).filter(|&j| self.near[j]).count().max(3);
                    // More than balance allows no leg can have.
                    let uneven = (self.tension[i] * carrying as f64 / 3.0).min(most);
                    uneven.max(shared(weight, 3.0, flattest))
                }
                Carrying::All => self.tension[i],
            };
        }
        carried
    }
}

impl Pulls {
    /// What each leg's provision must be rated for under a carrying assumption, N. Legs on one provision
    /// pull at it together, in the direction of their sum: for it they are one leg.
    pub fn on_provisions(
        &self,
        ties: &[Tie],
        force: Vector3<f64>,
        carrying: Carrying,
    ) -> [f64; LEGS_MAX] {
        let mut joined = Pulls {
            n: 0,
            direction: [Vector3::zeros(); LEGS_MAX],
            sine: [0.0; LEGS_MAX],
            tension: [0.0; LEGS_MAX],
            slack: [0.0; LEGS_MAX],
            near: [false; LEGS_MAX],
        };
        let mut place = [0; LEGS_MAX];
        let up = force / force.norm();
        for (i, tie) in ties.iter().enumerate() {
            let earlier = (0..i).find(|&j| (ties[j].at - tie.at).norm() < ONE_PROVISION_M);
            if let Some(j) = earlier {
                place[i] = place[j];
                continue;
            }
            let here = (i..self.n).filter(|&j| (ties[j].at - tie.at).norm() < ONE_PROVISION_M);
            let at = joined.n;
            let mut sum = Vector3::zeros();
            let mut lean = Vector3::zeros();
            joined.slack[at] = f64::INFINITY;
            for j in here {
                sum += self.direction[j] * self.tension[j];
                lean += self.direction[j];
                joined.slack[at] = joined.slack[at].min(self.slack[j]);
                joined.near[at] |= self.near[j];
            }
            joined.tension[at] = sum.norm();
            let along = if sum.norm() > 0.0 { sum } else { lean };
            joined.direction[at] = along / along.norm();
            joined.sine[at] = joined.direction[at].dot(&up);
            place[i] = at;
            joined.n += 1;
        }
        let bounds = joined.bounds(force);
        let carried = joined.carried(force, &bounds, carrying);
        place.map(|at| carried[at])
    }
}

/// The pulls along at most three directions that balance `force`, if they can by pulling alone; unused places are 0.
pub(super) fn balanced(directions: &[Vector3<f64>], force: Vector3<f64>) -> Option<[f64; 3]> {
    // Normal equations, with the unused places kept out by an identity.
    let mut normal = Matrix3::identity();
    let mut right = Vector3::zeros();
    for (i, a) in directions.iter().enumerate() {
        for (j, b) in directions.iter().enumerate() {
            normal[(i, j)] = a.dot(b);
        }
        right[i] = a.dot(&force);
    }
    if normal.determinant() < 1e-9 {
        return None;
    }
    let pulls = normal.cholesky()?.solve(&right);
    let sum = directions
        .iter()
        .zip(pulls.iter())
        .fold(Vector3::zeros(), |sum, (direction, t)| sum + direction * *t);
    let tight = 1e-7 * force.norm();
    let pulling = pulls.iter().take(directions.len()).all(|t| *t >= -tight);
    ((sum - force).norm() <= tight && pulling).then(|| [pulls[0], pulls[1], pulls[2]])
}

/// Provisions nearer than this are one, m.
const ONE_PROVISION_M: f64 = 1e-6;

/// Pull of each of `legs` legs that share a weight evenly, by sine of the angle from the horizontal:
/// `(weight / legs) / sine`.
pub fn shared(weight: f64, legs: f64, sine: f64) -> f64 {
    weight / legs / sine
}

const _: () = assert!(LEGS_MAX <= 8, "every set of legs is tried");
