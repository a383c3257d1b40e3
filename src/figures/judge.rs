//! The questions about a lift, asked of one set of numbers.

use super::allowable::{AllowableError, AllowableToday};
use super::drops::any_rated;
use super::error::RigError;
use super::from_plan::{Masses, least_kg};
use super::hang::Hang;
use super::plus_minus::{on_provision_kg, pull_kg};
use super::question::Question;
use super::rig::{Leg, Rig, carrying_words};
use super::verdict::{Bound, Grade, NEAR_PERCENT, Quantity, Verdict};
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

/// What the note of a leg that hangs slack begins with.
pub(super) const HANGS_SLACK: &str = "hangs slack";

/// What rounding may put a pull over its limit by, as a share of it: a gram in a tonne.
const HAIR: f64 = 1e-6;

/// Whether a pull or a mass is within its limit, of the same unit.
pub(super) fn within(number: f64, limit: f64) -> bool {
    number <= limit * (1.0 + HAIR)
}

impl Case<'_> {
    /// Every question that applies, capacity first.
    pub fn verdicts(&self) -> Vec<Verdict> {
        let mut all = vec![self.aircraft()];
        all.extend(self.gear(self.hang.as_ref().ok()));
        match self.hang {
            Ok(hang) => {
                all.extend(self.legs(hang));
                all.extend(self.below_spreader(hang));
                all.push(self.hangs(hang));
                all.extend(self.outside());
                all.extend(self.angles(hang));
                all.extend(self.attitude(hang));
            }
            Err(error) => all.push(Verdict {
                note: error.to_string(),
                no_share: Some("it does not hang, so there is nothing to measure"),
                ..self.blank(Question::Hangs, "", Grade::Fail, "statics")
            }),
        }
        all.extend(self.counts());
        all
    }

    pub(super) fn blank(
        &self,
        question: Question,
        subject: &str,
        grade: Grade,
        rule: &str,
    ) -> Verdict {
        blank(self.rig, question, subject, grade, rule)
    }

    /// A mass held against a limit.
    pub(super) fn load(
        &self,
        question: Question,
        subject: &str,
        kg: f64,
        limit_kg: f64,
        rule: &str,
    ) -> Verdict {
        let grade = if within(kg, limit_kg) {
            Grade::Pass
        } else {
            Grade::Fail
        };
        Verdict {
            value: Some(Quantity::Kg(kg)),
            limit: Some(Quantity::Kg(limit_kg)),
            share_percent: (limit_kg > 0.0).then(|| share(kg, limit_kg)),
            no_share: (limit_kg <= 0.0).then_some("the limit leaves nothing"),
            ..self.blank(question, subject, grade, rule)
        }
    }

    /// What cannot be asked because the plan gives no limit for it.
    pub(super) fn not_asked(&self, question: Question, subject: &str, what: &str) -> Verdict {
        Verdict {
            no_share: Some("no limit is given"),
            note: format!("not asked, the plan gives no {what}"),
            ..self.blank(
                question,
                subject,
                Grade::Warn,
                "a limit must be given to be asked",
            )
        }
    }

    fn aircraft(&self) -> Verdict {
        let (what, rule, chart) = match self.plan.lift.by {
            LiftedBy::Helicopter => (
                "aircraft",
                "load and all that attaches it, 14 CFR 133.41",
                "flight manual",
            ),
            LiftedBy::Crane => ("crane", "load and all that hangs on its hook", "load chart"),
        };
        let gear_kg = self.masses.gear_kg();
        let total = self.masses.load_kg + gear_kg;
        match self.allowable {
            Ok(today) => {
                let hook_kg = self.plan.lift.hook_limit.as_ref().map(least_kg);
                let (most_kg, by) = match hook_kg {
                    Some(hook_kg) if hook_kg < today.kg => (hook_kg, ", by the hook's limit"),
                    _ => (today.kg, ""),
                };
                Verdict {
                    note: format!(
                        "{} allowed today by {}, {} left for the load after {} of rigging{by}; mass of the load from {}",
                        self.rig.unit.written(today.kg),
                        today.from,
                        self.rig.unit.written(most_kg - gear_kg),
                        self.rig.unit.written(gear_kg),
                        self.plan.load.mass_from,
                    ),
                    mass_from: Some(self.plan.load.mass_from.clone()),
                    ..self.load(Question::Aircraft, what, total, today.kg.max(0.0), rule)
                }
            }
            Err(error) => Verdict {
                value: Some(Quantity::Kg(total)),
                note: error.to_string(),
                no_share: Some("without an allowable load there is no limit"),
                ..self.blank(Question::Aircraft, what, Grade::Fail, chart)
            },
        }
    }

    /// Hook, rigging, container, spreader, sling set: plain sums.
    fn gear(&self, hang: Option<&Hang>) -> Vec<Verdict> {
        let plan = self.plan;
        let hook = match plan.lift.by {
            LiftedBy::Helicopter => "cargo hook",
            LiftedBy::Crane => "crane's hook",
        };
        let masses = self.masses;
        let total = masses.load_kg + masses.gear_kg();
        let pulled = |kg: f64| kg * self.rig.dynamic_factor;
        let keeps = self.rig.present().map(|(_, leg)| leg.hitch_keeps);
        let keeps = keeps.fold(1.0, f64::min);
        let mut all = Vec::new();
        if let Some(limit) = &plan.lift.hook_limit {
            all.push(self.load(
                Question::Hook,
                hook,
                total,
                least_kg(limit),
                "limit of the hook, load and rigging together",
            ));
        } else {
            all.push(self.not_asked(Question::Hook, hook, "limit for it"));
        }
        for item in &plan.lift.rigging {
            if let Some(rating) = &item.rating {
                all.push(self.moved(self.load(
                    Question::Rigging,
                    &item.name,
                    pulled(total),
                    least_kg(rating),
                    "its tag, load and all rigging together",
                )));
            } else {
                all.push(self.not_asked(Question::Rigging, &item.name, "rating for it"));
            }
        }
        if let Some(apex) = &plan.sling_set.apex {
            all.push(match &apex.rating {
                Some(rating) => self.moved(self.load(
                    Question::Rigging,
                    &apex.name,
                    pulled(masses.under_legs_kg() + masses.set_kg),
                    least_kg(rating),
                    "its tag, load and sling set together",
                )),
                None => self.not_asked(Question::Rigging, &apex.name, "rating for it"),
            });
        } else if plan.sling_set.legs.len() > 1 {
            all.push(self.not_asked(Question::Rigging, "apex", "apex"));
        }
        if let Some(container) = &plan.container {
            all.push(self.load(
                Question::Container,
                &container.name,
                masses.load_kg,
                least_kg(&container.limit),
                "its limit for what is put into it",
            ));
        } else if plan.load.kind == LoadKind::Net {
            all.push(self.not_asked(Question::Container, "net", "limit for what is put into it"));
        }
        if let Some(spreader) = &plan.spreader {
            all.push(self.moved(self.load(
                Question::Spreader,
                &spreader.name,
                pulled(masses.load_kg + masses.container_kg),
                least_kg(&spreader.rating),
                "its tag, all that hangs below it",
            )));
            // The plan has no place for the drops; the load's provisions may be rated.
            let unrated = match any_rated(plan) {
                true => "the drops below the spreader",
                false => "what hangs below the spreader",
            };
            all.push(Verdict {
                note: "not asked, a plan has no ratings for it".to_owned(),
                ..self.not_asked(Question::Spreader, unrated, "")
            });
        }
        let set = self.load(
            Question::SlingSet,
            "sling set",
            pulled(masses.under_legs_kg()),
            least_kg(&plan.sling_set.rated_capacity) * keeps,
            "rated capacity on the set's tag",
        );
        let mut set = self.moved(choked(set, keeps));
        // A tag rates a set with all its legs, and one that hangs slack by more than lengths are known to is none.
        let idle = self.idle(hang);
        if idle > 0 {
            set.grade = Grade::Fail;
            set.note = match self.rig.legs.len() {
                1 => "its only leg carries nothing".to_owned(),
                legs => format!(
                    "the tag is for all {legs} legs, {idle} of them {} nothing",
                    if idle == 1 { "carries" } else { "carry" }
                ),
            };
        }
        all.push(set);
        all
    }

    /// How many legs carry nothing: not there, or slack by more than lengths are known to.
    fn idle(&self, hang: Option<&Hang>) -> usize {
        let missing = self.rig.legs.len() - self.rig.present().count();
        let slack = hang.map_or(0, |hang| {
            let idle = |hung: &&super::hang::HungLeg| !hung.missing && hung.slack && !hung.near;
            hang.legs.iter().filter(idle).count()
        });
        missing + slack
    }

    /// Says of a verdict whose number has the lift's dynamic factor in it that it does, where there is one.
    pub(super) fn moved(&self, mut verdict: Verdict) -> Verdict {
        let factor = self.rig.dynamic_factor;
        if factor != 1.0 {
            verdict.rule += &format!(", times {factor} as the lift moves");
            verdict.dynamic_factor = Some(factor);
        }
        verdict
    }

    fn legs(&self, hang: &Hang) -> Vec<Verdict> {
        let rig = self.rig;
        let mass = |n: f64| n / STANDARD_GRAVITY * rig.dynamic_factor;
        let carrying = (!hang.determinate).then(|| carrying_words(rig.carrying));
        let rule = format!(
            "maker's tag, {}",
            carrying.unwrap_or("pull by statics alone")
        );
        let mut verdicts = Vec::new();
        for (at, leg) in rig.present() {
            let hung = &hang.legs[at];
            let pull_kg = pull_kg(rig, hung);
            let verdict = self.load(
                Question::Leg,
                &format!("{} leg", leg.name),
                pull_kg,
                leg.holds_kg(),
                &rule,
            );
            let mut verdict = self.moved(choked(verdict, leg.hitch_keeps));
            let unit = rig.unit;
            verdict.carrying = carrying;
            if !hang.determinate {
                verdict.note = format!(
                    "as typed in, two legs carrying {}, three {}, by stiffness {}",
                    unit.written(mass(hung.two_n)),
                    unit.written(mass(hung.three_n)),
                    unit.written(mass(hung.all_n)),
                );
            }
            if hung.slack {
                verdict.note = format!("{HANGS_SLACK} by {}", rig.length_unit.small(hung.slack_m));
            }
            warn_near(&mut verdict, hung.slack);
            verdicts.push(verdict);
            if let Some(rating_kg) = leg.provision_rating_kg {
                let mut verdict = self.moved(self.load(
                    Question::Provision,
                    &format!("{} lifting provision", leg.name),
                    on_provision_kg(rig, hung),
                    rating_kg,
                    &rule.replace("maker's tag", "rating of the provision"),
                ));
                let same_place = |other: &Leg| other.provision_m == leg.provision_m;
                let sharing = rig.present().filter(|(_, other)| same_place(other)).count();
                verdict.carrying = carrying;
                if sharing > 1 {
                    verdict.note = format!("{sharing} legs pull at it together");
                }
                warn_near(&mut verdict, false);
                verdicts.push(verdict);
            }
        }
        let unrated: Vec<&str> = rig
            .present()
            .filter(|(_, leg)| leg.provision_rating_kg.is_none())
            .map(|(_, leg)| leg.name.as_str())
            .collect();
        if !unrated.is_empty() {
            let what = format!("rating for {}", unrated.join(", "));
            verdicts.push(self.not_asked(Question::Provision, "lifting provisions", &what));
        }
        verdicts
    }
}

