//! Spoken forms: ABNF files, finite-state graph, written forms, likeness.
