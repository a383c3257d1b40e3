//! Looks up what checks refer to: earlier answers, checks to ask again, checks to agree with.

use super::{Expanded, FilledCompare, FilledWhen, Pending, State, Walker};
use crate::plan::read::{Findings, Text, did_you_mean};
use crate::plan::{
    Check, CheckId, CheckKind, Compare, Condition, LeftOut, Relation, Route, Station, Test,
};
use std::collections::HashMap;

/// What a reference leads to.
enum Found<'a> {
    Check(&'a Check),
    LeftOut,
    /// Told already.
    Broken,
}

/// Checks that came before, in order.
struct Earlier {
    checks: Vec<(usize, Check)>,
    by_id: HashMap<String, usize>,
    left_out: HashMap<String, LeftOut>,
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
    let mut touches: Vec<(usize, Vec<Text>)> = Vec::new();
    let mut count_checks = Vec::new();
    for item in walker.items {
        let id = CheckId(item.id.clone());
        let reason = match item.state {
            State::Broken => continue,
            State::LeftOut(reason) => Some(reason),
            State::Asked(pending) => {
                let lookup = Lookup {
                    all_ids: &all_ids,
                    declared: &walker.by_id,
                    earlier: &earlier,
                    id: &item.id,
                    label: &item.label,
                };
                match lookup.conditions(r, &pending) {
                    Err(reason) => Some(reason),
                    Ok(when) => {
                        let compare = pending
                            .compare
                            .as_ref()
                            .map(|c| lookup.compare(r, c, &pending.kind));
                        let compare = compare.flatten();
                        let had_compare = pending.compare.is_some();
                        check_judged(
                            r,
                            &item.span,
                            &item.label,
                            &pending,
                            had_compare,
                            compare.is_some(),
                        );
                        if let Some(table) = &pending.table {
                            count_checks.push((
                                walker.sources.stations[item.station].key.value.clone(),
                                table.clone(),
                                id.clone(),
                            ));
                        }
                        let at = earlier.checks.len();
                        earlier.by_id.insert(item.id.clone(), at);
                        touches.push((at, pending.touches));
                        earlier.checks.push((
                            item.station,
                            Check {
                                id: id.clone(),
                                name: item.name.clone(),
                                also: pending.also,
                                ask: pending.ask,
                                kind: pending.kind,
                                deficiency: pending.deficiency,
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
        },
        count_checks,
        used_blocks: walker.used_blocks,
        used_options: walker.used_options,
        used_tables: walker.used_tables,
    }
}

/// `hook-links` means the same station; `front-left/hook-links` any.
fn full_id(reference: &str, own: &str) -> String {
    if reference.contains('/') {
        return reference.to_string();
    }
    let station = own.split('/').next().unwrap_or(own);
    format!("{station}/{reference}")
}

fn unknown(r: &mut Findings, reference: &Text, full: &str, all_ids: &[String], label: &str) {
    r.misfit(
        &reference.span,
        format!("there is no check `{full}`"),
        if label.is_empty() {
            "not a check of this plan".to_string()
        } else {
            format!("not a check of this plan, in {label}")
        },
        nearest_ids(full, all_ids),
    );
}

fn nearest_ids(full: &str, all_ids: &[String]) -> String {
    let station = full.split('/').next().unwrap_or(full);
    let here: Vec<&str> = all_ids
        .iter()
        .map(String::as_str)
        .filter(|id| id.split('/').next() == Some(station))
        .collect();
    if here.is_empty() {
        did_you_mean(full, all_ids.iter().map(String::as_str))
    } else {
        did_you_mean(full, here)
    }
}

struct Lookup<'a> {
    all_ids: &'a [String],
    declared: &'a HashMap<String, usize>,
    earlier: &'a Earlier,
    id: &'a str,
    label: &'a str,
}

impl Lookup<'_> {
    fn label(&self, label: &str) -> String {
        if self.label.is_empty() {
            label.to_string()
        } else {
            format!("{label}, in {}", self.label)
        }
    }

    /// The check that a condition or comparison looks at; it must come earlier.
    fn find(&self, r: &mut Findings, reference: &Text, what: &str) -> Found<'_> {
        let full = full_id(&reference.value, self.id);
        if let Some(&at) = self.earlier.by_id.get(&full) {
            return Found::Check(&self.earlier.checks[at].1);
        }
        if self.earlier.left_out.contains_key(&full) {
            return Found::LeftOut;
        }
        let own = self.declared.get(self.id);
        match self.declared.get(&full) {
            None => unknown(r, reference, &full, self.all_ids, self.label),
            Some(at) if Some(at) == own => r.misfit(
                &reference.span,
                format!("check `{full}` {what} itself"),
                self.label("the check itself"),
                "name another check that is asked earlier",
            ),
            Some(at) if own.is_some_and(|own| at > own) => r.misfit(
                &reference.span,
                format!("check `{}` {what} `{full}`, which is asked later", self.id),
                self.label("not answered yet"),
                "move that check before this one, or turn the dependency round",
            ),
            // Earlier, but it could not be read.
            Some(_) => {}
        }
        Found::Broken
    }

    /// What must hold for the check to apply, or why it never does in this build.
    fn conditions(&self, r: &mut Findings, pending: &Pending) -> Result<Vec<Condition>, String> {
        let mut conditions = Vec::new();
        let mut left_out = None;
        for when in &pending.when {
            let full = full_id(&when.check.value, self.id);
            match self.find(r, &when.check, "depends on") {
                Found::Broken => {}
                // A check without an answer fails every test but `is_not`.
                Found::LeftOut => {
                    let only_not =
                        when.is.is_empty() && when.at_least.is_none() && when.at_most.is_none();
                    if !only_not {
                        left_out.get_or_insert(format!("{full} is left out"));
                    }
                }
                Found::Check(check) => {
                    for test in self.tests(r, when, check) {
                        conditions.push(Condition {
                            check: check.id.clone(),
                            test,
                        });
                    }
                }
            }
        }
        match left_out {
            Some(reason) => Err(reason),
            None => Ok(conditions),
        }
    }

    fn tests(&self, r: &mut Findings, when: &FilledWhen, check: &Check) -> Vec<Test> {
        let mut tests = Vec::new();
        let mut words = |list: &[Text]| -> Vec<String> {
            list.iter()
                .filter_map(|word| self.meaning(r, word, check))
                .collect()
        };
        let is = words(&when.is);
        let is_not = words(&when.is_not);
        if !is.is_empty() {
            tests.push(Test::Is(is));
        }
        if !is_not.is_empty() {
            tests.push(Test::IsNot(is_not));
        }
        let numeric = matches!(
            check.kind,
            CheckKind::Count { .. } | CheckKind::Reading { .. }
        );
        let bounds = [
            ("at_least", &when.at_least, Test::AtLeast as fn(f64) -> Test),
            ("at_most", &when.at_most, Test::AtMost as fn(f64) -> Test),
        ];
        for (key, bound, test) in bounds {
            let Some((number, span)) = bound else {
                continue;
            };
            if numeric {
                tests.push(test(*number));
            } else {
                r.misfit(
                    span,
                    format!("`{key}` tests `{}`, whose answer is no number", check.id),
                    self.label("not a count and not a reading"),
                    format!("write is = … instead; {}", answers_of(&check.kind)),
                );
            }
        }
        if let (Some((low, span)), Some((high, _))) = (&when.at_least, &when.at_most)
            && low > high
        {
            r.error(
                span,
                format!("no number is at least {low} and at most {high}"),
                self.label("never holds"),
                "exchange at_least and at_most, or put one right",
            );
        }
        tests
    }

    /// The meaning that a word of the plan has as an answer to a check.
    fn meaning(&self, r: &mut Findings, word: &Text, check: &Check) -> Option<String> {
        let found = match &check.kind {
            CheckKind::Presence { .. } => ["present", "missing"]
                .contains(&word.value.as_str())
                .then(|| word.value.clone()),
            CheckKind::Condition => ["good", "deficient"]
                .contains(&word.value.as_str())
                .then(|| word.value.clone()),
            CheckKind::State { states } => states
                .iter()
                .find(|s| {
                    s.key == word.value
                        || s.spoken.contains(&super::speech::spoken_form(&word.value))
                })
                .map(|s| s.key.clone()),
            CheckKind::Count { .. } => word.value.parse::<u32>().ok().map(|n| n.to_string()),
            CheckKind::Reading { .. } => None,
            CheckKind::Tag { .. } => (!word.value.is_empty()
                && word.value.bytes().all(|b| b.is_ascii_alphanumeric()))
            .then(|| word.value.to_uppercase()),
        };
        if found.is_none() {
            r.misfit(
                &word.span,
                format!("check `{}` is never answered `{}`", check.id, word.value),
                self.label("not an answer of that check"),
                answers_of(&check.kind),
            );
        }
        found
    }

    fn compare(
        &self,
        r: &mut Findings,
        compare: &FilledCompare,
        kind: &CheckKind,
    ) -> Option<Compare> {
        let other = match self.find(r, &compare.with, "is compared with") {
            Found::Check(check) => check,
            Found::LeftOut | Found::Broken => return None,
        };
        if std::mem::discriminant(kind) != std::mem::discriminant(&other.kind) {
            r.misfit(
                &compare.span,
                format!(
                    "check `{}` has answers of another kind than `{}`",
                    self.id, other.id
                ),
                self.label("cannot agree"),
                "compare checks of one kind",
            );
            return None;
        }
        if let (CheckKind::State { states }, CheckKind::State { states: others }) =
            (kind, &other.kind)
        {
            let strange = states
                .iter()
                .find(|s| !others.iter().any(|o| o.key == s.key));
            if let Some(strange) = strange {
                r.misfit(
                    &compare.span,
                    format!(
                        "check `{}` has no state `{}` to compare with",
                        other.id, strange.key
                    ),
                    self.label("states differ"),
                    "give both checks the same states",
                );
                return None;
            }
        }
        if !compare.mirrored {
            return Some(Compare {
                with: other.id.clone(),
                relation: Relation::Alike,
            });
        }
        let CheckKind::State { .. } = kind else {
            r.misfit(
                &compare.span,
                "only named states can be mirrored",
                self.label("nothing to mirror"),
                "write how = \"alike\"",
            );
            return None;
        };
        let mut pairs: Vec<[String; 2]> = Vec::new();
        for [a, b] in &compare.pairs {
            let pair = [self.meaning(r, a, other)?, self.meaning(r, b, other)?];
            for (side, text) in pair.iter().zip([a, b]) {
                if pairs.iter().flatten().any(|p| p == side) {
                    r.error(
                        &text.span,
                        format!("state `{side}` is in two pairs"),
                        self.label("which one mirrors it?"),
                        "put each state into one pair",
                    );
                    return None;
                }
            }
            pairs.push(pair);
        }
        Some(Compare {
            with: other.id.clone(),
            relation: Relation::Mirrored(pairs),
        })
    }
}

fn answers_of(kind: &CheckKind) -> String {
    let quoted = |words: &[&str]| {
        let words: Vec<String> = words.iter().map(|w| format!("`{w}`")).collect();
        format!("its answers are {}", words.join(", "))
    };
    match kind {
        CheckKind::Presence { .. } => quoted(&["present", "missing"]),
        CheckKind::Condition => quoted(&["good", "deficient"]),
        CheckKind::State { states } => {
            quoted(&states.iter().map(|s| s.key.as_str()).collect::<Vec<_>>())
        }
        CheckKind::Count { .. } => {
            "its answers are whole numbers; use at_least or at_most for a range".into()
        }
        CheckKind::Reading { .. } => "its answers are numbers; use at_least or at_most".into(),
        CheckKind::Tag { .. } => "its answers are letters and digits".into(),
    }
}

/// A count or reading that nothing judges would let every answer pass.
fn check_judged(
    r: &mut Findings,
    span: &std::ops::Range<usize>,
    label: &str,
    pending: &Pending,
    wants_compare: bool,
    compares: bool,
) {
    match pending.kind {
        CheckKind::Count { expected: None, .. } if !wants_compare => r.error(
            span,
            "nothing says which count conforms",
            label,
            "add expected = 4, table = \"hook-links\", or compare with another count",
        ),
        CheckKind::Count { expected: None, .. } if !compares => r.misfit(
            span,
            "nothing says which count conforms, since the check to compare with is not asked",
            label,
            "add expected, a table, or the same needs_option as that check has",
        ),
        CheckKind::Reading {
            min: None,
            max: None,
            ..
        } if !compares => r.warning(
            span,
            "a reading without min and max takes any value",
            label,
            "add min or max where the value matters",
        ),
        _ => {}
    }
}

fn resolve_touches(
    r: &mut Findings,
    earlier: &mut Earlier,
    touches: Vec<(usize, Vec<Text>)>,
    declared: &HashMap<String, usize>,
    all_ids: &[String],
) {
    for (at, references) in touches {
        let own = earlier.checks[at].1.id.0.clone();
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
                unknown(r, reference, &full, all_ids, "");
            } else if earlier.by_id.contains_key(&full) && !resolved.iter().any(|c| c.0 == full) {
                resolved.push(CheckId(full));
            }
        }
        earlier.checks[at].1.touches = resolved;
    }
}
