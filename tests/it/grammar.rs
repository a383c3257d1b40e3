//! The grammars that come with loadwalk: what can be said, how it may be written, what it means.

use loadwalk::grammar::called;
use loadwalk::grammar::{BUILTIN, GrammarSet, Graph, Meaning, NEGATED, Walker};

fn graph(rules: &[&str]) -> Graph {
    GrammarSet::builtin()
        .graph(rules, &[])
        .expect("a built-in rule")
}

fn meaning(rule: &str, value: &str) -> Vec<Meaning> {
    vec![Meaning {
        rule: rule.into(),
        value: value.into(),
    }]
}

/// The meanings of exact bytes as a recogniser writes them.
fn heard(graph: &Graph, bytes: &str) -> Vec<Meaning> {
    let mut walker = Walker::new(graph.written().expect("within limits"));
    let start = walker.start();
    walker
        .step(start, bytes.as_bytes())
        .map(|set| walker.final_meanings(set))
        .unwrap_or_default()
}

const ONES: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
const TENS: [&str; 10] = [
    "", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
];

/// English number words by the rule taught at school, written apart from the grammar.
fn say(n: u32) -> Vec<String> {
    let below = |n: u32| match (n / 10, n % 10) {
        (0 | 1, _) => ONES[n as usize].to_owned(),
        (tens, 0) => TENS[tens as usize].to_owned(),
        (tens, ones) => format!("{} {}", TENS[tens as usize], ONES[ones as usize]),
    };
    let digits: Vec<_> = n
        .to_string()
        .bytes()
        .map(|b| ONES[usize::from(b - b'0')])
        .collect();
    let mut out = vec![
        digits.join(" "),
        digits.join(" ").replace("one zero ", "one oh "),
    ];
    if n < 100 {
        out.push(below(n));
    } else {
        for hundred in ["one hundred", "a hundred", "hundred"] {
            if n == 100 {
                out.push(hundred.to_owned());
            } else {
                out.push(format!("{hundred} {}", below(n - 100)));
                out.push(format!("{hundred} and {}", below(n - 100)));
            }
        }
    }
    out
}

#[test]
fn every_count_is_understood_in_words_digits_and_figures() {
    let graph = graph(&["count"]);
    for n in 0..=120 {
        let value = n.to_string();
        let want = meaning("count", &value);
        for words in say(n) {
            for tail in ["", " link", " links"] {
                let said = format!("{words}{tail}");
                assert_eq!(graph.match_words(&said), want, "{said}");
                for end in ["", ".", ",", "!", "?"] {
                    assert_eq!(heard(&graph, &format!(" {said}{end}")), want, "{said}{end}");
                }
                let hyphens = words.replace(' ', "-");
                if !words.contains(" and ") && !words.starts_with("a ") {
                    assert_eq!(
                        heard(&graph, &format!(" {hyphens}{tail}")),
                        want,
                        "{hyphens}"
                    );
                }
            }
        }
        let apart: Vec<_> = value.chars().map(String::from).collect();
        let figures = [
            value.clone(),
            apart.join(" "),
            apart.join("-"),
            apart.join(", "),
            apart.join(". "),
        ];
        for form in figures {
            for tail in ["", ".", " links", " links."] {
                let bytes = format!(" {form}{tail}");
                assert_eq!(heard(&graph, &bytes), want, "{bytes}");
            }
            assert_eq!(graph.match_words(&form), want, "{form}");
        }
    }
    for outside in [
        "121",
        "one twenty one",
        "two hundred",
        "007",
        "",
        "-1",
        "1.5",
        "three three three",
        "oh",
        "nine oh",
    ] {
        assert_eq!(graph.match_words(outside), [], "{outside}");
    }
}

