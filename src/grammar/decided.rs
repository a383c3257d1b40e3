//! Where what will be meant is already certain, although the words go on.
//!
//! A search need not follow the many written forms of an answer that it has already found; this tells
//! it which places can only lead there.

use super::WrittenGraph;
use super::walker::{StateSet, Walker};
use std::collections::HashMap;
use std::sync::Arc;

/// For every node of a [`WrittenGraph`]: the only value that can still be added on the way to the end,
/// or nothing where there are several.
#[derive(Clone, Debug)]
pub struct Decided {
    ahead: Vec<Option<u32>>,
    texts: Vec<Arc<str>>,
}

impl Decided {
    /// Looks through a graph once; linear in its edges.
    pub fn of(graph: &WrittenGraph) -> Self {
        let mut texts = vec![Arc::from("")];
        let mut numbers: HashMap<Arc<str>, u32> = HashMap::from([(Arc::from(""), 0)]);
        let mut ahead: Vec<Option<Option<u32>>> = vec![None; graph.len()];
        // A node counts once all that follows it does; graphs have no loops.
        let mut open: Vec<u32> = (0..graph.len() as u32).collect();
        while let Some(&node) = open.last() {
            if ahead[node as usize].is_some() {
                open.pop();
                continue;
            }
            let next: Vec<u32> = graph
                .bytes(node)
                .iter()
                .map(|edge| edge.1)
                .chain(graph.silent(node).iter().map(|edge| edge.1))
                .filter(|to| ahead[*to as usize].is_none())
                .collect();
            if !next.is_empty() {
                open.extend(next);
                continue;
            }
            let mut values = graph
                .bytes(node)
                .iter()
                .map(|edge| ahead[edge.1 as usize].flatten())
                .collect::<Vec<_>>();
            for &(text, to) in graph.silent(node) {
                let text = graph.text(text);
                let after = ahead[to as usize].flatten();
                values.push(after.map(|after| {
                    if text.is_empty() {
                        return after;
                    }
                    let whole: Arc<str> = format!("{text}{}", texts[after as usize]).into();
                    *numbers.entry(whole.clone()).or_insert_with(|| {
                        texts.push(whole);
                        texts.len() as u32 - 1
                    })
                }));
            }
            if node == graph.end() {
                values.push(Some(0));
            }
            let first = values.first().copied().flatten();
            let same = values.iter().all(|v| *v == first);
            ahead[node as usize] = Some(if same { first } else { None });
            open.pop();
        }
        Self {
            ahead: ahead.into_iter().map(Option::flatten).collect(),
            texts,
        }
    }
}

impl Walker<'_> {
    /// The running value that every way on from here ends with, where there is only one.
    pub fn decided(&self, set: StateSet, decided: &Decided) -> Option<String> {
        let mut only: Option<String> = None;
        for (value, node) in self.members(set) {
            let ahead = decided.ahead[node as usize]?;
            let whole = format!("{value}{}", decided.texts[ahead as usize]);
            match &only {
                Some(known) if *known != whole => return None,
                Some(_) => {}
                None => only = Some(whole),
            }
        }
        only
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grammar::GrammarSet;

    #[test]
    fn a_count_is_certain_once_no_other_number_can_follow() {
        let graph = GrammarSet::builtin().graph(&["count"], &[]).unwrap();
        let written = graph.written().unwrap();
        let decided = Decided::of(written);
        let mut walker = Walker::new(written);
        let start = walker.start();
        let certain = |walker: &mut Walker<'_>, text: &str| {
            let set = walker.step(start, text.as_bytes()).unwrap();
            walker.decided(set, &decided)
        };
        assert_eq!(certain(&mut walker, " "), None);
        assert_eq!(certain(&mut walker, " t"), None);
        assert_eq!(certain(&mut walker, " thirty"), None);
        assert!(certain(&mut walker, " seventeen").is_some());
        // "Eleven or twelve" may follow.
        assert_eq!(certain(&mut walker, " Eleven"), None);
        assert_eq!(
            certain(&mut walker, " Seventeen"),
            certain(&mut walker, " seventeen links")
        );
    }
}
