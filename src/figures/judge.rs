//! The questions about a lift, asked of one set of numbers.

use super::allowable::{AllowableError, AllowableToday};
use super::error::RigError;
use super::from_plan::{Masses, kg};
use super::hang::Hang;
use super::rig::{Leg, Rig, carrying_words};
use super::verdict::{Grade, Quantity, Question, Verdict};
use crate::plan::{LiftedBy, LoadKind, Plan, STANDARD_GRAVITY};

/// One set of numbers to be judged.
pub(super) struct Case<'a> {
    /// Limits and names.
    pub plan: &'a Plan,
    /// Masses.
    pub masses: Masses,
    /// The rig.
    pub rig: &'a Rig,
    /// How it hangs.
    pub hang: &'a Result<Hang, RigError>,
    /// What may hang on the hook.
    pub allowable: &'a Result<AllowableToday, AllowableError>,
}

/// Share of a rating from which a leg is worth a second look, percent. Common practice, no source.
const NEAR_RATING_PERCENT: f64 = 80.0;

impl Case<'_> {
    /// Every question that applies, capacity first.
    pub fn verdicts(&self) -> Vec<Verdict> {
        let mut all = vec![self.aircraft()];
        all.extend(self.gear());
        match self.hang {
            Ok(hang) => {
                all.extend(self.legs(hang));
                all.push(self.hangs(hang));
                all.extend(self.angles(hang));
                all.extend(self.attitude(hang));
            }
            Err(error) => all.push(Verdict {
                note: error.to_string(),
                ..self.blank(Question::Hangs, "", Grade::Fail, "statics")
            }),
        }
        all.extend(self.counts());
        all
    }

    fn blank(&self, question: Question, subject: &str, grade: Grade, rule: &str) -> Verdict {
        Verdict {
            question,
            subject: subject.to_owned(),
            grade,
            value: None,
            limit: None,
            share_percent: None,
            worst: None,
            decided_by: None,
            rule: rule.to_owned(),
            note: String::new(),
            unit: self.rig.unit,
        }
    }

    /// A mass held against a limit.
    fn load(
        &self,
        question: Question,
        subject: &str,
        kg: f64,
        limit_kg: f64,
        rule: &str,
    ) -> Verdict {
        let grade = if kg <= limit_kg {
            Grade::Pass
        } else {
            Grade::Fail
        };
        Verdict {
            value: Some(Quantity::Kg(kg)),
            limit: Some(Quantity::Kg(limit_kg)),
            share_percent: Some(share(kg, limit_kg)),
            ..self.blank(question, subject, grade, rule)
        }
    }

    fn aircraft(&self) -> Verdict {
        let what = match self.plan.lift.by {
            LiftedBy::Helicopter => "aircraft",
            LiftedBy::Crane => "crane",
        };
        let gear_kg = self.masses.gear_kg();
        let total = self.masses.load_kg + gear_kg;
        match self.allowable {
            Ok(today) => Verdict {
                note: format!(
                    "{} allowed today by {}, {} left for the load after {} of rigging",
                    self.rig.unit.written(today.kg),
                    today.from,
                    self.rig.unit.written(today.kg - gear_kg),
                    self.rig.unit.written(gear_kg),
                ),
                ..self.load(
                    Question::Aircraft,
                    what,
                    total,
                    today.kg.max(0.0),
                    "load and all that attaches it, 14 CFR 133.41",
                )
            },
            Err(error) => Verdict {
                value: Some(Quantity::Kg(total)),
                note: error.to_string(),
                ..self.blank(Question::Aircraft, what, Grade::Fail, "flight manual")
            },
        }
    }

    /// Hook, rigging, container, spreader, sling set: plain sums.
    fn gear(&self) -> Vec<Verdict> {
        let plan = self.plan;
        let masses = self.masses;
        let total = masses.load_kg + masses.gear_kg();
        let mut all = Vec::new();
        if let Some(limit) = &plan.lift.hook_limit {
            all.push(self.load(
                Question::Hook,
                "cargo hook",
                total,
                kg(limit),
                "limit of the hook, load and rigging together",
            ));
        }
        for item in &plan.lift.rigging {
            if let Some(rating) = &item.rating {
                all.push(self.load(
                    Question::Rigging,
                    &item.name,
                    total,
                    kg(rating),
                    "its tag, load and all rigging together",
                ));
            }
        }
        if let Some(apex) = &plan.sling_set.apex
            && let Some(rating) = &apex.rating
        {
            all.push(self.load(
                Question::Rigging,
                &apex.name,
                masses.under_legs_kg() + masses.set_kg,
                kg(rating),
                "its tag, load and sling set together",
            ));
        }
        if let Some(container) = &plan.container {
            all.push(self.load(
                Question::Container,
                &container.name,
                masses.load_kg,
                kg(&container.limit),
                "its limit for what is put into it",
            ));
        }
        if let Some(spreader) = &plan.spreader {
            all.push(self.load(
                Question::Spreader,
                &spreader.name,
                masses.load_kg + masses.container_kg,
                kg(&spreader.rating),
                "its tag, all that hangs below it",
            ));
        }
        all.push(self.load(
            Question::SlingSet,
            "sling set",
            masses.under_legs_kg(),
            kg(&plan.sling_set.rated_capacity),
            "rated capacity on the set's tag",
        ));
        all
    }

    fn legs(&self, hang: &Hang) -> Vec<Verdict> {
        let rig = self.rig;
        let mass = |n: f64| n / STANDARD_GRAVITY;
        let rule = if hang.determinate {
            "maker's tag, pull by statics alone".to_owned()
        } else {
            format!("maker's tag, {}", carrying_words(rig.carrying))
        };
        let mut verdicts = Vec::new();
        for (at, leg) in rig.present() {
            let hung = &hang.legs[at];
            let pull_kg = mass(hung.carried_n(rig.carrying));
            let mut verdict = self.load(
                Question::Leg,
                &format!("{} leg", leg.name),
                pull_kg,
                leg.rating_kg,
                &rule,
            );
            let unit = rig.unit;
            if !hang.determinate {
                verdict.note = format!(
                    "two legs carrying {}, three {}, by stiffness {}",
                    unit.written(mass(hung.two_n)),
                    unit.written(mass(hung.three_n)),
                    unit.written(mass(hung.all_n)),
                );
            }
            if hung.slack {
                verdict.note = format!("hangs slack by {:.0} mm", hung.slack_m * 1000.0);
            }
            warn_near(&mut verdict, hung.slack);
            verdicts.push(verdict);
            if let Some(rating_kg) = leg.provision_rating_kg {
                let mut verdict = self.load(
                    Question::Provision,
                    &format!("{} lifting provision", leg.name),
                    pull_kg,
                    rating_kg,
                    &rule.replace("maker's tag", "rating of the provision"),
                );
                warn_near(&mut verdict, false);
                verdicts.push(verdict);
            }
        }
        verdicts
    }

    /// Whether it hangs upright, and what a reader must know of how that was found.
    fn hangs(&self, hang: &Hang) -> Verdict {
        let mut notes = Vec::new();
        let taut = |l: &&super::hang::HungLeg| !l.slack && !l.missing;
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
            notes.push("a leg is missing");
        }
        let grade = if notes.is_empty() {
            Grade::Pass
        } else {
            Grade::Warn
        };
        if self.plan.load.kind == LoadKind::Net {
            notes.push("a net takes its shape from its legs; the pulls are those of a stiff load");
        }
        Verdict {
            note: notes.join("; "),
            ..self.blank(Question::Hangs, "the load hangs upright", grade, "statics")
        }
    }

    fn angles(&self, hang: &Hang) -> Vec<Verdict> {
        let limits = self.rig.limits;
        let mut all = Vec::new();
        for (at, leg) in self.rig.present() {
            let hung = &hang.legs[at];
            if hung.slack {
                continue;
            }
            let angle = hung.angle_deg;
            let (grade, note) = if angle < limits.angle_refused_deg {
                (Grade::Fail, self.steeper(hang, leg))
            } else if angle < limits.angle_warned_deg {
                (Grade::Warn, self.steeper(hang, leg))
            } else {
                (Grade::Pass, String::new())
            };
            all.push(Verdict {
                value: Some(Quantity::Deg(angle)),
                limit: Some(Quantity::Deg(limits.angle_refused_deg)),
                share_percent: Some(share(limits.angle_refused_deg, angle.max(0.1))),
                note,
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

    /// What length would stand at 45° (the design length of MIL-STD-209K 5.1.2.a).
    fn steeper(&self, hang: &Hang, leg: &Leg) -> String {
        let [ax, ay, _] = hang.apex_m;
        let [px, py, _] = leg.provision_m;
        let level = ((ax - px) * (ax - px) + (ay - py) * (ay - py)).sqrt();
        format!("a leg of {:.2} m would stand at 45°", length_at_45_m(level))
    }

    fn attitude(&self, hang: &Hang) -> Vec<Verdict> {
        if self.plan.load.kind == LoadKind::Net {
            return Vec::new();
        }
        let limits = self.rig.limits;
        let grade = if hang.tilt_deg <= limits.tilt_deg {
            Grade::Pass
        } else {
            Grade::Fail
        };
        let rule = if self.plan.lift.max_tilt.is_some() {
            "limit set in the plan"
        } else {
            "levelness of MIL-STD-1365C 5.7.1.2"
        };
        let mut all = vec![Verdict {
            value: Some(Quantity::Deg(hang.tilt_deg)),
            limit: Some(Quantity::Deg(limits.tilt_deg)),
            share_percent: Some(share(hang.tilt_deg, limits.tilt_deg)),
            note: hang.lean(),
            ..self.blank(Question::Tilt, "", grade, rule)
        }];
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
                ..self.blank(
                    Question::TensionRatio,
                    &format!("{} leg over {} leg", hardest.name, least.name),
                    grade,
                    rule,
                )
            });
        }
        all
    }

    fn counts(&self) -> Vec<Verdict> {
        let legs = &self.rig.legs;
        let mut all = Vec::new();
        for (one, other) in self.rig.pairs() {
            let (one, other) = (&legs[one], &legs[other]);
            if one.missing || other.missing || one.pitch_m == 0.0 {
                continue;
            }
            let apart = f64::from(one.links.abs_diff(other.links));
            let planned = one.planned_links != other.planned_links;
            let (grade, note) = match (apart > 0.0, planned) {
                (false, _) => (Grade::Pass, String::new()),
                (true, true) => (Grade::Warn, "the plan wants them unequal".to_owned()),
                (true, false) => (
                    Grade::Fail,
                    format!("{} links and {} links", one.links, other.links),
                ),
            };
            all.push(Verdict {
                value: Some(Quantity::Links(apart)),
                limit: (!planned).then_some(Quantity::Links(0.0)),
                note,
                ..self.blank(
                    Question::Counts,
                    &format!("{} and {}", one.name, other.name),
                    grade,
                    "equal left and right",
                )
            });
        }
        all
    }
}

