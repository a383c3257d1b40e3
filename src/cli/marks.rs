//! The rigger's own marks: a file that the rigger gives with the load, a line a check.

use super::args::{as_text, read_bytes};
use super::exit::Failure;
use crate::plan::{CheckId, Route};
use std::collections::BTreeMap;
use std::path::Path;

/// Longest mark, in characters.
const MAX_MARK: usize = 200;

/// What stands at a check; a count or a reading may be written as a number.
#[derive(serde::Deserialize)]
#[serde(untagged, expecting = "no text and no number")]
enum Mark {
    Text(String),
    Number(i64),
    Reading(f64),
}

/// Reads marks: TOML, `"station/check" = "what the rigger says of it"`.
///
/// # Errors
/// Where the file cannot be read, names a check that the route does not have, or has a mark that is
/// no line of text.
pub(super) fn read(path: &Path, route: &Route) -> Result<BTreeMap<CheckId, String>, Failure> {
    let marks = read_lines(path, route)?;
    Ok(marks
        .into_iter()
        .map(|(id, (_, mark))| (id, mark))
        .collect())
}

/// A finding in a file, at its line.
pub(super) fn at_line(path: &Path, line: usize, what: &str) -> Failure {
    Failure::wrong(anyhow::anyhow!("{}:{line}: {what}", path.display()))
}

/// Reads a line a check, with the number of the line; errors as [`read`].
pub(super) fn read_lines(
    path: &Path,
    route: &Route,
) -> Result<BTreeMap<CheckId, (usize, String)>, Failure> {
    let bytes = read_bytes(path)?;
    let text = as_text(path, &bytes)?;
    let fail = |line: usize, what: String| at_line(path, line, &what);
    let line = |at: usize| 1 + text[..at].matches('\n').count();
    let marks: BTreeMap<String, toml::Spanned<Mark>> = toml::from_str(text).map_err(|error| {
        let at = error.span().map_or(0, |span| span.start);
        let why = error.message();
        fail(
            line(at),
            format!("{why}; write a line a check, as \"front-left/shackle-pin\" = \"pinned\""),
        )
    })?;
    let all = || route.stations.iter().flat_map(|s| &s.checks);
    let mut read = BTreeMap::new();
    for (check, mark) in marks {
        let at = line(mark.span().start);
        let mark = match mark.into_inner() {
            Mark::Text(text) => text.trim().to_owned(),
            Mark::Number(number) => number.to_string(),
            Mark::Reading(number) => number.to_string(),
        };
        if !all().any(|c| c.id.0 == check) {
            let what = format!(
                "no check `{check}` is asked of this load; take its name from the plan, as `{}`",
                all().next().map_or("", |c| c.id.0.as_str())
            );
            return Err(fail(at, what));
        }
        if mark.is_empty() || mark.chars().count() > MAX_MARK || mark.contains(char::is_control) {
            let what = format!(
                "the mark of `{check}` is not one line of 1 to {MAX_MARK} characters; shorten it"
            );
            return Err(fail(at, what));
        }
        read.insert(CheckId(check), (at, mark));
    }
    Ok(read)
}
