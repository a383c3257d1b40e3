//! Many records: an index of a folder of them, what they tell together, exports.
//!
//! The index is a SQLite file made from the records, which stay the only evidence: it can be removed
//! at any time, and it neither verifies a seal's trust nor reads a sound.

mod copies;
mod error;
mod export;
mod facts;
mod index;
#[cfg(feature = "parquet")]
mod parquet;
mod people;
mod plot;
mod practice;
mod query;
mod tally;
mod text;

pub use error::FleetError;
pub use index::{INDEX_FILE, Index, Refreshed};
pub use plot::plots;
pub use practice::{LearnerRow, PracticeRow, Progress, TimesMissed, progress_text};
pub use query::{By, CheckRow, Filter, GroupRow, NoiseRow, Row, Trends};
pub use text::{list_text, trends_text};

#[cfg(test)]
mod tests;
