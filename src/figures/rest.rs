//! Where a load comes to rest under elastic legs that only pull.
//!
//! All legs meet in one point, so the load's attitude follows from where the apex is *in the load's
//! own axes*: the load turns about the apex until its centre of gravity is straight below. What is
//! left is one point `p` in space, and rest is a least of
//!
//! `E(p) = Σ ½ k (|p − a| − L)₊² − W |p − c|`
//!
//! with `a` the provisions, `L` and `k` the legs' lengths and stiffnesses, `c` the centre of gravity
//! and `W` the weight. A leg shorter than `L` adds nothing: it is slack. The gradient of `E` is the
//! balance of forces at the apex; balance of moments follows, as every force passes through it.
//!
//! Newton's method with a line search is written here rather than taken from an optimiser crate:
//! there are three unknowns, the exact second derivatives cost four square roots, the energy has
//! kinks where legs go slack and is concave where a load would topple, and the answer must be told
//! apart from a saddle, which general optimisers do not report. `nalgebra` does the algebra. The
//! result is held against an optimiser of scipy on a thousand rigs in `tests/it/figures.rs`.
//!
//! Only `+ - * /` and square roots are used, so that every machine finds the same rest.

use nalgebra::{Matrix3, Vector3};

/// One leg as the solver sees it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tie {
    /// The provision, m.
    pub at: Vector3<f64>,
    /// Unloaded length, m.
    pub length_m: f64,
    /// Whether somebody says how well its length is known.
    pub known: bool,
    /// Stiffness, N/m.
    pub stiffness_n_m: f64,
}

/// A body on ties that meet at one point.
#[derive(Clone, Copy, Debug)]
pub(super) struct Body<'a> {
    /// The legs.
    pub ties: &'a [Tie],
    /// Centre of gravity, m.
    pub cg: Vector3<f64>,
    /// Weight, N; 0 asks only whether the ties can meet.
    pub weight_n: f64,
}

/// How the search for rest ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Rest {
    /// The apex in the load's axes, m.
    At(Vector3<f64>),
    /// Forces balance, but nothing turns the load back when it is pushed.
    Unsteady,
    /// No balance was found.
    None,
}

/// Most Newton steps in one search.
const STEPS_MAX: usize = 300;
/// Most halvings of one step.
const HALVINGS_MAX: usize = 40;
/// Longest step as a share of the longest tie.
const STEP_SHARE: f64 = 0.25;
/// Unbalanced force that is called rest, as a share of the weight.
const BALANCE: f64 = 1e-11;
/// Unbalanced force that is still rest where rounding of stiff ties hides more.
const BALANCE_ROUNDED: f64 = 1e-8;
/// Least righting stiffness of a steady load as a share of weight over its pendulum length.
const STEADY: f64 = 1e-4;

struct At {
    energy: f64,
    gradient: Vector3<f64>,
    hessian: Matrix3<f64>,
}

