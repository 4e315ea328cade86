//! The state of the ship: the last believed value of each quantity, its source and its age.
//!
//! A pure function of the sentences and the moments they are given with. When several sources send the same
//! quantity the best of the configured order is believed as long as it was heard within the time-out; sources are
//! never mixed value by value. A value older than the time-out is no value.

use std::collections::BTreeMap;

use quantity::{UtcInstant, wrap_bearing_deg};

use crate::preference::{SourceName, standing_rank};
use crate::sentence::{Reading, WindReference};

/// A quantity that has sources.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Quantity {
    Position,
    SpeedOverGround,
    Course,
    Heading,
    HeadingMagnetic,
    Variation,
    SpeedThroughWater,
    WaterTemperature,
    Depth,
    WindSpeed,
    WindAngle,
    WindFrom,
    Current,
}

impl Quantity {
    /// Its name in `sources` of a `ship_state` event; none for those that only serve others.
    #[must_use]
    pub const fn name(self) -> Option<&'static str> {
        Some(match self {
            Self::Position => "position",
            Self::SpeedOverGround => "speed_over_ground",
            Self::Course => "course",
            Self::Heading => "heading",
            Self::SpeedThroughWater => "speed_through_water",
            Self::WaterTemperature => "water_temperature",
            Self::Depth => "depth",
            Self::WindSpeed => "wind_speed",
            Self::WindFrom => "wind_from",
            Self::Current => "current",
            Self::HeadingMagnetic | Self::Variation | Self::WindAngle => return None,
        })
    }
}

/// Which sources are believed first, and for how long a silent one still counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Preferences {
    /// Best first, for each quantity; sources not listed follow in the standing order.
    pub order: BTreeMap<Quantity, Vec<SourceName>>,
    /// A source silent for longer is replaced, and its value is no value, seconds.
    pub time_out_s: f64,
}

impl Default for Preferences {
    fn default() -> Self {
        Self { order: BTreeMap::new(), time_out_s: 10.0 }
    }
}

impl Preferences {
    fn rank(&self, quantity: Quantity, source: SourceName) -> u32 {
        let listed = self.order.get(&quantity).and_then(|order| order.iter().position(|known| *known == source));
        listed.and_then(|at| u32::try_from(at).ok()).unwrap_or_else(|| 10_000 + standing_rank(source))
    }
}

/// A value (two numbers for a position or a current), who said it and when it came.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Believed {
    /// The first number: latitude, set, or the quantity itself.
    pub value: f64,
    /// The second: longitude, drift.
    pub second: f64,
    /// Who said it.
    pub source: SourceName,
    /// When it came.
    pub at: UtcInstant,
}

/// Takes one number out of a believed value.
type Number = fn(&Believed) -> f64;

/// The last values of all sources.
#[derive(Debug, Clone, Default)]
pub struct ShipState {
    preferences: Preferences,
    heard: BTreeMap<Quantity, Vec<Believed>>,
}

impl ShipState {
    /// A state that has heard nothing.
    #[must_use]
    pub fn new(preferences: Preferences) -> Self {
        Self { preferences, heard: BTreeMap::new() }
    }

    /// Takes what a sentence says, at the moment that it belongs to (its own or that of its arrival).
    pub fn take(&mut self, reading: &Reading<'_>, at: UtcInstant) {
        if reading.target.is_some() || reading.kind == b"WPL" {
            return;
        }
        let source = SourceName::of(reading);
        if let (Some(latitude_deg), Some(longitude_deg)) = (reading.latitude_deg, reading.longitude_deg) {
            self.keep(Quantity::Position, latitude_deg, longitude_deg, source, at);
        }
        if let (Some(set_deg), Some(drift_kn)) = (reading.current_set_deg_true, reading.current_drift_kn) {
            self.keep(Quantity::Current, set_deg, drift_kn, source, at);
        }
        // To the water line where the offset says how deep the transducer sits.
        let offset_m = reading.transducer_offset_m.unwrap_or(0.0).max(0.0);
        let true_wind =
            matches!(reading.wind_reference, Some(WindReference::BowTheoretical | WindReference::TrueNorth));
        let wind_angle = match reading.wind_reference {
            Some(WindReference::TrueNorth) => Some(Quantity::WindFrom),
            Some(WindReference::BowTheoretical) => Some(Quantity::WindAngle),
            _ => None,
        };
        for (quantity, value) in [
            (Quantity::SpeedOverGround, reading.speed_over_ground_kn),
            (Quantity::Course, reading.course_deg_true),
            (Quantity::Heading, reading.heading_deg_true),
            (Quantity::HeadingMagnetic, reading.heading_deg_magnetic),
            (Quantity::Variation, reading.magnetic_variation_deg),
            (Quantity::SpeedThroughWater, reading.speed_through_water_kn),
            (Quantity::WaterTemperature, reading.water_temperature_c),
            (Quantity::Depth, reading.depth_below_transducer_m.map(|depth_m| depth_m + offset_m)),
            (Quantity::WindSpeed, reading.wind_speed_m_s.filter(|_| true_wind)),
        ] {
            if let Some(value) = value {
                self.keep(quantity, value, 0.0, source, at);
            }
        }
        if let (Some(quantity), Some(angle_deg)) = (wind_angle, reading.wind_angle_deg) {
            self.keep(quantity, angle_deg, 0.0, source, at);
        }
    }

