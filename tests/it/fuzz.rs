//! The fuzz targets for a few seconds each: seeds of this repository, changed at random from a fixed
//! start. `LOADWALK_FUZZ_S` gives each more seconds; `scripts/fuzz.sh` searches by coverage.

#[path = "../../fuzz/bodies.rs"]
mod bodies;

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};

/// Xorshift: any spread will do.
struct Random(u64);

impl Random {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % n.max(1) as u64).unwrap_or(0)
    }
}

/// The files of folders of this repository, at most `most` bytes of each.
fn seeds(folders: &[&str], most: usize) -> Vec<Vec<u8>> {
    let mut seeds = Vec::new();
    for folder in folders {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
        let mut files: Vec<_> = fs::read_dir(&folder)
            .unwrap_or_else(|e| panic!("{}: {e}", folder.display()))
            .flatten()
            .map(|f| f.path())
            .filter(|p| p.is_file())
            .collect();
        files.sort();
        seeds.extend(files.iter().map(|f| {
            let mut bytes = fs::read(f).expect("a seed");
            bytes.truncate(most);
            bytes
        }));
    }
    assert!(!seeds.is_empty());
    seeds
}

/// One to eight changes: bits, bytes, pieces moved, doubled, cut or taken from another seed.
fn change(bytes: &mut Vec<u8>, other: &[u8], random: &mut Random) {
    const ODD: [&[u8]; 12] = [
        b"\0",
        b"\xff\xff\xff\xff",
        b"\x80",
        b"-1",
        b"1e999",
        b"nan",
        b"\"",
        b"\n",
        b"[",
        b"{",
        b"../",
        "\u{1f642}\u{301}".as_bytes(),
    ];
    for _ in 0..=random.below(8) {
        let at = random.below(bytes.len() + 1);
        let end = (at + random.below(40)).min(bytes.len());
        match random.below(7) {
            0 if at < bytes.len() => bytes[at] ^= 1 << random.below(8),
            1 if at < bytes.len() => bytes[at] = random.below(256).to_le_bytes()[0],
            2 => drop(bytes.drain(at..end)),
            3 => {
                let piece = bytes[at..end].to_vec();
                let to = random.below(bytes.len() + 1);
                bytes.splice(to..to, piece);
            }
            4 => {
                let from = random.below(other.len() + 1);
                let to = (from + random.below(200)).min(other.len());
                bytes.splice(at..end, other[from..to].iter().copied());
            }
            5 => drop(bytes.splice(at..at, ODD[random.below(ODD.len())].iter().copied())),
            _ if random.below(10) == 0 => bytes.truncate(at),
            _ => {}
        }
    }
}

/// Runs a target on changed seeds until its time is over; a failing input is kept and named.
fn run(name: &str, seeds: &[Vec<u8>], target: impl Fn(&[u8])) {
    let seconds = std::env::var("LOADWALK_FUZZ_S").ok();
    let seconds = seconds.map_or(3, |s| s.parse().expect("LOADWALK_FUZZ_S is a number"));
    let end = Instant::now() + Duration::from_secs(seconds);
    let mut random = Random(0x9e37_79b9_7f4a_7c15);
    let mut ran = 0u64;
    let go = |input: &[u8]| {
        if catch_unwind(AssertUnwindSafe(|| target(input))).is_err() {
            let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("fuzz-{name}"));
            fs::write(&kept, input).expect("the input is kept");
            panic!("{name} fails on {}", kept.display());
        }
    };
    seeds.iter().for_each(|seed| go(seed));
    while Instant::now() < end {
        let mut input = seeds[random.below(seeds.len())].clone();
        let other = &seeds[random.below(seeds.len())];
        change(&mut input, other, &mut random);
        go(&input);
        ran += 1;
    }
    eprintln!("{name}: {ran} inputs");
    assert!(ran > 0);
}

#[test]
fn plans_are_read_or_refused() {
    let seeds = seeds(&["plans", "tests/plans-bad"], 16_384);
    run("plan", &seeds, |b| {
        bodies::plan(&String::from_utf8_lossy(b))
    });
}

#[test]
fn journals_are_read_or_refused() {
    run(
        "journal",
        &seeds(&["fuzz/seeds/journal"], 16_384),
        bodies::journal,
    );
}

#[test]
fn grammars_are_read_or_refused() {
    let seeds = seeds(&["grammars"], 4_096);
    run("grammar", &seeds, |b| {
        bodies::grammar(&String::from_utf8_lossy(b))
    });
}

#[test]
fn sounds_are_read_or_refused() {
    let seeds = seeds(&["fuzz/seeds/wav", "audio-fixtures/no-answer"], 16_384);
    run("wav", &seeds, bodies::wav);
}
