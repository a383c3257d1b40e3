//! The grammar of one station that is called off: findings in any order, several in one breath.
//!
//! Each item of a breath is a name with its finding ("hook keeper closed"), a number with the name of what
//! is counted ("seven links"), a number alone, or a command. Every item gives a meaning of its own:
//!
//! | said | rule | value |
//! | --- | --- | --- |
//! | a finding | the key of the item; of several that are answered together, their keys joined by [`AND`] | the answer, or [`NEGATED`] |
//! | a number alone | `count` | the number |
//! | a command | `control` | as in `control.abnf` |
//! | a word that takes back what was said before it | [`FILLER`] | `correction`, or [`NO`] |
//! | a name alone, as the whole breath | [`NAME`] | the key |
//!
//! The graph has no loops, as no graph has: a breath holds [`ITEMS_MAX`] items at most.

use super::denied::{NEGATED, is_denial, opposites, unnamed_faults};
use super::faults;
use super::graph::{Graph, Label};
use super::spoken::{self, Kind};
use super::{GrammarSet, GraphError};
use std::collections::HashSet;

/// Most items of one breath.
pub const ITEMS_MAX: usize = 10;
/// Joins the keys of items that are answered together.
pub const AND: char = '+';
/// Rule of a word that takes back what was said before it.
pub const FILLER: &str = "filler";
/// Value of a [`FILLER`] that may also deny what follows it.
pub const NO: &str = "no";
/// Rule of a name without a finding.
pub const NAME: &str = "name";
/// Keys that an item may not have, because they are rules.
pub const RESERVED: [&str; 4] = [FILLER, NAME, "count", "control"];

/// One thing that can be called off at a station.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct CalledItem {
    /// Its key at the station; never one of [`RESERVED`].
    pub key: String,
    /// Its spoken names, the first the usual one.
    pub names: Vec<String>,
    /// The rule that answers it when it is asked: `presence`, `condition`, `count`, `reading`, `tag` or
    /// `state`.
    pub rule: String,
    /// The unit of a reading.
    pub unit: Option<String>,
    /// Its own states, where the rule is `state`: (key, spoken forms).
    pub states: Vec<(String, Vec<String>)>,
    /// Keys of the states that conform; said with "not" before them they are [`NEGATED`].
    pub conforming: Vec<String>,
    /// Spoken name of all items of the station that are answered together ("both pins in").
    pub together: Option<String>,
}

/// The grammar of a station: from one item to [`ITEMS_MAX`] in one breath, or a name alone.
///
/// # Errors
/// Where an item's rule is unknown, a name or state cannot be spoken, or the whole is too large.
pub fn graph(set: &GrammarSet, items: &[CalledItem]) -> Result<Graph, GraphError> {
    strung(set, items, ITEMS_MAX)
}

/// One item, command, taking back or name: what can be told from a single meaning.
///
/// # Errors
/// As [`graph`].
pub fn single(set: &GrammarSet, items: &[CalledItem]) -> Result<Graph, GraphError> {
    let parts = Parts::of(set, items)?;
    let mut all: Vec<&Graph> = parts.items.iter().map(|item| &item.graph).collect();
    all.extend([&parts.correction, &parts.names]);
    Graph::either(&all)
}

