use super::{By, Filter, FleetError, INDEX_FILE, Index, Refreshed, list_text, plots, trends_text};
use crate::record::samples::{PLAN, StepClock, answered, hearing, id, opened};
use crate::record::{Clock, Record};
use crate::walk::{Decision, Entry, Outcome, Stage};
use std::fs;
use std::path::Path;

const PINS: [&str; 2] = ["front-left/hook-pin", "front-right/hook-pin"];

fn put(record: &mut Record, entry: &Entry) {
    record.append(entry).unwrap();
}

fn asked(record: &mut Record, check: &str, attempt: u32) {
    let check = id(check);
    put(record, &Entry::Asked { check, attempt });
}

/// A walk that broke off after both pins were answered at once.
fn plain(folder: &Path) -> Record {
    let mut record = Record::create(folder, PLAN, Box::new(StepClock::at(0))).unwrap();
    put(&mut record, &opened());
    for pin in PINS {
        asked(&mut record, pin, 1);
        put(&mut record, &answered(pin, "present", Outcome::Conforming));
    }
    record
}

/// A walk whose first pin was missing, put right and inspected again, and whose second pin was heard
/// at the second time only, in loud noise.
fn hard(folder: &Path) {
    let mut record = Record::create(folder, PLAN, Box::new(StepClock::at(1_000))).unwrap();
    put(&mut record, &opened());
    let check = id(PINS[0]);
    let deficiency = "front left corner hook pin missing".to_owned();
    asked(&mut record, PINS[0], 1);
    put(
        &mut record,
        &answered(PINS[0], "missing", Outcome::Deficient { deficiency }),
    );
    let fixed = hearing("fixing", "fixed", "fixed");
    put(
        &mut record,
        &Entry::PutRight {
            check: check.clone(),
            again: vec![check],
            hearing: fixed,
        },
    );
    asked(&mut record, PINS[0], 1);
    let mut again = answered(PINS[0], "present", Outcome::Conforming);
    if let Entry::Answered { stage, .. } = &mut again {
        *stage = Stage::Reinspection;
    }
    put(&mut record, &again);
    asked(&mut record, PINS[1], 1);
    let mut lost = hearing("presence", "present", "percent");
    lost.decision = Decision::Refuse {
        reason: "too much noise".to_owned(),
    };
    lost.snr_db = Some(-2.0);
    put(
        &mut record,
        &Entry::Refused {
            check: Some(id(PINS[1])),
            hearing: lost,
        },
    );
    asked(&mut record, PINS[1], 2);
    put(
        &mut record,
        &answered(PINS[1], "present", Outcome::Conforming),
    );
}

fn index(root: &Path) -> Index {
    Index::open(root, &root.join(INDEX_FILE)).unwrap()
}

fn refreshed(index: &mut Index) -> Refreshed {
    index.refresh(|_, _| {}).unwrap()
}

#[test]
fn only_what_changed_is_read_again() {
    let root = tempfile::tempdir().unwrap();
    let mut open = plain(&root.path().join("2031/plain"));
    hard(&root.path().join("2031/june/hard"));
    let mut index = index(root.path());
    let all = Refreshed {
        records: 2,
        read: 2,
        ..Refreshed::default()
    };
    assert_eq!(refreshed(&mut index), all);
    assert_eq!(refreshed(&mut index), Refreshed { read: 0, ..all });
    asked(&mut open, "front-left/hook-links", 1);
    assert_eq!(refreshed(&mut index), Refreshed { read: 1, ..all });
    fs::remove_dir_all(root.path().join("2031/june")).unwrap();
    let left = Refreshed {
        records: 1,
        gone: 1,
        ..Refreshed::default()
    };
    assert_eq!(refreshed(&mut index), left);
    assert_eq!(
        index.trends(&Filter::default(), None, 9).unwrap().all.walks,
        1
    );
}

