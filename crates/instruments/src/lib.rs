//! NMEA 0183 and AIS from files and ports, merged into the state of the ship.
//!
//! Bytes → [`frame`] (sentences, checksums, TAG blocks) → [`sentence`] and [`ais`] (what they say) →
//! [`decode`] (one record a sentence, with the clock of the stream).

pub mod ais;
pub mod cadence;
pub mod clock;
pub mod decode;
pub mod doubt;
pub mod frame;
pub mod horn;
pub mod preference;
pub mod raw_files;
pub mod replay;
pub mod sentence;
pub mod sources;
pub mod state;
pub mod track;
