//! The laws of the walk over random routes and random events. Every run is one storm; the laws are
//! asserted in `storm.rs` at every effect.

use super::storm::Storm;
use super::yard::Tape;
use loadwalk::walk::{Ending, Entry};
use proptest::prelude::*;

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 300,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn no_storm_breaks_the_laws(choices in proptest::collection::vec(any::<u16>(), 0..900)) {
        Storm::new(Tape::new(choices)).run();
    }
}

/// Long runs with fixed seeds, the same on every machine. Together they reach every ending and every
/// kind of entry, so that the laws are not kept for want of trying.
#[test]
fn fixed_storms_keep_the_laws_and_reach_everything() {
    let mut endings = Vec::new();
    let mut kinds = std::collections::BTreeMap::new();
    let mut together = 0;
    for seed in 1..=1_000_u64 {
        let mut state = seed;
        let choices = (0..40 * seed.min(60)).map(|_| {
            // SplitMix64 (Steele, Lea, Flood: Fast splittable pseudorandom number generators, 2014).
            state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mut z = state;
            z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            ((z ^ (z >> 31)) & 0xFFFF) as u16
        });
        let (ending, journal) = Storm::new(Tape::new(choices.collect())).run();
        endings.push(ending);
        together += journal.windows(2).filter(|w| share_a_yes(w)).count();
        for entry in &journal {
            let json = serde_json::to_value(entry).expect("an entry is JSON");
            let kind = json["entry"]
                .as_str()
                .expect("an entry names its kind")
                .to_owned();
            *kinds.entry(kind).or_insert(0) += 1;
            let back: Entry = serde_json::from_value(json).expect("an entry is read back");
            assert_eq!(&back, entry);
        }
    }
    for ending in [Ending::Ready, Ending::NotReady, Ending::Open] {
        assert!(
            endings.contains(&Some(ending)),
            "{ending:?} was not reached"
        );
    }
    assert_eq!(kinds.len(), 14, "{kinds:?}");
    let enough = ["put-right", "doubted", "noted", "carried"]
        .iter()
        .all(|k| kinds[*k] >= 50);
    assert!(enough, "{kinds:?}");
    assert!(
        together >= 5,
        "{together} answers confirmed with the one before"
    );
}

/// Whether two entries are answers that one yes confirmed.
fn share_a_yes(entries: &[Entry]) -> bool {
    let yes = |entry: &Entry| match entry {
        Entry::Answered { heard, .. } => heard.confirmed_by.clone(),
        _ => None,
    };
    let (one, other) = (yes(&entries[0]), yes(&entries[1]));
    one.is_some() && one == other
}
