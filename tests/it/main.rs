//! What a user sees: commands, records, sound.

mod audio;
mod command;
mod documents;
mod figures;
mod fixtures;
mod fuzz;
mod grammar;
mod model;
mod plan;
mod record;
mod robot;
mod spoken;
mod tryout;
mod walk;
