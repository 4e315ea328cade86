//! Which end first: two plans for hauling one line, from the first and from the last radio buoy, side by side.
//!
//! Model: each buoy is carried forward from its own fixes (`water::fixes`); the ship steams the geodesic at a steady speed to
//! where the buoy of that end will lie; hooks come up in order from that end at a steady pace. The soak of a hook is from
//! its clipping to its lifting, which is also the longest that a fish on it can have been dead. Rest is judged with the
//! haul added to what each person has worked (`voyage::rest`). Common practice, no source: start from the last buoy.

mod of_set;
mod plan;

pub use of_set::{Chosen, of_set, pace};
pub use plan::ends;

use quantity::UtcInstant;
use serde::{Deserialize, Serialize};
use voyage::rest::{Span, WorstWindow};
use water::fixes::{Ahead, Buoy, FixError};

/// A set in the water, and what is asked.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EndsAsked {
    /// Now.
    pub now: UtcInstant,
    /// Where the ship is, degrees north.
    pub ship_latitude_deg: f64,
    /// Where the ship is, degrees east.
    pub ship_longitude_deg: f64,
    /// Her speed while steaming to the line, knots.
    pub ship_speed_kn: f64,
    /// The chosen hour for the start of the haul; as soon as the ship can be there when left out.
    #[serde(default)]
    pub start_at: Option<UtcInstant>,
    /// The radio buoys in setting order, the first end first, with their fixes. Where a buoy went out is a fix too.
    pub buoys: Vec<Buoy>,
    /// Stretches of hooks in setting order.
    pub stretches: Vec<Stretch>,
    /// Hooks hauled in an hour.
    pub pace_hooks_h: f64,
    /// One standard error of that; a fifth of the pace when left out.
    #[serde(default)]
    pub pace_error_hooks_h: Option<f64>,
    /// Wind from, degrees true.
    #[serde(default)]
    pub wind_from_deg_true: Option<f64>,
    /// How long before the start the hands are called, seconds; half an hour when left out.
    #[serde(default = "half_an_hour_s")]
    pub call_before_s: f64,
    /// The people who haul, with what they have worked.
    #[serde(default)]
    pub people: Vec<Worker>,
    /// How long the next set takes, seconds; for when it would break somebody's rest.
    #[serde(default)]
    pub next_set_s: Option<f64>,
}

/// Hooks that went out one after the other at a steady pace, such as those of one basket.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Stretch {
    /// How many.
    pub hooks: u32,
    /// When the first of them was clipped.
    pub first_clipped_at: UtcInstant,
    /// When the last of them was clipped.
    pub last_clipped_at: UtcInstant,
}

/// A person and his work.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Worker {
    /// His name.
    pub name: String,
    /// What he has worked, and what is planned besides this haul.
    pub intervals: Vec<Span>,
}

/// Two plans side by side.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Ends {
    /// Every radio buoy at the start of the haul from the last end; the same hour for all.
    pub buoys: Vec<Ahead>,
    /// The hour of those places.
    pub buoys_at: UtcInstant,
    /// From the last buoy towards the first.
    pub from_last: Option<EndPlan>,
    /// From the first buoy towards the last.
    pub from_first: Option<EndPlan>,
    /// What to do when the last buoy is not heard; none with a single buoy.
    pub if_last_silent: Option<IfSilent>,
    /// Hooks in the water.
    pub hooks: u32,
    /// What is not certain.
    pub doubts: Vec<EndDoubt>,
}

/// Hauling from one end.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EndPlan {
    /// The radio buoy to steam to, where it will be, with its band.
    pub buoy: Ahead,
    /// The shortest way there, metres.
    pub distance_m: f64,
    /// Course to leave on, degrees true.
    pub bearing_deg_true: f64,
    /// How long at the given speed, seconds.
    pub steam_s: f64,
    /// When to leave.
    pub leave_at: UtcInstant,
    /// When to call the hands.
    pub call_at: UtcInstant,
    /// When the haul starts.
    pub starts_at: UtcInstant,
    /// When it ends.
    pub ends_at: UtcInstant,
    /// One standard error of that, from the pace, seconds.
    pub ends_error_s: f64,
    /// The shortest time that a hook fishes, seconds.
    pub shortest_soak_s: f64,
    /// The longest, seconds: as long can a fish have been dead.
    pub longest_soak_s: f64,
    /// The mean, seconds.
    pub mean_soak_s: f64,
    /// Course along the line while hauling, degrees true; none with a single buoy.
    pub haul_course_deg_true: Option<f64>,
    /// Wind off the bow on that course, degrees: 0 ahead, 180 astern.
    pub wind_off_bow_deg: Option<f64>,
    /// On which side the wind comes in: `port`, `starboard`.
    pub wind_side: Option<&'static str>,
    /// Rest of each person if the haul goes so, the worst first.
    pub rest: Vec<RestOf>,
}

/// Rest of one person with the haul added.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RestOf {
    /// His name.
    pub name: String,
    /// The 24 hours with the least rest.
    pub worst_24h: WorstWindow,
    /// The seven days with the least rest.
    pub worst_7d: WorstWindow,
    /// Earlier than this the next set would break the rule for him; none where its length was not given or no start keeps it.
    pub next_set_from: Option<UtcInstant>,
}

/// What to do when the last buoy is not heard.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct IfSilent {
    /// The buoy to try next.
    pub next_buoy: String,
    /// Where it will be, degrees north.
    pub latitude_deg: f64,
    /// Where it will be, degrees east.
    pub longitude_deg: f64,
    /// Where to cross the line that is expected between the two, degrees north.
    pub cross_latitude_deg: f64,
    /// The same, degrees east.
    pub cross_longitude_deg: f64,
    /// Along the line there, towards the silent buoy, degrees true.
    pub line_bearing_deg_true: f64,
    /// Courses that cross it at right angles, degrees true.
    pub cross_courses_deg_true: [f64; 2],
    /// How far to either side to look, metres: the larger of the two bands.
    pub look_m: f64,
}

/// Something that is not certain.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EndDoubt {
    /// Which kind.
    pub kind: &'static str,
    /// In plain words.
    pub text: String,
}

/// Why the two ends cannot be compared.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EndsError {
    /// A number that cannot be.
    #[error("{field} is {value}; it must be above 0 and at most {most}. Nothing was computed")]
    OutOfRange {
        /// Which.
        field: &'static str,
        /// As given.
        value: f64,
        /// The most that is taken.
        most: f64,
    },
    /// The ship is nowhere on the earth.
    #[error("the ship's place {latitude_deg}, {longitude_deg} is no place on the earth; nothing was computed")]
    NoPlace {
        /// As given.
        latitude_deg: f64,
        /// As given.
        longitude_deg: f64,
    },
    /// Stretches whose hooks end before they begin.
    #[error("stretch {number} of the line ends at {last} before it begins at {first}; mend its times")]
    TurnedStretch {
        /// Which, from 1.
        number: usize,
        /// Its beginning.
        first: UtcInstant,
        /// Its end.
        last: UtcInstant,
    },
    /// No hooks in the water.
    #[error("no hooks are in the water: there is nothing to haul")]
    NoHooks,
    /// A fix that is none.
    #[error(transparent)]
    Fix(#[from] FixError),
    /// A record of work that cannot be judged.
    #[error(transparent)]
    Rest(#[from] voyage::rest::RestError),
}

const fn half_an_hour_s() -> f64 {
    1_800.0
}
