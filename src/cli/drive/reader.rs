//! Understands typed words only: walks by keyboard need no model.

use super::Understands;
use crate::ears::{Active, Recognition, Utterance};
use crate::grammar::{GrammarSet, Graph, Meaning};
use std::collections::HashMap;

/// Reads typed words by the grammars.
pub struct Reader {
    grammars: GrammarSet,
    graphs: HashMap<Active, Graph>,
}

impl Reader {
    /// Reads by these grammars.
    pub fn new(grammars: GrammarSet) -> Self {
        Self {
            grammars,
            graphs: HashMap::new(),
        }
    }
}

impl Understands for Reader {
    fn prepare(&mut self, active: &Active) -> anyhow::Result<()> {
        if !self.graphs.contains_key(active) {
            let rules: Vec<&str> = active.rules.iter().map(String::as_str).collect();
            let graph = self.grammars.graph(&rules, &active.states)?;
            self.graphs.insert(active.clone(), graph);
        }
        Ok(())
    }

    fn hear(&mut self, _: &Utterance, _: &Active) -> anyhow::Result<Recognition> {
        anyhow::bail!("a walk by keyboard hears nothing; leave `--keys` out to speak")
    }

    fn transcribe(&mut self, _: &[f32]) -> anyhow::Result<String> {
        anyhow::bail!("a walk by keyboard hears nothing; leave `--keys` out to speak")
    }

    fn read(&mut self, words: &str, active: &Active) -> anyhow::Result<Option<Meaning>> {
        self.prepare(active)?;
        let mut meanings = self.graphs[active].match_words(words);
        meanings.dedup();
        Ok(match meanings.as_slice() {
            [one] => Some(one.clone()),
            _ => None,
        })
    }
}
