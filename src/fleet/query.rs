//! What the records of an index tell together.

use super::error::FleetError;
use super::index::Index;
use jiff::civil::Date;
use rusqlite::types::Value;
use rusqlite::{Row as SqlRow, params_from_iter};
use serde::Serialize;
use std::collections::BTreeMap;

/// Which records count.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// First day, local.
    pub since: Option<Date>,
    /// Last day, local.
    pub until: Option<Date>,
    /// The load's name.
    pub load: Option<String>,
    /// Who rigged.
    pub rigger: Option<String>,
    /// Who inspected.
    pub inspector: Option<String>,
    /// `ready`, `not ready`, `open`, `held` or `unreadable`.
    pub state: Option<String>,
}

impl Filter {
    /// The condition with its values.
    fn sql(&self) -> (String, Vec<Value>) {
        let mut parts = vec!["1".to_owned()];
        let mut values = Vec::new();
        let mut and = |part: &str, value: Option<String>| {
            if let Some(value) = value {
                values.push(Value::from(value));
                parts.push(format!("{part} ?{}", values.len()));
            }
        };
        and("day >=", self.since.map(|d| d.to_string()));
        and("day <=", self.until.map(|d| d.to_string()));
        and("load =", self.load.clone());
        and("rigger =", self.rigger.clone());
        and("inspector =", self.inspector.clone());
        and("state =", self.state.clone());
        (parts.join(" AND "), values)
    }
}

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
    /// Its column and its word.
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
    /// Who inspected.
    pub inspector: String,
    /// Who rigged.
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
    /// Records that are not intact or cannot be read, and so do not count.
    pub unreadable: u64,
}

