//! The figures as the walk asks them: what link counts as found do to the lift.

use crate::figures::{Rig, hang, miscount};
use crate::plan::{CheckId, Plan};
use crate::walk::Lift;

/// A plan's rig, with the check that counts each leg's links.
#[derive(Debug)]
pub struct PlannedRig {
    rig: Rig,
    /// The check, and the leg as a place in the rig's legs.
    legs: Vec<(CheckId, usize)>,
}

impl PlannedRig {
    /// The rig of a plan; `None` where no check counts links or the plan itself does not hang.
    pub fn of(plan: &Plan) -> Option<Self> {
        let legs = plan.sling_set.legs.iter().enumerate();
        let legs: Vec<_> = legs
            .filter_map(|(at, leg)| Some((leg.count_check.clone()?, at)))
            .collect();
        let rig = Rig::from_plan(plan);
        (!legs.is_empty() && hang(&rig).is_ok()).then_some(Self { rig, legs })
    }
}

impl PlannedRig {
    /// What counts do that are planted for practice, where one of them is this check's; every leg without one is as planned.
    pub fn effect_planted(&self, counts: &[(CheckId, u32)], check: &CheckId) -> Option<String> {
        self.told(counts, check, ", with the other legs as planned")
    }

    /// What counts do to the lift, and what of the legs without one.
    fn told(&self, counts: &[(CheckId, u32)], last: &CheckId, others: &str) -> Option<String> {
        let mut rig = self.rig.clone();
        for (check, at) in &self.legs {
            let Some((_, links)) = counts.iter().find(|(counted, _)| counted == check) else {
                continue;
            };
            match rig.clone().with_links(*at, *links) {
                Ok(found) => rig = found,
                // A count that the chain does not have changes nothing that can be worked out.
                Err(error) if check == last => return Some(title(&error.to_string())),
                Err(_) => {}
            }
        }
        self.legs.iter().find(|(check, _)| check == last)?;
        let told = miscount(&self.rig, &rig)?;
        let counted = |(check, _): &(CheckId, usize)| counts.iter().any(|(c, _)| c == check);
        let rest = match self.legs.iter().all(counted) {
            true => "",
            false => others,
        };
        told.matters.then(|| title(&told.spoken_effect()) + rest)
    }
}

impl Lift for PlannedRig {
    fn effect(&self, counts: &[(CheckId, u32)], last: &CheckId) -> Option<String> {
        self.told(counts, last, ", with the legs not counted yet as planned")
    }
}

/// A message without its advice, which is for the one who writes the plan.
fn title(message: &str) -> String {
    message.split("; ").next().unwrap_or(message).to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn skid() -> PlannedRig {
        let text = include_str!("../../plans/generator-skid.toml");
        let plan = crate::plan::read(std::path::Path::new("skid.toml"), text).expect("a plan");
        PlannedRig::of(&plan).expect("legs with counts")
    }

    fn id(text: &str) -> CheckId {
        CheckId(text.to_owned())
    }

    #[test]
    fn a_wrong_count_is_told_by_its_effect_and_never_by_the_plan() {
        let lift = skid();
        let left = id("rear-left/hook-links");
        let right = id("rear-right/hook-links");
        let told = |counts: &[(CheckId, u32)], last| lift.effect(counts, last);
        assert_eq!(told(&[(left.clone(), 3)], &left), None, "as planned");
        // One link off on one leg already moves a share of the load onto a diagonal.
        assert!(told(&[(left.clone(), 4)], &left).is_some());
        let level = [(left.clone(), 4), (right.clone(), 4)];
        assert_eq!(
            told(&level, &right),
            None,
            "both sides alike, it changes little"
        );
        let both = [(left.clone(), 23), (right.clone(), 23)];
        let said = told(&both, &right).expect("it matters");
        assert!(said.contains("degrees nose down"), "{said}");
        assert!(!said.contains("for 3"), "{said}");
        // Nobody has counted the front legs.
        assert!(
            said.ends_with(", with the legs not counted yet as planned"),
            "{said}"
        );
        // Planted, they are all that is off.
        let planted = lift.effect_planted(&both, &right).expect("it matters");
        let known = said.replace("the legs not counted yet", "the other legs");
        assert_eq!(planted, known);
        let [fl, fr] = ["front-left/hook-links", "front-right/hook-links"].map(id);
        let all = [&both[..], &[(fl, 8), (fr, 8)]].concat();
        assert!(
            !told(&all, &right)
                .expect("it matters")
                .contains("not counted")
        );
        // Fixed and counted again, only the other leg is off.
        let one = told(&[(left.clone(), 3), (right.clone(), 23)], &right).expect("it matters");
        assert_ne!(one, said);
        let beyond = told(&[(left.clone(), 110)], &left).expect("no such link");
        assert_eq!(beyond, "rear left leg has counts up to 65, not 110");
        assert_eq!(told(&both, &id("rear/battery-straps")), None);
    }
}