/// The same with `most` items in a breath.
///
/// # Errors
/// As [`graph`].
pub fn strung(set: &GrammarSet, items: &[CalledItem], most: usize) -> Result<Graph, GraphError> {
    let parts = Parts::of(set, items)?;
    let mut out = Graph::empty();
    let mut after: Vec<(After, usize)> = vec![(After::Words, out.start)];
    for i in 0..=most {
        // A node for each way to begin an item.
        let mut begins = Vec::new();
        for first in [First::Number, First::CountName, First::Name, First::Command] {
            begins.push((first, out.add_node()?));
        }
        for (last, at) in &after {
            let lead_on = |out: &mut Graph, from: usize, all: bool| {
                for (first, to) in &begins {
                    if all || last.may_lead_to(*first) {
                        out.add_edge(from, *to, Label::Null);
                    }
                }
            };
            lead_on(&mut out, *at, false);
            if i > 0 {
                out.add_edge(*at, out.end, Label::Null);
                for filler in ["and", "then"] {
                    let behind = out.add_node()?;
                    out.add_edge(*at, behind, Label::Word(filler.into()));
                    lead_on(&mut out, behind, false);
                }
            }
            let taken_back = out.add_node()?;
            out.add_graph(*at, &parts.correction, taken_back)?;
            out.add_edge(taken_back, out.end, Label::Null);
            lead_on(&mut out, taken_back, true);
        }
        if i == most {
            break;
        }
        after.clear();
        for last in [
            After::Words,
            After::Number,
            After::LoneNumber,
            After::Command,
        ] {
            after.push((last, out.add_node()?));
        }
        for item in &parts.items {
            let from = begins.iter().find(|(first, _)| *first == item.first);
            let to = after.iter().find(|(last, _)| *last == item.last);
            if let (Some(from), Some(to)) = (from, to) {
                out.add_graph(from.1, &item.graph, to.1)?;
            }
        }
    }
    let alone = out.add_node()?;
    out.add_edge(out.start, alone, Label::Null);
    let taken_back = out.add_node()?;
    out.add_graph(out.start, &parts.correction, taken_back)?;
    out.add_edge(taken_back, alone, Label::Null);
    let end = out.end;
    out.add_graph(alone, &parts.names, end)?;
    Ok(out.trimmed())
}

/// How an item begins.
#[derive(Clone, Copy, PartialEq, Eq)]
enum First {
    Number,
    /// The name of what is counted, with its number behind it.
    CountName,
    Name,
    Command,
}

/// What was said last.
#[derive(Clone, Copy, PartialEq, Eq)]
enum After {
    Words,
    Number,
    /// A number without a name.
    LoneNumber,
    Command,
}

impl After {
    /// Whether an item may follow without a word between. "Seven, eight links" would be seventy-eight, and
    /// in "seven links eight" either number could be that of the links.
    fn may_lead_to(self, first: First) -> bool {
        match self {
            Self::Words => true,
            Self::Number => first != First::Number,
            Self::LoneNumber => matches!(first, First::Name | First::Command),
            // "Stop stop" is one command.
            Self::Command => first != First::Command,
        }
    }
}

/// What may be said in one item.
struct Item {
    graph: Graph,
    first: First,
    last: After,
}

/// What strings are made of.
struct Parts {
    items: Vec<Item>,
    correction: Graph,
    names: Graph,
}

impl Parts {
    fn of(set: &GrammarSet, items: &[CalledItem]) -> Result<Self, GraphError> {
        let mut all = Vec::new();
        let mut names = Graph::empty();
        let mut groups = HashSet::new();
        for item in items {
            for name in &item.names {
                let at = named(&mut names, NAME)?;
                names.add_edge(at.0, at.1, Label::Tag(item.key.as_str().into()));
                let end = names.end;
                names.add_graph(at.1, &words(name, &item.key)?, end)?;
                all.push(findings(set, &item.key, name, item)?);
            }
            if item.rule == "count" {
                all.push(counted(set, item)?);
            }
            let Some(together) = item.together.as_deref() else {
                continue;
            };
            if groups.insert(together) {
                let of = |i: &&CalledItem| i.together.as_deref() == Some(together);
                let keys: Vec<&str> = items.iter().filter(of).map(|i| i.key.as_str()).collect();
                let quantity: &[&str] = match keys.len() {
                    0 | 1 => continue,
                    2 => &["both", "both the", "all"],
                    _ => &["all", "all the"],
                };
                let rule = keys.join(&AND.to_string());
                for quantity in quantity {
                    let name = format!("{quantity} {together}");
                    all.push(findings(set, &rule, &name, item)?);
                }
            }
        }
        if items.iter().any(|i| i.rule == "count") {
            all.push(Item {
                graph: set.graph(&["called-number"], &[])?.under("count"),
                first: First::Number,
                last: After::LoneNumber,
            });
        }
        all.push(Item {
            graph: commands(set)?,
            first: First::Command,
            last: After::Command,
        });
        Ok(Self {
            items: all,
            correction: set.graph(&["called-correction"], &[])?.under(FILLER),
            names: names.trimmed(),
        })
    }
}

