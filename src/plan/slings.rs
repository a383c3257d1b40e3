//! The sling set: apex, legs, chains.

use crate::plan::{CheckId, Quantity, Stiffness};
use std::ops::Range;
use uom::si::f64::{Angle, Length, Mass, Ratio};

/// The legs with their apex.
#[derive(Clone, Debug, PartialEq)]
pub struct SlingSet {
    /// The name as spoken.
    pub name: String,
    /// Its name in the count tables.
    pub key: String,
    /// What the whole set may lift.
    pub rated_capacity: Quantity<Mass>,
    /// The set's own mass, apex included.
    pub mass: Quantity<Mass>,
    /// How many legs are taken to carry; never more than there are.
    pub carrying: Carrying,
    /// Who says that all legs share; always there where `carrying` is `All`.
    pub carrying_statement: Option<String>,
    /// The fitting that joins the legs, where the plan describes it.
    pub apex: Option<Apex>,
    /// One to six, numbered from 1 without gaps, in the order of their numbers.
    pub legs: Vec<Leg>,
    /// Greatest tension over least tension that is not worth a remark; more than one.
    pub max_tension_ratio: Option<f64>,
    /// How far the angle of a leg may be off what is computed, to either side.
    pub angle_plus_minus: Option<Quantity<Angle>>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

/// How many legs are taken to carry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Carrying {
    /// Two legs carry, the others balance. The default.
    Two,
    /// Three legs carry.
    Three,
    /// All legs share; only where somebody certified it.
    All,
}

/// The fitting that joins the legs.
#[derive(Clone, Debug, PartialEq)]
pub struct Apex {
    /// Its name.
    pub name: String,
    /// What it is rated for.
    pub rating: Option<Quantity<Mass>>,
    /// From where the legs meet to the bearing point on the hook.
    pub height: Option<Quantity<Length>>,
}

/// One leg.
#[derive(Clone, Debug, PartialEq)]
pub struct Leg {
    /// From 1.
    pub number: u32,
    /// The provision of load or spreader that it is made fast to.
    pub provision: String,
    /// Key of the station where its lower end is inspected.
    pub station: String,
    /// What one leg may carry along its length.
    pub rating: Quantity<Mass>,
    /// All that does not change with the link count: rope, wire, or the whole of a plain leg.
    pub fixed_length: Quantity<Length>,
    /// The adjustable end, where there is one.
    pub chain: Option<Chain>,
    /// Further length of hook, shackle or ring in this leg.
    pub hardware: Option<Quantity<Length>>,
    /// How it stretches, where the plan says so.
    pub elasticity: Option<Elasticity>,
    /// How its lower end is made fast.
    pub hitch: Hitch,
    /// The check of the route whose count is this leg's links in the hook, where the route has one.
    pub count_check: Option<CheckId>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

/// The adjustable end of a leg: a chain with a grab hook. Links are counted from the free end; the
/// link of that number sits in the hook.
#[derive(Clone, Debug, PartialEq)]
pub struct Chain {
    /// All of it, stretched out.
    pub length: Quantity<Length>,
    /// Length that one more link takes up; more than zero.
    pub link_pitch: Quantity<Length>,
    /// How it is led.
    pub mode: ChainMode,
    /// The planned count: 0 where the whole chain is used.
    pub links: u32,
}

impl Chain {
    /// The greatest count that a chain can have: of all its links the last stays on the leg. At most 999.
    pub fn links_max(length: &Quantity<Length>, link_pitch: &Quantity<Length>) -> u32 {
        // 1.152 m of 24 mm each are 48 links, and 47.999... by the arithmetic.
        let all = (length.value.value / link_pitch.value.value + LINK_HAIR).floor();
        (all.clamp(1.0, 1000.0) as u32) - 1
    }
}

/// Parts of a link that are rounding.
const LINK_HAIR: f64 = 1e-6;

/// How a chain is led from its leg to the provision.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChainMode {
    /// Through the provision and back to the grab hook, so that one link moves half a pitch: with
    /// count n it adds (length - n · pitch) / 2 to the leg.
    Looped,
    /// Straight, so that one link moves a whole pitch: with count n it adds length - n · pitch.
    Direct,
}

/// How the lower end of a leg is made fast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hitch {
    /// To the provision, pulled straight.
    Straight,
    /// Round the load and through itself.
    Choker {
        /// Share of the straight rating that is left, over 0 and under 1.
        keeps: f64,
    },
}

impl Hitch {
    /// What a choker keeps where the plan does not say: 75 percent, as a published rigging quiz of a
    /// crane safety authority (British Columbia) works it.
    pub const CHOKER_KEEPS: f64 = 0.75;

    /// Share of the straight rating that is left, over 0 to 1.
    pub fn keeps(self) -> f64 {
        match self {
            Hitch::Straight => 1.0,
            Hitch::Choker { keeps } => keeps,
        }
    }
}

/// How a leg stretches.
#[derive(Clone, Debug, PartialEq)]
pub enum Elasticity {
    /// Force per stretch of the leg at its planned length.
    Stiffness(Quantity<Stiffness>),
    /// Stretch at the leg's rating as a share of its length.
    StretchAtRating(Quantity<Ratio>),
}
