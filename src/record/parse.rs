//! Reads a journal's bytes: which entries hold together, and what is wrong with the first that does
//! not. Pure; takes any bytes.

use super::envelope::{Envelope, FORMAT, NO_PREV, no_hash, sha256_hex};
use super::problem::{Place, Problem, ProblemKind};
use crate::walk::Ledger;
use serde::Deserialize;

/// Longest line of a journal, in bytes. The first line holds the whole route and is the longest.
pub const MAX_LINE_BYTES: usize = 16 << 20;

/// A journal as read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Parsed {
    /// The entries before the first problem.
    pub entries: Vec<Envelope>,
    /// SHA-256 of each of their lines without its newline, lower-case hex.
    pub hashes: Vec<String>,
    /// Length in bytes of their lines with newlines.
    pub whole_bytes: usize,
    /// Bytes after them that are the remains of one line whose writing was broken off; 0 where the
    /// journal ends with a whole line.
    pub torn_bytes: usize,
    /// The first thing that is wrong. A torn end is not counted here: it is what a crash leaves.
    pub problem: Option<Problem>,
}

impl Parsed {
    /// SHA-256 of the last whole line; [`NO_PREV`] where there is none.
    pub fn last_hash(&self) -> &str {
        self.hashes.last().map_or(NO_PREV, String::as_str)
    }

    /// Whether the walk did not come to its end, as far as the entries hold together: of what does not, nothing is known.
    pub fn is_open(&self) -> bool {
        let ledger = Ledger::of(self.entries.iter().map(|e| &e.entry));
        self.problem.is_none() && ledger.is_ok_and(|ledger| ledger.completed().is_none())
    }
}

/// Reads a journal. Takes any bytes without panic; work and memory are in proportion to their length.
pub fn parse_journal(bytes: &[u8]) -> Parsed {
    let mut parsed = Parsed::default();
    let mut rest = bytes;
    while !rest.is_empty() {
        let end = rest.iter().position(|&b| b == b'\n');
        let line = &rest[..end.unwrap_or(rest.len())];
        let after = &rest[end.map_or(rest.len(), |at| at + 1)..];
        // Only the last line can be torn, since each is synced before the next is written. A torn
        // line is short, or has blocks that never reached the disk and read as zeros.
        if end.is_none() || (after.is_empty() && line.contains(&0)) {
            parsed.torn_bytes = rest.len();
            break;
        }
        match read_line(line, after, &parsed) {
            Ok(envelope) => parsed.entries.push(envelope),
            Err(Fault::Line(kind, detail)) => {
                parsed.problem = Some(problem(parsed.entries.len(), kind, detail));
                break;
            }
            Err(Fault::Link(link)) => {
                parsed.problem = Some(diagnose(bytes, parsed.entries.len(), &link));
                break;
            }
        }
        parsed.hashes.push(sha256_hex(line));
        parsed.whole_bytes += line.len() + 1;
        rest = after;
    }
    parsed
}

enum Fault {
    Line(ProblemKind, String),
    Link(Link),
}

/// What ties a line to the others.
#[derive(Clone, Debug, Deserialize)]
struct Link {
    seq: u64,
    prev: String,
}

fn problem(entry: usize, kind: ProblemKind, detail: impl Into<String>) -> Problem {
    Problem {
        place: Place::Entry(entry as u64),
        kind,
        detail: detail.into(),
    }
}

