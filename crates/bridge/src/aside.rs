//! Events that contradict others: both are kept, this one lies aside until a person has looked at it.

use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::{Response, StatusCode};
use quantity::UtcInstant;
use serde::Serialize;
use serde_json::value::RawValue;
use utoipa::ToSchema;

use crate::app::{App, blocking};
use crate::gate::Caller;
use crate::problem::{Problem, json};

/// The events that lie aside.
#[derive(Serialize, ToSchema)]
pub(crate) struct Aside {
    /// In the order in which they came.
    events: Vec<AsideEvent>,
}

/// One of them.
#[derive(Serialize, ToSchema)]
pub(crate) struct AsideEvent {
    /// Its id.
    id: String,
    /// Its device.
    device: String,
    /// Its number on that device.
    device_seq: i64,
    /// When the ship received it.
    received_at: UtcInstant,
    /// In what it contradicts.
    reason: String,
    /// The row that it contradicts.
    against_ship_seq: i64,
    /// The event as it came; null where it is no JSON.
    #[schema(value_type = Option<serde_json::Value>)]
    event: Box<RawValue>,
    /// The event that stands in the journal.
    #[schema(value_type = Option<serde_json::Value>)]
    against: Box<RawValue>,
}

/// The events that contradict others and lie aside
///
/// Nothing of them is in the views of the voyage. Whoever was right, the other is put right by a correction.
#[utoipa::path(get, path = "/api/aside", tag = "events",
    responses((status = 200, description = "events aside, each with the one that stands", body = Aside), (status = "4XX", body = Problem, description = "not paired")))]
pub(crate) async fn aside(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let aside = blocking(&app, |app| -> Result<Aside, Problem> {
        let raw =
            |body: &[u8]| serde_json::from_slice::<Box<RawValue>>(body).unwrap_or_else(|_| RawValue::NULL.to_owned());
        let read = app.ship.with_reader(|reader| {
            let mut events = Vec::new();
            for event in reader.set_aside()? {
                let stands = reader.rows_after(event.against_ship_seq - 1).next().transpose()?;
                events.push(AsideEvent {
                    event: raw(event.body.as_bytes()),
                    against: stands.map_or_else(|| RawValue::NULL.to_owned(), |row| raw(&row.body)),
                    id: event.id,
                    device: event.device,
                    device_seq: event.device_seq,
                    received_at: event.received_at,
                    reason: event.reason,
                    against_ship_seq: event.against_ship_seq,
                });
            }
            Ok(events)
        });
        Ok(Aside { events: read.map_err(|_| Problem::unreadable())? })
    })
    .await??;
    Ok(json(StatusCode::OK, &aside))
}
