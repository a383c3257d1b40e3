//! The index of a folder of records, brought up to date by what changed since.

use super::copies::mark_copies;
use super::error::{FleetError, outside_records};
use super::facts::{Facts, Plans, facts};
use super::people::put_together;
use crate::record::{JOURNAL_FILE, PLAN_FILE};
use rusqlite::{Connection, OptionalExtension, Transaction, params};
use std::collections::HashMap;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::mpsc::sync_channel;
use std::time::{Duration, UNIX_EPOCH};

/// Name of the index inside the folder of records.
pub const INDEX_FILE: &str = "loadwalk-index.sqlite";
/// Version of the schema and of what a verification finds wrong; another one is made anew.
const SCHEMA_VERSION: i64 = 6;
/// Tells an index from any other database ("ldwk").
const APPLICATION_ID: i64 = 0x6c64_776b;
/// How the stamp of a folder begins that cannot be read.
const HIDDEN: &str = "the folder cannot be read";
/// Records written to the index at a time.
const BATCH: usize = 2_000;
/// How long another program's use of the index is waited for.
const BUSY: Duration = Duration::from_secs(20);

/// An index of a folder of records.
#[derive(Debug)]
pub struct Index {
    pub(super) database: Connection,
    pub(super) path: PathBuf,
    pub(super) root: PathBuf,
}

/// What bringing an index up to date did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Refreshed {
    /// Records found, and folders that may hold some and cannot be read.
    pub records: u64,
    /// Of those, read anew.
    pub read: u64,
    /// Of those read, not usable; the index says why.
    pub unreadable: u64,
    /// Records that are gone.
    pub gone: u64,
    /// Records known from before that lie in a folder that cannot be read now. They may be there still, and do not count.
    pub out_of_reach: u64,
}

/// A record as found on the disk, or a folder that cannot be read.
struct Seen {
    folder: String,
    path: PathBuf,
    stamp: String,
    /// Why it cannot be looked at.
    hidden: Option<String>,
}

impl Seen {
    /// A folder that cannot be read: what it holds must not be missed.
    fn hidden(folder: String, path: PathBuf, why: &std::io::Error) -> Self {
        let why = format!("{HIDDEN}, nor any record in it ({why})");
        Self {
            folder,
            path,
            stamp: why.clone(),
            hidden: Some(why),
        }
    }
}

impl Index {
    /// Opens the index of the records below `root`, made where it is not there.
    ///
    /// # Errors
    /// Where it cannot be made, would lie in a record, or the file is another program's.
    pub fn open(root: &Path, file: &Path) -> Result<Self, FleetError> {
        let fail = |source| FleetError::Index {
            path: file.to_owned(),
            source,
        };
        if let Err(source) = fs::read_dir(root) {
            let path = root.to_owned();
            return Err(FleetError::Folder { path, source });
        }
        if root.join(crate::record::JOURNAL_FILE).is_file() {
            return Err(FleetError::Record(root.to_owned()));
        }
        outside_records(file)?;
        let database = Connection::open(file).map_err(fail)?;
        database.busy_timeout(BUSY).map_err(fail)?;
        prepare(&database, file)?;
        Ok(Self {
            database,
            path: file.to_owned(),
            root: root.to_owned(),
        })
    }

    pub(super) fn fail(&self, source: rusqlite::Error) -> FleetError {
        FleetError::Index {
            path: self.path.clone(),
            source,
        }
    }

