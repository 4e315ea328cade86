//! The boat's tables over HTTP: which there are, what is in them, and loading one.

use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, Response, StatusCode, header};
use serde::Serialize;
use serde_json::json as value;
use utoipa::ToSchema;

use crate::app::{App, blocking};
use crate::asked::{self, MaybeNamed, MaybeNamedTwice, named};
use crate::gate::Caller;
use crate::problem::{Problem, ProblemCode, json};
use crate::tables::{TableError, TableHead, TableState, TargetRow, What};
use crate::views::folded;

/// Kinds of content that a table may come as.
const KINDS: [&str; 2] = ["application/json", "application/geo+json"];

/// The tables.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TableList {
    /// By kind and name.
    tables: Vec<TableHead>,
}

/// The tables of one kind.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TablesOfKind {
    /// What they are of.
    what: What,
    /// By name.
    tables: Vec<TableHead>,
    /// Targets: the rows of all tables that are used; empty for the other kinds.
    rows: Vec<TargetRow>,
}

impl From<TableError> for Problem {
    fn from(error: TableError) -> Self {
        let text = error.to_string();
        let text = if text.ends_with('.') { text } else { format!("{text}.") };
        match error {
            TableError::Name { .. } => Self::not_found(text),
            TableError::Unwritten { .. } => Self::new(StatusCode::SERVICE_UNAVAILABLE, ProblemCode::Unwritten, text),
            TableError::TooMany => Self::new(StatusCode::PAYLOAD_TOO_LARGE, ProblemCode::TooLarge, text),
            _ => Self::not_understood(text),
        }
    }
}

fn kind_of(word: &str) -> Result<What, Problem> {
    What::of_word(word).ok_or_else(|| {
        let shown: String = word.chars().take(40).collect();
        let known = What::ALL.map(What::word).join(", ");
        Problem::not_found(format!("there are no tables of \"{shown}\"; there are {known}."))
    })
}

fn both(path: MaybeNamedTwice) -> Result<(What, String), Problem> {
    let (what, name) = path
        .map(|axum::extract::Path(both)| both)
        .map_err(|_| Problem::not_found("there is nothing under this address."))?;
    Ok((kind_of(&what)?, name))
}

/// The boat's tables
///
/// A table counts only in the state `loaded`. A real voyage begins with none.
#[utoipa::path(get, path = "/api/tables", tag = "voyage",
    responses((status = 200, description = "every table, by kind and name", body = TableList), (status = "4XX", body = Problem, description = "not paired")))]
pub(crate) async fn every(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let list = blocking(&app, |app| -> Result<TableList, Problem> {
        Ok(TableList { tables: app.tables.heads(&folded(app)?.book.tables, None) })
    })
    .await??;
    Ok(json(StatusCode::OK, &list))
}

/// The boat's tables of one kind
#[utoipa::path(get, path = "/api/tables/{what}", tag = "voyage",
    params(("what" = String, Path, description = "zones, targets, step_lists or limits")),
    responses((status = 200, description = "the tables, and the rows of those that are used", body = TablesOfKind), (status = "4XX", body = Problem, description = "no such kind")))]
pub(crate) async fn of_kind(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    what: MaybeNamed,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let what = kind_of(&named(what)?)?;
    let tables = blocking(&app, move |app| -> Result<TablesOfKind, Problem> {
        let loaded = &folded(app)?.book.tables;
        let rows = if what == What::Targets { app.tables.targets(loaded) } else { Vec::new() };
        Ok(TablesOfKind { what, tables: app.tables.heads(loaded, Some(what)), rows })
    })
    .await??;
    Ok(json(StatusCode::OK, &tables))
}

/// One table as it was loaded
#[utoipa::path(get, path = "/api/tables/{what}/{name}", tag = "voyage",
    params(("what" = String, Path, description = "zones, targets, step_lists or limits"), ("name" = String, Path, description = "its name")),
    responses((status = 200, description = "the file, byte for byte", body = serde_json::Value), (status = "4XX", body = Problem, description = "no such table")))]
pub(crate) async fn one(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    path: MaybeNamedTwice,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let (what, name) = both(path)?;
    let bytes = blocking(&app, move |app| -> Result<Vec<u8>, Problem> {
        let missing = || Problem::not_found(format!("there is no table \"{name}\" of {}.", what.word()));
        app.tables.read(what, &name)?.ok_or_else(missing)
    })
    .await??;
    let mut response = Response::new(Body::from(bytes));
    let kind = if what == What::Zones { "application/geo+json" } else { "application/json" };
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    Ok(response)
}

/// Load a table
///
/// From the wheelhouse at the ship's own computer. The whole table is taken or nothing of it; a `table_loaded` event
/// keeps its SHA-256. Zones: GeoJSON (RFC 7946). Targets: `{"rows": [{"name", "species"?, "layer_m": [upper, lower],
/// "source", "note"?}]}`. An empty collection of zones, or no rows, puts an older table of that name out of use.
#[utoipa::path(put, path = "/api/tables/{what}/{name}", tag = "wheelhouse", request_body = serde_json::Value,
    params(("what" = String, Path, description = "zones, targets, step_lists or limits"), ("name" = String, Path, description = "its name")),
    responses((status = 200, description = "it is loaded", body = TableHead), (status = "4XX", body = Problem, description = "it is not; what was there stays"),
        (status = 503, body = Problem, description = "it could not be written, or the journal has stopped")))]
pub(crate) async fn load(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    path: MaybeNamedTwice,
    headers: HeaderMap,
    body: Body,
) -> Result<Response<Body>, Problem> {
    caller.wheelhouse()?;
    let (what, name) = both(path)?;
    let bytes = asked::body_of(&app, &headers, body, &KINDS).await?;
    let head = blocking(&app, move |app| -> Result<TableHead, Problem> {
        let _alone = app.tables.alone();
        let sound = app.tables.prepare(what, &name, &bytes)?;
        let (utc, _) = app.ship.clock.now();
        let data = value!({"what": sound.what.word(), "name": sound.name, "sha256": sound.sha256});
        let kept = app.ship.keep(vec![app.own_event("table_loaded", &data, utc)]);
        kept.map_err(|error| {
            Problem::new(StatusCode::SERVICE_UNAVAILABLE, ProblemCode::JournalStopped, error.to_string())
        })?;
        sound.settle()?;
        let folded = folded(app)?;
        // Whoever plans meanwhile has the new zones too.
        app.tables.zones(&folded.book.tables);
        let heads = app.tables.heads(&folded.book.tables, Some(what));
        let head = heads.into_iter().find(|head| head.name == name && head.state == TableState::Loaded);
        head.ok_or_else(Problem::unreadable)
    })
    .await??;
    Ok(json(StatusCode::OK, &head))
}
