//! A spoken grammar as the set of token paths that the search walks.

use crate::ears::Token;
use crate::ears::search::Lattice;
use crate::ears::strings::Strings;
use crate::grammar::{Decided, Meaning, StateSet, VocabTrie, Walker, WrittenGraph, has_twice};

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

impl Spelled<'_> {
    /// Whether this complete path can only be that meaning, whatever were said behind each place where it
    /// may end: "open" is not settled where "open and pinned" is another state.
    pub fn is_settled(&mut self, path: &[Token], meaning: &Meaning) -> bool {
        let mut state = self.start();
        for token in path {
            let next = self.continuations(&state);
            let Some((_, next)) = next.into_iter().find(|(t, _)| t == token) else {
                return false;
            };
            state = next;
            let ends = !self.meanings(&state).is_empty();
            if ends && self.certain(&state).as_ref() != Some(meaning) {
                return false;
            }
        }
        !self.meanings(&state).is_empty()
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

/// The written forms of a station's strings, in the pieces of one model's vocabulary.
pub struct Strung<'g> {
    walker: Walker<'g>,
    vocabulary: &'g VocabTrie,
}

impl<'g> Strung<'g> {
    /// For one breath.
    pub fn new(graph: &'g WrittenGraph, vocabulary: &'g VocabTrie) -> Self {
        Self {
            walker: Walker::new(graph),
            vocabulary,
        }
    }
}

impl Lattice for Strung<'_> {
    type State = StateSet;
    type Meaning = Vec<Meaning>;

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

    fn certain(&mut self, _: &StateSet) -> Option<Vec<Meaning>> {
        None
    }

    fn meanings(&mut self, state: &StateSet) -> Vec<Vec<Meaning>> {
        let mut all = self.walker.final_strings(*state);
        all.retain(|items| !has_twice(items));
        all
    }
}

impl Strings for Strung<'_> {
    fn agreed(&self, state: &StateSet, reading: &[Meaning]) -> usize {
        self.walker.agreed(*state, reading)
    }

    fn repeats(&self, state: &StateSet) -> bool {
        self.walker.repeats(*state)
    }

    fn begun(&self, state: &StateSet, reading: &[Meaning]) -> usize {
        self.walker.begun(*state, reading)
    }
}
