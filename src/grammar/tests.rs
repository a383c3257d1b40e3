//! Conformity with SRGS 1.0, findings, and properties over all phrases and hostile texts.

use super::*;
use crate::diagnostic::{Diagnostic, Severity};
use proptest::prelude::*;

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

// The rules in the next tests have the shapes of the examples in the named sections of the Speech
// Recognition Grammar Specification 1.0, W3C Recommendation of 16 March 2004.

#[test]
fn srgs_2_1_tokens() {
    assert_eq!(words("public $r = \"front left\" {v};"), ["front left"]);
    assert_eq!(words("public $r = Front   LEFT {v};"), ["front left"]);
    assert_eq!(words("public $r = it's {v};"), ["it's"]);
}

#[test]
fn srgs_2_2_rule_references() {
    assert_eq!(
        words("public $r = $a {v}; private $a = pin | bolt; "),
        ["pin", "bolt"]
    );
    // 2.2.3: NULL is matched without a word, VOID by nothing.
    assert_eq!(words("public $r = (pin $NULL | bolt $VOID) {v};"), ["pin"]);
    let files = [
        (
            "dir/a.abnf",
            format!("{HEAD}root $a; public $a = red $<b.abnf#c> | $<b.abnf>;"),
        ),
        (
            "dir/b.abnf",
            format!("{HEAD}root $d; public $c = hook {{h}}; public $d = pin {{p}};"),
        ),
    ];
    let files: Vec<_> = files.iter().map(|(p, t)| (*p, t.as_str())).collect();
    let set = GrammarSet::parse(&files).expect("sound");
    let red = set.graph(&["a"], &[]).expect("a rule").phrases(10);
    let red: Vec<_> = red
        .iter()
        .map(|p| (p.words.as_str(), p.meanings[0].value.as_str()))
        .collect();
    // The reference has the tag, the rule that refers has none: both values are the referred rule's.
    assert_eq!(red, [("red hook", "h"), ("pin", "p")]);
    assert_eq!(set.rules().collect::<Vec<_>>(), ["a", "c", "d"]);
}

#[test]
fn srgs_2_3_sequences_and_groups() {
    assert_eq!(
        words("public $r = (this is) (a test) {v};"),
        ["this is a test"]
    );
    assert_eq!(words("public $r = () pin [] {v};"), ["pin"]);
}

#[test]
fn srgs_2_4_alternatives_and_weights() {
    assert_eq!(words("public $r = (a | b c | d) {v};"), ["a", "b c", "d"]);
    // 2.4.1: a weight is a number such as 10, 2. , .5 or 0.1; zero makes an alternative void.
    let rules = "public $r = (/10/ small | /2./ medium | /.5/ large | /0/ never) {v};";
    assert_eq!(words(rules), ["small", "medium", "large"]);
    let graph = set(rules).graph(&["r"], &[]).expect("a rule");
    let weights: f32 = graph
        .nodes
        .iter()
        .flatten()
        .map(|e| e.weight)
        .filter(|w| *w != 0.0)
        .map(f32::exp)
        .sum();
    assert!((weights - 1.0).abs() < 1e-5);
    for wrong in ["/-1/ a", "/x/ a", "/inf/ a", "/1 a"] {
        assert!(
            !findings(&format!("public $r = ({wrong} | b) {{v}};")).is_empty(),
            "{wrong}"
        );
    }
}

#[test]
fn srgs_2_5_repeats() {
    assert_eq!(words("public $r = [very] big {v};"), ["big", "very big"]);
    assert_eq!(words("public $r = very<2> big {v};"), ["very very big"]);
    assert_eq!(words("public $r = very<0-2> big {v};").len(), 3);
    // The repeat binds to the item before it alone (2.7, precedence).
    assert_eq!(words("public $r = a b<2> {v};"), ["a b b"]);
    assert_eq!(words("public $r = (a b)<2> {v};"), ["a b a b"]);
    assert_eq!(
        findings("public $r = very<1-> big {v};"),
        ["1: `<1->` has no upper bound"]
    );
    assert_eq!(
        findings("public $r = very<2-1> big {v};"),
        ["1: `<2-1>` is not a repeat"]
    );
    assert_eq!(
        findings("public $r = very<0-1 /0.6/> big {v};"),
        ["1: repeat probabilities are not supported"]
    );
    assert_eq!(
        findings("public $r = very<0-999999> big {v};"),
        ["1: `<0-999999>` repeats too often"]
    );
}

