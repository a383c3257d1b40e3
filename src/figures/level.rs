//! Which counts level a load, smallest change first.

use super::error::RigError;
use super::hang::Hang;
use super::plus_minus::{Corner, NOMINAL, corners, stiff_corners, tilt_within};
use super::rig::Rig;
use super::sweep::Quick;
use serde::Serialize;
use std::ops::RangeInclusive;

/// Counts by leg, in the rig's order.
pub type Counts = Vec<u32>;

/// Counts with which the load hangs within its limits.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Levelling {
    /// The counts.
    pub counts: Counts,
    /// How many links are moved in all.
    pub moved: u32,
    /// Tilt that is left with the typed-in numbers, degrees.
    pub tilt_deg: f64,
    /// Tilt that is left at the worst of the plus and minus, degrees; as typed in from [`sweep`](super::sweep()).
    pub worst_tilt_deg: f64,
}

/// The ways of levelling a load.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ways {
    /// Smallest change first, then the more level one at worst.
    pub ways: Vec<Levelling>,
    /// Whether the search ended before it had looked at every count that moves no more links: a way
    /// may have been missed.
    pub cut_short: bool,
}

/// Most rests that one search works out.
const TRIED_MAX: usize = 200_000;

/// The counts that level a rig, smallest change first and then the more level one; at most `wanted`.
///
/// A way hangs within the limits on tilt, leg angle and ratings at every corner of the inputs' plus
/// and minus, as the verdicts do. Legs that face each other keep equal counts. No way where no leg has
/// a chain, or where no count does.
///
/// # Errors
/// Numbers that cannot be. A rig that turns over or cannot meet as it is may still be levelled.
pub fn level(rig: &Rig, wanted: usize) -> Result<Ways, RigError> {
    rig.check()?;
    let groups = groups(rig);
    let mut found: Vec<Levelling> = Vec::new();
    let mut quick = Quick::new(rig);
    let mut worst = Worst::of(rig);
    let mut left = TRIED_MAX;
    let mut cut_short = false;
    let most: u32 = groups.iter().map(Group::most).sum();
    let moves = 0..=most;
    for moved in moves.take_while(|_| !groups.is_empty()) {
        let mut chosen = Vec::new();
        let done = each_choice(&groups, moved, &mut chosen, &mut |chosen| {
            for (group, links) in groups.iter().zip(chosen) {
                for &(leg, _) in &group.legs {
                    quick.set_links(leg, *links);
                }
            }
            let mut tried = 1;
            if let Some(tilt_deg) = quick.tilt_within() {
                let counts = &quick.links[..rig.legs.len()];
                if let Some(worst_tilt_deg) = worst.tilt_within(counts, &mut tried) {
                    found.push(Levelling {
                        counts: counts.to_vec(),
                        moved,
                        tilt_deg,
                        worst_tilt_deg,
                    });
                }
            }
            left = left.saturating_sub(tried);
            left > 0
        });
        cut_short = !done;
        if found.len() >= wanted || cut_short {
            break;
        }
    }
    found.sort_by(|a, b| {
        let by = a.moved.cmp(&b.moved);
        by.then(a.worst_tilt_deg.total_cmp(&b.worst_tilt_deg))
            .then(a.tilt_deg.total_cmp(&b.tilt_deg))
            .then(a.counts.cmp(&b.counts))
    });
    found.truncate(wanted);
    Ok(Ways {
        ways: found,
        cut_short,
    })
}

/// Holds counts against the limits at every corner of the plus and minus.
struct Worst {
    rig: Rig,
    corners: Vec<Corner>,
}

impl Worst {
    fn of(rig: &Rig) -> Worst {
        let mut corners = corners(rig);
        if corners != [NOMINAL] {
            corners.push(NOMINAL);
        }
        corners.extend(stiff_corners(rig));
        Worst {
            rig: rig.clone(),
            corners,
        }
    }

    /// The most tilt in degrees where no corner goes over a limit. `tried` grows by the rests looked
    /// at.
    fn tilt_within(&mut self, counts: &[u32], tried: &mut usize) -> Option<f64> {
        for (leg, links) in self.rig.legs.iter_mut().zip(counts) {
            leg.links = *links;
        }
        let mut most: f64 = 0.0;
        for at in 0..self.corners.len() {
            *tried += 1;
            let (rig, hang) = self.corners[at].hang(&self.rig);
            let idle = |hang: &Hang| hang.legs.iter().any(|l| !l.missing && l.slack && !l.near);
            let hang = hang.ok().filter(|hang| !idle(hang));
            let Some(tilt_deg) = hang.and_then(|hang| tilt_within(&rig, &hang)) else {
                // What refused these counts refuses most of their neighbours: it is asked first.
                self.corners.swap(0, at);
                return None;
            };
            most = most.max(tilt_deg);
        }
        Some(most)
    }
}

/// Legs that get one count together.
struct Group {
    /// Each leg and its count now.
    legs: Vec<(usize, u32)>,
    range: RangeInclusive<u32>,
}

impl Group {
    /// How many links are moved in all to bring the group to a count.
    fn moved(&self, links: u32) -> u32 {
        self.legs.iter().map(|(_, now)| now.abs_diff(links)).sum()
    }

    /// The most links that any count of its range moves.
    fn most(&self) -> u32 {
        self.moved(*self.range.start())
            .max(self.moved(*self.range.end()))
    }
}

fn groups(rig: &Rig) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut paired = vec![false; rig.legs.len()];
    let of = |legs: &[usize]| {
        let legs: Vec<(usize, u32)> = legs.iter().map(|&l| (l, rig.legs[l].links)).collect();
        let least = legs.iter().map(|l| l.1).min().unwrap_or(0).min(1);
        let most = legs.iter().map(|l| rig.legs[l.0].links_max).min();
        Group {
            range: least..=most.unwrap_or(0),
            legs,
        }
    };
    for (one, other) in rig.pairs() {
        let (a, b) = (&rig.legs[one], &rig.legs[other]);
        let chained = a.pitch_m > 0.0 && b.pitch_m > 0.0 && !a.missing && !b.missing;
        if a.planned_links == b.planned_links && chained {
            paired[one] = true;
            paired[other] = true;
            groups.push(of(&[one, other]));
        }
    }
    for (at, leg) in rig.legs.iter().enumerate() {
        if !paired[at] && leg.pitch_m > 0.0 && !leg.missing {
            groups.push(of(&[at]));
        }
    }
    groups
}

/// Calls `visit` with every choice of counts that moves `moved` links in all, until it says stop.
/// Whether it never did.
fn each_choice(
    groups: &[Group],
    moved: u32,
    chosen: &mut Vec<u32>,
    visit: &mut dyn FnMut(&[u32]) -> bool,
) -> bool {
    let Some((group, rest)) = groups.split_first() else {
        return moved > 0 || visit(chosen);
    };
    for links in group.range.clone() {
        let here = group.moved(links);
        if here > moved || moved - here > rest.iter().map(Group::most).sum() {
            continue;
        }
        chosen.push(links);
        let go_on = each_choice(rest, moved - here, chosen, visit);
        chosen.pop();
        if !go_on {
            return false;
        }
    }
    true
}

impl Rig {
    /// The rig with other counts, in the order of its legs.
    pub fn with_counts(&self, counts: &[u32]) -> Rig {
        let mut rig = self.clone();
        for (leg, links) in rig.legs.iter_mut().zip(counts) {
            leg.links = *links;
        }
        rig
    }
}
