//! A rig as found on the walk, and what the difference to the plan does to the lift.

use super::error::RigError;
use super::hang::{Hang, hang};
use super::plus_minus::within_at_worst;
use super::rig::{Leg, Rig};

/// Something found to be other than planned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// The link in the grab hook at a station, or of a leg where several are inspected at one station.
    Links {
        /// The station's key, or the leg's name with hyphens.
        station: String,
        /// The count found.
        links: u32,
    },
    /// A leg that is there but hangs slack and carries nothing, as one caught or not hooked in.
    Slack {
        /// The station's key.
        station: String,
    },
    /// A leg that is not there.
    Missing {
        /// The station's key.
        station: String,
    },
}

impl Found {
    /// Whether it says otherwise than another finding of the same leg, however both name that.
    fn differs(&self, other: &Found) -> bool {
        match (self, other) {
            (Found::Links { links: one, .. }, Found::Links { links: other, .. }) => one != other,
            (Found::Slack { .. }, Found::Slack { .. }) => false,
            (Found::Missing { .. }, Found::Missing { .. }) => false,
            _ => true,
        }
    }
}

impl Rig {
    /// The rig as found. What is not named stays as planned.
    ///
    /// # Errors
    /// A station without a leg or with several, a count that its chain does not have, or two findings of one leg
    /// that cannot both be.
    pub fn as_found(&self, found: &[Found]) -> Result<Rig, RigError> {
        let mut rig = self.clone();
        let mut named: Vec<(usize, &Found)> = Vec::new();
        for finding in found {
            let (Found::Links { station, .. }
            | Found::Slack { station }
            | Found::Missing { station }) = finding;
            let at = self.leg_at(station)?;
            if named
                .iter()
                .any(|(leg, other)| *leg == at && other.differs(finding))
            {
                return Err(RigError::FoundTwice {
                    leg: self.legs[at].name.clone(),
                });
            }
            named.push((at, finding));
            match *finding {
                Found::Missing { .. } => rig.legs[at].missing = true,
                Found::Slack { .. } => {
                    rig.legs[at].missing = true;
                    rig.legs[at].let_go = true;
                }
                Found::Links { links, .. } => rig = rig.with_links(at, links)?,
            }
        }
        Ok(rig)
    }

    /// The rig with this link in the grab hook of the leg at this place in `legs`.
    ///
    /// # Errors
    /// A leg without a chain, or a count that its chain does not have.
    pub fn with_links(mut self, at: usize, links: u32) -> Result<Rig, RigError> {
        let leg = &mut self.legs[at];
        if leg.pitch_m == 0.0 {
            let leg = leg.name.clone();
            return Err(RigError::NoChain { leg });
        }
        if links > leg.links_max {
            return Err(RigError::CountBeyond {
                leg: leg.name.clone(),
                links,
                most: leg.links_max,
            });
        }
        leg.links = links;
        Ok(self)
    }

    /// The legs whose count is not the planned one, each with both ("rear right at 8 for 3").
    pub fn miscounted(&self) -> Vec<String> {
        let off = |leg: &&Leg| !leg.missing && leg.links != leg.planned_links;
        let told = |leg: &Leg| format!("{} at {} for {}", leg.name, leg.links, leg.planned_links);
        self.legs.iter().filter(off).map(told).collect()
    }

    /// The leg at a station, or of a name, as a place in `legs`.
    fn leg_at(&self, named: &str) -> Result<usize, RigError> {
        let name = |leg: &Leg| leg.name.replace(' ', "-");
        let here: Vec<usize> = (0..self.legs.len())
            .filter(|&at| self.legs[at].station == named)
            .collect();
        match here[..] {
            [at] => Ok(at),
            [] => {
                let by_name = self.legs.iter().position(|leg| name(leg) == named);
                by_name.ok_or_else(|| RigError::NoSuchStation {
                    station: named.to_owned(),
                    known: self.ways_to_name().join(", "),
                })
            }
            _ => Err(RigError::SharedStation {
                station: named.to_owned(),
                legs: here
                    .iter()
                    .map(|&at| name(&self.legs[at]))
                    .collect::<Vec<_>>()
                    .join(", "),
            }),
        }
    }

    /// What each leg can be named by, in their order: its station, or its own name where that has several.
    pub fn ways_to_name(&self) -> Vec<String> {
        let sharing = |station: &str| self.legs.iter().filter(|l| l.station == station).count();
        let way = |leg: &Leg| match sharing(&leg.station) {
            1 => leg.station.clone(),
            _ => leg.name.replace(' ', "-"),
        };
        self.legs.iter().map(way).collect()
    }
}

/// What a rig as found does, against the plan.
#[derive(Clone, Debug, PartialEq)]
pub struct Miscount {
    /// Whether it is worth saying: the attitude moves by half a degree, a leg pulls a twentieth more,
    /// a leg goes slack, a limit that the plan keeps at the worst of its plus and minus is passed, or
    /// the load no longer hangs.
    pub matters: bool,
    /// One sentence ("rear right at 8 for 3: the load hangs 2.1° nose up, front legs carry 14 % more by stiffness").
    /// Pulls in it are those by the legs' stiffness, and it says so, unless statics alone give them.
    /// It names the planned count, so it may only be said after the count was given.
    pub sentence: String,
    /// The same without the counts ("the load hangs 2.1° nose up, front legs carry 14 % more by stiffness"): it
    /// tells no count that is still to be taken, or to be taken again.
    pub effect: String,
}

impl Miscount {
    fn new(matters: bool, what: &str, effect: String) -> Self {
        Self {
            matters,
            sentence: format!("{what}: {effect}"),
            effect,
        }
    }

    /// The sentence for a voice.
    pub fn spoken(&self) -> String {
        voiced(&self.sentence)
    }

