//! Reads a number with its unit: `1240 kg`, `1240 kg +/- 40 kg`, `1240 +/- 40 kg`, `1240 kg ± 3 %`.

use super::reader::did_you_mean;
use crate::plan::{Measured, Quantity, Unit};
use std::ops::Range;

pub(super) struct QuantityError {
    pub title: String,
    pub label: String,
    pub help: String,
}

fn fault<T>(
    title: impl Into<String>,
    label: impl Into<String>,
    help: impl Into<String>,
) -> Result<T, QuantityError> {
    Err(QuantityError {
        title: title.into(),
        label: label.into(),
        help: help.into(),
    })
}

/// The quantity in a text.
pub(super) fn parse_quantity<T: Measured>(
    text: &str,
    span: Range<usize>,
) -> Result<Quantity<T>, QuantityError> {
    let text = text.trim();
    let (value_text, spread_text) = match split_plus_minus(text) {
        Some((value, spread)) => (value, Some(spread)),
        None => (text, None),
    };
    let (number, unit_name) = number_and_unit::<T>(value_text)?;
    let spread = spread_text.map(number_and_unit::<T>).transpose()?;
    // "1240 +/- 40 kg": one unit for both.
    let value_unit_name = match (unit_name, &spread) {
        ("", Some((_, name))) if *name != "%" || !T::RELATIVE => *name,
        (name, _) => name,
    };
    if value_unit_name.is_empty() {
        return fault(
            format!("`{text}` has no unit"),
            "number of what?",
            format!("write \"{} {}\"", value_text.trim(), T::UNITS[0].names[0]),
        );
    }
    let unit = unit::<T>(value_unit_name)?;
    let value = (unit.value)(number);
    if let Some((share, "%")) = spread
        && T::RELATIVE
        && share > 100.0
    {
        return fault(
            format!("the plus or minus in `{text}` is more than all of it"),
            "up to 100 %",
            "write the share by which it may be off, or the plus or minus with its unit",
        );
    }
    let plus_minus = match spread {
        None => T::spread_from_si(0.0),
        Some((share, "%")) if T::RELATIVE => T::spread_from_si(value.si().abs() * share / 100.0),
        Some((width, "")) => (unit.spread)(width),
        Some((width, name)) => (self::unit::<T>(name)?.spread)(width),
    };
    if T::spread_si(plus_minus) < 0.0 {
        return fault(
            format!("the plus or minus in `{text}` is negative"),
            "must be zero or more",
            "write it without a sign",
        );
    }
    let in_range = |x: f64| x.is_finite() && x.abs() <= T::LARGEST;
    if !in_range(value.si()) || !in_range(T::spread_si(plus_minus)) {
        return fault(
            format!("`{text}` is beyond anything that is lifted"),
            "far too large",
            "check number and unit",
        );
    }
    Ok(Quantity {
        value,
        plus_minus,
        text: text.to_string(),
        span,
    })
}

/// A list of quantities written as numbers with one unit at the end: `0 2000 4000 ft`.
pub(super) fn parse_quantities<T: Measured>(
    text: &str,
    span: &Range<usize>,
) -> Result<Vec<Quantity<T>>, QuantityError> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let Some((last, numbers)) = words.split_last() else {
        return fault(
            "empty list of numbers",
            "nothing in it",
            format!("write numbers and one unit at the end: \"{}\"", T::EXAMPLE),
        );
    };
    if last.parse::<f64>().is_ok() {
        return fault(
            "the list of numbers has no unit at its end",
            "numbers of what?",
            format!("write \"{} {}\"", text.trim(), T::UNITS[0].names[0]),
        );
    }
    numbers
        .iter()
        .map(|n| parse_quantity::<T>(&format!("{n} {last}"), span.clone()))
        .collect()
}

fn split_plus_minus(text: &str) -> Option<(&str, &str)> {
    ["+/-", "±", "+-"]
        .iter()
        .find_map(|mark| text.split_once(mark))
        .map(|(a, b)| (a.trim(), b.trim()))
}

/// The number at the start and what follows it.
fn number_and_unit<T: Measured>(text: &str) -> Result<(f64, &str), QuantityError> {
    let bytes = text.as_bytes();
    let mut end = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    while bytes
        .get(end)
        .is_some_and(|b| b.is_ascii_digit() || *b == b'.')
    {
        end += 1;
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let mut after = end + 1;
        after += usize::from(matches!(bytes.get(after), Some(b'+' | b'-')));
        if bytes.get(after).is_some_and(u8::is_ascii_digit) {
            while bytes.get(after).is_some_and(u8::is_ascii_digit) {
                after += 1;
            }
            end = after;
        }
    }
    let (number_text, rest) = text.split_at(end);
    let rest = rest.trim();
    let Ok(number) = number_text.parse::<f64>() else {
        return fault(
            format!("`{text}` does not start with a number"),
            format!("not {} with its unit", T::WHAT),
            format!("write number and unit: \"{}\"", T::EXAMPLE),
        );
    };
    if rest.starts_with([',', '\'', '_']) {
        return fault(
            format!("`{text}` holds a comma or another mark inside its number"),
            "not clear what is meant",
            "write thousands without a mark (1240) and decimals with a point (2.4)",
        );
    }
    if rest.chars().any(|c| c.is_ascii_digit()) {
        return fault(
            format!("`{text}` holds two numbers"),
            "one number, one unit",
            format!("write it in one unit: \"{}\"", T::EXAMPLE),
        );
    }
    Ok((number, rest))
}

fn unit<T: Measured>(name: &str) -> Result<&'static Unit<T>, QuantityError> {
    if let Some(unit) = T::UNITS.iter().find(|u| u.names.contains(&name)) {
        return Ok(unit);
    }
    let known = T::UNITS.iter().map(|u| u.names[0]);
    match unit_of_another_kind(name) {
        Some(kind) if kind != T::WHAT => fault(
            format!("`{name}` is a unit of {kind}, but this is {}", T::WHAT),
            format!("not {}", T::WHAT),
            format!(
                "write it in {}: \"{}\"",
                known.collect::<Vec<_>>().join(", "),
                T::EXAMPLE
            ),
        ),
        _ => fault(
            format!("unknown unit `{name}` for {}", T::WHAT),
            "not a unit known here",
            did_you_mean(name, known),
        ),
    }
}

fn unit_of_another_kind(name: &str) -> Option<&'static str> {
    use uom::si::f64::{
        Angle, Length, Mass, Pressure, Ratio, SurfaceTension, ThermodynamicTemperature,
    };
    fn has<T: Measured>(name: &str) -> Option<&'static str> {
        T::UNITS
            .iter()
            .any(|u| u.names.contains(&name))
            .then_some(T::WHAT)
    }
    has::<Mass>(name)
        .or_else(|| has::<Length>(name))
        .or_else(|| has::<Pressure>(name))
        .or_else(|| has::<Angle>(name))
        .or_else(|| has::<Ratio>(name))
        .or_else(|| has::<SurfaceTension>(name))
        .or_else(|| has::<ThermodynamicTemperature>(name))
}
