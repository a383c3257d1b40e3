//! The spoken words that tests, demonstration and the bench of hearing rely on are what they say: the
//! values written beside them are those of the shipped grammars, and the files hold sound.

use std::path::Path;

use loadwalk::audio;
use loadwalk::grammar::{GrammarSet, Graph, Meaning};

const RULES: [&str; 8] = [
    "presence",
    "condition",
    "count",
    "control",
    "yes-no",
    "fixing",
    "reading",
    "tag",
];

fn graph(rule: &str) -> Graph {
    GrammarSet::builtin()
        .graph(&[rule], &[])
        .expect("the rule is in the shipped grammars")
}

fn meanings(graph: &Graph, words: &str) -> Vec<String> {
    let mut values: Vec<String> = graph
        .match_words(words)
        .into_iter()
        .map(|Meaning { value, .. }| value)
        .collect();
    values.dedup();
    values
}

#[derive(serde::Deserialize)]
struct Fixture {
    path: String,
    rule: String,
    words: String,
    expected: Option<String>,
    seconds: f64,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn fixtures() -> Vec<Fixture> {
    let list = std::fs::read_to_string(root().join("audio-fixtures/fixtures.jsonl"))
        .expect("the list of fixtures is in the repository");
    list.lines()
        .map(|line| serde_json::from_str(line).expect("each line is one fixture"))
        .collect()
}

#[test]
fn fixtures_mean_what_is_written_beside_them() {
    let graphs = RULES.map(|rule| (rule, graph(rule)));
    for fixture in fixtures() {
        let place = &fixture.path;
        match fixture.expected {
            Some(value) => {
                let (_, graph) = graphs
                    .iter()
                    .find(|(rule, _)| *rule == fixture.rule)
                    .unwrap_or_else(|| panic!("{place}: no rule `{}`", fixture.rule));
                assert_eq!(meanings(graph, &fixture.words), [value], "{place}");
            }
            None => {
                // A tag may be typed as bare letters, so any short text is one: left out here.
                for (rule, graph) in graphs.iter().filter(|(name, _)| *name != "tag") {
                    let found = meanings(graph, &fixture.words);
                    assert!(found.is_empty(), "{place} is {found:?} under {rule}");
                }
            }
        }
    }
}

#[test]
fn fixtures_hold_sound_of_the_length_listed() {
    let mut listed = 0;
    for fixture in fixtures() {
        let path = root().join("audio-fixtures").join(&fixture.path);
        let samples = audio::read(&path).unwrap_or_else(|e| panic!("{}: {e}", fixture.path));
        let seconds = samples.len() as f64 / f64::from(audio::RATE);
        assert!((seconds - fixture.seconds).abs() < 0.02, "{}", fixture.path);
        let loudest = samples.iter().fold(0.0f32, |m, v| m.max(v.abs()));
        let silent = fixture.words.is_empty();
        assert_eq!(loudest > 0.05, !silent, "{}: {loudest}", fixture.path);
        listed += 1;
    }
    assert!(listed > 300, "only {listed} fixtures are listed");
}

#[test]
fn the_words_of_the_hearing_set_are_those_of_the_grammars() {
    let text = std::fs::read_to_string(root().join("hearing/words.toml"))
        .expect("the words are in the repository");
    let table: toml::Table = text.parse().expect("the words are TOML");
    let graphs = RULES.map(|rule| (rule, graph(rule)));
    for (rule, values) in &table {
        for (value, phrases) in values.as_table().expect("a rule is a table") {
            for phrase in phrases.as_array().expect("a value has a list of phrases") {
                let words = phrase.as_str().expect("a phrase is text");
                if rule == "out-of-grammar" {
                    for (other, graph) in graphs.iter().filter(|(name, _)| *name != "tag") {
                        let found = meanings(graph, words);
                        assert!(found.is_empty(), "`{words}` is {found:?} under {other}");
                    }
                } else {
                    let own = graphs.iter().find(|(name, _)| name == rule);
                    let (_, graph) = own.unwrap_or_else(|| panic!("no rule `{rule}`"));
                    let found = meanings(graph, words);
                    assert_eq!(found, std::slice::from_ref(value), "`{words}` under {rule}");
                }
            }
        }
    }
}
