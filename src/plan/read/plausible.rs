//! Slips of size and place that make a sound plan of a load that cannot be: told as warnings.

use super::reader::Findings;
use crate::plan::{
    Container, Leg, Lift, LiftedBy, Load, LoadKind, Provision, Quantity, SlingSet, Spreader,
    TableGives,
};
use std::ops::RangeInclusive;
use uom::si::f64::Mass;

/// Least and greatest mass of a cubic metre of the load's outer size, kg: lighter than any packing, or denser than any
/// metal (osmium has 22,600). Common practice, no source.
const DENSITY_KG_M3: RangeInclusive<f64> = 1.0..=25_000.0;
/// Provisions may stand out by so much of the load's size.
const STAND_OUT: f64 = 1.1;
/// Nearer than this two provisions are one, m.
const ONE_POINT_M: f64 = 0.001;
/// Tags are rounded between kilograms and pounds.
const ROUNDING: f64 = 1.01;
/// No chain of a sling has shorter links, m. Common practice, no source.
const PITCH_M: f64 = 0.008;
/// A spreader is no deeper than this between its legs and its drops, m. Common practice, no source.
const DEPTH_M: f64 = 0.5;
/// A leg rated at more times the load's mass is a slip of the unit. Common practice, no source.
const RATING_TIMES: f64 = 200.0;

/// Looks over what was read.
pub(super) fn look(r: &mut Findings, load: &Load, set: &SlingSet, spreader: Option<&Spreader>) {
    density(r, load);
    places(r, load);
    depth(r, load);
    pitches(r, set);
    ratings(r, load, set);
    if let Some(spreader) = spreader {
        drops(r, load, spreader);
        let used = |p: &Provision| set.legs.iter().any(|leg| leg.provision == p.name);
        if !set.legs.is_empty() && !spreader.provisions.iter().any(used) {
            r.warning(
                &spreader.span,
                "no leg is made fast to the spreader",
                "it carries nothing",
                "name its provisions in the legs, or take it out",
            )
            .bears_on_figures();
        }
    }
    for leg in &set.legs {
        crossed(r, leg, &set.legs);
    }
}

fn density(r: &mut Findings, load: &Load) {
    let metres = [&load.size.length, &load.size.width, &load.size.height].map(|q| q.value.value);
    let cubic: f64 = metres.iter().product();
    let density = load.mass.value.value / cubic;
    if !DENSITY_KG_M3.contains(&density) {
        let said = if density < 1.0 {
            format!("{density:.2}")
        } else {
            format!("{density:.0}")
        };
        r.warning(
            &load.mass.span,
            format!("by mass and size a cubic metre of the load weighs {said} kg"),
            "too little or too much to be true",
            "check the mass and its unit, the decimal point, and the size",
        )
        .bears_on_figures();
    }
}

fn places(r: &mut Findings, load: &Load) {
    let at = |p: &Provision| p.at.metres();
    for (axis, size, across) in [
        (0, &load.size.length, "from front to rear"),
        (1, &load.size.width, "from side to side"),
    ] {
        let all = || load.provisions.iter().map(|p| at(p)[axis]);
        let spread = all().fold(f64::NEG_INFINITY, f64::max) - all().fold(f64::INFINITY, f64::min);
        if load.provisions.len() > 1 && spread > STAND_OUT * size.value.value {
            r.warning(
                &size.span,
                format!(
                    "the lifting provisions are {spread:.2} m apart {across}, the load is {}",
                    size.text
                ),
                "wider than the load",
                "check size and places; forward and left may have changed places",
            )
            .bears_on_figures();
        }
    }
    for (n, one) in load.provisions.iter().enumerate() {
        let near = |other: &&Provision| {
            let (a, b) = (at(one), at(other));
            let apart = a.iter().zip(b).map(|(a, b)| (a - b) * (a - b));
            apart.sum::<f64>().sqrt() < ONE_POINT_M
        };
        if let Some(other) = load.provisions[..n].iter().find(near) {
            r.warning(
                &one.span,
                format!(
                    "lifting provisions `{}` and `{}` are at one point",
                    other.name, one.name
                ),
                "the same place again",
                "check the signs: to the rear and to the right are negative",
            )
            .bears_on_figures();
        }
    }
}

/// A centre of gravity farther below the provisions than the load is high.
fn depth(r: &mut Findings, load: &Load) {
    let lowest = load.provisions.iter().map(|p| p.at.metres()[2]);
    let below = lowest.fold(f64::INFINITY, f64::min) - load.centre_of_gravity.metres()[2];
    let height = load.size.height.value.value;
    if load.kind == LoadKind::Rigid && below.is_finite() && below > STAND_OUT * height {
        r.warning(
            &load.centre_of_gravity.up.span,
            format!(
                "the centre of gravity is {below:.2} m below the lifting provisions, the load is {} high",
                load.size.height.text
            ),
            "below the load",
            "check the signs: what lies under the origin is negative",
        ).bears_on_figures();
    }
}

