#![no_main]

#[path = "../bodies.rs"]
#[allow(dead_code, reason = "each target runs one of them")]
mod bodies;

libfuzzer_sys::fuzz_target!(|text: &str| bodies::grammar(text));