#[test]
fn srgs_2_6_tags_and_sisr_literals() {
    // Semantic Interpretation for Speech Recognition 1.0, string literals; here they are put together.
    assert_eq!(
        said("public $r = twelve {12} point {.} five {5};"),
        [("twelve point five".into(), "12.5".into())]
    );
    assert_eq!(
        said("public $r = odd {!{a{b}c}!};"),
        [("odd".into(), "a{b}c".into())]
    );
    assert_eq!(
        said("public $r = { before } pin;"),
        [("pin".into(), "before".into())]
    );
    let bare = "#ABNF 1.0;\nlanguage en; root $r;\npublic $r = a {b};";
    let found = GrammarSet::check(&[("g", bare)]).1;
    assert_eq!(
        found[0].findings[0].title,
        "a tag without a declared format"
    );
    let script = bare.replace("root", "tag-format <semantics/1.0>; root");
    assert!(GrammarSet::parse(&[("g", &script)]).is_err());
}

#[test]
fn srgs_3_rules_and_scope() {
    // 3.2: the default scope is private.
    assert_eq!(findings("$r = a {v};"), [] as [&str; 0]);
    assert_eq!(
        set("$r = a {v}; public $s = b {v};")
            .rules()
            .collect::<Vec<_>>(),
        ["s"]
    );
    // 3.1: no hyphen in names; outside, an underscore is a hyphen.
    assert_eq!(findings("public $r = a {v}; public $a-b = c {v};").len(), 1);
    assert_eq!(
        set("public $r = a {v}; public $a_b = c {v};")
            .rules()
            .collect::<Vec<_>>(),
        ["a-b", "r"]
    );
    assert_eq!(
        findings("public $r = a {v}; $NULL = b;"),
        ["1: `$NULL` is a special rule and cannot be defined"]
    );
}

#[test]
fn srgs_4_header_and_declarations() {
    for head in ["#ABNF 1.0;", "#ABNF 1.0 UTF-8;", "#ABNF 1.0 utf-8;"] {
        let text = format!(
            "{head} language en-GB; mode voice; root $r; tag-format <semantics/1.0-literals>;\nmeta \"author\" is \"somebody\"; http-equiv \"Date\" is \"now\"; public $r = a {{v}};"
        );
        assert!(GrammarSet::parse(&[("g", &text)]).is_ok(), "{head}");
    }
    for (head, title) in [
        ("", "the header is missing"),
        ("#ABNF 2.0 UTF-8;", "the header is not of version 1.0"),
        (
            "#ABNF 1.0 ISO-8859-1;",
            "the encoding ISO-8859-1 is not supported",
        ),
        ("#ABNF 1.0 UTF-8", "the header does not end in a semicolon"),
        ("#JSGF V1.0;", "the header is missing"),
    ] {
        let text = format!("{head}\nlanguage en; mode voice; root $r;\npublic $r = a {{v}};");
        let found = GrammarSet::check(&[("g", &text)]).1;
        assert_eq!(found[0].findings[0].title, title, "{head}");
    }
    for (declaration, title) in [
        ("mode dtmf;", "only spoken grammars are supported"),
        ("base <x>;", "`base` is not supported"),
        ("lexicon <x>;", "`lexicon` is not supported"),
        ("{tag};", "tags outside rules are not supported"),
        ("root $r;", "a second root"),
        ("rot $r;", "`rot` is neither a declaration nor a rule"),
    ] {
        assert_eq!(
            findings(&format!("{declaration} public $r = a {{v}};")),
            [format!("1: {title}")]
        );
    }
}

