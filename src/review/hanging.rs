//! The load as it hangs with the counts that were found.

use crate::figures::{Hang, Rig, drawing, hang, miscount};
use crate::plan;
use crate::record::{CheckView, PLAN_FILE, View, sha256_hex};
use std::path::Path;

/// A load as it hangs with the counts that were found.
#[derive(Clone, Debug)]
pub struct Hanging {
    pub(super) rig: Rig,
    pub(super) hang: Hang,
    /// What is drawn: counts as found, or the planned ones where none stands.
    pub(super) heading: String,
    /// What the counts found do against the plan, as spoken; `None` where that is next to nothing.
    pub(super) effect: Option<String>,
}

impl Hanging {
    /// The plan of the record in a folder, with the link counts that stand in the view in the place of
    /// the planned ones; where none stands, or a review speaks against it, the heading says so. `None` where the record's plan
    /// cannot be read or is not that of the walk, where a count is one that the chain does not have, and where the
    /// load does not hang.
    pub fn of(folder: &Path, view: &View) -> Option<Hanging> {
        let path = folder.join(PLAN_FILE);
        let text = std::fs::read_to_string(&path).ok()?;
        if sha256_hex(text.as_bytes()) != view.plan_sha256 {
            return None;
        }
        let plan = plan::read(&path, &text).ok()?;
        let planned = Rig::from_plan(&plan);
        let mut rig = planned.clone();
        let mut counted = 0;
        let mut not_counted = Vec::new();
        for (at, leg) in plan.sling_set.legs.iter().enumerate() {
            let Some(wanted) = &leg.count_check else {
                continue;
            };
            let check = view.checks.iter().find(|c| c.check == *wanted);
            // A note, or what was withdrawn, speaks against no answer.
            let spoken_against = |c: &&CheckView| {
                c.status != c.walked || c.amendments.iter().any(|a| a.against.is_some())
            };
            let standing = check
                .filter(|c| !spoken_against(c))
                .and_then(|c| c.answers.iter().rev().find(|a| a.stands));
            match standing.and_then(|a| a.value.parse().ok()) {
                Some(links) => {
                    // A count that the chain does not have cannot be drawn; the deficiency tells of it.
                    rig = rig.with_links(at, links).ok()?;
                    counted += 1;
                }
                None => not_counted.push(rig.legs[at].name.clone()),
            }
        }
        let heading = match (counted, &not_counted[..]) {
            (0, []) => "As it hangs by the plan; no leg has a count".to_owned(),
            (_, []) => "As it hangs, with the counts found".to_owned(),
            (0, _) => "As planned; no count stands".to_owned(),
            (_, legs) => format!(
                "As it hangs; as planned at {}, where no count stands",
                legs.join(" and ")
            ),
        };
        let effect = miscount(&planned, &rig)
            .filter(|told| told.matters)
            .map(|told| told.spoken_effect());
        let hang = hang(&rig).ok()?;
        Some(Hanging {
            rig,
            hang,
            heading,
            effect,
        })
    }

    /// The picture as SVG.
    pub fn svg(&self) -> String {
        drawing(&self.rig, &self.hang)
    }

    /// What the counts found do, as a sentence.
    pub(super) fn as_found(&self) -> Option<String> {
        Some(format!("As found, {}.", self.effect.as_ref()?))
    }
}
