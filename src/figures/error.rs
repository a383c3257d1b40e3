//! Why a rig has no figures.

use thiserror::Error;

/// Why a rig has no figures. Each message ends in what to do.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RigError {
    /// No leg holds the load.
    #[error("no leg holds the load; give at least one leg")]
    NoLegs,
    /// More legs than one apex takes.
    #[error("{legs} legs on one apex; six is the most, split the lift")]
    TooManyLegs {
        /// How many.
        legs: usize,
    },
    /// A number that cannot be.
    #[error("{what} is {value}; give a number greater than zero")]
    Number {
        /// What it is.
        what: String,
        /// Its value.
        value: f64,
    },
    /// A stretch outside what legs do.
    #[error(
        "{leg} leg stretches by {share} of its length at its rating; give between 0.00001 and 0.5"
    )]
    Stretch {
        /// The leg.
        leg: String,
        /// The stretch as a share.
        share: f64,
    },
    /// The count takes up the whole leg.
    #[error("{leg} leg has no length left with {links} links taken; take fewer links")]
    NoLength {
        /// The leg.
        leg: String,
        /// Its count.
        links: u32,
    },
    /// Two legs are shorter together than their provisions are apart.
    #[error(
        "{one} and {other} legs are {} long together but their provisions are {} apart, so they \
         cannot meet; use longer legs or take fewer links",
        both(*together_m), both(*apart_m)
    )]
    PairCannotReach {
        /// One leg.
        one: String,
        /// The other leg.
        other: String,
        /// Their lengths' sum, m.
        together_m: f64,
        /// The distance of their provisions, m.
        apart_m: f64,
    },
    /// Several legs have no point in common.
    #[error(
        "the legs {legs} cannot meet at one apex, {} is missing; use longer legs or take fewer links",
        both(*short_m)
    )]
    CannotReach {
        /// The legs that are too short.
        legs: String,
        /// By how much the worst is short at the best apex, m.
        short_m: f64,
    },
    /// Nothing holds the load upright.
    #[error(
        "nothing holds the load upright: its centre of gravity is on or above the line or point \
         that it hangs from; add legs, or lift from provisions above the centre of gravity"
    )]
    Unsteady,
    /// The load does not stay upright.
    #[error(
        "the load turns over: it would come to rest {tilt_deg:.0}° from upright; raise the \
         provisions, lengthen the legs, or bring the centre of gravity between the legs and below \
         the apex"
    )]
    TurnsOver {
        /// Where it would come to rest.
        tilt_deg: f64,
    },
    /// The load hangs beside the drops of its spreader.
    #[error(
        "the load's centre of gravity is not between the drops below the spreader, so one of them goes \
         slack; make them fast on either side of it"
    )]
    DropSlack,
    /// Three or more provisions in one line do not hold a load against rolling.
    #[error(
        "the lifting provisions of the legs {legs} lie in one line, so nothing holds the load against \
         rolling about it; give the points as measured, at least one of them beside the line"
    )]
    InLine {
        /// The legs.
        legs: String,
    },
    /// The solver found no rest.
    #[error("no resting attitude was found; check the legs' lengths and provisions")]
    NoRest,
    /// A count that the chain does not have.
    #[error("{leg} leg has counts up to {most}, not {links}; count again from the free end")]
    CountBeyond {
        /// The leg.
        leg: String,
        /// The count as given.
        links: u32,
        /// The highest count of its chain.
        most: u32,
    },
    /// A count for a leg without a chain.
    #[error("{leg} leg has no chain to count; leave its count out")]
    NoChain {
        /// The leg.
        leg: String,
    },
    /// A count for a station that has no leg.
    #[error("no leg at station {station}; the legs are at {known}")]
    NoSuchStation {
        /// The station as given.
        station: String,
        /// The stations with legs, or the legs' names where a station has several.
        known: String,
    },
    /// Two findings of one leg that cannot both be.
    #[error("two things are said to have been found at the {leg} leg; keep one of them")]
    FoundTwice {
        /// The leg.
        leg: String,
    },
    /// A finding for a station that has several legs.
    #[error("station {station} has several legs; name one of them: {legs}")]
    SharedStation {
        /// The station as given.
        station: String,
        /// Its legs.
        legs: String,
    },
}

/// Metres and feet, as the error does not know the plan's unit.
fn both(m: f64) -> String {
    format!("{m:.3} m ({:.2} ft)", m / super::air::FT_M)
}
