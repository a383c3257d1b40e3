//! What may be called off at a station, and what a called item means for its check.

use crate::grammar::{CalledItem, Meaning, called};
use crate::plan::{Check, CheckKind, Station};
use crate::walk::{judge, rules};

/// What may be called off at a station: its checks in order, under their names.
pub fn called_items(station: &Station) -> Vec<CalledItem> {
    let claimed = |name: &str, by: &Check| {
        let others = station.checks.iter().filter(|c| c.id != by.id);
        others
            .flat_map(|c| {
                let noun = match &c.kind {
                    CheckKind::Count { noun, .. } => Some(noun),
                    _ => None,
                };
                c.also.iter().chain([&c.name]).chain(noun)
            })
            .any(|other| plain(other) == plain(name))
    };
    station
        .checks
        .iter()
        .map(|check| {
            let mut names = vec![check.name.clone()];
            names.extend(check.also.iter().cloned());
            // What is counted names its count, where it names no other.
            if let CheckKind::Count { noun, .. } = &check.kind
                && !claimed(noun, check)
            {
                names.push(noun.clone());
            }
            let mut known = std::collections::BTreeSet::new();
            names.retain(|name| known.insert(plain(name)));
            CalledItem {
                key: key(check),
                names,
                rule: judge::answer_rule(&check.kind).to_owned(),
                states: judge::state_forms(&check.kind),
                unit: match &check.kind {
                    CheckKind::Reading { unit, .. } => Some(unit.clone()),
                    _ => None,
                },
                conforming: match &check.kind {
                    CheckKind::State { states } => states
                        .iter()
                        .filter(|s| s.deficiency.is_none())
                        .map(|s| s.key.clone())
                        .collect(),
                    _ => Vec::new(),
                },
                together: check.together.clone(),
            }
        })
        .collect()
}

/// The name of a check as it is compared.
fn plain(name: &str) -> String {
    name.to_lowercase()
}

/// The key of a check at its station, told apart from the rules of the grammar.
fn key(check: &Check) -> String {
    let id = check.id.0.as_str();
    let key = id.split_once('/').map_or(id, |(_, key)| key);
    if called::RESERVED.contains(&key) {
        format!("{key}_")
    } else {
        key.to_owned()
    }
}

/// The checks of a station that an item's rule names; empty for a rule of another kind.
pub(super) fn checks_of<'s>(station: &'s Station, rule: &str) -> Vec<&'s Check> {
    let keys: Vec<&str> = rule.split(called::AND).collect();
    let found = station.checks.iter().filter(|c| keys.contains(&&*key(c)));
    found.collect()
}

/// A called finding as the meaning that it has where the check is asked.
pub(super) fn as_asked(check: &Check, value: &str) -> Meaning {
    let rule = if judge::is_no_value(value) {
        rules::CONTROL
    } else {
        judge::answer_rule(&check.kind)
    };
    Meaning {
        rule: rule.to_owned(),
        value: value.to_owned(),
    }
}
