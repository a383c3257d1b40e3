//! Reading plans: the demo plans, every kind of mistake, and anything at all.

use loadwalk::diagnostic::Diagnostic;
use loadwalk::figures::{Figures, Grade, Question};
use loadwalk::grammar::GrammarSet;
use loadwalk::plan::{self, CheckKind, Plan};
use proptest::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};

const DEMOS: [&str; 3] = ["generator-skid.toml", "roof-beams.toml", "gravel-net.toml"];

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn demo_text(name: &str) -> String {
    fs::read_to_string(folder("plans").join(name)).expect("a demo plan of the repository")
}

fn demo(name: &str) -> Plan {
    plan::read(Path::new(name), &demo_text(name)).unwrap_or_else(|d| panic!("{d}"))
}

#[test]
fn demo_plans_read_without_a_warning() {
    for name in DEMOS {
        assert_eq!(demo(name).warnings(), [], "{name}");
    }
}

/// The reference explains all that the demo plans use.
#[test]
fn reference_names_every_key_of_the_demo_plans() {
    let reference = demo_text("README.md");
    let mut seen = 0;
    for name in DEMOS {
        let text = demo_text(name);
        // Names of the plan's own choice stand in these tables.
        let mut own_names = false;
        for line in text.lines() {
            if line.starts_with('[') {
                own_names = ["[load.prov", "[spreader.prov", "[options", "[counts"]
                    .iter()
                    .any(|head| line.starts_with(head));
            }
            let Some((key, _)) = line.split_once('=') else {
                continue;
            };
            let key = key.trim();
            if own_names || !key.bytes().all(|b| b.is_ascii_lowercase() || b == b'_') {
                continue;
            }
            assert!(reference.contains(&format!("`{key}")), "{name}: {key}");
            seen += 1;
        }
    }
    assert!(seen > 100);
}

#[test]
fn demo_plans_pass_their_own_figures() {
    for name in DEMOS {
        let figures = Figures::of(&demo(name));
        assert!(!figures.verdicts.is_empty());
        for verdict in &figures.verdicts {
            if verdict.question == Question::Procedure {
                assert_eq!(verdict.grade, Grade::Pass, "{name}: {verdict:?}");
                continue;
            }
            // The strops below the beams' spreader, for whose ratings a plan has no place.
            if verdict.value.is_none() {
                assert_eq!(verdict.subject, "what hangs below the spreader", "{name}");
                continue;
            }
            assert_eq!(verdict.grade, Grade::Pass, "{name}: {verdict:?}");
        }
    }
}

#[test]
fn skid_asks_at_least_forty_checks_and_lists_what_it_leaves_out() {
    let skid = demo("generator-skid.toml");
    assert!(skid.route().checks().count() >= 40);
    let left_out: Vec<String> = skid
        .route()
        .left_out
        .iter()
        .map(|l| format!("{}: {}", l.check, l.reason))
        .collect();
    assert_eq!(
        left_out,
        [
            "rear/battery-strap: option battery is strap pair, not single strap",
            "front/tow-bar: option tow-bar is none, not fitted",
        ]
    );
}

#[test]
fn skid_legs_take_their_counts_from_the_table() {
    let skid = demo("generator-skid.toml");
    let legs: Vec<(u32, u32, String)> = skid
        .sling_set
        .legs
        .iter()
        .map(|leg| {
            let links = leg.chain.as_ref().expect("a chain").links;
            let check = leg.count_check.as_ref().expect("a counting check");
            (leg.number, links, check.to_string())
        })
        .collect();
    assert_eq!(
        legs,
        [
            (1, 8, "front-left/hook-links".into()),
            (2, 8, "front-right/hook-links".into()),
            (3, 3, "rear-left/hook-links".into()),
            (4, 3, "rear-right/hook-links".into()),
        ]
    );
}

/// What a check may be answered can never be taken for a command.
#[test]
fn states_of_demo_plans_do_not_clash_with_the_grammars() {
    let grammars = GrammarSet::builtin();
    for name in DEMOS {
        for check in demo(name).route().checks() {
            let CheckKind::State { states } = &check.kind else {
                continue;
            };
            let states: Vec<(String, Vec<String>)> = states
                .iter()
                .map(|s| (s.key.clone(), s.spoken.clone()))
                .collect();
            let graph = grammars
                .graph(&["state", "control"], &states)
                .unwrap_or_else(|e| panic!("{name} {}: {e}", check.id));
            let clash = graph.clash().expect("a graph within its limits");
            assert!(clash.is_none(), "{name} {}: {clash:?}", check.id);
        }
    }
}

#[test]
fn plans_know_all_phrases_that_steer() {
    let grammars = GrammarSet::builtin();
    let mut seen = 0;
    for rule in ["control", "yes-no", "fixing"] {
        let graph = grammars
            .graph(&[rule], &[])
            .expect("a rule of the grammars");
        for phrase in graph.phrases(1000) {
            let words = phrase.words.to_lowercase();
            assert!(
                plan::CONTROL_PHRASES.contains(&words.as_str()),
                "`{words}` of {rule} is not in CONTROL_PHRASES"
            );
            seen += 1;
        }
    }
    assert!(seen > 30);
}

