//! Limits that keep every grammar, however hostile, within bounded time and memory.

/// Longest grammar file, bytes.
pub const MAX_FILE_BYTES: usize = 1 << 20;
/// Deepest nesting of groups in one rule.
pub const MAX_NESTING: usize = 32;
/// Longest chain of rules that refer to each other.
pub const MAX_RULE_CHAIN: usize = 32;
/// Greatest number of repeats, the `m` of `<n-m>`.
pub const MAX_REPEATS: u32 = 32;
/// Most nodes of one word graph.
pub const MAX_NODES: usize = 50_000;
/// Most findings reported for one file.
pub const MAX_FINDINGS: usize = 50;
/// Most nodes of one graph of written forms.
pub const MAX_WRITTEN_NODES: usize = 1_500_000;
/// Most (node, value) pairs that one hypothesis over the written forms may hold.
pub const MAX_SET: usize = 4_096;
/// Most different hypotheses that one [`crate::grammar::Walker`] may visit.
pub const MAX_SETS: usize = 400_000;
/// Most steps that one look for two meanings of an utterance may take.
pub const MAX_CLASH_PAIRS: usize = 500_000;
