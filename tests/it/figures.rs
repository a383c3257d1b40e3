//! Figures against published values, handbook formulas and worked statics.

mod air;
mod command;
mod properties;
mod reference;
mod statics;
mod verdicts;
