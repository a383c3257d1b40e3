//! Steps through the written forms, byte by byte or by vocabulary pieces.

use super::called::FILLER;
use super::clash::{RULE, VALUE};
use super::limits::{MAX_SET, MAX_SETS};
use super::vocab_trie::VocabTrie;
use super::{Meaning, WrittenGraph};
use rustc_hash::FxHashMap;
use std::rc::Rc;

/// All places in the written forms where the bytes so far may have led, each with the value so far.
/// A plain number that belongs to the [`Walker`] that gave it. Two equal sets allow the same
/// continuations and mean the same, so that scores of different vocabulary pieces that spell the same
/// bytes can be added.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct StateSet(u32);

/// A set of bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Bytes([u64; 4]);

impl Bytes {
    fn insert(&mut self, byte: u8) {
        self.0[usize::from(byte >> 6)] |= 1 << (byte & 63);
    }

    /// Whether the byte is in the set.
    pub fn contains(&self, byte: u8) -> bool {
        self.0[usize::from(byte >> 6)] & (1 << (byte & 63)) != 0
    }

    /// The bytes in order.
    pub fn iter(&self) -> impl Iterator<Item = u8> + '_ {
        (0..=255).filter(|byte| self.contains(*byte))
    }
}

/// A node with the number of the value so far.
type Member = (u32, u32);

/// Walks one [`WrittenGraph`] for one utterance. It remembers every step, so that a step taken again
/// costs a look-up; drop it after the utterance. Memory is bounded by [`MAX_SETS`]: beyond it every step
/// into a new set is dead, which refuses and never accepts.
#[derive(Debug)]
pub struct Walker<'g> {
    graph: &'g WrittenGraph,
    values: Values,
    sets: Vec<Rc<[Member]>>,
    numbers: FxHashMap<Rc<[Member]>, StateSet>,
    steps: FxHashMap<(StateSet, u8), Option<StateSet>>,
    continuations: FxHashMap<StateSet, Rc<[(u32, StateSet)]>>,
}

/// Values so far, each kept once.
#[derive(Debug, Default)]
struct Values {
    texts: Vec<Rc<str>>,
    numbers: FxHashMap<Rc<str>, u32>,
    grown: FxHashMap<(u32, u32), u32>,
}

impl Values {
    fn number(&mut self, text: &str) -> u32 {
        if let Some(number) = self.numbers.get(text) {
            return *number;
        }
        // Bounded by the number of sets, far below 2^32.
        let number = self.texts.len() as u32;
        let text: Rc<str> = text.into();
        self.texts.push(text.clone());
        self.numbers.insert(text, number);
        number
    }

    /// The number of a value grown by a text of the graph; text 0 is nothing.
    fn grown(&mut self, value: u32, text: u32, graph: &WrittenGraph) -> u32 {
        if text == 0 {
            return value;
        }
        if let Some(known) = self.grown.get(&(value, text)) {
            return *known;
        }
        let grown = format!("{}{}", self.texts[value as usize], graph.text(text));
        let number = self.number(&grown);
        self.grown.insert((value, text), number);
        number
    }
}

impl<'g> Walker<'g> {
    /// Begins before the first byte.
    pub fn new(graph: &'g WrittenGraph) -> Self {
        let mut walker = Self {
            graph,
            values: Values::default(),
            sets: Vec::new(),
            numbers: FxHashMap::default(),
            steps: FxHashMap::default(),
            continuations: FxHashMap::default(),
        };
        let nothing = walker.values.number("");
        // The first set is never beyond the limits.
        walker.closed(vec![(graph.start(), nothing)]);
        walker
    }

    /// Before the first byte. Utterances begin with a blank, as a recogniser writes them.
    pub fn start(&self) -> StateSet {
        StateSet(0)
    }

    /// After these bytes; `None` where no written form goes on like this.
    pub fn step(&mut self, from: StateSet, bytes: &[u8]) -> Option<StateSet> {
        bytes
            .iter()
            .try_fold(from, |set, byte| self.byte(set, *byte))
    }

    /// After one byte in either case.
    pub(super) fn step_case_blind(&mut self, from: StateSet, byte: u8) -> Option<StateSet> {
        let (lower, upper) = (byte.to_ascii_lowercase(), byte.to_ascii_uppercase());
        let mut next = self.after(from, lower);
        if upper != lower {
            next.extend(self.after(from, upper));
        }
        self.closed(next)
    }

    fn byte(&mut self, from: StateSet, byte: u8) -> Option<StateSet> {
        if let Some(known) = self.steps.get(&(from, byte)) {
            return *known;
        }
        let next = self.after(from, byte);
        let to = self.closed(next);
        self.steps.insert((from, byte), to);
        to
    }

    fn after(&self, from: StateSet, byte: u8) -> Vec<Member> {
        let mut next = Vec::new();
        for (node, value) in self.sets[from.0 as usize].iter() {
            let edges = self.graph.bytes(*node);
            let first = edges.partition_point(|edge| edge.0 < byte);
            let same = edges[first..].iter().take_while(|edge| edge.0 == byte);
            next.extend(same.map(|edge| (edge.1, *value)));
        }
        next
    }

