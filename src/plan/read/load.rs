//! Reads `[load]`, `[container]` and `[spreader]`.

use super::fields::Fields;
use super::reader::{Findings, Text, did_you_mean};
use crate::plan::{
    Container, Load, LoadKind, Piece, Point, Procedure, ProcedureStatus, Provision, Quantity, Size,
    Spreader, limits,
};
use std::ops::Range;
use uom::si::f64::{Length, Mass};

/// Names of provisions that the plan tries to give, whether or not they could be read.
#[derive(Default)]
pub(super) struct ProvisionNames(pub Vec<Text>);

impl ProvisionNames {
    pub fn knows(&self, name: &str) -> bool {
        self.0.iter().any(|n| n.value == name)
    }
}

pub(super) fn read_load(
    r: &mut Findings,
    mut f: Fields<'_>,
    names: &mut ProvisionNames,
    under_spreader: bool,
) -> Option<Load> {
    let name = f.need_text(r, "name", "generator skid");
    let kind = f.choice(
        r,
        "kind",
        &[
            ("rigid", LoadKind::Rigid),
            ("bundle", LoadKind::Bundle),
            ("net", LoadKind::Net),
        ],
    );
    if !f.has("kind") {
        f.missing(r, "kind", "\"rigid\", \"bundle\" or \"net\"");
    }
    if let Some((true, span)) = f.flag(r, "people") {
        r.error(
            &span,
            "people on board: loadwalk is not made for that and reads no such plan",
            "refused",
            "people below a hook are a class of lift of their own, with gear, rules and approvals of \
             their own; plan the goods without them",
        );
    }
    let pieces = read_pieces(r, &mut f);
    let whole = f.has("piece");
    let mass = if whole && !f.has("mass") {
        f.value("mass");
        None
    } else {
        f.need_positive::<Mass>(r, "mass")
    };
    let mass_from = f.need_text(r, "mass_from", "load cell at the roadhead");
    let size = read_size(r, &mut f, true);
    let given_centre = read_point(r, &mut f, "centre_of_gravity", !whole);
    let provisions = match f.table(r, "provisions") {
        Some(table) => read_provisions(r, &table, names, &pieces.names),
        None if under_spreader && !f.has("provisions") => Some(Vec::new()),
        None => {
            if !f.has("provisions") {
                f.missing_table(r, "[load.provisions.front-left]");
            }
            None
        }
    };
    let procedure = f.table(r, "procedure").map(|p| read_procedure(r, p));
    let span = f.span.clone();
    f.finish(r);

    let pieces = pieces.pieces;
    let (mass, centre_of_gravity) = match pieces {
        Some(ref pieces) if !pieces.is_empty() => {
            let sum = sum_of(pieces, &span);
            let sums = (sum.mass.clone(), sum.centre.clone());
            check_against_sum(r, mass.as_ref(), given_centre.as_ref(), &sum);
            (
                Some(mass.unwrap_or(sums.0)),
                Some(given_centre.unwrap_or(sums.1)),
            )
        }
        _ => (mass, given_centre),
    };
    Some(Load {
        name: name?.value,
        kind: kind?,
        mass: mass?,
        mass_from: mass_from?.value,
        size: size?,
        centre_of_gravity: centre_of_gravity?,
        provisions: provisions?,
        pieces: pieces?,
        procedure: procedure.flatten(),
        span,
    })
}

pub(super) fn read_container(r: &mut Findings, mut f: Fields<'_>) -> Option<Container> {
    let name = f.need_text(r, "name", "cargo net");
    let limit = f.need_positive::<Mass>(r, "limit");
    let mass = f.need_positive::<Mass>(r, "mass");
    let span = f.span.clone();
    f.finish(r);
    Some(Container {
        name: name?.value,
        limit: limit?,
        mass: mass?,
        span,
    })
}

pub(super) fn read_spreader(
    r: &mut Findings,
    mut f: Fields<'_>,
    names: &mut ProvisionNames,
) -> Option<Spreader> {
    let name = f.need_text(r, "name", "spreader bar");
    let mass = f.need_positive::<Mass>(r, "mass");
    let rating = f.need_positive::<Mass>(r, "rating");
    let length = f.need_positive::<Length>(r, "length");
    let centre_of_gravity = read_point(r, &mut f, "centre_of_gravity", false);
    let provisions = match f.table(r, "provisions") {
        Some(table) => read_provisions(r, &table, names, &[]),
        None => {
            if !f.has("provisions") {
                f.missing_table(r, "[spreader.provisions.front]");
            }
            None
        }
    };
    let span = f.span.clone();
    f.finish(r);
    Some(Spreader {
        name: name?.value,
        mass: mass?,
        rating: rating?,
        length: length?,
        centre_of_gravity,
        provisions: provisions?,
        span,
    })
}

fn read_size(r: &mut Findings, f: &mut Fields<'_>, needed: bool) -> Option<Size> {
    if needed && !f.has("size") {
        f.missing(
            r,
            "size",
            "{ length = \"2.4 m\", width = \"1.5 m\", height = \"1.6 m\" }",
        );
    }
    let mut s = f.table(r, "size")?;
    let length = s.need_positive::<Length>(r, "length");
    let width = s.need_positive::<Length>(r, "width");
    let height = s.need_positive::<Length>(r, "height");
    s.finish(r);
    Some(Size {
        length: length?,
        width: width?,
        height: height?,
    })
}

fn read_point(
    r: &mut Findings,
    f: &mut Fields<'_>,
    key: &'static str,
    needed: bool,
) -> Option<Point> {
    if needed && !f.has(key) {
        f.missing(
            r,
            key,
            "{ forward = \"0 m\", left = \"0 m\", up = \"0.7 m\" }",
        );
    }
    let mut p = f.table(r, key)?;
    let point = point_of(r, &mut p);
    p.finish(r);
    point
}

