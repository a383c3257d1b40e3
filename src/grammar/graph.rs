//! The finite-state graph of all utterances active at one moment, by words.

use super::limits::MAX_NODES;
use super::pen::Hand;
use super::spoken::{Kind, kind};
use super::written::WrittenGraph;
use super::{GraphError, Meaning, is_no_answer};
use std::collections::HashSet;
use std::sync::OnceLock;

/// What an edge asks for or gives.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Label {
    /// Nothing.
    Null,
    /// A spoken word, lower case.
    Word(Box<str>),
    /// A literal to add to the value of the current meaning.
    Tag(Box<str>),
    /// A new meaning of this rule begins.
    Rule(Box<str>),
}

/// One edge.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// The node that it leads to.
    pub to: usize,
    /// What it asks for or gives.
    pub label: Label,
    /// Natural logarithm of the relative weight written in the grammar; 0 where none is written.
    pub weight: f32,
}

/// A finite-state graph over words without cycles. Each path from `start` to `end` is one utterance;
/// its `Rule` and `Tag` labels in order spell one meaning, or several where the graph holds strings
/// of items ([`Graph::strung`]).
#[derive(Clone, Debug, Default)]
pub struct Graph {
    /// Edges by the node that they leave.
    pub nodes: Vec<Vec<Edge>>,
    /// First node.
    pub start: usize,
    /// Last node; nothing leaves it.
    pub end: usize,
    written: OnceLock<Box<WrittenGraph>>,
    typed: OnceLock<Box<WrittenGraph>>,
}

/// One utterance with what it means.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Phrase {
    /// The words with single blanks between.
    pub words: String,
    /// One meaning; several in order where the graph holds strings of items.
    pub meanings: Vec<Meaning>,
}

impl Graph {
    /// A graph that accepts nothing.
    pub(crate) fn empty() -> Self {
        Self {
            nodes: vec![Vec::new(), Vec::new()],
            start: 0,
            end: 1,
            written: OnceLock::new(),
            typed: OnceLock::new(),
        }
    }

    pub(crate) fn add_node(&mut self) -> Result<usize, GraphError> {
        if self.nodes.len() >= MAX_NODES {
            return Err(GraphError::TooLarge { limit: MAX_NODES });
        }
        self.nodes.push(Vec::new());
        Ok(self.nodes.len() - 1)
    }

    pub(crate) fn add_edge(&mut self, from: usize, to: usize, label: Label) {
        self.nodes[from].push(Edge {
            to,
            label,
            weight: 0.0,
        });
    }

    /// Adds a copy of another graph between two nodes.
    pub(crate) fn add_graph(
        &mut self,
        from: usize,
        other: &Self,
        to: usize,
    ) -> Result<(), GraphError> {
        let first = self.nodes.len();
        if first + other.nodes.len() > MAX_NODES {
            return Err(GraphError::TooLarge { limit: MAX_NODES });
        }
        self.nodes.extend(other.nodes.iter().map(|edges| {
            edges
                .iter()
                .map(|edge| Edge {
                    to: edge.to + first,
                    ..edge.clone()
                })
                .collect()
        }));
        self.add_edge(from, first + other.start, Label::Null);
        self.add_edge(first + other.end, to, Label::Null);
        Ok(())
    }

    /// Any one of these graphs.
    ///
    /// # Errors
    /// Where the result would be too large.
    pub fn either(graphs: &[&Self]) -> Result<Self, GraphError> {
        let mut out = Self::empty();
        for graph in graphs {
            out.add_graph(out.start, graph, out.end)?;
        }
        Ok(out.trimmed())
    }

    /// From `least` to `most` utterances of this graph in one breath, in any order; each gives its own
    /// meaning.
    ///
    /// # Errors
    /// Where the result would be too large.
    pub fn strung(&self, least: usize, most: usize) -> Result<Self, GraphError> {
        let mut out = Self::empty();
        let mut at = out.start;
        for i in 0..most.max(least) {
            if i >= least {
                out.add_edge(at, out.end, Label::Null);
            }
            let next = out.add_node()?;
            out.add_graph(at, self, next)?;
            at = next;
        }
        out.add_edge(at, out.end, Label::Null);
        Ok(out.trimmed())
    }

    /// Without the nodes that lie on no path from start to end.
    pub(crate) fn trimmed(&self) -> Self {
        let forward = self.reachable();
        let backward = self.reaching();
        let mut place = vec![usize::MAX; self.nodes.len()];
        let mut kept = 0;
        for (node, slot) in place.iter_mut().enumerate() {
            if node == self.start || node == self.end || (forward[node] && backward[node]) {
                *slot = kept;
                kept += 1;
            }
        }
        let mut nodes = vec![Vec::new(); kept];
        for (node, edges) in self.nodes.iter().enumerate() {
            if place[node] != usize::MAX && forward[node] {
                nodes[place[node]] = edges
                    .iter()
                    .filter(|edge| place[edge.to] != usize::MAX && backward[edge.to])
                    .map(|edge| Edge {
                        to: place[edge.to],
                        ..edge.clone()
                    })
                    .collect();
            }
        }
        Self {
            nodes,
            start: place[self.start],
            end: place[self.end],
            written: OnceLock::new(),
            typed: OnceLock::new(),
        }
    }

