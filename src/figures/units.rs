//! The units in which masses and lengths are said: those of the plan.

use super::air::FT_M;
use serde::Serialize;

/// The unit in which masses are said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum MassUnit {
    /// Kilogram.
    Kg,
    /// Tonne of 1,000 kg.
    T,
    /// Avoirdupois pound of 0.45359237 kg.
    Lb,
}

impl MassUnit {
    /// Kilograms in one of it.
    pub fn kg(self) -> f64 {
        match self {
            MassUnit::Kg => 1.0,
            MassUnit::T => 1000.0,
            MassUnit::Lb => 0.453_592_37,
        }
    }

    /// A mass in this unit as written ("1,240 kg").
    pub fn written(self, kg: f64) -> String {
        self.written_finer(kg, 0)
    }

    /// The same with so many decimals more.
    pub(super) fn written_finer(self, kg: f64, more: usize) -> String {
        let value = kg / self.kg();
        match self {
            MassUnit::Kg => format!("{} kg", thousands(value, more)),
            MassUnit::Lb => format!("{} lb", thousands(value, more)),
            MassUnit::T => format!("{value:.*} t", 2 + more),
        }
    }

    /// A mass in this unit as spoken ("1240 kilograms").
    pub fn spoken(self, kg: f64) -> String {
        self.spoken_finer(kg, 0)
    }

    /// The same with so many decimals more.
    pub(super) fn spoken_finer(self, kg: f64, more: usize) -> String {
        let value = kg / self.kg();
        match self {
            MassUnit::Kg => format!("{value:.more$} kilograms"),
            MassUnit::Lb => format!("{value:.more$} pounds"),
            MassUnit::T => format!("{value:.*} tonnes", 2 + more),
        }
    }
}

/// A number with so many decimals, thousands set off by commas.
fn thousands(value: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", value.abs());
    let (digits, rest) = text.split_at(text.find('.').unwrap_or(text.len()));
    let mut out = String::new();
    if value < 0.0 && text.contains(|c: char| c != '0' && c != '.') {
        out.push('-');
    }
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(c);
    }
    out + rest
}

/// The unit in which lengths are said.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LengthUnit {
    /// Metre.
    #[default]
    M,
    /// Foot of 0.3048 m.
    Ft,
}

impl LengthUnit {
    /// Metres in one of it.
    pub fn m(self) -> f64 {
        match self {
            LengthUnit::M => 1.0,
            LengthUnit::Ft => FT_M,
        }
    }

    /// Its sign ("ft").
    pub fn sign(self) -> &'static str {
        match self {
            LengthUnit::M => "m",
            LengthUnit::Ft => "ft",
        }
    }

    /// A length in this unit as written ("2.62 m"), to the hundredth.
    pub fn written(self, m: f64) -> String {
        format!("{:.2} {}", m / self.m(), self.sign())
    }

    /// A small length as written: millimetres ("12 mm") or inches ("0.5 in").
    pub fn small(self, m: f64) -> String {
        match self {
            LengthUnit::M => format!("{:.0} mm", m * 1000.0),
            LengthUnit::Ft => format!("{:.1} in", m / FT_M * 12.0),
        }
    }

    /// A length in this unit as spoken ("2.6 metres").
    pub fn spoken(self, m: f64) -> String {
        let name = match self {
            LengthUnit::M => "metres",
            LengthUnit::Ft => "feet",
        };
        format!("{:.1} {name}", m / self.m())
    }
}
