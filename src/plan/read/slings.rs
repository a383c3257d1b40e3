//! Reads `[sling_set]`.

use super::fields::Fields;
use super::leg::{Around, LegParts};
use super::load::check_key;
use super::reader::{Findings, Text};
use crate::plan::{Apex, Carrying, Leg, SlingSet, limits};
use std::ops::Range;
use uom::si::f64::{Angle, Length, Mass};

/// A sling set, with the name of the count table and the place of its mention for each leg.
pub(super) struct ReadSlings {
    pub set: Option<SlingSet>,
    /// The set's key, even where the rest could not be read.
    pub key: Option<Text>,
    pub leg_tables: Vec<Option<Text>>,
}

pub(super) fn read_sling_set(
    r: &mut Findings,
    mut f: Fields<'_>,
    around: &Around<'_>,
) -> ReadSlings {
    let name = f.need_text(r, "name", "four-leg set");
    let key = f.need_text(r, "key", "4-leg");
    if let Some(key) = &key {
        check_key(r, "the key of a sling set", key);
    }
    let rated_capacity = f.need_positive::<Mass>(r, "rated_capacity");
    let mass = f.need_positive::<Mass>(r, "mass");
    let carrying = read_carrying(r, &mut f);
    let apex = f.table(r, "apex").map(|a| read_apex(r, a));
    let max_tension_ratio = match f.number(r, "max_tension_ratio") {
        Some((ratio, span)) if ratio <= 1.0 => {
            r.error(
                &span,
                "`max_tension_ratio` must be more than 1",
                "greatest tension over least",
                "write max_tension_ratio = 2.0, say",
            );
            None
        }
        other => other.map(|(ratio, _)| ratio),
    };
    let angle_plus_minus = f.positive::<Angle>(r, "angle_plus_minus");
    if let Some(angle) = &angle_plus_minus
        && angle.value.get::<uom::si::angle::degree>() > 20.0
    {
        r.error(
            &angle.span,
            "`angle_plus_minus` is over 20 degrees",
            "no leg is known so badly",
            "write how far a leg's angle may be off: angle_plus_minus = \"2 degrees\"",
        );
    }
    if !f.has("number_of_legs") {
        f.missing(r, "number_of_legs", "4");
    }
    #[expect(clippy::cast_possible_truncation, reason = "a small constant")]
    let wanted = f.whole(r, "number_of_legs", 1..=limits::LEGS as u32);
    let each = f.table(r, "each_leg").map(|t| LegParts::read(r, t, true));
    let tables = f.tables(r, "leg");
    let mut legs = Some(Vec::new());
    let mut leg_tables = Vec::new();
    let mut numbers: Vec<(u32, Range<usize>)> = Vec::new();
    let count = tables.len();
    let (mut chokes, mut chained) = (false, false);
    for table in tables.into_iter().take(2 * limits::LEGS) {
        let parts = LegParts::read(r, table, false);
        if let Some((number, span)) = &parts.number {
            if numbers.iter().any(|(n, _)| n == number) {
                r.error(
                    span,
                    format!("two legs have the number {number}"),
                    "the same number again",
                    "number the legs 1, 2, 3 and so on, each once",
                );
            }
            numbers.push((*number, span.clone()));
        }
        chokes |= parts.is_choker();
        chained |= parts.has_chain();
        let table = parts.count_table(each.as_ref());
        let leg = parts.into_leg(r, each.as_ref(), around, key.as_ref());
        match (leg, &mut legs) {
            (Some(leg), Some(all)) => {
                all.push(leg);
                leg_tables.push(table);
            }
            _ => legs = None,
        }
    }
    if let Some(each) = &each {
        each.check_keeps(r, chokes);
        each.check_chain_keys(r, chained);
    }
    check_numbers(r, &f, wanted.as_ref(), count, &numbers);
    let span = f.span.clone();
    f.finish(r);

    let mut order: Vec<(Leg, Option<Text>)> = legs.into_iter().flatten().zip(leg_tables).collect();
    order.sort_by_key(|(leg, _)| leg.number);
    let (legs, leg_tables): (Vec<Leg>, Vec<Option<Text>>) = order.into_iter().unzip();
    warn_of_shared_provisions(r, &legs);
    let set = (|| {
        let (carrying, carrying_statement) = carrying?;
        Some(SlingSet {
            name: name?.value,
            key: key.as_ref()?.value.clone(),
            rated_capacity: rated_capacity?,
            mass: mass?,
            carrying,
            carrying_statement,
            apex: apex.flatten(),
            legs,
            max_tension_ratio,
            angle_plus_minus,
            span,
        })
    })();
    ReadSlings {
        set,
        key,
        leg_tables,
    }
}

