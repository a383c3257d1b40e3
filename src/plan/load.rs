//! The load: what hangs below the slings.

use crate::plan::Quantity;
use std::ops::Range;
use uom::si::f64::{Length, Mass};

/// What hangs below the slings. Points are given from an origin of the planner's choice on the load,
/// which stands level: forward, left and up.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// The name as spoken.
    pub name: String,
    /// How it behaves under its slings.
    pub kind: LoadKind,
    /// All that hangs below the legs except container and spreader; more than zero.
    pub mass: Quantity<Mass>,
    /// How the mass is known ("load cell at the roadhead").
    pub mass_from: String,
    /// Outer size.
    pub size: Size,
    /// Where the mass of the load, all pieces together, is centred.
    pub centre_of_gravity: Point,
    /// Where legs may be made fast, in file order; at least one where there is no spreader, whose own
    /// are in [`crate::plan::Spreader`]. Below a spreader: where its drops are made fast.
    pub provisions: Vec<Provision>,
    /// The pieces of a coupled load; empty for a single one.
    pub pieces: Vec<Piece>,
    /// The rigging procedure followed, where there is one.
    pub procedure: Option<Procedure>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

/// How a load behaves under its slings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LoadKind {
    /// Keeps its shape; legs cannot even out among themselves.
    Rigid,
    /// Long goods tied together.
    Bundle,
    /// Loose goods in a net or bag, which takes its shape from the legs.
    Net,
}

/// Outer size, each more than zero.
#[derive(Clone, Debug, PartialEq)]
pub struct Size {
    /// Front to rear.
    pub length: Quantity<Length>,
    /// Side to side.
    pub width: Quantity<Length>,
    /// Bottom to top.
    pub height: Quantity<Length>,
}

/// A point of the load.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Forward of the origin; negative to the rear.
    pub forward: Quantity<Length>,
    /// Left of the origin; negative to the right.
    pub left: Quantity<Length>,
    /// Above the origin; negative below.
    pub up: Quantity<Length>,
}

impl Point {
    /// Forward, left and up in metres.
    pub fn metres(&self) -> [f64; 3] {
        [
            self.forward.value.value,
            self.left.value.value,
            self.up.value.value,
        ]
    }

    /// The plus or minus of [`Self::metres`].
    pub fn plus_minus_metres(&self) -> [f64; 3] {
        [
            self.forward.plus_minus.value,
            self.left.plus_minus.value,
            self.up.plus_minus.value,
        ]
    }
}

/// A point made for lifting by.
#[derive(Clone, Debug, PartialEq)]
pub struct Provision {
    /// Short name without blanks, unique among load and spreader.
    pub name: String,
    /// Where it is.
    pub at: Point,
    /// What it is rated for, along the leg.
    pub rating: Option<Quantity<Mass>>,
    /// The piece that carries it, in a coupled load.
    pub piece: Option<String>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

/// One piece of a coupled load.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its name.
    pub name: String,
    /// More than zero.
    pub mass: Quantity<Mass>,
    /// In the load's own axes.
    pub centre_of_gravity: Point,
    /// Outer size, where given.
    pub size: Option<Size>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

/// The procedure by which the load was rigged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Procedure {
    /// How far it was proven.
    pub status: ProcedureStatus,
    /// Its title.
    pub title: String,
    /// Who issued it.
    pub issued_by: String,
}

/// How far a rigging procedure was proven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProcedureStatus {
    /// Flown and certified.
    Certified,
    /// Judged suitable, by calculation or by likeness.
    Suitable,
    /// For this one lift, at somebody's named risk.
    OneTime,
}

/// A container or net round the goods.
#[derive(Clone, Debug, PartialEq)]
pub struct Container {
    /// Its name.
    pub name: String,
    /// What may be put into it.
    pub limit: Quantity<Mass>,
    /// Its own mass.
    pub mass: Quantity<Mass>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

/// A bar or frame between the legs and the load, which hangs below it on plumb drops.
#[derive(Clone, Debug, PartialEq)]
pub struct Spreader {
    /// Its name.
    pub name: String,
    /// Its own mass.
    pub mass: Quantity<Mass>,
    /// What may hang below it.
    pub rating: Quantity<Mass>,
    /// End to end.
    pub length: Quantity<Length>,
    /// Length of the drops to the load's provisions, 0 where the load is fixed to the spreader; `None` where
    /// the plan does not say.
    pub drops: Option<Quantity<Length>>,
    /// In the load's axes; `None`: in the middle of its provisions.
    pub centre_of_gravity: Option<Point>,
    /// Where the legs above are made fast, in the load's axes; at least one.
    pub provisions: Vec<Provision>,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}
