//! A spoken grammar as the set of token paths that the search walks.

use crate::ears::Token;
use crate::ears::search::Lattice;
use crate::grammar::{Decided, Meaning, StateSet, VocabTrie, Walker, WrittenGraph};

/// The written forms of the active rules, in the pieces of one model's vocabulary.
pub struct Spelled<'g> {
    walker: Walker<'g>,
    decided: &'g Decided,
    vocabulary: &'g VocabTrie,
}

impl<'g> Spelled<'g> {
    /// For one utterance.
    pub fn new(graph: &'g WrittenGraph, decided: &'g Decided, vocabulary: &'g VocabTrie) -> Self {
        Self {
            walker: Walker::new(graph),
            decided,
            vocabulary,
        }
    }
}

impl Lattice for Spelled<'_> {
    type State = StateSet;
    type Meaning = Meaning;

    fn start(&mut self) -> StateSet {
        self.walker.start()
    }

    fn continuations(&mut self, state: &StateSet) -> Vec<(Token, StateSet)> {
        self.walker
            .continuations(*state, self.vocabulary)
            .iter()
            .map(|&(token, next)| (token as Token, next))
            .collect()
    }

    fn certain(&mut self, state: &StateSet) -> Option<Meaning> {
        let value = self.walker.decided(*state, self.decided)?;
        crate::grammar::meanings(&value).into_iter().next()
    }

    fn meanings(&mut self, state: &StateSet) -> Vec<Meaning> {
        self.walker.final_meanings(*state)
    }
}
