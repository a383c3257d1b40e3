//! Spoken forms: ABNF files, finite-state graph, written forms, likeness.
//!
//! [`GrammarSet`] reads the files, [`GrammarSet::graph`] puts the rules active at one moment into one
//! [`Graph`] of words, [`Graph::written`] turns it into a graph of the bytes that a recogniser may write
//! for them, and [`Walker`] steps through that by bytes or by the pieces of a recogniser's vocabulary.
//! All of it is pure: texts in, graphs out.

mod abnf;
pub mod called;
mod check;
mod clash;
mod compile;
mod decided;
mod denied;
mod faults;
mod graph;
mod length;
pub mod likeness;
pub mod limits;
mod pen;
mod set;
mod sounds;
mod spoken;
#[cfg(test)]
mod tests;
mod units;
mod vocab_trie;
mod walker;
mod written;

pub use called::CalledItem;
pub use clash::Clash;
pub use decided::Decided;
use denied::is_no_answer;
pub use denied::{NEGATED, hides_an_opposite, swallowed, un, with_denials};
pub use graph::{Edge, Graph, Label, Phrase};
pub use length::sounds_in;
#[cfg(feature = "whisper")]
pub(crate) use pen::capitalised;
pub use set::{BUILTIN, GrammarSet};
pub use vocab_trie::VocabTrie;
pub use walker::{Bytes, StateSet, Walker};
pub(crate) use walker::{has_twice, meanings};
pub use written::WrittenGraph;

use serde::{Deserialize, Serialize};

/// What an utterance meant: the rule that it matched and that rule's value.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Meaning {
    /// Name of the grammar rule (`presence`, `count`, `control`, `state`, ...).
    pub rule: String,
    /// The rule's semantic value (`present`, `3`, `say-again`).
    pub value: String,
}

/// Why no graph could be made.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum GraphError {
    /// No public rule has this name.
    #[error(
        "no grammar rule is named `{name}` that is public, in a file with a root; use one of {known}"
    )]
    UnknownRule {
        /// The name.
        name: String,
        /// The names that there are.
        known: String,
    },
    /// The rule `state` is active, but the check has no states.
    #[error("the rule `state` is active without states; give the check at least two")]
    NoStates,
    /// A state has no spoken form, or one without words.
    #[error("the state `{state}` has a form that cannot be spoken; write its words")]
    Unspoken {
        /// The state's key.
        state: String,
    },
    /// Two states are spoken alike.
    #[error("\"{form}\" is a form of `{one}` and of `{other}`; give it to one of them")]
    SharedForm {
        /// The form.
        form: String,
        /// The one state.
        one: String,
        /// The other state.
        other: String,
    },
    /// The graph would pass a limit of [`limits`].
    #[error("the graph has more than {limit} nodes; make fewer rules active or shorten them")]
    TooLarge {
        /// The limit.
        limit: usize,
    },
    /// Rules refer to each other too deeply.
    #[error("more than {limit} rules refer to each other in a chain; write the innermost out")]
    TooDeep {
        /// The limit.
        limit: usize,
    },
}
