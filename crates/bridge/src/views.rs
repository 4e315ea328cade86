//! Views of the voyage: what the events add up to, as the screens ask for it.
//!
//! Every view names the cursor up to which it was drawn; a live stream opened with `after` set to it misses nothing.
//! Depths are computed (`forecast`) and stand with their band; what is not known is null.

use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderValue, Response, StatusCode, header};
use serde::Serialize;
use voyage::{SetRecord, VoyageRecord};

use crate::app::{App, blocking};
use crate::asked::{MaybeAsked, MaybeNamed, asked, named, number};
use crate::book::{BasketRow, FishRow, PlaceRow, SetView, VoyageView, baskets_of, set_view, voyage_view};
use crate::gate::Caller;
use crate::problem::{Problem, json};
use crate::ship::Folded;
use crate::wire::{Health, ShipTime};

/// The description of everything here, as it is committed.
const DOCUMENT: &str = include_str!("../openapi.json");

/// This description
#[utoipa::path(get, path = "/api/openapi.json", tag = "program",
    responses((status = 200, description = "OpenAPI 3.1", body = serde_json::Value)))]
pub(crate) async fn openapi() -> Response<Body> {
    let mut response = Response::new(Body::from(DOCUMENT));
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("application/json"));
    response
}

/// How the ship's program is
#[utoipa::path(get, path = "/api/health", tag = "program",
    responses((status = 200, description = "events are taken", body = Health),
        (status = "4XX", body = Problem, description = "not paired"),
        (status = 503, description = "the journal has stopped", body = Health)))]
pub(crate) async fn health(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let health = blocking(&app, health_of).await??;
    Ok(json(if health.ok { StatusCode::OK } else { StatusCode::SERVICE_UNAVAILABLE }, &health))
}

pub(crate) fn health_of(app: &App) -> Result<Health, Problem> {
    let caught_up = app.ship.catch_up();
    let stopped = app.ship.stopped().borrow().clone().or_else(|| caught_up.err().map(|error| error.to_string()));
    let (now_utc, time_basis) = app.ship.clock.now();
    Ok(Health {
        ok: stopped.is_none(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        epoch: app.ship.epoch().to_owned(),
        ship_seq: app.ship.cursor().sequence,
        set_aside: app.ship.with_reader(journal::Reader::set_aside_count).unwrap_or(0),
        stopped,
        now_utc,
        time_basis,
        backup: app.last_backup(),
        not_for_navigation: true,
    })
}

/// The ship's time
#[utoipa::path(get, path = "/api/clock", tag = "program",
    responses((status = 200, description = "ship's UTC", body = ShipTime),
        (status = "4XX", body = Problem, description = "not paired")))]
pub(crate) async fn clock(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let (utc, basis) = app.ship.clock.now();
    Ok(json(StatusCode::OK, &ShipTime { utc, basis, rate: app.ship.clock.rate() }))
}

/// The voyage and its sets
#[utoipa::path(get, path = "/api/voyage", tag = "voyage",
    params(("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "the voyage; null in it before the first", body = VoyageView),
        (status = "4XX", body = Problem, description = "no such voyage")))]
pub(crate) async fn voyage(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let wanted = number("voyage", asked(query)?.voyage.as_deref())?;
    let view = blocking(&app, move |app| -> Result<VoyageView, Problem> {
        let folded = folded(app)?;
        let picked = match wanted {
            None => folded.book.voyages.last().filter(|_| folded.cursor.sequence > 0),
            Some(number) => Some(pick_voyage(&folded, number)?),
        };
        Ok(voyage_view(&folded, picked))
    })
    .await??;
    Ok(json(StatusCode::OK, &view))
}

pub(crate) fn folded(app: &App) -> Result<Arc<Folded>, Problem> {
    app.ship.folded().map_err(|_| Problem::unreadable())
}

pub(crate) fn pick_voyage(folded: &Folded, number: usize) -> Result<&VoyageRecord, Problem> {
    let found = folded.book.voyages.iter().find(|voyage| voyage.number == number);
    found.ok_or_else(|| Problem::not_found(format!("there is no voyage {number} in the journal.")))
}

