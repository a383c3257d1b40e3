//! Looks up what checks refer to: earlier answers, checks to ask again, checks to agree with.

use super::lookup::{Lookup, full_id, unknown};
use super::together::Together;
use super::walker::Walker;
use super::{CountCheck, Expanded, Pending, State};
use crate::plan::read::{Findings, Text};
use crate::plan::{
    Check, CheckId, CheckKind, Compare, Condition, LeftOut, Relation, Route, Station,
};
use std::collections::{HashMap, HashSet};

/// Checks that came before, in order.
pub struct Earlier {
    pub checks: Vec<(usize, Check)>,
    pub by_id: HashMap<String, usize>,
    pub left_out: HashMap<String, LeftOut>,
}

/// Makes the route from all checks.
pub fn resolve(r: &mut Findings, walker: Walker<'_>) -> Expanded {
    let all_ids: Vec<String> = walker.items.iter().map(|i| i.id.clone()).collect();
    let mut earlier = Earlier {
        checks: Vec::new(),
        by_id: HashMap::new(),
        left_out: HashMap::new(),
    };
    let mut left_out_order = Vec::new();
    let mut touches: Vec<(String, Vec<Text>)> = Vec::new();
    let mut count_checks = Vec::new();
    let mut together = Together::default();
    let looked_at = looked_at(&walker);
    // What a check that is left out looks at is not known here.
    let some_left_out = walker
        .items
        .iter()
        .any(|item| matches!(item.state, State::LeftOut(_)));
    for item in walker.items {
        let id = CheckId(item.id.clone());
        let reason = match item.state {
            State::LeftOut(reason) => Some(reason),
            State::Asked(pending) => {
                let lookup = Lookup {
                    all_ids: &all_ids,
                    declared: &walker.by_id,
                    earlier: &earlier,
                    id: &item.id,
                    label: &item.label,
                };
                let when = lookup.conditions(r, &pending);
                let compare = pending
                    .compare
                    .as_ref()
                    .and_then(|c| lookup.compare(r, c, pending.kind.as_ref()));
                if when.is_ok() {
                    let weighs = compare.is_some() || looked_at.contains(&item.id);
                    check_judged(r, &item.span, &item.label, &pending, compare.is_some());
                    if let (Some(compare), Ok(when)) = (&compare, &when) {
                        check_compared(r, &earlier, compare, when, &pending);
                    }
                    check_states(
                        r,
                        &item.span,
                        &item.label,
                        &pending,
                        weighs || some_left_out,
                    );
                }
                touches.push((item.id.clone(), pending.touches));
                match (when, pending.kind) {
                    (Err(reason), _) => Some(reason),
                    (Ok(_), None) => {
                        // Told already; a check never vanishes without a word.
                        if !r.has_errors() {
                            r.error(
                                &item.span,
                                format!("check `{}` cannot be asked", item.id),
                                item.label.clone(),
                                "write its kind and what it needs anew",
                            );
                        }
                        None
                    }
                    (Ok(when), Some(kind)) => {
                        if let Some(text) = &pending.together {
                            together.check(r, item.station, text, &kind, &item.label);
                        }
                        if let CheckKind::Count { expected, noun } = &kind {
                            let station = &walker.sources.stations[item.station].key.value;
                            count_checks.push(CountCheck {
                                station: station.clone(),
                                id: id.clone(),
                                table: pending.table,
                                noun: noun.clone(),
                                expected: *expected,
                                conditional: !pending.when.is_empty(),
                                like: compare
                                    .as_ref()
                                    .filter(|c| c.relation == Relation::Alike)
                                    .map(|c| c.with.clone()),
                                span: item.span.clone(),
                            });
                        }
                        earlier.by_id.insert(item.id.clone(), earlier.checks.len());
                        earlier.checks.push((
                            item.station,
                            Check {
                                id: id.clone(),
                                name: item.name.clone(),
                                also: pending.also,
                                together: pending.together.map(|t| t.value),
                                ask: pending.ask,
                                kind,
                                deficiency: pending.deficiency.map(|t| t.value),
                                when,
                                touches: Vec::new(),
                                compare,
                            },
                        ));
                        None
                    }
                }
            }
        };
        if let Some(reason) = reason {
            left_out_order.push(item.id.clone());
            earlier.left_out.insert(
                item.id,
                LeftOut {
                    check: id,
                    name: item.name,
                    reason,
                },
            );
        }
    }
    together.warn_of_lone(r, |station| {
        let station = &walker.sources.stations[station].key.value;
        let of = |id: &String| id.split('/').next() == Some(station.as_str());
        left_out_order.iter().any(of)
    });
    resolve_touches(r, &mut earlier, touches, &walker.by_id, &all_ids);

    let mut stations: Vec<Station> = walker
        .sources
        .stations
        .iter()
        .map(|s| Station {
            key: s.key.value.clone(),
            name: s.name.as_ref().map_or(String::new(), |n| n.value.clone()),
            arrive: s.arrive.as_ref().map_or(String::new(), |a| a.value.clone()),
            place_m: s.place_m,
            checks: Vec::new(),
        })
        .collect();
    for (station, check) in earlier.checks {
        stations[station].checks.push(check);
    }
    stations.retain(|s| !s.checks.is_empty());
    let mut left_out = earlier.left_out;
    Expanded {
        route: Route {
            load: walker.sources.load.to_string(),
            stations,
            left_out: left_out_order
                .iter()
                .filter_map(|id| left_out.remove(id))
                .collect(),
            outline_m: None,
        },
        count_checks,
        used_blocks: walker.used_blocks,
        used_options: walker.used_options,
        used_tables: walker.used_tables,
    }
}

