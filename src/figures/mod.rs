//! What this rigging does to the lift: capacity, statics and air, as pure functions on SI
//! quantities.
//!
//! A [`crate::plan::Plan`] becomes a [`Rig`]: one rigid body under 1 to 6 elastic legs that only
//! pull. [`hang()`] finds how it comes to rest; [`Figures`] holds every number against its limit, at
//! the worst of the inputs' plus and minus. [`capacity`] is what must pass before a walk can end
//! ready.
//!
//! Everything here is an estimate from typed-in numbers: [`CAUTION`] stands beside every verdict.
//!
//! Statics uses only `+ - * /` and square roots, angles and powers go through `libm`: every machine
//! finds the same digits.

pub mod air;
mod allowable;
mod attitude;
mod basis;
mod below;
mod between;
mod corners;
mod design;
mod drawing;
mod drops;
mod error;
mod findings;
mod found;
mod from_plan;
mod hang;
mod judge;
mod level;
mod plus_minus;
mod pulls;
mod question;
mod rest;
mod rig;
mod slips;
mod steeper;
mod sweep;
mod units;
mod verdict;

use crate::plan::Plan;
use basis::basis;
use slips::slips;

pub use allowable::{
    AllowableError, AllowableToday, Cell, SiteAllowable, allowable_today, site_air,
};
pub use below::{Below, Drops};
pub use design::{
    CLEARANCE_LEAST_M, CONE_DEG, DesignRule, HEIGHT_MOST_M, LEG_LEAST_M, design, design_length_m,
    length_at_45_m,
};
pub use drawing::drawing;
#[cfg(feature = "png")]
pub use drawing::{PngError, drawing_png};
#[cfg(feature = "pdf")]
pub(crate) use drawing::{canvas, picture};
pub use error::RigError;
pub use findings::findings;
pub use found::{Found, Miscount, miscount};
pub use from_plan::Masses;
pub use hang::{Hang, HungLeg, hang};
pub(crate) use judge::exact;
pub use level::{Counts, Levelling, Ways, level};
pub use plus_minus::{AtWorst, LegAtWorst, at_worst};
pub use pulls::shared;
pub use question::Question;
pub use rig::{HangLimits, LEGS_MAX, Leg, PlusMinus, Rig, STRETCH_AT_RATING, carrying_words};
pub use sweep::{Sweep, sweep};
pub use units::{LengthUnit, MassUnit};
pub use verdict::{Bound, CAUTION, Grade, Quantity, Verdict};

/// Everything computed from a plan, or from a rig as found in its place.
#[derive(Clone, Debug)]
pub struct Figures {
    /// The rig.
    pub rig: Rig,
    /// The masses of the lift.
    pub masses: Masses,
    /// What may hang on the hook today.
    pub allowable: Result<AllowableToday, AllowableError>,
    /// How the load hangs with the typed-in numbers.
    pub hang: Result<Hang, RigError>,
    /// Every question with its answer, capacity first.
    pub verdicts: Vec<Verdict>,
}

impl Figures {
    /// The figures of a plan as it is written.
    pub fn of(plan: &Plan) -> Figures {
        Figures::with_rig(plan, Rig::from_plan(plan))
    }

    /// The figures of a plan with another rig in its place, as one found on a walk.
    pub fn with_rig(plan: &Plan, rig: Rig) -> Figures {
        let masses = Masses::of(plan);
        let allowable = allowable_today(&plan.lift);
        let ground = corners::Ground {
            plan,
            masses,
            rig: &rig,
            allowable: &allowable,
        };
        let mut verdicts = ground.verdicts();
        verdicts.extend(basis(plan, &rig));
        verdicts.extend(slips(plan, &rig));
        Figures {
            hang: hang(&rig),
            rig,
            masses,
            allowable,
            verdicts,
        }
    }

    /// Whether no verdict fails.
    pub fn pass(&self) -> bool {
        self.verdicts.iter().all(Verdict::passes)
    }
}

/// The capacity questions of a plan: aircraft, hook and rigging, container or net and spreader where
/// one is used, sling set, and each leg with its provision; and the rigging procedure, where the plan names one. Whatever
/// else fails (a leg too flat, too much tilt, a load that turns over) is among them, so that a lift passes only if all of
/// them do, and so is what a qualified person should look at.
pub fn capacity(plan: &Plan) -> Vec<Verdict> {
    let mut verdicts = Figures::of(plan).verdicts;
    let told = |question: Question| question.is_capacity() || question == Question::Procedure;
    verdicts.retain(|v| told(v.question) || v.grade > Grade::Pass);
    verdicts
}

/// Of several verdicts on one question the one that fails, else the one that uses most of its limit, in the order given:
/// what is said aloud where nobody wants to hear every leg. A leg that hangs slack does not hide the one that pulls hardest.
pub fn worst_of_each(verdicts: &[Verdict]) -> Vec<&Verdict> {
    let mut worst: Vec<&Verdict> = Vec::new();
    for verdict in verdicts {
        match worst.iter_mut().find(|w| w.question == verdict.question) {
            None => worst.push(verdict),
            Some(slot) => {
                let key = |v: &Verdict| {
                    let share = v.share_percent.unwrap_or(0.0);
                    (!v.passes(), share, v.grade)
                };
                if key(verdict) > key(slot) {
                    *slot = verdict;
                }
            }
        }
    }
    worst
}
