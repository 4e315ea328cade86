//! The ship's track and speeds, from `ship_state` events.

use quantity::{Position, UtcInstant, wrap_longitude_deg};

use super::Fact;
use super::belong::Belonging;
use crate::kind::Data;

/// Longest silence of the instruments across which a place is still interpolated without a doubt, s.
pub(crate) const LONGEST_SILENCE_S: f64 = 180.0;
/// How far beyond either end of the track its end still counts, s.
const REACH_S: f64 = 70.0;

/// One reading of the ship's state.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    pub t: UtcInstant,
    pub through_water_kn: Option<f64>,
    pub over_ground_kn: Option<f64>,
    pub water_temperature_c: Option<f64>,
    pub wind_speed_m_s: Option<f64>,
    pub wind_from_deg_true: Option<f64>,
}

/// The readings of one voyage in order of time.
#[derive(Default)]
pub(crate) struct Track {
    pub readings: Vec<Reading>,
    fixes: Vec<(UtcInstant, Position)>,
}

/// The track of each voyage.
pub(crate) fn by_voyage(facts: &[Fact<'_>], belonging: &Belonging) -> Vec<Track> {
    let mut tracks: Vec<Track> = belonging.voyages.iter().map(|_| Track::default()).collect();
    for fact in facts {
        let Data::ShipState(state) = fact.data.as_ref() else { continue };
        let place = match (state.latitude_deg, state.longitude_deg) {
            (Some(lat), Some(lon)) => Position::new(lat, lon).ok(),
            _ => None,
        };
        let track = &mut tracks[belonging.voyage_at(fact.t)];
        track.readings.push(Reading {
            t: fact.t,
            through_water_kn: state.speed_through_water_kn,
            over_ground_kn: state.speed_over_ground_kn,
            water_temperature_c: state.water_temperature_c,
            wind_speed_m_s: state.wind_speed_m_s,
            wind_from_deg_true: state.wind_from_deg_true,
        });
        if let Some(place) = place {
            track.fixes.push((fact.t, place));
        }
    }
    tracks
}

/// Where the ship was, and whether the instruments were silent round that moment.
pub(crate) struct Fixed {
    pub place: Position,
    pub silent_s: Option<f64>,
}

impl Track {
    /// Where the ship was at `t`: between two fixes straight in latitude and longitude (across the few
    /// hundred metres between readings the geodesic differs by less than a millimetre).
    pub fn at(&self, t: UtcInstant) -> Option<Fixed> {
        let next = self.fixes.partition_point(|(at, _)| *at <= t);
        let before = next.checked_sub(1).map(|index| self.fixes[index]);
        let after = self.fixes.get(next).copied();
        match (before, after) {
            (Some((t0, a)), _) if t0 == t => Some(Fixed { place: a, silent_s: None }),
            (Some((t0, a)), Some((t1, b))) => {
                let span_s = t1.seconds_since(t0);
                let share = t.seconds_since(t0) / span_s;
                let lat = a.latitude_deg() + share * (b.latitude_deg() - a.latitude_deg());
                let east = wrap_longitude_deg(b.longitude_deg() - a.longitude_deg());
                let place = Position::new(lat, wrap_longitude_deg(a.longitude_deg() + share * east)).ok()?;
                Some(Fixed { place, silent_s: (span_s > LONGEST_SILENCE_S).then_some(span_s) })
            }
            (Some((at, place)), None) | (None, Some((at, place))) => {
                let away_s = t.seconds_since(at).abs();
                (away_s <= REACH_S).then_some(Fixed { place, silent_s: Some(away_s) })
            }
            (None, None) => None,
        }
    }

    /// Readings from `from` to `to`, both included.
    pub fn between(&self, from: UtcInstant, to: UtcInstant) -> &[Reading] {
        let start = self.readings.partition_point(|reading| reading.t < from);
        let end = self.readings.partition_point(|reading| reading.t <= to);
        self.readings.get(start..end).unwrap_or(&[])
    }

    /// The reading nearest to `t`, within `reach_s`.
    pub fn nearest(&self, t: UtcInstant, reach_s: f64, has: impl Fn(&Reading) -> bool) -> Option<&Reading> {
        let next = self.readings.partition_point(|reading| reading.t <= t);
        let before = self.readings[..next].iter().rev().take(400).find(|reading| has(reading));
        let after = self.readings[next..].iter().take(400).find(|reading| has(reading));
        [before, after]
            .into_iter()
            .flatten()
            .min_by_key(|reading| (reading.t.micros() - t.micros()).abs())
            .filter(|reading| reading.t.seconds_since(t).abs() <= reach_s)
    }

    /// The fixes from `from` to `to`, thinned to one a minute.
    pub fn thinned(&self, from: UtcInstant, to: UtcInstant) -> Vec<(UtcInstant, Position)> {
        let mut kept: Vec<(UtcInstant, Position)> = Vec::new();
        let start = self.fixes.partition_point(|(t, _)| *t < from);
        for (t, place) in self.fixes[start..].iter().take_while(|(t, _)| *t <= to) {
            if kept.last().is_none_or(|(last, _)| t.seconds_since(*last) >= 60.0) {
                kept.push((*t, *place));
            }
        }
        kept
    }
}
