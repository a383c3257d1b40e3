//! Single values of the plan: what they are, and what can be made of them.

use super::quantity::parse_quantity;
use super::reader::{Findings, Text, did_you_mean};
use crate::plan::{Measured, Quantity, limits};
use std::ops::Range;
use toml::Spanned;
use toml::de::DeValue;

pub(super) type Value<'d> = Spanned<DeValue<'d>>;

/// `[a]` and `b` make `[a.b]`; the top of the file makes `[b]`.
pub(super) fn under(place: &str, key: &str) -> String {
    let inner = place.trim_matches(|c| c == '[' || c == ']');
    if place.starts_with('[') {
        format!("[{inner}.{key}]")
    } else {
        format!("[{key}]")
    }
}

pub(super) fn kind_of(value: &Value<'_>) -> &'static str {
    match value.get_ref() {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

pub(super) fn text_of(
    r: &mut Findings,
    key: &str,
    s: &str,
    span: Range<usize>,
    example: &str,
) -> Option<Text> {
    let trimmed = s.trim();
    if trimmed.is_empty() {
        r.error(
            &span,
            format!("`{key}` is empty"),
            "nothing in it",
            format!("write it, \"{example}\" say, or leave the line out"),
        );
        return None;
    }
    if trimmed.chars().any(char::is_control) {
        r.error(
            &span,
            format!("`{key}` holds a line break or another control character"),
            "must be one line",
            "write it on one line",
        );
        return None;
    }
    if trimmed.chars().count() > limits::TEXT_CHARS {
        r.error(
            &span,
            format!("`{key}` is longer than {} characters", limits::TEXT_CHARS),
            "too long",
            "shorten it",
        );
        return None;
    }
    Some(Text {
        value: trimmed.to_string(),
        span,
    })
}

/// A text, a whole number or a decimal number as text.
pub(super) fn number_text(value: &Value<'_>) -> Option<Text> {
    let text = match value.get_ref() {
        DeValue::String(s) => s.trim().to_string(),
        DeValue::Integer(i) if i.radix() == 10 => i.as_str().to_string(),
        DeValue::Float(f) => f.as_str().to_string(),
        _ => return None,
    };
    let short = text.chars().count() <= limits::TEXT_CHARS;
    (short && !text.is_empty() && !text.chars().any(char::is_control)).then(|| Text {
        value: text,
        span: value.span(),
    })
}

pub(super) fn choose<T: Copy>(
    r: &mut Findings,
    key: &str,
    text: &Text,
    choices: &[(&str, T)],
) -> Option<T> {
    let found = choices.iter().find(|(word, _)| *word == text.value);
    if found.is_none() {
        r.error(
            &text.span,
            format!("`{key}` cannot be `{}`", text.value),
            "not one of the known words",
            did_you_mean(&text.value, choices.iter().map(|(word, _)| *word)),
        );
    }
    found.map(|&(_, t)| t)
}

pub(super) fn whole_of(
    r: &mut Findings,
    key: &str,
    value: &Value<'_>,
    range: std::ops::RangeInclusive<u32>,
) -> Option<(u32, Range<usize>)> {
    let number = match value.get_ref() {
        DeValue::Integer(i) if i.radix() == 10 => i.as_str().parse::<u32>().ok(),
        _ => None,
    };
    let found = number.filter(|n| range.contains(n));
    if found.is_none() {
        r.error(
            &value.span(),
            format!(
                "`{key}` must be a whole number from {} to {}",
                range.start(),
                range.end()
            ),
            "outside the range",
            format!(
                "write a whole number from {} to {}",
                range.start(),
                range.end()
            ),
        );
    }
    found.map(|n| (n, value.span()))
}

pub(super) fn quantity_of<T: Measured>(
    r: &mut Findings,
    key: &str,
    value: &Value<'_>,
) -> Option<Quantity<T>> {
    let number = match value.get_ref() {
        DeValue::String(s) => {
            return match parse_quantity::<T>(s, value.span()) {
                Ok(quantity) => Some(quantity),
                Err(e) => {
                    r.error(
                        &value.span(),
                        format!("`{key}`: {}", e.title),
                        e.label,
                        e.help,
                    );
                    None
                }
            };
        }
        DeValue::Integer(i) => i.to_string(),
        DeValue::Float(f) => f.to_string(),
        _ => {
            r.error(
                &value.span(),
                format!(
                    "`{key}` is {}; it takes {} with its unit",
                    kind_of(value),
                    T::WHAT
                ),
                "not a number with a unit",
                format!("write {key} = \"{}\"", T::EXAMPLE),
            );
            return None;
        }
    };
    r.error(
        &value.span(),
        format!("`{key}` has no unit"),
        format!("{number} of what?"),
        format!("write {key} = \"{number} {}\"", T::UNITS[0].names[0]),
    );
    None
}
