//! Verdicts at the worst of the inputs' plus and minus, and the input that decides them.

use super::allowable::{AllowableError, AllowableToday};
use super::from_plan::Masses;
use super::judge::{Case, HANGS_SLACK};
use super::plus_minus::{Corner, INPUTS, Input, NOMINAL, corners, stiff_corners};
use super::question::Question;
use super::rig::Rig;
use super::steeper::steeper;
use super::verdict::{Grade, NEAR_PERCENT, Verdict};
use crate::plan::{Carrying, Plan};

/// What stays the same in every corner.
pub(super) struct Ground<'a> {
    pub plan: &'a Plan,
    pub masses: Masses,
    pub rig: &'a Rig,
    pub allowable: &'a Result<AllowableToday, AllowableError>,
}

impl Ground<'_> {
    /// The verdicts with the typed-in numbers, each with its worst corner where that is worse.
    pub fn verdicts(&self) -> Vec<Verdict> {
        let (mut verdicts, corners) = self.with_worst();
        for (verdict, corner) in verdicts.iter_mut().zip(&corners) {
            self.say_steeper(verdict, corner);
        }
        verdicts
    }

    /// What length a leg that stands too flat must have.
    fn say_steeper(&self, verdict: &mut Verdict, corner: &Corner) {
        if verdict.question != Question::LegAngle || verdict.grade == Grade::Pass {
            return;
        }
        let of = |leg: &super::rig::Leg| format!("{} leg", leg.name) == verdict.subject;
        let at = self.rig.legs.iter().position(of);
        if let Some(long) = at.and_then(|at| steeper(self.rig, corner, at)) {
            if !verdict.note.is_empty() {
                verdict.note += ", ";
            }
            verdict.note += &long;
        }
    }

    /// The verdicts, and the corner that decides each.
    fn with_worst(&self) -> (Vec<Verdict>, Vec<Corner>) {
        let mut verdicts = self.at(&NOMINAL);
        let mut corners = corners(self.rig);
        if corners == [NOMINAL] {
            corners.clear();
        }
        corners.extend(stiff_corners(self.rig));
        let mut at_corner = vec![NOMINAL; verdicts.len()];
        if corners.is_empty() {
            return (verdicts, at_corner);
        }
        let mut worst: Vec<(Named, Corner)> =
            named(verdicts.clone()).map(|v| (v, NOMINAL)).collect();
        // What fails only at a corner: the load no longer hangs, or a leg that is slack as typed in
        // comes to carry, and stands too flat.
        let mut only_there: Vec<(Named, Corner)> = Vec::new();
        // Legs that come to hang slack, which another corner with a greater share does not undo.
        let mut slack: Vec<(Named, Corner)> = Vec::new();
        let set = |v: &&Verdict| v.question == Question::SlingSet;
        let mut heaviest = verdicts.iter().find(set).cloned();
        for corner in corners {
            for (nth, mut verdict) in named(self.at(&corner)) {
                if verdict.grade == Grade::Warn && hangs_slack(&verdict) {
                    let here = (nth, verdict.clone());
                    if !self.slack_counts(&corner) {
                        verdict.grade = grade_of_share(&verdict);
                    } else if !slack.iter().any(|(v, _)| same(v, &here)) {
                        slack.push((here, corner));
                    }
                }
                // Millimetres of length move pulls between four stiff legs at will; that is what the
                // carrying assumption is for, and a ratio of pulls there says nothing.
                let many = self.rig.present().count() > 3;
                let by_lengths = corner.stiff || corner.lengths != NOMINAL.lengths;
                let assumed = self.rig.carrying != Carrying::All;
                if verdict.question == Question::TensionRatio && many && by_lengths && assumed {
                    continue;
                }
                if let Some(most) = &mut heaviest
                    && set(&&verdict)
                    && weight(&verdict) > weight(most) + 1e-6
                {
                    *most = verdict.clone();
                }
                let here = (nth, verdict);
                match worst.iter_mut().find(|(v, _)| same(v, &here)) {
                    // What next to no stretch moves by a hair is told only where it decides.
                    Some(slot) if corner.stiff && here.1.grade <= slot.0.1.grade => {}
                    Some(slot) if worse(&here.1, &slot.0.1) => *slot = (here, corner),
                    Some(_) => {}
                    None if here.1.grade == Grade::Fail => {
                        match only_there.iter_mut().find(|(v, _)| same(v, &here)) {
                            Some(slot) if worse(&here.1, &slot.0.1) => *slot = (here, corner),
                            Some(_) => {}
                            None => only_there.push((here, corner)),
                        }
                    }
                    None => {}
                }
            }
        }
        for ((verdict, at), ((nth, found), corner)) in
            verdicts.iter_mut().zip(&mut at_corner).zip(worst)
        {
            if corner == NOMINAL {
                continue;
            }
            *at = corner;
            let input = self.decider(&(nth, found.clone()), &corner);
            // Measured in another way there: two legs carry, where all did as typed in.
            if found.question == Question::Hangs && found.rule != verdict.rule {
                *verdict = Verdict {
                    note: format!("at worst by the {}: {}", input.name(), found.note),
                    decided_by: Some(input.name().to_owned()),
                    ..found
                };
                continue;
            }
            // What is said of the number as typed in would pass for what decides.
            match found.question {
                _ if found.note == verdict.note || found.note.is_empty() => {}
                Question::Tilt => {
                    verdict.note = format!("{} as typed in, at worst {}", verdict.note, found.note);
                }
                Question::Hangs => {
                    verdict.limit = found.limit;
                    verdict.note = format!("at worst by the {}: {}", input.name(), found.note);
                }
                Question::Leg | Question::TensionRatio => {}
                _ if found.grade > verdict.grade => verdict.note.clone_from(&found.note),
                _ => {}
            }
            if verdict.carrying.is_none() && found.carrying.is_some() {
                verdict.carrying = found.carrying;
                verdict.rule.clone_from(&found.rule);
            }
            // A set is worse where a leg of it carries nothing, which is not where it holds most.
            let heavier = heaviest
                .as_ref()
                .filter(|most| set(&&found) && weight(most) > weight(&found));
            let number = heavier.unwrap_or(&found);
            let (value, share_percent) = (number.value, number.share_percent);
            if value != verdict.value {
                verdict.worst = value;
            }
            verdict.share_percent = share_percent;
            verdict.grade = verdict.grade.max(found.grade);
            verdict.decided_by = Some(input.name().to_owned());
            if found.question == Question::TensionRatio {
                verdict.note.clone_from(&found.note);
            }
            if found.value.is_none() {
                verdict.note = format!("at worst by the {}: {}", input.name(), found.note);
            }
        }
        for (here, corner) in slack {
            let input = self.decider_of_slack(&here, &corner);
            let known = named(verdicts.clone()).position(|v| same(&v, &here));
            if let Some(verdict) = known.map(|at| &mut verdicts[at])
                && verdict.passes()
                && !hangs_slack(verdict)
            {
                verdict.grade = Grade::Warn;
                verdict.note = format!("at worst by the {}: {}", input.name(), here.1.note);
            }
        }
        let skipped = self.rig.carrying != Carrying::All && self.rig.present().count() > 3;
        if skipped && self.rig.plus_minus.leg_length_m > 0.0 {
            let ratio = |v: &&mut Verdict| v.question == Question::TensionRatio;
            for verdict in verdicts.iter_mut().filter(ratio) {
                verdict.rule += ", leg lengths as typed in";
            }
        }
        for (fault, corner) in only_there {
            let input = self.decider(&fault, &corner);
            let (_, fault) = fault;
            at_corner.push(corner);
            let what = match fault.note.as_str() {
                "" => String::new(),
                note => format!(": {note}"),
            };
            verdicts.push(Verdict {
                note: format!("at worst by the {}{what}", input.name()),
                decided_by: Some(input.name().to_owned()),
                ..fault
            });
        }
        (verdicts, at_corner)
    }

    fn at(&self, corner: &Corner) -> Vec<Verdict> {
        let masses = self.masses.off_by(corner.mass);
        let (rig, hang) = corner.hang(self.rig);
        let case = Case {
            plan: self.plan,
            masses,
            rig: &rig,
            hang: &hang,
            allowable: self.allowable,
        };
        case.verdicts()
    }

    /// Whether a leg that is slack at a corner is worth a look. By millimetres of length, or without stretch, one of four
    /// always is; that is what the carrying assumption is for.
    fn slack_counts(&self, corner: &Corner) -> bool {
        let typed_in = corner.lengths == NOMINAL.lengths && !corner.stiff;
        typed_in || self.rig.carrying == Carrying::All
    }

    /// The input without which a leg that is slack at a corner is taut.
    fn decider_of_slack(&self, slack: &Named, corner: &Corner) -> Input {
        let taut = |input: &Input| {
            let there = named(self.at(&corner.without(*input))).find(|v| same(v, slack));
            !there.is_some_and(|(_, v)| hangs_slack(&v))
        };
        let mut moved = INPUTS.into_iter().filter(|i| corner.without(*i) != *corner);
        moved.find(taut).unwrap_or(Input::Lengths)
    }

    /// The input that relieves the verdict most when it goes back to its typed-in value.
    fn decider(&self, worst: &Named, corner: &Corner) -> Input {
        let mut least = (f64::INFINITY, Input::Mass);
        for input in INPUTS {
            let relieved = corner.without(input);
            if relieved == *corner {
                continue;
            }
            let left = named(self.at(&relieved))
                .find(|v| same(v, worst))
                .map_or(0.0, |(_, v)| weight(&v));
            if left < least.0 {
                least = (left, input);
            }
        }
        least.1
    }
}

