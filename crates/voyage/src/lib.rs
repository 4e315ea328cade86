//! What happened aboard, and what it adds up to: event kinds, and the fold of events into a voyage.
//!
//! Pure: a voyage is a function of its events and of the moment called *now*. Start with
//! [`read_event`] (bytes to event) and [`fold`] (events to a [`Book`] of voyages).

pub mod aboard;
pub mod beat;
pub mod data;
pub mod doubt;
pub mod envelope;
mod fold;
pub mod kind;
pub mod loose;
pub mod outgoing;
pub mod rest;
pub mod score;
pub mod state;

pub use aboard::Aboard;
pub use doubt::Doubt;
pub use envelope::{Basis, Envelope, Event, MAX_EVENT_BYTES, Refusal, read_event};
pub use fold::{Logged, fold, fold_until};
pub use kind::{Data, Kind};
pub use outgoing::{BeingSet, GearFrom, Outgoing, plan_number};
pub use state::{Basket, Book, CatchFate, Fish, Gear, HaulPart, Hook, HookFate, Place, SetRecord, VoyageRecord};