/// Two new nodes behind the start, the rule named between the start and the first.
fn named(graph: &mut Graph, rule: &str) -> Result<(usize, usize), GraphError> {
    let (rule_at, tag_at) = (graph.add_node()?, graph.add_node()?);
    graph.add_edge(graph.start, rule_at, Label::Rule(rule.into()));
    Ok((rule_at, tag_at))
}

/// A name with each finding behind it.
fn findings(
    set: &GrammarSet,
    rule: &str,
    name: &str,
    item: &CalledItem,
) -> Result<Item, GraphError> {
    let (answers, ends) = answers(set, item)?;
    let mut out = Graph::empty();
    let begun = out.add_node()?;
    out.add_edge(out.start, begun, Label::Rule(rule.into()));
    let behind = out.add_node()?;
    out.add_graph(begun, &words(name, rule)?, behind)?;
    let (linked, end) = (out.add_node()?, out.end);
    for link in ["is", "are"] {
        out.add_edge(behind, linked, Label::Word(link.into()));
    }
    out.add_edge(behind, linked, Label::Null);
    out.add_graph(linked, &answers, end)?;
    let numbered = is_number(spoken::words(name).first());
    Ok(Item {
        graph: out,
        first: match (numbered, item.rule.as_str()) {
            (true, _) => First::Number,
            (false, "count") => First::CountName,
            (false, _) => First::Name,
        },
        last: if ends { After::Number } else { After::Words },
    })
}

/// A number with the name of what is counted behind it, also for one of it.
fn counted(set: &GrammarSet, item: &CalledItem) -> Result<Item, GraphError> {
    let mut out = Graph::empty();
    let begun = out.add_node()?;
    out.add_edge(out.start, begun, Label::Rule(item.key.as_str().into()));
    let behind = out.add_node()?;
    out.add_graph(begun, &bare(&set.graph(&["called-number"], &[])?), behind)?;
    let mut known = HashSet::new();
    for name in &item.names {
        let one = name.strip_suffix('s').unwrap_or(name);
        for name in [name.as_str(), one] {
            if known.insert(name.to_owned()) {
                let end = out.end;
                out.add_graph(behind, &words(name, &item.key)?, end)?;
            }
        }
    }
    Ok(Item {
        graph: out,
        first: First::Number,
        last: After::Words,
    })
}

/// Faults that stand against each form in a breath, the nearest: of all of them the graph of a station would grow too large.
const NEAR_FAULTS: usize = 6;

