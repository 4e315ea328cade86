//! The ship's way over the ground while setting, by beats.
//!
//! Over each leg the ship makes `beats × (speed through the water × beat + surface current × beat)` as a vector, along a
//! rhumb line (`quantity::rhumb`). Between points of at most 5 km places are straight in longitude and latitude: within a
//! metre of the rhumb line below 60° of latitude.

use gear::Setting;
use quantity::{Position, UtcInstant, rhumb, wrap_longitude_deg};
use voyage::Doubt;

use super::answer::TrackPoint;
use super::error::PlanError;
use super::line::Line;
use super::wanted::PlanWanted;
use super::water::Water;
use crate::to_come::KNOT_M_S;

/// The longest set that is planned, metres.
const LONGEST_M: f64 = 2e6;
/// How far points of the way are apart at most, metres.
const STEP_M: f64 = 5000.0;

/// The way.
#[derive(Debug, Default)]
pub(super) struct Way {
    dense: Vec<Point>,
    start_at: Option<UtcInstant>,
    beat_s: Option<f64>,
    length_m: Option<f64>,
}

#[derive(Debug, Clone, Copy)]
struct Point {
    beats: f64,
    place: Position,
    leg: u32,
}

impl Way {
    pub(super) fn of(
        wanted: &PlanWanted,
        setting: &Setting,
        line: &Line,
        start: Option<Position>,
        water: &Water,
        doubts: &mut Vec<Doubt>,
    ) -> Result<Self, PlanError> {
        let mut way = Self { start_at: wanted.start_at, beat_s: setting.beat_s, ..Self::default() };
        if let Some(place) = start {
            way.dense.push(Point { beats: 0.0, place, leg: 1 });
        }
        let by_speed = setting.vessel_speed_through_water_kn.zip(setting.beat_s).map(|(kn, s)| kn * KNOT_M_S * s);
        let by_line = setting.sag_ratio.zip(setting.clip_spacing_m).map(|(ratio, spacing_m)| ratio * spacing_m);
        let (Some(beats), Some(step_m)) = (line.beats(), by_speed.or(by_line)) else {
            doubts.push(Doubt::new(
                "way_unknown",
                "plan",
                "How long the set is and where it ends is not known: it needs the hooks, hooks per basket and the ship's speed with the beat.",
            ));
            return Ok(way);
        };
        let current = water.surface();
        let drift_m = current.zip(setting.beat_s).map_or([0.0; 2], |(u, beat_s)| u.map(|m_s| m_s * beat_s));
        if line.legs.iter().all(|leg| leg.course_deg_true.is_none()) {
            way.length_m = Some(beats * step_m);
            return Ok(way);
        }
        doubts.push(which_speed(current));
        let (mut begun, mut length_m) = (0.0, 0.0);
        for leg in &line.legs {
            let ends = line.leg_ends(leg);
            let Some(course) = leg.course_deg_true else { continue };
            let (sine, cosine) = course.to_radians().sin_cos();
            let leg_beats = ends - begun;
            let east_m = leg_beats * (step_m * sine + drift_m[0]);
            let north_m = leg_beats * (step_m * cosine + drift_m[1]);
            let leg_m = east_m.hypot(north_m);
            length_m += leg_m;
            if length_m > LONGEST_M || !length_m.is_finite() {
                return Err(PlanError::TooLong { length_km: length_m / 1000.0 });
            }
            // A course as given stays as it was given: the arc tangent would lose its last digits.
            let bearing = if current.is_none() { course } else { east_m.atan2(north_m).to_degrees() };
            if let Some(from) = way.dense.last().map(|point| point.place) {
                let parts = (leg_m / STEP_M).ceil().max(1.0);
                let mut part = 1.0;
                while part <= parts {
                    let share = part / parts;
                    let to = rhumb::direct(from, bearing, leg_m * share)
                        .map_err(|why| PlanError::NoWay { leg: leg.number, why })?;
                    way.dense.push(Point { beats: begun + share * leg_beats, place: to.position, leg: leg.number });
                    part += 1.0;
                }
            }
            begun = ends;
        }
        way.length_m = Some(length_m);
        Ok(way)
    }

