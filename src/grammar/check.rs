//! Whether the files of a set fit together and every rule that can be made active is sound.

use super::abnf::{Expansion, Span};
use super::clash::{self, Clash};
use super::compile::rule_graph;
use super::graph::Graph;
use super::limits::MAX_RULE_CHAIN;
use super::set::GrammarSet;
use crate::diagnostic::{Finding, Severity};
use std::collections::{HashMap, HashSet};

impl GrammarSet {
    pub(super) fn index(&mut self, findings: &mut [Vec<Finding>]) {
        let mut public: HashMap<String, usize> = HashMap::new();
        for (file, found) in findings.iter_mut().enumerate() {
            for (at, rule) in self.files[file].rules.iter().enumerate() {
                if self.by_name[file].insert(rule.name.clone(), at).is_some() {
                    found.push(error(
                        &rule.span,
                        format!("a second rule named `${}`", rule.name),
                        "rename one of them, or join both as alternatives",
                    ));
                    continue;
                }
                if !rule.public || self.files[file].root.is_none() {
                    continue;
                }
                if let Some(other) = public.insert(rule.name.clone(), file) {
                    found.push(error(
                        &rule.span,
                        format!(
                            "`${}` is public in {} as well",
                            rule.name, self.names[other]
                        ),
                        "rename one of them; public names are shared by all files",
                    ));
                }
                if rule.name == "state" {
                    found.push(error(
                        &rule.span,
                        "`$state` is the name of a check's own states".into(),
                        "rename the rule",
                    ));
                }
            }
        }
    }

    pub(super) fn check_references(&self, file: usize, unread: &[bool], found: &mut Vec<Finding>) {
        let this = &self.files[file];
        if let Some((name, span)) = &this.root
            && !self.by_name[file].contains_key(name)
            && !unread[file]
        {
            found.push(error(
                span,
                format!("the root rule `${name}` is not defined"),
                "define it, or name another rule as root",
            ));
        }
        for rule in &this.rules {
            rule.body.each_reference(&mut |reference| {
                self.check_reference(file, unread, reference, found);
            });
        }
    }

    fn check_reference(
        &self,
        file: usize,
        unread: &[bool],
        reference: &Expansion,
        found: &mut Vec<Finding>,
    ) {
        match reference {
            // A rule that could not be read has its own finding.
            Expansion::Local(name, span)
                if !self.by_name[file].contains_key(name) && !unread[file] =>
            {
                let near = near(name, self.by_name[file].keys());
                found.push(error(
                    span,
                    format!("`${name}` is not defined"),
                    &near.map_or_else(
                        || "define the rule in this file, or name its file".to_owned(),
                        |near| format!("did you mean `${near}`? else define the rule"),
                    ),
                ));
            }
            Expansion::Foreign(other, name, span) => {
                let Some(at) = self.names.iter().position(|n| n == other) else {
                    let near = near(other, self.names.iter());
                    found.push(error(
                        span,
                        format!("the set has no file `{other}`"),
                        &near.map_or_else(
                            || "put the file into the same folder".to_owned(),
                            |near| format!("did you mean `{near}`?"),
                        ),
                    ));
                    return;
                };
                if unread[at] {
                    return;
                }
                match self.resolve(file, reference) {
                    None => found.push(error(
                        span,
                        match name {
                            Some(name) => format!("`{other}` has no rule `${name}`"),
                            None => format!("`{other}` has no root rule"),
                        },
                        "name a public rule of that file",
                    )),
                    Some((at, rule)) if at != file && !self.files[at].rules[rule].public => {
                        found.push(error(
                            span,
                            format!(
                                "`${}` of `{other}` is private",
                                self.files[at].rules[rule].name
                            ),
                            "make the rule public there",
                        ));
                    }
                    Some(_) => {}
                }
            }
            _ => {}
        }
    }

    pub(super) fn check_recursion(&self, findings: &mut [Vec<Finding>]) {
        // 0 not seen, 1 on the path, 2 done.
        let mut marks: Vec<Vec<u8>> = self.files.iter().map(|f| vec![0; f.rules.len()]).collect();
        for file in 0..self.files.len() {
            for rule in 0..self.files[file].rules.len() {
                self.visit(file, rule, 0, &mut marks, findings);
            }
        }
    }

