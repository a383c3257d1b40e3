//! Reads `[lift]`.

use super::fields::Fields;
use super::quantity::parse_quantities;
use super::reader::Findings;
use super::values::{Value, quantity_of};
use crate::plan::{
    Allowable, AllowableTable, Lift, LiftedBy, Measured, Quantity, Rigging, Site, SiteAltitude,
    TableGives, limits,
};
use toml::de::DeValue;
use uom::si::f64::{Angle, Length, Mass, Pressure, Ratio, ThermodynamicTemperature};

pub(super) fn read_lift(r: &mut Findings, mut f: Fields<'_>) -> Option<Lift> {
    if !f.has("by") {
        f.missing(r, "by", "\"helicopter\" or \"crane\"");
    }
    let by = f.choice(
        r,
        "by",
        &[
            ("helicopter", LiftedBy::Helicopter),
            ("crane", LiftedBy::Crane),
        ],
    );
    let name = f.text(r, "name", "blue helicopter");
    let stated = f.has("allowable");
    let allowable = f.positive::<Mass>(r, "allowable");
    let allowable_from = f.text(
        r,
        "allowable_from",
        "pilot in command, chart of this morning",
    );
    if stated && !f.has("allowable_from") {
        r.misfit(
            &f.key_span("allowable"),
            "nobody is named who says what may hang on the hook today",
            "who says so?",
            "add allowable_from = \"pilot in command, chart of this morning\", say",
        );
    }
    let hook_limit = f.positive::<Mass>(r, "hook_limit");
    let deduction = f.quantity::<Ratio>(r, "deduction");
    if let Some(d) = &deduction
        && !(0.0..1.0).contains(&d.value.value)
    {
        r.error(
            &d.span,
            "`deduction` must be at least 0 and less than 100 percent",
            "taken off the allowable hook load",
            "write deduction = \"10 percent\", say",
        );
    }
    let max_tilt = f.positive::<Angle>(r, "max_tilt");
    if let Some(tilt) = &max_tilt
        && tilt.value.get::<uom::si::angle::degree>() > 45.0
    {
        r.error(
            &tilt.span,
            "`max_tilt` is over 45 degrees",
            "no load is meant to hang like that",
            "write the tilt at which the load is not lifted: max_tilt = \"5 degrees\"",
        );
    }
    let dynamic_factor = f.number(r, "dynamic_factor").and_then(|(factor, span)| {
        if (1.0..=5.0).contains(&factor) {
            return Some(factor);
        }
        r.error(
            &span,
            "`dynamic_factor` must be 1 to 5",
            "times the pull at rest",
            "write dynamic_factor = 1.25, say, or leave it out",
        );
        None
    });
    let rigging: Vec<Option<Rigging>> = f
        .tables(r, "rigging")
        .into_iter()
        .map(|t| read_rigging(r, t))
        .collect();
    let has_table = f.has("table");
    let table = f.table(r, "table").map(|t| read_table(r, t));
    let sites: Vec<Option<Site>> = f
        .tables(r, "site")
        .into_iter()
        .map(|t| read_site(r, t))
        .collect();
    if !stated && !has_table {
        f.missing(r, "allowable", "\"1500 kg\" (or a [lift.table])");
    }
    if has_table && !f.has("site") {
        r.misfit(
            &f.key_span("table"),
            "the table of allowable loads is there, but no site to read it for",
            "for which air?",
            "add a [[lift.site]] with elevation, qnh and temperature",
        );
    }
    let mut named = std::collections::HashSet::new();
    for site in sites.iter().flatten().filter(|s| !named.insert(&s.name)) {
        r.warning(
            &site.span,
            format!("two sites are called `{}`", site.name),
            "which of both is told of?",
            "give each site a name of its own",
        );
    }
    if let Some(table) = table.iter().flatten().next() {
        for site in sites.iter().flatten() {
            check_burn(r, table, site);
        }
    }
    let span = f.span.clone();
    f.finish(r);
    Some(Lift {
        by: by?,
        name: name.map(|n| n.value),
        allowable: match (allowable, allowable_from) {
            (Some(mass), Some(from)) => Some(Allowable {
                mass,
                from: from.value,
            }),
            _ => None,
        },
        hook_limit,
        deduction,
        dynamic_factor,
        rigging: rigging.into_iter().collect::<Option<_>>()?,
        max_tilt,
        table: table.flatten(),
        sites: sites.into_iter().collect::<Option<_>>()?,
        span,
    })
}

/// Fuel burnt adds to what may hang on the hook: a slip of the pen there lifts too much.
fn check_burn(r: &mut Findings, table: &AllowableTable, site: &Site) {
    let Some(burn) = &site.fuel_burn else { return };
    let (most, what) = match &table.gives {
        TableGives::HookLoad => {
            let cells = table.cells.iter().flatten().map(|c| c.value.value);
            (cells.fold(0.0, f64::max), "all that the table allows")
        }
        TableGives::GrossMass { fuel, .. } => (fuel.value.value, "the fuel that is on board"),
    };
    if burn.value.value > most {
        r.error(
            &burn.span,
            format!("`fuel_burn` at {} is more than {what}", site.name),
            "far too large",
            "check number and unit; write the fuel burnt from start to here",
        );
    }
}