/// A walk that was begun at a time, as written.
fn begun(folder: &Path, wall: &'static str, inspector: &str, rigger: &str) {
    struct At(&'static str);
    impl Clock for At {
        fn wall(&self) -> jiff::ZonedDateTime {
            self.0.parse().unwrap()
        }
        fn mono_ms(&self) -> u64 {
            0
        }
    }
    let mut record = Record::create(folder, PLAN, Box::new(At(wall))).unwrap();
    let mut entry = opened();
    if let Entry::Opened {
        inspector: i,
        rigger: r,
        ..
    } = &mut entry
    {
        (*i, *r) = (inspector.to_owned(), rigger.to_owned());
    }
    put(&mut record, &entry);
}

/// The instants by RFC 9557: local time less its offset. The hour before clocks go back is earlier than the one after,
/// whatever its digits say.
#[test]
fn the_newest_comes_first_across_time_zones_and_the_end_of_summer_time() {
    let root = tempfile::tempdir().unwrap();
    for (name, wall) in [
        ("4-summer", "2031-10-26T02:50:00+02:00[+02:00]"),
        ("2-east", "2031-06-02T23:30:00+09:00[+09:00]"),
        ("5-winter", "2031-10-26T02:10:00+01:00[+01:00]"),
        ("1-noon", "2031-06-02T14:00:00+00:00[+00:00]"),
        ("3-west", "2031-06-02T09:00:00-07:00[-07:00]"),
    ] {
        begun(&root.path().join(name), wall, "Ida Fern", "Tom Alder");
    }
    let mut index = index(root.path());
    refreshed(&mut index);
    let names = |limit| -> Vec<String> {
        let rows = index.list(&Filter::default(), limit).unwrap();
        rows.into_iter().map(|r| r.folder).collect()
    };
    let all = ["5-winter", "4-summer", "3-west", "2-east", "1-noon"];
    assert_eq!(names(9), all);
    assert_eq!(names(1), all[..1]);
}

#[test]
fn one_person_is_one_however_the_name_is_written() {
    let root = tempfile::tempdir().unwrap();
    let day = |n: u32| match n {
        1 => "2031-06-01T08:00:00+02:00[+02:00]",
        2 => "2031-06-02T08:00:00+02:00[+02:00]",
        _ => "2031-06-03T08:00:00+02:00[+02:00]",
    };
    begun(&root.path().join("a"), day(2), "jana  mori", "Oskar-Venn");
    begun(&root.path().join("b"), day(1), "Jana Mori", "Oskar Venn");
    begun(&root.path().join("c"), day(3), "MORI, Jana", "Tom Alder");
    let mut index = index(root.path());
    refreshed(&mut index);
    let groups = |by| -> Vec<(String, u64)> {
        let trends = index.trends(&Filter::default(), Some(by), 9).unwrap();
        let groups = trends.groups.into_iter();
        groups.map(|g| (g.group, g.walks)).collect()
    };
    let of = |name: &str, walks| (name.to_owned(), walks);
    assert_eq!(groups(By::Inspector), [of("Jana Mori", 3)]);
    assert_eq!(
        groups(By::Rigger),
        [of("Oskar Venn", 2), of("Tom Alder", 1)]
    );
    for asked in ["Jana Mori", "JANA MORI", "Mori Jana", "jana  mori"] {
        let filter = Filter {
            inspector: Some(asked.to_owned()),
            rigger: Some("venn, oskar".to_owned()),
            ..Filter::default()
        };
        let rows = index.list(&filter, 9).unwrap();
        let names: Vec<&str> = rows.iter().map(|r| r.inspector.as_str()).collect();
        assert_eq!(names, ["Jana Mori"; 2], "{asked}");
        let trends = index.trends(&filter, None, 9).unwrap();
        assert_eq!(trends.all.walks, 2, "{asked}");
    }
    // The earliest walk decides, also where it was read last.
    let wall = "2030-06-03T08:00:00+02:00[+02:00]";
    begun(&root.path().join("d"), wall, "J. Mori", "VENN Oskar");
    refreshed(&mut index);
    let trends = index.trends(&Filter::default(), Some(By::Rigger), 9);
    assert_eq!(trends.unwrap().groups[1].group, "VENN Oskar");
}

/// No path is longer than 4,096 bytes on Linux (`PATH_MAX`), so that what lies deeper is out of the reach of everybody,
/// a reader with all rights included.
#[cfg(target_os = "linux")]
#[test]
fn a_folder_that_cannot_be_read_is_named_and_its_records_are_not_gone() {
    let top = tempfile::tempdir().unwrap();
    let (near, file) = (top.path().join("records"), top.path().join("index.sqlite"));
    let deeper = |from: &Path, name: &str, levels| {
        (0..levels).fold(from.to_owned(), |path, _| path.join(name.repeat(120)))
    };
    drop(plain(&near.join("at-hand")));
    drop(plain(&deeper(&near.join("season"), "x", 12).join("walk")));
    let refreshed = |root: &Path| {
        let mut index = Index::open(root, &file).unwrap();
        (index.refresh(|_, _| {}).unwrap(), index)
    };
    let all = Refreshed {
        records: 2,
        ..Refreshed::default()
    };
    let (found, index) = refreshed(&near);
    assert_eq!(found, Refreshed { read: 2, ..all }, "at any depth");
    drop(index);

    let far = deeper(top.path(), "y", 25);
    fs::create_dir_all(&far).unwrap();
    let far = far.join("records");
    fs::rename(&near, &far).unwrap();
    let (found, index) = refreshed(&far);
    let lost = Refreshed {
        read: 1,
        unreadable: 1,
        out_of_reach: 1,
        ..all
    };
    assert_eq!(found, lost);
    let rows = index.list(&Filter::default(), 9).unwrap();
    let list = list_text(&rows);
    assert!(rows[1].folder.starts_with("season/xxx"), "{list}");
    assert!(list.contains("the folder cannot be read"), "{list}");
    assert_eq!(index.unreadable().unwrap().len(), 1);
    let trends = index.trends(&Filter::default(), None, 9).unwrap();
    assert_eq!((trends.all.walks, trends.unreadable), (1, 1));
    drop(index);
    assert_eq!(refreshed(&far).0, all, "nothing changed");

    fs::rename(&far, &near).unwrap();
    let (found, index) = refreshed(&near);
    assert_eq!(found, Refreshed { read: 1, ..all }, "it was never gone");
    assert_eq!(index.unreadable().unwrap(), []);
}

/// A link in the place of a journal is not followed, and not passed over either.
#[test]
fn a_journal_that_is_no_plain_file_is_named() {
    let root = tempfile::tempdir().unwrap();
    fs::create_dir_all(root.path().join("odd/journal.jsonl")).unwrap();
    let mut index = index(root.path());
    assert_eq!(refreshed(&mut index).unreadable, 1);
    let (place, why) = index.unreadable().unwrap().remove(0);
    assert_eq!(place, "odd");
    assert!(why.contains("no plain file"), "{why}");
}

#[test]
fn what_records_tell_together_is_counted() {
    let root = tempfile::tempdir().unwrap();
    drop(plain(&root.path().join("plain")));
    hard(&root.path().join("hard"));
    let mut index = index(root.path());
    refreshed(&mut index);
    let trends = index
        .trends(&Filter::default(), Some(By::Rigger), 9)
        .unwrap();
    // By hand: two walks of four checks; one of two pins missing once; seven questions, one of them
    // asked again for want of an answer.
    assert_eq!((trends.all.walks, trends.all.ready), (2, 0));
    assert_eq!(
        (trends.all.with_deficiency, trends.all.with_reinspection),
        (1, 1)
    );
    assert_eq!((trends.all.asked, trends.all.asked_again), (6, 1));
    let [left, right] = PINS.map(|pin| trends.checks.iter().find(|c| c.check == pin).unwrap());
    assert_eq!(left.group, "Tom Alder");
    assert_eq!(left.place, "front left corner, hook pin");
    assert_eq!(
        (
            left.walks,
            left.deficient,
            left.reinspected,
            left.asked_again
        ),
        (2, 1, 1, 0)
    );
    assert_eq!(
        (
            right.walks,
            right.deficient,
            right.reinspected,
            right.asked_again
        ),
        (2, 0, 0, 1)
    );
    assert_eq!(trends.checks[0].check, PINS[0], "the worst comes first");
    let links = trends
        .checks
        .iter()
        .find(|c| c.check.ends_with("hook-links"))
        .unwrap();
    assert_eq!(links.walks, 0, "never asked");
    let noise: Vec<_> = trends
        .noise
        .iter()
        .map(|n| (n.from_db, n.heard, n.not_taken))
        .collect();
    // 18.5 dB falls from 15 dB up: two, two, one answer and one word on the repair.
    assert_eq!(noise, [(0, 1, 1), (15, 6, 0)]);
    // 2 June 2031 is a Monday of ISO week 23.
    assert_eq!(trends.weeks[0].group, "2031-W23");
    let text = trends_text(&trends);
    assert!(text.contains("50.0 %"), "{text}");
    let svg = plots(&trends).unwrap();
    for part in [
        "<svg",
        "front left corner, hook pin",
        "below 5 dB",
        "50.0 % (1 of 2)",
        "2031-W23",
    ] {
        assert!(svg.contains(part), "{part} in {svg}");
    }
}

#[test]
fn filters_choose_records() {
    let root = tempfile::tempdir().unwrap();
    drop(plain(&root.path().join("plain")));
    let mut index = index(root.path());
    refreshed(&mut index);
    let count = |filter: Filter| index.list(&filter, 9).unwrap().len();
    let name = |text: &str| Some(text.to_owned());
    let day = |text: &str| Some(text.parse().unwrap());
    assert_eq!(
        count(Filter {
            rigger: name("Tom Alder"),
            ..Filter::default()
        }),
        1
    );
    assert_eq!(
        count(Filter {
            rigger: name("' OR 1 --"),
            ..Filter::default()
        }),
        0
    );
    assert_eq!(
        count(Filter {
            since: day("2031-06-02"),
            until: day("2031-06-02"),
            ..Filter::default()
        }),
        1
    );
    assert_eq!(
        count(Filter {
            since: day("2031-06-03"),
            ..Filter::default()
        }),
        0
    );
    assert_eq!(
        count(Filter {
            state: name("open"),
            ..Filter::default()
        }),
        1
    );
}

#[test]
fn a_list_tells_where_sound_was_removed() {
    use crate::record::forget_sound;
    let root = tempfile::tempdir().unwrap();
    let spoken = root.path().join("spoken");
    let mut record = Record::create(&spoken, PLAN, Box::new(StepClock::at(1_000))).unwrap();
    put(&mut record, &opened());
    for pin in PINS {
        let clip = record
            .write_clip(pin, &crate::record::clip_wav(&[0.1; 160]))
            .unwrap();
        let mut entry = answered(pin, "present", Outcome::Conforming);
        if let Entry::Answered { heard, .. } = &mut entry {
            heard.hearing.clip = clip.file;
            heard.hearing.clip_sha256 = clip.sha256;
        }
        put(&mut record, &entry);
    }
    drop(record);
    drop(plain(&root.path().join("typed")));
    let mut index = index(root.path());
    let mut sounds = || {
        refreshed(&mut index);
        let rows = index.list(&Filter::default(), 9).unwrap();
        let row = |name: &str| {
            let row = rows.iter().find(|r| r.folder == name).unwrap();
            (row.clips, row.sound_removed)
        };
        (row("spoken"), row("typed"), list_text(&rows))
    };
    let (of_spoken, of_typed, text) = sounds();
    assert_eq!((of_spoken, of_typed), ((2, 0), (0, 0)));
    assert!(
        text.contains("  kept  ") && text.contains("  none  "),
        "{text}"
    );
    // The walk is open, so its sound stays for a day.
    let clock = StepClock::at(25 * 3_600_000);
    let removal = forget_sound(&spoken, jiff::SignedDuration::ZERO, &clock).unwrap();
    assert_eq!(removal.clips(), 2);
    let (of_spoken, _, text) = sounds();
    assert_eq!(of_spoken, (2, 2));
    assert!(text.contains("  removed  "), "{text}");
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let to = to.join(entry.file_name());
        match entry.file_type().unwrap().is_dir() {
            true => copy(&entry.path(), &to),
            false => drop(fs::copy(entry.path(), to).unwrap()),
        }
    }
}

