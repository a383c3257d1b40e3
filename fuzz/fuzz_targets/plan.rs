//! Any text is a plan or is refused with at least one error, and every finding points into the text.

#![no_main]

use libfuzzer_sys::fuzz_target;
use loadwalk::plan;
use std::path::Path;

fuzz_target!(|text: &str| {
    let findings = match plan::read(Path::new("fuzz.toml"), text) {
        Ok(plan) => {
            let checks = plan.route().checks().count();
            assert!(checks > 0 && checks <= plan::limits::STEPS);
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
});
