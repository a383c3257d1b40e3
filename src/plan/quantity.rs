//! Numbers with units as a plan writes them, kept as SI quantities beside their own text.

use std::fmt;
use std::ops::Range;
use uom::si::f64::{
    Angle, Length, Mass, Pressure, Ratio, SurfaceTension, TemperatureInterval,
    ThermodynamicTemperature,
};

/// Force per stretch. It has the dimension that the units library calls surface tension.
pub type Stiffness = SurfaceTension;

/// A measured value with its uncertainty, and the words in which the plan gave it.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantity<T: Measured> {
    /// The value.
    pub value: T,
    /// Half the width of the interval in which the value lies; zero where the plan gives none.
    pub plus_minus: T::Spread,
    /// As written in the plan ("1240 kg +/- 40 kg"); for a computed value how it came about.
    pub text: String,
    /// Where in the plan's text, bytes.
    pub span: Range<usize>,
}

impl<T: Measured> fmt::Display for Quantity<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

/// The first word of a quantity's text, which is its unit. The `e` of `2.5e3` stands between digits and is none.
pub(crate) fn unit_word(text: &str) -> &str {
    let words = text.split(|c: char| !c.is_alphabetic());
    let mut words = words.filter(|w| !w.is_empty() && !w.eq_ignore_ascii_case("e"));
    words.next().unwrap_or_default()
}

/// Standard gravity, m/s², exact by definition (3rd CGPM, 1901). It turns a rating given as a force
/// into the mass that it holds at rest.
pub const STANDARD_GRAVITY: f64 = 9.806_65;

/// A kind of quantity that a plan may hold.
pub trait Measured: Copy + fmt::Debug + PartialEq + 'static {
    /// The type of a difference of two such values.
    type Spread: Copy + fmt::Debug + PartialEq + 'static;
    /// With its article ("a mass").
    const WHAT: &'static str;
    /// A well-formed text.
    const EXAMPLE: &'static str;
    /// Greatest magnitude in SI units that is taken for meant.
    const LARGEST: f64;
    /// The units that are understood.
    const UNITS: &'static [Unit<Self>];
    /// The value in SI units.
    fn si(self) -> f64;
    /// The magnitude of a difference in SI units.
    fn spread_si(spread: Self::Spread) -> f64;
    /// A difference from SI units.
    fn spread_from_si(si: f64) -> Self::Spread;
    /// Whether "5 %" makes sense as an uncertainty.
    const RELATIVE: bool;
}

/// One unit of a kind of quantity.
pub struct Unit<T: Measured> {
    /// Its names; the first is the one shown.
    pub names: &'static [&'static str],
    /// The value of so many of it.
    pub value: fn(f64) -> T,
    /// The difference of so many of it.
    pub spread: fn(f64) -> T::Spread,
}

macro_rules! unit {
    ($quantity:ty, $unit:path, $($name:literal),+) => {
        Unit {
            names: &[$($name),+],
            value: |x| <$quantity>::new::<$unit>(x),
            spread: |x| <$quantity>::new::<$unit>(x),
        }
    };
}

macro_rules! plain_measured {
    ($quantity:ident, $what:literal, $example:literal, $largest:expr, $relative:expr, $units:expr) => {
        impl Measured for $quantity {
            type Spread = $quantity;
            const WHAT: &'static str = $what;
            const EXAMPLE: &'static str = $example;
            const LARGEST: f64 = $largest;
            const UNITS: &'static [Unit<Self>] = $units;
            const RELATIVE: bool = $relative;
            fn si(self) -> f64 {
                self.value
            }
            fn spread_si(spread: Self) -> f64 {
                spread.value
            }
            fn spread_from_si(si: f64) -> Self {
                // `value` is the quantity in SI base units, which is what comes in.
                Self {
                    dimension: std::marker::PhantomData,
                    units: std::marker::PhantomData,
                    value: si,
                }
            }
        }
    };
}

/// The international avoirdupois pound, exact by definition; the library's is rounded.
fn pounds(number: f64) -> Mass {
    Mass::new::<uom::si::mass::kilogram>(number * 0.453_592_37)
}

