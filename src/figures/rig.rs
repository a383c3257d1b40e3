//! The rig as statics sees it: one rigid body under 1 to 6 legs that meet at one apex.
//!
//! Axes of the load: x forward, y left, z up, in metres from the load's own origin.

use super::below::Below;
use super::error::RigError;
use super::units::{LengthUnit, MassUnit};
use crate::plan::{Carrying, ChainMode, STANDARD_GRAVITY};
use nalgebra::Vector3;

/// Most legs on one apex.
pub const LEGS_MAX: usize = 6;

/// Stretch of a leg at its rating where the plan does not say: 1 % of its length.
/// Common practice between chain (less) and fibre rope (more), no source.
pub const STRETCH_AT_RATING: f64 = 0.01;

/// Legs that face each other across the load are out of line by less than this share of the length or width over
/// the provisions (and less than 5 cm always counts). Common practice, no source.
const FACING_SHARE: f64 = 0.25;

/// A carrying assumption in words.
pub fn carrying_words(carrying: Carrying) -> &'static str {
    match carrying {
        Carrying::Two => "two legs carrying",
        Carrying::Three => "three legs carrying",
        Carrying::All => "all legs carrying",
    }
}

/// One leg from the apex to its lifting provision.
#[derive(Clone, Debug, PartialEq)]
pub struct Leg {
    /// The station it belongs to; unique in the rig.
    pub station: String,
    /// The leg's place as spoken ("front left").
    pub name: String,
    /// The lifting provision, metres forward, left, up.
    pub provision_m: [f64; 3],
    /// Most that the provision may take, kg; `None` where the plan does not say.
    pub provision_rating_kg: Option<f64>,
    /// Length from the apex to the provision with the whole chain used, m: rope, hardware, and the
    /// chain (half of it where it is looped).
    pub full_length_m: f64,
    /// Length of one link along the chain, m; 0 where the leg has no chain.
    pub pitch_m: f64,
    /// How the chain is led.
    pub mode: ChainMode,
    /// The link in the grab hook, counted from the free end; 0 where the whole chain is used.
    pub links: u32,
    /// The count that was planned.
    pub planned_links: u32,
    /// The highest count that the chain has; 0 where there is no chain.
    pub links_max: u32,
    /// Rating in straight pull, kg.
    pub rating_kg: f64,
    /// Stretch at the rating as a share of the length.
    pub stretch_at_rating: f64,
    /// Share of its straight rating that its hitch leaves, over 0 to 1.
    pub hitch_keeps: f64,
    /// Whether it is not there, or is as good as not there.
    pub missing: bool,
    /// Whether it is there but hangs slack and carries nothing; `missing` is then set too.
    pub let_go: bool,
}

impl Leg {
    /// What one link takes off the leg, m.
    pub fn link_step_m(&self) -> f64 {
        match self.mode {
            ChainMode::Looped => self.pitch_m / 2.0,
            ChainMode::Direct => self.pitch_m,
        }
    }

    /// Unloaded length from the apex to the provision with the links taken, m.
    pub fn length_m(&self) -> f64 {
        self.full_length_m - f64::from(self.links) * self.link_step_m()
    }

    /// What it may carry with its hitch, kg.
    pub fn holds_kg(&self) -> f64 {
        self.rating_kg * self.hitch_keeps
    }

    /// Stiffness, N/m: the rating's force over the stretch at the rating.
    pub fn stiffness_n_m(&self) -> f64 {
        self.rating_kg * STANDARD_GRAVITY / (self.stretch_at_rating * self.length_m())
    }

    pub(super) fn provision(&self) -> Vector3<f64> {
        Vector3::from(self.provision_m)
    }
}