/// Whether it is that of a leg that hangs slack.
fn hangs_slack(verdict: &Verdict) -> bool {
    verdict.question == Question::Leg && verdict.note.starts_with(HANGS_SLACK)
}

/// What a share alone makes of a leg within its rating.
fn grade_of_share(verdict: &Verdict) -> Grade {
    if verdict.share_percent.is_some_and(|s| s > NEAR_PERCENT) {
        Grade::Warn
    } else {
        Grade::Pass
    }
}

/// A verdict, and how many before it in its list ask the same of a thing of the same name.
type Named = (usize, Verdict);

fn named(verdicts: Vec<Verdict>) -> impl Iterator<Item = Named> {
    let mut before: Vec<(Question, String)> = Vec::new();
    verdicts.into_iter().map(move |verdict| {
        let name = (verdict.question, verdict.subject.clone());
        let nth = before.iter().filter(|n| **n == name).count();
        before.push(name);
        (nth, verdict)
    })
}

/// Whether two verdicts answer one question of one subject.
fn same(a: &Named, b: &Named) -> bool {
    a.0 == b.0 && a.1.question == b.1.question && a.1.subject == b.1.subject
}

/// Whether a verdict is worse: by its grade, then by its share of the limit. A leg that slackens is no worse than one that
/// pulls hard; it is kept beside it.
fn worse(a: &Verdict, b: &Verdict) -> bool {
    if a.question != Question::Leg && a.grade != b.grade {
        return a.grade > b.grade;
    }
    weight(a) > weight(b) + 1e-6
}

/// How bad a verdict is: its share of the limit, and a failure without a number above all.
fn weight(verdict: &Verdict) -> f64 {
    match (verdict.share_percent, verdict.grade) {
        (Some(share), _) => share,
        (None, Grade::Fail) => f64::MAX,
        (None, Grade::Warn) => 1.0,
        (None, Grade::Pass) => 0.0,
    }
}
