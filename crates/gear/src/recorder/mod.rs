//! Time–depth recorders: their text files read by a column mapping, doubted where doubtful, and cut into before,
//! sinking, soak and hauling.
//!
//! `mapping` says what the columns are, `placement` where each recorder hung; `text` turns bytes into rows; `reading` turns rows
//! into depths in UTC with doubts; `cut` finds the phases and the medians of the soak.

pub mod cut;
pub mod doubt;
pub mod error;
pub mod inspect;
pub mod mapping;
pub mod placement;
pub mod pressure;
pub mod reading;
mod text;
pub mod zone;

pub use cut::{Cut, Median, cut};
pub use doubt::Doubt;
pub use error::RecorderError;
pub use mapping::Mapping;
pub use placement::{HungOn, Placement};
pub use reading::{Reading, Sample, before_readings, read};
pub use zone::SetTimes;