/// What may be said behind the name of an item, with its values and no rule; and whether that may end
/// with a number.
fn answers(set: &GrammarSet, item: &CalledItem) -> Result<(Graph, bool), GraphError> {
    let rule = match item.rule.as_str() {
        "presence" => "called-presence",
        "condition" => "called-condition",
        "count" => "called-number",
        other => other,
    };
    let mut states = item.states.clone();
    let mut known: HashSet<Vec<String>> = states
        .iter()
        .flat_map(|(_, forms)| forms.iter().map(|f| spoken::words(f)))
        .collect();
    let words = item.states.iter().flat_map(|(_, forms)| forms);
    let named: HashSet<String> = words.flat_map(|form| spoken::words(form)).collect();
    let mut negated = Vec::new();
    for (key, forms) in &item.states {
        let conforms = item.conforming.contains(key);
        for form in forms.iter().filter(|f| conforms && is_denial(f)) {
            for form in faults::something(form) {
                if known.insert(spoken::words(&form)) {
                    negated.push(form);
                }
            }
        }
        for form in forms.iter().filter(|f| conforms && !is_denial(f)) {
            for not in ["not", "isn't", "aren't"] {
                let form = format!("{not} {form}");
                if known.insert(spoken::words(&form)) {
                    negated.push(form);
                }
            }
            let alike = faults::near(form, &named).into_iter().take(NEAR_FAULTS);
            for form in opposites(form).into_iter().chain(alike) {
                if known.insert(spoken::words(&form)) {
                    negated.push(form);
                }
            }
        }
    }
    if item.rule == "state" {
        for fault in unnamed_faults(item.states.iter().flat_map(|(_, forms)| forms)) {
            if known.insert(spoken::words(fault)) {
                negated.push(fault.to_owned());
            }
        }
    }
    if !negated.is_empty() {
        states.push((NEGATED.to_owned(), negated));
    }
    let answers = bare(&set.graph_of(&[rule], &states, item.unit.as_deref())?);
    let no_value = no_value()?;
    let ends = matches!(item.rule.as_str(), "count" | "reading" | "tag")
        || states
            .iter()
            .flat_map(|(_, forms)| forms)
            .any(|f| is_number(spoken::words(f).last()));
    Ok((Graph::either(&[&answers, &no_value])?, ends))
}

/// The commands that may stand among findings; those that are answers need a name before them.
fn commands(set: &GrammarSet) -> Result<Graph, GraphError> {
    let mut out = set.graph(&["control"], &[])?;
    for edges in &mut out.nodes {
        edges.retain(
            |e| !matches!(&e.label, Label::Tag(tag) if matches!(&**tag, "not-applicable" | "not-seen")),
        );
    }
    Ok(out.trimmed())
}

/// The commands that are answers too, behind a name: "padding not seen".
fn no_value() -> Result<Graph, GraphError> {
    let mut out = Graph::empty();
    for (value, form) in [
        ("not-applicable", "not applicable"),
        ("not-applicable", "does not apply"),
        ("not-seen", "not seen"),
        ("not-seen", "cannot be seen"),
    ] {
        let at = out.add_node()?;
        out.add_edge(out.start, at, Label::Tag(value.into()));
        let end = out.end;
        out.add_graph(at, &words(form, value)?, end)?;
    }
    Ok(out)
}

/// A graph of these words alone.
fn words(text: &str, key: &str) -> Result<Graph, GraphError> {
    let words = spoken::words(text);
    let mut out = Graph::empty();
    let Some((last, first)) = words.split_last() else {
        return Err(GraphError::Unspoken {
            state: key.to_owned(),
        });
    };
    let mut at = out.start;
    for word in first {
        let next = out.add_node()?;
        out.add_edge(at, next, Label::Word(word.as_str().into()));
        at = next;
    }
    let end = out.end;
    out.add_edge(at, end, Label::Word(last.as_str().into()));
    Ok(out)
}

/// The graph without its rules: its values go to the rule named before it.
fn bare(graph: &Graph) -> Graph {
    let mut out = graph.clone();
    for edge in out.nodes.iter_mut().flatten() {
        if matches!(edge.label, Label::Rule(_)) {
            edge.label = Label::Null;
        }
    }
    out.trimmed()
}

impl Graph {
    /// The same with another rule's name.
    fn under(&self, rule: &str) -> Self {
        let mut out = self.trimmed();
        for edge in out.nodes.iter_mut().flatten() {
            if matches!(edge.label, Label::Rule(_)) {
                edge.label = Label::Rule(rule.into());
            }
        }
        out
    }
}

fn is_number(word: Option<&String>) -> bool {
    word.is_some_and(|w| {
        !matches!(
            spoken::kind(w),
            Kind::Other | Kind::And | Kind::A | Kind::Letter(_)
        )
    })
}