/// Each `tests/plans-bad/NAME.toml` holds a kind of mistake; `NAME.txt` holds all that is said of it.
/// `BLESS=1` writes the texts anew.
#[test]
fn every_mistake_is_told_with_place_and_fix() {
    let bless = std::env::var_os("BLESS").is_some();
    let mut wrong = Vec::new();
    let mut seen = 0;
    let mut paths: Vec<PathBuf> = fs::read_dir(folder("tests/plans-bad"))
        .expect("the folder of bad plans")
        .map(|entry| entry.expect("an entry of that folder").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    paths.sort();
    for path in paths {
        let text = fs::read_to_string(&path).expect("a bad plan");
        let name = path.file_name().expect("a file with a name");
        let told = match plan::read(Path::new(name), &text) {
            Err(diagnostic) => {
                assert!(diagnostic.has_errors(), "{name:?}");
                diagnostic
            }
            Ok(plan) => Diagnostic {
                path: name.into(),
                text,
                findings: plan.warnings().to_vec(),
            },
        };
        assert!(!told.findings.is_empty(), "{name:?} has no mistake");
        for finding in &told.findings {
            assert!(!finding.help.is_empty(), "{name:?}: {}", finding.title);
        }
        let told = format!("{told}\n");
        let golden = path.with_extension("txt");
        if bless {
            fs::write(&golden, &told).expect("a folder that can be written");
        }
        let wanted = fs::read_to_string(&golden).unwrap_or_default();
        if told != wanted {
            wrong.push(format!("--- {}\n{wanted}+++ now\n{told}", path.display()));
        }
        seen += 1;
    }
    assert!(seen > 50);
    assert!(wrong.is_empty(), "{}\nBLESS=1 accepts", wrong.join("\n"));
}

/// Either a plan or at least one error; every span lies in the text; all within bounds.
fn check_any(text: &str) {
    match plan::read(Path::new("any.toml"), text) {
        Ok(plan) => {
            assert!(plan.route().checks().count() > 0);
            assert!(plan.route().checks().count() <= plan::limits::STEPS);
            for finding in plan.warnings() {
                check_span(text, finding.span.clone());
            }
        }
        Err(diagnostic) => {
            assert!(diagnostic.has_errors());
            assert!(diagnostic.findings.len() <= plan::limits::FINDINGS + 1);
            for finding in &diagnostic.findings {
                check_span(text, finding.span.clone());
            }
            let _ = diagnostic.to_string();
        }
    }
}

fn check_span(text: &str, span: Option<std::ops::Range<usize>>) {
    if let Some(span) = span {
        assert!(span.start <= span.end && span.end <= text.len(), "{span:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,400}") {
        check_any(&text);
    }

    /// A demo plan with lines lost, doubled, exchanged and cut, as a tired hand leaves it.
    #[test]
    fn any_damaged_plan_is_read_or_refused(
        which in 0..DEMOS.len(),
        damages in prop::collection::vec((0..4_u8, any::<prop::sample::Index>(), any::<prop::sample::Index>()), 1..6),
    ) {
        let text = demo_text(DEMOS[which]);
        let mut lines: Vec<String> = text.lines().map(str::to_string).collect();
        for (kind, a, b) in damages {
            let (a, b) = (a.index(lines.len()), b.index(lines.len()));
            match kind {
                0 => { lines.remove(a); }
                1 => { let line = lines[a].clone(); lines.insert(b, line); }
                2 => lines.swap(a, b),
                _ => {
                    let keep = lines[a].chars().count() / 2;
                    lines[a] = lines[a].chars().take(keep).collect();
                }
            }
            if lines.is_empty() { break; }
        }
        check_any(&lines.join("\n"));
    }

    /// A demo plan with one value exchanged for another of the same plan.
    #[test]
    fn any_plan_with_a_strange_value_is_read_or_refused(
        which in 0..DEMOS.len(),
        at in any::<prop::sample::Index>(),
        value in prop_oneof![
            Just("0".to_string()), Just("-1".to_string()), Just("1e308".to_string()),
            Just("\"\"".to_string()), Just("[]".to_string()), Just("{}".to_string()),
            Just("\"{station}\"".to_string()), Just("\"{x\"".to_string()), Just("nan".to_string()),
            Just("true".to_string()), Just("1979-05-27".to_string()),
            Just("\"1e300 kg +/- 1e300 %\"".to_string()), Just("\"é ± °F\"".to_string()),
        ],
    ) {
        let text = demo_text(DEMOS[which]);
        let mut lines: Vec<String> = text.lines().map(str::to_string).collect();
        let pairs: Vec<usize> = lines.iter().enumerate()
            .filter(|(_, l)| l.contains(" = ")).map(|(i, _)| i).collect();
        let line = pairs[at.index(pairs.len())];
        let key = lines[line].split(" = ").next().unwrap_or_default().to_string();
        lines[line] = format!("{key} = {value}");
        check_any(&lines.join("\n"));
    }
}

#[test]
fn every_spoken_unit_is_understood_after_a_reading() {
    let graph = GrammarSet::builtin()
        .graph(&["reading"], &[])
        .expect("a rule of the grammars");
    for unit in plan::SPOKEN_UNITS {
        let heard = graph.match_words(&format!("two point five {unit}"));
        assert_eq!(heard.len(), 1, "{unit}");
        assert_eq!(heard[0].value, "2.5", "{unit}");
    }
}

/// What a plan may expect is what the grammars let an inspector answer.
#[test]
fn limits_of_a_plan_are_those_of_the_grammars() {
    let heard = |rule: &str, words: &str| {
        let graph = GrammarSet::builtin().graph(&[rule], &[]).expect("a rule");
        let meanings = graph.match_words(words);
        meanings.first().map(|m| m.value.clone())
    };
    let most = plan::limits::COUNT;
    assert_eq!(
        heard("count", "one hundred and twenty"),
        Some(most.to_string())
    );
    assert_eq!(heard("count", "one hundred and twenty one"), None);
    let most = plan::limits::reading();
    let words = "nine hundred and ninety nine point nine nine";
    assert_eq!(heard("reading", words), Some(most.to_string()));
    let tag = |signs: usize| heard("tag", &vec!["alfa"; signs].join(" "));
    assert!(tag(plan::limits::TAG).is_some());
    assert_eq!(tag(plan::limits::TAG + 1), None);
}