#[test]
fn forms_that_a_recogniser_writes() {
    let all = graph(&["presence", "count", "control"]);
    for (bytes, rule, value) in [
        (" three links", "count", "3"),
        (" Three.", "count", "3"),
        (" 3 links", "count", "3"),
        (" 3", "count", "3"),
        (" 20-1", "count", "21"),
        (" twenty-one", "count", "21"),
        (" Twenty, one.", "count", "21"),
        (" 2-0", "count", "20"),
        (" 100 and 5.", "count", "105"),
        (" 1 hundred", "count", "100"),
        (" Present.", "presence", "present"),
        (" it's there", "presence", "present"),
        (" Stand-by.", "control", "stand-by"),
        (" Standby", "control", "stand-by"),
        (" Where am I?", "control", "where"),
        (" where am i", "control", "where"),
        (" Say again, ", "control", ""),
    ] {
        let want = if value.is_empty() {
            vec![]
        } else {
            meaning(rule, value)
        };
        assert_eq!(heard(&all, bytes), want, "{bytes:?}");
    }
    let reading = graph(&["reading"]);
    for (bytes, value) in [
        (" 12.5", "12.5"),
        (" 12.5 bar.", "12.5"),
        (" Twelve point five bar", "12.5"),
        (" 12 point 5", "12.5"),
        (" 0.5", "0.5"),
        (" .5", "0.5"),
        (" 250 kg", "250"),
        (" 250kg.", "250"),
        (" two hundred and fifty kilograms", "250"),
        (" 85%", "85"),
        (" 12 and a half metres", "12.5"),
        (" 1.05", "1.05"),
        (" 999", "999"),
    ] {
        assert_eq!(
            heard(&reading, bytes),
            meaning("reading", value),
            "{bytes:?}"
        );
    }
    let tag = graph(&["tag"]);
    for (bytes, value) in [
        (" Alpha seven.", "A7"),
        (" Alpha 7", "A7"),
        (" alfa seven", "A7"),
        (" X-ray 2, 0, 4", "X204"),
        (" Xray-204", "X204"),
        (" X ray 20 4", "X204"),
        (" Sierra Lima-204.", "SL204"),
        (" Juliet niner", "J9"),
        (" Delta tree", "D3"),
    ] {
        assert_eq!(heard(&tag, bytes), meaning("tag", value), "{bytes:?}");
    }
    // Nobody spelled what a recogniser writes as letters: "go" is not G, O.
    for bytes in [" A7", " A-7", " SL-204", " GO 58", " Go 58"] {
        assert_eq!(heard(&tag, bytes), Vec::new(), "{bytes:?}");
    }
    // At a keyboard it is the letters that are typed.
    for (typed, value) in [("sl-204", "SL204"), ("A7", "A7"), ("alfa 7", "A7")] {
        assert_eq!(tag.match_words(typed), meaning("tag", value), "{typed:?}");
    }
}

/// Twelve psi are not twelve bar. Where nobody knows the unit, any may follow.
#[test]
fn another_unit_denies_a_reading() {
    let of = |unit: Option<&str>| {
        let set = GrammarSet::builtin();
        set.graph_of(&["reading"], &[], unit).expect("a graph")
    };
    let bar = of(Some("bar"));
    for (said, value) in [("twelve", "12"), ("twelve bar", "12"), ("12.5 bar", "12.5")] {
        assert_eq!(bar.match_words(said), meaning("reading", value), "{said}");
    }
    for said in ["twelve psi", "two eight volts", "12.5 kilos"] {
        assert_eq!(bar.match_words(said), meaning("reading", NEGATED), "{said}");
    }
    // One unit by its other name, and one that no list has.
    assert_eq!(
        of(Some("kilograms")).match_words("250 kilos"),
        meaning("reading", "250")
    );
    assert_eq!(
        of(Some("turns")).match_words("three turns"),
        meaning("reading", "3")
    );
    assert_eq!(
        of(Some("feet")).match_words("one foot"),
        meaning("reading", "1")
    );
    assert_eq!(of(None).match_words("twelve psi"), meaning("reading", "12"));
}

