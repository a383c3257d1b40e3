//! How a load hangs: attitude, angles and pulls.

use super::below::Below;
use super::error::RigError;
use super::pulls::Pulls;
use super::rest::{Body, Rest, Tie};
use super::rig::Rig;
use crate::plan::Carrying;
use nalgebra::Vector3;
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
    /// Whether it may come to carry: taut, or slack by less than its length is known to.
    pub near: bool,
    /// How much longer it is than its run, m; 0 where it is taut.
    pub slack_m: f64,
    /// Pull by the legs' stiffness, N.
    pub tension_n: f64,
    /// Least and greatest pull that balance allows, whatever the stiffness, N. Two numbers of the
    /// same size where statics alone decide.
    pub bounds_n: [f64; 2],
    /// Pull to be rated for with two legs carrying, N; see [`HungLeg::carried_n`].
    pub two_n: f64,
    /// With three legs carrying, N.
    pub three_n: f64,
    /// With all legs carrying as their stiffness shares the load, N.
    pub all_n: f64,
    /// What its lifting provision must be rated for under the rig's carrying assumption, N: the pulls of
    /// all legs on the same provision together, taken as one leg.
    pub provision_n: f64,
    /// Angle from the horizontal in the attitude at rest, degrees.
    pub angle_deg: f64,
    /// Sine of that angle: height over length.
    pub sine: f64,
}

impl HungLeg {
    /// The pull that the leg must be rated for under a carrying assumption, N.
    ///
    /// Where statics alone decide, every assumption gives the same. Otherwise two and three legs
    /// carrying is the weight over that many legs at the flattest leg's angle (the smallest height
    /// over length governs, NAVEDTRA 14251 ch. 6), and never less than the leg's own share by
    /// stiffness; with two legs carrying also never less than balance allows at worst, with three not less than
    /// that share if three legs carried what all do.
    pub fn carried_n(&self, carrying: Carrying) -> f64 {
        match carrying {
            Carrying::Two => self.two_n,
            Carrying::Three => self.three_n,
            Carrying::All => self.all_n,
        }
    }
}

/// How a load hangs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hang {
    /// The apex in the load's axes, m.
    pub apex_m: [f64; 3],
    /// True up in the load's axes, length 1; below a spreader, in the spreader's.
    pub up: [f64; 3],
    /// True up in the load's own axes, length 1.
    pub load_up: [f64; 3],
    /// Whether it is worked out how the load itself hangs; if not, it leans more than is said here.
    pub load_known: bool,
    /// Height of the apex above the centre of gravity of all that the legs hold, m.
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

/// Tilt beyond which a load is called turned over, degrees.
const TURNED_DEG: f64 = 85.0;

