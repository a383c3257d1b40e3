//! Reads the text of one grammar file: W3C Speech Recognition Grammar Specification 1.0, ABNF form,
//! and Semantic Interpretation 1.0 string literals. `grammars/README.md` names the subset.

mod expansion;
mod lexer;
mod parser;

pub(crate) use parser::parse;

use std::ops::Range;

/// Byte range in the file.
pub(crate) type Span = Range<usize>;

/// One grammar file, read but not yet resolved.
#[derive(Clone, Debug, Default)]
pub(crate) struct File {
    /// The rule named by `root`, with the place.
    pub root: Option<(String, Span)>,
    /// Rules in file order.
    pub rules: Vec<Rule>,
}

/// One rule definition.
#[derive(Clone, Debug)]
pub(crate) struct Rule {
    /// Name without the dollar sign.
    pub name: String,
    /// Where the name stands.
    pub span: Span,
    /// Whether others may refer to it and whether it can be made active.
    pub public: bool,
    /// What it expands to.
    pub body: Expansion,
}

/// A rule expansion (SRGS 1.0 section 2).
#[derive(Clone, Debug)]
pub(crate) enum Expansion {
    /// Words, lower case (section 2.1); more than one where a quoted token holds blanks.
    Words(Vec<String>),
    /// A literal added to the value (section 2.6).
    Tag(String),
    /// `$name` (section 2.2.1).
    Local(String, Span),
    /// `$<file#name>` (section 2.2.2); without a name the root rule of the file is meant.
    Foreign(String, Option<String>, Span),
    /// `$NULL` (section 2.2.3).
    Null,
    /// `$VOID` (section 2.2.3).
    Void,
    /// One after the other (section 2.3).
    Sequence(Vec<Expansion>),
    /// One of several with relative weights (section 2.4); `None` where none is written.
    Choice(Vec<(Option<f32>, Expansion)>),
    /// Repeated from `.1` to `.2` times (section 2.5).
    Repeat(Box<Expansion>, u32, u32),
}

impl Expansion {
    /// Calls `f` with every reference to another rule.
    pub(crate) fn each_reference<'a>(&'a self, f: &mut impl FnMut(&'a Expansion)) {
        match self {
            Self::Local(..) | Self::Foreign(..) => f(self),
            Self::Sequence(items) => items.iter().for_each(|i| i.each_reference(f)),
            Self::Choice(items) => items.iter().for_each(|(_, i)| i.each_reference(f)),
            Self::Repeat(inner, ..) => inner.each_reference(f),
            Self::Words(_) | Self::Tag(_) | Self::Null | Self::Void => {}
        }
    }
}