/// What figures need to work out how a load hangs below its spreader, and whether it fits the places of both.
fn drops(r: &mut Findings, load: &Load, spreader: &Spreader) {
    let Some(drops) = &spreader.drops else {
        r.unused(
            &spreader.span,
            "how the load hangs below the spreader cannot be worked out",
            "no drops",
            "give their length, drops = \"1.4 m\", and in [load.provisions] where they are made fast to the load",
        );
        return;
    };
    let length = drops.value.value;
    if length == 0.0 {
        return;
    }
    if load.provisions.len() < 2 {
        r.unused(
            &drops.span,
            "the plan does not say where the drops are made fast to the load",
            "two points at least",
            "give them in [load.provisions], or write drops = \"0 m\" where the load is fixed to the spreader",
        );
        return;
    }
    let middle =
        |all: &[Provision]| all.iter().map(|p| p.at.metres()[2]).sum::<f64>() / all.len() as f64;
    let off = middle(&load.provisions) + length - middle(&spreader.provisions);
    if off.abs() > DEPTH_M {
        let side = if off > 0.0 { "above" } else { "below" };
        r.unused(
            &drops.span,
            format!(
                "the drops end {:.2} m {side} the provisions of the spreader",
                off.abs()
            ),
            "they do not fit the places",
            "check their length and `up` of the provisions of load and spreader",
        )
        .bears_on_figures();
    }
}

fn pitches(r: &mut Findings, set: &SlingSet) {
    let chains = set.legs.iter().filter_map(|leg| leg.chain.as_ref());
    if let Some(chain) = chains
        .into_iter()
        .find(|chain| chain.link_pitch.value.value < PITCH_M)
    {
        r.warning(
            &chain.link_pitch.span,
            format!("the links are {} long inside", chain.link_pitch.text),
            "too short to be true",
            "check number and unit: link_pitch = \"24 mm\"",
        )
        .bears_on_figures();
    }
}

fn ratings(r: &mut Findings, load: &Load, set: &SlingSet) {
    let sum: f64 = set.legs.iter().map(|leg| leg.rating.value.value).sum();
    if !set.legs.is_empty() && set.rated_capacity.value.value > sum * ROUNDING {
        r.unused(
            &set.rated_capacity.span,
            "the set is rated for more than all of its legs together",
            "more than the legs can carry",
            "check the tag: number, unit and the legs' ratings",
        )
        .bears_on_figures();
    }
    for leg in &set.legs {
        let times = leg.rating.value.value / load.mass.value.value;
        if times > RATING_TIMES {
            r.warning(
                &leg.rating.span,
                format!("leg {} is rated for {times:.0} times the load", leg.number),
                "too much to be true",
                "check number and unit; t is a tonne",
            )
            .bears_on_figures();
            // One rating for all legs is one slip.
            return;
        }
    }
}

/// Limits of all else that are so many times the load that they are a slip of the unit, and would never fail.
pub(super) fn limits(
    r: &mut Findings,
    load: &Load,
    (set, spreader): (&SlingSet, Option<&Spreader>),
    lift: &Lift,
    container: Option<&Container>,
) {
    let provisions = load
        .provisions
        .iter()
        .chain(spreader.iter().flat_map(|s| &s.provisions));
    let provisions =
        provisions.filter_map(|p| Some((format!("provision `{}`", p.name), p.rating.as_ref()?)));
    let rigging = lift.rigging.iter();
    let rigging = rigging.filter_map(|g| Some((format!("`{}`", g.name), g.rating.as_ref()?)));
    let spreader = spreader.map(|s| (format!("spreader `{}`", s.name), &s.rating));
    let container = container.map(|c| (format!("`{}`", c.name), &c.limit));
    let apex = set.apex.iter();
    let apex = apex.filter_map(|a| Some((format!("`{}`", a.name), a.rating.as_ref()?)));
    let mut limits: Vec<(String, &Quantity<Mass>)> =
        provisions.chain(rigging).chain(apex).collect();
    limits.extend(spreader.into_iter().chain(container));
    // A crane may be far larger than what it lifts today.
    if lift.by == LiftedBy::Helicopter {
        let hook = lift.hook_limit.as_ref().map(|h| ("the hook".to_owned(), h));
        let allowable = lift.allowable.as_ref();
        let allowable = allowable.map(|a| ("what the aircraft may carry".to_owned(), &a.mass));
        limits.extend(hook.into_iter().chain(allowable));
        let greatest = lift.table.as_ref().and_then(|t| {
            let cells = t.cells.iter().flatten();
            cells.max_by(|a, b| a.value.value.total_cmp(&b.value.value))
        });
        let greatest = greatest.map(|cell| ("the greatest cell of the table".to_owned(), cell));
        let gross = lift.table.as_ref().and_then(|t| match &t.gives {
            TableGives::GrossMass { max, .. } => max.as_ref(),
            TableGives::HookLoad => None,
        });
        let gross = gross.map(|mass| ("the aircraft's greatest gross mass".to_owned(), mass));
        limits.extend(greatest.into_iter().chain(gross));
    }
    for (what, limit) in limits {
        let times = limit.value.value / load.mass.value.value;
        if times > RATING_TIMES {
            r.warning(
                &limit.span,
                format!("{what} has a limit of {times:.0} times the load"),
                "too much to be true",
                "check number and unit; t is a tonne",
            )
            .bears_on_figures();
        }
    }
}

/// A leg inspected at the station that bears the name of another leg's provision.
fn crossed(r: &mut Findings, leg: &Leg, legs: &[Leg]) {
    let other = legs
        .iter()
        .find(|other| other.number != leg.number && other.provision == leg.station);
    if let Some(other) = other {
        r.unused(
            &leg.span,
            format!(
                "leg {} is made fast at `{}` and inspected at `{}`, where leg {} is made fast",
                leg.number, leg.provision, leg.station, other.number
            ),
            "another leg's place",
            "check provision and station of both legs",
        )
        .bears_on_figures();
    }
}
