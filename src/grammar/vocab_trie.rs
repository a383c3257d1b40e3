//! The pieces of a recogniser's vocabulary, by their bytes.

/// A trie of vocabulary pieces. Building it costs a few milliseconds for 50,000 pieces; keep it as long
/// as the model.
#[derive(Clone, Debug)]
pub struct VocabTrie {
    /// Children sorted by byte, and the pieces that end here.
    nodes: Vec<TrieNode>,
}

#[derive(Clone, Debug, Default)]
struct TrieNode {
    children: Vec<(u8, u32)>,
    tokens: Vec<u32>,
}

impl VocabTrie {
    /// Takes (number, bytes) of every piece that may be written; empty pieces are left out.
    pub fn new<B: AsRef<[u8]>>(pieces: impl IntoIterator<Item = (u32, B)>) -> Self {
        let mut nodes = vec![TrieNode::default()];
        for (token, bytes) in pieces {
            let bytes = bytes.as_ref();
            if bytes.is_empty() {
                continue;
            }
            let mut at = 0;
            for &byte in bytes {
                at = match nodes[at].children.binary_search_by_key(&byte, |c| c.0) {
                    Ok(found) => nodes[at].children[found].1 as usize,
                    Err(place) => {
                        let next = nodes.len();
                        // A vocabulary has far fewer than 2^32 bytes.
                        nodes[at].children.insert(place, (byte, next as u32));
                        nodes.push(TrieNode::default());
                        next
                    }
                };
            }
            nodes[at].tokens.push(token);
        }
        Self { nodes }
    }

    pub(super) fn children(&self, node: u32) -> &[(u8, u32)] {
        &self.nodes[node as usize].children
    }

    pub(super) fn tokens(&self, node: u32) -> &[u32] {
        &self.nodes[node as usize].tokens
    }
}