fn read_rigging(r: &mut Findings, mut f: Fields<'_>) -> Option<Rigging> {
    let name = f.need_text(r, "name", "long line");
    let mass = f.need_positive::<Mass>(r, "mass");
    let rating = f.positive::<Mass>(r, "rating");
    f.finish(r);
    Some(Rigging {
        name: name?.value,
        mass: mass?,
        rating,
    })
}

fn read_table(r: &mut Findings, mut f: Fields<'_>) -> Option<AllowableTable> {
    let from = f.need_text(r, "from", "flight manual, chart and page");
    if !f.has("gives") {
        f.missing(r, "gives", "\"hook-load\" or \"gross-mass\"");
    }
    let gross = f.choice(r, "gives", &[("hook-load", false), ("gross-mass", true)]);
    let altitudes = rising::<Length>(r, &mut f, "pressure_altitude", "0 2000 4000 6000 ft");
    let temperatures =
        rising::<ThermodynamicTemperature>(r, &mut f, "temperature", "-10 0 10 20 °C");
    let gives = match gross {
        Some(true) => {
            let operating = f.need_positive::<Mass>(r, "operating_mass");
            let fuel = f.need_positive::<Mass>(r, "fuel");
            let max = f.positive::<Mass>(r, "max_gross_mass");
            (|| {
                Some(TableGives::GrossMass {
                    operating: operating?,
                    fuel: fuel?,
                    max,
                })
            })()
        }
        Some(false) => Some(TableGives::HookLoad),
        None => {
            // Known keys all the same, so that they are not called unknown beside the real fault.
            for key in ["operating_mass", "fuel", "max_gross_mass"] {
                f.value(key);
            }
            None
        }
    };
    let cells = read_cells(r, &mut f, altitudes.as_deref(), temperatures.as_deref());
    let span = f.span.clone();
    f.finish(r);
    Some(AllowableTable {
        from: from?.value,
        gives: gives?,
        pressure_altitude: altitudes?,
        temperature: temperatures?,
        cells: cells?,
        span,
    })
}

fn rising<T: Measured>(
    r: &mut Findings,
    f: &mut Fields<'_>,
    key: &'static str,
    example: &str,
) -> Option<Vec<Quantity<T>>> {
    if !f.has(key) {
        f.value(key);
        f.missing(r, key, &format!("\"{example}\""));
        return None;
    }
    let value = f.value(key)?;
    let list = quantities::<T>(r, key, value)?;
    if list.len() < 2 || list.len() > limits::TABLE_SIDE {
        r.error(
            &value.span(),
            format!("`{key}` holds {} values", list.len()),
            format!("2 to {} are needed", limits::TABLE_SIDE),
            format!("write {key} = \"{example}\", say"),
        );
        return None;
    }
    let rises = list
        .windows(2)
        .all(|pair| pair[0].value.si() < pair[1].value.si());
    if !rises {
        r.error(
            &value.span(),
            format!("`{key}` does not rise from each value to the next"),
            "must rise",
            "order the values from the least to the greatest, each once, and the cells with them",
        );
        return None;
    }
    Some(list)
}

/// One text with a unit at its end, or a list of quantities.
fn quantities<T: Measured>(
    r: &mut Findings,
    key: &str,
    value: &Value<'_>,
) -> Option<Vec<Quantity<T>>> {
    match value.get_ref() {
        DeValue::String(text) => match parse_quantities::<T>(text, &value.span()) {
            Ok(list) => Some(list),
            Err(e) => {
                r.error(
                    &value.span(),
                    format!("`{key}`: {}", e.title),
                    e.label,
                    e.help,
                );
                None
            }
        },
        DeValue::Array(items) => {
            let read: Vec<_> = items.iter().map(|v| quantity_of::<T>(r, key, v)).collect();
            read.into_iter().collect()
        }
        _ => quantity_of::<T>(r, key, value).map(|q| vec![q]),
    }
}

