//! Where sun and moon stand, as seen from a place on the sea; the ground under [`crate::sun`] and [`crate::moon`].
//!
//! Model: series of [`terms`], nutation and aberration, the observer at sea level on WGS84 (so parallax is in every
//! altitude), UTC taken for UT1 (they differ by less than 0.9 s). Range: years 1900 to 2100. Sun good to about 1″, moon
//! to about 10″ (Meeus 1998, chs. 12, 22, 25, 47; SOURCE NOT CHECKED, held against DE421 and PyEphem in the tests).

mod terms;

use crate::instant::UtcInstant;
use crate::position::{Position, wrap_longitude_deg};

const ARC_SECOND_RAD: f64 = std::f64::consts::PI / 648_000.0;
/// Astronomical unit, km (IAU 2012).
pub(crate) const AU_KM: f64 = 149_597_870.7;
/// WGS84 equatorial radius, km, and flattening.
const EARTH_RADIUS_KM: f64 = 6378.137;
const EARTH_FLATTENING: f64 = 1.0 / 298.257_223_563;
/// Seconds from one mean solar noon to midnight.
pub(crate) const HALF_DAY_S: f64 = 43_200.0;

/// Why nothing can be said of the sky.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SkyError {
    /// The series and the earth's rotation are not known well enough.
    #[error("year {year} is outside 1900 to 2100, for which sun and moon are known here; nothing was computed.")]
    YearOutOfRange {
        /// The year as it came.
        year: i16,
    },
}

/// Refuses a year that the series do not hold for.
pub(crate) fn check_year(year: i16) -> Result<(), SkyError> {
    if (1900..=2100).contains(&year) { Ok(()) } else { Err(SkyError::YearOutOfRange { year }) }
}

/// A body's apparent geocentric place, true equinox of the date.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    /// Ecliptic longitude, rad, not wrapped.
    pub longitude_rad: f64,
    /// Ecliptic latitude, rad.
    pub latitude_rad: f64,
    /// Distance from the earth's centre, km.
    pub distance_km: f64,
}

/// A moment with what all places at it share.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Moment {
    /// Days since J2000.0 in UT.
    days_ut: f64,
    /// Julian centuries since J2000.0 in TT.
    centuries_tt: f64,
    nutation_longitude_rad: f64,
    obliquity_rad: f64,
}

