//! The grammar files together: references resolved, every rule checked, graphs on demand.

use super::abnf::{self, Expansion};
use super::check::has_errors;
use super::graph::{Graph, Label};
use super::limits::MAX_FINDINGS;
use super::{GraphError, spoken, units};
use crate::diagnostic::Diagnostic;
use std::collections::{BTreeMap, HashMap, HashSet};
use std::path::PathBuf;

/// The grammar files that come with loadwalk, by file name.
pub const BUILTIN: [(&str, &str); 11] = [
    (
        "presence.abnf",
        include_str!("../../grammars/presence.abnf"),
    ),
    ("count.abnf", include_str!("../../grammars/count.abnf")),
    (
        "condition.abnf",
        include_str!("../../grammars/condition.abnf"),
    ),
    ("control.abnf", include_str!("../../grammars/control.abnf")),
    ("yes_no.abnf", include_str!("../../grammars/yes_no.abnf")),
    ("fixing.abnf", include_str!("../../grammars/fixing.abnf")),
    ("numbers.abnf", include_str!("../../grammars/numbers.abnf")),
    ("reading.abnf", include_str!("../../grammars/reading.abnf")),
    ("units.abnf", include_str!("../../grammars/units.abnf")),
    ("tag.abnf", include_str!("../../grammars/tag.abnf")),
    ("called.abnf", include_str!("../../grammars/called.abnf")),
];

/// A set of grammar files whose every public rule is sound: it can be spoken, ends, gives a value, and
/// gives no utterance two values.
#[derive(Clone, Debug)]
pub struct GrammarSet {
    pub(super) files: Vec<abnf::File>,
    pub(super) names: Vec<String>,
    pub(super) by_name: Vec<HashMap<String, usize>>,
    /// Public rules by the name under which they are made active.
    pub(super) active: BTreeMap<String, Graph>,
}

impl GrammarSet {
    /// The grammars that come with loadwalk.
    ///
    /// # Panics
    /// Never: a test reads the same files.
    pub fn builtin() -> Self {
        match Self::parse(&BUILTIN) {
            Ok(set) => set,
            Err(faults) => panic!("the built-in grammars are checked by a test: {faults:?}"),
        }
    }

    /// The built-in grammars with some files replaced, or added, by others of the given names.
    ///
    /// # Errors
    /// Findings by file, as for [`GrammarSet::parse`].
    pub fn builtin_with(files: &[(&str, &str)]) -> Result<Self, Vec<Diagnostic>> {
        let mut all: Vec<_> = BUILTIN
            .iter()
            .filter(|(name, _)| files.iter().all(|(path, _)| file_name(path) != *name))
            .copied()
            .collect();
        all.extend_from_slice(files);
        Self::parse(&all)
    }

    /// Reads files given as (path, text). Files refer to each other by file name.
    ///
    /// # Errors
    /// All findings by file. Warnings alone are no error; [`GrammarSet::check`] returns them too.
    pub fn parse(files: &[(&str, &str)]) -> Result<Self, Vec<Diagnostic>> {
        let (set, diagnostics) = Self::check(files);
        set.ok_or(diagnostics)
    }

    /// Reads files like [`GrammarSet::parse`]; returns the set, where it is usable, beside all findings.
    pub fn check(files: &[(&str, &str)]) -> (Option<Self>, Vec<Diagnostic>) {
        let mut findings = Vec::new();
        let mut set = Self {
            files: Vec::new(),
            names: Vec::new(),
            by_name: Vec::new(),
            active: BTreeMap::new(),
        };
        for (path, text) in files {
            let (file, found) = abnf::parse(text);
            findings.push(found);
            set.by_name.push(HashMap::new());
            set.names.push(file_name(path).to_owned());
            set.files.push(file);
        }
        set.index(&mut findings);
        let unread: Vec<bool> = findings.iter().map(|f| has_errors(f)).collect();
        for (file, found) in findings.iter_mut().enumerate() {
            set.check_references(file, &unread, found);
        }
        if !findings.iter().any(|f| has_errors(f)) {
            set.check_recursion(&mut findings);
        }
        if !findings.iter().any(|f| has_errors(f)) {
            set.check_reached(&mut findings);
            set.check_values(&mut findings);
        }
        let usable = !findings.iter().any(|f| has_errors(f));
        let diagnostics = files
            .iter()
            .zip(findings)
            .filter(|(_, findings)| !findings.is_empty())
            .map(|((path, text), mut findings)| {
                findings.sort_by_key(|f| f.span.as_ref().map_or(0, |span| span.start));
                findings.truncate(MAX_FINDINGS);
                Diagnostic {
                    path: PathBuf::from(path),
                    text: (*text).to_owned(),
                    findings,
                }
            })
            .collect();
        (usable.then_some(set), diagnostics)
    }

    /// Names of the rules that can be made active, sorted: the public rules of all files with a root. A
    /// file without one holds parts for others. An underscore of the file is a hyphen here:
    /// the grammar form allows no hyphen in names.
    pub fn rules(&self) -> impl Iterator<Item = &str> {
        self.active.keys().map(String::as_str)
    }