    fn reachable(&self) -> Vec<bool> {
        let mut seen = vec![false; self.nodes.len()];
        let mut open = vec![self.start];
        while let Some(node) = open.pop() {
            if !std::mem::replace(&mut seen[node], true) {
                open.extend(self.nodes[node].iter().map(|edge| edge.to));
            }
        }
        seen
    }

    fn reaching(&self) -> Vec<bool> {
        let mut back = vec![Vec::new(); self.nodes.len()];
        for (node, edges) in self.nodes.iter().enumerate() {
            for edge in edges {
                back[edge.to].push(node);
            }
        }
        let mut seen = vec![false; self.nodes.len()];
        let mut open = vec![self.end];
        while let Some(node) = open.pop() {
            if !std::mem::replace(&mut seen[node], true) {
                open.append(&mut back[node]);
            }
        }
        seen
    }

    /// Whether no utterance is accepted.
    pub fn is_empty(&self) -> bool {
        !self.reachable()[self.end]
    }

    /// The forms in which a recogniser may write the utterances; built once and kept.
    ///
    /// # Errors
    /// Where it would be too large.
    pub fn written(&self) -> Result<&WrittenGraph, GraphError> {
        if let Some(written) = self.written.get() {
            return Ok(written);
        }
        let written = Box::new(WrittenGraph::build(self, Hand::Recogniser)?);
        Ok(self.written.get_or_init(|| written))
    }

    /// The forms in which a person may type them, letters of a tag among them.
    fn typed(&self) -> Result<&WrittenGraph, GraphError> {
        if !self.has_letters() {
            return self.written();
        }
        if let Some(typed) = self.typed.get() {
            return Ok(typed);
        }
        let typed = Box::new(WrittenGraph::build(self, Hand::Keyboard)?);
        Ok(self.typed.get_or_init(|| typed))
    }

    fn has_letters(&self) -> bool {
        let is_letter = |word: &str| matches!(kind(word), Kind::Letter(_));
        let mut edges = self.nodes.iter().flatten();
        edges.any(|edge| matches!(&edge.label, Label::Word(word) if is_letter(word)))
    }

    /// What a typed answer means: upper and lower case alike, numbers in words or digits. Empty where it
    /// is not in the grammar or the graph is too large; more than one where it is ambiguous.
    pub fn match_words(&self, typed: &str) -> Vec<Meaning> {
        self.match_strings(typed).into_iter().flatten().collect()
    }

    /// The one thing that a typed answer means; `None` where it means nothing, more than one thing, or denies what is no
    /// state.
    pub fn only_meaning(&self, typed: &str) -> Option<Meaning> {
        let mut meanings = self.match_words(typed);
        meanings.dedup();
        match meanings.as_slice() {
            [one] if !is_no_answer(one) => meanings.pop(),
            _ => None,
        }
    }

    /// Like [`Graph::match_words`] for a graph of strings of items: each reading is a list of meanings.
    pub fn match_strings(&self, typed: &str) -> Vec<Vec<Meaning>> {
        self.typed()
            .map(|forms| forms.match_typed(typed))
            .unwrap_or_default()
    }

    /// Up to `limit` different utterances, in the order of the grammar.
    pub fn phrases(&self, limit: usize) -> Vec<Phrase> {
        let mut out = Vec::new();
        let mut known = HashSet::new();
        let mut words = String::new();
        let mut meanings: Vec<Meaning> = Vec::new();
        // Each open node with the edge to take next and what to undo on leaving it.
        let mut path = vec![(self.start, 0, Undo::Nothing)];
        // Paths that spell a phrase already known do not count to the limit, but their number is bounded.
        let mut ends = 0;
        while let Some((node, next, _)) = path.last_mut() {
            if *node == self.end && !words.is_empty() {
                let phrase = Phrase {
                    words: words.clone(),
                    meanings: meanings.clone(),
                };
                if known.insert(phrase.clone()) {
                    out.push(phrase);
                }
                ends += 1;
                if out.len() >= limit || ends > limit.saturating_mul(16) {
                    return out;
                }
            }
            let Some(edge) = self.nodes[*node].get(*next) else {
                if let Some((_, _, undo)) = path.pop() {
                    undo.apply(&mut words, &mut meanings);
                }
                continue;
            };
            *next += 1;
            let undo = match &edge.label {
                Label::Null => Undo::Nothing,
                Label::Word(word) => {
                    let length = words.len();
                    if length > 0 {
                        words.push(' ');
                    }
                    words.push_str(word);
                    Undo::Words(length)
                }
                Label::Rule(rule) => {
                    meanings.push(Meaning {
                        rule: rule.to_string(),
                        value: String::new(),
                    });
                    Undo::Meaning
                }
                Label::Tag(tag) => match meanings.last_mut() {
                    None => Undo::Nothing,
                    Some(meaning) => {
                        let length = meaning.value.len();
                        meaning.value.push_str(tag);
                        Undo::Value(length)
                    }
                },
            };
            path.push((edge.to, 0, undo));
        }
        out
    }
}

/// How to step back over an edge.
enum Undo {
    Nothing,
    Words(usize),
    Value(usize),
    Meaning,
}

impl Undo {
    fn apply(self, words: &mut String, meanings: &mut Vec<Meaning>) {
        match self {
            Self::Nothing => {}
            Self::Words(length) => words.truncate(length),
            Self::Meaning => {
                meanings.pop();
            }
            Self::Value(length) => {
                if let Some(meaning) = meanings.last_mut() {
                    meaning.value.truncate(length);
                }
            }
        }
    }
}