impl Moment {
    pub(crate) fn at(instant: UtcInstant) -> Self {
        #[expect(
            clippy::cast_precision_loss,
            reason = "microseconds of a few centuries: off by less than a microsecond"
        )]
        let days_ut = instant.micros() as f64 / 86_400e6 - 10_957.5;
        let centuries_tt = (days_ut + delta_t_s(2000.0 + days_ut / 365.25) / 86_400.0) / 36_525.0;
        let (nutation_longitude_rad, nutation_obliquity_rad) = nutation_rad(centuries_tt);
        // Mean obliquity: IAU 1980 (Lieske 1979), as Meeus 22.2.
        let mean = polynomial(&[84_381.448, -46.815, -0.000_59, 0.001_813], centuries_tt) * ARC_SECOND_RAD;
        Self { days_ut, centuries_tt, nutation_longitude_rad, obliquity_rad: mean + nutation_obliquity_rad }
    }

    /// The sun (earth's series turned about, less 20.49″ of aberration and 0.09″ of FK5; Meeus ch. 25).
    pub(crate) fn sun(&self) -> Place {
        let millennia = self.centuries_tt / 10.0;
        let radius_au = series(terms::RADIUS, millennia);
        let aberration_rad = -20.4898 / radius_au * ARC_SECOND_RAD;
        Place {
            longitude_rad: series(terms::LONGITUDE, millennia) + std::f64::consts::PI + aberration_rad
                - 0.090_33 * ARC_SECOND_RAD
                + self.nutation_longitude_rad,
            latitude_rad: -series(terms::LATITUDE, millennia),
            distance_km: radius_au * AU_KM,
        }
    }

    /// The moon (Meeus ch. 47; light-time is in the mean longitude).
    pub(crate) fn moon(&self) -> Place {
        let t = self.centuries_tt;
        let mean_deg =
            polynomial(&[218.316_447_7, 481_267.881_234_21, -0.001_578_6, 1.0 / 538_841.0, -1.0 / 65_194_000.0], t);
        let elongation_deg =
            polynomial(&[297.850_192_1, 445_267.111_403_4, -0.001_881_9, 1.0 / 545_868.0, -1.0 / 113_065_000.0], t);
        let sun_anomaly_deg = polynomial(&[357.529_109_2, 35_999.050_290_9, -0.000_153_6, 1.0 / 24_490_000.0], t);
        let moon_anomaly_deg =
            polynomial(&[134.963_396_4, 477_198.867_505_5, 0.008_741_4, 1.0 / 69_699.0, -1.0 / 14_712_000.0], t);
        let node_distance_deg =
            polynomial(&[93.272_095, 483_202.017_523_3, -0.003_653_9, -1.0 / 3_526_000.0, 1.0 / 863_310_000.0], t);
        let arguments = [elongation_deg, sun_anomaly_deg, moon_anomaly_deg, node_distance_deg].map(f64::to_radians);
        let (mean, moon_anomaly, node_distance) = (mean_deg.to_radians(), arguments[2], arguments[3]);
        let eccentricity = 1.0 - t * (0.002_516 + t * 0.000_007_4);
        let weight = |of_sun: i8| eccentricity.powi(i32::from(of_sun).abs());
        let [a1, a2, a3] =
            [119.75 + 131.849 * t, 53.09 + 479_264.29 * t, 313.45 + 481_266.484 * t].map(f64::to_radians);
        let mut longitude = 3958.0 * a1.sin() + 1962.0 * (mean - node_distance).sin() + 318.0 * a2.sin();
        let mut distance = 0.0;
        for (multiples, sine, cosine) in terms::LONGITUDE_AND_DISTANCE {
            let (s, c) = argument(multiples, &arguments).sin_cos();
            longitude += f64::from(*sine) * weight(multiples[1]) * s;
            distance += f64::from(*cosine) * weight(multiples[1]) * c;
        }
        let mut latitude = -2235.0 * mean.sin()
            + 382.0 * a3.sin()
            + 175.0 * ((a1 - node_distance).sin() + (a1 + node_distance).sin())
            + 127.0 * (mean - moon_anomaly).sin()
            - 115.0 * (mean + moon_anomaly).sin();
        for (multiples, sine) in terms::LATITUDE_OF_MOON {
            latitude += f64::from(*sine) * weight(multiples[1]) * argument(multiples, &arguments).sin();
        }
        Place {
            longitude_rad: mean + (longitude / 1e6).to_radians() + self.nutation_longitude_rad,
            latitude_rad: (latitude / 1e6).to_radians(),
            distance_km: 385_000.56 + distance / 1000.0,
        }
    }

    /// `(altitude of the centre without refraction in rad, distance in km)` of a body, seen from a place at sea level.
    pub(crate) fn seen_from(&self, observer: Position, body: Place) -> (f64, f64) {
        let (right_ascension, declination) = self.equatorial_rad(body);
        let hour_angle = self.sidereal_rad() + observer.longitude_deg().to_radians() - right_ascension;
        let (sin_lat, cos_lat) = observer.latitude_deg().to_radians().sin_cos();
        let e2 = EARTH_FLATTENING * (2.0 - EARTH_FLATTENING);
        let normal_km = EARTH_RADIUS_KM / (1.0 - e2 * sin_lat * sin_lat).sqrt();
        let meridional = body.distance_km * declination.cos() * hour_angle.cos() - normal_km * cos_lat;
        let westward = body.distance_km * declination.cos() * hour_angle.sin();
        let northward = body.distance_km * declination.sin() - normal_km * (1.0 - e2) * sin_lat;
        let distance_km = meridional.hypot(westward).hypot(northward);
        (((meridional * cos_lat + northward * sin_lat) / distance_km).clamp(-1.0, 1.0).asin(), distance_km)
    }

    /// Hour angle of a body at a longitude, degrees in [−180, 180), west positive.
    pub(crate) fn hour_angle_deg(&self, longitude_deg: f64, body: Place) -> f64 {
        wrap_longitude_deg((self.sidereal_rad() - self.equatorial_rad(body).0).to_degrees() + longitude_deg)
    }

    fn equatorial_rad(&self, body: Place) -> (f64, f64) {
        let (sin_lon, cos_lon) = body.longitude_rad.sin_cos();
        let (sin_lat, cos_lat) = body.latitude_rad.sin_cos();
        let (sin_obl, cos_obl) = self.obliquity_rad.sin_cos();
        let right_ascension = (sin_lon * cos_obl * cos_lat - sin_lat * sin_obl).atan2(cos_lon * cos_lat);
        (right_ascension, (sin_lat * cos_obl + cos_lat * sin_obl * sin_lon).clamp(-1.0, 1.0).asin())
    }

    /// Apparent sidereal time at Greenwich (IAU 1982, as Meeus 12.4).
    fn sidereal_rad(&self) -> f64 {
        let t = self.days_ut / 36_525.0;
        let turn_deg = (360.0 * self.days_ut.rem_euclid(1.0)) + 0.985_647_366_29 * self.days_ut;
        let mean_deg = 280.460_618_37 + turn_deg + t * t * (0.000_387_933 - t / 38_710_000.0);
        mean_deg.to_radians() + self.nutation_longitude_rad * self.obliquity_rad.cos()
    }
}

