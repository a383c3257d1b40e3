use super::*;
use crate::record::journal::Journal;
use crate::record::samples::{StepClock, answered, noted, opened};
use crate::record::testing::MemoryFile;
use crate::walk::Outcome;

/// A journal of six entries.
fn journal() -> Vec<u8> {
    let clock = StepClock::at(0);
    let file = MemoryFile::default();
    let mut journal = Journal::start(file.clone(), &clock);
    journal.append(&opened(), &clock).unwrap();
    for value in ["present", "missing", "present"] {
        let outcome = match value {
            "present" => Outcome::Conforming,
            _ => Outcome::Deficient {
                deficiency: "front left hook pin missing".to_owned(),
            },
        };
        let entry = answered("front-left/hook-pin", value, outcome);
        journal.append(&entry, &clock).unwrap();
    }
    journal.append(&noted(1), &clock).unwrap();
    journal.append(&noted(2), &clock).unwrap();
    file.visible()
}

fn lines(bytes: &[u8]) -> Vec<Vec<u8>> {
    bytes
        .split_inclusive(|&b| b == b'\n')
        .map(<[u8]>::to_vec)
        .collect()
}

/// What reading says of the lines.
#[track_caller]
fn check(lines: &[Vec<u8>], place: u64, kind: ProblemKind) {
    let parsed = parse_journal(&lines.concat());
    let problem = parsed.problem.expect("a problem");
    assert_eq!(
        (&problem.place, problem.kind),
        (&Place::Entry(place), kind),
        "{problem}"
    );
}

#[test]
fn a_whole_journal_reads() {
    let bytes = journal();
    let parsed = parse_journal(&bytes);
    assert_eq!(parsed.problem, None);
    assert_eq!(parsed.torn_bytes, 0);
    assert_eq!(parsed.whole_bytes, bytes.len());
    let seqs: Vec<u64> = parsed.entries.iter().map(|e| e.seq).collect();
    assert_eq!(seqs, [0, 1, 2, 3, 4, 5]);
    assert_eq!(parsed.entries[0].prev, NO_PREV);
}

#[test]
fn the_link_is_the_hash_of_the_exact_line_before() {
    let lines = lines(&journal());
    for pair in lines.windows(2) {
        let without_newline = &pair[0][..pair[0].len() - 1];
        let next: serde_json::Value = serde_json::from_slice(&pair[1]).unwrap();
        assert_eq!(next["prev"], sha256_hex(without_newline));
    }
}

#[test]
fn cut_at_every_byte_the_longest_whole_prefix_is_read() {
    let bytes = journal();
    let ends: Vec<usize> = (0..bytes.len())
        .filter(|&i| bytes[i] == b'\n')
        .map(|i| i + 1)
        .collect();
    for cut in 0..=bytes.len() {
        let parsed = parse_journal(&bytes[..cut]);
        let whole = ends.iter().filter(|&&end| end <= cut).count();
        assert_eq!(parsed.problem, None, "cut at {cut}");
        assert_eq!(parsed.entries.len(), whole, "cut at {cut}");
        let whole_bytes = if whole == 0 { 0 } else { ends[whole - 1] };
        assert_eq!(parsed.whole_bytes, whole_bytes);
        assert_eq!(parsed.torn_bytes, cut - whole_bytes);
    }
}

#[test]
fn a_last_line_with_blocks_of_zeros_is_torn() {
    let mut bytes = journal();
    let start = bytes[..bytes.len() - 1]
        .iter()
        .rposition(|&b| b == b'\n')
        .unwrap()
        + 1;
    bytes[start + 10..start + 20].fill(0);
    let parsed = parse_journal(&bytes);
    assert_eq!(parsed.entries.len(), 5);
    assert_eq!(parsed.problem, None);
    assert_eq!(parsed.torn_bytes, bytes.len() - start);
}

#[test]
fn any_changed_byte_before_the_last_line_is_found() {
    let bytes = journal();
    let last = bytes[..bytes.len() - 1]
        .iter()
        .rposition(|&b| b == b'\n')
        .unwrap()
        + 1;
    let mut line = 0;
    for at in 0..last {
        let mut changed = bytes.clone();
        changed[at] ^= 1;
        let parsed = parse_journal(&changed);
        let problem = parsed.problem.unwrap_or_else(|| panic!("byte {at} unseen"));
        // A changed newline joins two lines or splits one; all else is named exactly.
        if bytes[at] != b'\n' && changed[at] != b'\n' {
            assert_eq!(problem.place, Place::Entry(line), "byte {at}: {problem}");
        }
        if bytes[at] == b'\n' {
            line += 1;
        }
    }
}

#[test]
fn a_removed_line_is_named() {
    for at in 0..5 {
        let mut lines = lines(&journal());
        lines.remove(at);
        check(&lines, at as u64, ProblemKind::Removed);
    }
}

