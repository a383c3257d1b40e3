//! The plan file: a load, its slings, the lift and the checks round it, and its expansion to a route.
//!
//! `plans/README.md` describes the file. [`read()`] takes its text and gives a [`Plan`], or all that is
//! wrong with it at once. Everything here is pure.

mod expand;
mod lift;
pub mod limits;
mod load;
mod options;
mod outline;
mod quantity;
mod read;
mod route;
mod slings;

use crate::diagnostic::Finding;

pub(crate) use expand::capital;
pub use expand::{CONTROL_PHRASES, SPOKEN_UNITS};
pub use lift::{
    Allowable, AllowableTable, Lift, LiftedBy, Rigging, Site, SiteAltitude, TableGives,
};
pub use load::{
    Container, Load, LoadKind, Piece, Point, Procedure, ProcedureStatus, Provision, Size, Spreader,
};
pub use options::{CountTable, LoadOption};
pub(crate) use quantity::unit_word;
pub use quantity::{Measured, Quantity, STANDARD_GRAVITY, Stiffness, Unit};
pub use read::{FORMAT, read};
pub use route::{
    Check, CheckId, CheckKind, Compare, Condition, LeftOut, NamedState, Relation, Route, Station,
    Test, parts_a_tag, tag_signs,
};
pub use slings::{Apex, Carrying, Chain, ChainMode, Elasticity, Hitch, Leg, SlingSet};

/// A plan in which everything holds together.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// What hangs below the slings.
    pub load: Load,
    /// The legs with their apex.
    pub sling_set: SlingSet,
    /// Who lifts and what may hang on the hook today.
    pub lift: Lift,
    /// The container or net, where one is used.
    pub container: Option<Container>,
    /// The bar or frame between legs and load, where one is used.
    pub spreader: Option<Spreader>,
    /// Options of the load.
    pub options: Vec<LoadOption>,
    /// Count tables.
    pub counts: Vec<CountTable>,
    pub(crate) route: Route,
    pub(crate) warnings: Vec<Finding>,
    pub(crate) doubts: Vec<Finding>,
}

impl Plan {
    /// What this build of the load asks for, in walking order.
    pub fn route(&self) -> &Route {
        &self.route
    }

    /// What is worth a look, in file order.
    pub fn warnings(&self) -> &[Finding] {
        &self.warnings
    }

    /// Those of the [warnings](Self::warnings) that bear on whether the lift is strong enough or hangs as
    /// computed: slips of unit, sign or place, and counts that nobody checks.
    pub fn doubts(&self) -> &[Finding] {
        &self.doubts
    }

    /// The lifting provision of load or spreader with that name.
    pub fn provision(&self, name: &str) -> Option<&Provision> {
        let spreader = self.spreader.iter().flat_map(|s| &s.provisions);
        self.load
            .provisions
            .iter()
            .chain(spreader)
            .find(|p| p.name == name)
    }
}
