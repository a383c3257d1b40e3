//! Looks up one reference from one check to another.

use super::references::Earlier;
use super::{FilledCompare, FilledWhen, Pending, speech};
use crate::plan::read::{Findings, Text, did_you_mean};
use crate::plan::{Check, CheckKind, Compare, Condition, Relation, Test, limits, tag_signs};
use std::collections::HashMap;

/// What a reference leads to.
enum Found<'a> {
    Check(&'a Check),
    LeftOut,
    /// Told already.
    Broken,
}

/// `hook-links` means the same station; `front-left/hook-links` any.
pub fn full_id(reference: &str, own: &str) -> String {
    if reference.contains('/') {
        return reference.to_string();
    }
    let station = own.split('/').next().unwrap_or(own);
    format!("{station}/{reference}")
}

pub fn unknown(
    r: &mut Findings,
    reference: &Text,
    full: &str,
    own: &str,
    all_ids: &[String],
    label: &str,
) {
    r.misfit(
        &reference.span,
        format!("there is no check `{full}`"),
        if label.is_empty() {
            "not a check of this plan".to_string()
        } else {
            format!("not a check of this plan, in {label}")
        },
        nearest_ids(full, own, all_ids),
    );
}

fn nearest_ids(full: &str, own: &str, all_ids: &[String]) -> String {
    let station = full.split('/').next().unwrap_or(full);
    let others = all_ids.iter().map(String::as_str).filter(|id| *id != own);
    let here: Vec<&str> = others
        .clone()
        .filter(|id| id.split('/').next() == Some(station))
        .collect();
    if here.is_empty() {
        did_you_mean(full, others)
    } else {
        did_you_mean(full, here)
    }
}

pub struct Lookup<'a> {
    pub all_ids: &'a [String],
    pub declared: &'a HashMap<String, usize>,
    pub earlier: &'a Earlier,
    pub id: &'a str,
    pub label: &'a str,
}

impl Lookup<'_> {
    pub fn label(&self, label: &str) -> String {
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
            None => unknown(r, reference, &full, self.id, self.all_ids, self.label),
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
    pub fn conditions(
        &self,
        r: &mut Findings,
        pending: &Pending,
    ) -> Result<Vec<Condition>, String> {
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
        self.check_together(r, pending, &conditions);
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
        // Of a list with a word that was told, nothing follows.
        if !is.is_empty() && is.len() == when.is.len() {
            tests.push(Test::Is(is));
        }
        if !is_not.is_empty() && is_not.len() == when.is_not.len() {
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
            let most = match check.kind {
                CheckKind::Count { .. } => f64::from(limits::COUNT),
                _ => limits::reading(),
            };
            if numeric && !(0.0..=most).contains(number) {
                r.error(
                    span,
                    format!(
                        "`{key}` is beyond any answer of `{}`, 0 to {most}",
                        check.id
                    ),
                    self.label("always holds, or never"),
                    "write a number that can be answered",
                );
            } else if numeric {
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
        tests
    }

    /// The meaning that a word of the plan has as an answer to a check.
    fn meaning(&self, r: &mut Findings, word: &Text, check: &Check) -> Option<String> {
        let found = match &check.kind {
            CheckKind::Presence { .. } => ["present", "missing", "deficient"]
                .contains(&word.value.as_str())
                .then(|| word.value.clone()),
            CheckKind::Condition => ["good", "deficient"]
                .contains(&word.value.as_str())
                .then(|| word.value.clone()),
            CheckKind::State { states } => states
                .iter()
                .find(|s| {
                    s.key == word.value || s.spoken.contains(&speech::spoken_form(&word.value))
                })
                .map(|s| s.key.clone())
                .or_else(|| (word.value == "deficient").then(|| word.value.clone())),
            CheckKind::Count { .. } => {
                let number = word.value.parse::<u32>().ok();
                let number = number.filter(|n| *n <= limits::COUNT);
                number.map(|n| n.to_string())
            }
            CheckKind::Reading { .. } => None,
            CheckKind::Tag { .. } => tag_signs(&word.value),
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

    pub fn compare(
        &self,
        r: &mut Findings,
        compare: &FilledCompare,
        kind: Option<&CheckKind>,
    ) -> Option<Compare> {
        let other = match self.find(r, &compare.with, "is compared with") {
            Found::Check(check) => check,
            Found::LeftOut | Found::Broken => return None,
        };
        let kind = kind?;
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
        CheckKind::Presence { .. } => quoted(&["present", "missing", "deficient"]),
        CheckKind::Condition => quoted(&["good", "deficient"]),
        CheckKind::State { states } => {
            let keys = states.iter().map(|s| s.key.as_str());
            let otherwise = states.iter().all(|s| s.key != "deficient");
            quoted(
                &keys
                    .chain(otherwise.then_some("deficient"))
                    .collect::<Vec<_>>(),
            )
        }
        CheckKind::Count { .. } => format!(
            "its answers are whole numbers from 0 to {}; use at_least or at_most for a range",
            limits::COUNT
        ),
        CheckKind::Reading { .. } => "its answers are numbers; use at_least or at_most".into(),
        CheckKind::Tag { .. } => {
            format!("its answers are up to {} letters and digits", limits::TAG)
        }
    }
}
