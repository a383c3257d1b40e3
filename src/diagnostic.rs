//! Findings about a file: what is wrong, where, and what to do about it.
//!
//! Several findings come out of one run; they are drawn in one place, `cli::findings`.

use std::fmt;
use std::ops::Range;
use std::path::PathBuf;

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Worth a look; the file is usable.
    Warning,
    /// The file cannot be used.
    Error,
}

/// One finding in one file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// Whether the file can still be used.
    pub severity: Severity,
    /// What is wrong, lower case, no full stop.
    pub title: String,
    /// Byte range in the file's text; `None` where the whole file is meant.
    pub span: Option<Range<usize>>,
    /// Few words shown at the span.
    pub label: String,
    /// What to do, lower case, no full stop.
    pub help: String,
}

/// All findings about one file, with its text for drawing.
#[derive(Clone, Debug)]
pub struct Diagnostic {
    /// The file as the user named it.
    pub path: PathBuf,
    /// The file's text; empty where it could not be read as UTF-8.
    pub text: String,
    /// Findings in file order.
    pub findings: Vec<Finding>,
}

impl Diagnostic {
    /// Whether any finding makes the file unusable.
    pub fn has_errors(&self) -> bool {
        self.findings.iter().any(|f| f.severity == Severity::Error)
    }

    /// The 1-based line and column (in characters) of a byte offset.
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let before = &self.text.as_bytes()[..offset.min(self.text.len())];
        let line = before.iter().filter(|&&b| b == b'\n').count() + 1;
        let start = before
            .iter()
            .rposition(|&b| b == b'\n')
            .map_or(0, |at| at + 1);
        let column = String::from_utf8_lossy(&before[start..]).chars().count() + 1;
        (line, column)
    }
}

impl fmt::Display for Diagnostic {
    /// One plain line a finding: `path:line:column: error: title; help`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, finding) in self.findings.iter().enumerate() {
            if i > 0 {
                writeln!(f)?;
            }
            let severity = match finding.severity {
                Severity::Warning => "warning",
                Severity::Error => "error",
            };
            write!(f, "{}", self.path.display())?;
            if let Some(span) = &finding.span {
                let (line, column) = self.line_column(span.start);
                write!(f, ":{line}:{column}")?;
            }
            write!(f, ": {severity}: {}", finding.title)?;
            if !finding.label.is_empty() {
                write!(f, " ({})", finding.label)?;
            }
            write!(f, "; help: {}", finding.help)?;
        }
        Ok(())
    }
}

impl std::error::Error for Diagnostic {}