/// Plus or minus on what was typed in; 0 where the plan does not say.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlusMinus {
    /// On the mass under the legs, kg.
    pub mass_kg: f64,
    /// On the mass of what hangs between hook and legs, kg.
    pub others_kg: f64,
    /// On the centre of gravity, m forward, left, up.
    pub cg_m: [f64; 3],
    /// How far the centre of gravity moves where the mass is at its minus and at its plus, m: a spreader's share of it
    /// is another then.
    pub cg_by_mass_m: [[f64; 3]; 2],
    /// On each leg's length, the place of its provision included, m.
    pub leg_length_m: f64,
    /// Whether every part of a leg's length has a plus or minus of its own, by its place in the rig's legs. A
    /// length without is known to a percent.
    pub lengths_given: [bool; LEGS_MAX],
    /// On each leg's angle as the load hangs, degrees.
    pub angle_deg: f64,
    /// Whether [`STRETCH_AT_RATING`] is taken for a leg because the plan does not say.
    pub stretch: bool,
}

/// Limits on how a load may hang.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HangLimits {
    /// Most tilt, degrees.
    pub tilt_deg: f64,
    /// Most that the hardest pulling leg may pull over the least pulling one, as a ratio.
    pub tension_ratio: f64,
    /// Legs flatter than this are refused, degrees from the horizontal.
    pub angle_refused_deg: f64,
    /// Legs flatter than this are warned of, degrees from the horizontal.
    pub angle_warned_deg: f64,
}

impl Default for HangLimits {
    /// Tilt 5° (the levelness of MIL-STD-1365C 5.7.1.2); legs under 30° refused (OSHA guidance on
    /// safe sling use); 45° and a ratio of 2: common practice, no source.
    fn default() -> Self {
        HangLimits {
            tilt_deg: 5.0,
            tension_ratio: 2.0,
            angle_refused_deg: 30.0,
            angle_warned_deg: 45.0,
        }
    }
}

/// A load and its legs.
#[derive(Clone, Debug, PartialEq)]
pub struct Rig {
    /// The load's name.
    pub name: String,
    /// Mass under the legs, kg.
    pub mass_kg: f64,
    /// Centre of gravity, metres forward, left, up.
    pub cg_m: [f64; 3],
    /// The box that holds the load, lower and upper corner, m; for drawings.
    pub box_m: Option<[[f64; 3]; 2]>,
    /// How the load hangs below a spreader; `None` where load and legs meet at once. With it, `cg_m` is where
    /// the weights of load and spreader act.
    pub below: Option<Below>,
    /// The legs, 1 to [`LEGS_MAX`].
    pub legs: Vec<Leg>,
    /// The carrying assumption that verdicts use.
    pub carrying: Carrying,
    /// Plus or minus on the inputs.
    pub plus_minus: PlusMinus,
    /// Times that the gear is pulled harder than at rest; 1 where nobody says.
    pub dynamic_factor: f64,
    /// Limits on how it may hang.
    pub limits: HangLimits,
    /// The unit in which masses are said.
    pub unit: MassUnit,
    /// The unit in which lengths are said.
    pub length_unit: LengthUnit,
}

impl Rig {
    /// Legs that are there, with their place in `legs`.
    pub fn present(&self) -> impl Iterator<Item = (usize, &Leg)> {
        self.legs.iter().enumerate().filter(|(_, l)| !l.missing)
    }

    /// True up in the load's axes, where `up` is that of what the legs hold.
    ///
    /// # Errors
    /// Where a load below a spreader does not hang between its drops.
    pub(super) fn up_of_load(&self, up: Vector3<f64>) -> Result<Vector3<f64>, RigError> {
        match &self.below {
            Some(Below::Drops(drops)) => drops.up_of_load(up),
            _ => Ok(up),
        }
    }

    /// Whether it is worked out how the load itself hangs.
    pub fn knows_load(&self) -> bool {
        !matches!(self.below, Some(Below::Unknown(_)))
    }

    /// The weight, N.
    pub fn weight_n(&self) -> f64 {
        self.mass_kg * STANDARD_GRAVITY
    }

