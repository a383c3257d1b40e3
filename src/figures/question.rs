//! What is asked about a lift.

use serde::Serialize;

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Question {
    /// Can the aircraft carry load and rigging today?
    Aircraft,
    /// Does the cargo hook take load and rigging?
    Hook,
    /// Does each thing between hook and apex, the apex included, take what hangs below it?
    Rigging,
    /// Is the load within its container's or net's limit?
    Container,
    /// Does the spreader take what hangs below it?
    Spreader,
    /// Can the sling set take the load?
    SlingSet,
    /// Can this leg take its share?
    Leg,
    /// Can this lifting provision take its leg's pull?
    Provision,
    /// Is the leg steep enough?
    LegAngle,
    /// Does the load hang level enough?
    Tilt,
    /// Are the counts left and right equal?
    Counts,
    /// Does one leg pull much harder than its neighbour?
    TensionRatio,
    /// Does the load hang upright at all?
    Hangs,
    /// By which procedure is it rigged, and was that proven?
    Procedure,
    /// On whose word are all legs taken to carry?
    Carrying,
    /// May figures be wrong by what the plan's text says, or does nobody check what they take?
    Slip,
}

impl Question {
    /// Whether it asks if something can carry what it must.
    pub fn is_capacity(self) -> bool {
        matches!(
            self,
            Question::Aircraft
                | Question::Hook
                | Question::Rigging
                | Question::Container
                | Question::Spreader
                | Question::SlingSet
                | Question::Leg
                | Question::Provision
        )
    }

    /// The question's key (`sling-set`).
    pub fn key(self) -> &'static str {
        match self {
            Question::Aircraft => "aircraft",
            Question::Hook => "hook",
            Question::Rigging => "rigging",
            Question::Container => "container",
            Question::Spreader => "spreader",
            Question::SlingSet => "sling-set",
            Question::Leg => "leg",
            Question::Provision => "provision",
            Question::LegAngle => "leg-angle",
            Question::Tilt => "tilt",
            Question::Counts => "counts",
            Question::TensionRatio => "tension-ratio",
            Question::Hangs => "hangs",
            Question::Procedure => "procedure",
            Question::Carrying => "carrying",
            Question::Slip => "slip",
        }
    }
}
