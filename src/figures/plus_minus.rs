//! The corners of the inputs' plus and minus, and how a rig hangs at each.
//!
//! Every corner is tried: the mass (a light load stretches its legs less, and they stand flatter) and the
//! centre of gravity along each axis at both ends, each leg at both ends of its length, and the leg lengths
//! as typed in besides. The leg angles are taken at their minus: all pulls grow with it. Where nobody
//! says how the legs stretch, they are also taken not to stretch at all.

use super::error::RigError;
use super::hang::{Hang, HungLeg, hang};
use super::judge::within;
use super::rig::{LEGS_MAX, Leg, Rig, STRETCH_AT_RATING};
use super::verdict::NEAR_PERCENT;
use crate::plan::{Carrying, STANDARD_GRAVITY};

/// Inputs that carry a plus or minus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Input {
    Mass,
    Forward,
    Left,
    Up,
    Lengths,
    Angles,
    Stretch,
}

pub(super) const INPUTS: [Input; 7] = [
    Input::Mass,
    Input::Forward,
    Input::Left,
    Input::Up,
    Input::Lengths,
    Input::Angles,
    Input::Stretch,
];

impl Input {
    pub fn name(self) -> &'static str {
        match self {
            Input::Mass => "mass",
            Input::Forward => "centre of gravity forward",
            Input::Left => "centre of gravity to the side",
            Input::Up => "centre of gravity upward",
            Input::Lengths => "leg lengths",
            Input::Angles => "leg angles",
            Input::Stretch => "stretch that is not given",
        }
    }
}

/// How far each input is off, in units of its plus or minus.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Corner {
    pub mass: f64,
    pub cg: [f64; 3],
    pub lengths: [f64; LEGS_MAX],
    pub angles: f64,
    /// Whether legs whose stretch nobody gave do not stretch.
    pub stiff: bool,
}

pub(super) const NOMINAL: Corner = Corner {
    mass: 0.0,
    cg: [0.0; 3],
    lengths: [0.0; LEGS_MAX],
    angles: 0.0,
    stiff: false,
};

/// Stretch at the rating of a leg that is taken not to stretch, as a share of its length.
const NO_STRETCH: f64 = 1e-4;

/// How many times the plus or minus of a length a leg can be slack at a corner that is slack by no more than one as
/// typed in: on a rectangle its slack changes by its own and those of the three others.
const SLACK_AT_CORNER: f64 = 5.0;

impl Corner {
    /// The same with one input back at its typed-in value.
    pub fn without(mut self, input: Input) -> Corner {
        match input {
            Input::Mass => self.mass = 0.0,
            Input::Forward => self.cg[0] = 0.0,
            Input::Left => self.cg[1] = 0.0,
            Input::Up => self.cg[2] = 0.0,
            Input::Lengths => self.lengths = NOMINAL.lengths,
            Input::Angles => self.angles = 0.0,
            Input::Stretch => self.stiff = false,
        }
        self
    }
    /// A rig with its inputs so far off.
    fn rig(&self, typed_in: &Rig) -> Rig {
        let pm = typed_in.plus_minus;
        let mut rig = typed_in.clone();
        rig.mass_kg += self.mass * pm.mass_kg;
        let by_mass = match self.mass {
            0.0 => [0.0; 3],
            mass => pm.cg_by_mass_m[usize::from(mass > 0.0)],
        };
        for (cg, moved) in rig.cg_m.iter_mut().zip(by_mass) {
            *cg += moved;
        }
        for axis in 0..3 {
            rig.cg_m[axis] += self.cg[axis] * pm.cg_m[axis];
        }
        if let Some(below) = &mut rig.below {
            below.off_by(self.cg);
        }
        // Where no leg is idle as typed in, none becomes so by what is not known of lengths and stretch.
        let moved = self.lengths != NOMINAL.lengths;
        if self.stiff || moved {
            rig.plus_minus.lengths_given = [false; LEGS_MAX];
        }
        if moved {
            rig.plus_minus.leg_length_m *= SLACK_AT_CORNER;
        }
        for (leg, off) in rig.legs.iter_mut().zip(self.lengths) {
            leg.full_length_m += off * pm.leg_length_m;
            if self.stiff && leg.stretch_at_rating == STRETCH_AT_RATING {
                leg.stretch_at_rating = NO_STRETCH;
            }
        }
        rig
    }

