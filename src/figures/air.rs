//! The air that a rotor works in: the standard atmosphere below 11 km, pressure altitude and density
//! altitude, dry and humid.
//!
//! Formulas: U.S. Standard Atmosphere 1976 (the same model as ICAO Doc 7488 in the troposphere), and
//! the U.S. National Weather Service's density altitude sheet for humid air. Powers and exponentials
//! go through `libm`, so that every machine gets the same digits.

use serde::Serialize;

/// Metres in a foot.
pub const FT_M: f64 = 0.3048;
/// Standard pressure at sea level, Pa.
pub const P0_PA: f64 = 101_325.0;
/// Standard temperature at sea level, K.
pub const T0_K: f64 = 288.15;
/// Standard density at sea level, kg/m³.
pub const RHO0_KG_M3: f64 = 1.225;
/// Fall of temperature with height, K/m.
pub const LAPSE_K_M: f64 = 0.006_5;

/// Height at which the troposphere's model would reach zero temperature: T0 / lapse, in feet.
const TOP_FT: f64 = 145_442.0;
/// g M / (R lapse).
const PRESSURE_POWER: f64 = 5.255_876;
const DENSITY_POWER: f64 = 4.255_876;
const PASCAL_IN_HG: f64 = 3_386.389;

/// Standard temperature at a pressure altitude, K. Altitude in m, below 11,000.
pub fn standard_temperature_k(pressure_altitude_m: f64) -> f64 {
    T0_K - LAPSE_K_M * pressure_altitude_m
}

/// Standard pressure at an altitude, Pa. Altitude in m, below 11,000.
pub fn standard_pressure_pa(altitude_m: f64) -> f64 {
    P0_PA * libm::pow(1.0 - altitude_m / FT_M / TOP_FT, PRESSURE_POWER)
}

/// Standard density at an altitude, kg/m³. Altitude in m, below 11,000.
pub fn standard_density_kg_m3(altitude_m: f64) -> f64 {
    RHO0_KG_M3 * libm::pow(1.0 - altitude_m / FT_M / TOP_FT, DENSITY_POWER)
}

/// Altitude at which the standard atmosphere has this pressure, m.
pub fn pressure_altitude_of_m(pressure_pa: f64) -> f64 {
    TOP_FT * FT_M * (1.0 - libm::pow(pressure_pa / P0_PA, 1.0 / PRESSURE_POWER))
}

/// Pressure altitude from elevation (m) and altimeter setting (Pa), m: the elevation plus the
/// pressure altitude of the setting. This is the altimeter equation: in `(p / p0)^(1 / 5.256)` height
/// is linear, so the two add.
pub fn pressure_altitude_m(elevation_m: f64, qnh_pa: f64) -> f64 {
    elevation_m + pressure_altitude_of_m(qnh_pa)
}

/// Density altitude of dry air, m, from pressure altitude (m) and temperature (K).
pub fn density_altitude_dry_m(pressure_altitude_m: f64, temperature_k: f64) -> f64 {
    let sigma = standard_pressure_pa(pressure_altitude_m) / P0_PA * (T0_K / temperature_k);
    TOP_FT * FT_M * (1.0 - libm::pow(sigma, 1.0 / DENSITY_POWER))
}

/// Density altitude of humid air, m, by the National Weather Service's formula, from station
/// pressure (Pa), temperature and dew point (K). Its constants are rounded: dry standard air at sea
/// level gives 21 ft, not 0.
pub fn density_altitude_humid_m(pressure_pa: f64, temperature_k: f64, dew_point_k: f64) -> f64 {
    let dew_c = dew_point_k - 273.15;
    let vapour_hpa = 6.11 * libm::pow(10.0, 7.5 * dew_c / (237.7 + dew_c));
    let pressure_hpa = pressure_pa / 100.0;
    let virtual_k = temperature_k / (1.0 - vapour_hpa / pressure_hpa * (1.0 - 0.622));
    let rankine = virtual_k * 9.0 / 5.0;
    let in_hg = pressure_pa / PASCAL_IN_HG;
    145_366.0 * FT_M * (1.0 - libm::pow(17.326 * in_hg / rankine, 0.235))
}

/// The air at one place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Air {
    /// Pressure altitude, m.
    pub pressure_altitude_m: f64,
    /// Temperature above the standard one, K.
    pub above_standard_k: f64,
    /// Density altitude of the air taken as dry, m.
    pub density_altitude_dry_m: f64,
    /// Density altitude with its humidity, m, where a dew point is known.
    pub density_altitude_humid_m: Option<f64>,
}

/// The air at a pressure altitude (m), temperature and dew point (K).
pub fn air(pressure_altitude_m: f64, temperature_k: f64, dew_point_k: Option<f64>) -> Air {
    Air {
        pressure_altitude_m,
        above_standard_k: temperature_k - standard_temperature_k(pressure_altitude_m),
        density_altitude_dry_m: density_altitude_dry_m(pressure_altitude_m, temperature_k),
        density_altitude_humid_m: dew_point_k.map(|dew| {
            density_altitude_humid_m(
                standard_pressure_pa(pressure_altitude_m),
                temperature_k,
                dew,
            )
        }),
    }
}
