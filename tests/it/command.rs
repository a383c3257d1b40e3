//! The program itself, as a user starts it.

mod after;
mod denied;
mod disks;
mod fleet;
mod found;
mod guards;
mod kill;
pub mod lines;
mod off_plan;
mod plans;
mod practice;
mod review_heard;
mod reviewed;
pub mod talk;
mod typing;
mod walks;
