//! The ship's way over the water of the script, and the weather and water round her: invented, smooth, and
//! consistent with each other (speed through the water, current and speed over ground add up as vectors).
//!
//! Dead reckoning on a sphere: one minute of latitude is one nautical mile, departure shrinks with the cosine of
//! the latitude (plane sailing; Bowditch, "The American Practical Navigator", chapter on sailings). Good to some
//! 0.3 % over a day's run, which a script needs no better. Longitudes run on past 180° in here and are wrapped by
//! whoever writes them.

use quantity::UtcInstant;

use super::dice::Dice;

/// The current everywhere in the script: towards, degrees true, and knots.
pub const CURRENT: (f64, f64) = (252.0, 0.4);
/// The wind everywhere in the script: from, degrees true, and metres a second.
pub const WIND: (f64, f64) = (118.0, 6.8);
/// Magnetic variation of the script, degrees, east positive.
pub const VARIATION_DEG: f64 = 12.1;

/// A point of the ship's way; the longitude is not wrapped.
#[derive(Debug, Clone, Copy)]
pub struct Waypoint {
    /// When.
    pub at: UtcInstant,
    /// Latitude, degrees north.
    pub latitude_deg: f64,
    /// Longitude, degrees east, running on past 180.
    pub longitude_deg: f64,
}

/// How the ship moves at a moment, over ground.
#[derive(Debug, Clone, Copy)]
pub struct Motion {
    /// Where she is.
    pub here: Waypoint,
    /// Knots towards north.
    pub north_kn: f64,
    /// Knots towards east.
    pub east_kn: f64,
}

/// The ship's whole way, straight from point to point.
pub struct Track {
    points: Vec<Waypoint>,
}

/// North and east parts of a speed along a bearing.
pub fn parts(bearing_deg_true: f64, speed_kn: f64) -> (f64, f64) {
    let (sine, cosine) = bearing_deg_true.to_radians().sin_cos();
    (speed_kn * cosine, speed_kn * sine)
}

/// Bearing in [0, 360) and length of a north and an east part.
pub fn polar(north: f64, east: f64) -> (f64, f64) {
    (quantity::wrap_bearing_deg(east.atan2(north).to_degrees()), north.hypot(east))
}

/// A place moved by knots north and east for some seconds.
pub fn moved(from: Waypoint, north_kn: f64, east_kn: f64, seconds_s: f64) -> Waypoint {
    let hours = seconds_s / 3600.0;
    let middle_deg = from.latitude_deg + north_kn * hours / 120.0;
    Waypoint {
        at: from.at.plus_seconds(seconds_s),
        latitude_deg: from.latitude_deg + north_kn * hours / 60.0,
        longitude_deg: from.longitude_deg + east_kn * hours / 60.0 / middle_deg.to_radians().cos(),
    }
}

/// Where a thing that drifts with the current has got to.
pub fn drifted(from: Waypoint, until: UtcInstant) -> Waypoint {
    let (north_kn, east_kn) = parts(CURRENT.0, CURRENT.1);
    moved(from, north_kn, east_kn, until.seconds_since(from.at))
}

impl Track {
    /// A way that begins at a point.
    pub fn new(first: Waypoint) -> Self {
        Self { points: vec![first] }
    }

    /// The last point so far.
    pub fn end(&self) -> Waypoint {
        self.points[self.points.len() - 1]
    }

    /// The first point.
    pub fn start(&self) -> Waypoint {
        self.points[0]
    }

    /// Sails through the water on a heading; the current sets her as well.
    pub fn sail(&mut self, heading_deg_true: f64, through_water_kn: f64, seconds_s: f64) {
        let (north_kn, east_kn) = parts(heading_deg_true, through_water_kn);
        let (north_set_kn, east_set_kn) = parts(CURRENT.0, CURRENT.1);
        let next = moved(self.end(), north_kn + north_set_kn, east_kn + east_set_kn, seconds_s);
        self.points.push(next);
    }

    /// Goes to a point, to be there at its time; a point in the past is left out.
    pub fn to(&mut self, point: Waypoint) {
        if point.at > self.end().at {
            self.points.push(point);
        }
    }

    /// Lies and drifts until a moment.
    pub fn lie(&mut self, until: UtcInstant) {
        let point = drifted(self.end(), until);
        self.to(point);
    }

    /// Where she is and how she moves.
    pub fn motion(&self, at: UtcInstant) -> Motion {
        let after = self.points.partition_point(|point| point.at <= at).clamp(1, self.points.len().max(2) - 1);
        let (a, b) = (self.points[after - 1], self.points[after.min(self.points.len() - 1)]);
        let whole_s = b.at.seconds_since(a.at).max(1e-6);
        let share = (at.seconds_since(a.at) / whole_s).clamp(0.0, 1.0);
        let latitude_deg = a.latitude_deg + (b.latitude_deg - a.latitude_deg) * share;
        let longitude_deg = a.longitude_deg + (b.longitude_deg - a.longitude_deg) * share;
        let per_hour = 3600.0 / whole_s;
        let middle = ((a.latitude_deg + b.latitude_deg) / 2.0).to_radians();
        Motion {
            here: Waypoint { at, latitude_deg, longitude_deg },
            north_kn: (b.latitude_deg - a.latitude_deg) * 60.0 * per_hour,
            east_kn: (b.longitude_deg - a.longitude_deg) * 60.0 * middle.cos() * per_hour,
        }
    }
}

/// Surface temperature of the script, °C: a gentle front across the line, and a little of the day in it.
pub fn surface_temperature_c(motion: &Motion, dice: &mut Dice) -> f64 {
    let front = ((motion.here.longitude_deg - 180.0) / 0.08).tanh();
    let day = (motion.here.at.second_of_day_s() / 86_400.0 * std::f64::consts::TAU).cos();
    28.3 - 0.45 * front + 0.15 * day + 0.03 * dice.bell()
}
