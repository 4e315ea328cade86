//! NMEA 0183 and AIS from files and ports, merged into the state of the ship.
//!
//! Bytes → [`frame`] (sentences, checksums, TAG blocks) → [`sentence`] and [`ais`] (what they say) →
//! [`decode`] (one record a sentence, with the clock of the stream).

pub mod frame;
pub mod sentence;
pub mod ais;
pub mod clock;
pub mod decode;
pub mod doubt;
pub mod preference;
pub mod track;