/// A walk counts once, wherever its record lies, and the record that tells most of it counts.
#[test]
fn a_copy_of_a_record_is_named_and_does_not_count() {
    let root = tempfile::tempdir().unwrap();
    let folder = root.path().join("walk");
    let mut record = plain(&folder);
    hard(&root.path().join("hard"));
    copy(&folder, &root.path().join("backup/walk"));
    let mut index = index(root.path());
    refreshed(&mut index);
    let told = |index: &Index| {
        let rows = index.list(&Filter::default(), 9).unwrap();
        let folders: Vec<String> = rows.into_iter().map(|r| r.folder).collect();
        (folders, index.copies().unwrap())
    };
    let pair = |folder: &str, of: &str| (folder.to_owned(), of.to_owned());
    let (folders, copies) = told(&index);
    assert_eq!(folders, ["hard", "backup/walk"]);
    assert_eq!(
        copies,
        [pair("walk", "backup/walk")],
        "one as good as the other"
    );
    // Gone on with, the walk itself tells more.
    asked(&mut record, "front-left/hook-links", 1);
    drop(record);
    refreshed(&mut index);
    let (folders, copies) = told(&index);
    assert_eq!(folders, ["hard", "walk"]);
    assert_eq!(copies, [pair("backup/walk", "walk")]);
    let trends = index.trends(&Filter::default(), None, 9).unwrap();
    assert_eq!((trends.all.walks, trends.copies), (2, 1));
    assert!(trends_text(&trends).contains("copies of other records, not counted: 1"));
    let pin = trends.checks.iter().find(|c| c.check == PINS[0]).unwrap();
    assert_eq!((pin.walks, pin.deficient), (2, 1));
    let file = root.path().join("out.sqlite");
    index.write_sqlite(&file).unwrap();
    let out = rusqlite::Connection::open(&file).unwrap();
    let rows: i64 = out
        .query_row("SELECT count(*) FROM checked", [], |row| row.get(0))
        .unwrap();
    assert_eq!(rows, 2 * 4);
    // A copy that is not intact stands in for nothing.
    let journal = folder.join("journal.jsonl");
    let text = fs::read_to_string(&journal).unwrap();
    fs::write(&journal, text.replacen("Ida Fern", "Ida Holm", 1)).unwrap();
    refreshed(&mut index);
    let (_, copies) = told(&index);
    assert_eq!(copies, []);
    assert_eq!(
        index.trends(&Filter::default(), None, 9).unwrap().all.walks,
        2
    );
    fs::remove_dir_all(&folder).unwrap();
    refreshed(&mut index);
    assert_eq!(told(&index).0, ["hard", "backup/walk"]);
}

