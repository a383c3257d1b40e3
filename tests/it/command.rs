//! The program itself, as a user starts it.

mod kill;
mod plans;
mod talk;
mod walks;
