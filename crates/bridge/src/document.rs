//! The API document (OpenAPI 3.1), made from the handlers and the types that they answer with.
//!
//! It is committed as `openapi.json` and served as committed; a test makes it anew and compares.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use utoipa::OpenApi;

use crate::wire::{Envelope, LiveMessage};
use crate::{aboard, ahead, aside, beat, devices, drawings, ends, enrol, live, plan, posts, rows, table_routes, views};

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Gangion",
        description = "The ship's server: events in, views of the voyage and a live stream out. Not for navigation.",
        license(name = "MIT OR Apache-2.0", identifier = "MIT OR Apache-2.0")
    ),
    paths(
        views::openapi,
        views::health,
        views::clock,
        views::voyage,
        views::set,
        views::hooks,
        views::baskets,
        views::places,
        views::fish,
        views::map,
        drawings::strip,
        drawings::section,
        plan::plan,
        ends::ends,
        plan::start,
        plan::page,
        ahead::ahead,
        aboard::people,
        aboard::stores,
        aside::aside,
        table_routes::every,
        table_routes::of_kind,
        table_routes::one,
        table_routes::load,
        rows::events,
        posts::events,
        live::live,
        beat::order::beat,
        beat::order::order,
        rows::export,
        rows::backup,
        enrol::about,
        devices::list,
        devices::me,
        devices::revoke,
        devices::make_code,
        devices::pair,
        devices::set_pin,
        devices::unlock,
        devices::lock
    ),
    components(schemas(Envelope, LiveMessage)),
    tags(
        (name = "events", description = "what happened"),
        (name = "voyage", description = "what it adds up to"),
        (name = "devices", description = "the device that asks"),
        (name = "wheelhouse", description = "only at the ship's own computer, or paired by https with the PIN entered"),
        (name = "program", description = "the program itself")
    )
)]
struct Document;

/// The document with an example of each kind of event: kind to envelope.
#[must_use]
pub fn document(examples: &BTreeMap<String, Value>) -> Value {
    let mut document = serde_json::to_value(Document::openapi()).unwrap_or_default();
    let examples: serde_json::Map<String, Value> =
        examples.iter().map(|(kind, envelope)| (kind.clone(), json!({"summary": kind, "value": envelope}))).collect();
    if let Some(media) = document.pointer_mut("/paths/~1api~1events/post/requestBody/content/application~1json") {
        media["examples"] = Value::Object(examples);
    }
    document
}
