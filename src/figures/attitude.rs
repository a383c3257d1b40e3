//! The questions about how a load hangs: upright, angles, tilt, counts.

use super::below::Below;
use super::hang::Hang;
use super::judge::{Case, share};
use super::question::Question;
use super::rig::{HangLimits, Leg};
use super::verdict::{Bound, Grade, Quantity, Verdict};
use crate::plan::LoadKind;
use nalgebra::Vector3;

/// Share of the apex's height over the centre of gravity that lies over the provisions, from which a load on one or two
/// legs is worth a second look: a centimetre of what is not quite known can roll it over. Common practice, no source.
const NEAR_ROLLING_PERCENT: f64 = 97.0;

impl Case<'_> {
    /// Whether it hangs upright, and what a reader must know of how that was found.
    pub(super) fn hangs(&self, hang: &Hang) -> Verdict {
        let mut notes = Vec::new();
        let taut = |l: &&super::hang::HungLeg| !l.slack && !l.missing;
        let taut_legs = hang.legs.iter().filter(taut).count();
        let lowest = hang
            .legs
            .iter()
            .zip(&self.rig.legs)
            .filter(|(hung, _)| taut(hung))
            .map(|(_, leg)| leg.provision_m[2])
            .fold(f64::INFINITY, f64::min);
        if self.rig.cg_m[2] > lowest {
            notes.push(
                "the centre of gravity is above a lifting provision, so the load stays upright only \
                 while its legs are taut",
            );
        }
        if self.rig.legs.iter().any(|l| l.missing) {
            let there = |l: &&Leg| l.missing;
            let let_go = self.rig.legs.iter().filter(there).all(|l| l.let_go);
            notes.push(if let_go {
                "a leg hangs slack"
            } else {
                "a leg is missing"
            });
        }
        let (value, limit, share, rule) = self.standing_room(hang, taut_legs);
        if taut_legs <= 2 && share > NEAR_ROLLING_PERCENT {
            notes.push("it is near to rolling over");
        }
        let grade = if notes.is_empty() {
            Grade::Pass
        } else {
            Grade::Warn
        };
        if self.plan.load.kind == LoadKind::Net {
            notes.push("a net takes its shape from its legs; the pulls are those of a stiff load");
        }
        let unit = self.rig.length_unit;
        let apex = unit.written(limit);
        let raised = match self.rig.below {
            Some(Below::Drops(_)) => " (the load's raised by its drops)",
            _ => "",
        };
        let room = if taut_legs > 2 {
            let side = if value < 0.0 { "below" } else { "above" };
            let cg = unit.written(value.abs());
            format!(
                "the centre of gravity{raised} is {cg} {side} the lowest provision, the apex {apex} above it"
            )
        } else {
            let cg = unit.written(value);
            format!(
                "the apex is {cg} above the centre of gravity{raised} and {apex} above the provisions"
            )
        };
        Verdict {
            value: Some(Quantity::M(value)),
            limit: Some(Quantity::M(limit)),
            limit_is: if taut_legs > 2 {
                Bound::Most
            } else {
                Bound::Least
            },
            share_percent: Some(share),
            note: std::iter::once(room.as_str())
                .chain(notes)
                .collect::<Vec<_>>()
                .join("; "),
            ..self.blank(Question::Hangs, "the load hangs upright", grade, rule)
        }
    }

    /// How near the load is to turning over: number, limit, share in percent and rule.
    ///
    /// On three legs and more it turns over once the centre of gravity comes up to the apex: its
    /// height over the lowest provision against the apex's. On one or two it rolls over as soon as
    /// the centre of gravity is above the provisions, or above the line between them: the apex must be higher
    /// over it than over that.
    fn standing_room(&self, hang: &Hang, taut_legs: usize) -> (f64, f64, f64, &'static str) {
        let height = |p: [f64; 3]| -> f64 { p.iter().zip(hang.up).map(|(a, b)| a * b).sum() };
        let lowest = hang
            .legs
            .iter()
            .zip(&self.rig.legs)
            .filter(|(hung, _)| !hung.slack && !hung.missing)
            .map(|(_, leg)| height(leg.provision_m))
            .fold(f64::INFINITY, f64::min);
        let apex_m = height(hang.apex_m) - lowest;
        if taut_legs > 2 {
            let cg_m = height(self.rig.cg_m) - lowest;
            let rule = "statics: height of the centre of gravity over the lowest provision, against \
                        the apex's";
            (cg_m, apex_m, share(cg_m.max(0.0), apex_m), rule)
        } else {
            let over_m = height(hang.apex_m) - height(self.rig.cg_m);
            let rule = "statics: on one or two legs the apex is higher over the centre of gravity \
                        than over the provisions";
            let apex_m = self.over_axis_m(hang).unwrap_or(apex_m);
            (over_m, apex_m, share(apex_m, over_m), rule)
        }
    }

    /// Height of the apex over the line about which a load on two taut legs rolls, that between their
    /// provisions, m: where the plumb line below the apex comes nearest to it. `None` for one leg.
    fn over_axis_m(&self, hang: &Hang) -> Option<f64> {
        let taut = hang.legs.iter().zip(&self.rig.legs);
        let taut = taut.filter(|(hung, _)| !hung.slack && !hung.missing);
        let places: Vec<Vector3<f64>> = taut.map(|(_, leg)| leg.provision()).collect();
        let [one, other] = places[..] else {
            return None;
        };
        let along = (other - one).try_normalize(1e-6)?;
        let down = -Vector3::from(hang.up);
        let from_apex = one - Vector3::from(hang.apex_m);
        // Nearest points of two lines: what is left of the plumb line beside the axis.
        let beside = down - along * down.dot(&along);
        (beside.norm_squared() > 1e-9).then(|| from_apex.dot(&beside) / beside.norm_squared())
    }

    pub(super) fn angles(&self, hang: &Hang) -> Vec<Verdict> {
        let limits = self.rig.limits;
        let mut all = Vec::new();
        for (at, leg) in self.rig.present() {
            let hung = &hang.legs[at];
            if hung.slack {
                continue;
            }
            let angle = hung.angle_deg;
            let grade = if angle < limits.angle_refused_deg {
                Grade::Fail
            } else if angle < limits.angle_warned_deg {
                Grade::Warn
            } else {
                Grade::Pass
            };
            all.push(Verdict {
                value: Some(Quantity::Deg(angle)),
                limit: Some(Quantity::Deg(limits.angle_refused_deg)),
                limit_is: Bound::Least,
                share_percent: Some(share(limits.angle_refused_deg, angle.max(0.1))),
                ..self.blank(
                    Question::LegAngle,
                    &format!("{} leg", leg.name),
                    grade,
                    "not under 30° from the horizontal, OSHA guidance on safe sling use",
                )
            });
        }
        all
    }

    pub(super) fn attitude(&self, hang: &Hang) -> Vec<Verdict> {
        let limits = self.rig.limits;
        let is_net = self.plan.load.kind == LoadKind::Net;
        let is_set = self.plan.lift.max_tilt.is_some();
        let grade = if hang.tilt_deg <= limits.tilt_deg {
            // A plan may allow more than what counts as level, but not without a look.
            if is_net || hang.tilt_deg <= HangLimits::default().tilt_deg {
                Grade::Pass
            } else {
                Grade::Warn
            }
        } else if is_net && !is_set {
            // It takes its own shape, and no rule says how level; off centre it is all the same.
            Grade::Warn
        } else {
            Grade::Fail
        };
        let rule = if is_set {
            "limit set in the plan"
        } else {
            "levelness of MIL-STD-1365C 5.7.1.2"
        };
        let mut all = Vec::new();
        if let Some(Below::Unknown(why)) = &self.rig.below {
            all.push(self.below_unknown(why));
        }
        // Of one stiff body it is the least that the load leans by: over the limit is over it all the same.
        if hang.load_known || grade == Grade::Fail {
            all.push(Verdict {
                value: Some(Quantity::Deg(hang.tilt_deg)),
                limit: Some(Quantity::Deg(limits.tilt_deg)),
                share_percent: Some(share(hang.tilt_deg, limits.tilt_deg)),
                note: hang.lean(),
                ..self.blank(Question::Tilt, "", grade, rule)
            });
        }
        let idle = |l: &&super::hang::HungLeg| !l.missing && l.slack && !l.near;
        if let Some(idle) = hang.legs.iter().find(idle) {
            all.push(Verdict {
                no_share: Some("over nothing there is no ratio"),
                note: format!("{} leg hangs slack", idle.name),
                ..self.blank(
                    Question::TensionRatio,
                    "greatest over least pull",
                    Grade::Warn,
                    "common practice, pulls by stiffness",
                )
            });
            return all;
        }
        let taut = || hang.legs.iter().filter(|l| !l.slack && !l.missing);
        let hardest = taut().max_by(|a, b| a.tension_n.total_cmp(&b.tension_n));
        let least = taut().min_by(|a, b| a.tension_n.total_cmp(&b.tension_n));
        if let (Some(hardest), Some(least)) = (hardest, least)
            && hardest.name != least.name
        {
            let ratio = hardest.tension_n / least.tension_n;
            let grade = if ratio <= limits.tension_ratio {
                Grade::Pass
            } else {
                Grade::Warn
            };
            let rule = if self.plan.sling_set.max_tension_ratio.is_some() {
                "limit set in the plan, pulls by stiffness"
            } else {
                "common practice, pulls by stiffness"
            };
            all.push(Verdict {
                value: Some(Quantity::Ratio(ratio)),
                limit: Some(Quantity::Ratio(limits.tension_ratio)),
                share_percent: Some(share(ratio, limits.tension_ratio)),
                note: format!("{} leg over {} leg", hardest.name, least.name),
                ..self.blank(
                    Question::TensionRatio,
                    "greatest over least pull",
                    grade,
                    rule,
                )
            });
        }
        all
    }

    /// That a plan leaves open how the load hangs below its spreader.
    fn below_unknown(&self, why: &str) -> Verdict {
        Verdict {
            no_share: Some("it is not worked out"),
            note: format!("not worked out, {why}"),
            ..self.blank(
                Question::Tilt,
                "how it hangs below the spreader",
                Grade::Warn,
                "it leans more than load and spreader would as one, and the legs pull otherwise",
            )
        }
    }

    pub(super) fn counts(&self) -> Vec<Verdict> {
        let legs = &self.rig.legs;
        let mut all = Vec::new();
        for (one, other) in self.rig.pairs() {
            let (one, other) = (&legs[one], &legs[other]);
            if one.missing || other.missing || one.pitch_m == 0.0 {
                continue;
            }
            let over = |one: u32, other: u32| f64::from(one) - f64::from(other);
            let apart = over(one.links, other.links);
            let planned = over(one.planned_links, other.planned_links);
            let (grade, note) = if apart != planned {
                let mut note = format!("link {} and link {}", one.links, other.links);
                if planned != 0.0 {
                    note += &format!(
                        "; the plan wants {} and {}",
                        one.planned_links, other.planned_links
                    );
                }
                (Grade::Fail, note)
            } else if planned != 0.0 {
                (Grade::Warn, "the plan wants them unequal".to_owned())
            } else {
                (Grade::Pass, format!("link {} at both", one.links))
            };
            let (apart, planned) = (apart.abs(), planned.abs());
            all.push(Verdict {
                value: Some(Quantity::Links(apart)),
                limit: Some(Quantity::Links(planned)),
                no_share: Some(if planned == 0.0 {
                    "the limit is no difference at all"
                } else {
                    "the difference is to be just that"
                }),
                note,
                ..self.blank(
                    Question::Counts,
                    &format!("{} and {}", one.name, other.name),
                    grade,
                    if planned > 0.0 {
                        "difference left to right as planned"
                    } else {
                        "equal left and right"
                    },
                )
            });
        }
        all
    }
}
