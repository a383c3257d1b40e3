//! How a load hangs: attitude, angles and pulls.

use super::error::RigError;
use super::rest::{Body, Rest, Tie};
use super::rig::{LEGS_MAX, Rig};
use crate::plan::{Carrying, STANDARD_GRAVITY};
use nalgebra::{Matrix3, Vector3};
use serde::Serialize;

/// One leg as the load hangs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HungLeg {
    /// The leg's place ("front left").
    pub name: String,
    /// The station that it belongs to.
    pub station: String,
    /// Whether it is not there at all.
    pub missing: bool,
    /// Whether it carries nothing.
    pub slack: bool,
    /// How much longer it is than its run, m; 0 where it is taut.
    pub slack_m: f64,
    /// Pull by the legs' stiffness, N.
    pub tension_n: f64,
    /// Least and greatest pull that balance allows, whatever the stiffness, N. Two numbers of the
    /// same size where statics alone decide.
    pub bounds_n: [f64; 2],
    /// Angle from the horizontal in the attitude at rest, degrees.
    pub angle_deg: f64,
    /// Sine of that angle: height over length.
    pub sine: f64,
}

impl HungLeg {
    /// The pull as the mass that it would hold, kg.
    pub fn tension_kg(&self) -> f64 {
        self.tension_n / STANDARD_GRAVITY
    }
}

/// How a load hangs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hang {
    /// The apex in the load's axes, m.
    pub apex_m: [f64; 3],
    /// True up in the load's axes, length 1.
    pub up: [f64; 3],
    /// Height of the apex above the centre of gravity, m.
    pub apex_over_cg_m: f64,
    /// Angle of the load's own up from true up, degrees.
    pub tilt_deg: f64,
    /// Nose down, degrees; negative is nose up.
    pub nose_down_deg: f64,
    /// Left side down, degrees; negative is right side down.
    pub left_down_deg: f64,
    /// Each leg of the rig, in its order.
    pub legs: Vec<HungLeg>,
    /// Whether statics alone give every pull (three independent legs or fewer carry).
    pub determinate: bool,
    /// Force left over by the solver as a share of the weight.
    pub unbalanced: f64,
}

/// The unit by which a leg counts as one that may come to carry: slack of less than this share of
/// its length is within what lengths are measured to. Common practice, no source.
const NEAR_TAUT_SHARE: f64 = 0.01;

/// Tilt beyond which a load is called turned over, degrees.
const TURNED_DEG: f64 = 85.0;

/// Finds how a rig hangs.
///
/// # Errors
/// Refuses numbers that cannot be, legs that cannot meet, and loads that do not stay upright.
pub fn hang(rig: &Rig) -> Result<Hang, RigError> {
    rig.check()?;
    can_meet(rig)?;
    let (ties, _) = ties(rig);
    let body = body(rig, &ties);
    match body.rest() {
        Rest::At(apex) => describe(rig, &ties, apex),
        Rest::Unsteady => Err(RigError::Unsteady),
        Rest::None => Err(RigError::NoRest),
    }
}

/// The ties of the legs that are there, and each tie's place in the rig's legs.
pub(super) fn ties(rig: &Rig) -> (Vec<Tie>, Vec<usize>) {
    rig.present()
        .map(|(at, leg)| {
            let tie = Tie {
                at: leg.provision(),
                length_m: leg.length_m(),
                stiffness_n_m: leg.stiffness_n_m(),
            };
            (tie, at)
        })
        .unzip()
}

pub(super) fn body<'a>(rig: &Rig, ties: &'a [Tie]) -> Body<'a> {
    Body {
        ties,
        cg: Vector3::from(rig.cg_m),
        weight_n: rig.weight_n(),
    }
}

/// Refuses legs that have no apex in common.
fn can_meet(rig: &Rig) -> Result<(), RigError> {
    let legs: Vec<_> = rig.present().map(|(_, leg)| leg).collect();
    for (i, one) in legs.iter().enumerate() {
        for other in &legs[i + 1..] {
            let apart_m = (one.provision() - other.provision()).norm();
            let together_m = one.length_m() + other.length_m();
            if together_m <= apart_m {
                return Err(RigError::PairCannotReach {
                    one: one.name.clone(),
                    other: other.name.clone(),
                    together_m,
                    apart_m,
                });
            }
        }
    }
    let (mut ties, _) = ties(rig);
    for tie in &mut ties {
        tie.stiffness_n_m = 1.0;
    }
    let meeting = Body {
        weight_n: 0.0,
        ..body(rig, &ties)
    };
    let Rest::At(apex) = meeting.rest() else {
        return Err(RigError::NoRest);
    };
    let short = |tie: &Tie| (apex - tie.at).norm() - tie.length_m;
    let short_m = ties.iter().map(short).fold(0.0, f64::max);
    let longest = ties.iter().map(|t| t.length_m).fold(0.0, f64::max);
    if short_m <= 1e-6 * longest {
        return Ok(());
    }
    let names: Vec<&str> = legs
        .iter()
        .zip(&ties)
        .filter(|(_, tie)| short(tie) > 0.1 * short_m)
        .map(|(leg, _)| leg.name.as_str())
        .collect();
    Err(RigError::CannotReach {
        legs: names.join(", "),
        short_m,
    })
}

