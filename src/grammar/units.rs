//! The unit behind a reading: that of the check says nothing more, any other denies the reading.

use super::graph::{Graph, Label, Phrase};
use super::{GraphError, NEGATED, set, spoken};

/// More phrases than any list of units has.
const UNITS_MAX: usize = 500;

/// A reading, with a unit behind it or without. `units`: all units that may be said, one value for each whatever it is
/// called; `unit`: that of the check, where it is known.
///
/// # Errors
/// Where the unit cannot be spoken, or the graph grows too large.
pub(super) fn with_unit(
    reading: &Graph,
    units: &Graph,
    unit: Option<&str>,
) -> Result<Graph, GraphError> {
    let mut out = Graph::empty();
    let end = out.end;
    let behind = out.add_node()?;
    out.add_graph(out.start, reading, behind)?;
    out.add_edge(behind, end, Label::Null);
    let phrases = units.phrases(UNITS_MAX);
    let Some(unit) = unit else {
        for phrase in &phrases {
            out.add_graph(behind, &set::noun_graph(&phrase.words)?, end)?;
        }
        return Ok(out.trimmed());
    };
    out.add_graph(behind, &set::noun_graph(unit)?, end)?;
    let own = phrases
        .iter()
        .find(|p| spoken::words(&p.words) == spoken::words(unit));
    let own = own.map(value);
    let (denied, said) = (out.add_node()?, out.add_node()?);
    out.add_graph(out.start, &without_values(reading), denied)?;
    for phrase in &phrases {
        let words = set::noun_graph(&phrase.words)?;
        if own == Some(value(phrase)) {
            out.add_graph(behind, &words, end)?;
        } else {
            out.add_graph(denied, &words, said)?;
        }
    }
    out.add_edge(said, end, Label::Tag(NEGATED.into()));
    Ok(out.trimmed())
}

fn value(phrase: &Phrase) -> Option<String> {
    phrase.meanings.first().map(|m| m.value.clone())
}

fn without_values(graph: &Graph) -> Graph {
    let mut out = graph.clone();
    for edge in out.nodes.iter_mut().flatten() {
        if matches!(edge.label, Label::Tag(_)) {
            edge.label = Label::Null;
        }
    }
    out
}
