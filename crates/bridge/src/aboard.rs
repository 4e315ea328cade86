//! Who and what is aboard, as the fold counts it.

use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::{Response, StatusCode};
use quantity::UtcInstant;
use serde::Serialize;
use utoipa::ToSchema;
use voyage::VoyageRecord;
use voyage::aboard::{BaitStock, Bin, Person, RegisteredBuoy, StoreCount};
use voyage::outgoing::{BinRun, BinsAgainstBeat};

use crate::app::{App, blocking};
use crate::asked::{MaybeAsked, asked, number};
use crate::gate::Caller;
use crate::problem::{Problem, json};
use crate::ship::Folded;
use crate::views::{folded, pick_voyage};

/// The people of a voyage.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PeopleView {
    /// Up to which row this was drawn.
    cursor: String,
    /// Everybody who was aboard, by id; those who left too.
    people: Vec<Person>,
}

/// What is aboard.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct StoresView {
    /// Up to which row this was drawn.
    cursor: String,
    /// The moment up to which an open set was judged, ship's UTC.
    now_utc: UtcInstant,
    /// What was counted last of each item and kind; as counted, nothing taken off.
    counted: Vec<StoreCount>,
    /// Bait by kind.
    bait: Vec<BaitStock>,
    /// Main line aboard as the gear described last tells, m.
    main_line_aboard_m: Option<f64>,
    /// The register of radio buoys.
    radio_buoys: Vec<RegisteredBuoy>,
    /// The bins in the order in which they were described.
    bins: Vec<Bin>,
    /// The bins of the set that goes out, else of the last one; null before the first set.
    bins_of_set: Option<BinsOfSet>,
}

/// The bins of a set.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BinsOfSet {
    /// Which set.
    set: usize,
    /// The bin that is being emptied; null where none is.
    running: Option<String>,
    /// The next three.
    next: Vec<String>,
    /// Those that were begun, in order.
    begun: Vec<BinRun>,
    /// Hooks by bins against hooks by beat at the last change; null before it.
    against_beat: Option<BinsAgainstBeat>,
}

/// The people aboard
#[utoipa::path(get, path = "/api/people", tag = "voyage",
    params(("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "people; none before the first voyage", body = PeopleView), (status = "4XX", body = Problem, description = "no such voyage")))]
pub(crate) async fn people(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    of_voyage(&app, &caller, query, |folded, voyage| PeopleView {
        cursor: folded.cursor.to_string(),
        people: voyage.map_or_else(Vec::new, |voyage| voyage.aboard.people.clone()),
    })
    .await
}

/// Stores, bait, bins and radio buoys
#[utoipa::path(get, path = "/api/stores", tag = "voyage",
    params(("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "what is aboard, as far as it was told", body = StoresView), (status = "4XX", body = Problem, description = "no such voyage")))]
pub(crate) async fn stores(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    of_voyage(&app, &caller, query, |folded, voyage| {
        let aboard = voyage.map(|voyage| voyage.aboard.clone()).unwrap_or_default();
        let set = voyage.and_then(|voyage| {
            let going = voyage.sets.iter().rfind(|set| set.outgoing.being_set.is_some());
            going.or(voyage.sets.last())
        });
        StoresView {
            cursor: folded.cursor.to_string(),
            now_utc: folded.now,
            counted: aboard.stores,
            bait: aboard.bait,
            main_line_aboard_m: voyage
                .and_then(|voyage| voyage.sets.last())
                .and_then(|set| set.gear.main_line_aboard_m),
            radio_buoys: aboard.radio_buoys,
            bins: aboard.bins,
            bins_of_set: set.map(|set| BinsOfSet {
                set: set.number,
                running: set.outgoing.bins.iter().rfind(|run| run.ended_at.is_none()).map(|run| run.bin.clone()),
                next: set.outgoing.next_bins.clone(),
                begun: set.outgoing.bins.clone(),
                against_beat: set.outgoing.bins_against_beat,
            }),
        }
    })
    .await
}

/// The last voyage, or the one that is named, put into an answer; none before the first.
async fn of_voyage<T: Serialize + Send + 'static>(
    app: &Arc<App>,
    caller: &Caller,
    query: MaybeAsked,
    view: impl FnOnce(&Folded, Option<&VoyageRecord>) -> T + Send + 'static,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let wanted = number("voyage", asked(query)?.voyage.as_deref())?;
    let answer = blocking(app, move |app| -> Result<T, Problem> {
        let folded = folded(app)?;
        let picked = match wanted {
            None => folded.book.voyages.last(),
            Some(number) => Some(pick_voyage(&folded, number)?),
        };
        Ok(view(&folded, picked))
    })
    .await??;
    Ok(json(StatusCode::OK, &answer))
}
