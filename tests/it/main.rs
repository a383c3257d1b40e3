//! What a user sees: commands, records, sound.

mod figures;
mod grammar;
mod plan;
mod record;
mod walk;