    /// The set of these members and all that is reached from them without a byte.
    fn closed(&mut self, mut open: Vec<Member>) -> Option<StateSet> {
        open.sort_unstable();
        open.dedup();
        // Sets are small, mostly below ten members: a sorted list beats a tree.
        let mut seen = open.clone();
        let mut at = 0;
        while at < open.len() {
            let (node, value) = open[at];
            at += 1;
            for (text, to) in self.graph.silent(node) {
                let member = (*to, self.values.grown(value, *text, self.graph));
                if let Err(place) = seen.binary_search(&member) {
                    seen.insert(place, member);
                    open.push(member);
                }
            }
            if seen.len() > MAX_SET {
                return None;
            }
        }
        let end = self.graph.end();
        seen.retain(|(node, _)| *node == end || !self.graph.bytes(*node).is_empty());
        let members: Rc<[Member]> = seen.into();
        if members.is_empty() && !self.sets.is_empty() {
            return None;
        }
        if let Some(number) = self.numbers.get(&members) {
            return Some(*number);
        }
        if self.sets.len() >= MAX_SETS {
            return None;
        }
        let number = StateSet(self.sets.len() as u32);
        self.sets.push(members.clone());
        self.numbers.insert(members, number);
        Some(number)
    }

    /// The bytes that may come next.
    pub fn allowed_first_bytes(&self, set: StateSet) -> Bytes {
        let mut out = Bytes::default();
        for (node, _) in self.sets[set.0 as usize].iter() {
            for (byte, _) in self.graph.bytes(*node) {
                out.insert(*byte);
            }
        }
        out
    }

    /// All vocabulary pieces that may come next, each with the set that it leads to, in the order of
    /// their bytes. Use one trie only with a walker: what was found is kept.
    pub fn continuations(&mut self, set: StateSet, trie: &VocabTrie) -> Rc<[(u32, StateSet)]> {
        if let Some(known) = self.continuations.get(&set) {
            return known.clone();
        }
        let mut out = Vec::new();
        let mut open = vec![(0, set)];
        while let Some((place, here)) = open.pop() {
            out.extend(trie.tokens(place).iter().map(|token| (*token, here)));
            let allowed = self.allowed_first_bytes(here);
            for (byte, child) in trie.children(place).rev() {
                if allowed.contains(byte)
                    && let Some(next) = self.byte(here, byte)
                {
                    open.push((child, next));
                }
            }
        }
        let out: Rc<[_]> = out.into();
        self.continuations.insert(set, out.clone());
        out
    }

    /// How many different sets were visited so far.
    pub fn visited(&self) -> usize {
        self.sets.len()
    }

    /// The values so far with their nodes.
    pub(super) fn members(&self, set: StateSet) -> impl Iterator<Item = (&str, u32)> {
        self.sets[set.0 as usize]
            .iter()
            .map(|(node, value)| (self.values.texts[*value as usize].as_ref(), *node))
    }

    /// Whether the utterance may end here.
    pub fn may_end(&self, set: StateSet) -> bool {
        let end = self.graph.end();
        self.sets[set.0 as usize]
            .iter()
            .any(|(node, _)| *node == end)
    }

    /// What the utterance means if it ends here: none where it cannot end, more than one where the
    /// written form is ambiguous. In a graph of strings of items the meanings of all readings follow each
    /// other; [`Walker::final_strings`] keeps them apart.
    pub fn final_meanings(&self, set: StateSet) -> Vec<Meaning> {
        self.final_strings(set).into_iter().flatten().collect()
    }

    /// What the utterance means if it ends here, each reading a list of meanings in spoken order.
    pub fn final_strings(&self, set: StateSet) -> Vec<Vec<Meaning>> {
        let end = self.graph.end();
        let members = self.sets[set.0 as usize].iter();
        members
            .filter(|(node, _)| *node == end)
            .map(|(_, value)| meanings(&self.values.texts[*value as usize]))
            .collect()
    }

    /// How many leading items of a reading every way to this set has behind it, a next one begun.
    pub fn agreed(&self, set: StateSet, reading: &[Meaning]) -> usize {
        let ways = self.members(set).map(|(text, _)| {
            let items = meanings(text);
            let whole = items.len().saturating_sub(1);
            same(&items[..whole], reading)
        });
        ways.min().unwrap_or(0)
    }

    /// Whether all ways to this set have an item twice, the one that may still grow left out.
    pub fn repeats(&self, set: StateSet) -> bool {
        self.members(set).all(|(text, _)| {
            let items = meanings(text);
            has_twice(&items[..items.len().saturating_sub(1)])
        })
    }

    /// How many items of a reading have begun at least, on those ways to this set that may become it.
    pub fn begun(&self, set: StateSet, reading: &[Meaning]) -> usize {
        let ways = self.members(set).filter_map(|(text, _)| {
            let items = meanings(text);
            let Some((last, whole)) = items.split_last() else {
                return Some(0);
            };
            let meant = reading.get(whole.len())?;
            let fits = same(whole, reading) == whole.len()
                && last.rule == meant.rule
                && meant.value.starts_with(&last.value);
            fits.then_some(items.len())
        });
        ways.min().unwrap_or(0)
    }
}

/// Whether the same is said of the same thing twice; what takes back may be said again.
pub(crate) fn has_twice(items: &[Meaning]) -> bool {
    let mut rest = items;
    while let Some((first, others)) = rest.split_first() {
        if first.rule != FILLER && others.contains(first) {
            return true;
        }
        rest = others;
    }
    false
}

/// Meanings alike from the beginning on.
fn same(one: &[Meaning], other: &[Meaning]) -> usize {
    one.iter().zip(other).take_while(|(a, b)| a == b).count()
}

/// Takes a running value apart.
pub(crate) fn meanings(text: &str) -> Vec<Meaning> {
    text.split(RULE)
        .filter_map(|item| item.split_once(VALUE))
        .map(|(rule, value)| Meaning {
            rule: rule.to_owned(),
            value: value.to_owned(),
        })
        .collect()
}