    /// All named rules active together. The name `state` stands for the check's own states, given as
    /// (value, spoken forms).
    ///
    /// # Errors
    /// An unknown rule, `state` without states, a state that cannot be spoken, a form of two states.
    pub fn graph(
        &self,
        rules: &[&str],
        states: &[(String, Vec<String>)],
    ) -> Result<Graph, GraphError> {
        self.graph_of(rules, states, None)
    }

    /// [`GrammarSet::graph`], with the noun of what is counted, in the plural, that may follow a count ("six straps"), or
    /// the unit of a reading. Another unit behind a reading makes it [`NEGATED`](super::NEGATED); where none is given,
    /// any may follow.
    ///
    /// # Errors
    /// As [`GrammarSet::graph`], and a noun that cannot be spoken.
    pub fn graph_of(
        &self,
        rules: &[&str],
        states: &[(String, Vec<String>)],
        noun: Option<&str>,
    ) -> Result<Graph, GraphError> {
        let mut out = Graph::empty();
        let mut known = HashSet::new();
        for rule in rules {
            if !known.insert(*rule) {
                continue;
            }
            let from = out.add_node()?;
            out.add_edge(out.start, from, Label::Rule((*rule).into()));
            if *rule == "state" {
                let graph = state_graph(states)?;
                out.add_graph(from, &graph, out.end)?;
            } else {
                let graph = self
                    .active
                    .get(*rule)
                    .ok_or_else(|| GraphError::UnknownRule {
                        name: (*rule).into(),
                        known: self.rules().collect::<Vec<_>>().join(", "),
                    })?;
                let (behind, end) = (out.add_node()?, out.end);
                if *rule == "reading" && self.active.contains_key("unit") {
                    let units = self.graph(&["unit"], &[])?;
                    out.add_graph(from, &units::with_unit(graph, &units, noun)?, end)?;
                    continue;
                }
                out.add_graph(from, graph, behind)?;
                out.add_edge(behind, end, Label::Null);
                if let (Some(noun), "count") = (noun, *rule) {
                    out.add_graph(behind, &noun_graph(noun)?, end)?;
                }
            }
        }
        Ok(out.trimmed())
    }

    /// The rule that a reference in `file` names.
    pub(super) fn resolve(&self, file: usize, reference: &Expansion) -> Option<(usize, usize)> {
        match reference {
            Expansion::Local(name, _) => Some((file, *self.by_name[file].get(name)?)),
            Expansion::Foreign(other, name, _) => {
                let other = self.names.iter().position(|n| n == other)?;
                let name = match name {
                    Some(name) => name,
                    None => &self.files[other].root.as_ref()?.0,
                };
                Some((other, *self.by_name[other].get(name)?))
            }
            _ => None,
        }
    }
}

/// What is counted, also one of it ("strap", "box", "ply").
pub(super) fn noun_graph(noun: &str) -> Result<Graph, GraphError> {
    let plural = spoken::words(noun);
    let Some((last, before)) = plural.split_last() else {
        return Err(GraphError::Unspoken {
            state: noun.to_owned(),
        });
    };
    let mut forms = vec![last.clone()];
    let ones = [("ies", "y"), ("es", ""), ("s", "")];
    for (many, one) in ones {
        if let Some(stem) = last.strip_suffix(many)
            && stem.len() > 1
        {
            forms.push(format!("{stem}{one}"));
        }
    }
    let mut out = Graph::empty();
    let mut at = out.start;
    for word in before {
        let next = out.add_node()?;
        out.add_edge(at, next, Label::Word(word.as_str().into()));
        at = next;
    }
    let end = out.end;
    for form in forms {
        out.add_edge(at, end, Label::Word(form.as_str().into()));
    }
    Ok(out)
}

fn state_graph(states: &[(String, Vec<String>)]) -> Result<Graph, GraphError> {
    let mut out = Graph::empty();
    let mut known: HashMap<Vec<String>, &str> = HashMap::new();
    if states.is_empty() {
        return Err(GraphError::NoStates);
    }
    for (key, forms) in states {
        if key.is_empty() || key.chars().any(char::is_control) || forms.is_empty() {
            return Err(GraphError::Unspoken { state: key.clone() });
        }
        for form in forms {
            let words = spoken::words(form);
            if words.is_empty() {
                return Err(GraphError::Unspoken { state: key.clone() });
            }
            match known.insert(words.clone(), key) {
                Some(other) if other != key => {
                    return Err(GraphError::SharedForm {
                        form: form.clone(),
                        one: other.into(),
                        other: key.clone(),
                    });
                }
                Some(_) => continue,
                None => {}
            }
            let mut at = out.add_node()?;
            out.add_edge(out.start, at, Label::Tag(key.as_str().into()));
            for (i, word) in words.iter().enumerate() {
                let last = i + 1 == words.len();
                let next = if last { out.end } else { out.add_node()? };
                out.add_edge(at, next, Label::Word(word.as_str().into()));
                at = next;
            }
        }
    }
    Ok(out)
}

fn file_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}
