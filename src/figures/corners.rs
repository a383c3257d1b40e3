//! Verdicts at the worst of the inputs' plus and minus, and the input that decides them.
//!
//! Every corner is tried: the centre of gravity at both ends along each axis and each leg at both
//! ends of its length, and the leg lengths as typed in besides. The mass is taken at its plus and the
//! leg angles at their minus: all pulls grow with both.

use super::allowable::{AllowableError, AllowableToday};
use super::from_plan::Masses;
use super::hang::hang;
use super::judge::Case;
use super::rig::Rig;
use super::verdict::{Grade, Question, Verdict};
use crate::plan::Plan;

/// Inputs that carry a plus or minus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Input {
    Mass,
    Forward,
    Left,
    Up,
    Lengths,
    Angles,
}

const INPUTS: [Input; 6] = [
    Input::Mass,
    Input::Forward,
    Input::Left,
    Input::Up,
    Input::Lengths,
    Input::Angles,
];

impl Input {
    fn name(self) -> &'static str {
        match self {
            Input::Mass => "mass",
            Input::Forward => "centre of gravity forward",
            Input::Left => "centre of gravity to the side",
            Input::Up => "centre of gravity upward",
            Input::Lengths => "leg lengths",
            Input::Angles => "leg angles",
        }
    }
}

/// How far each input is off, in units of its plus or minus.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Corner {
    mass: f64,
    cg: [f64; 3],
    lengths: [f64; super::rig::LEGS_MAX],
    angles: f64,
}

const NOMINAL: Corner = Corner {
    mass: 0.0,
    cg: [0.0; 3],
    lengths: [0.0; super::rig::LEGS_MAX],
    angles: 0.0,
};

impl Corner {
    /// The same with one input back at its typed-in value.
    fn without(mut self, input: Input) -> Corner {
        match input {
            Input::Mass => self.mass = 0.0,
            Input::Forward => self.cg[0] = 0.0,
            Input::Left => self.cg[1] = 0.0,
            Input::Up => self.cg[2] = 0.0,
            Input::Lengths => self.lengths = NOMINAL.lengths,
            Input::Angles => self.angles = 0.0,
        }
        self
    }
}

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
        let mut verdicts = self.at(&NOMINAL);
        let corners = self.corners();
        if corners == [NOMINAL] {
            return verdicts;
        }
        let mut worst: Vec<(Verdict, Corner)> =
            verdicts.iter().map(|v| (v.clone(), NOMINAL)).collect();
        let mut falls: Option<(Verdict, Corner)> = None;
        for corner in corners {
            for verdict in self.at(&corner) {
                // Millimetres of length move pulls between four stiff legs at will; that is what the
                // carrying assumption is for, and a ratio of pulls there says nothing.
                let many = self.rig.present().count() > 3;
                if verdict.question == Question::TensionRatio
                    && many
                    && corner.lengths != NOMINAL.lengths
                {
                    continue;
                }
                match worst.iter_mut().find(|(v, _)| same(v, &verdict)) {
                    Some(slot) if worse(&verdict, &slot.0) => *slot = (verdict, corner),
                    Some(_) => {}
                    None if verdict.question == Question::Hangs => {
                        falls.get_or_insert((verdict, corner));
                    }
                    None => {}
                }
            }
        }
        for (verdict, (found, corner)) in verdicts.iter_mut().zip(worst) {
            if corner == NOMINAL {
                continue;
            }
            let input = self.decider(&found, &corner);
            if found.value != verdict.value {
                verdict.worst = found.value;
            }
            verdict.share_percent = found.share_percent;
            verdict.grade = verdict.grade.max(found.grade);
            verdict.decided_by = Some(input.name().to_owned());
            if found.question == Question::TensionRatio {
                verdict.note.clone_from(&found.note);
            }
            if found.value.is_none() {
                verdict.note = format!("at worst by the {}: {}", input.name(), found.note);
            }
        }
        if let Some((fall, corner)) = falls {
            let input = self.decider(&fall, &corner);
            verdicts.push(Verdict {
                note: format!("at worst by the {}: {}", input.name(), fall.note),
                decided_by: Some(input.name().to_owned()),
                ..fall
            });
        }
        verdicts
    }

    fn corners(&self) -> Vec<Corner> {
        let pm = self.rig.plus_minus;
        let mut corners = vec![Corner {
            mass: if pm.mass_kg > 0.0 { 1.0 } else { 0.0 },
            angles: if pm.angle_deg > 0.0 { -1.0 } else { 0.0 },
            ..NOMINAL
        }];
        for axis in (0..3).filter(|&axis| pm.cg_m[axis] > 0.0) {
            corners = split(&corners, |c| &mut c.cg[axis]);
        }
        if pm.leg_length_m > 0.0 {
            let typed_in = corners.clone();
            for (at, _) in self.rig.present() {
                corners = split(&corners, |c| &mut c.lengths[at]);
            }
            corners.extend(typed_in);
        }
        corners
    }

    fn at(&self, corner: &Corner) -> Vec<Verdict> {
        let pm = self.rig.plus_minus;
        let mut rig = self.rig.clone();
        let mut masses = self.masses;
        masses.load_kg += corner.mass * pm.mass_kg;
        rig.mass_kg = masses.under_legs_kg();
        for axis in 0..3 {
            rig.cg_m[axis] += corner.cg[axis] * pm.cg_m[axis];
        }
        for (leg, off) in rig.legs.iter_mut().zip(corner.lengths) {
            leg.full_length_m += off * pm.leg_length_m;
        }
        let mut hang = hang(&rig);
        if let Ok(hang) = &mut hang {
            hang.turn_legs_by(corner.angles * pm.angle_deg);
        }
        let case = Case {
            plan: self.plan,
            masses,
            rig: &rig,
            hang: &hang,
            allowable: self.allowable,
        };
        case.verdicts()
    }

    /// The input that relieves the verdict most when it goes back to its typed-in value.
    fn decider(&self, worst: &Verdict, corner: &Corner) -> Input {
        let mut least = (f64::INFINITY, Input::Mass);
        for input in INPUTS {
            let relieved = corner.without(input);
            if relieved == *corner {
                continue;
            }
            let left = self
                .at(&relieved)
                .into_iter()
                .find(|v| same(v, worst))
                .map_or(0.0, |v| weight(&v));
            if left < least.0 {
                least = (left, input);
            }
        }
        least.1
    }
}

/// Each corner twice, with one of its inputs at either end.
fn split(corners: &[Corner], input: impl Fn(&mut Corner) -> &mut f64) -> Vec<Corner> {
    let halves = corners.iter().flat_map(|corner| {
        [-1.0, 1.0].map(|sign| {
            let mut corner = *corner;
            *input(&mut corner) = sign;
            corner
        })
    });
    halves.collect()
}

/// Whether two verdicts answer one question of one subject.
fn same(a: &Verdict, b: &Verdict) -> bool {
    a.question == b.question && a.subject == b.subject
}

fn worse(a: &Verdict, b: &Verdict) -> bool {
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