    fn keep(&mut self, quantity: Quantity, value: f64, second: f64, source: SourceName, at: UtcInstant) {
        let fresh = Believed { value, second, source, at };
        let all = self.heard.entry(quantity).or_default();
        match all.iter_mut().find(|known| known.source == source) {
            Some(known) => *known = fresh,
            None => {
                all.push(fresh);
                let preferences = &self.preferences;
                all.sort_by_key(|known| preferences.rank(quantity, known.source));
            }
        }
    }

    /// The believed value of a quantity as it was sent; none when every source is silent too long.
    #[must_use]
    pub fn sent(&self, quantity: Quantity, now: UtcInstant) -> Option<Believed> {
        let alive = |known: &&Believed| now.seconds_since(known.at).abs() <= self.preferences.time_out_s;
        self.heard.get(&quantity)?.iter().find(alive).copied()
    }

    /// True heading: as sent, else magnetic heading with variation.
    #[must_use]
    pub fn heading_deg_true(&self, now: UtcInstant) -> Option<Believed> {
        self.sent(Quantity::Heading, now).or_else(|| {
            let magnetic = self.sent(Quantity::HeadingMagnetic, now)?;
            let variation = self.sent(Quantity::Variation, now)?;
            Some(Believed { value: wrap_bearing_deg(magnetic.value + variation.value), ..magnetic })
        })
    }

    /// Where the true wind comes from: as sent, else from its angle to the bow and the heading.
    #[must_use]
    pub fn wind_from_deg_true(&self, now: UtcInstant) -> Option<Believed> {
        self.sent(Quantity::WindFrom, now).or_else(|| {
            let angle = self.sent(Quantity::WindAngle, now)?;
            let heading = self.heading_deg_true(now)?;
            Some(Believed { value: wrap_bearing_deg(angle.value + heading.value), ..angle })
        })
    }

    /// The `data` of a `ship_state` event at `now`; what is not known is left out.
    #[must_use]
    pub fn event_data(&self, now: UtcInstant) -> serde_json::Value {
        let mut data = serde_json::Map::new();
        let mut sources = serde_json::Map::new();
        data.insert("utc".to_owned(), now.to_string().into());
        let mut put = |quantity: Quantity, believed: Option<Believed>, keys: &[(&str, Number)]| {
            let (Some(believed), Some(name)) = (believed, quantity.name()) else { return };
            for (key, number) in keys {
                data.insert((*key).to_owned(), number(&believed).into());
            }
            sources.insert(name.to_owned(), believed.source.to_string().into());
        };
        let first: Number = |b| b.value;
        put(
            Quantity::Position,
            self.sent(Quantity::Position, now),
            &[("latitude_deg", first), ("longitude_deg", |b| b.second)],
        );
        put(Quantity::Heading, self.heading_deg_true(now), &[("heading_deg_true", first)]);
        put(Quantity::WindFrom, self.wind_from_deg_true(now), &[("wind_from_deg_true", first)]);
        put(
            Quantity::Current,
            self.sent(Quantity::Current, now),
            &[("current_to_deg_true", first), ("current_speed_kn", |b| b.second)],
        );
        for (quantity, key) in [
            (Quantity::SpeedOverGround, "speed_over_ground_kn"),
            (Quantity::Course, "course_deg_true"),
            (Quantity::SpeedThroughWater, "speed_through_water_kn"),
            (Quantity::WaterTemperature, "water_temperature_c"),
            (Quantity::Depth, "depth_m"),
            (Quantity::WindSpeed, "wind_speed_m_s"),
        ] {
            put(quantity, self.sent(quantity, now), &[(key, first)]);
        }
        data.insert("sources".to_owned(), sources.into());
        data.into()
    }
}
