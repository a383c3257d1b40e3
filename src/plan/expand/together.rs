//! Checks of a station that are answered by one word ("both pins in").

use crate::plan::read::{Findings, Text};
use crate::plan::{CheckKind, NamedState};

/// The first check of each group so far: station, spoken name, kind.
#[derive(Default)]
pub struct Together {
    groups: Vec<(usize, String, CheckKind)>,
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
        let known = self.groups.iter().find(|g| g.0 == station && g.1 == name);
        match known {
            None => self.groups.push((station, name, kind.clone())),
            Some((_, _, first)) if alike(first, kind) => {}
            Some(_) => r.error(
                &text.span,
                format!(
                    "the `{}` of this station are answered in different words",
                    text.value
                ),
                label,
                "give them the same kind and states, or another name together",
            ),
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
