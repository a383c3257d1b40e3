//! The rig and the masses that a plan describes.

use super::below::Below;
use super::rig::{HangLimits, LEGS_MAX, Leg, PlusMinus, Rig, STRETCH_AT_RATING};
use super::units::{LengthUnit, MassUnit};
use crate::plan::{
    self, ChainMode, Elasticity, Measured, Plan, Quantity, STANDARD_GRAVITY, unit_word,
};
use uom::si::f64::{Length, Mass};

/// The masses of a lift, kg, each with its plus or minus.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Masses {
    /// The load with all its pieces.
    pub load_kg: f64,
    /// Its plus or minus.
    pub load_pm_kg: f64,
    /// The container's or net's own mass.
    pub container_kg: f64,
    /// Its plus or minus.
    pub container_pm_kg: f64,
    /// The spreader's own mass.
    pub spreader_kg: f64,
    /// Its plus or minus.
    pub spreader_pm_kg: f64,
    /// The sling set with its apex.
    pub set_kg: f64,
    /// Its plus or minus.
    pub set_pm_kg: f64,
    /// What hangs between hook and apex.
    pub rigging_kg: f64,
    /// Its plus or minus.
    pub rigging_pm_kg: f64,
}

impl Masses {
    /// From a plan.
    pub fn of(plan: &Plan) -> Masses {
        let container = plan.container.as_ref().map(|c| &c.mass);
        let spreader = plan.spreader.as_ref().map(|s| &s.mass);
        let rigging = || plan.lift.rigging.iter().map(|r| &r.mass);
        Masses {
            load_kg: kg(&plan.load.mass),
            load_pm_kg: pm(&plan.load.mass),
            container_kg: container.map_or(0.0, kg),
            container_pm_kg: container.map_or(0.0, pm),
            spreader_kg: spreader.map_or(0.0, kg),
            spreader_pm_kg: spreader.map_or(0.0, pm),
            set_kg: kg(&plan.sling_set.mass),
            set_pm_kg: pm(&plan.sling_set.mass),
            rigging_kg: rigging().map(kg).sum(),
            rigging_pm_kg: rigging().map(pm).sum(),
        }
    }

    /// All of them off by this share of their plus or minus.
    pub(super) fn off_by(&self, share: f64) -> Masses {
        Masses {
            load_kg: self.load_kg + share * self.load_pm_kg,
            container_kg: self.container_kg + share * self.container_pm_kg,
            spreader_kg: self.spreader_kg + share * self.spreader_pm_kg,
            set_kg: self.set_kg + share * self.set_pm_kg,
            rigging_kg: self.rigging_kg + share * self.rigging_pm_kg,
            ..*self
        }
    }

    /// Plus or minus of what the legs hold, kg.
    pub fn under_legs_pm_kg(&self) -> f64 {
        self.load_pm_kg + self.container_pm_kg + self.spreader_pm_kg
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
        let limits = HangLimits::default();
        let mut rig = Rig {
            name: plan.load.name.clone(),
            mass_kg: masses.under_legs_kg(),
            cg_m: centre(plan, &masses),
            box_m: Some(plan.load.box_m()),
            below: below(plan, &masses),
            legs,
            carrying: plan.sling_set.carrying,
            plus_minus: PlusMinus {
                mass_kg: masses.under_legs_pm_kg(),
                others_kg: masses.set_pm_kg + masses.rigging_pm_kg,
                cg_m: centre_pm(plan, &masses),
                cg_by_mass_m: [-1.0, 1.0].map(|off| {
                    let there = centre(plan, &masses.off_by(off));
                    let typed_in = centre(plan, &masses);
                    std::array::from_fn(|axis| there[axis] - typed_in[axis])
                }),
                leg_length_m: 0.0,
                lengths_given: [false; LEGS_MAX],
                angle_deg: plan.sling_set.angle_plus_minus.as_ref().map_or(0.0, |a| {
                    super::hang::degrees(a.value.value + a.plus_minus.value)
                }),
                stretch: plan.sling_set.legs.iter().any(|l| l.elasticity.is_none()),
            },
            dynamic_factor: plan.lift.dynamic_factor.unwrap_or(1.0),
            limits: HangLimits {
                tilt_deg: plan.lift.max_tilt.as_ref().map_or(limits.tilt_deg, |t| {
                    super::hang::degrees((t.value.value - t.plus_minus.value).max(0.0))
                }),
                tension_ratio: plan
                    .sling_set
                    .max_tension_ratio
                    .unwrap_or(limits.tension_ratio),
                ..limits
            },
            unit: unit_of(&plan.load.mass.text),
            length_unit: length_unit_of(&plan.load.size.length.text),
        };
        rig.allow_for_lengths(plan);
        rig
    }

