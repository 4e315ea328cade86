//! The ship's server: events in by HTTP, views of the voyage and a live stream out, and who is let in.
//!
//! Only this room knows HTTP. It keeps events through the journal's one writer, folds them with `voyage`, reckons with
//! `forecast` and counts with `records`; it decides nothing about fishing. [`Ship`] is the journal being followed,
//! [`Server`] answers for it, [`document`](document::document) describes it.
//!
//! Sources: RFC 9110 and 9112 (HTTP), WHATWG HTML section 9.2 (server-sent events), OpenAPI 3.1.

mod aboard;
mod ahead;
mod app;
mod aside;
mod asked;
mod authority;
mod beat;
mod book;
mod crew;
mod cursor;
mod cut;
mod devices;
pub mod document;
mod drawings;
mod ends;
mod enrol;
mod event_stream;
mod frames;
mod gate;
mod limits;
mod live;
mod pages;
mod plan;
mod posts;
mod private_file;
mod problem;
mod role;
mod rows;
mod secret;
mod server;
mod ship;
mod ship_clock;
mod table_routes;
mod tables;
mod tls;
mod views;
mod wire;

/// A fresh id for an event of the ship's own: a UUID of version 7 (RFC 9562, section 5.7).
#[must_use]
pub fn fresh_id() -> String {
    uuid::Uuid::now_v7().to_string()
}

pub use app::Setup;
pub use beat::{Voice, VoiceError, VoiceMaker};
pub use cursor::{Cursor, CursorError};
pub use limits::Limits;
pub use pages::Page;
pub use role::Role;
pub use server::{ServeError, Server};
pub use ship::Ship;
pub use ship_clock::{ShipClock, TimeBasis};
