//! Trends are counted in one pass over each table of the index. The groups of 100,000 walks fit into
//! memory as a number each, and a pass costs less than joining them in the database.

use super::error::FleetError;
use super::index::Index;
use super::query::{By, CheckRow, Filter, GroupRow, NoiseRow};
use rusqlite::{Row as SqlRow, params_from_iter};
use rustc_hash::FxHashMap;
use std::collections::BTreeMap;

/// The walks that count, put together.
pub(super) struct Tally {
    /// All of them.
    pub all: GroupRow,
    /// By what was asked for, as they came; one group of all where nothing was.
    pub groups: Vec<GroupRow>,
    /// By week, in their order.
    pub weeks: Vec<GroupRow>,
    /// Group of a record, by the record's number in the index.
    of: FxHashMap<i64, usize>,
    /// Walks of a group on a route.
    on_route: FxHashMap<(usize, i64), u64>,
}

/// Groups as they grow: a row with the lengths of its completed walks, ms.
#[derive(Default)]
struct Groups {
    places: FxHashMap<String, usize>,
    rows: Vec<(GroupRow, Vec<i64>)>,
}

/// What one walk adds to its groups.
struct Walk {
    ready: bool,
    /// Recorded time less the time held, ms, of a completed walk.
    length_ms: Option<i64>,
    deficiency: bool,
    reinspected: bool,
    asked: u64,
    asked_again: u64,
}

impl Index {
    /// Reads the walks that a filter lets through.
    pub(super) fn tally(&self, filter: &Filter, by: Option<By>) -> Result<Tally, FleetError> {
        let (condition, values) = self.condition(filter)?;
        let group = by.map_or("''", By::column);
        let sql = format!(
            "SELECT id, route, {group}, week, state, walked_ms, found > 0, reinspected > 0, asked, \
             asked_again FROM records WHERE problem IS NULL AND state <> 'practice' AND {condition}"
        );
        let (mut all, mut groups, mut weeks) =
            (Groups::default(), Groups::default(), Groups::default());
        let mut of = FxHashMap::default();
        let mut on_route = FxHashMap::default();
        self.each(&sql, params_from_iter(values), |row| {
            let walk = Walk::read(row)?;
            all.add("", &walk);
            weeks.add(row.get_ref(3)?.as_str()?, &walk);
            let at = groups.add(row.get_ref(2)?.as_str()?, &walk);
            of.insert(row.get(0)?, at);
            *on_route.entry((at, row.get(1)?)).or_default() += 1;
            Ok(())
        })?;
        Ok(Tally {
            all: (all.finish().pop()).unwrap_or_else(|| GroupRow::none(String::new())),
            groups: groups.finish(),
            weeks: by_name(weeks.finish()),
            of,
            on_route,
        })
    }

    /// The checks of each group, those that fail most first, at most `top` a group.
    pub(super) fn checks(&self, tally: &Tally, top: usize) -> Result<Vec<CheckRow>, FleetError> {
        let names = self.names()?;
        let mut rows: FxHashMap<(usize, i64), CheckRow> = FxHashMap::default();
        let sql = "SELECT route, check_no FROM route_checks";
        let mut routes: FxHashMap<i64, Vec<i64>> = FxHashMap::default();
        self.each(sql, [], |row| {
            routes.entry(row.get(0)?).or_default().push(row.get(1)?);
            Ok(())
        })?;
        for (&(group, route), &walks) in &tally.on_route {
            for &number in routes.get(&route).into_iter().flatten() {
                let Some((check, place)) = names.get(&number) else {
                    continue;
                };
                let row = rows.entry((group, number)).or_insert_with(|| CheckRow {
                    group: tally.groups[group].group.clone(),
                    check: check.clone(),
                    place: place.clone(),
                    walks: 0,
                    deficient: 0,
                    reinspected: 0,
                    asked_again: 0,
                });
                row.walks += walks;
            }
        }
        // Only what is out of the ordinary has a row; the others are known from the routes.
        let sql =
            "SELECT record, check_no, asked, deficient, reinspected, asked_again FROM happened";
        self.each(sql, [], |row| {
            let Some(&group) = tally.of.get(&row.get(0)?) else {
                return Ok(());
            };
            let Some(of) = rows.get_mut(&(group, row.get(1)?)) else {
                return Ok(());
            };
            if row.get::<_, i64>(2)? == 0 {
                of.walks = of.walks.saturating_sub(1);
            }
            of.deficient += row.get::<_, i64>(3)?.unsigned_abs();
            of.reinspected += u64::from(row.get::<_, i64>(4)? > 0);
            of.asked_again += row.get::<_, i64>(5)?.unsigned_abs();
            Ok(())
        })?;
        let mut rows: Vec<CheckRow> = rows.into_values().collect();
        let share = |row: &CheckRow| row.deficient as f64 / row.walks.max(1) as f64;
        rows.sort_by(|a, b| {
            (a.group.cmp(&b.group))
                .then(share(b).total_cmp(&share(a)))
                .then(b.asked_again.cmp(&a.asked_again))
                .then(a.check.cmp(&b.check))
                .then(a.place.cmp(&b.place))
        });
        let mut taken: BTreeMap<String, usize> = BTreeMap::new();
        rows.retain(|row| {
            let n = taken.entry(row.group.clone()).or_default();
            *n += 1;
            *n <= top
        });
        Ok(rows)
    }