#[test]
fn srgs_4_comments() {
    // 4.13: three kinds of comments wherever white space may be.
    let rules = "// one\n/* two\n lines */ public /** doc */ $r = a /* x */ b // end\n {v};";
    assert_eq!(words(rules), ["a b"]);
    assert_eq!(
        findings("/* public $r = a {v};"),
        [
            "1: the comment is never closed",
            "0: the root rule `$r` is not defined"
        ][..1]
    );
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

/// A walk over the graph along given choices: the words and the meaning of one utterance.
fn pick(graph: &Graph, choices: &[u16]) -> (Vec<String>, Meaning) {
    let (mut at, mut words, mut rule, mut value) =
        (graph.start, Vec::new(), String::new(), String::new());
    let mut choices = choices.iter().cycle();
    while at != graph.end {
        let edges = &graph.nodes[at];
        let choice = usize::from(*choices.next().expect("endless")) % edges.len();
        match &edges[choice].label {
            Label::Null => {}
            Label::Word(word) => words.push(word.to_string()),
            Label::Tag(tag) => value.push_str(tag),
            Label::Rule(name) => rule = name.to_string(),
        }
        at = edges[choice].to;
    }
    (words, Meaning { rule, value })
}

fn everything() -> &'static Graph {
    static GRAPH: std::sync::OnceLock<Graph> = std::sync::OnceLock::new();
    GRAPH.get_or_init(|| {
        let rules = [
            "presence",
            "count",
            "condition",
            "control",
            "yes-no",
            "fixing",
            "reading",
            "tag",
        ];
        GrammarSet::builtin().graph(&rules, &[]).expect("built in")
    })
}

proptest! {
    #[test]
    fn every_phrase_is_understood_in_its_written_forms(
        choices in proptest::collection::vec(any::<u16>(), 64),
        end in prop::sample::select(vec!["", ".", ",", "!", "?", "..."]),
        gap in prop::sample::select(vec![" ", ", "]),
        capital: bool,
    ) {
        let (words, meaning) = pick(everything(), &choices);
        let mut written = words.join(gap);
        if capital {
            written = written[..1].to_uppercase() + &written[1..];
        }
        let written = format!(" {written}{end}");
        let mut walker = Walker::new(everything().written().expect("within limits"));
        let start = walker.start();
        let set = walker.step(start, written.as_bytes());
        // A number may belong to several rules that are active here, but must mean this too.
        let found = set.map(|set| walker.final_meanings(set)).unwrap_or_default();
        prop_assert!(found.contains(&meaning), "{written:?} {found:?}");
    }

    #[test]
    fn stepping_by_pieces_is_stepping_by_the_whole(
        choices in proptest::collection::vec(any::<u16>(), 64),
        cuts in proptest::collection::vec(any::<prop::sample::Index>(), 0..6),
    ) {
        let (words, _) = pick(everything(), &choices);
        let written = format!(" {}", words.join(" ")).into_bytes();
        let mut cuts: Vec<_> = cuts.iter().map(|cut| cut.index(written.len())).collect();
        cuts.extend([0, written.len()]);
        cuts.sort_unstable();
        cuts.dedup();
        let pieces: Vec<&[u8]> = cuts.windows(2).map(|cut| &written[cut[0]..cut[1]]).collect();
        let trie = VocabTrie::new(pieces.iter().enumerate().map(|(i, piece)| (i as u32, *piece)));
        let mut walker = Walker::new(everything().written().expect("within limits"));
        let start = walker.start();
        let whole = walker.step(start, &written);
        prop_assert!(whole.is_some());
        let mut at = start;
        for (i, piece) in pieces.iter().enumerate() {
            let next = walker.continuations(at, &trie);
            let found = next.iter().find(|(token, _)| *token == i as u32);
            let stepped = walker.step(at, piece);
            prop_assert_eq!(found.map(|(_, set)| *set), stepped);
            prop_assert!(walker.allowed_first_bytes(at).contains(piece[0]));
            at = stepped.expect("part of a written form");
        }
        prop_assert_eq!(Some(at), whole);
        prop_assert!(walker.may_end(at));
    }

    #[test]
    fn continuations_are_exactly_the_pieces_that_can_follow(
        choices in proptest::collection::vec(any::<u16>(), 64),
        length in any::<prop::sample::Index>(),
        pieces in proptest::collection::vec("[ a-z0-9A-Z.,-]{1,3}", 1..60),
    ) {
        let (words, _) = pick(everything(), &choices);
        let written = format!(" {}", words.join(" "));
        let mut walker = Walker::new(everything().written().expect("within limits"));
        let start = walker.start();
        let begun = &written.as_bytes()[..length.index(written.len())];
        let at = walker.step(start, begun).expect("part of a written form");
        let trie = VocabTrie::new(pieces.iter().enumerate().map(|(i, piece)| (i as u32, piece)));
        let mut found: Vec<_> = walker.continuations(at, &trie).to_vec();
        found.sort_unstable();
        let mut want = Vec::new();
        for (i, piece) in pieces.iter().enumerate() {
            want.extend(walker.step(at, piece.as_bytes()).map(|set| (i as u32, set)));
        }
        prop_assert_eq!(found, want);
    }

    #[test]
    fn no_text_brings_the_reader_down(text in "\\PC*") {
        let _ = GrammarSet::check(&[("g.abnf", &text)]);
        let _ = GrammarSet::check(&[("g.abnf", &format!("{HEAD}root $r; public $r = {text}; "))]);
    }

    #[test]
    fn no_heap_of_tokens_brings_the_reader_down(
        tokens in proptest::collection::vec(prop::sample::select(vec![
            "public", "$r", "$s", "=", ";", "|", "(", ")", "[", "]", "<2>", "<0-3>", "{v}", "{!{w}!}", "a",
            "\"b c\"", "/2/", "$NULL", "$VOID", "$<g.abnf#r>", "//x\n", "/*", "*/", "root", "é", "\u{0}",
        ]), 0..60),
    ) {
        let text = format!("{HEAD}root $r; public $r = {}", tokens.join(" "));
        if let (Some(set), _) = GrammarSet::check(&[("g.abnf", &text)]) {
            for rule in set.rules() {
                let graph = set.graph(&[rule], &[]).expect("checked");
                prop_assert_eq!(graph.clash().expect("small"), None);
                for phrase in graph.phrases(20) {
                    prop_assert!(graph.match_words(&phrase.words).contains(&phrase.meanings[0]));
                }
            }
        }
    }

    #[test]
    fn no_typed_answer_brings_the_graph_down(typed in "\\PC*") {
        everything().match_words(&typed);
    }
}