    /// Plus or minus of the legs' lengths. A provision that is elsewhere than was measured is as a leg so much
    /// longer or shorter along its run. If all are off to one side, that is as the centre of gravity off to the
    /// other; up and down, where one or two legs swing with their provisions.
    fn allow_for_lengths(&mut self, plan: &Plan) {
        let legs = &plan.sling_set.legs;
        let hung = super::hang::hang(self).ok();
        let (mut most, mut flatter_deg) = (0.0_f64, 0.0_f64);
        for (at, leg) in legs.iter().enumerate() {
            let chain = leg.chain.as_ref().map_or(0.0, |c| {
                run_share(c.mode) * (pm(&c.length) + f64::from(c.links) * pm(&c.link_pitch))
            });
            let hardware = leg.hardware.as_ref().map_or(0.0, pm);
            let parts = [&leg.fixed_length].into_iter().chain(&leg.hardware);
            let mut parts = parts.chain(leg.chain.as_ref().map(|c| &c.length));
            if let Some(given) = self.plus_minus.lengths_given.get_mut(at) {
                *given = parts.all(|part| pm(part) > 0.0);
            }
            let off = plan
                .provision(&leg.provision)
                .map_or([0.0; 3], |p| p.at.plus_minus_metres());
            let along = match &hung {
                Some(hung) => {
                    let run: [f64; 3] = std::array::from_fn(|axis| {
                        hung.apex_m[axis] - self.legs[at].provision_m[axis]
                    });
                    let long = run.iter().map(|v| v * v).sum::<f64>().sqrt();
                    // Further out a leg also stands flatter than one that is shorter by as much: by
                    // out · sin(angle) / length.
                    let level = run[0].hypot(run[1]);
                    let out = (0..2)
                        .map(|axis| off[axis] * (run[axis] / level.max(1e-9)).abs())
                        .sum::<f64>();
                    let flatter = super::hang::degrees(out * hung.legs[at].sine / long);
                    if legs.len() > 1 {
                        flatter_deg = flatter_deg.max(flatter);
                    }
                    (0..3)
                        .map(|axis| off[axis] * (run[axis] / long).abs())
                        .sum::<f64>()
                }
                None => off.iter().map(|v| v * v).sum::<f64>().sqrt(),
            };
            most = most.max(pm(&leg.fixed_length) + hardware + chain + along);
            let axes = if legs.len() < 3 { 3 } else { 2 };
            for (cg, off) in self.plus_minus.cg_m.iter_mut().zip(off).take(axes) {
                *cg += off / legs.len() as f64;
            }
        }
        self.plus_minus.leg_length_m = most;
        self.plus_minus.angle_deg += flatter_deg;
    }
}

pub(super) fn kg(mass: &Quantity<Mass>) -> f64 {
    mass.value.value
}