    /// Check and place, by the check's number in the index.
    fn names(&self) -> Result<FxHashMap<i64, (String, String)>, FleetError> {
        let mut names = FxHashMap::default();
        let sql = "SELECT id, \"check\", station || ', ' || name FROM checks";
        self.each(sql, [], |row| {
            names.insert(row.get(0)?, (row.get(1)?, row.get(2)?));
            Ok(())
        })?;
        Ok(names)
    }

    /// Utterances by band of noise.
    pub(super) fn noise(&self, tally: &Tally) -> Result<Vec<NoiseRow>, FleetError> {
        let mut bands: BTreeMap<i64, (u64, u64)> = BTreeMap::new();
        let sql = "SELECT record, from_db, heard, not_taken FROM noise";
        self.each(sql, [], |row| {
            if tally.of.contains_key(&row.get(0)?) {
                let (heard, not_taken) = bands.entry(row.get(1)?).or_default();
                *heard += row.get::<_, i64>(2)?.unsigned_abs();
                *not_taken += row.get::<_, i64>(3)?.unsigned_abs();
            }
            Ok(())
        })?;
        let band = |(from_db, (heard, not_taken))| NoiseRow {
            from_db,
            heard,
            not_taken,
        };
        Ok(bands.into_iter().map(band).collect())
    }

    fn each(
        &self,
        sql: &str,
        values: impl rusqlite::Params,
        mut take: impl FnMut(&SqlRow<'_>) -> rusqlite::Result<()>,
    ) -> Result<(), FleetError> {
        let pass = || {
            let mut statement = self.database.prepare(sql)?;
            let mut rows = statement.query(values)?;
            while let Some(row) = rows.next()? {
                take(row)?;
            }
            Ok(())
        };
        pass().map_err(|e| self.fail(e))
    }
}

impl Walk {
    fn read(row: &SqlRow<'_>) -> rusqlite::Result<Self> {
        let state = row.get_ref(4)?.as_str()?;
        let completed = matches!(state, "ready" | "not-ready");
        Ok(Self {
            ready: state == "ready",
            length_ms: completed.then(|| row.get(5)).transpose()?,
            deficiency: row.get(6)?,
            reinspected: row.get(7)?,
            asked: row.get::<_, i64>(8)?.unsigned_abs(),
            asked_again: row.get::<_, i64>(9)?.unsigned_abs(),
        })
    }
}

impl Groups {
    /// Counts a walk and says in which group.
    fn add(&mut self, name: &str, walk: &Walk) -> usize {
        let at = match self.places.get(name) {
            Some(&at) => at,
            None => {
                let new = GroupRow::none(name.to_owned());
                self.rows.push((new, Vec::new()));
                self.places.insert(name.to_owned(), self.rows.len() - 1);
                self.rows.len() - 1
            }
        };
        let (group, lengths) = &mut self.rows[at];
        group.walks += 1;
        group.ready += u64::from(walk.ready);
        lengths.extend(walk.length_ms);
        group.with_deficiency += u64::from(walk.deficiency);
        group.with_reinspection += u64::from(walk.reinspected);
        group.asked += walk.asked;
        group.asked_again += walk.asked_again;
        at
    }

    /// The groups in the order in which they came.
    fn finish(self) -> Vec<GroupRow> {
        let finish = |(mut group, mut lengths): (GroupRow, Vec<i64>)| {
            lengths.sort_unstable();
            group.median_min = part(&lengths, 0.5);
            group.nine_tenths_min = part(&lengths, 0.9);
            group
        };
        self.rows.into_iter().map(finish).collect()
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

/// Groups by name.
pub(super) fn by_name(mut groups: Vec<GroupRow>) -> Vec<GroupRow> {
    groups.sort_by(|a, b| a.group.cmp(&b.group));
    groups
}

/// The value that a part of sorted lengths does not pass, in minutes (nearest rank).
fn part(sorted_ms: &[i64], share: f64) -> Option<f64> {
    let rank = (share * sorted_ms.len() as f64).ceil() as usize;
    let ms = sorted_ms.get(rank.saturating_sub(1))?;
    Some(*ms as f64 / 60_000.0)
}
