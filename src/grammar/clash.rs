//! Whether an utterance can have two meanings, none, or no words.
//!
//! Two meanings: a graph with values is a transducer, and it is single-valued if and only if, in the
//! product of the graph with itself over equal words, every useful pair of nodes is reached with one
//! difference of values only, and the difference is nothing at the end (Béal, Carton, Prieur and
//! Sakarovitch, "Squaring transducers", 2003). The number of pairs bounds the work, whatever the number
//! of utterances.

use super::GraphError;
use super::graph::{Graph, Label};
use super::limits::MAX_CLASH_PAIRS;
use std::collections::{HashMap, HashSet};

/// An utterance with two meanings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Clash {
    /// The utterance.
    pub words: String,
    /// One value; with its rule and a colon before, where two rules are concerned.
    pub one: String,
    /// Another value.
    pub other: String,
}

/// The mark before a rule's name inside a running value.
pub(super) const RULE: char = '\u{1}';
/// The mark between a rule's name and its value.
pub(super) const VALUE: char = '\u{0}';

/// Whether some path says no word.
pub(super) fn path_without_words(graph: &Graph) -> bool {
    let mut seen = vec![false; graph.nodes.len()];
    let mut open = vec![graph.start];
    while let Some(node) = open.pop() {
        if !std::mem::replace(&mut seen[node], true) {
            let silent = graph.nodes[node].iter();
            open.extend(
                silent
                    .filter(|e| !matches!(e.label, Label::Word(_)))
                    .map(|e| e.to),
            );
        }
    }
    seen[graph.end]
}

/// The words of a path that gives no value.
pub(super) fn words_without_value(graph: &Graph) -> Option<String> {
    // Each node with the edge through which it was first reached without a value.
    let mut from: HashMap<usize, Option<(usize, usize)>> = HashMap::from([(graph.start, None)]);
    let mut open = vec![graph.start];
    while let Some(node) = open.pop() {
        if node == graph.end {
            let mut words = Vec::new();
            let mut at = node;
            while let Some(Some((before, edge))) = from.get(&at) {
                if let Label::Word(word) = &graph.nodes[*before][*edge].label {
                    words.push(word.as_ref());
                }
                at = *before;
            }
            words.reverse();
            return Some(words.join(" "));
        }
        for (i, edge) in graph.nodes[node].iter().enumerate() {
            let gives = matches!(&edge.label, Label::Tag(tag) if !tag.is_empty());
            if !gives && !from.contains_key(&edge.to) {
                from.insert(edge.to, Some((node, i)));
                open.push(edge.to);
            }
        }
    }
    None
}

/// How much further the value of one path is than that of the other; one of both is empty.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
struct Lead {
    one: String,
    other: String,
}

impl Lead {
    /// After both values grow; `None` where they differ for good.
    fn grown(&self, one: &str, other: &str) -> Option<Self> {
        let one = format!("{}{one}", self.one);
        let other = format!("{}{other}", self.other);
        if let Some(rest) = one.strip_prefix(&other) {
            Some(Self {
                one: rest.to_owned(),
                other: String::new(),
            })
        } else {
            other.strip_prefix(&one).map(|rest| Self {
                one: String::new(),
                other: rest.to_owned(),
            })
        }
    }
}

type Pair = (usize, usize);
/// The lead at each pair, and the pair and step through which it was first reached.
type Leads = HashMap<Pair, (Lead, Option<(Pair, usize)>)>;

/// A step of both paths over the same word, or of one of them over no word.
struct Step<'g> {
    to: Pair,
    word: Option<&'g str>,
    one: String,
    other: String,
}

fn steps(graph: &Graph, (p, q): Pair) -> Vec<Step<'_>> {
    let gives = |label: &Label| match label {
        Label::Tag(tag) => Some(tag.to_string()),
        Label::Rule(rule) => Some(format!("{RULE}{rule}{VALUE}")),
        Label::Null => Some(String::new()),
        Label::Word(_) => None,
    };
    let mut out = Vec::new();
    for edge in &graph.nodes[p] {
        match (&edge.label, gives(&edge.label)) {
            (_, Some(one)) => out.push(Step {
                to: (edge.to, q),
                word: None,
                one,
                other: String::new(),
            }),
            (Label::Word(word), _) => {
                let same = graph.nodes[q].iter().filter(|e| e.label == edge.label);
                out.extend(same.map(|e| Step {
                    to: (edge.to, e.to),
                    word: Some(word),
                    one: String::new(),
                    other: String::new(),
                }));
            }
            _ => {}
        }
    }
    for edge in &graph.nodes[q] {
        if let Some(other) = gives(&edge.label) {
            out.push(Step {
                to: (p, edge.to),
                word: None,
                one: String::new(),
                other,
            });
        }
    }
    out
}

