//! The forms in which a recogniser may write an utterance, as a graph over bytes.
//!
//! "twenty one links" may come as ` twenty one links`, ` Twenty-one links.`, ` 21 links` or ` 20-1
//! links!`. The graph is the product of the word graph with a small machine, the [`Pen`], which knows how
//! words, numbers and letters are written and put together.

use super::graph::{Edge, Graph, Label};
use super::limits::MAX_WRITTEN_NODES;
use super::pen::{Hand, Pen, Writer};
use super::{GraphError, Meaning, Walker};
use rustc_hash::FxHashMap;

/// A graph whose edges are single bytes or give values. Build it with [`Graph::written`]; step through it
/// with a [`Walker`].
#[derive(Clone, Debug)]
pub struct WrittenGraph {
    /// Byte edges of all nodes, those of node `n` in `bytes[at[n]..at[n + 1]]`, sorted by byte.
    bytes: Vec<(u8, u32)>,
    bytes_at: Vec<u32>,
    /// Edges without a byte, in the same way: the number in `texts` of what they give, 0 for nothing.
    silent: Vec<(u32, u32)>,
    silent_at: Vec<u32>,
    /// What silent edges give, in the running form of values.
    texts: Vec<Box<str>>,
    start: u32,
    end: u32,
}

/// The place of a node that leads nowhere.
const DEAD: u32 = u32::MAX;

/// What leaves a node.
#[derive(PartialEq, Eq, Hash)]
struct Edges {
    bytes: Vec<(u8, u32)>,
    silent: Vec<(u32, u32)>,
}

/// The graph while it grows.
#[derive(Default)]
struct Builder {
    bytes: Vec<Vec<(u8, u32)>>,
    silent: Vec<Vec<(u32, u32)>>,
    texts: Vec<Box<str>>,
    text_numbers: FxHashMap<Box<str>, u32>,
    places: FxHashMap<(usize, Pen), u32>,
    open: Vec<(usize, Pen)>,
}

impl Builder {
    fn node(&mut self) -> Result<u32, GraphError> {
        if self.bytes.len() >= MAX_WRITTEN_NODES {
            return Err(GraphError::TooLarge {
                limit: MAX_WRITTEN_NODES,
            });
        }
        self.bytes.push(Vec::new());
        self.silent.push(Vec::new());
        // The limit is below 2^32.
        Ok(self.bytes.len() as u32 - 1)
    }

    fn place(&mut self, node: usize, pen: Pen) -> Result<u32, GraphError> {
        if let Some(place) = self.places.get(&(node, pen)) {
            return Ok(*place);
        }
        let place = self.node()?;
        self.places.insert((node, pen), place);
        self.open.push((node, pen));
        Ok(place)
    }

    fn text(&mut self, text: String) -> u32 {
        if let Some(number) = self.text_numbers.get(text.as_str()) {
            return *number;
        }
        let number = self.texts.len() as u32;
        self.texts.push(text.clone().into());
        self.text_numbers.insert(text.into(), number);
        number
    }

    /// An edge that writes `form`, a node for each byte. Forms of one node share their beginnings
    /// through `begun`.
    fn write(
        &mut self,
        from: u32,
        form: &str,
        to: u32,
        begun: &mut FxHashMap<(u32, u8), u32>,
    ) -> Result<(), GraphError> {
        let Some((last, first)) = form.as_bytes().split_last() else {
            self.silent[from as usize].push((0, to));
            return Ok(());
        };
        let mut at = from;
        for byte in first {
            at = match begun.get(&(at, *byte)) {
                Some(next) => *next,
                None => {
                    let next = self.node()?;
                    self.bytes[at as usize].push((*byte, next));
                    begun.insert((at, *byte), next);
                    next
                }
            };
        }
        self.bytes[at as usize].push((*last, to));
        Ok(())
    }
}

impl WrittenGraph {
    pub(super) fn build(graph: &Graph, hand: Hand) -> Result<Self, GraphError> {
        let mut builder = Builder::default();
        builder.text(String::new());
        let writer = Writer::new(graph, hand);
        let start = builder.place(graph.start, Pen::Start)?;
        let end = builder.node()?;
        let (mut silent, mut forms) = (Vec::new(), Vec::new());
        let mut begun = FxHashMap::default();
        while let Some((node, pen)) = builder.open.pop() {
            let here = builder.place(node, pen)?;
            begun.clear();
            silent.clear();
            // Elsewhere the same follows after the next silent edge.
            let says = |edge: &Edge| matches!(edge.label, Label::Word(_));
            if node == graph.end || graph.nodes[node].iter().any(says) {
                pen.silent(&mut silent);
            }
            for (form, next) in &silent {
                let to = builder.place(node, *next)?;
                builder.write(here, form, to, &mut begun)?;
            }
            if node == graph.end && pen.may_end() {
                builder.silent[here as usize].push((0, end));
                for stop in [".", ",", "!", "?", "..."] {
                    builder.write(here, stop, end, &mut begun)?;
                }
            }
            for edge in &graph.nodes[node] {
                let text = match &edge.label {
                    Label::Null => String::new(),
                    Label::Tag(tag) => tag.to_string(),
                    Label::Rule(rule) => {
                        format!("{}{rule}{}", super::clash::RULE, super::clash::VALUE)
                    }
                    Label::Word(word) => {
                        writer.word(pen, word, &mut forms);
                        for (form, next) in &forms {
                            let to = builder.place(edge.to, *next)?;
                            builder.write(here, form, to, &mut begun)?;
                        }
                        continue;
                    }
                };
                let text = builder.text(text);
                let to = builder.place(edge.to, pen)?;
                builder.silent[here as usize].push((text, to));
            }
        }
        Ok(Self::packed(builder, start, end))
    }

