//! AIS: messages of several sentences put together, and the types that matter to a fishing vessel decoded.
//!
//! Source: gpsd project, "AIVDM/AIVDO protocol decoding" (`www/AIVDM.adoc`, BSD-2-Clause), which follows
//! ITU-R M.1371. Types 1, 2, 3, 5, 18, 19, 21, 24 and 27; of other types only type and MMSI are given.

pub mod assembly;
pub mod bits;
pub mod message;

pub use assembly::{Assembly, Outcome};
pub use message::{Ais, decode};
