//! Reads `[load]`, `[container]` and `[spreader]`.

use super::fields::Fields;
use super::people;
use super::pieces::{check_against_sum, read_pieces, sum_of};
use super::reader::{Findings, Text, did_you_mean};
use crate::plan::{
    Container, Load, LoadKind, Point, Procedure, ProcedureStatus, Provision, Quantity, Size,
    Spreader, limits,
};
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
    name.iter().for_each(|name| people::refuse(r, name));
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
    name.iter().for_each(|name| people::refuse(r, name));
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
    let drops = read_drops(r, &mut f);
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
        drops,
        centre_of_gravity,
        provisions: provisions?,
        span,
    })
}

/// The length of a spreader's drops; nothing where the load is fixed to it.
fn read_drops(r: &mut Findings, f: &mut Fields<'_>) -> Option<Quantity<Length>> {
    let drops = f.quantity::<Length>(r, "drops")?;
    if drops.value < drops.plus_minus || drops.value < Length::default() {
        r.error(
            &drops.span,
            "`drops` of the spreader may be less than nothing",
            "must be 0 or more",
            "write their length, from the bar to the load: drops = \"1.4 m\"",
        );
        return None;
    }
    Some(drops)
}

pub(super) fn read_size(r: &mut Findings, f: &mut Fields<'_>, needed: bool) -> Option<Size> {
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

pub(super) fn read_point(
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
