//! Names by which people would hang below the hook.

use super::reader::{Findings, Text};

/// Words of a name that tell of people. Common practice, no source.
const PEOPLE: [&str; 44] = [
    "people",
    "person",
    "persons",
    "personnel",
    "passenger",
    "passengers",
    "pax",
    "crew",
    "crews",
    "crewman",
    "crewmen",
    "worker",
    "workers",
    "workman",
    "workmen",
    "rigger",
    "riggers",
    "climber",
    "climbers",
    "hiker",
    "hikers",
    "rescuer",
    "rescuers",
    "paramedic",
    "paramedics",
    "casualty",
    "casualties",
    "patient",
    "patients",
    "victim",
    "victims",
    "survivor",
    "survivors",
    "injured",
    "human",
    "humans",
    "hec",
    "man",
    "men",
    "woman",
    "women",
    "manbasket",
    "child",
    "children",
];

/// Refuses a name of load, container or piece with a word in it that tells of people. One of goods alone that is refused
/// by it (a crew tent) can be renamed; people that are lifted as goods cannot be taken back.
pub(super) fn refuse(r: &mut Findings, name: &Text) {
    let lower = name.value.to_lowercase();
    let mut words = lower.split(|c: char| !c.is_alphanumeric());
    let Some(word) = words.find(|word| PEOPLE.contains(word)) else {
        return;
    };
    r.error(
        &name.span,
        format!("`{}` tells of people: loadwalk reads no plan for people below a hook", name.value),
        "refused",
        format!(
            "people below a hook are a class of lift of their own, with gear, rules and approvals of their own; where goods \
             alone hang there, name them without `{word}`"
        ),
    );
}