    pub(super) fn length_m(&self) -> Option<f64> {
        self.length_m
    }

    pub(super) fn start_at(&self) -> Option<UtcInstant> {
        self.start_at
    }

    pub(super) fn time_at(&self, beats: f64) -> Option<UtcInstant> {
        Some(self.start_at?.plus_seconds(beats * self.beat_s?))
    }

    /// When the last float is out.
    pub(super) fn last_at(&self) -> Option<UtcInstant> {
        self.dense.last().and_then(|point| self.time_at(point.beats))
    }

    /// Where the ship is; held at both ends.
    pub(super) fn place_at(&self, beats: f64) -> Option<Position> {
        let next = self.dense.partition_point(|point| point.beats <= beats);
        let before = self.dense.get(next.saturating_sub(1))?;
        let Some(after) = self.dense.get(next) else { return Some(before.place) };
        let span = after.beats - before.beats;
        let share = if span > 0.0 { ((beats - before.beats) / span).clamp(0.0, 1.0) } else { 0.0 };
        Some(between(before.place, after.place, share))
    }

    /// Where the ship is at a time.
    pub(super) fn place_when(&self, at: UtcInstant) -> Option<Position> {
        let beats = self.start_at.zip(self.beat_s).map_or(0.0, |(start, beat_s)| at.seconds_since(start) / beat_s);
        self.place_at(beats)
    }

    pub(super) fn dense(&self) -> Vec<Position> {
        self.dense.iter().map(|point| point.place).collect()
    }

    pub(super) fn beat_along(&self, piece: usize, share: f64) -> f64 {
        let beats = |index: usize| self.dense.get(index).map(|point| point.beats);
        let from = beats(piece).unwrap_or(0.0);
        from + share * (beats(piece + 1).unwrap_or(from) - from)
    }

    pub(super) fn leg_of(&self, piece: usize) -> Option<u32> {
        self.dense.get(piece + 1).or(self.dense.get(piece)).map(|point| point.leg)
    }

    /// The start and the end of each leg.
    pub(super) fn corners(&self, line: &Line) -> Vec<TrackPoint> {
        let corner = |point: &Point| TrackPoint {
            latitude_deg: point.place.latitude_deg(),
            longitude_deg: point.place.longitude_deg(),
            at: self.time_at(point.beats),
            leg: point.leg,
        };
        let first = self
            .dense
            .first()
            .map(|point| TrackPoint { leg: line.legs.first().map_or(1, |leg| leg.number), ..corner(point) });
        let ends = line
            .legs
            .iter()
            .filter_map(|leg| self.dense.iter().skip(1).rev().find(|point| point.leg == leg.number).map(corner));
        first.into_iter().chain(ends).collect()
    }
}

fn which_speed(current: Option<[f64; 2]>) -> Doubt {
    match current {
        Some([east_m_s, north_m_s]) => {
            let towards = quantity::wrap_bearing_deg(east_m_s.atan2(north_m_s).to_degrees());
            let text = format!(
                "The way over the ground is the ship's way through the water and a surface current of {:.2} m/s towards {towards:03.0}°, held for the whole setting.",
                east_m_s.hypot(north_m_s)
            );
            Doubt::new("way_with_surface_current", "plan", text)
        }
        None => Doubt::new(
            "way_without_current",
            "plan",
            "No current at the surface is known: the way is told through the water, and the ground covered may differ by all that the current sets.",
        ),
    }
}

fn between(from: Position, to: Position, share: f64) -> Position {
    let east_deg = wrap_longitude_deg(to.longitude_deg() - from.longitude_deg());
    let latitude_deg = from.latitude_deg() + share * (to.latitude_deg() - from.latitude_deg());
    Position::new(latitude_deg, wrap_longitude_deg(from.longitude_deg() + share * east_deg)).unwrap_or(from)
}
