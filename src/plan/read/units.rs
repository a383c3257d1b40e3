//! Units that slipped in among others: read as they stand, and told as warnings.

use super::reader::Findings;
use crate::plan::{
    Container, Leg, Lift, Load, Measured, Quantity, SiteAltitude, SlingSet, Spreader, TableGives,
    unit_word,
};
use std::ops::Range;
use uom::si::f64::Mass;

/// Whether a quantity was typed in units of feet and pounds.
fn in_feet_and_pounds<T: Measured>(quantity: &Quantity<T>) -> bool {
    matches!(
        unit_word(&quantity.text),
        "lb" | "lbs" | "lbf" | "ft" | "in"
    )
}

/// A load whose mass is in pounds beside ratings and limits in kilograms, tonnes and newtons alone, or the other way.
pub(super) fn masses(
    r: &mut Findings,
    load: &Load,
    (set, spreader): (&SlingSet, Option<&Spreader>),
    lift: &Lift,
    container: Option<&Container>,
) {
    let legs = set.legs.iter().map(|leg: &Leg| &leg.rating);
    let apex = set.apex.iter().filter_map(|a| a.rating.as_ref());
    let rigging = lift.rigging.iter().filter_map(|g| g.rating.as_ref());
    let provisions = load
        .provisions
        .iter()
        .chain(spreader.iter().flat_map(|s| &s.provisions));
    let provisions = provisions.filter_map(|p| p.rating.as_ref());
    let spreader = spreader.iter().map(|s| &s.rating);
    let container = container.iter().map(|c| &c.limit);
    let allowable = lift.allowable.iter().map(|a| &a.mass);
    let table = lift.table.iter().flat_map(|t| t.cells.iter().flatten());
    let gross = lift.table.iter().filter_map(|t| match &t.gives {
        TableGives::GrossMass { max, .. } => max.as_ref(),
        TableGives::HookLoad => None,
    });
    let mut limits: Vec<&Quantity<Mass>> = vec![&set.rated_capacity];
    limits.extend(legs.chain(apex).chain(rigging).chain(provisions));
    limits.extend(spreader.chain(container).chain(&lift.hook_limit));
    limits.extend(allowable.chain(table).chain(gross));
    let own = in_feet_and_pounds(&load.mass);
    if limits.iter().any(|limit| in_feet_and_pounds(limit) == own) {
        return;
    }
    r.warning(
        &load.mass.span,
        format!(
            "the mass of the load is in {}, and no rating or limit is ({})",
            unit_word(&load.mass.text),
            set.rated_capacity.text
        ),
        "another unit than all the others",
        "check its unit; a pound is less than half a kilogram",
    )
    .bears_on_figures();
}

/// A site whose elevation or pressure altitude is in feet beside those of the others in metres, or the other way.
pub(super) fn sites(r: &mut Findings, lift: &Lift) {
    for (what, elevations) in [("elevation", true), ("pressure altitude", false)] {
        let of_kind = |altitude: &SiteAltitude| -> Option<(bool, String, Range<usize>)> {
            let height = match altitude {
                SiteAltitude::Elevation { elevation, .. } if elevations => elevation,
                SiteAltitude::Pressure(altitude) if !elevations => altitude,
                _ => return None,
            };
            let unit = unit_word(&height.text).to_owned();
            Some((in_feet_and_pounds(height), unit, height.span.clone()))
        };
        let all = || lift.sites.iter();
        let kinds: Vec<_> = all()
            .filter_map(|s| Some((s, of_kind(&s.altitude)?)))
            .collect();
        let feet = kinds.iter().filter(|(_, (feet, ..))| *feet).count();
        // Of two it is the later one that is pointed at.
        let few_in_feet = 2 * feet < kinds.len()
            || (2 * feet == kinds.len() && kinds.first().is_some_and(|(_, (feet, ..))| !feet));
        if feet == 0 || feet == kinds.len() {
            continue;
        }
        for (site, (_, unit, span)) in kinds.iter().filter(|(_, (f, ..))| *f == few_in_feet) {
            r.warning(
                span,
                format!(
                    "the {what} of site {} is in {unit}, that of the others is not",
                    site.name
                ),
                "another unit than the others",
                "check its unit; a foot is less than a third of a metre",
            )
            .bears_on_figures();
        }
    }
}
