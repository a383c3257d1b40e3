//! The one place where findings are drawn.

use crate::diagnostic::{Diagnostic, Severity};
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::io::IsTerminal;

/// Draws every finding of a file with its line and its fix, ready for stderr.
pub fn draw(diagnostic: &Diagnostic) -> String {
    let path = diagnostic.path.display().to_string();
    let renderer = if std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none() {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let mut drawn = String::new();
    for finding in &diagnostic.findings {
        let level = match finding.severity {
            Severity::Warning => Level::WARNING,
            Severity::Error => Level::ERROR,
        };
        let title = level.primary_title(finding.title.as_str());
        let mut group = match &finding.span {
            Some(span) => {
                let end = span.end.min(diagnostic.text.len());
                let span = span.start.min(end)..end;
                title.element(
                    Snippet::source(diagnostic.text.as_str())
                        .path(path.as_str())
                        .annotation(
                            AnnotationKind::Primary
                                .span(span)
                                .label(finding.label.as_str()),
                        ),
                )
            }
            None => Group::with_title(title),
        };
        if finding.span.is_none() {
            group = group.element(Level::NOTE.message(path.as_str()));
        }
        group = group.element(Level::HELP.message(finding.help.as_str()));
        drawn.push_str(&renderer.render(&[group]));
        drawn.push_str("\n\n");
    }
    drawn
}
