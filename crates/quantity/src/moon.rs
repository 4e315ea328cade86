//! The moon: its phases, how much of it is lit, and when it rises and sets.
//!
//! Model: geocentric phase angle (Meeus, J. (1998), "Astronomical Algorithms", 2nd ed., eqs. 48.2, 48.3 and 48.1); phases
//! where the apparent longitudes of moon and sun differ by 0°, 90°, 180° and 270°; rise and set where the upper limb,
//! seen from sea level, stands 34′ (refraction) below the horizon (SOURCE NOT CHECKED; measured against skyfield 1.55
//! with JPL DE421 and PyEphem 4.2.1 in the tests). Range: years 1900 to 2100.

use serde::Serialize;

use crate::instant::UtcInstant;
use crate::position::{Position, wrap_longitude_deg};
use crate::sky::{HALF_DAY_S, Moment, SkyError, check_year, crossings, mean_solar_noon};

/// The moon's mean radius, km (IAU 2015 working group on cartographic coordinates; SOURCE NOT CHECKED).
const MOON_RADIUS_KM: f64 = 1737.4;
/// Refraction at the horizon, degrees.
const REFRACTION_DEG: f64 = 34.0 / 60.0;
/// Mean growth of the moon's elongation from the sun, degrees a day.
const ELONGATION_RATE_DEG_PER_DAY: f64 = 12.190_749;

/// A quarter of the moon's course.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Phase {
    /// Dark.
    New,
    /// Half lit, growing.
    FirstQuarter,
    /// Wholly lit.
    Full,
    /// Half lit, shrinking.
    LastQuarter,
}

/// A phase and its moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PhaseAt {
    /// Which phase.
    pub phase: Phase,
    /// When, UTC.
    pub utc: UtcInstant,
}

/// Rise and set of one local solar day; none on a day without one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MoonDay {
    /// Upper limb appears.
    pub moonrise_utc: Option<UtcInstant>,
    /// Upper limb disappears.
    pub moonset_utc: Option<UtcInstant>,
}

/// Rise and set at a place, from half a day before to half a day after the mean solar noon that falls on the UTC date
/// in which `date` lies.
///
/// # Errors
/// [`SkyError`] for years that the series do not hold for.
pub fn day(observer: Position, date: UtcInstant) -> Result<MoonDay, SkyError> {
    check_year(date.ymd().0)?;
    let found = crossings(mean_solar_noon(observer.longitude_deg(), date), HALF_DAY_S, |instant| {
        let moment = Moment::at(instant);
        let (altitude_rad, distance_km) = moment.seen_from(observer, moment.moon());
        (altitude_rad + (MOON_RADIUS_KM / distance_km).asin()).to_degrees() + REFRACTION_DEG
    });
    let first = |rising: bool| found.iter().find(|crossing| crossing.rising == rising).map(|crossing| crossing.at);
    Ok(MoonDay { moonrise_utc: first(true), moonset_utc: first(false) })
}

/// The lit part of the moon's disc, 0 (new) to 1 (full), seen from the earth's centre.
///
/// # Errors
/// [`SkyError`] for years that the series do not hold for.
pub fn illuminated_fraction(instant: UtcInstant) -> Result<f64, SkyError> {
    check_year(instant.ymd().0)?;
    let moment = Moment::at(instant);
    let (sun, moon) = (moment.sun(), moment.moon());
    let (sin_difference, cos_difference) = (moon.longitude_rad - sun.longitude_rad).sin_cos();
    let cos_elongation = moon.latitude_rad.cos() * cos_difference;
    let sin_elongation = (moon.latitude_rad.cos() * sin_difference).hypot(moon.latitude_rad.sin());
    let phase_angle = (sun.distance_km * sin_elongation).atan2(moon.distance_km - sun.distance_km * cos_elongation);
    Ok(f64::midpoint(1.0, phase_angle.cos()))
}

/// Every new moon, quarter and full moon of a UTC year, in order of time.
///
/// # Errors
/// [`SkyError`] for years that the series do not hold for.
pub fn phases_of_year(year: i16) -> Result<Vec<PhaseAt>, SkyError> {
    check_year(year)?;
    let out_of_calendar = |_| SkyError::YearOutOfRange { year };
    let start = UtcInstant::from_ymd(year, 1, 1).map_err(out_of_calendar)?;
    let end = UtcInstant::from_ymd(year + 1, 1, 1).map_err(out_of_calendar)?;
    // Two phases early, so that none of the year's own is missed, whatever the moon's pace.
    let mut guess = start.plus_seconds(-15.0 * 86_400.0);
    let mut target_deg = (elongation_deg(guess) / 90.0).round() * 90.0;
    let mut phases = Vec::new();
    loop {
        let utc = when_elongation_is(target_deg, guess);
        if utc >= end {
            return Ok(phases);
        }
        if utc >= start {
            phases.push(PhaseAt { phase: phase_at_elongation(target_deg), utc });
        }
        guess = utc.plus_seconds(90.0 / ELONGATION_RATE_DEG_PER_DAY * 86_400.0);
        target_deg += 90.0;
    }
}

fn phase_at_elongation(elongation_deg: f64) -> Phase {
    match (elongation_deg / 90.0).round().rem_euclid(4.0) {
        quarter if quarter < 0.5 => Phase::New,
        quarter if quarter < 1.5 => Phase::FirstQuarter,
        quarter if quarter < 2.5 => Phase::Full,
        _ => Phase::LastQuarter,
    }
}

/// The moment near `guess` at which the elongation is `target_deg` (steps at the mean rate; the error falls five-fold each).
fn when_elongation_is(target_deg: f64, guess: UtcInstant) -> UtcInstant {
    let mut utc = guess;
    for _ in 0..40 {
        let missing_deg = wrap_longitude_deg(target_deg - elongation_deg(utc));
        let step_s = missing_deg / ELONGATION_RATE_DEG_PER_DAY * 86_400.0;
        utc = utc.plus_seconds(step_s);
        if step_s.abs() < 0.01 {
            break;
        }
    }
    utc
}

/// Apparent longitude of the moon less that of the sun, degrees in [−180, 180).
fn elongation_deg(instant: UtcInstant) -> f64 {
    let moment = Moment::at(instant);
    wrap_longitude_deg((moment.moon().longitude_rad - moment.sun().longitude_rad).to_degrees())
}
