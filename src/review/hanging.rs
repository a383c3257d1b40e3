//! The load as it hangs with the counts that were found.

use crate::figures::{Hang, Rig, drawing, hang, miscount};
use crate::record::{Against, AnswerView, CheckView, Status, View, plan_of};
use std::path::Path;

/// A load as it hangs with the counts that were found.
#[derive(Clone, Debug)]
pub struct Hanging {
    pub(super) rig: Rig,
    pub(super) hang: Hang,
    /// What is drawn: counts as found, or the planned ones where none stands.
    pub(super) heading: String,
    /// What the counts drawn do against the plan, as spoken; `None` where that is next to nothing.
    pub(super) effect: Option<String>,
}

/// Where a count that is drawn comes from.
enum Drawn {
    /// The walk, and nothing speaks against it.
    Found(u32),
    /// The walk; it is to be inspected again, and is not yet.
    Disputed(u32),
    /// A review, which heard a deficiency.
    Heard(u32),
    /// No count stands: as planned.
    Planned,
}

/// What is drawn of the leg whose links are counted at a check. No review makes it better: a count that one heard is
/// drawn only where it is itself deficient, and one that the walk found to be deficient until it is counted again.
fn drawn(check: Option<&CheckView>) -> Drawn {
    let Some(check) = check else {
        return Drawn::Planned;
    };
    let counting = check.amendments.iter().rev();
    let mut counting = counting.filter(|a| a.against == Some(Against::Deficient));
    if let Some(links) = counting.find_map(|a| a.hears_value.as_ref()?.parse().ok()) {
        return Drawn::Heard(links);
    }
    // A note, or what was withdrawn, speaks against no answer.
    let disputed =
        check.status != check.walked || check.amendments.iter().any(|a| a.against.is_some());
    let deficient = [check.status, check.walked].contains(&Status::Deficient);
    let latest = || check.answers.iter().rev();
    let links = |a: &AnswerView| a.value.parse().ok();
    let standing = latest().find(|a| a.stands).and_then(links);
    // What was sent back stays deficient without an answer that stands.
    let before = || latest().find(|a| deficient && a.outcome == Status::Deficient);
    match (standing, before().and_then(links)) {
        (Some(links), _) if !disputed => Drawn::Found(links),
        (Some(links), _) | (None, Some(links)) => Drawn::Disputed(links),
        (None, None) => Drawn::Planned,
    }
}

impl Hanging {
    /// The plan of the record in a folder, with the link counts that stand in the view in the place of
    /// the planned ones. Where none stands it is drawn as planned; where a review speaks against one, the count found is
    /// drawn, or the one that it heard where that is deficient; the heading says which. `None` where the record's plan
    /// cannot be read or is not that of the walk, where a count is one that the chain does not have, and where the
    /// load does not hang.
    pub fn of(folder: &Path, view: &View) -> Option<Hanging> {
        let plan = plan_of(folder, &view.plan_sha256)?;
        let planned = Rig::from_plan(&plan);
        let mut rig = planned.clone();
        let mut counted = 0;
        let (mut heard, mut disputed, mut not_counted) = (Vec::new(), Vec::new(), Vec::new());
        for (at, leg) in plan.sling_set.legs.iter().enumerate() {
            let Some(wanted) = &leg.count_check else {
                continue;
            };
            let name = rig.legs[at].name.clone();
            let check = view.checks.iter().find(|c| c.check == *wanted);
            let links = match drawn(check) {
                Drawn::Planned => {
                    not_counted.push(name);
                    continue;
                }
                Drawn::Found(links) => links,
                Drawn::Disputed(links) => {
                    disputed.push(name);
                    links
                }
                Drawn::Heard(links) => {
                    heard.push(name);
                    links
                }
            };
            // A count that the chain does not have cannot be drawn; the deficiency tells of it.
            rig = rig.with_links(at, links).ok()?;
            counted += 1;
        }
        let parts: Vec<String> = [
            ("as heard in review at", heard, ""),
            ("as found at", disputed, ", to be inspected again"),
            ("as planned at", not_counted, ", where no count stands"),
        ]
        .into_iter()
        .filter(|(_, legs, _)| !legs.is_empty())
        .map(|(how, legs, why)| format!("{how} {}{why}", legs.join(" and ")))
        .collect();
        let heading = match (counted, &parts[..]) {
            (0, []) => "As it hangs by the plan; no leg has a count".to_owned(),
            (_, []) => "As it hangs, with the counts found".to_owned(),
            (0, _) => "As planned; no count stands".to_owned(),
            (_, parts) => format!("As it hangs; {}", parts.join("; ")),
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

    /// With which counts it is drawn, in words.
    pub fn heading(&self) -> &str {
        &self.heading
    }

    /// What the counts drawn do, as a sentence; `None` where that is next to nothing.
    pub fn as_found(&self) -> Option<String> {
        Some(format!("As found, {}.", self.effect.as_ref()?))
    }
}
