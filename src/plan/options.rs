//! Options of a load and count tables.

/// A property in which builds of the load differ.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LoadOption {
    /// Short name without blanks.
    pub name: String,
    /// What it may be.
    pub values: Vec<String>,
    /// What it is today; one of `values`.
    pub chosen: String,
}

/// Counts by sling set and station.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CountTable {
    /// Its name.
    pub name: String,
    /// Sets, each with its counts by station key.
    pub sets: Vec<(String, Vec<(String, u32)>)>,
}

impl CountTable {
    /// The count for a sling set at a station.
    pub fn count(&self, set: &str, station: &str) -> Option<u32> {
        let (_, stations) = self.sets.iter().find(|(name, _)| name == set)?;
        stations
            .iter()
            .find(|(name, _)| name == station)
            .map(|&(_, count)| count)
    }
}
