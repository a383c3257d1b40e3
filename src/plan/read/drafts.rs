//! Stations, blocks and checks as they are written: placeholders still in them, names not yet looked
//! up.

use super::reader::Text;
use crate::plan::CountTable;
use std::ops::Range;

/// A station with its steps.
pub(in crate::plan) struct StationDraft {
    pub key: Text,
    pub name: Option<Text>,
    pub arrive: Option<Text>,
    pub place_m: Option<[f64; 2]>,
    pub needs: Vec<NeedDraft>,
    pub steps: Vec<Step>,
    pub span: Range<usize>,
}

/// A block of checks with its parameters.
pub(in crate::plan) struct BlockDraft {
    pub name: Text,
    pub parameters: Vec<Text>,
    /// Whether the parameters could be read.
    pub parameters_known: bool,
    pub steps: Vec<Step>,
}

/// A count table, with the places of its names.
pub(in crate::plan) struct CountsDraft {
    pub table: CountTable,
    pub name: Text,
    pub sets: Vec<Text>,
}

/// One entry of a list of checks.
pub(in crate::plan) enum Step {
    Check(Box<CheckDraft>),
    Use(UseDraft),
}

/// A block used.
pub(in crate::plan) struct UseDraft {
    pub block: Text,
    pub with: Vec<(Text, Text)>,
    pub needs: Vec<NeedDraft>,
    pub when: Vec<WhenDraft>,
    pub span: Range<usize>,
}

/// A check as written. What could not be read is `None` and was told already.
pub(in crate::plan) struct CheckDraft {
    pub key: Text,
    pub name: Option<Text>,
    pub also: Vec<Text>,
    pub together: Option<Text>,
    pub ask: Option<Text>,
    pub deficiency: Option<Text>,
    pub kind: Option<KindDraft>,
    pub needs: Vec<NeedDraft>,
    pub when: Vec<WhenDraft>,
    pub touches: Vec<Text>,
    pub compare: Option<CompareDraft>,
    pub span: Range<usize>,
}

/// What a check asks for.
pub(in crate::plan) enum KindDraft {
    Presence {
        must_be: bool,
    },
    Count {
        table: Option<Text>,
        expected: Option<Text>,
        noun: Text,
    },
    OneOf {
        states: Vec<StateDraft>,
        both: Option<Text>,
        neither: Option<Text>,
    },
    State {
        states: Vec<StateDraft>,
    },
    Reading {
        unit: Text,
        min: Option<Text>,
        max: Option<Text>,
    },
    Tag {
        expected: Option<Text>,
    },
    Condition,
}

/// A state that a thing can be found in.
pub(in crate::plan) struct StateDraft {
    pub key: Option<Text>,
    pub say: Vec<Text>,
    /// `None`: conforming.
    pub deficiency: Option<Text>,
    pub span: Range<usize>,
}

/// An option that must, or must not, have one of some values.
pub(in crate::plan) struct NeedDraft {
    pub option: Text,
    pub is: Vec<Text>,
    pub is_not: Vec<Text>,
}

/// A test on an earlier answer.
pub(in crate::plan) struct WhenDraft {
    pub check: Text,
    pub is: Vec<Text>,
    pub is_not: Vec<Text>,
    pub at_least: Option<(f64, Range<usize>)>,
    pub at_most: Option<(f64, Range<usize>)>,
}

/// An agreement with another check.
pub(in crate::plan) struct CompareDraft {
    pub with: Text,
    pub mirrored: bool,
    pub pairs: Vec<[Text; 2]>,
    pub span: Range<usize>,
}

/// All texts of a step in which a placeholder may stand.
pub(in crate::plan) fn texts_of(step: &Step) -> Vec<&Text> {
    let mut texts = Vec::new();
    match step {
        Step::Use(u) => {
            texts.extend(u.with.iter().map(|(_, value)| value));
            push_conditions(&mut texts, &u.needs, &u.when);
        }
        Step::Check(c) => {
            texts.push(&c.key);
            texts.extend(&c.name);
            texts.extend(&c.also);
            texts.extend(&c.together);
            texts.extend(&c.ask);
            texts.extend(&c.deficiency);
            texts.extend(&c.touches);
            push_conditions(&mut texts, &c.needs, &c.when);
            if let Some(compare) = &c.compare {
                texts.push(&compare.with);
                texts.extend(compare.pairs.iter().flatten());
            }
            if let Some(kind) = &c.kind {
                push_kind(&mut texts, kind);
            }
        }
    }
    texts
}

fn push_conditions<'a>(texts: &mut Vec<&'a Text>, needs: &'a [NeedDraft], when: &'a [WhenDraft]) {
    for need in needs {
        texts.push(&need.option);
        texts.extend(need.is.iter().chain(&need.is_not));
    }
    for w in when {
        texts.push(&w.check);
        texts.extend(w.is.iter().chain(&w.is_not));
    }
}

fn push_kind<'a>(texts: &mut Vec<&'a Text>, kind: &'a KindDraft) {
    let push_states = |texts: &mut Vec<&'a Text>, states: &'a [StateDraft]| {
        for state in states {
            texts.extend(&state.key);
            texts.extend(&state.say);
            texts.extend(&state.deficiency);
        }
    };
    match kind {
        KindDraft::Presence { .. } | KindDraft::Condition => {}
        KindDraft::Count {
            table,
            expected,
            noun,
        } => {
            texts.extend(table);
            texts.extend(expected);
            texts.push(noun);
        }
        KindDraft::OneOf {
            states,
            both,
            neither,
        } => {
            push_states(texts, states);
            texts.extend(both);
            texts.extend(neither);
        }
        KindDraft::State { states } => push_states(texts, states),
        KindDraft::Reading { unit, min, max } => {
            texts.push(unit);
            texts.extend(min);
            texts.extend(max);
        }
        KindDraft::Tag { expected } => texts.extend(expected),
    }
}