fn read_line(line: &[u8], after: &[u8], before: &Parsed) -> Result<Envelope, Fault> {
    let malformed = |detail: String| Fault::Line(ProblemKind::Malformed, detail);
    if line.len() > MAX_LINE_BYTES {
        return Err(malformed(format!("longer than {MAX_LINE_BYTES} bytes")));
    }
    let text = std::str::from_utf8(line).map_err(|e| malformed(e.to_string()))?;
    let at = before.entries.len();
    if at == 0
        && let Some(found) = format_of(text)
        && found > u64::from(FORMAT)
    {
        let detail = format!(
            "journal format {found}, this loadwalk reads up to {FORMAT}; use a newer loadwalk"
        );
        return Err(Fault::Line(ProblemKind::Newer, detail));
    }
    let link: Link = serde_json::from_str(text).map_err(|e| malformed(e.to_string()))?;
    if link.seq != at as u64 || link.prev != before.last_hash() {
        return Err(Fault::Link(link));
    }
    let envelope: Envelope = serde_json::from_str(text).map_err(|e| match unknown_kind(&e) {
        Some(_) if !is_followed(line, after) => {
            let detail = "the entry after it carries another hash than its bytes give".to_owned();
            Fault::Line(ProblemKind::Changed, detail)
        }
        Some(kind) => Fault::Line(ProblemKind::Newer, newer_kind(&kind)),
        None => malformed(e.to_string()),
    })?;
    if envelope.instant().is_none() {
        return Err(malformed(format!("`{}` is no time", envelope.wall)));
    }
    if let Some(hash) = no_hash(&envelope.entry) {
        return Err(malformed(format!("`{hash}` is no SHA-256 of a sound")));
    }
    Ok(envelope)
}

/// The name that a newer program gave to something this one does not know: a kind of entry, say.
/// serde tells it in words only; a test holds the words.
pub(super) fn unknown_kind(error: &serde_json::Error) -> Option<String> {
    let text = error.to_string();
    let name = text.strip_prefix("unknown variant `")?;
    name.split_once('`').map(|(name, _)| name.to_owned())
}

/// What is said of such a name.
pub(super) fn newer_kind(name: &str) -> String {
    format!("it holds `{name}`, which this loadwalk does not know; use a newer loadwalk")
}

/// Whether the line after carries this line's hash; true where there is none that could.
fn is_followed(line: &[u8], after: &[u8]) -> bool {
    let end = after.iter().position(|&b| b == b'\n');
    let next = end.and_then(|end| serde_json::from_slice::<Link>(&after[..end]).ok());
    next.is_none_or(|next| next.prev == sha256_hex(line))
}

/// The format that a first line claims, whatever else it holds.
pub(super) fn format_of(text: &str) -> Option<u64> {
    #[derive(Deserialize)]
    struct First {
        entry: Opened,
    }
    #[derive(Deserialize)]
    struct Opened {
        format: u64,
    }
    serde_json::from_str::<First>(text)
        .ok()
        .map(|first| first.entry.format)
}

/// Says what must have happened where line `at` does not follow from the one before.
fn diagnose(bytes: &[u8], at: usize, link: &Link) -> Problem {
    let lines: Vec<&[u8]> = bytes.split(|&b| b == b'\n').collect();
    let hashes: Vec<String> = lines.iter().map(|line| sha256_hex(line)).collect();
    let before = |i: usize| match i.checked_sub(1) {
        Some(k) => hashes[k].as_str(),
        None => NO_PREV,
    };
    let expected = before(at);
    if link.prev == expected {
        let detail = format!("it carries the number {}", link.seq);
        return problem(at, ProblemKind::Changed, detail);
    }
    if let Some(first) = hashes[..at].iter().position(|h| *h == hashes[at]) {
        let detail = format!("it is a copy of entry {first}");
        return problem(at, ProblemKind::Added, detail);
    }
    if at >= 1 && link.prev == before(at - 1) {
        let detail = "the entry after it follows from the entry before it";
        return problem(at - 1, ProblemKind::Added, detail);
    }
    if hashes[at..].contains(&link.prev) {
        let detail = format!("entry {} stands here, the one before it later", link.seq);
        return problem(at, ProblemKind::Reordered, detail);
    }
    if link.seq > at as u64 {
        let detail = format!("entry {} follows in its place", link.seq);
        return problem(at, ProblemKind::Removed, detail);
    }
    // Unrelated hashes agree in about 4 of 64 digits; a near agreement means that the link itself
    // was damaged, not what it points at.
    let agreeing = link
        .prev
        .bytes()
        .zip(expected.bytes())
        .filter(|(a, b)| a == b)
        .count();
    if at == 0 || agreeing > 32 {
        let detail = "its link to the entry before is not the one written";
        return problem(at, ProblemKind::Changed, detail);
    }
    let detail = format!("entry {at} carries another hash than its bytes give");
    problem(at - 1, ProblemKind::Changed, detail)
}

#[cfg(test)]
mod tests;
