//! Where in a plan the fault lies that keeps it from having figures.

use super::allowable::{AllowableError, allowable_today};
use super::error::RigError;
use super::from_plan::leg_name;
use super::hang::hang;
use super::rig::Rig;
use crate::diagnostic::{Finding, Severity};
use crate::plan::Plan;
use std::ops::Range;

/// What keeps a plan from having figures, each at its place in the plan's text: legs that cannot
/// meet, a load that turns over (errors), a site outside its table (a warning, as weather changes).
/// Empty where all is well.
pub fn findings(plan: &Plan) -> Vec<Finding> {
    let mut found = Vec::new();
    if let Err(error) = hang(&Rig::from_plan(plan)) {
        let span = rig_span(plan, &error);
        found.push(finding(Severity::Error, &error.to_string(), span));
    }
    if let Err(error) = allowable_today(&plan.lift) {
        let span = match &error {
            AllowableError::Altitude { site, .. } | AllowableError::Temperature { site, .. } => {
                let site = plan.lift.sites.iter().find(|s| &s.name == site);
                site.map_or(&plan.lift.span, |s| &s.span)
            }
            AllowableError::NotGiven => &plan.lift.span,
        };
        found.push(finding(Severity::Warning, &error.to_string(), span.clone()));
    }
    found
}

fn rig_span(plan: &Plan, error: &RigError) -> Range<usize> {
    let leg = |name: &str| {
        let legs = &plan.sling_set.legs;
        legs.iter()
            .find(|l| leg_name(plan, l) == name)
            .map_or_else(|| plan.sling_set.span.clone(), |l| l.span.clone())
    };
    match error {
        RigError::PairCannotReach { one, .. } => leg(one),
        RigError::InLine { .. } => plan
            .sling_set
            .legs
            .first()
            .and_then(|l| plan.provision(&l.provision))
            .map_or_else(|| plan.load.span.clone(), |p| p.span.clone()),
        RigError::Stretch { leg: name, .. }
        | RigError::NoLength { leg: name, .. }
        | RigError::CountBeyond { leg: name, .. }
        | RigError::FoundTwice { leg: name }
        | RigError::NoChain { leg: name } => leg(name),
        RigError::NoLegs
        | RigError::TooManyLegs { .. }
        | RigError::CannotReach { .. }
        | RigError::NoRest
        | RigError::NoSuchStation { .. }
        | RigError::SharedStation { .. } => plan.sling_set.span.clone(),
        RigError::Unsteady | RigError::TurnsOver { .. } => {
            plan.load.centre_of_gravity.up.span.clone()
        }
        RigError::Number { .. } | RigError::DropSlack => plan.load.span.clone(),
    }
}

/// Every message of figures ends in what to do, after its last semicolon.
fn finding(severity: Severity, message: &str, span: Range<usize>) -> Finding {
    let (title, help) = message.rsplit_once("; ").unwrap_or((message, ""));
    Finding {
        severity,
        title: title.to_owned(),
        span: Some(span),
        label: String::new(),
        help: help.to_owned(),
    }
}
