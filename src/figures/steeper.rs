//! How long a leg that stands too flat must be to stand at 45°, found by hanging the load again.

use super::hang::{Hang, HungLeg};
use super::plus_minus::Corner;
use super::rig::Rig;

/// A leg is tried up to so many times its own length more.
const LONGER_AT_MOST: f64 = 2.0;
/// In so many steps; within the one in which it comes to stand, the length is halved in.
const STEPS: u32 = 64;
const HALVINGS: u32 = 16;

/// What length brings the leg at this place in `typed_in` to 45° from the horizontal where the inputs are so far off, in
/// words; `None` where no length that was tried does, or where another leg would hang slack or the load lean over its
/// limit for it. Where others are flat as well, all legs are made longer by as much.
pub(super) fn steeper(typed_in: &Rig, corner: &Corner, at: usize) -> Option<String> {
    let (_, now) = corner.hang(typed_in);
    let now = now.ok()?;
    let wanted = typed_in.limits.angle_warned_deg;
    let flat = |leg: &HungLeg| !leg.slack && !leg.missing && leg.angle_deg < wanted;
    let others = now
        .legs
        .iter()
        .enumerate()
        .any(|(i, leg)| i != at && flat(leg));
    let unit = typed_in.length_unit;
    let alone = || {
        let more = longer(typed_in, corner, &now, at, true)?;
        let leg = &typed_in.legs[at];
        let long = unit.written(leg.length_m() + more);
        Some(format!("a leg of {long} would stand at 45°"))
    };
    let together = || {
        let more = unit.written(longer(typed_in, corner, &now, at, false)?);
        Some(format!(
            "with every leg {more} longer it would stand at 45°"
        ))
    };
    if others {
        together().or_else(alone)
    } else {
        alone().or_else(together)
    }
}

/// How much longer the leg, or every leg, must be, m: to a hundredth of the unit that lengths are said in, rounded up so
/// that what is said stands.
fn longer(typed_in: &Rig, corner: &Corner, now: &Hang, at: usize, alone: bool) -> Option<f64> {
    let wanted = typed_in.limits.angle_warned_deg;
    let tilt = now.tilt_deg.max(typed_in.limits.tilt_deg);
    // Where nobody says how the legs stretch, it must stand without any stretch too; which leg is slack then is no matter.
    let stiff = Corner {
        stiff: true,
        ..*corner
    };
    let stiff = typed_in.plus_minus.stretch.then_some(stiff);
    // `None` where it no longer hangs as it should.
    let stands = |more: f64| -> Option<bool> {
        let mut rig = typed_in.clone();
        for (i, leg) in rig.legs.iter_mut().enumerate() {
            if !alone || i == at {
                leg.full_length_m += more;
            }
        }
        let steep = |leg: &HungLeg| leg.angle_deg >= wanted;
        let hang = corner.hang(&rig).1.ok()?;
        let slackened = |(was, is): (&HungLeg, &HungLeg)| !was.missing && !was.slack && is.slack;
        let whole = !now.legs.iter().zip(&hang.legs).any(slackened);
        let also = match &stiff {
            None => true,
            Some(stiff) => {
                let hang = stiff.hang(&rig).1.ok()?;
                hang.legs[at].slack || steep(&hang.legs[at])
            }
        };
        (whole && hang.tilt_deg <= tilt).then(|| steep(&hang.legs[at]) && also)
    };
    let leg_m = typed_in.legs[at].length_m();
    let step = leg_m * LONGER_AT_MOST / f64::from(STEPS);
    let mut high = 0.0;
    for nth in 1..=STEPS {
        high = step * f64::from(nth);
        if stands(high)? {
            break;
        }
    }
    let mut low = high - step;
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if stands(middle)? {
            high = middle;
        } else {
            low = middle;
        }
    }
    // What is said is a whole length for one leg, and what is added for all.
    let hundredth = 0.01 * typed_in.length_unit.m();
    let before = if alone { leg_m } else { 0.0 };
    let more = ((before + high) / hundredth).ceil() * hundredth - before;
    (more > 0.0 && stands(more)?).then_some(more)
}
