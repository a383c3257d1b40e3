//! Checks of a station that are answered by one word ("both pins in").

use crate::plan::read::{Findings, Text};
use crate::plan::{CheckKind, NamedState};

/// The groups so far.
#[derive(Default)]
pub struct Together {
    groups: Vec<Group>,
}

struct Group {
    station: usize,
    /// As spoken, small.
    name: String,
    /// Of the first check, where it stands in the plan and what that is called.
    kind: CheckKind,
    span: std::ops::Range<usize>,
    label: String,
    checks: usize,
}

impl Together {
    /// Tells where one word cannot answer all checks of the group.
    pub fn check(
        &mut self,
        r: &mut Findings,
        station: usize,
        text: &Text,
        kind: &CheckKind,
        label: &str,
    ) {
        if matches!(
            kind,
            CheckKind::Count { .. } | CheckKind::Reading { .. } | CheckKind::Tag { .. }
        ) {
            return r.error(
                &text.span,
                "counts, readings and tags are not answered together",
                label,
                "leave `together` out; each has a value of its own",
            );
        }
        let name = text.value.to_lowercase();
        let known = self
            .groups
            .iter_mut()
            .find(|g| g.station == station && g.name == name);
        match known {
            None => self.groups.push(Group {
                station,
                name,
                kind: kind.clone(),
                span: text.span.clone(),
                label: label.to_string(),
                checks: 1,
            }),
            Some(group) => {
                group.checks += 1;
                if !alike(&group.kind, kind) {
                    r.error(
                        &text.span,
                        format!(
                            "the `{}` of this station are answered in different words",
                            text.value
                        ),
                        label,
                        "give them the same kind and states, or another name together",
                    );
                }
            }
        }
    }

    /// Warns of names of several checks that one check alone has, as by a slip of the pen; not at stations where
    /// something is left out, since the others may be among that.
    pub fn warn_of_lone(&self, r: &mut Findings, left_out_at: impl Fn(usize) -> bool) {
        for group in &self.groups {
            if group.checks == 1 && !left_out_at(group.station) {
                r.warning(
                    &group.span,
                    format!("`{}` names one check alone", group.name),
                    group.label.clone(),
                    "give the others of this station the same name together, or leave it out",
                );
            }
        }
    }
}

/// Whether both are answered in the same words, to the same effect.
fn alike(one: &CheckKind, other: &CheckKind) -> bool {
    let same = |a: &NamedState, b: &NamedState| {
        a.key == b.key && a.spoken == b.spoken && a.deficiency.is_some() == b.deficiency.is_some()
    };
    match (one, other) {
        (CheckKind::State { states: a }, CheckKind::State { states: b }) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b))
        }
        (one, other) => one == other,
    }
}