/// Finds how a rig hangs.
///
/// # Errors
/// Refuses numbers that cannot be, legs that cannot meet, and loads that do not stay upright.
pub fn hang(rig: &Rig) -> Result<Hang, RigError> {
    rig.check()?;
    not_in_line(rig)?;
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
                known: rig.plus_minus.lengths_given[at],
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

/// Refuses three or more places of provisions that lie in one line, to a thousandth of its length. Two
/// places are a bridle.
fn not_in_line(rig: &Rig) -> Result<(), RigError> {
    let points: Vec<Vector3<f64>> = rig.present().map(|(_, l)| l.provision()).collect();
    let first = points[0];
    let far = points.iter().map(|p| p - first);
    let along = far.fold(Vector3::zeros(), |most: Vector3<f64>, run| {
        if run.norm() > most.norm() { run } else { most }
    });
    let long = along.norm();
    let hair = 1e-3 * long;
    let beside = |p: &Vector3<f64>| (p - first).cross(&along).norm() > hair * long;
    let between = |p: &Vector3<f64>| {
        let at = (p - first).dot(&along) / long;
        at > hair && at < long - hair || at < -hair
    };
    if long == 0.0 || points.iter().any(beside) || !points.iter().any(between) {
        return Ok(());
    }
    let legs: Vec<&str> = rig.present().map(|(_, l)| l.name.as_str()).collect();
    Err(RigError::InLine {
        legs: legs.join(", "),
    })
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
    // What the legs hold, then the load below its spreader.
    not_turned(tilt_deg(up))?;
    let load_up = rig.up_of_load(up)?;
    let tilt_deg = not_turned(tilt_deg(load_up))?;
    let lower_m = match &rig.below {
        Some(Below::Drops(drops)) => drops.lower_m(up),
        _ => 0.0,
    };
    let force = up * rig.weight_n();
    let pulls = Pulls::at(ties, apex, up, rig.plus_minus.leg_length_m);
    let left_over = (0..pulls.n).fold(-force, |sum, i| sum + pulls.direction[i] * pulls.tension[i]);
    let bounds = pulls.bounds(force);
    let carried = [Carrying::Two, Carrying::Three, Carrying::All]
        .map(|carrying| pulls.carried(force, &bounds, carrying));

    let mut legs: Vec<HungLeg> = rig
        .legs
        .iter()
        .map(|leg| HungLeg {
            name: leg.name.clone(),
            station: leg.station.clone(),
            missing: leg.missing,
            slack: true,
            near: false,
            slack_m: 0.0,
            tension_n: 0.0,
            bounds_n: [0.0; 2],
            two_n: 0.0,
            three_n: 0.0,
            all_n: 0.0,
            provision_n: 0.0,
            angle_deg: 0.0,
            sine: 0.0,
        })
        .collect();
    let on_provision = pulls.on_provisions(ties, force, rig.carrying);
    for (i, (at, _)) in rig.present().enumerate() {
        let leg = &mut legs[at];
        leg.provision_n = on_provision[i];
        leg.slack = pulls.tension[i] <= 0.0;
        leg.near = pulls.near[i];
        leg.slack_m = pulls.slack[i];
        leg.tension_n = pulls.tension[i];
        leg.bounds_n = bounds[i];
        leg.two_n = carried[0][i];
        leg.three_n = carried[1][i];
        leg.all_n = carried[2][i];
        leg.sine = pulls.sine[i];
        leg.angle_deg = degrees(libm::asin(pulls.sine[i].clamp(-1.0, 1.0)));
    }
    Ok(Hang {
        apex_m: apex.into(),
        up: up.into(),
        load_up: load_up.into(),
        load_known: rig.knows_load(),
        apex_over_cg_m: apex_over_cg_m + lower_m,
        tilt_deg,
        nose_down_deg: degrees(libm::atan2(-load_up.x, load_up.z)),
        left_down_deg: degrees(libm::atan2(-load_up.y, load_up.z)),
        legs,
        determinate: pulls.determinate(),
        unbalanced: left_over.norm() / rig.weight_n(),
    })
}

impl Hang {
    /// Every leg turned by so many degrees against the horizontal, with what it holds up kept: its
    /// pull goes with the inverse of the sine, and where two or three are taken to carry, with that of
    /// the flattest, which governs. Not flatter than a tenth of a degree.
    pub(super) fn turn_legs_by(&mut self, by_deg: f64) {
        if by_deg == 0.0 {
            return;
        }
        let mut most = 1.0_f64;
        for leg in self.legs.iter_mut().filter(|l| l.sine > 0.0) {
            leg.angle_deg = (leg.angle_deg + by_deg).clamp(0.1, 90.0);
            let sine = libm::sin(leg.angle_deg * (std::f64::consts::PI / 180.0));
            let times = leg.sine / sine;
            leg.sine = sine;
            most = most.max(times);
            if self.determinate {
                leg.two_n *= times;
                leg.three_n *= times;
            }
            leg.all_n *= times;
            if self.determinate {
                leg.provision_n *= times;
            }
        }
        for leg in self.legs.iter_mut().filter(|_| !self.determinate) {
            leg.two_n *= most;
            leg.three_n *= most;
            leg.provision_n *= most;
        }
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
        let lean = match (small(self.nose_down_deg), small(self.left_down_deg)) {
            (true, true) => "level".to_owned(),
            (false, true) => nose,
            (true, false) => side,
            (false, false) => format!("{nose} and {side}"),
        };
        if self.load_known {
            lean
        } else {
            format!("{lean} if the load were one with its spreader")
        }
    }
}

fn not_turned(tilt_deg: f64) -> Result<f64, RigError> {
    if tilt_deg > TURNED_DEG {
        Err(RigError::TurnsOver { tilt_deg })
    } else {
        Ok(tilt_deg)
    }
}

/// Angle between a body's own up and true up in its axes, degrees.
pub(super) fn tilt_deg(up: Vector3<f64>) -> f64 {
    degrees(libm::atan2((up.x * up.x + up.y * up.y).sqrt(), up.z))
}

pub(super) fn degrees(radians: f64) -> f64 {
    radians * (180.0 / std::f64::consts::PI)
}
