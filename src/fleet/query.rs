//! What the records of an index tell together.

use super::error::FleetError;
use super::index::Index;
use super::tally::by_name;
use jiff::civil::Date;
use rusqlite::types::Value;
use rusqlite::{Row as SqlRow, params_from_iter};
use serde::Serialize;

/// Which records count.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// First day, local.
    pub since: Option<Date>,
    /// Last day, local.
    pub until: Option<Date>,
    /// The load's name.
    pub load: Option<String>,
    /// Who rigged, however the name is written.
    pub rigger: Option<String>,
    /// Who inspected, likewise.
    pub inspector: Option<String>,
    /// `ready`, `not-ready`, `open`, `held`, `practice` or `unreadable`.
    pub state: Option<String>,
}

impl Index {
    /// A filter's condition on a record, with its values; a copy of another one never meets it.
    pub(super) fn condition(&self, filter: &Filter) -> Result<(String, Vec<Value>), FleetError> {
        let mut parts = vec!["copy_of IS NULL".to_owned()];
        let mut values = Vec::new();
        for (column, name) in [("rigger", &filter.rigger), ("inspector", &filter.inspector)] {
            let Some(name) = name else { continue };
            let spellings = self.spellings(name)?;
            let marks: Vec<String> = (1..=spellings.len())
                .map(|n| format!("?{}", values.len() + n))
                .collect();
            parts.push(format!("{column} IN ({})", marks.join(", ")));
            values.extend(spellings.into_iter().map(Value::from));
        }
        let mut and = |part: &str, value: Option<String>| {
            if let Some(value) = value {
                values.push(Value::from(value));
                parts.push(format!("{part} ?{}", values.len()));
            }
        };
        and("day >=", filter.since.map(|d| d.to_string()));
        and("day <=", filter.until.map(|d| d.to_string()));
        and("load =", filter.load.clone());
        and("state =", filter.state.clone());
        Ok((parts.join(" AND "), values))
    }
}

/// A person's first spelling, as SQL.
const INSPECTOR: &str =
    "coalesce((SELECT person FROM people WHERE spelling = inspector), inspector)";
const RIGGER: &str = "coalesce((SELECT person FROM people WHERE spelling = rigger), rigger)";

/// What records are put together by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// The load's name.
    Load,
    /// How it behaves under its slings.
    Kind,
    /// The sling set's name.
    Slings,
    /// Who rigged.
    Rigger,
    /// Who inspected.
    Inspector,
    /// The ISO 8601 week of the start.
    Week,
}

impl By {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Load => "load",
            Self::Kind => "kind",
            Self::Slings => "slings",
            Self::Rigger => "rigger",
            Self::Inspector => "inspector",
            Self::Week => "week",
        }
    }

    /// What is the same in all records of a group, as SQL.
    pub(super) fn column(self) -> &'static str {
        match self {
            Self::Rigger => RIGGER,
            Self::Inspector => INSPECTOR,
            other => other.word(),
        }
    }
}

/// A record in a list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Row {
    /// Its folder, below the one that was indexed.
    pub folder: String,
    /// Local day of its start.
    pub day: String,
    /// The load's name.
    pub load: String,
    /// Who inspected, as the name is spelled in the earliest walk.
    pub inspector: String,
    /// Who rigged, likewise.
    pub rigger: String,
    /// How far the walk is, amendments included; `unreadable` where the record is not intact.
    pub state: String,
    /// Checks of the route.
    pub checks: u32,
    /// Checks that were found deficient at any time.
    pub found: u32,
    /// Checks that are deficient now.
    pub deficient: u32,
    /// Checks that are open now.
    pub open: u32,
    /// Answers given at a re-inspection.
    pub reinspected: u32,
    /// Questions asked again, for want of an answer or to confirm it.
    pub asked_again: u32,
    /// Recorded time less the time held, ms.
    pub walked_ms: u64,
    /// Whether it has a sound seal; by whose key is not looked at.
    pub sealed: bool,
    /// Sounds that its entries name; typed answers have none.
    pub clips: u32,
    /// Of these, removed on purpose by `forget-sound`.
    pub sound_removed: u32,
    /// Why it could not be read.
    pub problem: Option<String>,
}

/// Records put together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GroupRow {
    /// What they have in common; empty: all records.
    pub group: String,
    /// Walks.
    pub walks: u64,
    /// Walks that ended ready.
    pub ready: u64,
    /// Walks in which a deficiency was found.
    pub with_deficiency: u64,
    /// Walks in which a check was inspected again.
    pub with_reinspection: u64,
    /// Questions asked.
    pub asked: u64,
    /// Of these, asked again for want of an answer, or to confirm it.
    pub asked_again: u64,
    /// Length of the middle walk, minutes; completed walks only, time held not counted.
    pub median_min: Option<f64>,
    /// Length that nine of ten walks do not pass, minutes.
    pub nine_tenths_min: Option<f64>,
}