fn describe(rig: &Rig, ties: &[Tie], apex: Vector3<f64>) -> Result<Hang, RigError> {
    let cg = Vector3::from(rig.cg_m);
    let plumb = apex - cg;
    let apex_over_cg_m = plumb.norm();
    let up = plumb / apex_over_cg_m;
    let tilt_deg = degrees(libm::atan2((up.x * up.x + up.y * up.y).sqrt(), up.z));
    if tilt_deg > TURNED_DEG {
        return Err(RigError::TurnsOver { tilt_deg });
    }
    let weight = rig.weight_n();
    let runs: Vec<Vector3<f64>> = ties.iter().map(|t| apex - t.at).collect();
    let pulls: Vec<f64> = ties
        .iter()
        .zip(&runs)
        .map(|(t, r)| t.stiffness_n_m * (r.norm() - t.length_m).max(0.0))
        .collect();
    let slacks: Vec<f64> = ties
        .iter()
        .zip(&runs)
        .map(|(t, r)| (t.length_m - r.norm()).max(0.0))
        .collect();
    let left_over = runs
        .iter()
        .zip(&pulls)
        .fold(-up * weight, |sum, (r, t)| sum + r.normalize() * *t);
    let near: Vec<bool> = ties
        .iter()
        .zip(&slacks)
        .map(|(t, s)| {
            *s <= rig
                .plus_minus
                .leg_length_m
                .max(NEAR_TAUT_SHARE * t.length_m)
        })
        .collect();
    let directions: Vec<Vector3<f64>> = runs.iter().map(|r| r.normalize()).collect();
    let bounds = pull_bounds(&directions, &near, up, weight);
    let carrying: Vec<Vector3<f64>> = directions
        .iter()
        .zip(&near)
        .filter(|(_, near)| **near)
        .map(|(d, _)| *d)
        .collect();

    let mut legs: Vec<HungLeg> = rig
        .legs
        .iter()
        .map(|leg| HungLeg {
            name: leg.name.clone(),
            station: leg.station.clone(),
            missing: leg.missing,
            slack: true,
            slack_m: 0.0,
            tension_n: 0.0,
            bounds_n: [0.0; 2],
            angle_deg: 0.0,
            sine: 0.0,
        })
        .collect();
    for (i, (at, _)) in rig.present().enumerate() {
        let sine = directions[i].dot(&up);
        let leg = &mut legs[at];
        leg.slack = pulls[i] <= 0.0;
        leg.slack_m = slacks[i];
        leg.tension_n = pulls[i];
        leg.bounds_n = [bounds[i][0].min(pulls[i]), bounds[i][1].max(pulls[i])];
        leg.sine = sine;
        leg.angle_deg = degrees(libm::asin(sine.clamp(-1.0, 1.0)));
    }
    Ok(Hang {
        apex_m: apex.into(),
        up: up.into(),
        apex_over_cg_m,
        tilt_deg,
        nose_down_deg: degrees(libm::atan2(-up.x, up.z)),
        left_down_deg: degrees(libm::atan2(-up.y, up.z)),
        legs,
        determinate: independent(&carrying),
        unbalanced: left_over.norm() / weight,
    })
}

/// Least and greatest pull of each leg over every choice of legs that can carry the load alone.
///
/// The pulls that balance the weight form a polytope; its corners are sets of at most three legs, so
/// trying every set of one, two and three gives the exact range.
fn pull_bounds(
    directions: &[Vector3<f64>],
    near: &[bool],
    up: Vector3<f64>,
    weight: f64,
) -> Vec<[f64; 2]> {
    let n = directions.len();
    let mut bounds = vec![[f64::INFINITY, 0.0]; n];
    for set in 1_u32..1 << n {
        let members: Vec<usize> = (0..n).filter(|i| set >> i & 1 == 1).collect();
        if members.len() > 3 || members.iter().any(|&i| !near[i]) {
            continue;
        }
        let Some(pulls) = balance(&members, directions, up * weight) else {
            continue;
        };
        for (i, bound) in bounds.iter_mut().enumerate() {
            let pull = members
                .iter()
                .position(|&m| m == i)
                .map_or(0.0, |at| pulls[at]);
            bound[0] = bound[0].min(pull);
            bound[1] = bound[1].max(pull);
        }
    }
    for bound in &mut bounds {
        if bound[0] == f64::INFINITY {
            bound[0] = 0.0;
        }
    }
    bounds
}

