//! What may hang on the hook today: as somebody said, or from the table that the plan holds.

use super::air::{Air, air, pressure_altitude_m};
use super::from_plan::{kg, least_kg};
use crate::plan::{AllowableTable, Lift, Measured, Quantity, Site, SiteAltitude, TableGives, Unit};
use serde::Serialize;
use thiserror::Error;

/// Why a table has no answer for a site.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum AllowableError {
    /// The altitude lies outside the table.
    #[error(
        "{site} is at {at} pressure altitude{}, the table runs from {low} to {high} and is not \
         carried on beyond; take the value from the flight manual",
        end(*off)
    )]
    Altitude {
        /// The site.
        site: String,
        /// Its pressure altitude, in the unit of the table.
        at: String,
        /// Whether that is at an end of its plus or minus.
        off: bool,
        /// The table's lowest, as the plan writes it.
        low: String,
        /// The table's highest.
        high: String,
    },
    /// The temperature lies outside the table.
    #[error(
        "{site} is at {at}{}, the table runs from {low} to {high} and is not carried on beyond; \
         take the value from the flight manual",
        end(*off)
    )]
    Temperature {
        /// The site.
        site: String,
        /// Its temperature, in the unit of the table.
        at: String,
        /// Whether that is at an end of its plus or minus.
        off: bool,
        /// The table's lowest, as the plan writes it.
        low: String,
        /// The table's highest.
        high: String,
    },
    /// The plan gives neither a value nor a table with a site.
    #[error("nobody says what may hang on the hook today; give lift.allowable or a table")]
    NotGiven,
}

/// One value read from a table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cell {
    /// The value between the four corners, kg.
    pub kg: f64,
    /// Rows between which it lies, pressure altitude, m.
    pub altitudes_m: [f64; 2],
    /// Columns between which it lies, °C.
    pub temperatures_c: [f64; 2],
    /// The corners by row, then column, kg.
    pub corners_kg: [[f64; 2]; 2],
    /// The two rows as the plan writes them ("2000 ft").
    pub rows: [String; 2],
    /// The two columns as the plan writes them ("10 °C").
    pub columns: [String; 2],
    /// The corners as the plan writes them, by row, then column.
    pub corners: [[String; 2]; 2],
}

/// What may hang on the hook at one site.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SiteAllowable {
    /// The site.
    pub site: String,
    /// Its air.
    pub air: Air,
    /// The cell of the table.
    pub cell: Cell,
    /// Fuel burnt until then, kg.
    pub fuel_burnt_kg: f64,
    /// Allowable hook load there, kg, after fuel and before the deduction.
    pub kg: f64,
}

/// What may hang on the hook today.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AllowableToday {
    /// Rigging included, after the deduction, kg.
    pub kg: f64,
    /// Deduction applied, percent.
    pub deduction_percent: f64,
    /// Who or what decides it.
    pub from: String,
    /// Every site's value, where the plan holds a table.
    pub sites: Vec<SiteAllowable>,
}

/// What may hang on the hook today: the least of what somebody said and what the table gives at each
/// site, less the deduction in percent.
///
/// # Errors
/// A site outside the table, or no value at all.
pub fn allowable_today(lift: &Lift) -> Result<AllowableToday, AllowableError> {
    let deduction_percent = lift
        .deduction
        .as_ref()
        .map_or(0.0, |d| (d.value.value + d.plus_minus.value) * 100.0);
    let sites = match &lift.table {
        None => Vec::new(),
        Some(table) => lift
            .sites
            .iter()
            .map(|site| at_worst(table, site))
            .collect::<Result<Vec<_>, _>>()?,
    };
    let said = lift
        .allowable
        .as_ref()
        .map(|a| (least_kg(&a.mass), a.from.clone()));
    let from_table = sites.iter().zip(std::iter::repeat(lift.table.as_ref()));
    let tabled = from_table.map(|(site, table)| {
        let source = table.map_or("", |t| t.from.as_str());
        (site.kg, format!("{source}, at {}", site.site))
    });
    let (least, from) = said
        .into_iter()
        .chain(tabled)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .ok_or(AllowableError::NotGiven)?;
    Ok(AllowableToday {
        kg: least * (1.0 - deduction_percent / 100.0),
        deduction_percent,
        from,
        sites,
    })
}

/// The pressure altitude (m) and the air of a site.
pub fn site_air(site: &Site) -> Air {
    air_off(site, 0.0, 0.0)
}

/// The air of a site with altitude and temperature off by so many of their plus or minus.
fn air_off(site: &Site, altitude: f64, temperature: f64) -> Air {
    let pressure_altitude_m = match &site.altitude {
        SiteAltitude::Pressure(a) => a.value.value + altitude * a.plus_minus.value,
        // Less pressure is as more height.
        SiteAltitude::Elevation { elevation, qnh } => pressure_altitude_m(
            elevation.value.value + altitude * elevation.plus_minus.value,
            qnh.value.value - altitude * qnh.plus_minus.value,
        ),
    };
    air(
        pressure_altitude_m,
        site.temperature.value.value + temperature * site.temperature.plus_minus.value,
        site.dew_point.as_ref().map(|d| d.value.value),
    )
}

/// What the table gives at the worst of the plus or minus on altitude and temperature.
fn at_worst(table: &AllowableTable, site: &Site) -> Result<SiteAllowable, AllowableError> {
    let mut least = at_site(table, site, [0.0, 0.0])?;
    for ends in [[-1.0, -1.0], [-1.0, 1.0], [1.0, -1.0], [1.0, 1.0]] {
        let here = at_site(table, site, ends)?;
        if here.kg < least.kg {
            least = here;
        }
    }
    Ok(least)
}

