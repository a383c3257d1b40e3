//! Makes up breaths of called findings.

use super::{Line, conforms, stations};
use anyhow::Context;
use loadwalk::grammar::{CalledItem, GrammarSet, Meaning, Phrase, called};
use rand::rngs::StdRng;
use rand::seq::IndexedRandom as _;
use rand::{Rng, SeedableRng};
use std::io::Write;
use std::path::PathBuf;

/// Phrases of one item to choose from.
const PHRASES: usize = 4_000;

/// Prints so many breaths at the stations of these plans, a line of JSON each; `denied`: see the command.
pub fn list(plans: &[PathBuf], number: usize, seed: u64, denied: bool) -> anyhow::Result<()> {
    let mut rng = StdRng::seed_from_u64(seed);
    let grammars = GrammarSet::builtin();
    let mut all = Vec::new();
    for plan in plans {
        let name = plan.display().to_string();
        for (key, items) in stations(&name)? {
            if items.len() < 2 {
                continue;
            }
            let mut phrases: Vec<Vec<Phrase>> = Vec::new();
            for item in &items {
                let graph = called::single(&grammars, std::slice::from_ref(item))?;
                let own = graph.phrases(PHRASES).into_iter();
                phrases.push(own.filter(|p| is_of(p, item)).collect());
            }
            let graph = called::graph(&grammars, &items)?;
            all.push((name.clone(), key, items, phrases, graph));
        }
    }
    let mut out = std::io::stdout().lock();
    let mut made = 0;
    while made < number {
        let (plan, station, items, phrases, graph) = all.choose(&mut rng).context("no plan")?;
        let most = items.len().min(8);
        let length = rng.random_range(2..=most);
        let chosen = rand::seq::index::sample(&mut rng, items.len(), length).into_vec();
        let mut words = Vec::new();
        let mut meanings = Vec::new();
        for i in chosen {
            let conforms = rng.random_bool(0.75);
            let fits: Vec<&Phrase> = phrases[i]
                .iter()
                .filter(|p| self::conforms(&p.meanings[0], &items[i]) == conforms)
                .collect();
            let Some(phrase) = fits.choose(&mut rng) else {
                continue;
            };
            words.push(phrase.words.clone());
            meanings.extend(phrase.meanings.clone());
        }
        let words = words.join(", ");
        if graph.match_strings(&words) != [meanings.clone()] {
            continue;
        }
        let mut say = |words: String, meanings: Vec<Meaning>| {
            let items = meanings.into_iter().map(|m| (m.rule, m.value)).collect();
            let line = Line {
                plan: plan.clone(),
                station: station.clone(),
                words,
                items,
                path: String::new(),
                voice: String::new(),
                split: String::new(),
            };
            made += 1;
            writeln!(out, "{}", serde_json::to_string(&line)?)?;
            anyhow::Ok(())
        };
        if denied {
            let other = match ["are", "is"].map(|w| words.matches(&format!(" {w} ")).count()) {
                [0, 0] => with_not(&words, items),
                [1, 0] => Some(words.replace(" are ", " aren't ")),
                [0, 1] => Some(words.replace(" is ", " isn't ")),
                _ => None,
            };
            let Some(other) = other.filter(|_| meanings.len() <= 3) else {
                continue;
            };
            // What the grammar does not know as denied has no denial to be heard as.
            let readings = graph.match_strings(&other);
            let [truth] = readings.as_slice() else {
                continue;
            };
            say(other, truth.clone())?;
        }
        say(words, meanings)?;
    }
    Ok(())
}

/// A breath with "not" behind the first name that is followed by its finding at once.
fn with_not(words: &str, items: &[CalledItem]) -> Option<String> {
    let mut findings: Vec<String> = words.split(", ").map(str::to_owned).collect();
    let names = || items.iter().flat_map(|i| &i.names);
    for finding in &mut findings {
        let name = names().filter_map(|n| finding.strip_prefix(n.as_str()));
        let shortest = name.min_by_key(|rest| rest.len())?;
        let rest = shortest.strip_prefix(' ')?;
        let is_plain = !["is ", "isn't ", "not ", "runs ", "hangs ", "sits "]
            .iter()
            .any(|w| rest.starts_with(w));
        if is_plain {
            let at = finding.len() - rest.len();
            finding.insert_str(at, "not ");
            return Some(findings.join(", "));
        }
    }
    None
}

/// Whether a person might say it of this item.
fn is_of(phrase: &Phrase, item: &CalledItem) -> bool {
    let is_its = |rule: &str| rule.split(called::AND).any(|k| k == item.key);
    let words = &phrase.words;
    let odd = [
        "fower",
        "fife",
        "niner",
        "is it",
        "are it",
        "is is",
        "are are",
        "is isn't",
        "are aren't",
        "is aren't",
        "are isn't",
        "is there's",
        "are there's",
        "are is",
        "is are",
        "is runs",
        "are runs",
        "is hangs",
        "are hangs",
        "is sits",
        "are sits",
        "are isn't",
        "not seen",
        "cannot be seen",
    ];
    let several = item.names[0].ends_with('s');
    phrase.meanings.len() == 1
        && is_its(&phrase.meanings[0].rule)
        && !odd.iter().any(|odd| words.contains(odd))
        && !words.contains(if several { " is " } else { " are " })
        && words.split(' ').count() <= 8
}
