//! Reads the pieces of a coupled load and adds them up.

use super::fields::Fields;
use super::load::{read_point, read_size};
use super::people;
use super::reader::{Findings, Text};
use crate::plan::{Measured, Piece, Point, Quantity, limits, unit_word};
use std::ops::Range;
use uom::si::f64::{Length, Mass};

pub(super) struct Pieces {
    pub names: Vec<Text>,
    /// `None` where one of them could not be read.
    pub pieces: Option<Vec<Piece>>,
}

pub(super) fn read_pieces(r: &mut Findings, f: &mut Fields<'_>) -> Pieces {
    let mut names: Vec<Text> = Vec::new();
    let mut pieces = Some(Vec::new());
    let tables = f.tables(r, "piece");
    if tables.len() > limits::PIECES {
        r.error(
            &f.key_span("piece"),
            format!("more than {} pieces", limits::PIECES),
            "too many",
            "join those that do not come apart",
        );
    }
    for mut p in tables.into_iter().take(limits::PIECES) {
        let name = p.need_text(r, "name", "front piece");
        if let Some(name) = &name {
            people::refuse(r, name);
            if names.iter().any(|n| n.value == name.value) {
                r.error(
                    &name.span,
                    format!("two pieces are called `{}`", name.value),
                    "the same name again",
                    "give each piece a name of its own",
                );
            }
            names.push(name.clone());
        }
        let mass = p.need_positive::<Mass>(r, "mass");
        let centre = read_point(r, &mut p, "centre_of_gravity", true);
        let size = read_size(r, &mut p, false);
        let span = p.span.clone();
        p.finish(r);
        match (name, mass, centre, &mut pieces) {
            (Some(name), Some(mass), Some(centre_of_gravity), Some(all)) => {
                all.push(Piece {
                    name: name.value,
                    mass,
                    centre_of_gravity,
                    size,
                    span,
                });
            }
            _ => pieces = None,
        }
    }
    Pieces { names, pieces }
}

pub(super) struct Sum {
    pub mass: Quantity<Mass>,
    pub centre: Point,
}

/// Mass and centre of gravity of all pieces together. The plus or minus is the worst case: masses
/// add up, and the centre is tried with each piece's mass at both ends and all places off to one side.
pub(super) fn sum_of(pieces: &[Piece], span: &Range<usize>) -> Sum {
    let kilograms: f64 = pieces.iter().map(|p| p.mass.value.value).sum();
    let spread: f64 = pieces.iter().map(|p| p.mass.plus_minus.value).sum();
    let axis = |i: usize| {
        let at = |p: &Piece, side: f64| {
            p.centre_of_gravity.metres()[i] + side * p.centre_of_gravity.plus_minus_metres()[i]
        };
        // `ends` has a bit for each piece that has its mass at its plus.
        let centre_at = |side: f64, ends: Option<u32>| {
            let (mut moment, mut all) = (0.0, 0.0);
            for (n, piece) in pieces.iter().enumerate() {
                let sign = ends.map_or(0.0, |ends| if ends >> n & 1 == 1 { 1.0 } else { -1.0 });
                let mass = piece.mass.value.value + sign * piece.mass.plus_minus.value;
                moment += mass * at(piece, side);
                all += mass;
            }
            moment / all
        };
        let centre = centre_at(0.0, None);
        // 8 pieces at most, see `limits::PIECES`.
        let width = (0..1_u32 << pieces.len())
            .flat_map(|ends| [-1.0, 1.0].map(|side| (centre_at(side, Some(ends)) - centre).abs()))
            .fold(0.0, f64::max);
        Quantity {
            value: metres(centre),
            plus_minus: metres(width),
            text: format!("{centre:.3} m (from the pieces)"),
            span: span.clone(),
        }
    };
    Sum {
        mass: Quantity {
            value: Mass::new::<uom::si::mass::kilogram>(kilograms),
            plus_minus: Mass::new::<uom::si::mass::kilogram>(spread),
            text: format!("{} (sum of the pieces)", in_unit_of(pieces, kilograms)),
            span: span.clone(),
        },
        centre: Point {
            forward: axis(0),
            left: axis(1),
            up: axis(2),
        },
    }
}

/// A mass in the unit of the first piece's, kilograms where that cannot be told.
fn in_unit_of(pieces: &[Piece], kilograms: f64) -> String {
    let word = pieces.first().map_or("", |p| unit_word(&p.mass.text));
    let unit = Mass::UNITS.iter().find(|u| u.names.contains(&word));
    let (number, sign) = unit.map_or((kilograms, "kg"), |unit| {
        (kilograms / (unit.value)(1.0).si(), unit.names[0])
    });
    let decimals = if number < 100.0 { 2 } else { 0 };
    format!("{number:.decimals$} {sign}")
}

fn metres(x: f64) -> Length {
    Length::new::<uom::si::length::meter>(x)
}

pub(super) fn check_against_sum(
    r: &mut Findings,
    mass: Option<&Quantity<Mass>>,
    centre: Option<&Point>,
    sum: &Sum,
) {
    if let Some(mass) = mass {
        let apart = (mass.value.value - sum.mass.value.value).abs();
        let allowed = mass.plus_minus.value + sum.mass.plus_minus.value;
        // A thousandth covers rounding in the plan.
        if apart > allowed + mass.value.value * 1e-3 {
            r.misfit(
                &mass.span,
                format!(
                    "the load's mass does not fit its pieces, which add up to {:.0} kg",
                    sum.mass.value.value
                ),
                format!("{apart:.0} kg apart"),
                "weigh again, or leave the load's mass out so that the sum is taken",
            );
        }
    }
    let Some(centre) = centre else { return };
    let axes = [
        ("forward", &centre.forward, &sum.centre.forward),
        ("left", &centre.left, &sum.centre.left),
        ("up", &centre.up, &sum.centre.up),
    ];
    for (axis, given, computed) in axes {
        let apart = (given.value.value - computed.value.value).abs();
        // A centimetre covers rounding in the plan.
        if apart > given.plus_minus.value + computed.plus_minus.value + 0.01 {
            r.misfit(
                &given.span,
                format!(
                    "the load's centre of gravity does not fit its pieces, which put it {:.2} m {axis}",
                    computed.value.value
                ),
                format!("{apart:.2} m apart"),
                "check the pieces, or leave centre_of_gravity out so that theirs is taken",
            );
        }
    }
}
