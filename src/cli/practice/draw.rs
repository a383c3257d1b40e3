//! Draws the faults of a practice walk.

use crate::plan::{CheckId, CheckKind, Route};
use crate::walk::{plantable, planted_deficiency};
use sha2::{Digest, Sha256};

/// A fault to be planted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawn {
    /// The check.
    pub check: CheckId,
    /// What its inspector should find.
    pub value: String,
    /// The deficiency as the walk names it.
    pub deficiency: String,
    /// The planned count, where it is one.
    pub planned: Option<u32>,
}

/// Draws so many faults in walking order, from as many stations as there are. What is drawn hangs on the seed and the names
/// of the checks alone, so that it can be drawn again anywhere.
///
/// # Errors
/// How many can be drawn at most, where that is less.
pub fn draw(route: &Route, number: usize, seed: u64) -> Result<Vec<Drawn>, usize> {
    let lot = |what: &str, check: &CheckId| -> u64 {
        let hash = Sha256::new()
            .chain_update(seed.to_be_bytes())
            .chain_update(what)
            .chain_update(&check.0)
            .finalize();
        u64::from_be_bytes(std::array::from_fn(|at| hash[at]))
    };
    let all = plantable(route);
    if number > all.len() {
        return Err(all.len());
    }
    // Place in walking order, station, lot.
    let mut order: Vec<(usize, &str, u64)> = all
        .iter()
        .enumerate()
        .map(|(at, (station, check, _))| (at, station.key.as_str(), lot("check", &check.id)))
        .collect();
    order.sort_by_key(|(_, _, lot)| *lot);
    // The first of every station go before the second of any.
    let mut turns: Vec<(usize, usize)> = Vec::new();
    for (n, (at, station, _)) in order.iter().enumerate() {
        let turn = order[..n].iter().filter(|(_, s, _)| s == station).count();
        turns.push((turn, *at));
    }
    turns.sort_by_key(|(turn, _)| *turn);
    let mut chosen: Vec<usize> = turns.into_iter().take(number).map(|(_, at)| at).collect();
    chosen.sort_unstable();
    Ok(chosen
        .into_iter()
        .filter_map(|at| {
            let (station, check, values) = &all[at];
            let which = lot("value", &check.id) % values.len() as u64;
            let value = values.get(usize::try_from(which).ok()?)?;
            Some(Drawn {
                check: check.id.clone(),
                value: value.clone(),
                deficiency: planted_deficiency(station, check, value)?,
                planned: match &check.kind {
                    CheckKind::Count { expected, .. } => *expected,
                    _ => None,
                },
            })
        })
        .collect())
}