impl Rig {
    /// Pairs of legs that face each other across the load, each in the order left, right: exactly
    /// two legs at the same place along the load and at the same height, as places in `legs`.
    pub fn pairs(&self) -> Vec<(usize, usize)> {
        let same = |a: &Leg, b: &Leg| {
            let near = |axis: usize| (a.provision_m[axis] - b.provision_m[axis]).abs() < 0.05;
            near(0) && near(2) && (a.provision_m[1] - b.provision_m[1]).abs() > 0.05
        };
        let mut pairs = Vec::new();
        for (i, one) in self.legs.iter().enumerate() {
            let facing: Vec<usize> = (0..self.legs.len())
                .filter(|&j| j != i && same(one, &self.legs[j]))
                .collect();
            if let [j] = facing[..]
                && i < j
            {
                let left_first = one.provision_m[1] > self.legs[j].provision_m[1];
                pairs.push(if left_first { (i, j) } else { (j, i) });
            }
        }
        pairs
    }
}

/// Length of a leg that stands at 45° over a provision so far to the side of the apex, m: the design
/// length of MIL-STD-209K 5.1.2.a (which asks for 12 ft at least).
pub fn length_at_45_m(level_m: f64) -> f64 {
    level_m * std::f64::consts::SQRT_2
}

fn warn_near(verdict: &mut Verdict, slack: bool) {
    let near = verdict
        .share_percent
        .is_some_and(|s| s > NEAR_RATING_PERCENT);
    if verdict.grade == Grade::Pass && (near || slack) {
        verdict.grade = Grade::Warn;
    }
}

/// Percent of a limit.
pub(super) fn share(value: f64, limit: f64) -> f64 {
    if limit > 0.0 {
        value / limit * 100.0
    } else {
        f64::MAX
    }
}
