//! The rig and the masses that a plan describes.

use super::rig::{HangLimits, Leg, PlusMinus, Rig, STRETCH_AT_RATING};
use super::units::{LengthUnit, MassUnit};
use crate::plan::{self, ChainMode, Elasticity, Plan, Quantity, STANDARD_GRAVITY};
use uom::si::f64::{Length, Mass};

/// The masses of a lift, kg, and the plus or minus of their sums.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Masses {
    /// The load with all its pieces.
    pub load_kg: f64,
    /// Its plus or minus.
    pub load_pm_kg: f64,
    /// The container's or net's own mass.
    pub container_kg: f64,
    /// The spreader's own mass.
    pub spreader_kg: f64,
    /// The sling set with its apex.
    pub set_kg: f64,
    /// What hangs between hook and apex.
    pub rigging_kg: f64,
    /// Plus or minus of everything but the load.
    pub gear_pm_kg: f64,
}

impl Masses {
    /// From a plan.
    pub fn of(plan: &Plan) -> Masses {
        let gear = plan
            .container
            .iter()
            .map(|c| &c.mass)
            .chain(plan.spreader.iter().map(|s| &s.mass))
            .chain([&plan.sling_set.mass])
            .chain(plan.lift.rigging.iter().map(|r| &r.mass));
        Masses {
            load_kg: kg(&plan.load.mass),
            load_pm_kg: plan.load.mass.plus_minus.value,
            container_kg: plan.container.as_ref().map_or(0.0, |c| kg(&c.mass)),
            spreader_kg: plan.spreader.as_ref().map_or(0.0, |s| kg(&s.mass)),
            set_kg: kg(&plan.sling_set.mass),
            rigging_kg: plan.lift.rigging.iter().map(|r| kg(&r.mass)).sum(),
            gear_pm_kg: gear.map(|m| m.plus_minus.value).sum(),
        }
    }

    /// What the legs hold: load, container and spreader, kg.
    pub fn under_legs_kg(&self) -> f64 {
        self.load_kg + self.container_kg + self.spreader_kg
    }

    /// What hangs on the hook apart from the load: container, spreader, set, rigging, kg.
    pub fn gear_kg(&self) -> f64 {
        self.container_kg + self.spreader_kg + self.set_kg + self.rigging_kg
    }
}

impl Rig {
    /// The rig of a plan, with its planned counts. A container is taken to have the load's centre
    /// of gravity; a spreader without one of its own has it in the middle of its provisions.
    pub fn from_plan(plan: &Plan) -> Rig {
        let masses = Masses::of(plan);
        let legs: Vec<Leg> = plan.sling_set.legs.iter().map(|l| leg(plan, l)).collect();
        let length_pm = |l: &plan::Leg| {
            let chain = l.chain.as_ref().map_or(0.0, |c| {
                run_share(c.mode)
                    * (c.length.plus_minus.value
                        + f64::from(c.links) * c.link_pitch.plus_minus.value)
            });
            let place = plan
                .provision(&l.provision)
                .map_or([0.0; 3], |p| p.at.plus_minus_metres());
            let place = place.iter().map(|v| v * v).sum::<f64>().sqrt();
            let hardware = l.hardware.as_ref().map_or(0.0, |h| h.plus_minus.value);
            l.fixed_length.plus_minus.value + hardware + chain + place
        };
        let limits = HangLimits::default();
        Rig {
            name: plan.load.name.clone(),
            mass_kg: masses.under_legs_kg(),
            cg_m: centre(plan, &masses),
            box_m: Some(plan.load.box_m()),
            legs,
            carrying: plan.sling_set.carrying,
            plus_minus: PlusMinus {
                mass_kg: masses.load_pm_kg + masses.gear_pm_kg,
                cg_m: plan.load.centre_of_gravity.plus_minus_metres(),
                leg_length_m: plan
                    .sling_set
                    .legs
                    .iter()
                    .map(length_pm)
                    .fold(0.0, f64::max),
                angle_deg: plan
                    .sling_set
                    .angle_plus_minus
                    .as_ref()
                    .map_or(0.0, |a| super::hang::degrees(a.value.value)),
            },
            dynamic_factor: plan.lift.dynamic_factor.unwrap_or(1.0),
            limits: HangLimits {
                tilt_deg: plan
                    .lift
                    .max_tilt
                    .as_ref()
                    .map_or(limits.tilt_deg, |t| super::hang::degrees(t.value.value)),
                tension_ratio: plan
                    .sling_set
                    .max_tension_ratio
                    .unwrap_or(limits.tension_ratio),
                ..limits
            },
            unit: unit_of(&plan.load.mass.text),
            length_unit: length_unit_of(&plan.load.size.length.text),
        }
    }
}

