//! Figures against published values, handbook formulas and worked statics.

mod air;
mod statics;
