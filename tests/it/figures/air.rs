//! Air against published tables and exact evaluation of the standard atmosphere.

use loadwalk::figures::air::{
    LAPSE_K_M, P0_PA, RHO0_KG_M3, T0_K, density_altitude_dry_m, density_altitude_humid_m,
    pressure_altitude_m, pressure_altitude_of_m, standard_density_kg_m3, standard_pressure_pa,
    standard_temperature_k,
};

const FT: f64 = 0.3048;
const INHG: f64 = 3_386.389;
const SLUG_FT3: f64 = 515.378_8;

fn close(what: &str, found: f64, published: f64, off: f64) {
    assert!(
        (found - published).abs() <= off,
        "{what}: found {found}, published {published}"
    );
}

fn celsius(c: f64) -> f64 {
    c + 273.15
}

fn fahrenheit(f: f64) -> f64 {
    (f - 32.0) / 1.8 + 273.15
}

fn dry_ft(pressure_altitude_ft: f64, kelvin: f64) -> f64 {
    density_altitude_dry_m(pressure_altitude_ft * FT, kelvin) / FT
}

#[test]
fn density_altitude_of_dry_air() {
    // Exact evaluation of the 1976 standard atmosphere: 145,442 (1 − σ^0.234969) ft.
    let rows = [
        (10_000.0, celsius(-4.81), 10_000.0, 2.0),
        (0.0, celsius(35.0), 2_275.0, 10.0),
        (0.0, celsius(-20.0), -4_494.0, 10.0),
        (2_000.0, celsius(30.0), 4_161.0, 10.0),
        (5_000.0, celsius(30.0), 7_801.0, 10.0),
        (5_500.0, fahrenheit(77.0), 7_869.0, 10.0),
        (5_470.0, celsius(35.0), 8_895.0, 10.0),
        (6_027.0, celsius(15.0), 7_407.0, 10.0),
        (
            3_000.0,
            standard_temperature_k(3_000.0 * FT) + 6.0,
            3_703.0,
            10.0,
        ),
        (8_000.0, celsius(25.0), 10_898.0, 10.0),
        // The same, at the points of an FAA chart.
        (2_000.0, fahrenheit(80.0), 3_793.0, 10.0),
        (2_000.0, fahrenheit(90.0), 4_403.0, 10.0),
        (2_000.0, fahrenheit(100.0), 4_999.0, 10.0),
        (2_000.0, fahrenheit(110.0), 5_582.0, 10.0),
        (2_000.0, fahrenheit(120.0), 6_153.0, 10.0),
        (2_000.0, fahrenheit(130.0), 6_712.0, 10.0),
        (6_000.0, fahrenheit(80.0), 8_655.0, 10.0),
        (6_000.0, fahrenheit(100.0), 9_820.0, 10.0),
        (8_000.0, fahrenheit(80.0), 11_074.0, 10.0),
        (8_000.0, fahrenheit(100.0), 12_218.0, 10.0),
        // Read off published pages that use a rule of thumb (120 ft a kelvin) or a chart.
        // (for 35 °C at sea level the rule says 2,400).
        (0.0, celsius(35.0), 2_400.0, 130.0),
        (5_000.0, celsius(30.0), 8_000.0, 250.0),
        (5_500.0, fahrenheit(77.0), 7_700.0, 250.0),
        (5_470.0, celsius(35.0), 9_070.0, 250.0),
        (6_027.0, celsius(15.0), 7_467.0, 100.0),
        (
            3_000.0,
            standard_temperature_k(3_000.0 * FT) + 6.0,
            3_720.0,
            50.0,
        ),
        // FAA chart (values from memory), drawn to the hundred.
        (2_000.0, fahrenheit(80.0), 3_800.0, 100.0),
        (2_000.0, fahrenheit(90.0), 4_400.0, 100.0),
        (2_000.0, fahrenheit(100.0), 5_000.0, 100.0),
        (2_000.0, fahrenheit(110.0), 5_600.0, 100.0),
        (2_000.0, fahrenheit(120.0), 6_200.0, 100.0),
        (2_000.0, fahrenheit(130.0), 6_800.0, 100.0),
        (6_000.0, fahrenheit(80.0), 8_600.0, 100.0),
        (6_000.0, fahrenheit(100.0), 9_800.0, 100.0),
        (8_000.0, fahrenheit(80.0), 11_100.0, 100.0),
        (8_000.0, fahrenheit(100.0), 12_300.0, 100.0),
    ];
    for (altitude, kelvin, published, off) in rows {
        let what = format!("{altitude} ft at {kelvin} K");
        close(&what, dry_ft(altitude, kelvin), published, off);
    }
}

#[test]
fn density_altitude_is_pressure_altitude_at_the_standard_temperature() {
    // An identity, at any pressure altitude.
    for pressure in [-1_000.0, 0.0, 2_500.0, 6_000.0, 10_000.0, 14_000.0] {
        let kelvin = standard_temperature_k(pressure * FT);
        close("identity", dry_ft(pressure, kelvin), pressure, 2.0);
    }
}

