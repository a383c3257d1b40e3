//! The load as it hangs with the counts that were found.

use crate::figures::{Hang, Rig, drawing, hang};
use crate::plan;
use crate::record::{PLAN_FILE, View};
use std::path::Path;

/// A load as it hangs with the counts that were found.
#[derive(Clone, Debug)]
pub struct Hanging {
    pub(super) rig: Rig,
    pub(super) hang: Hang,
}

impl Hanging {
    /// The plan of the record in a folder, with the link counts that stand in the view in the place of
    /// the planned ones. `None` where the record has no plan that can be read, or where the load does
    /// not hang.
    pub fn of(folder: &Path, view: &View) -> Option<Hanging> {
        let path = folder.join(PLAN_FILE);
        let text = std::fs::read_to_string(&path).ok()?;
        let plan = plan::read(&path, &text).ok()?;
        let mut rig = Rig::from_plan(&plan);
        for (at, leg) in plan.sling_set.legs.iter().enumerate() {
            let check = view
                .checks
                .iter()
                .find(|c| Some(&c.check) == leg.count_check.as_ref());
            let standing = check.and_then(|c| c.answers.iter().rev().find(|a| a.stands));
            let Some(links) = standing.and_then(|a| a.value.parse().ok()) else {
                continue;
            };
            // A count that the chain does not have cannot be drawn; the deficiency tells of it.
            if let Ok(found) = rig.clone().with_links(at, links) {
                rig = found;
            }
        }
        let hang = hang(&rig).ok()?;
        Some(Hanging { rig, hang })
    }

    /// The picture as SVG.
    pub fn svg(&self) -> String {
        drawing(&self.rig, &self.hang)
    }
}
