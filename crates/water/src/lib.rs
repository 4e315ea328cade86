//! The water and what drifts in it: where radio buoys will be, from their fixes alone.
//!
//! Pure. Start with [`fixes::ahead`]. Profiles, fields and the search for a parted line come when there is something to
//! put in them.

pub mod fixes;
mod hindcast;
mod plane;