fn read_cells(
    r: &mut Findings,
    f: &mut Fields<'_>,
    altitudes: Option<&[Quantity<Length>]>,
    temperatures: Option<&[Quantity<ThermodynamicTemperature>]>,
) -> Option<Vec<Vec<Quantity<Mass>>>> {
    const EXAMPLE: &str = "[\"1700 1650 1600 kg\", \"1650 1600 1550 kg\"]";
    if !f.has("cells") {
        f.value("cells");
        f.missing(r, "cells", EXAMPLE);
        return None;
    }
    let value = f.value("cells")?;
    let DeValue::Array(rows) = value.get_ref() else {
        r.error(
            &value.span(),
            "`cells` takes a list with a row for each pressure altitude",
            "not a list",
            format!("write cells = {EXAMPLE}"),
        );
        return None;
    };
    let mut cells = Some(Vec::new());
    for row in rows.iter().take(2 * limits::TABLE_SIDE) {
        let list = quantities::<Mass>(r, "cells", row);
        if let (Some(list), Some(temperatures)) = (&list, temperatures)
            && list.len() != temperatures.len()
        {
            r.misfit(
                &row.span(),
                format!(
                    "this row has {} cells for {} temperatures",
                    list.len(),
                    temperatures.len()
                ),
                "a cell for each temperature",
                "type the row as the manual has it; leave out temperatures that it does not have",
            );
        }
        if let Some(bad) = list.iter().flatten().find(|q| q.value.value <= 0.0) {
            r.error(
                &bad.span,
                "a cell of the table is zero or negative",
                "must be more than zero",
                "leave out altitudes and temperatures at which nothing may be lifted",
            );
        }
        match (list, &mut cells) {
            (Some(list), Some(all)) => all.push(list),
            _ => cells = None,
        }
    }
    if let Some(altitudes) = altitudes
        && altitudes.len() != rows.len()
    {
        r.misfit(
            &value.span(),
            format!(
                "the table has {} rows for {} pressure altitudes",
                rows.len(),
                altitudes.len()
            ),
            "a row for each pressure altitude",
            "type the table as the manual has it",
        );
    }
    warn_of_slips(r, cells.as_deref().unwrap_or_default());
    cells
}

/// No aircraft lifts more where it is higher or hotter: such a cell is a slip of the pen, as a rule.
fn warn_of_slips(r: &mut Findings, rows: &[Vec<Quantity<Mass>>]) {
    for (at, row) in rows.iter().enumerate() {
        for (column, cell) in row.iter().enumerate() {
            let above = at.checked_sub(1).and_then(|up| rows[up].get(column));
            let cooler = column.checked_sub(1).map(|left| &row[left]);
            let worse = [(above, "lower down"), (cooler, "where it is cooler")];
            let more = worse
                .into_iter()
                .find(|(other, _)| other.is_some_and(|o| cell.value > o.value));
            if let Some((_, place)) = more {
                r.warning(
                    &cell.span,
                    format!("`{}` is more than the table allows {place}", cell.text),
                    "more where the air is thinner",
                    "compare it with the flight manual, and the cells beside it",
                )
                .bears_on_figures();
            }
        }
    }
}

fn read_site(r: &mut Findings, mut f: Fields<'_>) -> Option<Site> {
    let name = f.need_text(r, "name", "roadhead");
    let direct = f.has("pressure_altitude");
    let pressure_altitude = f.quantity::<Length>(r, "pressure_altitude");
    let altitude = if direct {
        if f.has("elevation") || f.has("qnh") {
            r.error(
                &f.key_span("pressure_altitude"),
                format!(
                    "{} gives pressure_altitude beside elevation or qnh",
                    f.place
                ),
                "the same thing twice",
                "keep pressure_altitude, or elevation and qnh",
            );
        }
        f.value("elevation");
        f.value("qnh");
        pressure_altitude.map(SiteAltitude::Pressure)
    } else {
        let elevation = f.need_quantity::<Length>(r, "elevation");
        let qnh = f.need_positive::<Pressure>(r, "qnh");
        if let Some(qnh) = &qnh
            && !(85_000.0..=110_000.0).contains(&qnh.value.value)
        {
            r.error(
                &qnh.span,
                format!("`{}` is no pressure at sea level", qnh.text),
                "outside 850 to 1100 hPa",
                "write the altimeter setting, reduced to sea level: qnh = \"1013 hPa\"",
            );
        }
        (|| {
            Some(SiteAltitude::Elevation {
                elevation: elevation?,
                qnh: qnh?,
            })
        })()
    };
    let temperature = f.need_quantity::<ThermodynamicTemperature>(r, "temperature");
    let dew_point = f.quantity::<ThermodynamicTemperature>(r, "dew_point");
    for t in temperature.iter().chain(&dew_point) {
        // From 80 below to 60 above zero Celsius lie all places where loads are lifted.
        if !(193.15..=333.15).contains(&t.value.value) {
            r.error(
                &t.span,
                format!("`{}` is no temperature of outside air", t.text),
                "outside -80 to 60 °C",
                "check number and unit",
            );
        }
    }
    if let (Some(t), Some(d)) = (&temperature, &dew_point)
        && d.value.value > t.value.value
    {
        r.error(
            &d.span,
            "the dew point is above the temperature",
            "cannot be",
            "check both; in fog they are equal",
        );
    }
    let fuel_burn = f.quantity::<Mass>(r, "fuel_burn");
    if let Some(fuel) = &fuel_burn
        && fuel.value.value < 0.0
    {
        r.error(
            &fuel.span,
            "`fuel_burn` is negative",
            "must be zero or more",
            "write the fuel burnt from start to here",
        );
    }
    let span = f.span.clone();
    f.finish(r);
    Some(Site {
        name: name?.value,
        altitude: altitude?,
        temperature: temperature?,
        dew_point,
        fuel_burn,
        span,
    })
}