    /// Reads the records that are new or changed and drops those that are gone. `tell` is called with
    /// how many of how many were read.
    ///
    /// # Errors
    /// Where the folder cannot be read or the index not written. A record that cannot be read is no
    /// error, nor is a folder below that cannot: the index keeps why.
    pub fn refresh(&mut self, mut tell: impl FnMut(u64, u64)) -> Result<Refreshed, FleetError> {
        let mut known = self.stamps().map_err(|e| self.fail(e))?;
        let mut done = Refreshed::default();
        let mut changed = Vec::new();
        let mut hidden = Vec::new();
        let found = look(&self.root).map_err(|source| FleetError::Folder {
            path: self.root.clone(),
            source,
        })?;
        for seen in found {
            done.records += 1;
            let is_known = known.remove(&seen.folder).as_ref() == Some(&seen.stamp);
            if seen.hidden.is_some() {
                hidden.push(seen.folder.clone());
            }
            if !is_known {
                changed.push(seen);
            }
        }
        let out_of_reach = |(record, stamp): &(&String, &String)| {
            !stamp.starts_with(HIDDEN) && hidden.iter().any(|place| lies_in(record, place))
        };
        done.out_of_reach = known.iter().filter(out_of_reach).count() as u64;
        // A folder that can be read again was no record.
        let places = known.values().filter(|stamp| stamp.starts_with(HIDDEN));
        done.gone = (known.len() - places.count()) as u64 - done.out_of_reach;
        done.read = changed.len() as u64;
        let path = self.path.clone();
        let fail = |source| FleetError::Index {
            path: path.clone(),
            source,
        };
        let gone = self.database.transaction().map_err(fail)?;
        known
            .keys()
            .try_for_each(|f| remove(&gone, f))
            .map_err(fail)?;
        if !known.is_empty() || !changed.is_empty() {
            // Broken off before they are put together again, the next refresh does it.
            gone.execute("DELETE FROM people", []).map_err(fail)?;
        }
        gone.commit().map_err(fail)?;
        let mut so_far = 0;
        for batch in changed.chunks(BATCH) {
            let transaction = self.database.transaction().map_err(fail)?;
            read_each(batch, |seen, facts| {
                done.unreadable += u64::from(facts.is_err());
                store(&transaction, seen, &facts)
            })
            .map_err(fail)?;
            transaction.commit().map_err(fail)?;
            so_far += batch.len() as u64;
            tell(so_far, done.read);
        }
        let people = self.database.transaction().map_err(fail)?;
        let known: bool = people
            .query_row("SELECT EXISTS (SELECT 1 FROM people)", [], |row| row.get(0))
            .map_err(fail)?;
        if !known {
            put_together(&people).map_err(fail)?;
            mark_copies(&people).map_err(fail)?;
        }
        people.commit().map_err(fail)?;
        if done.read > 0 {
            // Statistics let the queries choose their order.
            self.database
                .execute_batch("PRAGMA optimize;")
                .map_err(fail)?;
        }
        Ok(done)
    }

    fn stamps(&self) -> rusqlite::Result<HashMap<String, String>> {
        let mut statement = self.database.prepare("SELECT folder, stamp FROM records")?;
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        rows.collect()
    }
}

/// Makes the tables where they are missing or of another version.
fn prepare(database: &Connection, file: &Path) -> Result<(), FleetError> {
    let fail = |source| FleetError::Index {
        path: file.to_owned(),
        source,
    };
    let number = |name: &str| database.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let (id, version) = (
        number("application_id").map_err(fail)?,
        number("user_version").map_err(fail)?,
    );
    let tables: i64 = database
        .query_row("SELECT count(*) FROM sqlite_master", [], |row| row.get(0))
        .map_err(fail)?;
    if tables > 0 && id != APPLICATION_ID {
        return Err(FleetError::Foreign(file.to_owned()));
    }
    if tables > 0 && version == SCHEMA_VERSION {
        return Ok(());
    }
    let drop = "DROP VIEW IF EXISTS checked; DROP TABLE IF EXISTS records; \
        DROP TABLE IF EXISTS people; DROP TABLE IF EXISTS checks; DROP TABLE IF EXISTS routes; \
        DROP TABLE IF EXISTS route_checks; DROP TABLE IF EXISTS happened; \
        DROP TABLE IF EXISTS noise;";
    let schema = include_str!("schema.sql");
    database
        .execute_batch(&format!(
            "BEGIN; {drop} {schema} PRAGMA application_id = {APPLICATION_ID}; \
             PRAGMA user_version = {SCHEMA_VERSION}; COMMIT;"
        ))
        .map_err(fail)
}

/// Finds the records below a folder, on all cores: with many records the system's answers are what
/// takes the time. A record holds no other; links are not followed.
fn look(root: &Path) -> std::io::Result<Vec<Seen>> {
    let below = folders(root, "")?;
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let share = below.len().div_ceil(threads).max(1);
    let find = |part: &[(String, PathBuf)]| {
        let mut found = Vec::new();
        for (name, path) in part {
            look_into(name, path, &mut found);
        }
        found
    };
    Ok(std::thread::scope(|scope| {
        let parts: Vec<_> = (below.chunks(share))
            .map(|part| scope.spawn(move || find(part)))
            .collect();
        let found = parts.into_iter().map(|part| match part.join() {
            Ok(found) => found,
            Err(panic) => std::panic::resume_unwind(panic),
        });
        found.flatten().collect()
    }))
}