/// Looks for an utterance with two meanings.
///
/// # Errors
/// Where the graph is too large to tell.
pub(super) fn find(graph: &Graph) -> Result<Option<Clash>, GraphError> {
    let too_large = GraphError::TooLarge {
        limit: MAX_CLASH_PAIRS,
    };
    let start = (graph.start, graph.start);
    // All pairs that say the same words, then those of them that can still end together.
    let mut forward: HashMap<Pair, Vec<Pair>> = HashMap::from([(start, Vec::new())]);
    let mut open = vec![start];
    while let Some(pair) = open.pop() {
        for step in steps(graph, pair) {
            if forward.len() > MAX_CLASH_PAIRS {
                return Err(too_large);
            }
            let back = forward.entry(step.to).or_insert_with(|| {
                open.push(step.to);
                Vec::new()
            });
            back.push(pair);
        }
    }
    let mut useful: HashSet<Pair> = HashSet::new();
    let mut open = vec![(graph.end, graph.end)];
    while let Some(pair) = open.pop() {
        if let Some(back) = forward.get(&pair)
            && useful.insert(pair)
        {
            open.extend(back);
        }
    }
    // Walk again and keep the lead of one value over the other at each pair.
    let mut leads: Leads = HashMap::from([(start, (Lead::default(), None))]);
    let mut open = vec![start];
    while let Some(pair) = open.pop() {
        let lead = leads[&pair].0.clone();
        for (i, step) in steps(graph, pair).iter().enumerate() {
            if !useful.contains(&step.to) {
                continue;
            }
            let grown = lead.grown(&step.one, &step.other);
            let known = leads.get(&step.to).map(|(known, _)| known);
            match (grown, known) {
                (None, _) => return Ok(Some(witness(graph, &leads, pair, i, &useful))),
                (Some(grown), Some(known)) if grown != *known => {
                    // One of both ways to this pair ends in a difference.
                    let here = witness(graph, &leads, pair, i, &useful);
                    if here.one != here.other {
                        return Ok(Some(here));
                    }
                    let (before, edge) = match leads[&step.to].1 {
                        Some(way) => way,
                        None => continue,
                    };
                    return Ok(Some(witness(graph, &leads, before, edge, &useful)));
                }
                (Some(_), Some(_)) => {}
                (Some(grown), None) => {
                    if step.to == (graph.end, graph.end) && grown != Lead::default() {
                        return Ok(Some(witness(graph, &leads, pair, i, &useful)));
                    }
                    leads.insert(step.to, (grown, Some((pair, i))));
                    open.push(step.to);
                }
            }
        }
    }
    Ok(None)
}

/// Spells an utterance that goes to `pair`, takes its step number `edge`, and then ends somehow.
fn witness(graph: &Graph, leads: &Leads, pair: Pair, edge: usize, useful: &HashSet<Pair>) -> Clash {
    let mut way = vec![(pair, edge)];
    let mut at = pair;
    while let Some((_, Some((before, edge)))) = leads.get(&at) {
        way.push((*before, *edge));
        at = *before;
    }
    way.reverse();
    let mut words: Vec<String> = Vec::new();
    let (mut one, mut other) = (String::new(), String::new());
    let mut at = pair;
    for (from, edge) in way {
        let step = &steps(graph, from)[edge];
        words.extend(step.word.map(str::to_owned));
        one.push_str(&step.one);
        other.push_str(&step.other);
        at = step.to;
    }
    // Graphs have no cycles, so that any useful step leads nearer to the end.
    while at != (graph.end, graph.end) {
        let next = steps(graph, at);
        let Some(step) = next.iter().find(|step| useful.contains(&step.to)) else {
            break;
        };
        words.extend(step.word.map(str::to_owned));
        one.push_str(&step.one);
        other.push_str(&step.other);
        at = step.to;
    }
    let plain = |value: String| {
        value
            .trim_start_matches(RULE)
            .replace(VALUE, ": ")
            .replace(RULE, ", ")
    };
    // In order, so that a finding is the same in every run.
    let (one, other) = (plain(one), plain(other));
    Clash {
        words: words.join(" "),
        one: one.clone().min(other.clone()),
        other: one.max(other),
    }
}

impl Graph {
    /// An utterance that has two meanings, if any: "no" as an answer and as a command, say.
    ///
    /// # Errors
    /// Where the graph is too large to tell.
    pub fn clash(&self) -> Result<Option<Clash>, GraphError> {
        find(self)
    }
}
