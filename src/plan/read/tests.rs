use super::quantity::{parse_quantities, parse_quantity};
use crate::plan::{Measured, Quantity, Stiffness};
use uom::si::f64::{Angle, Length, Mass, Pressure, Ratio, ThermodynamicTemperature};

fn read<T: Measured>(text: &str) -> Quantity<T> {
    parse_quantity::<T>(text, 0..text.len()).unwrap_or_else(|e| panic!("{text}: {}", e.title))
}

fn si<T: Measured>(text: &str) -> f64 {
    read::<T>(text).value.si()
}

fn spread<T: Measured>(text: &str) -> f64 {
    T::spread_si(read::<T>(text).plus_minus)
}

#[track_caller]
fn near(found: f64, wanted: f64) {
    let apart = (found - wanted).abs();
    assert!(apart <= wanted.abs() * 1e-6, "{found} is not {wanted}");
}

/// Factors from NIST Special Publication 811 (2008), appendix B.8; the inch of mercury is its
/// conventional one. Printed there to seven figures.
#[test]
fn units_have_the_published_factors() {
    near(si::<Mass>("1 t"), 1000.0);
    near(si::<Mass>("1 lb"), 0.453_592_37);
    near(si::<Length>("1 ft"), 0.3048);
    near(si::<Length>("1 in"), 0.0254);
    near(si::<Length>("1 cm"), 0.01);
    near(si::<Length>("1 mm"), 0.001);
    near(si::<Pressure>("1 hPa"), 100.0);
    near(si::<Pressure>("1 inHg"), 3386.389);
    near(si::<Angle>("1 degree"), 1.745_329e-2);
    near(si::<Ratio>("10 percent"), 0.1);
    near(si::<Stiffness>("1 kN/m"), 1000.0);
}

/// Fixed points: 0 °C is 273.15 K, 32 °F is 0 °C, 212 °F is 100 °C (NIST SP 811, B.8).
#[test]
fn temperatures_have_their_fixed_points() {
    near(si::<ThermodynamicTemperature>("0 °C"), 273.15);
    near(si::<ThermodynamicTemperature>("32 F"), 273.15);
    near(si::<ThermodynamicTemperature>("212 °F"), 373.15);
    near(
        si::<ThermodynamicTemperature>("-40 C"),
        si::<ThermodynamicTemperature>("-40 F"),
    );
    near(spread::<ThermodynamicTemperature>("15 °C +/- 2 °C"), 2.0);
    near(spread::<ThermodynamicTemperature>("59 °F +/- 9 °F"), 5.0);
}

/// A force is the mass that it holds: 9.80665 N for a kilogram, and a pound-force for a pound, both
/// by definition.
#[test]
fn forces_are_read_as_the_mass_that_they_hold() {
    near(si::<Mass>("9.80665 N"), 1.0);
    near(si::<Mass>("9.80665 kN"), 1000.0);
    near(si::<Mass>("1 lbf"), si::<Mass>("1 lb"));
}

#[test]
fn plus_minus_has_the_units_of_its_value_unless_it_says_otherwise() {
    near(spread::<Mass>("1240 kg +/- 40 kg"), 40.0);
    near(spread::<Mass>("1240 +/- 40 kg"), 40.0);
    near(spread::<Mass>("1240 kg ± 40"), 40.0);
    near(spread::<Mass>("1.24 t +/- 40 kg"), 40.0);
    near(spread::<Mass>("1240 kg +/- 5 %"), 62.0);
    near(spread::<Length>("-2 m +/- 10 %"), 0.2);
    near(spread::<Ratio>("10 +/- 2 %"), 0.02);
    assert_eq!(spread::<Mass>("1240 kg"), 0.0);
}

#[test]
fn the_plans_own_words_are_kept() {
    let mass = read::<Mass>("  2733.7 lb +/- 88 lb ");
    assert_eq!(mass.text, "2733.7 lb +/- 88 lb");
    assert_eq!(mass.to_string(), "2733.7 lb +/- 88 lb");
}

#[test]
fn a_list_has_one_unit_at_its_end() {
    let list = parse_quantities::<Length>("0 2000 4000 ft", &(0..14))
        .unwrap_or_else(|e| panic!("{}", e.title));
    let metres: Vec<f64> = list.iter().map(|q| q.value.si()).collect();
    near(metres[1], 609.6);
    near(metres[2], 1219.2);
    assert_eq!(metres.len(), 3);
    assert!(parse_quantities::<Length>("0 2000", &(0..6)).is_err());
    assert!(parse_quantities::<Length>("", &(0..0)).is_err());
}

#[test]
fn nothing_unclear_becomes_a_number() {
    for text in [
        "",
        "kg",
        "1240",
        "1,240 kg",
        "1 240 kg",
        "1240 KG",
        "1240 kgs",
        "1240 m",
        "nan kg",
        "inf kg",
        "1e99 kg",
        "1240 kg +/-",
        "1240 kg +/- x kg",
        "1240 kg +/- -1 kg",
        "1240 kg +/- 1 m",
        "1..2 kg",
        "--1 kg",
        "½ kg",
        "1240 kg +/- 5 % +/- 1 kg",
        "12 %",
        "1240 kg +/- 250 %",
    ] {
        assert!(parse_quantity::<Mass>(text, 0..0).is_err(), "`{text}`");
    }
}
