//! What the documents list is what there is.

use std::fs;
use std::path::Path;

/// `grammars/README.md` names every value of the rules whose values are words.
#[test]
fn the_values_of_each_rule_are_listed() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("grammars");
    let text = |name: &str| fs::read_to_string(folder.join(name)).expect("a file of the grammars");
    let readme = text("README.md");
    for file in ["presence", "condition", "control", "yes_no", "fixing"] {
        let file = format!("{file}.abnf");
        let head = format!("| `{file}` |");
        let row = readme.lines().find(|line| line.starts_with(&head));
        let (_, listed) = row
            .and_then(|row| row[head.len()..].split_once('|'))
            .expect("a row");
        let grammar = text(&file);
        let tags = grammar.split('{').skip(1);
        let values: Vec<&str> = tags
            .filter_map(|tag| Some(tag.split_once('}')?.0))
            .collect();
        assert!(values.len() >= 2, "{file}");
        for value in values {
            assert!(listed.contains(&format!("`{value}`")), "{file}: {value}");
        }
    }
}
