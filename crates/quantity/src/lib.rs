//! Physical quantities that cross function borders, and the sky and earth geometry under them.
//!
//! Pure: no clock, file or network. Signs and zeros: depth positive down, latitude north positive,
//! longitude east positive in [−180, 180), bearings clockwise from true north in [0, 360),
//! currents *towards*, wind *from*, instants UTC.

pub mod geodesic;
pub mod instant;
pub mod moon;
pub mod position;
pub mod rhumb;
pub mod sky;
pub mod sun;
#[cfg(feature = "testing")]
pub mod testing;

pub use instant::{InstantError, UtcInstant};
pub use position::{Position, PositionError, wrap_bearing_deg, wrap_longitude_deg};