/// Mean solar noon, at a longitude, of the UTC date that `date` lies in: the local solar day is half a day about it.
///
/// The rule: a local solar day bears the UTC date of its (mean) solar noon.
#[must_use]
pub fn mean_solar_noon(longitude_deg: f64, date: UtcInstant) -> UtcInstant {
    let hours = (12.0 - longitude_deg / 15.0).rem_euclid(24.0);
    date.midnight().plus_seconds(hours * 3600.0)
}

/// A passage of a body through a height.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Crossing {
    pub at: UtcInstant,
    pub rising: bool,
}

/// Every moment within `half_window_s` of `middle` at which `height` changes sign, in order of time. Also finds a body
/// that comes over the horizon only for moments between two samples.
pub(crate) fn crossings(middle: UtcInstant, half_window_s: f64, height: impl Fn(UtcInstant) -> f64) -> Vec<Crossing> {
    const SAMPLES: u16 = 144;
    let at = |offset_s: f64| height(middle.plus_seconds(offset_s));
    let step_s = 2.0 * half_window_s / f64::from(SAMPLES);
    let mut knots: Vec<(f64, f64)> =
        (0..=SAMPLES).map(|i| f64::from(i) * step_s - half_window_s).map(|offset_s| (offset_s, at(offset_s))).collect();
    let turning: Vec<(f64, f64)> = knots
        .windows(3)
        .filter_map(|three| {
            let [(from_s, a), (_, b), (to_s, c)] = *three else { return None };
            let side = if b < 0.0 { 1.0 } else { -1.0 };
            let turns_here = side * b >= side * a && side * b >= side * c && a * b > 0.0 && b * c > 0.0;
            turns_here
                .then(|| highest(from_s, to_s, |offset_s| side * at(offset_s)))
                .map(|(offset_s, h)| (offset_s, side * h))
        })
        .collect();
    knots.extend(turning);
    knots.sort_by(|a, b| a.0.total_cmp(&b.0));
    knots
        .windows(2)
        .filter_map(|pair| {
            let [(mut low_s, a), (mut high_s, b)] = *pair else { return None };
            let rising = a < 0.0;
            if rising == (b < 0.0) {
                return None;
            }
            while high_s - low_s > 0.01 {
                let middle_s = f64::midpoint(low_s, high_s);
                if (at(middle_s) < 0.0) == rising { low_s = middle_s } else { high_s = middle_s }
            }
            Some(Crossing { at: middle.plus_seconds(f64::midpoint(low_s, high_s)), rising })
        })
        .collect()
}