    /// That rig, and how it hangs with its leg angles so far off too.
    pub fn hang(&self, typed_in: &Rig) -> (Rig, Result<Hang, RigError>) {
        let rig = self.rig(typed_in);
        let mut hang = hang(&rig);
        if let Ok(hang) = &mut hang {
            hang.turn_legs_by(self.angles * rig.plus_minus.angle_deg);
        }
        (rig, hang)
    }
}

/// Every corner of a rig's plus and minus; [`NOMINAL`] alone where it has none.
pub(super) fn corners(rig: &Rig) -> Vec<Corner> {
    let pm = rig.plus_minus;
    let mut corners = vec![Corner {
        angles: if pm.angle_deg > 0.0 { -1.0 } else { 0.0 },
        ..NOMINAL
    }];
    if pm.mass_kg > 0.0 || pm.others_kg > 0.0 {
        corners = split(&corners, |c| &mut c.mass);
    }
    let below = |axis| rig.below.as_ref().is_some_and(|b| b.is_off(axis));
    for axis in (0..3).filter(|&axis| pm.cg_m[axis] > 0.0 || below(axis)) {
        corners = split(&corners, |c| &mut c.cg[axis]);
    }
    if pm.leg_length_m > 0.0 {
        let typed_in = corners.clone();
        for (at, _) in rig.present() {
            corners = split(&corners, |c| &mut c.lengths[at]);
        }
        corners.extend(typed_in);
    }
    corners
}

/// The corners at which legs do not stretch, where nobody says how they do. Their lengths stay as typed in, unless all
/// legs are taken to carry: without stretch a millimetre moves pulls at will, which the other assumptions are for.
pub(super) fn stiff_corners(rig: &Rig) -> Vec<Corner> {
    if !rig.plus_minus.stretch {
        return Vec::new();
    }
    let mut typed_in = rig.clone();
    // Where all legs are taken to carry, no assumption stands for what lengths do.
    if rig.carrying != Carrying::All {
        typed_in.plus_minus.leg_length_m = 0.0;
    }
    let stiff = |corner| Corner {
        stiff: true,
        ..corner
    };
    corners(&typed_in).into_iter().map(stiff).collect()
}

/// Each corner twice, with one of its inputs at either end.
fn split(corners: &[Corner], input: impl Fn(&mut Corner) -> &mut f64) -> Vec<Corner> {
    let halves = corners.iter().flat_map(|corner| {
        [-1.0, 1.0].map(|sign| {
            let mut corner = *corner;
            *input(&mut corner) = sign;
            corner
        })
    });
    halves.collect()
}

/// A rig at the worst of the plus and minus of its inputs.
#[derive(Clone, Debug, PartialEq)]
pub struct AtWorst {
    /// Each leg in the rig's order; a leg that is not there has zeros.
    pub legs: Vec<LegAtWorst>,
    /// Most tilt, degrees.
    pub tilt_deg: f64,
    /// Whether any input has a plus or minus; if not, all is as typed in.
    pub differs: bool,
    /// Whether it no longer hangs somewhere between plus and minus; the numbers leave that out.
    pub falls: bool,
}

/// One leg at the worst of the plus and minus.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LegAtWorst {
    /// Greatest pull under the rig's carrying assumption, as the lift moves, as the mass that it
    /// would hold, kg.
    pub pull_kg: f64,
    /// That in percent of what the leg may carry with its hitch.
    pub share_percent: f64,
}