/// A set of the last voyage, or of the one that is named, put into an answer.
async fn of_set<T: Serialize + Send + 'static>(
    app: &Arc<App>,
    caller: &Caller,
    set: MaybeNamed,
    query: MaybeAsked,
    view: impl FnOnce(&Folded, &VoyageRecord, &SetRecord) -> T + Send + 'static,
) -> Result<Response<Body>, Problem> {
    let voyage = asked(query)?.voyage;
    of_set_of(app, caller, set, voyage.as_deref(), |folded, voyage, set| Ok(view(folded, voyage, set))).await
}

/// The same where the answer itself may be a problem.
pub(crate) async fn of_set_of<T: Serialize + Send + 'static>(
    app: &Arc<App>,
    caller: &Caller,
    set: MaybeNamed,
    voyage: Option<&str>,
    view: impl FnOnce(&Folded, &VoyageRecord, &SetRecord) -> Result<T, Problem> + Send + 'static,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let wanted = number("voyage", voyage)?;
    let set = number("the set", Some(&named(set)?))?.unwrap_or(0);
    let answer = blocking(app, move |app| -> Result<T, Problem> {
        let folded = folded(app)?;
        let voyage = match wanted {
            None => folded.book.voyages.last().ok_or_else(|| Problem::not_found("there is no voyage yet."))?,
            Some(number) => pick_voyage(&folded, number)?,
        };
        let record = voyage.sets.iter().find(|record| record.number == set);
        let record = record.ok_or_else(|| {
            let (number, count) = (voyage.number, voyage.sets.len());
            Problem::not_found(format!("there is no set {set} in voyage {number}; it has {count}."))
        })?;
        view(&folded, voyage, record)
    })
    .await??;
    Ok(json(StatusCode::OK, &answer))
}

/// A set: its figures, gear and doubts
#[utoipa::path(get, path = "/api/sets/{number}", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "the set", body = SetView), (status = "4XX", body = Problem, description = "no such set")))]
pub(crate) async fn set(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    number: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    of_set(&app, &caller, number, query, set_view).await
}

/// Every position of a set, in setting order
#[utoipa::path(get, path = "/api/sets/{number}/hooks", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "hooks with depths, fates and fish", body = Vec<records::HookRow>), (status = "4XX", body = Problem, description = "no such set")))]
pub(crate) async fn hooks(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    number: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    of_set(&app, &caller, number, query, |folded, voyage, set| records::hook_rows(set, &folded.depths(voyage, set)))
        .await
}

/// The baskets of a set: what the strip is painted from
#[utoipa::path(get, path = "/api/sets/{number}/baskets", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "baskets in setting order", body = Vec<BasketRow>), (status = "4XX", body = Problem, description = "no such set")))]
pub(crate) async fn baskets(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    number: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    of_set(&app, &caller, number, query, |folded, voyage, set| baskets_of(set, &folded.depths(voyage, set))).await
}

/// The floats and radio buoys of a set, in setting order
#[utoipa::path(get, path = "/api/sets/{number}/places", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "places", body = Vec<PlaceRow>), (status = "4XX", body = Problem, description = "no such set")))]
pub(crate) async fn places(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    number: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    of_set(&app, &caller, number, query, |_, _, set| set.places.iter().map(PlaceRow::of).collect::<Vec<_>>()).await
}

/// The fish of a set, as they came to the rail
#[utoipa::path(get, path = "/api/sets/{number}/fish", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "fish", body = Vec<FishRow>), (status = "4XX", body = Problem, description = "no such set")))]
pub(crate) async fn fish(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    number: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    of_set(&app, &caller, number, query, |_, _, set| set.fish.iter().map(FishRow::of).collect::<Vec<_>>()).await
}

/// The line, floats, tracks and catch of a set as GeoJSON
///
/// RFC 7946; lines are cut at 180°. Not for navigation.
#[utoipa::path(get, path = "/api/sets/{number}/map", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "a feature collection", body = serde_json::Value), (status = "4XX", body = Problem, description = "no such set")))]
pub(crate) async fn map(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    number: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    of_set(&app, &caller, number, query, |folded, voyage, set| {
        records::geojson(voyage, set, &folded.depths(voyage, set))
    })
    .await
}
