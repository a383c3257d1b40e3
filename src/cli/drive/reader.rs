//! Understands typed words only: walks by keyboard need no model.

use super::Understands;
use crate::grammar::{CalledItem, GrammarSet, Graph, Meaning, called, with_denials};
use crate::walk::Listen;
use std::collections::HashMap;

/// Rules, a check's own states, what is counted, and what may be called off.
type Key = (
    Vec<String>,
    Vec<(String, Vec<String>)>,
    Option<String>,
    Vec<CalledItem>,
);

/// Reads typed words by the grammars.
pub struct Reader {
    grammars: GrammarSet,
    graphs: HashMap<Key, Graph>,
}

impl Reader {
    /// Reads by these grammars.
    pub fn new(grammars: GrammarSet) -> Self {
        Self {
            grammars,
            graphs: HashMap::new(),
        }
    }

    fn graph(&mut self, listen: &Listen) -> anyhow::Result<&Graph> {
        let key = (
            listen.rules.clone(),
            listen.states.clone(),
            listen.noun.clone(),
            listen.items.clone(),
        );
        if !self.graphs.contains_key(&key) {
            let graph = if listen.items.is_empty() {
                let rules: Vec<&str> = listen.rules.iter().map(String::as_str).collect();
                // As the ears have it, so that "it's closed" and "not closed" are read alike.
                let states = with_denials(&listen.states);
                self.grammars
                    .graph_of(&rules, &states, listen.noun.as_deref())?
            } else {
                called::graph(&self.grammars, &listen.items)?
            };
            self.graphs.insert(key.clone(), graph);
        }
        Ok(&self.graphs[&key])
    }
}

impl Understands for Reader {
    fn prepare(&mut self, listen: &Listen) -> anyhow::Result<()> {
        self.graph(listen).map(|_| ())
    }

    #[cfg(feature = "whisper")]
    fn hear(
        &mut self,
        _: &crate::ears::Utterance,
        _: &Listen,
    ) -> anyhow::Result<crate::ears::Recognition> {
        anyhow::bail!("a walk by keyboard hears nothing; leave `--keys` out to speak")
    }

    #[cfg(feature = "whisper")]
    fn hear_breath(
        &mut self,
        _: &crate::ears::Utterance,
        _: &Listen,
    ) -> anyhow::Result<crate::ears::Breath> {
        anyhow::bail!("a walk by keyboard hears nothing; leave `--keys` out to speak")
    }

    #[cfg(feature = "whisper")]
    fn transcribe(&mut self, _: &[f32]) -> anyhow::Result<String> {
        anyhow::bail!("a walk by keyboard hears nothing; leave `--keys` out to speak")
    }

    fn read(&mut self, words: &str, listen: &Listen) -> anyhow::Result<Option<Meaning>> {
        Ok(self.graph(listen)?.only_meaning(words))
    }

    fn read_breath(
        &mut self,
        words: &str,
        listen: &Listen,
    ) -> anyhow::Result<Option<Vec<Meaning>>> {
        let mut readings = self.graph(listen)?.match_strings(words);
        readings.dedup();
        Ok(match readings.as_slice() {
            [_] => readings.pop(),
            _ => None,
        })
    }
}
