//! The way ahead, and how near the line, the ship and that way come to zones.
//!
//! The ship goes on along rhumb lines at her speed now; where that is through the water, the surface current of the last
//! profile carries her besides. Between points of at most 5 km places are straight in longitude and latitude.

use quantity::{Position, UtcInstant, rhumb, wrap_longitude_deg};
use voyage::{Doubt, SetRecord};

use super::answer::AheadZone;
use super::coming::Coming;
use crate::to_come::KNOT_M_S;
use crate::zones::{Nearest, Zone, ZoneDistance, least_distance};

const STEP_M: f64 = 5_000.0;
/// The longest way that is looked at ahead, m.
const LONGEST_M: f64 = 1e6;

/// The way from the ship on, by beats from the next one due.
#[derive(Debug, Default)]
pub(super) struct Way {
    points: Vec<(f64, Position)>,
    from: Option<(UtcInstant, f64)>,
}

impl Way {
    pub(super) fn of(set: &SetRecord, coming: &Coming, now: UtcInstant, doubts: &mut Vec<Doubt>) -> Self {
        let Some(being) = &set.outgoing.being_set else { return Self::default() };
        let mut way = Self { points: Vec::new(), from: being.next_due_at.zip(being.beat_s) };
        let (Some(ship), Some(speed_kn), Some((due_at, beat_s))) = (being.ship, being.ship_speed_kn, way.from) else {
            let text = "The way ahead is not known: it needs the ship's place, her speed and a beat.";
            doubts.push(Doubt::new("way_unknown", "set", text));
            return way;
        };
        let surface = set.current_profile.first().filter(|_| !being.speed_is_over_ground);
        let drift_m_s = surface.map_or([0.0; 2], |level| [level.east_m_s, level.north_m_s]);
        let wait_beats = (due_at.seconds_since(now) / beat_s).max(0.0);
        way.points.push((-wait_beats, ship));
        let mut length_m = 0.0;
        for basket in &coming.baskets {
            let Some(course) = basket.course_deg_true else {
                doubts.push(Doubt::new("way_unknown", "set", "The way ahead is not known: nobody told the course."));
                way.points.truncate(1);
                return way;
            };
            let Some(&(begun, from)) = way.points.last() else { return way };
            let time_s = (basket.beats.1 - begun) * beat_s;
            let (sine, cosine) = course.to_radians().sin_cos();
            let east_m = time_s * (speed_kn * KNOT_M_S * sine + drift_m_s[0]);
            let north_m = time_s * (speed_kn * KNOT_M_S * cosine + drift_m_s[1]);
            let leg_m = east_m.hypot(north_m);
            length_m += leg_m;
            if !length_m.is_finite() || length_m > LONGEST_M {
                return way;
            }
            let bearing = if surface.is_none() { course } else { east_m.atan2(north_m).to_degrees() };
            let parts = (leg_m / STEP_M).ceil().max(1.0);
            let mut part = 1.0;
            while part <= parts {
                let share = part / parts;
                let Ok(to) = rhumb::direct(from, bearing, leg_m * share) else { return way };
                way.points.push((begun + share * (basket.beats.1 - begun), to.position));
                part += 1.0;
            }
        }
        way
    }

    pub(super) fn time_at(&self, beats: f64) -> Option<UtcInstant> {
        let (due_at, beat_s) = self.from?;
        Some(due_at.plus_seconds(beats * beat_s))
    }

    /// Where the ship is then; held at both ends.
    pub(super) fn place_at(&self, beats: f64) -> Option<Position> {
        let next = self.points.partition_point(|(at, _)| *at <= beats);
        match (next.checked_sub(1).and_then(|before| self.points.get(before)), self.points.get(next)) {
            (Some(a), Some(b)) => between(a.1, b.1, (beats - a.0) / (b.0 - a.0)),
            (Some(only), None) | (None, Some(only)) => Some(only.1),
            (None, None) => None,
        }
    }
}

fn between(from: Position, to: Position, share: f64) -> Option<Position> {
    let east_deg = wrap_longitude_deg(to.longitude_deg() - from.longitude_deg());
    let latitude_deg = from.latitude_deg() + share * (to.latitude_deg() - from.latitude_deg());
    Position::new(latitude_deg, wrap_longitude_deg(from.longitude_deg() + share * east_deg)).ok()
}

pub(super) fn zones(set: &SetRecord, zones: &[Zone], way: &Way, now: UtcInstant) -> Vec<AheadZone> {
    let mut out: Vec<(Position, Option<UtcInstant>)> =
        set.places.iter().filter_map(|place| Some((place.position?, place.clipped_at))).collect();
    out.extend(set.hooks.last().and_then(|hook| Some((hook.place?, hook.clipped_at))));
    let line: Vec<Position> = out.iter().map(|(place, _)| *place).collect();
    let ahead: Vec<Position> = way.points.iter().map(|(_, place)| *place).collect();
    let ship = set.outgoing.being_set.as_ref().and_then(|being| being.ship);
    let told = zones.iter().map(|zone| AheadZone {
        name: zone.name.clone(),
        line_so_far: least_distance(&line, zone).map(|near| {
            let time = |index: usize| out.get(index).and_then(|(_, at)| *at);
            let at = time(near.piece).map(|from| {
                time(near.piece + 1).map_or(from, |to| from.plus_seconds(near.share * to.seconds_since(from)))
            });
            distance(zone, &near, at)
        }),
        ship: ship.and_then(|ship| least_distance(&[ship], zone)).map(|near| distance(zone, &near, Some(now))),
        way_ahead: (ahead.len() > 1).then(|| least_distance(&ahead, zone)).flatten().map(|near| {
            let beats = |index: usize| way.points.get(index).map(|(beats, _)| *beats);
            let from = beats(near.piece);
            let at = from.zip(beats(near.piece + 1).or(from)).map(|(from, to)| from + near.share * (to - from));
            distance(zone, &near, at.and_then(|beats| way.time_at(beats)))
        }),
    });
    told.collect()
}

fn distance(zone: &Zone, near: &Nearest, at: Option<UtcInstant>) -> ZoneDistance {
    ZoneDistance {
        name: zone.name.clone(),
        least_distance_m: near.least_distance_m,
        inside: near.inside,
        at,
        latitude_deg: near.on_track.latitude_deg(),
        longitude_deg: near.on_track.longitude_deg(),
        leg: None,
    }
}
