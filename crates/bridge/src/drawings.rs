//! What screens paint of a set: the strip and the section, worked out by `records` as plain numbers.

use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::Response;
use records::{ScreenSection, ScreenStrip};

use crate::app::App;
use crate::asked::{MaybeAsked, MaybeNamed, asked, number};
use crate::gate::Caller;
use crate::problem::Problem;
use crate::views::of_set_of;

/// The strip of a set: the whole line under one surface, with what is still to come
///
/// Along it everything is a share of its width, 0 to 1. While a line is being set or hauled, ask again after every row
/// and every few seconds.
#[utoipa::path(get, path = "/api/sets/{number}/strip", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "geometry to be painted", body = ScreenStrip), (status = "4XX", body = Problem, description = "no such set")))]
pub(crate) async fn strip(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    number: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    let voyage = asked(query)?.voyage;
    of_set_of(&app, &caller, number, voyage.as_deref(), |folded, voyage, set| {
        let offset_min = voyage.utc_offsets.iter().rfind(|(from, _)| *from <= folded.now).map_or(0, |(_, min)| *min);
        Ok(records::screen_strip(voyage, set, &folded.depths(voyage, set), offset_min))
    })
    .await
}

/// One basket of a set in section, hanging in its water
#[utoipa::path(get, path = "/api/sets/{number}/section", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without"),
        ("basket" = Option<usize>, Query, description = "its number, one still to come too; without: the one being hung, else the typical one")),
    responses((status = 200, description = "geometry to be painted", body = ScreenSection), (status = "4XX", body = Problem, description = "no such set or basket")))]
pub(crate) async fn section(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    set: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    let asked = asked(query)?;
    let basket = number("basket", asked.basket.as_deref())?;
    of_set_of(&app, &caller, set, asked.voyage.as_deref(), move |folded, voyage, set| {
        let coming = forecast::to_come(voyage, set).baskets;
        let wanted = basket.map(|basket| i64::try_from(basket).unwrap_or(i64::MAX));
        let drawn = records::screen_section(set, &folded.depths(voyage, set), wanted, coming);
        drawn.ok_or_else(|| {
            let (number, baskets) = (set.number, set.baskets.len());
            Problem::not_found(match basket {
                Some(basket) => {
                    format!(
                        "there is no basket {basket} in set {number}; {baskets} are begun and {coming} are to come."
                    )
                }
                None => format!("set {number} has no basket yet."),
            })
        })
    })
    .await
}
