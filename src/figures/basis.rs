//! On whose word the figures stand: the rigging procedure, and that all legs carry.

use super::hang::hang;
use super::judge::blank;
use super::plus_minus::at_worst;
use super::question::Question;
use super::rig::Rig;
use super::verdict::{Grade, Verdict};
use crate::plan::{Carrying, Plan, ProcedureStatus};

/// What a reader must know of it, apart from numbers.
pub(super) fn basis(plan: &Plan, rig: &Rig) -> Vec<Verdict> {
    procedure(plan, rig)
        .into_iter()
        .chain(shared_by_all(plan, rig))
        .collect()
}

/// The procedure that the plan names. One for this lift alone was not proven on any other.
fn procedure(plan: &Plan, rig: &Rig) -> Option<Verdict> {
    let procedure = plan.load.procedure.as_ref()?;
    let (grade, status) = match procedure.status {
        ProcedureStatus::Certified => (Grade::Pass, "certified"),
        ProcedureStatus::Suitable => (Grade::Pass, "judged suitable"),
        ProcedureStatus::OneTime => (Grade::Warn, "for this one lift alone"),
    };
    Some(Verdict {
        no_share: Some("it is no number"),
        note: one_point(&format!(
            "{}, {status}, by {}",
            procedure.title, procedure.issued_by
        )),
        ..blank(
            rig,
            Question::Procedure,
            "rigging procedure",
            grade,
            "certified or judged suitable, as the plan says",
        )
    })
}

/// That all legs are taken to carry, where that is an assumption: more than statics alone gives, on somebody's word.
fn shared_by_all(plan: &Plan, rig: &Rig) -> Option<Verdict> {
    if rig.carrying != Carrying::All {
        return None;
    }
    let many = rig.present().count() > 3;
    if !many && hang(rig).map_or(true, |hang| hang.determinate) {
        return None;
    }
    let statement = plan.sling_set.carrying_statement.as_deref();
    let mut two = rig.clone();
    two.carrying = Carrying::Two;
    let hardest = at_worst(&two).ok().map_or_else(String::new, |worst| {
        let shares = worst.legs.iter().map(|leg| leg.share_percent);
        let most = shares.fold(0.0, f64::max);
        format!(", and with two carrying one would pull {most:.0} percent of its rating")
    });
    Some(Verdict {
        no_share: Some("it is somebody's word, no number"),
        note: one_point(&format!(
            "all legs are taken to carry, on the word of {}{hardest}",
            statement.unwrap_or("nobody")
        )),
        ..blank(
            rig,
            Question::Carrying,
            "sling set",
            Grade::Warn,
            "a rigid load can hang on two of its legs, NAVEDTRA 14251 fig. 6-60; a qualified person approves equal \
             sharing",
        )
    })
}

/// A semicolon parts what wants a look into points.
fn one_point(text: &str) -> String {
    text.replace("; ", ", ")
}