fn at_site(
    table: &AllowableTable,
    site: &Site,
    [altitude, temperature]: [f64; 2],
) -> Result<SiteAllowable, AllowableError> {
    let air = air_off(site, altitude, temperature);
    let altitudes: Vec<f64> = table
        .pressure_altitude
        .iter()
        .map(|a| a.value.value)
        .collect();
    let temperatures: Vec<f64> = table.temperature.iter().map(|t| t.value.value).collect();
    let temperature_k =
        site.temperature.value.value + temperature * site.temperature.plus_minus.value;
    let off = |exact: bool, sign: f64| !exact && sign != 0.0;
    let (row, down) = place(&altitudes, air.pressure_altitude_m).ok_or_else(|| {
        let [at, low, high] = beyond(air.pressure_altitude_m, &table.pressure_altitude);
        AllowableError::Altitude {
            site: site.name.clone(),
            at,
            off: off(
                site_air(site).pressure_altitude_m == air.pressure_altitude_m,
                altitude,
            ),
            low,
            high,
        }
    })?;
    let (column, across) = place(&temperatures, temperature_k).ok_or_else(|| {
        let [at, low, high] = beyond(temperature_k, &table.temperature);
        AllowableError::Temperature {
            site: site.name.clone(),
            at,
            off: off(site.temperature.value.value == temperature_k, temperature),
            low,
            high,
        }
    })?;
    let corner = |r: usize, c: usize| least_kg(&table.cells[row + r][column + c]);
    let written = |r: usize, c: usize| table.cells[row + r][column + c].text.clone();
    let columns = [0, 1].map(|c| table.temperature[column + c].text.clone());
    let rows = [0, 1].map(|r| table.pressure_altitude[row + r].text.clone());
    let corners_kg = [[corner(0, 0), corner(0, 1)], [corner(1, 0), corner(1, 1)]];
    let between = |pair: [f64; 2]| pair[0] + across * (pair[1] - pair[0]);
    let upper = between(corners_kg[0]);
    let value = upper + down * (between(corners_kg[1]) - upper);
    let fuel_burnt_kg = site.fuel_burn.as_ref().map_or(0.0, least_kg);
    let allowed = match &table.gives {
        // Burnt fuel makes no room above what the table allows anywhere: that may be a limit of the aircraft.
        TableGives::HookLoad => {
            let cells = table.cells.iter().flatten().map(least_kg);
            (value + fuel_burnt_kg).min(cells.fold(value, f64::max))
        }
        TableGives::GrossMass {
            operating,
            fuel,
            max,
        } => {
            let gross = max.as_ref().map_or(value, |m| value.min(least_kg(m)));
            let most = |m| kg(m) + m.plus_minus.value;
            gross - most(operating) - (most(fuel) - fuel_burnt_kg)
        }
    };
    Ok(SiteAllowable {
        site: site.name.clone(),
        air,
        cell: Cell {
            kg: value,
            altitudes_m: [altitudes[row], altitudes[row + 1]],
            temperatures_c: [
                celsius(temperatures[column]),
                celsius(temperatures[column + 1]),
            ],
            corners_kg,
            rows,
            columns,
            corners: [0, 1].map(|r| [0, 1].map(|c| written(r, c))),
        },
        fuel_burnt_kg,
        kg: allowed,
    })
}

/// The interval of a rising axis that holds a value, and how far into it; `None` outside. A hair of
/// rounding from unit conversion counts as inside.
fn place(axis: &[f64], value: f64) -> Option<(usize, f64)> {
    let hair = 1e-9 * value.abs().max(1.0);
    axis.windows(2).enumerate().find_map(|(at, pair)| {
        (pair[0] - hair..=pair[1] + hair).contains(&value).then(|| {
            (
                at,
                ((value - pair[0]) / (pair[1] - pair[0])).clamp(0.0, 1.0),
            )
        })
    })
}

/// What is said of the plus or minus in the message of a site outside its table.
fn end(off: bool) -> &'static str {
    if off {
        " at an end of its plus or minus"
    } else {
        ""
    }
}

/// A value outside a rising axis, in the axis' own unit and with as many decimals as it takes to read otherwise than the
/// axis' end, and both ends as the plan writes them.
fn beyond<T: Measured>(si: f64, axis: &[Quantity<T>]) -> [String; 3] {
    let (Some(low), Some(high)) = (axis.first(), axis.last()) else {
        return [format!("{si}"), String::new(), String::new()];
    };
    let passed = if si < low.value.si() { low } else { high };
    let words = |unit: &&Unit<T>| unit.names.iter().any(|name| low.text.ends_with(name));
    // Of "m" and "cm" the longer.
    let length = |unit: &&Unit<T>| {
        let fits = unit.names.iter().filter(|name| low.text.ends_with(*name));
        fits.map(|name| name.len()).max()
    };
    let unit = T::UNITS.iter().filter(words).max_by_key(length);
    let (zero, one) = unit.map_or((0.0, 1.0), |u| ((u.value)(0.0).si(), (u.value)(1.0).si()));
    let number = |si: f64| (si - zero) / (one - zero);
    let sign = unit.map_or("", |u| u.names[0]);
    let written = |si: f64, decimals: usize| format!("{:.decimals$}", number(si));
    let differs = |d: &usize| written(si, *d) != written(passed.value.si(), *d);
    let decimals = (0..4).find(differs).unwrap_or(4);
    [
        format!("{} {sign}", written(si, decimals)),
        low.text.clone(),
        high.text.clone(),
    ]
}

fn celsius(kelvin: f64) -> f64 {
    kelvin - 273.15
}