/// A plus or minus in SI units.
fn pm<T: Measured>(quantity: &Quantity<T>) -> f64 {
    T::spread_si(quantity.plus_minus)
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
        Some(chain) => (
            run_share(chain.mode) * metres(&chain.length),
            metres(&chain.link_pitch),
            chain.mode,
            chain.links,
            plan::Chain::links_max(&chain.length, &chain.link_pitch),
        ),
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
    let on_provision = |l: &&plan::Leg| l.provision == leg.provision;
    let of_provision = plan.sling_set.legs.iter().filter(on_provision).count();
    if shared > 1 {
        let provision = leg.provision.replace('-', " ");
        if of_provision > 1 {
            format!("{provision} {}", leg.number)
        } else {
            provision
        }
    } else {
        place
    }
}

/// Where a spreader has its own centre of gravity, m, and the plus or minus of it.
fn centre_of_spreader(spreader: &plan::Spreader) -> ([f64; 3], [f64; 3]) {
    if let Some(own) = &spreader.centre_of_gravity {
        return (own.metres(), own.plus_minus_metres());
    }
    let n = spreader.provisions.len() as f64;
    let (mut sum, mut off) = ([0.0; 3], [0.0; 3]);
    for provision in &spreader.provisions {
        let (at, pm) = (provision.at.metres(), provision.at.plus_minus_metres());
        for axis in 0..3 {
            sum[axis] += at[axis] / n;
            off[axis] += pm[axis] / n;
        }
    }
    (sum, off)
}

fn below(plan: &Plan, masses: &Masses) -> Option<Below> {
    Below::of(
        plan,
        (masses.load_kg + masses.container_kg) / masses.under_legs_kg(),
    )
}

/// Where the weight of all that the legs hold acts, m.
fn centre(plan: &Plan, masses: &Masses) -> [f64; 3] {
    let mut load = plan.load.centre_of_gravity.metres();
    let Some(spreader) = &plan.spreader else {
        return load;
    };
    if let Some(Below::Drops(drops)) = below(plan, masses) {
        load = drops.acts_at_m();
    }
    let (own, _) = centre_of_spreader(spreader);
    let hung = masses.load_kg + masses.container_kg;
    std::array::from_fn(|axis| {
        (hung * load[axis] + masses.spreader_kg * own[axis]) / masses.under_legs_kg()
    })
}

/// How far the centre of gravity of all that the legs hold may be off with all masses off the same way, m: that of
/// the load, with a spreader both by their masses, and where it comes to lie as the spreader's own mass is off.
fn centre_pm(plan: &Plan, masses: &Masses) -> [f64; 3] {
    let mut load_pm = plan.load.centre_of_gravity.plus_minus_metres();
    let Some(spreader) = &plan.spreader else {
        return load_pm;
    };
    if let Some(Below::Drops(drops)) = below(plan, masses) {
        load_pm = drops.acts_pm_m(load_pm, spreader.drops.as_ref().map_or(0.0, pm));
    }
    let (_, own_pm) = centre_of_spreader(spreader);
    let mut most = [0.0_f64; 3];
    for hung in [-1.0, 0.0, 1.0] {
        let together = masses.off_by(hung);
        for own in [-1.0, 1.0] {
            let mut off = together;
            off.spreader_kg = masses.spreader_kg + own * masses.spreader_pm_kg;
            let share = off.spreader_kg / off.under_legs_kg();
            let (there, here) = (centre(plan, &off), centre(plan, &together));
            for axis in 0..3 {
                let places = (1.0 - share) * load_pm[axis] + share * own_pm[axis];
                most[axis] = most[axis].max((there[axis] - here[axis]).abs() + places);
            }
        }
    }
    most
}

/// The unit that a plan gave a mass in.
pub(super) fn unit_of(text: &str) -> MassUnit {
    match unit_word(text) {
        "lb" | "lbs" | "lbf" => MassUnit::Lb,
        "t" => MassUnit::T,
        _ => MassUnit::Kg,
    }
}

/// The unit for lengths where a plan gave one in this unit: feet for feet and inches.
fn length_unit_of(text: &str) -> LengthUnit {
    match unit_word(text) {
        "ft" | "in" => LengthUnit::Ft,
        _ => LengthUnit::M,
    }
}
