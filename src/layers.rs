//! The sources held to the table of modules in `lib.rs`.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Modules in the table's order, each with what it may use; `None` stands for all.
fn table() -> Vec<(&'static str, Option<BTreeSet<&'static str>>)> {
    let rows = include_str!("lib.rs").lines().filter_map(|line| {
        let cells: Vec<&str> = line.strip_prefix("//! | ")?.split(" | ").collect();
        let &[module, _, uses] = cells.as_slice() else {
            return None;
        };
        let module = module.trim_matches(['[', ']', '`']);
        let uses = match uses.trim_end_matches(" |") {
            "all" => None,
            "nothing" => Some(BTreeSet::new()),
            uses => Some(uses.split(", ").collect()),
        };
        (!matches!(module, "module" | "---")).then_some((module, uses))
    });
    rows.collect()
}

/// All Rust files of a module, tests among them.
fn files(module: &str) -> Vec<PathBuf> {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = vec![src.join(module).with_extension("rs")];
    let mut folders = vec![src.join(module)];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).into_iter().flatten() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                files.push(path);
            }
        }
    }
    files.retain(|file| file.is_file());
    files
}

/// The modules that a source names behind `crate::`; a group of them as the empty word.
fn used(source: &str) -> BTreeSet<&str> {
    let parts = source.split("crate::").skip(1);
    let name = |part: &str| part.find(|c: char| !c.is_ascii_alphanumeric() && c != '_');
    parts
        .map(|part| &part[..name(part).unwrap_or(part.len())])
        .collect()
}

#[test]
fn every_module_is_in_the_table_and_uses_only_rows_above_its_own() {
    let table = table();
    let modules: BTreeSet<&str> = include_str!("lib.rs")
        .lines()
        .filter_map(|line| {
            let line = line.strip_prefix("pub ").unwrap_or(line);
            line.strip_prefix("mod ")?.strip_suffix(';')
        })
        .filter(|module| *module != "layers")
        .collect();
    let rows: BTreeSet<&str> = table.iter().map(|(module, _)| *module).collect();
    assert_eq!(modules, rows);
    assert_eq!(table.len(), rows.len());
    for (at, (module, uses)) in table.iter().enumerate() {
        for other in uses.iter().flatten() {
            assert!(
                table[..at].iter().any(|(above, _)| above == other),
                "{module} may use {other}, which does not stand above it"
            );
        }
    }
}

#[test]
fn each_module_uses_what_its_row_names_and_nothing_else() {
    for (module, uses) in table() {
        let Some(uses) = uses else { continue };
        let mut named: BTreeMap<String, PathBuf> = BTreeMap::new();
        let files = files(module);
        assert!(!files.is_empty(), "{module} has no file");
        for file in files {
            let source = std::fs::read_to_string(&file).unwrap();
            for name in used(&source).into_iter().filter(|name| *name != module) {
                named.entry(name.to_owned()).or_insert_with(|| file.clone());
            }
        }
        for (name, file) in &named {
            assert!(
                uses.contains(name.as_str()),
                "{module} uses {name:?}, which its row does not name: {}",
                file.display()
            );
        }
        for name in uses {
            assert!(named.contains_key(name), "{module} does not use {name}");
        }
    }
}
