//! Figures against published values, handbook formulas and worked statics.

mod air;
mod properties;
mod reference;
mod statics;
mod verdicts;