#[test]
fn a_record_that_is_not_intact_does_not_count_and_is_named() {
    let root = tempfile::tempdir().unwrap();
    drop(plain(&root.path().join("plain")));
    let journal = root.path().join("plain/journal.jsonl");
    let text = fs::read_to_string(&journal).unwrap();
    fs::write(&journal, text.replacen("Ida Fern", "Ida Holm", 1)).unwrap();
    fs::create_dir(root.path().join("empty")).unwrap();
    fs::write(root.path().join("empty/journal.jsonl"), b"\xff\xfe\n").unwrap();
    let mut index = index(root.path());
    assert_eq!(refreshed(&mut index).unreadable, 2);
    let trends = index.trends(&Filter::default(), None, 9).unwrap();
    assert_eq!((trends.all.walks, trends.unreadable), (0, 2));
    let list = list_text(&index.list(&Filter::default(), 9).unwrap());
    assert!(list.contains("entry 0 (line 1) was changed"), "{list}");
    // Nothing to draw is no reason to fail.
    assert!(plots(&trends).unwrap().contains("nothing to show"));
}

#[test]
fn a_database_of_something_else_is_left_alone() {
    let root = tempfile::tempdir().unwrap();
    let file = root.path().join("other.sqlite");
    let other = rusqlite::Connection::open(&file).unwrap();
    other
        .execute_batch("CREATE TABLE records (wine TEXT)")
        .unwrap();
    drop(other);
    let error = Index::open(root.path(), &file).unwrap_err();
    assert!(matches!(error, FleetError::Foreign(_)), "{error}");
    let missing = root.path().join("nowhere");
    let error = Index::open(&missing, &file).unwrap_err();
    assert!(matches!(error, FleetError::Folder { .. }), "{error}");
}

