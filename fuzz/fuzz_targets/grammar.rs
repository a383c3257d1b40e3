//! Any text is a grammar or is refused with findings that point into it; what is accepted never has an
//! utterance with two meanings inside one rule.

#![no_main]

use libfuzzer_sys::fuzz_target;
use loadwalk::grammar::GrammarSet;

fuzz_target!(|text: &str| {
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
});