    /// The effect for a voice.
    pub fn spoken_effect(&self) -> String {
        voiced(&self.effect)
    }
}

fn voiced(text: &str) -> String {
    text.replace('°', " degrees").replace(" %", " percent")
}

/// Change of attitude that is worth saying, degrees. Common practice, no source.
const TURN_DEG: f64 = 0.5;
/// Rise of a pull that is worth saying, percent. Common practice, no source.
const RISE_PERCENT: f64 = 5.0;
/// Rises of at least this share of the greatest are said together with it.
const TOGETHER: f64 = 0.75;

/// What `found` does against `planned`; `None` where they do not differ.
pub fn miscount(planned: &Rig, found: &Rig) -> Option<Miscount> {
    let mut what = Vec::new();
    for (plan, here) in planned.legs.iter().zip(&found.legs) {
        if here.missing && !plan.missing {
            let word = if here.let_go { "slack" } else { "missing" };
            what.push(format!("{} leg {word}", here.name));
        } else if here.links != plan.links {
            what.push(format!(
                "{} at {} for {}",
                here.name, here.links, plan.links
            ));
        }
    }
    if what.is_empty() {
        return None;
    }
    let what = what.join(", ");
    Some(match (hang(planned), hang(found)) {
        (Ok(before), Ok(after)) => compare(&what, [planned, found], [&before, &after]),
        (Err(error), _) => {
            let effect = format!("the plan itself does not hang, {error}");
            Miscount::new(true, &what, effect)
        }
        (_, Err(error)) => Miscount::new(true, &what, error.to_string()),
    })
}

fn compare(what: &str, [planned, rig]: [&Rig; 2], [before, after]: [&Hang; 2]) -> Miscount {
    let cosine: f64 = before.up.iter().zip(after.up).map(|(a, b)| a * b).sum();
    let turn_deg = super::hang::degrees(libm::acos(cosine.clamp(-1.0, 1.0)));
    let mut parts = vec![format!("the load hangs {}", after.lean())];
    let mut matters = turn_deg >= TURN_DEG;

    // Verdicts and pictures have pulls by how many legs are taken to carry, where that decides.
    let by = match before.determinate && after.determinate {
        true => "",
        false => " by stiffness",
    };
    let slack: Vec<&str> = before
        .legs
        .iter()
        .zip(&after.legs)
        .filter(|(b, a)| a.slack && !b.slack && !a.missing)
        .map(|(_, a)| a.name.as_str())
        .collect();
    // A hair of pull before is no base for a percentage.
    let little = 0.01 * rig.weight_n();
    let rises: Vec<f64> = before
        .legs
        .iter()
        .zip(&after.legs)
        .map(|(b, a)| {
            if b.tension_n < little {
                return 0.0;
            }
            (a.tension_n - b.tension_n) / b.tension_n * 100.0
        })
        .collect();
    // What next to nothing becomes has no percentage worth saying.
    let come: Vec<String> = before
        .legs
        .iter()
        .zip(&after.legs)
        .filter(|(b, a)| b.tension_n < little && a.tension_n >= 5.0 * little)
        .map(|(_, a)| {
            let kg = a.tension_n / crate::plan::STANDARD_GRAVITY;
            format!("{} leg comes to carry {}{by}", a.name, rig.unit.written(kg))
        })
        .collect();
    let most = rises.iter().copied().fold(0.0, f64::max);
    if most >= RISE_PERCENT {
        matters = true;
        let up: Vec<usize> = (0..rises.len())
            .filter(|&i| rises[i] >= RISE_PERCENT && rises[i] >= TOGETHER * most)
            .collect();
        let carry = if up.len() == 1 { "carries" } else { "carry" };
        let least = up.iter().map(|&i| rises[i]).fold(most, f64::min);
        let rise = if most - least < 1.0 {
            format!("{most:.0} %")
        } else {
            format!("{least:.0} to {most:.0} %")
        };
        parts.push(format!("{} {carry} {rise} more{by}", group(rig, &up)));
    }
    matters |= !come.is_empty();
    parts.extend(come);
    if !slack.is_empty() {
        matters = true;
        let (legs, hang) = if slack.len() == 1 {
            ("leg", "hangs")
        } else {
            ("legs", "hang")
        };
        parts.push(format!("{} {legs} {hang} slack", and(&slack)));
    }
    if within_at_worst(planned) && !within_at_worst(rig) {
        matters = true;
        parts.push("at worst that is over a limit on tilt, leg angle or rating".to_owned());
    }
    let effect = if matters {
        parts.join(", ")
    } else {
        format!("{}, it changes little", parts[0])
    };
    Miscount::new(matters, what, effect)
}

/// Legs by the side that they make up, else by name.
fn group(rig: &Rig, legs: &[usize]) -> String {
    let n = rig.legs.len() as f64;
    let middle = |axis: usize| rig.legs.iter().map(|l| l.provision_m[axis]).sum::<f64>() / n;
    for (axis, plus, minus) in [(0, "front", "rear"), (1, "left", "right")] {
        let side = |positive: bool| -> Vec<usize> {
            (0..rig.legs.len())
                .filter(|&i| {
                    let off = rig.legs[i].provision_m[axis] - middle(axis);
                    off.abs() > 0.05 && (off > 0.0) == positive
                })
                .collect()
        };
        for (positive, name) in [(true, plus), (false, minus)] {
            if legs.len() > 1 && side(positive) == legs {
                return format!("{name} legs");
            }
        }
    }
    let names: Vec<&str> = legs.iter().map(|&i| rig.legs[i].name.as_str()).collect();
    format!(
        "{} {}",
        and(&names),
        if legs.len() == 1 { "leg" } else { "legs" }
    )
}

fn and(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