    /// Refuses numbers that statics cannot use.
    ///
    /// # Errors
    /// The first number or count of legs that cannot be, with what to change.
    pub fn check(&self) -> Result<(), RigError> {
        let present = self.present().count();
        if present == 0 {
            return Err(RigError::NoLegs);
        }
        if self.legs.len() > LEGS_MAX {
            return Err(RigError::TooManyLegs {
                legs: self.legs.len(),
            });
        }
        positive("the load's mass", self.mass_kg)?;
        finite("the load's centre of gravity", &self.cg_m)?;
        for leg in &self.legs {
            let of = |what: &str| format!("{} leg: {what}", leg.name);
            finite(&of("lifting provision"), &leg.provision_m)?;
            positive(&of("rating"), leg.rating_kg)?;
            positive(&of("share that the hitch leaves"), leg.hitch_keeps)?;
            positive(&of("full length"), leg.full_length_m)?;
            if !(leg.pitch_m >= 0.0 && leg.pitch_m.is_finite()) {
                return Err(RigError::Number {
                    what: of("link pitch"),
                    value: leg.pitch_m,
                });
            }
            if !(1e-5..=0.5).contains(&leg.stretch_at_rating) {
                return Err(RigError::Stretch {
                    leg: leg.name.clone(),
                    share: leg.stretch_at_rating,
                });
            }
            if leg.length_m() <= 0.0 {
                return Err(RigError::NoLength {
                    leg: leg.name.clone(),
                    links: leg.links,
                });
            }
        }
        Ok(())
    }
}

impl Rig {
    /// Pairs of legs that face each other across the load, each in the order left, right, as places in
    /// `legs`: each the other's nearest along the load and in height, by no more than a quarter of the greater spread of the provisions.
    pub fn pairs(&self) -> Vec<(usize, usize)> {
        let spread = |axis: usize| {
            let places = self.legs.iter().map(|l| l.provision_m[axis]);
            let (low, high) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), at| {
                (low.min(at), high.max(at))
            });
            high - low
        };
        let middle =
            self.legs.iter().map(|l| l.provision_m[1]).sum::<f64>() / self.legs.len() as f64;
        let out_of_line = (FACING_SHARE * spread(0).max(spread(1))).max(0.05);
        let is_left = |leg: &Leg| leg.provision_m[1] > middle;
        // How far two legs on either side are out of line, along the load or in height.
        let apart = |i: usize, j: usize| {
            let (a, b) = (&self.legs[i], &self.legs[j]);
            let off = |axis: usize| (a.provision_m[axis] - b.provision_m[axis]).abs();
            let faces = is_left(a) != is_left(b) && off(1) > 0.05;
            let most = off(0).max(off(2));
            (faces && most < out_of_line).then_some(most)
        };
        let nearest = |i: usize| {
            let facing = (0..self.legs.len()).filter_map(|j| Some((apart(i, j)?, j)));
            let mut facing: Vec<(f64, usize)> = facing.collect();
            facing.sort_by(|a, b| a.0.total_cmp(&b.0));
            match facing[..] {
                // Two on one provision: which of them is meant cannot be told.
                [(one, _), (other, _), ..] if other - one < 1e-3 => None,
                [(_, j), ..] => Some(j),
                [] => None,
            }
        };
        (0..self.legs.len())
            .filter_map(|i| Some((i, nearest(i)?)))
            .filter(|&(i, j)| i < j && nearest(j) == Some(i))
            .map(|(i, j)| {
                if is_left(&self.legs[i]) {
                    (i, j)
                } else {
                    (j, i)
                }
            })
            .collect()
    }
}

fn positive(what: &str, value: f64) -> Result<(), RigError> {
    if value > 0.0 && value.is_finite() {
        Ok(())
    } else {
        Err(RigError::Number {
            what: what.to_owned(),
            value,
        })
    }
}

fn finite(what: &str, values: &[f64]) -> Result<(), RigError> {
    match values.iter().find(|v| !v.is_finite()) {
        None => Ok(()),
        Some(&value) => Err(RigError::Number {
            what: what.to_owned(),
            value,
        }),
    }
}
