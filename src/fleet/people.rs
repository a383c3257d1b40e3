//! Who is one person, however the name is written.

use super::error::FleetError;
use super::index::Index;
use crate::walk::{person_keys, same_person};
use rusqlite::{Connection, params};
use std::collections::HashMap;

/// Puts the spellings of one person together, each under the first: names that are [`same_person`], and those that a
/// third spelling joins ("Venn, Oskar" and "Oskar-Venn" by "Oskar Venn").
fn persons(spellings: &[String]) -> Vec<usize> {
    let mut person: Vec<usize> = (0..spellings.len()).collect();
    let mut known: HashMap<String, usize> = HashMap::new();
    for (at, name) in spellings.iter().enumerate() {
        for key in person_keys(name).into_iter().flatten() {
            let other = *known.entry(key).or_insert(at);
            let (a, b) = (first(&person, at), first(&person, other));
            person[a.max(b)] = a.min(b);
        }
    }
    (0..spellings.len()).map(|at| first(&person, at)).collect()
}

/// Follows a spelling to the first of its person.
fn first(person: &[usize], mut at: usize) -> usize {
    while person[at] != at {
        at = person[at];
    }
    at
}

/// Writes down anew who is one person, by the spelling of the earliest walk.
pub(super) fn put_together(database: &Connection) -> rusqlite::Result<()> {
    let sql = "SELECT name FROM (SELECT inspector AS name, started_ms FROM records \
        UNION ALL SELECT rigger, started_ms FROM records) \
        WHERE name <> '' GROUP BY name ORDER BY min(started_ms), name";
    let spellings: Vec<String> = database
        .prepare(sql)?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    database.execute("DELETE FROM people", [])?;
    let mut put = database.prepare("INSERT INTO people VALUES (?1, ?2)")?;
    for (spelling, person) in spellings.iter().zip(persons(&spellings)) {
        put.execute(params![spelling, spellings[person]])?;
    }
    Ok(())
}

impl Index {
    /// All spellings in the records of the person of this name, itself included.
    pub(super) fn spellings(&self, name: &str) -> Result<Vec<String>, FleetError> {
        let all: Vec<(String, String)> =
            self.rows("SELECT spelling, person FROM people", Vec::new(), |row| {
                Ok((row.get(0)?, row.get(1)?))
            })?;
        let meant: Vec<&String> = (all.iter())
            .filter(|(spelling, _)| same_person(spelling, name))
            .map(|(_, person)| person)
            .collect();
        let of_them = all.iter().filter(|(_, person)| meant.contains(&person));
        Ok(of_them
            .map(|(spelling, _)| spelling.clone())
            .chain([name.to_owned()])
            .collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings_of_one_person_stand_under_the_first() {
        let names = [
            "Venn, Oskar",
            "Jana Mori",
            "Oskar-Venn",
            "jana  mori",
            "--",
            "Oskar Venn",
            "Jan Amori",
            "Jana Moris",
            "MORI, Jana",
        ];
        let spellings = names.map(str::to_owned);
        let of = persons(&spellings);
        let names: Vec<&str> = of.iter().map(|&at| names[at]).collect();
        let (oskar, jana) = ("Venn, Oskar", "Jana Mori");
        // "Jan Amori" differs by its blank alone, which does not count anywhere.
        let expected = [
            oskar,
            jana,
            oskar,
            jana,
            "--",
            oskar,
            jana,
            "Jana Moris",
            jana,
        ];
        assert_eq!(names, expected);
    }
}
