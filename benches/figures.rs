//! How fast figures are: one rig, the reference rigs beside a general-purpose optimiser in the same
//! run, and the sweep of all counts from 1 to 60 on four legs.
//!
//! `cargo bench --bench figures`. Before anything is timed the two solvers are
//! held against each other: every pull within 0.1 %.

#[path = "../tests/reference/general.rs"]
mod general;

use divan::{Bencher, black_box};
use general::{general, pull, reference};
use loadwalk::figures::{Figures, Rig, hang, level, sweep};
use loadwalk::plan::{Plan, read};
use std::path::Path;

const SKID: &str = include_str!("../plans/generator-skid.toml");

fn main() {
    let rigs = reference();
    let mut agreed = 0;
    for rig in &rigs {
        let ours = hang(rig).expect("every reference rig hangs");
        let Some(apex) = general(rig) else { continue };
        for (leg, hung) in rig.legs.iter().zip(&ours.legs) {
            let pull = pull(leg, &apex);
            let off = 1e-3 * hung.tension_n.max(0.05 * rig.weight_n());
            assert!(
                (pull - hung.tension_n).abs() <= off,
                "{pull} N against {} N",
                hung.tension_n
            );
        }
        agreed += 1;
    }
    println!(
        "{agreed} of {} rigs brought upright to rest by the general optimiser, all within 0.1 %",
        rigs.len()
    );
    divan::main();
}

fn skid() -> Plan {
    read(Path::new("generator-skid.toml"), SKID).expect("the demo plan is sound")
}

#[divan::bench]
fn one_rig(bencher: Bencher) {
    let rig = Rig::from_plan(&skid());
    bencher.bench(|| hang(black_box(&rig)));
}

#[divan::bench]
fn one_plan_with_all_its_corners(bencher: Bencher) {
    let plan = skid();
    bencher.bench(|| Figures::of(black_box(&plan)));
}

#[divan::bench(sample_count = 5)]
fn a_thousand_rigs(bencher: Bencher) {
    let rigs = reference();
    bencher.bench(|| rigs.iter().filter(|r| hang(r).is_ok()).count());
}

#[divan::bench(sample_count = 5)]
fn a_thousand_rigs_by_a_general_optimiser(bencher: Bencher) {
    let rigs = reference();
    bencher.bench(|| rigs.iter().filter(|r| general(r).is_some()).count());
}

/// 1,296 rigs that differ by their counts, on one thread.
#[divan::bench(sample_count = 5)]
fn all_counts_from_1_to_6_on_four_legs_one_thread(bencher: Bencher) {
    let rig = Rig::from_plan(&skid());
    bencher.bench(|| sweep(&rig, 1..=6, 1));
}

/// The same rigs. All of 1 to 60 would take the general optimiser 10,000 times as long.
#[divan::bench(sample_count = 5)]
fn all_counts_from_1_to_6_by_a_general_optimiser(bencher: Bencher) {
    let rig = Rig::from_plan(&skid());
    let counts = || (0..6_u32.pow(4)).map(|i| [0, 1, 2, 3].map(|leg| i / 6_u32.pow(leg) % 6 + 1));
    bencher.bench(|| {
        let rigs = counts().map(|counts| rig.with_counts(&counts));
        rigs.filter(|r| general(r).is_some()).count()
    });
}

/// The smallest changes that level the skid with both rear counts at 23, judged at every corner.
#[divan::bench(sample_count = 5, sample_size = 1)]
fn counts_that_level_it_at_the_worst(bencher: Bencher) {
    let rig = Rig::from_plan(&skid()).with_counts(&[8, 8, 23, 23]);
    bencher.bench(|| level(&rig, 5));
}

/// 12,960,000 rigs.
#[divan::bench(sample_count = 2, sample_size = 1)]
fn all_counts_from_1_to_60_on_four_legs(bencher: Bencher) {
    let rig = Rig::from_plan(&skid());
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    bencher.bench(|| sweep(&rig, 1..=60, cores));
}