impl Body<'_> {
    fn at(&self, p: &Vector3<f64>) -> At {
        let hang = p - self.cg;
        let d = hang.norm().max(1e-12);
        let e = hang / d;
        let bend = self.weight_n / d;
        let mut energy = -self.weight_n * d;
        let mut gradient = e * -self.weight_n;
        let mut hessian = e * e.transpose() * bend - Matrix3::identity() * bend;
        for tie in self.ties {
            let run = p - tie.at;
            let length = run.norm().max(1e-12);
            let stretch = length - tie.length_m;
            if stretch <= 0.0 {
                continue;
            }
            let n = run / length;
            let tension = tie.stiffness_n_m * stretch;
            let side = tension / length;
            energy += 0.5 * tension * stretch;
            gradient += n * tension;
            hessian += n * n.transpose() * (tie.stiffness_n_m - side);
            hessian += Matrix3::identity() * side;
        }
        At {
            energy,
            gradient,
            hessian,
        }
    }

    /// The force that counts as one: the weight, or a tie's pull where there is no weight.
    fn force_scale(&self) -> f64 {
        if self.weight_n > 0.0 {
            self.weight_n
        } else {
            self.ties
                .iter()
                .map(|t| t.stiffness_n_m * t.length_m)
                .fold(0.0, f64::max)
        }
    }

    fn longest(&self) -> f64 {
        self.ties.iter().map(|t| t.length_m).fold(0.0, f64::max)
    }

    /// Goes downhill from `from` to rest.
    fn descend(&self, from: Vector3<f64>) -> Rest {
        let scale = self.force_scale();
        let reach = self.longest() * STEP_SHARE;
        let mut p = from;
        let mut here = self.at(&p);
        for _ in 0..STEPS_MAX {
            let unbalanced = here.gradient.norm();
            if unbalanced <= BALANCE * scale {
                return self.judge(p, &here);
            }
            let mut step = downhill(&here, scale / self.longest());
            let long = step.norm();
            if long > reach {
                step *= reach / long;
            }
            let slope = here.gradient.dot(&step);
            let mut share = 1.0;
            let mut next = None;
            for _ in 0..HALVINGS_MAX {
                let q = p + step * share;
                let there = self.at(&q);
                // Near rest the energy's change drowns in rounding; there the force decides.
                let lower = there.energy <= here.energy + 1e-4 * share * slope;
                let flat = there.energy <= here.energy + 1e-13 * here.energy.abs();
                if lower || (flat && there.gradient.norm() < 0.5 * unbalanced) {
                    next = Some((q, there));
                    break;
                }
                share *= 0.5;
            }
            match next {
                Some((q, there)) => {
                    let settled = unbalanced <= BALANCE_ROUNDED * scale
                        && there.gradient.norm() > 0.5 * unbalanced;
                    if settled {
                        return self.judge(p, &here);
                    }
                    p = q;
                    here = there;
                }
                None if unbalanced <= BALANCE_ROUNDED * scale => return self.judge(p, &here),
                None => return Rest::None,
            }
        }
        Rest::None
    }

    /// Rest is only rest if a push is answered by a push back.
    fn judge(&self, p: Vector3<f64>, here: &At) -> Rest {
        if self.weight_n == 0.0 {
            return Rest::At(p);
        }
        let d = (p - self.cg).norm().max(1e-12);
        let least = Matrix3::identity() * (STEADY * self.weight_n / d);
        if (here.hessian - least).cholesky().is_some() {
            Rest::At(p)
        } else {
            Rest::Unsteady
        }
    }

    /// Finds rest from the upright side: high above the provisions, legs first soft, then as stiff
    /// as they are, so that the search neither falls through the load nor crawls along stiff walls.
    pub fn rest(&self) -> Rest {
        let n = self.ties.len() as f64;
        let mut p: Vector3<f64> = self.ties.iter().map(|t| t.at).sum::<Vector3<f64>>() / n;
        p.z = self
            .ties
            .iter()
            .map(|t| t.at.z + t.length_m)
            .fold(f64::NEG_INFINITY, f64::max);
        let stiffest = self
            .ties
            .iter()
            .map(|t| t.stiffness_n_m)
            .fold(0.0, f64::max);
        let mut soft = (SOFT * self.force_scale() / self.longest()).min(stiffest);
        let mut ties = [self.ties[0]; super::rig::LEGS_MAX];
        while soft < stiffest {
            let ties = &mut ties[..self.ties.len()];
            for (softened, tie) in ties.iter_mut().zip(self.ties) {
                *softened = *tie;
                softened.stiffness_n_m = tie.stiffness_n_m * (soft / stiffest);
            }
            let body = Body { ties, ..*self };
            match body.descend(p) {
                Rest::At(q) => p = q,
                Rest::Unsteady => return Rest::Unsteady,
                Rest::None => {}
            }
            soft *= HARDEN;
        }
        self.descend(p)
    }

    /// Finds rest near a known one, as of a rig that differs by a link.
    pub fn rest_near(&self, apex: Vector3<f64>) -> Rest {
        self.descend(apex)
    }
}

/// First stiffness of the stiffest leg: the weight stretches it by a twentieth of its length.
const SOFT: f64 = 20.0;
/// Factor by which legs are made stiffer from search to search.
const HARDEN: f64 = 30.0;

/// Newton's step, with the energy bent upwards as little as needed where it is not convex.
fn downhill(at: &At, stiffness: f64) -> Vector3<f64> {
    let mut lift = 0.0;
    loop {
        let bent = at.hessian + Matrix3::identity() * lift;
        if let Some(factors) = bent.cholesky() {
            let step = factors.solve(&-at.gradient);
            if step.dot(&at.gradient) < 0.0 {
                return step;
            }
        }
        lift = if lift == 0.0 {
            0.1 * stiffness
        } else {
            4.0 * lift
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tie(x: f64, y: f64, length_m: f64) -> Tie {
        Tie {
            known: false,
            at: Vector3::new(x, y, 0.0),
            length_m,
            stiffness_n_m: 1e7,
        }
    }

    #[test]
    fn a_weight_above_its_two_provisions_is_unsteady() {
        let ties = [tie(-1.0, 0.0, 2.0), tie(1.0, 0.0, 2.0)];
        let body = Body {
            ties: &ties,
            cg: Vector3::new(0.0, 0.0, 0.5),
            weight_n: 1e4,
        };
        assert_eq!(body.rest(), Rest::Unsteady);
    }

    #[test]
    fn a_weight_on_the_line_of_its_two_provisions_is_unsteady() {
        let ties = [tie(-1.0, 0.0, 2.0), tie(1.0, 0.0, 2.0)];
        let body = Body {
            ties: &ties,
            cg: Vector3::zeros(),
            weight_n: 1e4,
        };
        assert_eq!(body.rest(), Rest::Unsteady);
    }

    #[test]
    fn gradient_and_curvature_are_those_of_the_energy() {
        let ties = [tie(-1.0, 0.3, 2.0), tie(1.0, 0.1, 2.1), tie(0.2, -1.0, 5.0)];
        let body = Body {
            ties: &ties,
            cg: Vector3::new(0.1, 0.2, -0.3),
            weight_n: 1e4,
        };
        let p = Vector3::new(0.1, 0.2, 2.4);
        let at = body.at(&p);
        let h = 1e-5;
        for axis in 0..3 {
            let mut up = p;
            up[axis] += h;
            let mut down = p;
            down[axis] -= h;
            let slope = (body.at(&up).energy - body.at(&down).energy) / (2.0 * h);
            assert!((slope - at.gradient[axis]).abs() < 1e-4 * at.gradient.norm());
            let bend = (body.at(&up).gradient - body.at(&down).gradient) / (2.0 * h);
            assert!((bend - at.hessian.column(axis)).norm() < 1e-5 * at.hessian.norm());
        }
    }
}
