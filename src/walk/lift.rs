//! What counts as found do to the lift: asked of the figures, said after the count, never before.

use super::machine::Walk;
use super::wording;
use crate::plan::{CheckId, CheckKind};
use crate::walk::{Outcome, Phrase};

/// Knows what link counts do to the lift. Pure: the same counts give the same words.
pub trait Lift: std::fmt::Debug {
    /// What the rig does with the counts taken so far, the last of them at `last`: a clause without
    /// a full stop and without any planned count. `None` where `last` counts no leg's links or where
    /// the difference does not matter.
    fn effect(&self, counts: &[(CheckId, u32)], last: &CheckId) -> Option<String>;
}

impl Walk {
    /// Tells what a wrong count does, once the inspector has counted. A count that is open again
    /// after a repair counts as planned.
    pub(super) fn say_effect(&mut self, check: &CheckId, outcome: &Outcome) {
        let (Some(lift), Outcome::Deficient { .. }) = (&self.lift, outcome) else {
            return;
        };
        let route = self.ledger.route().checks();
        let counts: Vec<(CheckId, u32)> = route
            .filter(|c| matches!(c.kind, CheckKind::Count { .. }))
            .filter_map(|c| {
                let standing = self.ledger.standing(&c.id)?;
                Some((c.id.clone(), standing.value.parse().ok()?))
            })
            .collect();
        if let Some(effect) = lift.effect(&counts, check) {
            self.say(Phrase::Tell, wording::as_found(&effect));
        }
    }
}