#[test]
fn the_sqlite_export_has_every_check_of_every_record() {
    let root = tempfile::tempdir().unwrap();
    drop(plain(&root.path().join("plain")));
    hard(&root.path().join("hard"));
    let mut index = index(root.path());
    refreshed(&mut index);
    let file = root.path().join("out.sqlite");
    index.write_sqlite(&file).unwrap();
    let out = rusqlite::Connection::open(&file).unwrap();
    let count = |sql: &str| out.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap();
    assert_eq!(count("SELECT count(*) FROM checked"), 8);
    assert_eq!(
        count("SELECT count(*) FROM checked WHERE found_deficient"),
        1
    );
    assert_eq!(
        count("SELECT count(*) FROM checked WHERE status = 'open'"),
        4
    );
    let error = index.write_sqlite(&file).unwrap_err();
    assert!(error.to_string().contains("there already"), "{error}");
}

#[cfg(feature = "parquet")]
#[test]
fn the_parquet_export_reads_back() {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    let root = tempfile::tempdir().unwrap();
    drop(plain(&root.path().join("plain")));
    hard(&root.path().join("hard"));
    let mut index = index(root.path());
    refreshed(&mut index);
    let out = root.path().join("parquet");
    index.write_parquet(&out).unwrap();
    let rows = |name: &str| {
        let file = fs::File::open(out.join(name)).unwrap();
        let reader = SerializedFileReader::new(file).unwrap();
        let rows: Vec<String> = reader
            .get_row_iter(None)
            .unwrap()
            .map(|r| r.unwrap().to_string())
            .collect();
        rows
    };
    assert_eq!(rows("records.parquet").len(), 2);
    assert_eq!(rows("checks.parquet").len(), 8);
    let noise = rows("noise.parquet");
    assert!(
        noise
            .iter()
            .any(|r| r.contains("from_db: 0, heard: 1, not_taken: 1")),
        "{noise:?}"
    );
}
