//! Writes made-up records of the shipped plans, to try `loadwalk list` and `trends` on many:
//! `cargo run --example records -- FOLDER N [CHECKS]`, with at most CHECKS checks of each route answered (12).
//! The journals hold together and verify; nothing is synced, and there is no sound.

use anyhow::{Context as _, ensure};
use jiff::ToSpan as _;
use loadwalk::plan::{Check, CheckKind, Plan};
use loadwalk::record::{Envelope, FORMAT, NO_PREV, capacity_lines, sha256_hex};
use loadwalk::walk::{CapacityLine, Decision, Entry, Heard, Hearing, Meaning, Outcome, Stage};
use std::fs;
use std::path::{Path, PathBuf};

const PLANS: [&str; 3] = ["generator-skid.toml", "gravel-net.toml", "roof-beams.toml"];
const RIGGERS: [&str; 6] = [
    "Oskar Venn",
    "Tom Alder",
    "Nora Lind",
    "Paul Esche",
    "Rita Birk",
    "Jan Ulme",
];

/// Xorshift: any spread will do.
struct Random(u64);

impl Random {
    fn below(&mut self, n: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 % n
    }
}

/// A journal as it grows.
struct Journal {
    text: Vec<u8>,
    prev: String,
    seq: u64,
    mono_ms: u64,
    start: jiff::ZonedDateTime,
}

impl Journal {
    fn put(&mut self, after_ms: u64, entry: Entry) -> anyhow::Result<()> {
        self.mono_ms += after_ms;
        let wall = &self.start + i64::try_from(self.mono_ms)?.milliseconds();
        let line = serde_json::to_vec(&Envelope {
            seq: self.seq,
            wall: wall.to_string(),
            mono_ms: self.mono_ms,
            clock: None,
            prev: std::mem::take(&mut self.prev),
            entry,
        })?;
        self.prev = sha256_hex(&line);
        self.text.extend(line);
        self.text.push(b'\n');
        self.seq += 1;
        Ok(())
    }
}

fn hearing(rule: &str, value: &str, snr_db: f64, taken: bool) -> Hearing {
    let meaning = Meaning {
        rule: rule.to_owned(),
        value: value.to_owned(),
    };
    Hearing {
        decision: match taken {
            true => Decision::Take { meaning },
            false => Decision::Refuse {
                reason: "noise".to_owned(),
            },
        },
        words: value.to_owned(),
        confidence: 0.97,
        clip: String::new(),
        clip_sha256: String::new(),
        snr_db: Some(snr_db),
        others: Vec::new(),
    }
}

/// A plan with what every record of it holds.
struct Made {
    plan: Plan,
    bytes: Vec<u8>,
    capacity: Vec<CapacityLine>,
}

fn one(n: u64, plans: &[Made], checks: usize) -> anyhow::Result<Vec<u8>> {
    let mut random = Random(0x9e37_79b9_7f4a_7c15 ^ (n + 1).wrapping_mul(0xd134_2543_de82_ef95));
    let Made {
        plan,
        bytes,
        capacity,
    } = &plans[usize::try_from(n)? % plans.len()];
    let route = plan.route();
    let start: jiff::ZonedDateTime = "2031-01-06T07:00:00+00:00[UTC]".parse()?;
    // To the millisecond: walks with the same first entry are taken for one.
    let after_ms = i64::try_from(random.below(3 * 365 * 24 * 3_600_000))?;
    let mut journal = Journal {
        text: Vec::new(),
        prev: NO_PREV.to_owned(),
        seq: 0,
        mono_ms: 0,
        start: &start + after_ms.milliseconds(),
    };
    journal.put(
        0,
        Entry::Opened {
            format: FORMAT,
            inspector: "Ilse Brandt".to_owned(),
            rigger: RIGGERS[usize::try_from(random.below(RIGGERS.len() as u64))?].to_owned(),
            plan_sha256: sha256_hex(bytes),
            route: Box::new(route.clone()),
            left_out: route.left_out.clone(),
            capacity: capacity.clone(),
            tryout: None,
            rigger_marks: Default::default(),
            practice: None,
            pace: None,
        },
    )?;
    // Presence checks need no other value than the one that conforms.
    let simple =
        |c: &Check| matches!(c.kind, CheckKind::Presence { must_be: true }) && c.when.is_empty();
    let all = route.stations.iter();
    let all = all.flat_map(|s| s.checks.iter().map(move |c| (s, c)));
    for (station, check) in all.filter(|(_, c)| simple(c)).take(checks) {
        let snr_db = random.below(40) as f64 - 5.0;
        journal.put(
            1_500,
            Entry::Asked {
                check: check.id.clone(),
                attempt: 1,
            },
        )?;
        if random.below(40) as f64 > snr_db + 10.0 {
            let hearing = hearing("presence", "present", snr_db, false);
            journal.put(
                2_500,
                Entry::Refused {
                    check: Some(check.id.clone()),
                    hearing,
                },
            )?;
            journal.put(
                500,
                Entry::Asked {
                    check: check.id.clone(),
                    attempt: 2,
                },
            )?;
        }
        let missing = random.below(50) == 0;
        let (value, outcome) = match missing {
            false => ("present", Outcome::Conforming),
            true => {
                let deficiency = format!("{}, {} missing", station.name, check.name);
                ("missing", Outcome::Deficient { deficiency })
            }
        };
        let heard = Heard {
            hearing: hearing("presence", value, snr_db, true),
            confirmed_by: None,
        };
        let (check, value) = (check.id.clone(), value.to_owned());
        journal.put(
            2_000,
            Entry::Answered {
                check,
                value,
                outcome,
                stage: Stage::Walk,
                heard,
            },
        )?;
    }
    Ok(journal.text)
}

fn main() -> anyhow::Result<()> {
    let mut args = std::env::args().skip(1);
    let folder = PathBuf::from(
        args.next()
            .context("name a folder and a number of records")?,
    );
    let count: u64 = args.next().context("name a number of records")?.parse()?;
    let checks: usize = args.next().map_or(Ok(12), |n| n.parse())?;
    ensure!(
        !folder.exists(),
        "{} is there already; name a new folder",
        folder.display()
    );
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("plans");
    let mut plans = Vec::new();
    for name in PLANS {
        let path = root.join(name);
        let text = fs::read_to_string(&path)?;
        let plan = loadwalk::plan::read(&path, &text)
            .ok()
            .context("a shipped plan has a fault")?;
        plans.push(Made {
            capacity: capacity_lines(&plan),
            bytes: text.into_bytes(),
            plan,
        });
    }
    for n in 0..count {
        let record = folder
            .join(format!("{:03}", n / 1_000))
            .join(format!("walk-{n:06}"));
        fs::create_dir_all(&record)?;
        fs::write(
            record.join("plan.toml"),
            &plans[usize::try_from(n)? % plans.len()].bytes,
        )?;
        fs::write(record.join("journal.jsonl"), one(n, &plans, checks)?)?;
    }
    println!("{count} records in {}", folder.display());
    Ok(())
}