/// The folders in a folder, with their names below the one that is indexed.
fn folders(folder: &Path, name: &str) -> std::io::Result<Vec<(String, PathBuf)>> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        // A name that is no text stands with its odd bytes written out.
        let own = entry.file_name();
        let own = own.into_string().unwrap_or_else(|own| {
            let bytes = own.as_encoded_bytes();
            bytes.escape_ascii().to_string()
        });
        if own.starts_with('.') || !entry.file_type()?.is_dir() {
            continue;
        }
        let own = match name {
            "" => own,
            name => format!("{name}/{own}"),
        };
        all.push((own, entry.path()));
    }
    Ok(all)
}

/// Finds the records in a folder at any depth, and the folders that cannot be read. The folders still to look at are kept
/// in a list: a call within a call for each level would end where the stack does.
fn look_into(name: &str, path: &Path, found: &mut Vec<Seen>) {
    let mut ahead = vec![(name.to_owned(), path.to_owned())];
    while let Some((name, path)) = ahead.pop() {
        let below = match stamp(&path) {
            Ok(Some(stamp)) => {
                let (folder, hidden) = (name, None);
                found.push(Seen {
                    folder,
                    path,
                    stamp,
                    hidden,
                });
                continue;
            }
            Ok(None) => folders(&path, &name),
            Err(error) => Err(error),
        };
        match below {
            Ok(below) => ahead.extend(below),
            // Somebody removed it since its name was read.
            Err(error) if error.kind() == ErrorKind::NotFound => {}
            Err(error) => found.push(Seen::hidden(name, path, &error)),
        }
    }
}

/// Whether a record's name below the root says that it lies in a folder there.
fn lies_in(record: &str, folder: &str) -> bool {
    let below = record.strip_prefix(folder);
    below.is_some_and(|below| below.starts_with('/'))
}

/// What changes whenever a record does: size and time of its journal, its plan, its seals and amendments, and the time of
/// its folder of clips (from which sound may be removed). `None` where it is no record.
///
/// # Errors
/// Where the system does not say whether it is one.
fn stamp(folder: &Path) -> std::io::Result<Option<String>> {
    let ns = |meta: &fs::Metadata| {
        let time = meta
            .modified()
            .ok()
            .and_then(|t| t.duration_since(UNIX_EPOCH).ok());
        time.map_or(0, |t| t.as_nanos())
    };
    let journal = match fs::symlink_metadata(folder.join(JOURNAL_FILE)) {
        Ok(journal) => journal,
        Err(e) if e.kind() == ErrorKind::NotFound => return Ok(None),
        Err(e) => return Err(e),
    };
    if !journal.is_file() {
        return Err(std::io::Error::other("its journal is no plain file"));
    }
    let mut stamp = format!("{} {}", journal.len(), ns(&journal));
    let mut put = |name: &str, meta: &fs::Metadata| {
        stamp.push_str(&format!(" {name} {} {}", meta.len(), ns(meta)));
    };
    for part in [PLAN_FILE, "clips"] {
        if let Ok(meta) = fs::symlink_metadata(folder.join(part)) {
            put(part, &meta);
        }
    }
    for part in ["seals", "amendments"] {
        // Most records have none.
        let Ok(files) = fs::read_dir(folder.join(part)) else {
            continue;
        };
        let mut files: Vec<_> = files
            .flatten()
            .filter_map(|file| Some((file.file_name(), file.metadata().ok()?)))
            .collect();
        files.sort_by(|a, b| a.0.cmp(&b.0));
        for (name, meta) in files {
            put(&name.to_string_lossy(), &meta);
        }
    }
    Ok(Some(stamp))
}

/// Reads records on all cores and hands each over as it comes.
fn read_each(
    batch: &[Seen],
    mut take: impl FnMut(&Seen, Result<Facts, String>) -> rusqlite::Result<()>,
) -> rusqlite::Result<()> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let share = batch.len().div_ceil(threads).max(1);
    std::thread::scope(|scope| {
        let (sender, results) = sync_channel(64);
        for part in batch.chunks(share) {
            let sender = sender.clone();
            scope.spawn(move || {
                let mut plans = Plans::default();
                for seen in part {
                    let facts = match &seen.hidden {
                        Some(why) => Err(why.clone()),
                        None => facts(&seen.path, &mut plans).map_err(|e| e.to_string()),
                    };
                    if sender.send((seen, facts)).is_err() {
                        return;
                    }
                }
            });
        }
        drop(sender);
        // Owned here, so that an error ends the threads too.
        results
            .into_iter()
            .try_for_each(|(seen, facts)| take(seen, facts))
    })
}