/// A count or reading that nothing judges would let every answer pass.
fn check_judged(
    r: &mut Findings,
    span: &std::ops::Range<usize>,
    label: &str,
    pending: &Pending,
    compares: bool,
) {
    if pending.table.is_some() {
        // A table that lacks the count was told.
        return;
    }
    match pending.kind {
        Some(CheckKind::Count { expected: None, .. }) if pending.compare.is_none() => r.error(
            span,
            "nothing says which count conforms",
            label,
            "add expected = 4, table = \"hook-links\", or compare with another count",
        ),
        Some(CheckKind::Count { expected: None, .. }) if !compares => r.misfit(
            span,
            "nothing says which count conforms, since the check to compare with is not asked",
            label,
            "add expected, a table, or the same needs_option as that check has",
        ),
        Some(CheckKind::Reading {
            min: None,
            max: None,
            ..
        }) if !compares => {
            r.warning(
                span,
                "a reading without min and max takes any value",
                label,
                "add min or max where the value matters",
            );
        }
        _ => {}
    }
}

/// What conforms by agreement alone is deficient each time where the other check was left out by an answer.
fn check_compared(
    r: &mut Findings,
    earlier: &Earlier,
    compare: &Compare,
    when: &[Condition],
    pending: &Pending,
) {
    let alone = match &pending.kind {
        Some(CheckKind::Count { expected, .. }) => expected.is_none(),
        Some(CheckKind::State { states }) => states.iter().all(|s| s.deficiency.is_none()),
        Some(CheckKind::Tag { expected }) => expected.is_none(),
        Some(CheckKind::Reading { min, max, .. }) => min.is_none() && max.is_none(),
        _ => false,
    };
    let other = earlier.by_id.get(&compare.with.0);
    let needs = other.map_or(&[][..], |&at| &earlier.checks[at].1.when);
    let may_be_alone = needs.iter().any(|need| !when.contains(need));
    if let Some(given) = pending.compare.as_ref().filter(|_| alone && may_be_alone) {
        r.warning(
            &given.span,
            format!("`{}` may be left out by other answers", compare.with.0),
            "without it this check is deficient, whatever is answered",
            "give both checks the same `when`",
        );
    }
}

/// States that all conform let every answer pass, unless another check looks at the answer.
fn check_states(
    r: &mut Findings,
    span: &std::ops::Range<usize>,
    label: &str,
    pending: &Pending,
    weighs: bool,
) {
    let Some(CheckKind::State { states }) = &pending.kind else {
        return;
    };
    if weighs || states.iter().any(|s| s.deficiency.is_some()) {
        return;
    }
    if pending.compare.is_some() {
        r.misfit(
            span,
            "every state conforms, and the check to compare with is not asked",
            label,
            "give a state its deficiency, or the same needs_option as that check has",
        );
    } else {
        r.unused(
            span,
            "every state conforms, so that nothing can be found wrong",
            label,
            "give what must not be a deficiency in place of conforms",
        );
    }
}

/// The checks whose answers others look at.
fn looked_at(walker: &Walker<'_>) -> HashSet<String> {
    let asked = walker.items.iter().filter_map(|item| match &item.state {
        State::Asked(pending) => Some((&item.id, pending)),
        State::LeftOut(_) => None,
    });
    asked
        .flat_map(|(id, pending)| {
            let when = pending.when.iter().map(|w| &w.check);
            let compared = pending.compare.iter().map(|c| &c.with);
            when.chain(compared)
                .map(move |text| full_id(&text.value, id))
        })
        .collect()
}

fn resolve_touches(
    r: &mut Findings,
    earlier: &mut Earlier,
    touches: Vec<(String, Vec<Text>)>,
    declared: &HashMap<String, usize>,
    all_ids: &[String],
) {
    for (own, references) in touches {
        let mut resolved: Vec<CheckId> = Vec::new();
        for reference in &references {
            let full = full_id(&reference.value, &own);
            if full == own {
                r.error(
                    &reference.span,
                    format!("check `{full}` touches itself"),
                    "asked again anyway",
                    "take it out",
                );
            } else if !declared.contains_key(&full) {
                unknown(r, reference, &full, &own, all_ids, "");
            } else if earlier.by_id.contains_key(&full) && !resolved.iter().any(|c| c.0 == full) {
                resolved.push(CheckId(full));
            }
        }
        if let Some(&at) = earlier.by_id.get(&own) {
            earlier.checks[at].1.touches = resolved;
        }
    }
}