#[test]
fn written_graphs_hold_no_dead_ends() {
    let graph = GrammarSet::builtin()
        .graph(&["count"], &[])
        .expect("built in");
    let mut walker = Walker::new(graph.written().expect("within limits"));
    let start = walker.start();
    // After "3" only more of a count, a gap before "links", or an end: no gap leads nowhere.
    let set = walker.step(start, b" 13").expect("a count");
    assert!(walker.may_end(set));
    let bytes: Vec<u8> = walker.allowed_first_bytes(set).iter().collect();
    assert_eq!(bytes, b" !,.?");
    assert_eq!(walker.step(start, b" 121"), None);
    assert_eq!(walker.step(start, b"3"), None);
}

#[test]
fn no_shipped_phrases_are_too_alike() {
    let set = GrammarSet::builtin();
    for rules in [
        &["presence", "control", "yes-no"][..],
        &["condition", "control", "yes-no"],
        &["count", "control", "yes-no"],
        &["fixing", "control"],
    ] {
        let phrases = set.graph(rules, &[]).expect("built in").phrases(5000);
        let found = likeness::too_alike(&phrases, likeness::costly, &[]);
        let open: Vec<_> = found.iter().filter(|pair| pair.handled.is_none()).collect();
        assert!(open.is_empty(), "{open:#?}");
    }
    let teens = set.graph(&["count"], &[]).expect("built in").phrases(5000);
    let teens = likeness::too_alike(&teens, likeness::costly, &[]);
    let teens = teens
        .iter()
        .filter(|p| p.handled == Some(likeness::Handled::TeensAndTens));
    assert_eq!(teens.count(), 7, "13/30 to 19/90");
}