/// A rig at the worst of the plus and minus of its inputs.
///
/// # Errors
/// Where it does not hang as typed in.
pub fn at_worst(rig: &Rig) -> Result<AtWorst, RigError> {
    let typed_in = hang(rig)?;
    let corners = corners(rig);
    let mut worst = AtWorst {
        legs: vec![LegAtWorst::default(); rig.legs.len()],
        tilt_deg: 0.0,
        differs: corners != [NOMINAL],
        falls: false,
    };
    worst.take(rig, &typed_in);
    for corner in corners {
        worst.try_corner(rig, &corner);
    }
    let mut stiff = worst.clone();
    for corner in stiff_corners(rig) {
        stiff.try_corner(rig, &corner);
    }
    worst.heed(&stiff, rig.limits.tilt_deg);
    Ok(worst)
}

/// Shares in percent from which a leg wants a look, and fails.
const TOLD_FROM: [f64; 2] = [NEAR_PERCENT, 100.0];

impl AtWorst {
    fn try_corner(&mut self, typed_in: &Rig, corner: &Corner) {
        match corner.hang(typed_in) {
            (rig, Ok(hang)) => self.take(&rig, &hang),
            (_, Err(_)) => self.falls = true,
        }
    }

    /// Takes over what legs that do not stretch change for the verdict, as the verdicts do; what it moves by a hair is
    /// left out.
    fn heed(&mut self, stiff: &AtWorst, tilt_limit_deg: f64) {
        let crosses = |limit: f64, from: f64, to: f64| from <= limit && to > limit;
        for (leg, stiff) in self.legs.iter_mut().zip(&stiff.legs) {
            let (from, to) = (leg.share_percent, stiff.share_percent);
            if TOLD_FROM.iter().any(|limit| crosses(*limit, from, to)) {
                *leg = *stiff;
                self.differs = true;
            }
        }
        if crosses(tilt_limit_deg, self.tilt_deg, stiff.tilt_deg) {
            self.tilt_deg = stiff.tilt_deg;
            self.differs = true;
        }
        self.differs |= stiff.falls;
        self.falls |= stiff.falls;
    }

    fn take(&mut self, rig: &Rig, hang: &Hang) {
        self.tilt_deg = self.tilt_deg.max(hang.tilt_deg);
        for ((worst, leg), hung) in self.legs.iter_mut().zip(&rig.legs).zip(&hang.legs) {
            worst.pull_kg = worst.pull_kg.max(pull_kg(rig, hung));
            worst.share_percent = worst.pull_kg / leg.holds_kg() * 100.0;
        }
    }
}

/// The pull that a leg must be rated for, as the lift moves, as the mass that it would hold, kg.
pub(super) fn pull_kg(rig: &Rig, hung: &HungLeg) -> f64 {
    hung.carried_n(rig.carrying) / STANDARD_GRAVITY * rig.dynamic_factor
}

/// What a leg's provision must be rated for, as the lift moves, as the mass that it would hold, kg.
pub(super) fn on_provision_kg(rig: &Rig, hung: &HungLeg) -> f64 {
    hung.provision_n / STANDARD_GRAVITY * rig.dynamic_factor
}

/// The tilt in degrees where the rig hangs within its limits on tilt, angle and ratings.
pub(super) fn tilt_within(rig: &Rig, hang: &Hang) -> Option<f64> {
    let limits = rig.limits;
    let fits = |leg: &Leg, hung: &HungLeg| {
        // A set with a leg that carries nothing is not whole.
        if hung.slack && !hung.near {
            return false;
        }
        let steep = hung.slack || hung.angle_deg >= limits.angle_refused_deg;
        let on_provision = on_provision_kg(rig, hung);
        let held = leg
            .provision_rating_kg
            .is_none_or(|rating| within(on_provision, rating));
        steep && held && within(pull_kg(rig, hung), leg.holds_kg())
    };
    let all = rig.present().all(|(at, leg)| fits(leg, &hang.legs[at]));
    (all && hang.tilt_deg <= limits.tilt_deg).then_some(hang.tilt_deg)
}

/// Whether the rig hangs within its limits as typed in and at every corner of the plus and minus.
pub(super) fn within_at_worst(rig: &Rig) -> bool {
    let corners = corners(rig).into_iter().chain(stiff_corners(rig));
    corners.chain([NOMINAL]).all(|corner| {
        let (rig, hang) = corner.hang(rig);
        hang.is_ok_and(|hang| tilt_within(&rig, &hang).is_some())
    })
}
