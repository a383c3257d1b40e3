//! Collects findings while a plan is read.

use crate::diagnostic::{Finding, Severity};
use crate::plan::limits;
use std::collections::HashSet;
use std::ops::Range;

/// A text with its place in the plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::plan) struct Text {
    pub value: String,
    pub span: Range<usize>,
}

/// What a finding rests on.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Rests {
    /// On the text at its own place alone.
    Here,
    /// On what the plan says, or does not say, elsewhere. Where the plan could not be parsed whole
    /// such a finding may be a consequence of that.
    Elsewhere,
}

/// Collects findings; never stops at the first.
#[derive(Default)]
pub(in crate::plan) struct Findings {
    found: Vec<Found>,
    seen: HashSet<(Option<Range<usize>>, String)>,
    broken_lines: Vec<Range<usize>>,
}

struct Found {
    finding: Finding,
    rests: Rests,
    /// Whether figures may be wrong by it, or nobody checks what they take.
    bears_on_figures: bool,
}

/// A finding just told; none where the same was told before.
pub(in crate::plan) struct Told<'a>(Option<&'a mut Found>);

impl Told<'_> {
    /// Marks it as bearing on whether the lift is strong enough or hangs as computed.
    pub fn bears_on_figures(self) {
        if let Some(found) = self.0 {
            found.bears_on_figures = true;
        }
    }
}

impl Findings {
    fn push(&mut self, finding: Finding, rests: Rests) -> Told<'_> {
        // A block read at several stations tells the same thing of the same place once.
        let known = (finding.span.clone(), finding.title.clone());
        if !self.seen.insert(known) {
            return Told(None);
        }
        self.found.push(Found {
            finding,
            rests,
            bears_on_figures: false,
        });
        Told(self.found.last_mut())
    }

    /// The text at `span` is wrong in itself.
    pub fn error(
        &mut self,
        span: &Range<usize>,
        title: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) {
        let finding = finding(Severity::Error, span, title, label, help);
        self.push(finding, Rests::Here);
    }

    /// The text at `span` does not fit what is, or is not, elsewhere in the plan.
    pub fn misfit(
        &mut self,
        span: &Range<usize>,
        title: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) {
        let finding = finding(Severity::Error, span, title, label, help);
        self.push(finding, Rests::Elsewhere);
    }

    /// The text at `span` is not used by what the plan says elsewhere. Told only where there is no
    /// error, of which it may be a consequence.
    pub fn unused(
        &mut self,
        span: &Range<usize>,
        title: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) -> Told<'_> {
        let finding = finding(Severity::Warning, span, title, label, help);
        self.push(finding, Rests::Elsewhere)
    }

    /// The text at `span` is worth a look.
    pub fn warning(
        &mut self,
        span: &Range<usize>,
        title: impl Into<String>,
        label: impl Into<String>,
        help: impl Into<String>,
    ) -> Told<'_> {
        let finding = finding(Severity::Warning, span, title, label, help);
        self.push(finding, Rests::Here)
    }

    /// The findings that bear on the figures, in file order.
    pub fn on_figures(&self) -> Vec<Finding> {
        let marked = self.found.iter().filter(|f| f.bears_on_figures);
        let mut marked: Vec<Finding> = marked.map(|f| f.finding.clone()).collect();
        marked.sort_by_key(|f| f.span.as_ref().map_or(0, |s| s.start));
        marked
    }

    /// Takes over what the parser could not read.
    pub fn syntax(&mut self, text: &str, errors: &[toml::de::Error]) {
        for error in errors {
            let span = error.span().unwrap_or(0..0);
            let start = text[..floor(text, span.start)]
                .rfind('\n')
                .map_or(0, |at| at + 1);
            let end = text[floor(text, span.end)..]
                .find('\n')
                .map_or(text.len(), |at| floor(text, span.end) + at);
            let help = help_for_syntax(error.message());
            self.error(
                &span,
                format!("not valid TOML: {}", error.message().replace('\n', " ")),
                "",
                help,
            );
            self.broken_lines.push(start..end.max(start + 1));
        }
    }

    /// Whether the plan can be used so far.
    pub fn has_errors(&self) -> bool {
        self.found
            .iter()
            .any(|f| f.finding.severity == Severity::Error)
    }

    /// All findings in file order. After a syntax error only those are kept that cannot be its
    /// consequence.
    pub fn into_sorted(self) -> Vec<Finding> {
        let errors = self.has_errors();
        let broken = self.broken_lines;
        let mut findings: Vec<Finding> = self
            .found
            .into_iter()
            .map(|f| (f.finding, f.rests))
            .filter(|(f, rests)| !errors || f.severity == Severity::Error || *rests == Rests::Here)
            .filter(|(f, rests)| {
                broken.is_empty()
                    || f.title.starts_with("not valid TOML")
                    || *rests == Rests::Here
                        && f.span.as_ref().is_some_and(|span| {
                            !broken.iter().any(|line| line.contains(&span.start))
                        })
            })
            .map(|(f, _)| f)
            .collect();
        findings.sort_by_key(|f| f.span.as_ref().map_or((0, 0), |s| (s.start + 1, s.end)));
        if findings.len() > limits::FINDINGS {
            // Errors first among those that are kept, so that a cut never hides that there are any.
            findings.sort_by_key(|f| std::cmp::Reverse(f.severity));
            let more = findings.len() - limits::FINDINGS;
            findings.truncate(limits::FINDINGS);
            findings.push(Finding {
                severity: Severity::Error,
                title: format!("{more} further findings are not shown"),
                span: None,
                label: String::new(),
                help: "put right those above and read the plan again".into(),
            });
        }
        findings
    }
}

fn finding(
    severity: Severity,
    span: &Range<usize>,
    title: impl Into<String>,
    label: impl Into<String>,
    help: impl Into<String>,
) -> Finding {
    Finding {
        severity,
        title: title.into(),
        span: Some(span.clone()),
        label: label.into(),
        help: help.into(),
    }
}

/// The greatest character boundary not beyond `at`.
fn floor(text: &str, at: usize) -> usize {
    text.floor_char_boundary(at.min(text.len()))
}

fn help_for_syntax(message: &str) -> &'static str {
    if message.contains("duplicate key") {
        "keep one of the two, or write `[[…]]` with double brackets for a list"
    } else if message.contains("must be quoted") || message.contains("string") {
        "put texts and numbers with units between double quotes: mass = \"1240 kg\""
    } else {
        "write `key = value`, one a line; texts and numbers with units between double quotes"
    }
}

/// "did you mean `x`?" for the nearest known word, or all known words.
pub(in crate::plan) fn did_you_mean<'a>(
    word: &str,
    known: impl IntoIterator<Item = &'a str>,
) -> String {
    let known: Vec<&str> = known.into_iter().collect();
    let lower = word.to_lowercase();
    let nearest = known
        .iter()
        .map(|k| {
            let other = k.to_lowercase();
            let slips = strsim::damerau_levenshtein(&lower, &other);
            (slips, strsim::jaro_winkler(&lower, &other), *k)
        })
        .min_by(|a, b| a.0.cmp(&b.0).then(b.1.total_cmp(&a.1)));
    match nearest {
        // One slip in three letters, or words that begin alike.
        Some((slips, likeness, k)) if slips <= lower.len() / 3 || likeness >= 0.85 => {
            format!("did you mean `{k}`?")
        }
        _ if known.is_empty() => "there is none yet; write one".into(),
        _ => {
            let shown: Vec<String> = known.iter().take(24).map(|k| format!("`{k}`")).collect();
            format!("known here: {}", shown.join(", "))
        }
    }
}