    /// The length of the chain of rules below this one is returned through the recursion's bound: a chain
    /// deeper than [`MAX_RULE_CHAIN`] is a fault of its own.
    fn visit(
        &self,
        file: usize,
        rule: usize,
        depth: usize,
        marks: &mut [Vec<u8>],
        findings: &mut [Vec<Finding>],
    ) {
        if marks[file][rule] == 2 {
            return;
        }
        let this = &self.files[file].rules[rule];
        if depth > MAX_RULE_CHAIN {
            findings[file].push(error(
                &this.span,
                format!("more than {MAX_RULE_CHAIN} rules refer to each other in a chain"),
                "write the innermost ones out",
            ));
            marks[file][rule] = 2;
            return;
        }
        marks[file][rule] = 1;
        this.body.each_reference(&mut |reference| {
            let Some((to_file, to_rule)) = self.resolve(file, reference) else {
                return;
            };
            if marks[to_file][to_rule] == 1 {
                let span = match reference {
                    Expansion::Local(_, span) | Expansion::Foreign(_, _, span) => span,
                    _ => &this.span,
                };
                findings[file].push(error(
                    span,
                    format!(
                        "`${}` refers to itself",
                        self.files[to_file].rules[to_rule].name
                    ),
                    "write the repetition with a bound, as `<n-m>`",
                ));
            } else {
                self.visit(to_file, to_rule, depth + 1, marks, findings);
            }
        });
        marks[file][rule] = 2;
    }

    pub(super) fn check_reached(&self, findings: &mut [Vec<Finding>]) {
        let mut reached = HashSet::new();
        let mut open: Vec<(usize, usize)> = Vec::new();
        for (file, this) in self.files.iter().enumerate() {
            for (rule, definition) in this.rules.iter().enumerate() {
                let root = this
                    .root
                    .as_ref()
                    .is_some_and(|(name, _)| *name == definition.name);
                if definition.public || root {
                    open.push((file, rule));
                }
            }
        }
        while let Some((file, rule)) = open.pop() {
            if reached.insert((file, rule)) {
                let body = &self.files[file].rules[rule].body;
                body.each_reference(&mut |r| open.extend(self.resolve(file, r)));
            }
        }
        for (file, this) in self.files.iter().enumerate() {
            for (rule, definition) in this.rules.iter().enumerate() {
                if !reached.contains(&(file, rule)) {
                    let mut finding = error(
                        &definition.span,
                        format!("`${}` is used by no public rule", definition.name),
                        "remove it, make it public, or refer to it",
                    );
                    finding.severity = Severity::Warning;
                    findings[file].push(finding);
                }
            }
        }
    }

    pub(super) fn check_values(&mut self, findings: &mut [Vec<Finding>]) {
        for (file, found) in findings.iter_mut().enumerate() {
            for rule in 0..self.files[file].rules.len() {
                let definition = &self.files[file].rules[rule];
                if !definition.public || self.files[file].root.is_none() {
                    continue;
                }
                let graph = match rule_graph(self, file, rule) {
                    Ok(graph) => graph,
                    Err(fault) => {
                        found.push(error(
                            &definition.span,
                            format!("`${}` cannot be expanded: {fault}", definition.name),
                            "make it smaller",
                        ));
                        continue;
                    }
                };
                found.extend(
                    unsound(&definition.name, &graph)
                        .map(|(title, help)| error(&definition.span, title, help)),
                );
                self.active.insert(definition.name.replace('_', "-"), graph);
            }
        }
    }
}

/// What is wrong with the graph of a public rule, and what to do.
fn unsound(name: &str, graph: &Graph) -> Option<(String, &'static str)> {
    if graph.is_empty() {
        let title = format!("nothing that can be said matches `${name}`");
        return Some((title, "`$VOID` matches nothing: add words beside it"));
    }
    if clash::path_without_words(graph) {
        let title = format!("`${name}` matches silence");
        return Some((title, "make one word of every alternative required"));
    }
    if let Some(words) = clash::words_without_value(graph) {
        let title = format!("\"{words}\" of `${name}` has no value");
        return Some((title, "add a tag, as `words {value}`"));
    }
    match clash::find(graph) {
        Ok(None) => None,
        Ok(Some(Clash { words, one, other })) => {
            let title = format!("\"{words}\" of `${name}` means both `{one}` and `{other}`");
            Some((title, "give the words to one of them only"))
        }
        Err(fault) => {
            let title = format!("`${name}` cannot be checked for double meanings: {fault}");
            Some((title, "make it smaller"))
        }
    }
}

pub(super) fn has_errors(findings: &[Finding]) -> bool {
    findings.iter().any(|f| f.severity == Severity::Error)
}

fn error(span: &Span, title: String, help: &str) -> Finding {
    Finding {
        severity: Severity::Error,
        title,
        span: Some(span.clone()),
        label: String::new(),
        help: help.to_owned(),
    }
}

/// The known name most like a misspelled one.
fn near<'a>(name: &str, known: impl Iterator<Item = &'a String>) -> Option<&'a String> {
    known
        .map(|k| (strsim::damerau_levenshtein(name, k), k))
        .filter(|(distance, k)| *distance <= 1 + k.len() / 4)
        .min()
        .map(|(_, k)| k)
}
