//! Conformity with the Speech Recognition Grammar Specification 1.0, W3C Recommendation of 16 March 2004:
//! rules of the shapes of the examples in the named sections.

use super::*;

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
