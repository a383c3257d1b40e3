//! Findings about mistakes; conformity and properties in their own files.

mod properties;
mod srgs;

use super::*;
use crate::diagnostic::{Diagnostic, Severity};

const HEAD: &str =
    "#ABNF 1.0 UTF-8;\nlanguage en;\nmode voice;\ntag-format <semantics/1.0-literals>;\n";

fn set(rules: &str) -> GrammarSet {
    match GrammarSet::parse(&[("g.abnf", &format!("{HEAD}root $r;\n{rules}"))]) {
        Ok(set) => set,
        Err(found) => panic!("{}", found[0]),
    }
}

/// All utterances of `$r` with their values.
fn said(rules: &str) -> Vec<(String, String)> {
    let graph = set(rules).graph(&["r"], &[]).expect("a rule");
    let phrases = graph.phrases(1000);
    phrases
        .into_iter()
        .map(|p| (p.words, p.meanings[0].value.clone()))
        .collect()
}

fn words(rules: &str) -> Vec<String> {
    said(rules).into_iter().map(|(words, _)| words).collect()
}

fn faults(rules: &str) -> Vec<Diagnostic> {
    GrammarSet::check(&[("g.abnf", &format!("{HEAD}root $r;\n{rules}"))]).1
}

/// The findings of a set of rules as `line: title; help`, lines counted from the first rule.
fn findings(rules: &str) -> Vec<String> {
    let found = faults(rules);
    let lines = found.iter().flat_map(|d| {
        d.findings.iter().map(|f| {
            let at = f.span.as_ref().map_or(0, |span| span.start);
            let line = d.line_column(at).0.saturating_sub(5);
            assert!(!f.help.is_empty() && !f.title.ends_with('.'), "{f:?}");
            format!("{line}: {}", f.title)
        })
    });
    lines.collect()
}

#[test]
fn several_mistakes_are_found_in_one_run_each_with_its_line() {
    let rules = "public $r = $a $GARBAGE {v};\n$b = c;\n$b = ;\n$c = (a | b;\n$d = a ) b;\n$e = !en-US x;\npublic $f = $misspelt {v};";
    assert_eq!(
        findings(rules),
        [
            "1: `$GARBAGE` is not supported",
            "3: an empty expansion before `;`",
            "4: expected `)`, found `;`",
            "5: expected a semicolon after the rule, found `)`",
            "6: language attachments are not supported",
        ]
    );
}

#[test]
fn rules_that_cannot_be_trusted_are_refused() {
    for (rules, title) in [
        ("public $r = $x {v};", "1: `$x` is not defined"),
        ("public $r = $r a {v} | b {v};", "1: `$r` refers to itself"),
        (
            "public $r = $a {v};\n$a = b $c;\n$c = d [$a];",
            "3: `$a` refers to itself",
        ),
        (
            "public $r = a {v};\npublic $r = b {v};",
            "2: a second rule named `$r`",
        ),
        ("public $r = a {v} | b;", "1: \"b\" of `$r` has no value"),
        ("public $r = a;", "1: \"a\" of `$r` has no value"),
        ("public $r = [a] {v};", "1: `$r` matches silence"),
        (
            "public $r = $VOID {v};",
            "1: nothing that can be said matches `$r`",
        ),
        (
            "public $r = a {v};\npublic $state = b {v};",
            "2: `$state` is the name of a check's own states",
        ),
        (
            "public $r = $<h.abnf#x> {v};",
            "1: the set has no file `h.abnf`",
        ),
        (
            "public $r = $<http://h/x#y> {v};",
            "1: `$<http://h/x#y>` does not name a file of this set",
        ),
        (
            "public $r = fault {deficient} | a [fault] {good} | a {deficient};",
            "1: \"a\" of `$r` means both `deficient` and `good`",
        ),
        (
            "public $r = one {1} two {2} | one two {21};",
            "1: \"one two\" of `$r` means both `12` and `21`",
        ),
    ] {
        let found = findings(rules);
        assert_eq!(found.first().map(String::as_str), Some(title), "{rules}");
    }
    // The same value by another way is no clash.
    assert_eq!(
        findings("public $r = one {1} two {2} | one two {12} | [one] one two {12};"),
        [] as [&str; 0]
    );
    let unused = faults("public $r = a {v};\n$b = c;");
    assert_eq!(unused[0].findings[0].severity, Severity::Warning);
}

#[test]
fn hostile_sizes_end_in_a_finding() {
    let deep = format!(
        "public $r = {}a{} {{v}};",
        "(".repeat(5000),
        ")".repeat(5000)
    );
    assert_eq!(findings(&deep), ["1: groups are nested deeper than 32"]);
    let mut chain = String::from("public $r = $a0 {v};\n");
    for i in 0..5000 {
        chain.push_str(&format!("$a{i} = $a{};\n", i + 1));
    }
    chain.push_str("$a5000 = x;");
    assert!(findings(&chain)[0].contains("more than 32 rules refer to each other"));
    let mut bomb = String::from("public $r = $b0 {v};\n");
    for i in 0..8 {
        bomb.push_str(&format!("$b{i} = $b{}<32>;\n", i + 1));
    }
    bomb.push_str("$b8 = x;");
    assert!(findings(&bomb)[0].contains("cannot be expanded"));
    let long = "x".repeat(limits::MAX_FILE_BYTES + 1);
    assert!(findings(&long)[0].contains("longer than"));
}