fn mass_held(newtons: f64) -> Mass {
    Mass::new::<uom::si::mass::kilogram>(newtons / STANDARD_GRAVITY)
}

macro_rules! force_as_mass {
    ($unit:path, $($name:literal),+) => {
        Unit {
            names: &[$($name),+],
            value: |x| mass_held(uom::si::f64::Force::new::<$unit>(x).value),
            spread: |x| mass_held(uom::si::f64::Force::new::<$unit>(x).value),
        }
    };
}

plain_measured!(
    Mass,
    "a mass",
    "1240 kg",
    1e7,
    true,
    &[
        unit!(Mass, uom::si::mass::kilogram, "kg"),
        unit!(Mass, uom::si::mass::ton, "t"),
        Unit {
            names: &["lb", "lbs"],
            value: pounds,
            spread: pounds,
        },
        force_as_mass!(uom::si::force::newton, "N"),
        force_as_mass!(uom::si::force::kilonewton, "kN"),
        // A pound-force is what a pound pulls at rest.
        Unit {
            names: &["lbf"],
            value: pounds,
            spread: pounds,
        },
    ]
);
plain_measured!(
    Length,
    "a length",
    "2.4 m",
    1e5,
    true,
    &[
        unit!(Length, uom::si::length::meter, "m"),
        unit!(Length, uom::si::length::centimeter, "cm"),
        unit!(Length, uom::si::length::millimeter, "mm"),
        unit!(Length, uom::si::length::foot, "ft"),
        unit!(Length, uom::si::length::inch, "in"),
    ]
);
plain_measured!(
    Pressure,
    "an air pressure",
    "1013 hPa",
    2e5,
    false,
    &[
        unit!(Pressure, uom::si::pressure::hectopascal, "hPa", "mbar"),
        unit!(Pressure, uom::si::pressure::inch_of_mercury, "inHg"),
    ]
);
plain_measured!(
    Angle,
    "an angle",
    "5 degrees",
    7.0,
    false,
    &[unit!(
        Angle,
        uom::si::angle::degree,
        "degrees",
        "degree",
        "deg",
        "°"
    )]
);
plain_measured!(
    Ratio,
    "a share",
    "10 percent",
    1e3,
    false,
    &[unit!(Ratio, uom::si::ratio::percent, "percent", "%")]
);
plain_measured!(
    SurfaceTension,
    "a stiffness",
    "400 kN/m",
    1e12,
    true,
    &[
        Unit {
            names: &["kN/m"],
            value: |x| Stiffness::new::<uom::si::surface_tension::newton_per_meter>(x * 1e3),
            spread: |x| Stiffness::new::<uom::si::surface_tension::newton_per_meter>(x * 1e3),
        },
        unit!(
            SurfaceTension,
            uom::si::surface_tension::newton_per_meter,
            "N/m"
        ),
    ]
);

impl Measured for ThermodynamicTemperature {
    type Spread = TemperatureInterval;
    const WHAT: &'static str = "a temperature";
    const EXAMPLE: &'static str = "15 °C";
    const LARGEST: f64 = 400.0;
    const UNITS: &'static [Unit<Self>] = &[
        Unit {
            names: &["°C", "C"],
            value: |x| Self::new::<uom::si::thermodynamic_temperature::degree_celsius>(x),
            spread: |x| {
                TemperatureInterval::new::<uom::si::temperature_interval::degree_celsius>(x)
            },
        },
        Unit {
            names: &["°F", "F"],
            value: |x| Self::new::<uom::si::thermodynamic_temperature::degree_fahrenheit>(x),
            spread: |x| {
                TemperatureInterval::new::<uom::si::temperature_interval::degree_fahrenheit>(x)
            },
        },
    ];
    const RELATIVE: bool = false;
    fn si(self) -> f64 {
        self.value
    }
    fn spread_si(spread: TemperatureInterval) -> f64 {
        spread.value
    }
    fn spread_from_si(si: f64) -> TemperatureInterval {
        TemperatureInterval::new::<uom::si::temperature_interval::kelvin>(si)
    }
}