#[test]
fn exchanged_lines_are_named() {
    for at in 0..5 {
        let mut lines = lines(&journal());
        lines.swap(at, at + 1);
        check(&lines, at as u64, ProblemKind::Reordered);
    }
}

#[test]
fn a_line_moved_is_named() {
    let mut moved = lines(&journal());
    let line = moved.remove(4);
    moved.insert(1, line);
    check(&moved, 1, ProblemKind::Reordered);
}

#[test]
fn a_doubled_line_is_named() {
    for at in 0..6 {
        let mut lines = lines(&journal());
        lines.insert(at + 1, lines[at].clone());
        check(&lines, at as u64 + 1, ProblemKind::Added);
    }
}

#[test]
fn a_line_forged_into_the_chain_is_named() {
    let mut lines = lines(&journal());
    let forged = String::from_utf8(lines[3].clone())
        .unwrap()
        .replace("0.97", "0.99");
    lines.insert(3, forged.into_bytes());
    check(&lines, 3, ProblemKind::Added);
}

#[test]
fn a_changed_answer_is_named() {
    let mut lines = lines(&journal());
    let text = String::from_utf8(lines[2].clone()).unwrap();
    lines[2] = text.replace("missing", "present").into_bytes();
    check(&lines, 2, ProblemKind::Changed);
}

#[test]
fn a_newer_format_is_told_from_damage() {
    let line = br#"{"seq":0,"when":1,"entry":{"entry":"begun","format":2}}"#;
    let mut bytes = line.to_vec();
    bytes.push(b'\n');
    let problem = parse_journal(&bytes).problem.unwrap();
    assert_eq!(problem.kind, ProblemKind::Newer);
    assert_eq!(
        problem.to_string(),
        "entry 0 (line 1) was made by a newer version of loadwalk: journal format 2, this loadwalk reads \
         up to 1; use a newer loadwalk"
    );
}

/// The journal with a word of one line put in another's place and all links made anew, as a program
/// that knows the word would have written it.
fn written_with(at: usize, old: &str, new: &str) -> Vec<Vec<u8>> {
    let mut prev = NO_PREV.to_owned();
    let mut lines = lines(&journal());
    for (i, line) in lines.iter_mut().enumerate() {
        let mut text = String::from_utf8(line.clone()).unwrap();
        if i == at {
            assert!(text.contains(old), "{text}");
            text = text.replacen(old, new, 1);
        }
        let (before, after) = text.split_once(r#""prev":""#).unwrap();
        text = format!(r#"{before}"prev":"{prev}{}"#, &after[64..]);
        prev = sha256_hex(text.trim_end().as_bytes());
        *line = text.into_bytes();
    }
    lines
}

#[test]
fn a_kind_of_a_newer_version_is_named_with_its_line() {
    let new_kind = (r#""entry":"noted""#, r#""entry":"photographed""#);
    let new_stage = (r#""stage":"walk""#, r#""stage":"second-look""#);
    for (at, (old, new), word) in [(4, new_kind, "photographed"), (2, new_stage, "second-look")] {
        let parsed = parse_journal(&written_with(at, old, new).concat());
        assert_eq!(parsed.entries.len(), at);
        assert_eq!(
            parsed.problem.unwrap().to_string(),
            format!(
                "entry {at} (line {}) was made by a newer version of loadwalk: it holds `{word}`, which \
                 this loadwalk does not know; use a newer loadwalk",
                at + 1
            )
        );
    }
    // The last line has none after it to bear it out.
    let (old, new) = new_kind;
    check(&written_with(5, old, new), 5, ProblemKind::Newer);
}

#[test]
fn an_unknown_kind_that_the_chain_does_not_bear_out_is_a_change() {
    let mut lines = lines(&journal());
    let text = String::from_utf8(lines[2].clone()).unwrap();
    lines[2] = text
        .replace(r#""answered""#, r#""photographed""#)
        .into_bytes();
    check(&lines, 2, ProblemKind::Changed);
}

proptest::proptest! {
    #[test]
    fn any_bytes_read_without_panic(bytes: Vec<u8>) {
        let parsed = parse_journal(&bytes);
        proptest::prop_assert!(parsed.whole_bytes + parsed.torn_bytes <= bytes.len());
    }

    #[test]
    fn any_damage_reads_without_panic(
        at in 0..10_000usize,
        put: Vec<u8>,
        cut in 0..300usize,
    ) {
        let mut bytes = journal();
        let at = at % bytes.len();
        let end = (at + cut).min(bytes.len());
        bytes.splice(at..end, put);
        let parsed = parse_journal(&bytes);
        proptest::prop_assert_eq!(parsed.entries.len(), parsed.hashes.len());
    }
}