/// A check over many walks.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CheckRow {
    /// What the walks have in common; empty: all.
    pub group: String,
    /// The check's name in the plan.
    pub check: String,
    /// Station and check as spoken.
    pub place: String,
    /// Walks in which it was asked.
    pub walks: u64,
    /// Walks in which it was found deficient.
    pub deficient: u64,
    /// Walks in which it was inspected again.
    pub reinspected: u64,
    /// Times it was asked again for want of an answer, or to confirm it.
    pub asked_again: u64,
}

/// Utterances in a band of noise.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NoiseRow {
    /// Lower end of signal to noise, dB; the first band holds all below too.
    pub from_db: i64,
    /// Utterances.
    pub heard: u64,
    /// Of these, not taken at once: refused, or asked to be confirmed.
    pub not_taken: u64,
}

/// What the records tell together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trends {
    /// What `groups` and `checks` are put together by; `None`: all walks.
    pub by: Option<&'static str>,
    /// All walks.
    pub all: GroupRow,
    /// Walks by group.
    pub groups: Vec<GroupRow>,
    /// The checks that fail most, worst first within their group.
    pub checks: Vec<CheckRow>,
    /// Walks by week, whatever `by`.
    pub weeks: Vec<GroupRow>,
    /// Utterances by noise.
    pub noise: Vec<NoiseRow>,
    /// Records that are not intact or cannot be read, and so do not count, and folders that cannot be read.
    pub unreadable: u64,
    /// Records that do not count since another one is of the same walk.
    pub copies: u64,
}

impl Index {
    /// Records, newest first, by the instant at which they began.
    ///
    /// # Errors
    /// Where the index cannot be read.
    pub fn list(&self, filter: &Filter, limit: usize) -> Result<Vec<Row>, FleetError> {
        let (condition, values) = self.condition(filter)?;
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let sql = format!(
            "SELECT folder, day, load, {INSPECTOR}, {RIGGER}, state, checks, found, deficient, open, \
             reinspected, asked_again, walked_ms, sealed, clips, sound_removed, problem FROM records WHERE {condition} \
             ORDER BY started_ms DESC, folder DESC LIMIT {limit}"
        );
        self.rows(&sql, values, |row| {
            Ok(Row {
                folder: row.get(0)?,
                day: row.get(1)?,
                load: row.get(2)?,
                inspector: row.get(3)?,
                rigger: row.get(4)?,
                state: row.get(5)?,
                checks: row.get(6)?,
                found: row.get(7)?,
                deficient: row.get(8)?,
                open: row.get(9)?,
                reinspected: row.get(10)?,
                asked_again: row.get(11)?,
                walked_ms: row.get::<_, i64>(12)?.unsigned_abs(),
                sealed: row.get(13)?,
                clips: row.get(14)?,
                sound_removed: row.get(15)?,
                problem: row.get(16)?,
            })
        })
    }

    /// The records that are not intact or cannot be read, and folders that may hold some and cannot be read, with why, whatever a filter lets through: what they hold
    /// cannot be told.
    ///
    /// # Errors
    /// Where the index cannot be read.
    pub fn unreadable(&self) -> Result<Vec<(String, String)>, FleetError> {
        let sql = "SELECT folder, problem FROM records WHERE problem IS NOT NULL ORDER BY folder";
        self.rows(sql, Vec::new(), |row| Ok((row.get(0)?, row.get(1)?)))
    }

    /// What the records tell together; at most `top` checks a group.
    ///
    /// # Errors
    /// Where the index cannot be read.
    pub fn trends(
        &self,
        filter: &Filter,
        by: Option<By>,
        top: usize,
    ) -> Result<Trends, FleetError> {
        let tally = self.tally(filter, by)?;
        let count = |what: &str| -> Result<u64, FleetError> {
            let sql = format!("SELECT count(*) FROM records WHERE {what} IS NOT NULL");
            let counts = self.rows(&sql, Vec::new(), |row| row.get::<_, i64>(0))?;
            Ok(counts.first().map_or(0, |n| n.unsigned_abs()))
        };
        Ok(Trends {
            by: by.map(By::word),
            checks: self.checks(&tally, top)?,
            noise: self.noise(&tally)?,
            all: tally.all,
            groups: if by.is_some() {
                by_name(tally.groups)
            } else {
                Vec::new()
            },
            weeks: tally.weeks,
            unreadable: count("problem")?,
            copies: count("copy_of")?,
        })
    }

    pub(super) fn rows<T>(
        &self,
        sql: &str,
        values: Vec<Value>,
        read: impl FnMut(&SqlRow<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, FleetError> {
        let mut statement = self.database.prepare(sql).map_err(|e| self.fail(e))?;
        let rows = statement
            .query_map(params_from_iter(values), read)
            .map_err(|e| self.fail(e))?;
        rows.collect::<Result<_, _>>().map_err(|e| self.fail(e))
    }
}
