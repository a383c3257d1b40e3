//! The sweep of all counts, each rest found from the last.

use super::error::RigError;
use super::hang::ties;
use super::judge::within;
use super::level::Levelling;
use super::pulls::Pulls;
use super::rest::{Body, Rest, Tie};
use super::rig::{LEGS_MAX, Rig};
use crate::plan::STANDARD_GRAVITY;
use nalgebra::Vector3;
use serde::Serialize;
use std::ops::RangeInclusive;

/// What a sweep of counts found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sweep {
    /// Rigs looked at.
    pub tried: u64,
    /// Rigs within the limits.
    pub within: u64,
    /// The most level of these.
    pub best: Option<Levelling>,
}

/// Tries every count in `links` on every leg with a chain, on so many threads, with the typed-in
/// numbers. The answer does not depend on how many threads.
///
/// # Errors
/// Numbers that cannot be.
pub fn sweep(rig: &Rig, links: RangeInclusive<u32>, threads: usize) -> Result<Sweep, RigError> {
    rig.check()?;
    let chained: Vec<usize> = rig
        .present()
        .filter(|(_, leg)| leg.pitch_m > 0.0)
        .map(|(at, _)| at)
        .collect();
    let Some((&outer, inner)) = chained.split_first() else {
        return Ok(Sweep {
            tried: 0,
            within: 0,
            best: None,
        });
    };
    let rows: Vec<u32> = links.clone().collect();
    let next = std::sync::atomic::AtomicUsize::new(0);
    let work = || {
        let mut sum = Sweep {
            tried: 0,
            within: 0,
            best: None,
        };
        loop {
            let at = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
            let Some(&row) = rows.get(at) else {
                return sum;
            };
            // Each row starts afresh, so that its digits do not depend on who does it.
            let mut quick = Quick::new(rig);
            quick.set_links(outer, row);
            let part = sweep_row(&mut quick, inner, &links);
            sum = merge(sum, part);
        }
    };
    Ok(std::thread::scope(|scope| {
        let workers: Vec<_> = (1..threads.max(1)).map(|_| scope.spawn(work)).collect();
        let mut sum = work();
        for worker in workers {
            match worker.join() {
                Ok(part) => sum = merge(sum, part),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        sum
    }))
}

fn merge(a: Sweep, b: Sweep) -> Sweep {
    let best = match (a.best, b.best) {
        (Some(x), Some(y)) => {
            let first = (x.tilt_deg, &x.counts) <= (y.tilt_deg, &y.counts);
            Some(if first { x } else { y })
        }
        (x, y) => x.or(y),
    };
    Sweep {
        tried: a.tried + b.tried,
        within: a.within + b.within,
        best,
    }
}

/// Counts `legs` up and down like a snake, so that each rig differs from the last by one link.
fn sweep_row(quick: &mut Quick<'_>, legs: &[usize], links: &RangeInclusive<u32>) -> Sweep {
    let mut sum = Sweep {
        tried: 0,
        within: 0,
        best: None,
    };
    let mut up = [true; LEGS_MAX];
    for &leg in legs {
        quick.set_links(leg, *links.start());
    }
    loop {
        sum.tried += 1;
        if let Some(tilt_deg) = quick.tilt_within() {
            sum.within += 1;
            if sum.best.as_ref().is_none_or(|b| tilt_deg < b.tilt_deg) {
                let counts = quick.links[..quick.rig.legs.len()].to_vec();
                let moves = counts.iter().zip(&quick.rig.legs);
                sum.best = Some(Levelling {
                    moved: moves.map(|(c, l)| c.abs_diff(l.links)).sum(),
                    counts,
                    tilt_deg,
                    worst_tilt_deg: tilt_deg,
                });
            }
        }
        let mut turned = 0;
        for (place, &leg) in legs.iter().enumerate().rev() {
            let now = quick.links[leg];
            let next = if up[place] {
                (now < *links.end()).then_some(now + 1)
            } else {
                (now > *links.start()).then(|| now - 1)
            };
            match next {
                Some(next) => {
                    quick.set_links(leg, next);
                    break;
                }
                None => {
                    up[place] = !up[place];
                    turned += 1;
                }
            }
        }
        if turned == legs.len() {
            return sum;
        }
    }
}

/// A rig whose counts are changed one by one, each rest found from the last.
pub(super) struct Quick<'a> {
    rig: &'a Rig,
    ties: Vec<Tie>,
    /// The tie of each leg, where it is there.
    tie_of: [Option<usize>; LEGS_MAX],
    pub links: [u32; LEGS_MAX],
    last: Option<Vector3<f64>>,
    cosine_most_tilt: f64,
    sine_flattest: f64,
}

impl<'a> Quick<'a> {
    pub fn new(rig: &'a Rig) -> Self {
        let (ties, legs) = ties(rig);
        let mut tie_of = [None; LEGS_MAX];
        for (tie, leg) in legs.into_iter().enumerate() {
            tie_of[leg] = Some(tie);
        }
        let mut links = [0; LEGS_MAX];
        for (slot, leg) in links.iter_mut().zip(&rig.legs) {
            *slot = leg.links;
        }
        let radians = |deg: f64| deg * (std::f64::consts::PI / 180.0);
        Quick {
            rig,
            ties,
            tie_of,
            links,
            last: None,
            cosine_most_tilt: libm::cos(radians(rig.limits.tilt_deg)),
            sine_flattest: libm::sin(radians(rig.limits.angle_refused_deg)),
        }
    }

    pub fn set_links(&mut self, leg: usize, links: u32) {
        self.links[leg] = links;
        let Some(tie) = self.tie_of[leg] else {
            return;
        };
        let of = &self.rig.legs[leg];
        let length_m = of.full_length_m - f64::from(links) * of.link_step_m();
        self.ties[tie].length_m = length_m;
        self.ties[tie].stiffness_n_m =
            of.rating_kg * STANDARD_GRAVITY / (of.stretch_at_rating * length_m);
    }

    /// The tilt in degrees where the rig hangs within its limits on tilt, angle and ratings.
    pub fn tilt_within(&mut self) -> Option<f64> {
        if self.ties.iter().any(|t| t.length_m <= 0.0) {
            self.last = None;
            return None;
        }
        let cg = Vector3::from(self.rig.cg_m);
        let body = Body {
            ties: &self.ties,
            cg,
            weight_n: self.rig.weight_n(),
        };
        let near = self.last.map_or(Rest::None, |last| body.rest_near(last));
        let rest = match near {
            Rest::At(_) => near,
            Rest::Unsteady | Rest::None => body.rest(),
        };
        let Rest::At(apex) = rest else {
            self.last = None;
            return None;
        };
        let plumb = apex - cg;
        let up = plumb / plumb.norm();
        // A load that turned over is no place to start the next search from.
        self.last = (up.z > 0.5).then_some(apex);
        let rig = self.rig;
        let load_up = rig.up_of_load(up).ok()?;
        if load_up.z < self.cosine_most_tilt {
            return None;
        }
        let pulls = Pulls::at(&self.ties, apex, up, rig.plus_minus.leg_length_m);
        let fits = |carried: &[f64; LEGS_MAX]| {
            rig.present().zip(carried).all(|((_, leg), pull)| {
                let limit = leg
                    .provision_rating_kg
                    .map_or(leg.holds_kg(), |p| p.min(leg.holds_kg()));
                within(*pull * rig.dynamic_factor, limit * STANDARD_GRAVITY)
            })
        };
        let flat =
            (0..pulls.n).any(|i| pulls.tension[i] > 0.0 && pulls.sine[i] < self.sine_flattest);
        if flat || !fits(&pulls.tension) {
            return None;
        }
        let force = up * rig.weight_n();
        let carried = pulls.carried(force, &pulls.bounds(force), rig.carrying);
        fits(&carried).then(|| super::hang::tilt_deg(load_up))
    }
}
