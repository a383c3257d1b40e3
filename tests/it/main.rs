//! What a user sees: commands, records, sound.

mod grammar;
mod figures;
mod plan;
