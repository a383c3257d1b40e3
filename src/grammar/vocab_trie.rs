//! The pieces of a recogniser's vocabulary, by their bytes.

use std::collections::VecDeque;
use std::ops::Range;

/// A trie of vocabulary pieces. Building it costs a few milliseconds for 50,000 pieces; keep it as long
/// as the model.
///
/// Nodes stand level by level, so that the children of one stand side by side and a place in each list is
/// all that it needs: some 9 bytes a node.
#[derive(Clone, Debug)]
pub struct VocabTrie {
    /// The byte that leads to each node; of the root it means nothing.
    bytes: Vec<u8>,
    /// Where the children of each node begin; those of the next end them.
    first_child: Vec<u32>,
    /// Where the pieces that end at each node begin in `tokens`.
    first_token: Vec<u32>,
    tokens: Vec<u32>,
}

impl VocabTrie {
    /// Takes (number, bytes) of every piece that may be written; empty pieces are left out.
    pub fn new<B: AsRef<[u8]>>(pieces: impl IntoIterator<Item = (u32, B)>) -> Self {
        let mut pieces: Vec<(u32, B)> = pieces.into_iter().collect();
        pieces.retain(|(_, bytes)| !bytes.as_ref().is_empty());
        pieces.sort_by(|a, b| a.1.as_ref().cmp(b.1.as_ref()));
        let mut out = Self {
            bytes: vec![0],
            first_child: Vec::new(),
            first_token: Vec::new(),
            tokens: Vec::new(),
        };
        // Of each node that waits for its turn: its pieces and the bytes before it.
        let mut waiting = VecDeque::from([(0..pieces.len(), 0)]);
        while let Some((range, depth)) = waiting.pop_front() {
            // A vocabulary has far fewer than 2^32 bytes.
            out.first_child.push(out.bytes.len() as u32);
            out.first_token.push(out.tokens.len() as u32);
            let own = &pieces[range.clone()];
            let ending = own.partition_point(|(_, bytes)| bytes.as_ref().len() == depth);
            out.tokens
                .extend(own[..ending].iter().map(|(token, _)| *token));
            let mut from = range.start + ending;
            for group in own[ending..].chunk_by(|a, b| a.1.as_ref()[depth] == b.1.as_ref()[depth]) {
                out.bytes.push(group[0].1.as_ref()[depth]);
                waiting.push_back((from..from + group.len(), depth + 1));
                from += group.len();
            }
        }
        out.first_child.push(out.bytes.len() as u32);
        out.first_token.push(out.tokens.len() as u32);
        for list in [&mut out.first_child, &mut out.first_token, &mut out.tokens] {
            list.shrink_to_fit();
        }
        out.bytes.shrink_to_fit();
        out
    }

    /// The children of a node with the bytes that lead to them, by byte.
    pub(super) fn children(&self, node: u32) -> impl DoubleEndedIterator<Item = (u8, u32)> + '_ {
        let Range { start, end } = part(&self.first_child, node);
        (start..end).map(|child| (self.bytes[child], child as u32))
    }

    /// The pieces that end at a node.
    pub(super) fn tokens(&self, node: u32) -> &[u32] {
        &self.tokens[part(&self.first_token, node)]
    }
}

fn part(first: &[u32], node: u32) -> Range<usize> {
    let node = node as usize;
    first[node] as usize..first[node + 1] as usize
}

#[cfg(test)]
mod tests {
    use super::VocabTrie;
    use proptest::prelude::*;

    fn all(trie: &VocabTrie, node: u32, before: &[u8], out: &mut Vec<(u32, Vec<u8>)>) {
        out.extend(trie.tokens(node).iter().map(|t| (*t, before.to_vec())));
        let children: Vec<_> = trie.children(node).collect();
        assert!(children.is_sorted_by(|a, b| a.0 < b.0), "{children:?}");
        for (byte, child) in children {
            let mut on = before.to_vec();
            on.push(byte);
            all(trie, child, &on, out);
        }
    }

    proptest! {
        #[test]
        fn every_piece_stands_at_the_end_of_its_bytes(
            pieces in prop::collection::vec(prop::collection::vec(0_u8..4, 0..5), 0..40)
        ) {
            let numbered = pieces.iter().enumerate().map(|(n, bytes)| (n as u32, bytes.clone()));
            let mut wanted: Vec<_> = numbered.clone().filter(|(_, bytes)| !bytes.is_empty()).collect();
            let trie = VocabTrie::new(numbered);
            let mut found = Vec::new();
            all(&trie, 0, &[], &mut found);
            found.sort();
            wanted.sort();
            prop_assert_eq!(found, wanted);
        }
    }
}