    /// Numbers the nodes from the end backwards. Nodes from which the end cannot be reached are dropped,
    /// so that a walker knows at once what is dead; nodes that go on alike become one.
    fn packed(builder: Builder, start: u32, end: u32) -> Self {
        let mut out = Self {
            bytes: Vec::new(),
            bytes_at: vec![0],
            silent: Vec::new(),
            silent_at: vec![0],
            texts: builder.texts,
            start: 0,
            end: 0,
        };
        let mut known: FxHashMap<Edges, u32> = FxHashMap::default();
        // The place of each node once it is known; `DEAD` where it leads nowhere.
        let mut places: Vec<Option<u32>> = vec![None; builder.bytes.len()];
        out.bytes_at.push(0);
        out.silent_at.push(0);
        places[end as usize] = Some(0);
        let mut open = vec![start];
        while let Some(&node) = open.last() {
            let (bytes, silent) = (
                &builder.bytes[node as usize],
                &builder.silent[node as usize],
            );
            if places[node as usize].is_some() {
                open.pop();
                continue;
            }
            // Graphs have no cycles, so that this comes to an end.
            let depth = open.len();
            let next = bytes.iter().map(|e| e.1).chain(silent.iter().map(|e| e.1));
            open.extend(next.filter(|to| places[*to as usize].is_none()));
            if open.len() > depth {
                continue;
            }
            open.pop();
            let place = |to: u32| places[to as usize].filter(|place| *place != DEAD);
            let mut edges = Edges {
                bytes: bytes
                    .iter()
                    .filter_map(|e| Some((e.0, place(e.1)?)))
                    .collect(),
                silent: silent
                    .iter()
                    .filter_map(|e| Some((e.0, place(e.1)?)))
                    .collect(),
            };
            edges.bytes.sort_unstable();
            edges.bytes.dedup();
            edges.silent.sort_unstable();
            edges.silent.dedup();
            let class = match (edges.bytes.as_slice(), edges.silent.as_slice()) {
                ([], []) => DEAD,
                ([], [(0, to)]) => *to,
                _ => match known.get(&edges) {
                    Some(place) => *place,
                    None => {
                        let place = out.bytes_at.len() as u32 - 1;
                        out.bytes.extend_from_slice(&edges.bytes);
                        out.bytes_at.push(out.bytes.len() as u32);
                        out.silent.extend_from_slice(&edges.silent);
                        out.silent_at.push(out.silent.len() as u32);
                        known.insert(edges, place);
                        place
                    }
                },
            };
            places[node as usize] = Some(class);
        }
        // A graph that accepts nothing has only its end, which no byte leads to.
        out.start = places[start as usize].unwrap_or(DEAD);
        if out.start == DEAD {
            out.start = out.bytes_at.len() as u32 - 1;
            out.bytes_at.push(out.bytes.len() as u32);
            out.silent_at.push(out.silent.len() as u32);
        }
        out
    }

    /// Number of nodes.
    pub fn len(&self) -> usize {
        self.bytes_at.len() - 1
    }

    /// Whether it has no nodes; never so for a graph that was built.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Byte edges of a node, sorted by byte.
    pub(super) fn bytes(&self, node: u32) -> &[(u8, u32)] {
        let at = node as usize;
        &self.bytes[self.bytes_at[at] as usize..self.bytes_at[at + 1] as usize]
    }

    /// Edges of a node without a byte: the number of the text that they give, and where they lead.
    pub(super) fn silent(&self, node: u32) -> &[(u32, u32)] {
        let at = node as usize;
        &self.silent[self.silent_at[at] as usize..self.silent_at[at + 1] as usize]
    }

    /// The text of that number.
    pub(super) fn text(&self, number: u32) -> &str {
        &self.texts[number as usize]
    }

    pub(super) fn start(&self) -> u32 {
        self.start
    }

    pub(super) fn end(&self) -> u32 {
        self.end
    }

    /// What a typed answer means; blanks at both ends and doubled ones do not matter. Upper and lower case
    /// only matter where they tell the word `alfa` from the letters `ALFA`.
    pub(super) fn match_typed(&self, typed: &str) -> Vec<Vec<Meaning>> {
        let mut bytes = Vec::new();
        for word in typed.split_whitespace() {
            bytes.push(b' ');
            bytes.extend_from_slice(word.as_bytes());
        }
        let mut walker = Walker::new(self);
        let start = walker.start();
        let exact = walker.step(start, &bytes);
        let found = exact
            .map(|set| walker.final_strings(set))
            .unwrap_or_default();
        if !found.is_empty() {
            return found;
        }
        bytes
            .iter()
            .try_fold(start, |set, byte| walker.step_case_blind(set, *byte))
            .map(|set| walker.final_strings(set))
            .unwrap_or_default()
    }
}