#[test]
fn a_rule_of_thumb_is_never_far_off() {
    // Pilots' rule of thumb, from several pages: 120 ft for each degree above the standard one, which
    // reads up to about 300 ft high.
    for (pressure, c) in [
        (0.0, 35.0),
        (2_000.0, 30.0),
        (5_000.0, 30.0),
        (5_470.0, 35.0),
        (6_027.0, 15.0),
        (8_000.0, 25.0),
    ] {
        let above = celsius(c) - standard_temperature_k(pressure * FT);
        let off = pressure + 120.0 * above - dry_ft(pressure, celsius(c));
        assert!((0.0..300.0).contains(&off), "{pressure} ft, {c} °C: {off}");
    }
    // Another: 1,000 ft for each inch of mercury from 29.92.
    for (elevation, setting) in [(5_250.0, 29.25), (3_894.0, 30.35), (1_386.0, 29.97)] {
        let found = pressure_altitude_m(elevation * FT, setting * INHG) / FT;
        let rule = elevation + 1_000.0 * (29.92 - setting);
        close("pressure altitude", found, rule, 50.0);
    }
}

#[test]
fn pressure_and_density_altitude_from_an_altimeter_setting() {
    // Elevation ft, setting inHg, temperature °F; density altitude by exact evaluation, and the key
    // of an FAA knowledge test (from memory).
    for (elevation, setting, f, pressure, exact, key) in [
        (5_250.0, 29.25, 81.0, 5_877.0, 8_565.0, 8_500.0),
        (3_894.0, 30.35, 25.0, 3_500.0, 2_043.0, 2_000.0),
    ] {
        let found = pressure_altitude_m(elevation * FT, setting * INHG) / FT;
        close("pressure altitude", found, pressure, 10.0);
        let density = dry_ft(found, fahrenheit(f));
        close("density altitude", density, exact, 10.0);
        close("density altitude, test key", density, key, 200.0);
    }
    // The key of an FAA knowledge test (from memory).
    let found = pressure_altitude_m(1_386.0 * FT, 29.97 * INHG) / FT;
    close("pressure altitude", found, 1_341.0, 5.0);
}

#[test]
fn density_altitude_of_humid_air() {
    // The National Weather Service's formula, evaluated: inHg, °C, dew point °C, ft. Dry standard air at
    // sea level comes out at 21 ft by its rounded constants.
    for (setting, c, dew, published) in [
        (29.92, 15.0, -100.0, 21.0),
        (29.92, 35.0, -40.0, 2_295.0),
        (29.92, 35.0, 25.0, 2_691.0),
        (24.896, 30.0, -40.0, 7_816.0),
        (24.896, 30.0, 15.0, 8_061.0),
    ] {
        let found = density_altitude_humid_m(setting * INHG, celsius(c), celsius(dew)) / FT;
        close(
            &format!("{setting} inHg, {c}, {dew}"),
            found,
            published,
            15.0,
        );
    }
}

#[test]
fn the_standard_atmosphere_has_its_published_constants() {
    // U.S. Standard Atmosphere 1976: 288.15 K, 101,325 Pa, 1.225 kg/m³, 6.5 K/km.
    close("temperature", T0_K, 288.15, 0.0);
    close("pressure", P0_PA, 101_325.0, 0.0);
    close("density", RHO0_KG_M3, 1.225, 0.0);
    close("lapse", LAPSE_K_M * 1_000.0, 6.5, 1e-12);
    // The summary's formula in pounds a square inch: p = 14.696 (1 − 6.8754e-6 Z)^5.2559, Z in ft.
    for altitude in [0.0, 3_000.0, 8_000.0, 15_000.0, 30_000.0] {
        let published = 14.696 * f64::powf(1.0 - 6.8754e-6 * altitude, 5.2559);
        let found = standard_pressure_pa(altitude * FT) / 6_894.757;
        close("pressure, psi", found, published, 2e-4 * published);
        let back = pressure_altitude_of_m(standard_pressure_pa(altitude * FT)) / FT;
        close("pressure altitude", back, altitude, 1e-6);
    }
}

#[test]
fn the_standard_atmosphere_agrees_with_its_table() {
    // U.S. Standard Atmosphere tables: ft, density 1e-4 slug/ft³.
    for (altitude, published) in [
        (0.0, 23.77),
        (5_000.0, 20.48),
        (10_000.0, 17.56),
        (15_000.0, 14.96),
        (20_000.0, 12.67),
    ] {
        let found = standard_density_kg_m3(altitude * FT) / SLUG_FT3 * 1e4;
        close(&format!("density at {altitude}"), found, published, 0.01);
    }
    // Relative density, evaluated.
    for (altitude, published) in [
        (0.0, 1.0),
        (5_000.0, 0.8617),
        (10_000.0, 0.7385),
        (15_000.0, 0.6292),
    ] {
        let found = standard_density_kg_m3(altitude * FT) / 1.225;
        close(&format!("σ at {altitude}"), found, published, 1e-4);
    }
    // The same tables: temperature, °F.
    for (altitude, published) in [
        (0.0, 59.0),
        (5_000.0, 41.17),
        (10_000.0, 23.36),
        (15_000.0, 5.55),
    ] {
        let found = (standard_temperature_k(altitude * FT) - 273.15) * 1.8 + 32.0;
        close(
            &format!("temperature at {altitude}"),
            found,
            published,
            0.05,
        );
    }
}
