//! The set that goes out and what is ahead of it, as `forecast` reckons it with the zones that were loaded.

use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::Response;
use forecast::ahead::{Ahead, Loaded};

use crate::app::App;
use crate::asked::{MaybeAsked, MaybeNamed, asked};
use crate::gate::Caller;
use crate::problem::Problem;
use crate::views::of_set_of;

/// What is ahead of a set: hooks to come, end of setting, depths by stretches, stores left, zones
///
/// For the moment of the ship's clock. Distances to zones are geodesic, to their boundary; the answer says which zone
/// and how far, never what is allowed. Not for navigation.
#[utoipa::path(get, path = "/api/sets/{number}/ahead", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "what is known and what is expected, each with its band", body = Ahead), (status = "4XX", body = Problem, description = "no such set")))]
pub(crate) async fn ahead(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    number: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    let voyage = asked(query)?.voyage;
    let tables = Arc::clone(&app);
    of_set_of(&app, &caller, number, voyage.as_deref(), move |folded, voyage, set| {
        let read = tables.tables.zones(&folded.book.tables);
        let loaded = Loaded { zones: &read.zones, night_rules: &read.night_rules };
        Ok(forecast::ahead::ahead(voyage, set, &folded.depths(voyage, set), loaded, folded.now))
    })
    .await
}