/// The pulls of at most three legs that balance `force`, if they can by pulling alone.
fn balance(
    members: &[usize],
    directions: &[Vector3<f64>],
    force: Vector3<f64>,
) -> Option<[f64; 3]> {
    // Normal equations, with the unused places kept out by an identity.
    let mut normal = Matrix3::identity();
    let mut right = Vector3::zeros();
    for (i, &a) in members.iter().enumerate() {
        for (j, &b) in members.iter().enumerate() {
            normal[(i, j)] = directions[a].dot(&directions[b]);
        }
        right[i] = directions[a].dot(&force);
    }
    if normal.determinant() < 1e-9 {
        return None;
    }
    let pulls = normal.cholesky()?.solve(&right);
    let sum = members
        .iter()
        .zip(pulls.iter())
        .fold(Vector3::zeros(), |sum, (&m, t)| sum + directions[m] * *t);
    let tight = 1e-7 * force.norm();
    let pulling = pulls.iter().take(members.len()).all(|t| *t >= -tight);
    ((sum - force).norm() <= tight && pulling).then(|| [pulls[0], pulls[1], pulls[2]])
}

/// Whether directions are linearly independent, so that balance has one answer.
fn independent(directions: &[Vector3<f64>]) -> bool {
    if directions.len() > 3 {
        return false;
    }
    let mut gram = Matrix3::identity();
    for (i, a) in directions.iter().enumerate() {
        for (j, b) in directions.iter().enumerate() {
            gram[(i, j)] = a.dot(b);
        }
    }
    gram.determinant() > 1e-9
}

impl Hang {
    /// The pull that each leg must be rated for under a carrying assumption, N, in the rig's order.
    ///
    /// Where statics alone decide, every assumption gives the same. Otherwise two and three legs
    /// carrying is the weight over that many legs at the flattest leg's angle (the smallest height
    /// over length governs, NAVEDTRA 14251 ch. 6), and never less than the leg's own share by
    /// stiffness; with two legs carrying also never less than balance allows at worst.
    pub fn pulls_n(&self, weight_n: f64, carrying: Carrying) -> Vec<f64> {
        let flattest = self
            .legs
            .iter()
            .filter(|l| !l.missing && l.bounds_n[1] > 0.0)
            .map(|l| l.sine)
            .fold(1.0, f64::min);
        self.legs
            .iter()
            .map(|leg| {
                if leg.bounds_n[1] <= 0.0 || self.determinate {
                    return leg.bounds_n[1].max(leg.tension_n);
                }
                match carrying {
                    Carrying::Two => leg.bounds_n[1].max(shared(weight_n, 2.0, flattest)),
                    Carrying::Three => leg.tension_n.max(shared(weight_n, 3.0, flattest)),
                    Carrying::All => leg.tension_n,
                }
            })
            .collect()
    }

    /// Where the load hangs lowest, in words ("nose down", "level").
    pub fn lean(&self) -> String {
        let part = |deg: f64, plus: &str, minus: &str| {
            let words = if deg > 0.0 { plus } else { minus };
            format!("{:.1}° {words}", deg.abs())
        };
        let nose = part(self.nose_down_deg, "nose down", "nose up");
        let side = part(self.left_down_deg, "left side down", "right side down");
        let small = |deg: f64| deg.abs() < 0.05;
        match (small(self.nose_down_deg), small(self.left_down_deg)) {
            (true, true) => "level".to_owned(),
            (false, true) => nose,
            (true, false) => side,
            (false, false) => format!("{nose} and {side}"),
        }
    }
}

/// Pull of each of `legs` legs that share a weight evenly, by sine of the angle from the horizontal:
/// `(weight / legs) / sine`.
pub fn shared(weight: f64, legs: f64, sine: f64) -> f64 {
    weight / legs / sine
}

pub(super) fn degrees(radians: f64) -> f64 {
    radians * (180.0 / std::f64::consts::PI)
}

const _: () = assert!(LEGS_MAX <= 16, "subsets of legs are tried one by one");