/// A verdict with nothing measured yet.
pub(super) fn blank(
    rig: &Rig,
    question: Question,
    subject: &str,
    grade: Grade,
    rule: &str,
) -> Verdict {
    Verdict {
        question,
        subject: subject.to_owned(),
        grade,
        value: None,
        limit: None,
        limit_is: Bound::Most,
        share_percent: None,
        no_share: None,
        worst: None,
        decided_by: None,
        carrying: None,
        dynamic_factor: None,
        hitch_keeps: None,
        mass_from: None,
        rule: rule.to_owned(),
        note: String::new(),
        unit: rig.unit,
        length_unit: rig.length_unit,
    }
}

/// A number that is used as it was typed in, without digits that it does not have.
pub(crate) fn exact(number: f64) -> String {
    let text = format!("{number:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Says of a verdict whose limit is what a choker hitch leaves of a rating that it is, where there is one.
fn choked(mut verdict: Verdict, keeps: f64) -> Verdict {
    if keeps < 1.0 {
        verdict.rule += &format!(", {} % of it left by the choker", exact(keeps * 100.0));
        verdict.hitch_keeps = Some(keeps);
    }
    verdict
}

pub(super) fn warn_near(verdict: &mut Verdict, slack: bool) {
    let near = verdict.share_percent.is_some_and(|s| s > NEAR_PERCENT);
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