pub(super) fn kg(mass: &Quantity<Mass>) -> f64 {
    mass.value.value
}

/// The least that a limit may be with its plus or minus, kg.
pub(super) fn least_kg(mass: &Quantity<Mass>) -> f64 {
    mass.value.value - mass.plus_minus.value
}

fn metres(length: &Quantity<Length>) -> f64 {
    length.value.value
}

fn run_share(mode: ChainMode) -> f64 {
    match mode {
        ChainMode::Looped => 0.5,
        ChainMode::Direct => 1.0,
    }
}

fn leg(plan: &Plan, leg: &plan::Leg) -> Leg {
    let provision = plan.provision(&leg.provision);
    let (chain_m, pitch_m, mode, links, links_max) = match &leg.chain {
        None => (0.0, 0.0, ChainMode::Direct, 0, 0),
        Some(chain) => {
            let pitch_m = metres(&chain.link_pitch);
            let all = (metres(&chain.length) / pitch_m).floor();
            (
                run_share(chain.mode) * metres(&chain.length),
                pitch_m,
                chain.mode,
                chain.links,
                // The last link stays on the leg.
                (all.clamp(1.0, 1000.0) as u32).saturating_sub(1),
            )
        }
    };
    let hardware_m = leg.hardware.as_ref().map_or(0.0, metres);
    let mut out = Leg {
        station: leg.station.clone(),
        name: leg_name(plan, leg),
        provision_m: provision.map_or([f64::NAN; 3], |p| p.at.metres()),
        provision_rating_kg: provision.and_then(|p| p.rating.as_ref()).map(least_kg),
        full_length_m: metres(&leg.fixed_length) + hardware_m + chain_m,
        pitch_m,
        mode,
        links,
        planned_links: links,
        links_max,
        rating_kg: least_kg(&leg.rating),
        hitch_keeps: leg.hitch.keeps(),
        stretch_at_rating: STRETCH_AT_RATING,
        missing: false,
        let_go: false,
    };
    match &leg.elasticity {
        None => {}
        Some(Elasticity::StretchAtRating(share)) => out.stretch_at_rating = share.value.value,
        Some(Elasticity::Stiffness(stiffness)) => {
            out.stretch_at_rating =
                out.rating_kg * STANDARD_GRAVITY / (stiffness.value.value * out.length_m());
        }
    }
    out
}

/// The station's spoken name without "corner", or the provision's name where legs share a station.
pub(super) fn leg_name(plan: &Plan, leg: &plan::Leg) -> String {
    let station = plan
        .route()
        .stations
        .iter()
        .find(|s| s.key == leg.station)
        .map_or_else(|| leg.station.replace('-', " "), |s| s.name.clone());
    let place = station
        .strip_suffix(" corner")
        .unwrap_or(&station)
        .to_owned();
    let shared = plan
        .sling_set
        .legs
        .iter()
        .filter(|l| l.station == leg.station)
        .count();
    if shared > 1 {
        leg.provision.replace('-', " ")
    } else {
        place
    }
}

fn centre(plan: &Plan, masses: &Masses) -> [f64; 3] {
    let load = plan.load.centre_of_gravity.metres();
    let Some(spreader) = &plan.spreader else {
        return load;
    };
    let own = spreader.centre_of_gravity.as_ref().map_or_else(
        || {
            let n = spreader.provisions.len() as f64;
            let mut sum = [0.0; 3];
            for provision in &spreader.provisions {
                for (s, v) in sum.iter_mut().zip(provision.at.metres()) {
                    *s += v / n;
                }
            }
            sum
        },
        plan::Point::metres,
    );
    let all = masses.under_legs_kg();
    let mut cg = [0.0; 3];
    for axis in 0..3 {
        cg[axis] = ((masses.load_kg + masses.container_kg) * load[axis]
            + masses.spreader_kg * own[axis])
            / all;
    }
    cg
}

/// The unit that a plan gave a mass in.
pub(super) fn unit_of(text: &str) -> MassUnit {
    let word = text
        .split(|c: char| !c.is_alphabetic())
        .find(|w| !w.is_empty());
    match word {
        Some("lb" | "lbs" | "lbf") => MassUnit::Lb,
        Some("t") => MassUnit::T,
        _ => MassUnit::Kg,
    }
}

/// The unit for lengths where a plan gave one in this unit: feet for feet and inches.
fn length_unit_of(text: &str) -> LengthUnit {
    let word = text
        .split(|c: char| !c.is_alphabetic())
        .find(|w| !w.is_empty());
    match word {
        Some("ft" | "in") => LengthUnit::Ft,
        _ => LengthUnit::M,
    }
}
