//! Expands rules to word graphs.

use super::abnf::Expansion;
use super::graph::{Edge, Graph, Label};
use super::set::GrammarSet;
use super::{GraphError, limits::MAX_RULE_CHAIN};

/// The graph of one rule, without its `Rule` label.
///
/// # Errors
/// Where it grows too large. References are resolved and acyclic: [`GrammarSet`] checks that first.
pub(super) fn rule_graph(set: &GrammarSet, file: usize, rule: usize) -> Result<Graph, GraphError> {
    let mut graph = Graph::empty();
    let (start, end) = (graph.start, graph.end);
    let body = &set.files[file].rules[rule].body;
    Compiler {
        set,
        graph: &mut graph,
    }
    .between(body, file, start, end, 0)?;
    Ok(graph.trimmed())
}

struct Compiler<'a> {
    set: &'a GrammarSet,
    graph: &'a mut Graph,
}

impl Compiler<'_> {
    fn between(
        &mut self,
        body: &Expansion,
        file: usize,
        from: usize,
        to: usize,
        chain: usize,
    ) -> Result<(), GraphError> {
        match body {
            Expansion::Null => self.graph.add_edge(from, to, Label::Null),
            Expansion::Void => {}
            Expansion::Tag(tag) => {
                self.graph
                    .add_edge(from, to, Label::Tag(tag.as_str().into()));
            }
            Expansion::Words(words) => {
                let mut at = from;
                for (i, word) in words.iter().enumerate() {
                    let next = if i + 1 == words.len() {
                        to
                    } else {
                        self.graph.add_node()?
                    };
                    self.graph
                        .add_edge(at, next, Label::Word(word.as_str().into()));
                    at = next;
                }
            }
            Expansion::Sequence(items) => {
                let mut at = from;
                for (i, item) in items.iter().enumerate() {
                    let next = if i + 1 == items.len() {
                        to
                    } else {
                        self.graph.add_node()?
                    };
                    self.between(item, file, at, next, chain)?;
                    at = next;
                }
            }
            Expansion::Choice(items) => {
                // Section 2.4.1: weights are relative; an alternative without one has weight 1.
                let total: f32 = items.iter().map(|(w, _)| w.unwrap_or(1.0)).sum();
                for (weight, item) in items {
                    match weight {
                        Some(0.0) => {}
                        Some(weight) => {
                            let inner = self.graph.add_node()?;
                            self.graph.nodes[from].push(Edge {
                                to: inner,
                                label: Label::Null,
                                weight: (weight / total).ln(),
                            });
                            self.between(item, file, inner, to, chain)?;
                        }
                        None => self.between(item, file, from, to, chain)?,
                    }
                }
            }
            Expansion::Repeat(item, least, most) => {
                let mut at = from;
                for i in 0..*most {
                    if i >= *least {
                        self.graph.add_edge(at, to, Label::Null);
                    }
                    let next = self.graph.add_node()?;
                    self.between(item, file, at, next, chain)?;
                    at = next;
                }
                self.graph.add_edge(at, to, Label::Null);
            }
            Expansion::Local(..) | Expansion::Foreign(..) => {
                if chain >= MAX_RULE_CHAIN {
                    return Err(GraphError::TooDeep {
                        limit: MAX_RULE_CHAIN,
                    });
                }
                if let Some((file, rule)) = self.set.resolve(file, body) {
                    let set = self.set;
                    let body = &set.files[file].rules[rule].body;
                    self.between(body, file, from, to, chain + 1)?;
                }
            }
        }
        Ok(())
    }
}