impl Index {
    /// Records, newest first.
    ///
    /// # Errors
    /// Where the index cannot be read.
    pub fn list(&self, filter: &Filter, limit: usize) -> Result<Vec<Row>, FleetError> {
        let (condition, values) = filter.sql();
        let limit = i64::try_from(limit).unwrap_or(i64::MAX);
        let sql = format!(
            "SELECT folder, day, load, inspector, rigger, state, checks, found, deficient, open, \
             reinspected, asked_again, walked_ms, sealed, problem FROM records WHERE {condition} \
             ORDER BY started DESC, folder DESC LIMIT {limit}"
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
                problem: row.get(14)?,
            })
        })
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
        let group = by.map_or("''", By::word);
        self.select(filter, group)?;
        let mut all = self.groups("''")?;
        let unreadable = "SELECT count(*) FROM records WHERE problem IS NOT NULL";
        Ok(Trends {
            by: by.map(By::word),
            all: all.pop().unwrap_or_else(|| GroupRow::none(String::new())),
            groups: if by.is_some() {
                self.groups("grp")?
            } else {
                Vec::new()
            },
            checks: self.checks(top)?,
            weeks: self.groups("week")?,
            noise: self.noise()?,
            unreadable: self
                .rows(unreadable, Vec::new(), |row| row.get::<_, i64>(0))?
                .first()
                .map_or(0, |n| n.unsigned_abs()),
        })
    }

    /// Keeps the walks that count in a table of this connection.
    fn select(&self, filter: &Filter, group: &str) -> Result<(), FleetError> {
        let (condition, values) = filter.sql();
        self.database
            .execute_batch("DROP TABLE IF EXISTS temp.sel")
            .and_then(|()| {
                let sql = format!(
                    "CREATE TEMP TABLE sel AS SELECT id, route, {group} AS grp, week, state, \
                     walked_ms, found, reinspected, asked, asked_again FROM records \
                     WHERE problem IS NULL AND {condition}"
                );
                self.database.execute(&sql, params_from_iter(values))
            })
            .and_then(|_| {
                self.database
                    .execute_batch("CREATE UNIQUE INDEX temp.sel_id ON sel (id, grp)")
            })
            .map_err(|e| self.fail(e))
    }

    fn groups(&self, column: &str) -> Result<Vec<GroupRow>, FleetError> {
        let sql = format!(
            "SELECT {column}, state, walked_ms, found > 0, reinspected > 0, asked, asked_again FROM sel"
        );
        let mut groups: BTreeMap<String, (GroupRow, Vec<i64>)> = BTreeMap::new();
        let mut statement = self.database.prepare(&sql).map_err(|e| self.fail(e))?;
        let mut rows = statement.query([]).map_err(|e| self.fail(e))?;
        while let Some(row) = rows.next().map_err(|e| self.fail(e))? {
            add(&mut groups, row).map_err(|e| self.fail(e))?;
        }
        let finish = |(mut group, mut lengths): (GroupRow, Vec<i64>)| {
            lengths.sort_unstable();
            group.median_min = part(&lengths, 0.5);
            group.nine_tenths_min = part(&lengths, 0.9);
            group
        };
        Ok(groups.into_values().map(finish).collect())
    }

    fn checks(&self, top: usize) -> Result<Vec<CheckRow>, FleetError> {
        // Only what is out of the ordinary has a row; the others are known from the routes.
        let sql = "WITH walks AS (
                SELECT s.grp, rc.check_no, sum(s.n) AS n
                FROM (SELECT grp, route, count(*) AS n FROM sel GROUP BY grp, route) s
                JOIN route_checks rc ON rc.route = s.route GROUP BY s.grp, rc.check_no),
            odd AS (
                SELECT s.grp, h.check_no, sum(h.asked = 0) AS never, sum(h.deficient) AS deficient,
                    sum(h.reinspected > 0) AS reinspected, sum(h.asked_again) AS asked_again
                FROM happened h JOIN sel s ON s.id = h.record GROUP BY s.grp, h.check_no)
            SELECT w.grp, c.\"check\", c.station || ', ' || c.name, w.n - coalesce(o.never, 0),
                coalesce(o.deficient, 0), coalesce(o.reinspected, 0), coalesce(o.asked_again, 0)
            FROM walks w JOIN checks c ON c.id = w.check_no
            LEFT JOIN odd o ON o.grp = w.grp AND o.check_no = w.check_no";
        let mut rows = self.rows(sql, Vec::new(), |row| {
            Ok(CheckRow {
                group: row.get(0)?,
                check: row.get(1)?,
                place: row.get(2)?,
                walks: row.get::<_, i64>(3)?.unsigned_abs(),
                deficient: row.get::<_, i64>(4)?.unsigned_abs(),
                reinspected: row.get::<_, i64>(5)?.unsigned_abs(),
                asked_again: row.get::<_, i64>(6)?.unsigned_abs(),
            })
        })?;
        let share = |row: &CheckRow| row.deficient as f64 / row.walks.max(1) as f64;
        rows.sort_by(|a, b| {
            (a.group.cmp(&b.group))
                .then(share(b).total_cmp(&share(a)))
                .then(b.asked_again.cmp(&a.asked_again))
                .then(a.check.cmp(&b.check))
        });
        let mut taken: BTreeMap<String, usize> = BTreeMap::new();
        rows.retain(|row| {
            let n = taken.entry(row.group.clone()).or_default();
            *n += 1;
            *n <= top
        });
        Ok(rows)
    }

    fn noise(&self) -> Result<Vec<NoiseRow>, FleetError> {
        let sql = "SELECT from_db, sum(heard), sum(not_taken) FROM noise \
            JOIN sel ON sel.id = noise.record GROUP BY from_db ORDER BY from_db";
        self.rows(sql, Vec::new(), |row| {
            Ok(NoiseRow {
                from_db: row.get(0)?,
                heard: row.get::<_, i64>(1)?.unsigned_abs(),
                not_taken: row.get::<_, i64>(2)?.unsigned_abs(),
            })
        })
    }

    fn rows<T>(
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

impl GroupRow {
    fn none(group: String) -> Self {
        Self {
            group,
            walks: 0,
            ready: 0,
            with_deficiency: 0,
            with_reinspection: 0,
            asked: 0,
            asked_again: 0,
            median_min: None,
            nine_tenths_min: None,
        }
    }
}

fn add(
    groups: &mut BTreeMap<String, (GroupRow, Vec<i64>)>,
    row: &SqlRow<'_>,
) -> rusqlite::Result<()> {
    let name = row.get_ref(0)?.as_str()?;
    if !groups.contains_key(name) {
        groups.insert(
            name.to_owned(),
            (GroupRow::none(name.to_owned()), Vec::new()),
        );
    }
    let Some((group, lengths)) = groups.get_mut(name) else {
        return Ok(());
    };
    let state = row.get_ref(1)?.as_str()?;
    group.walks += 1;
    group.ready += u64::from(state == "ready");
    if matches!(state, "ready" | "not ready") {
        lengths.push(row.get(2)?);
    }
    group.with_deficiency += u64::from(row.get::<_, bool>(3)?);
    group.with_reinspection += u64::from(row.get::<_, bool>(4)?);
    group.asked += row.get::<_, i64>(5)?.unsigned_abs();
    group.asked_again += row.get::<_, i64>(6)?.unsigned_abs();
    Ok(())
}

/// The value that a part of sorted lengths does not pass, in minutes (nearest rank).
fn part(sorted_ms: &[i64], share: f64) -> Option<f64> {
    let rank = (share * sorted_ms.len() as f64).ceil() as usize;
    let ms = sorted_ms.get(rank.saturating_sub(1))?;
    Some(*ms as f64 / 60_000.0)
}
