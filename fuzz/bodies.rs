//! What each fuzz target holds. `fuzz/fuzz_targets` guides them by coverage, `tests/it/fuzz.rs` runs them
//! for a few seconds with every test.

use loadwalk::audio::{decode_wav, read_sound_bytes};
use loadwalk::grammar::GrammarSet;
use loadwalk::plan as plans;
use loadwalk::record::{NO_PREV, parse_journal, sha256_hex};
use loadwalk::walk::Ledger;
use std::path::Path;

/// Any text is a plan or is refused with at least one error, and every finding points into the text.
pub fn plan(text: &str) {
    let findings = match plans::read(Path::new("fuzz.toml"), text) {
        Ok(plan) => {
            let checks = plan.route().checks().count();
            assert!(checks > 0 && checks <= plans::limits::STEPS);
            plan.warnings().to_vec()
        }
        Err(diagnostic) => {
            assert!(diagnostic.has_errors());
            let _ = diagnostic.to_string();
            diagnostic.findings
        }
    };
    for finding in findings {
        if let Some(span) = finding.span {
            assert!(span.start <= span.end && span.end <= text.len());
            assert!(text.is_char_boundary(span.start));
        }
    }
}

/// Any bytes read as a journal without a panic, and what is kept of them reads the same again. With the
/// links of its lines made anew, so that more of them are reached, its entries fold into a ledger or are
/// refused by name.
pub fn journal(bytes: &[u8]) {
    let parsed = parse_journal(bytes);
    assert_eq!(parsed.entries.len(), parsed.hashes.len());
    let whole = parse_journal(&bytes[..parsed.whole_bytes]);
    assert_eq!(whole.entries, parsed.entries);
    assert_eq!(whole.problem, None);
    assert_eq!(whole.torn_bytes, 0);

    let parsed = parse_journal(&linked(bytes));
    match Ledger::of(parsed.entries.iter().map(|e| &e.entry)) {
        Ok(ledger) => {
            let ready = ledger.completed() == Some(true);
            assert!(
                !ready || ledger.ready().ready,
                "ready against its own answers"
            );
        }
        Err((at, why)) => {
            assert!(at < parsed.entries.len() as u64);
            let _ = why.to_string();
        }
    }
}

/// The lines that are JSON objects, each with number and link as they should be.
fn linked(bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    let mut prev = NO_PREV.to_owned();
    let lines = bytes.split(|&b| b == b'\n');
    let objects = lines.filter_map(|line| serde_json::from_slice::<serde_json::Value>(line).ok());
    for (seq, mut object) in objects.filter(|v| v.is_object()).enumerate() {
        object["seq"] = seq.into();
        object["prev"] = prev.into();
        let line = object.to_string();
        prev = sha256_hex(line.as_bytes());
        out.extend(line.into_bytes());
        out.push(b'\n');
    }
    out
}

/// Any text is a grammar or is refused with findings that point into it; what is accepted never has an
/// utterance with two meanings inside one rule.
pub fn grammar(text: &str) {
    let (set, diagnostics) = GrammarSet::check(&[("fuzz.abnf", text)]);
    for diagnostic in &diagnostics {
        let _ = diagnostic.to_string();
        for span in diagnostic.findings.iter().filter_map(|f| f.span.as_ref()) {
            assert!(span.start <= span.end && span.end <= text.len());
            assert!(text.is_char_boundary(span.start));
        }
    }
    let Some(set) = set else {
        assert!(diagnostics.iter().any(|d| d.has_errors()));
        return;
    };
    let rules: Vec<String> = set.rules().map(str::to_owned).collect();
    for rule in &rules {
        let Ok(graph) = set.graph(&[rule], &[]) else {
            continue;
        };
        if let Ok(clash) = graph.clash() {
            assert_eq!(clash, None);
        }
        let _ = graph.phrases(50);
    }
}

/// Any bytes read as a sound file without a panic, and what is read is a sound.
pub fn wav(bytes: &[u8]) {
    let _ = decode_wav(bytes);
    if let Ok(sound) = read_sound_bytes(bytes) {
        assert!(sound.iter().all(|s| s.is_finite()));
    }
}