/// "Bad condition" was good condition by six of twenty voices, "both present" missing by three of twelve in noise, where
/// these had no words of their own.
#[test]
fn what_sounds_like_its_opposite_has_words_of_its_own() {
    for (rule, said, value) in [
        ("count", "three or four", NEGATED),
        ("count", "four to six links", NEGATED),
        ("count", "not five", NEGATED),
        ("condition", "bad condition", "deficient"),
        ("condition", "in poor condition", "deficient"),
        ("condition", "looks good", "good"),
        ("condition", "doesn't look good", "deficient"),
        ("presence", "both present", "present"),
        ("presence", "not both present", "missing"),
        ("presence", "it isn't missing", NEGATED),
        ("presence", "absent", "missing"),
        ("yes-no", "no I didn't", "no"),
        ("fixing", "unfixed", "leave"),
    ] {
        assert_eq!(
            graph(&[rule]).match_words(said),
            meaning(rule, value),
            "{said}"
        );
    }
}

#[test]
fn no_utterance_has_two_meanings_where_rules_are_active_together() {
    for rule in [
        "presence",
        "count",
        "condition",
        "reading",
        "tag",
        "yes-no",
        "fixing",
    ] {
        let clash = graph(&[rule, "control"]).clash().expect("within limits");
        assert_eq!(clash, None, "{rule}");
    }
}

#[test]
fn built_in_files_have_no_finding() {
    let (set, findings) = GrammarSet::check(&BUILTIN);
    assert!(findings.is_empty(), "{}", findings[0]);
    let set = set.expect("no findings");
    for rule in [
        "presence",
        "count",
        "condition",
        "control",
        "yes-no",
        "fixing",
        "reading",
        "tag",
    ] {
        assert!(set.rules().any(|known| known == rule), "{rule}");
    }
}

#[test]
fn a_check_brings_its_own_states() {
    let states = [
        (
            "plugged".to_owned(),
            vec!["plugged".to_owned(), "plug fitted".into()],
        ),
        ("both".to_owned(), vec!["Both of them!".to_owned()]),
    ];
    let set = GrammarSet::builtin();
    let graph = set
        .graph(&["state", "control"], &states)
        .expect("sound states");
    assert_eq!(
        graph.match_words("PLUG fitted"),
        meaning("state", "plugged")
    );
    assert_eq!(heard(&graph, " Both of them."), meaning("state", "both"));
    assert_eq!(
        graph.match_words("stand by"),
        meaning("control", "stand-by")
    );
    assert!(set.graph(&["state"], &[]).is_err());
    assert!(set.graph(&["stat"], &states).is_err());
    let shared = [
        ("a".to_owned(), vec!["same".to_owned()]),
        ("b".to_owned(), vec!["Same".to_owned()]),
    ];
    assert!(set.graph(&["state"], &shared).is_err());
}

#[test]
fn several_items_in_one_breath_keep_their_order() {
    let one = graph(&["count", "presence"]);
    let strung = one.strung(1, 3).expect("small");
    let strings = strung.match_strings("seven links present 12");
    let flat: Vec<_> = strings[0].iter().map(|m| m.value.as_str()).collect();
    assert_eq!((strings.len(), flat), (1, vec!["7", "present", "12"]));
}

fn station(plan: &str, key: &str) -> Vec<called::CalledItem> {
    let path = std::path::Path::new("plans").join(plan);
    let text = std::fs::read_to_string(&path).expect("a plan");
    let plan = loadwalk::plan::read(&path, &text).expect("sound");
    let mut stations = plan.route().stations.iter();
    let station = stations.find(|s| s.key == key).expect("a station");
    loadwalk::walk::called_items(station)
}

/// The only reading of a breath as "rule value" in a row; empty where there is none.
fn breath(graph: &Graph, words: &str) -> String {
    let readings = graph.match_strings(words);
    assert!(readings.len() < 2, "{words:?} can mean {readings:?}");
    let items = readings.iter().flatten();
    let items: Vec<String> = items.map(|m| format!("{} {}", m.rule, m.value)).collect();
    items.join(", ")
}