fn point_of(r: &mut Findings, p: &mut Fields<'_>) -> Option<Point> {
    let forward = p.need_quantity::<Length>(r, "forward");
    let left = p.need_quantity::<Length>(r, "left");
    let up = p.need_quantity::<Length>(r, "up");
    Some(Point {
        forward: forward?,
        left: left?,
        up: up?,
    })
}

/// Forward and left of a place that is seen from above, in metres.
pub(super) fn read_place(r: &mut Findings, f: &mut Fields<'_>) -> Option<[f64; 2]> {
    let mut p = f.table(r, "place")?;
    let forward = p.need_quantity::<Length>(r, "forward");
    let left = p.need_quantity::<Length>(r, "left");
    p.finish(r);
    Some([forward?.value.value, left?.value.value])
}

fn read_provisions(
    r: &mut Findings,
    table: &Fields<'_>,
    names: &mut ProvisionNames,
    pieces: &[Text],
) -> Option<Vec<Provision>> {
    let mut provisions = Some(Vec::new());
    let span = table.span.clone();
    let tables = table.named_tables(r);
    if tables.len() > limits::PROVISIONS {
        r.error(
            &span,
            format!("more than {} lifting provisions", limits::PROVISIONS),
            "too many",
            "keep those that legs are made fast to",
        );
    }
    if table.entries().is_empty() {
        r.error(
            &span,
            format!("{} names no lifting provision", table.place),
            "nothing in it",
            "add one for each leg, with forward, left and up",
        );
    }
    for (name, mut f) in tables.into_iter().take(limits::PROVISIONS) {
        check_key(r, "the name of a lifting provision", &name);
        if names.knows(&name.value) {
            r.misfit(
                &name.span,
                format!(
                    "load and spreader both have a lifting provision `{}`",
                    name.value
                ),
                "the same name again",
                "give one of the two another name",
            );
        }
        names.0.push(name.clone());
        let at = point_of(r, &mut f);
        let rating = f.positive::<Mass>(r, "rating");
        let piece = f.text(r, "piece", "front piece");
        if let Some(piece) = &piece
            && !pieces.iter().any(|p| p.value == piece.value)
        {
            r.misfit(
                &piece.span,
                format!("there is no piece `{}`", piece.value),
                "not a piece of this load",
                did_you_mean(&piece.value, pieces.iter().map(|p| p.value.as_str())),
            );
        }
        let span = name.span.clone();
        f.finish(r);
        let provision = at.map(|at| Provision {
            name: name.value,
            at,
            rating,
            piece: piece.map(|p| p.value),
            span,
        });
        match (provision, &mut provisions) {
            (Some(p), Some(all)) => all.push(p),
            _ => provisions = None,
        }
    }
    provisions
}

struct Pieces {
    names: Vec<Text>,
    /// `None` where one of them could not be read.
    pieces: Option<Vec<Piece>>,
}

fn read_pieces(r: &mut Findings, f: &mut Fields<'_>) -> Pieces {
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

struct Sum {
    mass: Quantity<Mass>,
    centre: Point,
}

/// Mass and centre of gravity of all pieces together. The plus or minus is the worst case: masses
/// add up, and each centre moves with the places and with the masses of the pieces.
fn sum_of(pieces: &[Piece], span: &Range<usize>) -> Sum {
    let kilograms: f64 = pieces.iter().map(|p| p.mass.value.value).sum();
    let spread: f64 = pieces.iter().map(|p| p.mass.plus_minus.value).sum();
    let axis = |i: usize| {
        let at = |p: &Piece| p.centre_of_gravity.metres()[i];
        let off = |p: &Piece| p.centre_of_gravity.plus_minus_metres()[i];
        let centre = pieces
            .iter()
            .map(|p| p.mass.value.value * at(p))
            .sum::<f64>()
            / kilograms;
        let width = pieces
            .iter()
            .map(|p| p.mass.value.value * off(p) + (at(p) - centre).abs() * p.mass.plus_minus.value)
            .sum::<f64>()
            / kilograms;
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
            text: format!("{kilograms:.0} kg (sum of the pieces)"),
            span: span.clone(),
        },
        centre: Point {
            forward: axis(0),
            left: axis(1),
            up: axis(2),
        },
    }
}

fn metres(x: f64) -> Length {
    Length::new::<uom::si::length::meter>(x)
}

fn check_against_sum(
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

fn read_procedure(r: &mut Findings, mut f: Fields<'_>) -> Option<Procedure> {
    let choices = [
        ("certified", ProcedureStatus::Certified),
        ("suitable", ProcedureStatus::Suitable),
        ("one-time", ProcedureStatus::OneTime),
    ];
    if !f.has("status") {
        f.missing(r, "status", "\"certified\", \"suitable\" or \"one-time\"");
    }
    let status = f.choice(r, "status", &choices);
    let title = f.need_text(r, "title", "rigging sheet 7, skids to 1500 kg");
    let issued_by = f.need_text(r, "issued_by", "operations manager");
    f.finish(r);
    Some(Procedure {
        status: status?,
        title: title?.value,
        issued_by: issued_by?.value,
    })
}

/// Short names: small letters, digits and hyphens.
pub(in crate::plan) fn is_key(word: &str) -> bool {
    !word.is_empty()
        && word.len() <= limits::SPOKEN_CHARS
        && word
            .bytes()
            .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
}

pub(super) fn check_key(r: &mut Findings, what: &str, name: &Text) {
    if !is_key(&name.value) {
        r.error(
            &name.span,
            format!("`{}` cannot be {what}", name.value),
            "small letters, digits and hyphens only",
            format!("write `{}`", crate::plan::expand::slug(&name.value)),
        );
    }
}
