//! Depth from pressure.
//!
//! Fofonoff & Millard 1983, "Algorithms for computation of fundamental properties of seawater", UNESCO Technical Papers
//! in Marine Science 44, section 4 (after Saunders & Fofonoff 1976, Deep-Sea Research 23, 109–111), for a standard ocean
//! of 0 °C and salinity 35. Range: 0 to 10,000 dbar. In warm tropical water true depths are 0.2–0.6 % more.

use super::mapping::{Atmosphere, PressureColumn, PressureUnit};

/// Depth of a sea pressure (0 at the surface) at a latitude, metres. Above the surface it runs on straight.
#[must_use]
pub fn depth_m(sea_pressure_dbar: f64, latitude_deg: f64) -> f64 {
    let p = sea_pressure_dbar;
    let x = latitude_deg.to_radians().sin().powi(2);
    let surface_gravity_m_s2 = 9.780_318 * (1.0 + (5.2788e-3 + 2.36e-5 * x) * x);
    if p < 0.0 {
        return 9.726_59 * p / surface_gravity_m_s2;
    }
    let gravity_m_s2 = surface_gravity_m_s2 + 1.092e-6 * p;
    (((-1.82e-15 * p + 2.279e-10) * p - 2.2512e-5) * p + 9.726_59) * p / gravity_m_s2
}

/// A reading of a pressure column as sea pressure, decibars.
#[must_use]
pub fn sea_pressure_dbar(reading: f64, column: &PressureColumn) -> f64 {
    let air_dbar = match column.atmosphere {
        Atmosphere::Included => column.atmosphere_hpa.unwrap_or(1013.25) / 100.0,
        Atmosphere::TakenOff => 0.0,
    };
    // psi: pound of 0.45359237 kg × 9.80665 m/s² on (0.0254 m)², in units of 10⁴ Pa.
    let dbar = match column.unit {
        PressureUnit::Dbar => 1.0,
        PressureUnit::Bar => 10.0,
        PressureUnit::Psi => 0.453_592_37 * 9.806_65 / (0.0254 * 0.0254) / 1e4,
        PressureUnit::Kpa => 0.1,
        PressureUnit::Hpa => 0.01,
    };
    reading * dbar - air_dbar
}