#[test]
fn a_station_is_called_off_in_any_order() {
    let set = GrammarSet::builtin();
    let graph = called::graph(&set, &station("generator-skid.toml", "front-left")).expect("small");
    for (words, means) in [
        (
            "pin in, keeper closed, seven links",
            "shackle-pin present, hook-keeper closed, hook-links 7",
        ),
        (
            "8 links leg rope good and padding not there",
            "hook-links 8, leg-rope good, edge-padding missing",
        ),
        (
            "links seven, no, eight links",
            "hook-links 7, filler no, hook-links 8",
        ),
        ("twelve", "count 12"),
        ("keeper not closed", "hook-keeper ~not"),
        ("padding is not seen", "edge-padding not-seen"),
        (
            "chain no twist stand by",
            "chain straight, control stand-by",
        ),
        ("pin in, station done", "shackle-pin present, control done"),
        ("hook keeper", "name hook-keeper"),
        ("no, keeper", "filler no, name hook-keeper"),
        ("one link", "hook-links 1"),
        // A name alone is no finding, nor is a finding alone.
        ("pin in, keeper", ""),
        ("present", ""),
        ("pin, keeper closed", ""),
    ] {
        assert_eq!(breath(&graph, words), means, "{words:?}");
    }
}

#[test]
fn both_and_all_stand_for_the_items_that_belong_together() {
    let set = GrammarSet::builtin();
    let mut items = station("generator-skid.toml", "front-left");
    for item in items.iter_mut().filter(|i| i.rule == "condition") {
        item.together = Some("fittings".to_owned());
    }
    let graph = called::graph(&set, &items).expect("small");
    assert_eq!(
        breath(&graph, "both fittings good"),
        "lifting-lug+leg-rope good"
    );
    assert_eq!(
        breath(&graph, "all fittings damaged"),
        "lifting-lug+leg-rope deficient"
    );
    items.retain(|i| i.key != "leg-rope");
    let graph = called::graph(&set, &items).expect("small");
    assert_eq!(
        breath(&graph, "both fittings good"),
        "",
        "there is one only"
    );
}

#[test]
fn what_is_denied_behind_a_name_is_never_the_good_word() {
    let set = GrammarSet::builtin();
    let items = station("generator-skid.toml", "front-left");
    let graph = called::graph(&set, &items).expect("small");
    for not in ["not", "isn't", "aren't"] {
        for said in [
            "in", "on", "all in", "there", "present", "in place", "fitted",
        ] {
            let words = format!("pin {not} {said}");
            assert_eq!(breath(&graph, &words), "shackle-pin missing", "{words}");
        }
        for said in ["good", "in good order"] {
            let words = format!("leg rope {not} {said}");
            assert_eq!(breath(&graph, &words), "leg-rope deficient", "{words}");
        }
    }
}

#[test]
fn a_single_item_has_a_single_meaning() {
    let set = GrammarSet::builtin();
    let graph = called::single(&set, &station("generator-skid.toml", "front-left")).expect("small");
    assert_eq!(breath(&graph, "seven links"), "hook-links 7");
    assert_eq!(breath(&graph, "keeper"), "name hook-keeper");
    for several in [
        "seven links, no",
        "no, pin in",
        "pin in, keeper closed",
        "no, keeper",
    ] {
        assert_eq!(breath(&graph, several), "", "{several:?}");
    }
}

#[test]
fn no_breath_at_a_shipped_station_has_two_meanings() {
    let set = GrammarSet::builtin();
    for (plan, key) in [
        ("generator-skid.toml", "rear-left"),
        ("generator-skid.toml", "papers"),
        ("gravel-net.toml", "ring"),
        ("roof-beams.toml", "front-strop"),
    ] {
        let graph = called::strung(&set, &station(plan, key), 2).expect("small");
        assert_eq!(graph.clash(), Ok(None), "{plan} {key}");
    }
}