/// Golden-section search for the highest point of a function between two offsets.
fn highest(mut from_s: f64, mut to_s: f64, height: impl Fn(f64) -> f64) -> (f64, f64) {
    const GOLDEN: f64 = 0.618_033_988_749_895;
    while to_s - from_s > 0.5 {
        let reach_s = GOLDEN * (to_s - from_s);
        if height(to_s - reach_s) > height(from_s + reach_s) {
            to_s = from_s + reach_s
        } else {
            from_s = to_s - reach_s
        }
    }
    let offset_s = f64::midpoint(from_s, to_s);
    (offset_s, height(offset_s))
}

/// TT − UT in seconds: round values of the observed record to 2025, then a slow guess (20 s of it in 2100 move no event
/// here by more than 1 s, a moon's phase by 20 s). SOURCE NOT CHECKED; within 1 s of PyEphem 4.2.1 for 1900 to 2020.
fn delta_t_s(year: f64) -> f64 {
    const RECORD: [(f64, f64); 26] = [
        (1895.0, -6.4),
        (1900.0, -2.7),
        (1905.0, 3.9),
        (1910.0, 10.5),
        (1915.0, 17.2),
        (1920.0, 21.2),
        (1925.0, 23.6),
        (1930.0, 24.1),
        (1940.0, 24.4),
        (1945.0, 26.8),
        (1950.0, 29.1),
        (1955.0, 31.1),
        (1960.0, 33.2),
        (1965.0, 35.7),
        (1970.0, 40.2),
        (1975.0, 45.5),
        (1980.0, 50.5),
        (1985.0, 54.3),
        (1990.0, 56.9),
        (1995.0, 60.8),
        (2000.0, 63.8),
        (2005.0, 64.7),
        (2010.0, 66.1),
        (2015.0, 67.6),
        (2020.0, 69.4),
        (2025.0, 69.1),
    ];
    let last = RECORD[RECORD.len() - 1];
    if year >= last.0 {
        return last.1 + 0.003_2 * (year - last.0).powi(2);
    }
    for pair in RECORD.windows(2) {
        let [(from, a), (to, b)] = *pair else { continue };
        if year < to {
            return a + (b - a) * (year - from) / (to - from);
        }
    }
    last.1
}

/// Nutation in longitude and in obliquity, rad.
fn nutation_rad(t: f64) -> (f64, f64) {
    let arguments = [
        [297.850_36, 445_267.111_48, -0.001_914_2, 1.0 / 189_474.0],
        [357.527_72, 35_999.050_34, -0.000_160_3, -1.0 / 300_000.0],
        [134.962_98, 477_198.867_398, 0.008_697_2, 1.0 / 56_250.0],
        [93.271_91, 483_202.017_538, -0.003_682_5, 1.0 / 327_270.0],
        [125.044_52, -1_934.136_261, 0.002_070_8, 1.0 / 450_000.0],
    ]
    .map(|coefficients| polynomial(&coefficients, t).to_radians());
    let (mut longitude, mut obliquity) = (0.0, 0.0);
    for (multiples, [sine, sine_rate, cosine, cosine_rate]) in terms::NUTATION {
        let (s, c) = argument(multiples, &arguments).sin_cos();
        longitude += (sine + sine_rate * t) * s;
        obliquity += (cosine + cosine_rate * t) * c;
    }
    (longitude * 1e-4 * ARC_SECOND_RAD, obliquity * 1e-4 * ARC_SECOND_RAD)
}

fn argument<const N: usize>(multiples: &[i8; N], arguments: &[f64; N]) -> f64 {
    multiples.iter().zip(arguments).map(|(multiple, angle)| f64::from(*multiple) * angle).sum()
}

fn series(groups: &[&[[f64; 3]]], millennia: f64) -> f64 {
    let mut sum = 0.0;
    for group in groups.iter().rev() {
        sum = sum * millennia
            + group.iter().map(|[amplitude, phase, rate]| amplitude * (phase + rate * millennia).cos()).sum::<f64>();
    }
    sum / 1e8
}

fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, coefficient| sum * x + coefficient)
}
