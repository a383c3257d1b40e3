//! Any bytes read as a journal without a panic, and what is kept of them reads the same again.

#![no_main]

use libfuzzer_sys::fuzz_target;
use loadwalk::record::parse_journal;

fuzz_target!(|bytes: &[u8]| {
    let parsed = parse_journal(bytes);
    assert_eq!(parsed.entries.len(), parsed.hashes.len());
    let whole = parse_journal(&bytes[..parsed.whole_bytes]);
    assert_eq!(whole.entries, parsed.entries);
    assert_eq!(whole.problem, None);
    assert_eq!(whole.torn_bytes, 0);
});
