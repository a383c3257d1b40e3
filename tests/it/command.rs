//! The program itself, as a user starts it.

mod kill;
mod plans;
pub mod talk;
mod walks;
