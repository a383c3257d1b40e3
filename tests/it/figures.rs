//! Figures against published values, handbook formulas and worked statics.

mod air;
mod allowable;
mod basis;
mod command;
mod design;
mod gear;
mod idle;
mod level;
mod picture;
mod properties;
mod reference;
mod spreader;
mod statics;
mod steeper;
mod stove;
mod tables;
mod verdicts;
mod worst;
