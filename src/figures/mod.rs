//! Statics, capacity and air density: pure functions on SI quantities.

mod error;
mod hang;
mod rest;
mod rig;
mod verdict;

pub use error::RigError;
pub use hang::{Hang, HungLeg, hang, shared};
pub use rig::{
    Carrying, G0_M_S2, HangLimits, Hooking, LEGS_MAX, Leg, Piece, PlusMinus, Rig,
    STRETCH_AT_RATING, couple,
};
pub use verdict::{CAUTION, Grade, MassUnit, Quantity, Question, Verdict};