fn read_carrying(r: &mut Findings, f: &mut Fields<'_>) -> Option<(Carrying, Option<String>)> {
    let carrying = f.choice(
        r,
        "carrying",
        &[
            ("two", Carrying::Two),
            ("three", Carrying::Three),
            ("all", Carrying::All),
        ],
    );
    let statement = f.text(
        r,
        "carrying_statement",
        "rig certified with all legs sharing, certificate 12 of the rigging engineer",
    );
    if !f.has("carrying") {
        return Some((Carrying::Two, statement.map(|s| s.value)));
    }
    if carrying == Some(Carrying::All) && !f.has("carrying_statement") {
        r.misfit(
            &f.key_span("carrying"),
            "all legs are said to carry, but nobody is named who certified it",
            "needs a statement",
            "add carrying_statement = \"who certified that all legs share, and where it is \
             written\", or write carrying = \"two\"",
        );
    }
    carrying.map(|c| (c, statement.map(|s| s.value)))
}

fn read_apex(r: &mut Findings, mut f: Fields<'_>) -> Option<Apex> {
    let name = f.need_text(r, "name", "apex ring");
    let rating = f.positive::<Mass>(r, "rating");
    let height = f.positive::<Length>(r, "height");
    f.finish(r);
    Some(Apex {
        name: name?.value,
        rating,
        height,
    })
}

fn check_numbers(
    r: &mut Findings,
    f: &Fields<'_>,
    wanted: Option<&(u32, Range<usize>)>,
    count: usize,
    numbers: &[(u32, Range<usize>)],
) {
    let Some((wanted, span)) = wanted else { return };
    let missing: Vec<String> = (1..=*wanted)
        .filter(|n| !numbers.iter().any(|(m, _)| m == n))
        .map(|n| n.to_string())
        .collect();
    if (count as u64) < u64::from(*wanted) {
        r.misfit(
            span,
            format!("the set has {wanted} legs, but the plan describes {count}"),
            if missing.len() == 1 {
                format!("leg {} is missing", missing[0])
            } else {
                format!("legs {} are missing", missing.join(", "))
            },
            "add a [[sling_set.leg]] for each missing leg, or put the number right",
        );
    } else if count as u64 > u64::from(*wanted) {
        r.misfit(
            span,
            format!("the set has {wanted} legs, but the plan describes {count}"),
            "fewer than described",
            "put the number right, or take out the [[sling_set.leg]] that is not there",
        );
    } else if let Some((number, span)) = numbers.iter().find(|(n, _)| n > wanted) {
        r.misfit(
            span,
            format!("leg {number} of a set of {wanted}"),
            format!("number {} is not used", missing.join(", ")),
            format!("number the legs of {} from 1 to {wanted}", f.place),
        );
    }
}

fn warn_of_shared_provisions(r: &mut Findings, legs: &[Leg]) {
    for (i, leg) in legs.iter().enumerate() {
        if let Some(first) = legs[..i].iter().find(|l| l.provision == leg.provision) {
            r.warning(
                &leg.span,
                format!(
                    "legs {} and {} are both made fast to `{}`",
                    first.number, leg.number, leg.provision
                ),
                "the same provision again",
                "check that it is meant and that the provision is rated for both",
            );
        }
    }
}