fn remove(transaction: &Transaction<'_>, folder: &str) -> rusqlite::Result<()> {
    let id: Option<i64> = transaction
        .prepare_cached("SELECT id FROM records WHERE folder = ?1")?
        .query_row([folder], |row| row.get(0))
        .optional()?;
    let Some(id) = id else { return Ok(()) };
    for sql in [
        "DELETE FROM happened WHERE record = ?1",
        "DELETE FROM noise WHERE record = ?1",
        "DELETE FROM records WHERE id = ?1",
    ] {
        transaction.prepare_cached(sql)?.execute([id])?;
    }
    Ok(())
}

fn store(
    transaction: &Transaction<'_>,
    seen: &Seen,
    facts: &Result<Facts, String>,
) -> rusqlite::Result<()> {
    remove(transaction, &seen.folder)?;
    let facts = match facts {
        Ok(facts) => facts,
        Err(why) => {
            let sql = "INSERT INTO records VALUES (NULL,?1,?2,?3,'','','','','','',0,'','',0,\
                'unreadable',0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,0,'',0,NULL)";
            let mut insert = transaction.prepare_cached(sql)?;
            insert.execute([&seen.folder, &seen.stamp, why])?;
            return Ok(());
        }
    };
    let (route, numbers) = route(transaction, facts)?;
    let mut insert = transaction.prepare_cached(
        "INSERT INTO records VALUES (NULL,?1,?2,NULL,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,?15,\
         ?16,?17,?18,?19,?20,?21,?22,?23,?24,?25,?26,?27,?28,?29,?30,?31,?32,NULL)",
    )?;
    let f = facts;
    insert.execute(params![
        seen.folder,
        seen.stamp,
        f.load,
        f.kind,
        f.slings,
        f.inspector,
        f.rigger,
        f.started,
        f.started_ms,
        f.day,
        f.week,
        f.walked_ms as i64,
        f.state,
        route,
        f.checks.len() as i64,
        f.deficient,
        f.found,
        f.open,
        f.put_right,
        f.reinspected,
        f.asked,
        f.asked_again,
        f.refused,
        f.doubted,
        f.corrected,
        f.held,
        f.amendments,
        f.sealed,
        f.clips,
        f.sound_removed,
        f.beginning,
        f.entries as i64,
    ])?;
    let record = transaction.last_insert_rowid();
    let mut happened = transaction.prepare_cached(
        "INSERT OR REPLACE INTO happened VALUES (?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11)",
    )?;
    for (c, number) in f.checks.iter().zip(numbers).filter(|(c, _)| !c.is_plain()) {
        happened.execute(params![
            number,
            record,
            c.status.words(),
            c.deficient,
            c.deficiency,
            c.asked,
            c.asked_again,
            c.refused,
            c.doubted,
            c.corrected,
            c.reinspected,
        ])?;
    }
    let mut noise = transaction.prepare_cached("INSERT INTO noise VALUES (?1,?2,?3,?4)")?;
    for (from_db, (heard, not_taken)) in &f.noise {
        noise.execute(params![record, from_db, heard, not_taken])?;
    }
    Ok(())
}

/// Numbers of a route and of its checks in the index.
fn route(transaction: &Transaction<'_>, facts: &Facts) -> rusqlite::Result<(i64, Vec<i64>)> {
    let mut find = transaction.prepare_cached(
        "SELECT id FROM checks WHERE \"check\" = ?1 AND station = ?2 AND name = ?3",
    )?;
    let mut make = transaction.prepare_cached("INSERT INTO checks VALUES (NULL,?1,?2,?3)")?;
    let mut numbers = Vec::with_capacity(facts.checks.len());
    for c in &facts.checks {
        let key = [&c.check, &c.station, &c.name];
        let known = find.query_row(key, |row| row.get(0)).optional()?;
        numbers.push(match known {
            Some(number) => number,
            None => make.insert(key)?,
        });
    }
    let known: Option<i64> = transaction
        .prepare_cached("SELECT id FROM routes WHERE sha256 = ?1")?
        .query_row([&facts.route_sha256], |row| row.get(0))
        .optional()?;
    if let Some(route) = known {
        return Ok((route, numbers));
    }
    let route = transaction
        .prepare_cached("INSERT INTO routes VALUES (NULL,?1)")?
        .insert([&facts.route_sha256])?;
    let mut put =
        transaction.prepare_cached("INSERT OR IGNORE INTO route_checks VALUES (?1,?2)")?;
    for number in &numbers {
        put.execute([route, *number])?;
    }
    Ok((route, numbers))
}
