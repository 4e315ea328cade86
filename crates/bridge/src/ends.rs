//! From which end to haul a set that is in the water: two plans side by side.

use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::Response;
use forecast::ends::{Chosen, EndDoubt, Ends, EndsError, ends as two_plans, of_set};
use quantity::{Position, UtcInstant};
use voyage::SetRecord;

use crate::app::App;
use crate::asked::{MaybeAsked, MaybeNamed, asked};
use crate::gate::Caller;
use crate::plan::ship_now;
use crate::problem::Problem;
use crate::views::of_set_of;

/// Where nobody says how fast the ship steams to the line, knots: a judgement, told in the answer.
const USUAL_SPEED_KN: f64 = 8.0;

/// From which end to haul: from the last radio buoy and from the first
///
/// Buoys are carried forward from their own fixes; rest is judged with the haul added. Not for navigation.
#[utoipa::path(get, path = "/api/sets/{number}/ends", tag = "voyage",
    params(("number" = usize, Path, description = "1, 2, 3 … in the voyage"), ("voyage" = Option<usize>, Query, description = "its number; the last one without"),
        ("speed_kn" = Option<f64>, Query, description = "the ship's speed to the line, knots; 8 without"),
        ("start_at" = Option<String>, Query, description = "the chosen hour, UTC; as soon as she can be there without"),
        ("pace_hooks_h" = Option<f64>, Query, description = "hooks hauled in an hour; that of this voyage's hauls without"),
        ("next_set_s" = Option<f64>, Query, description = "how long the next set takes, seconds; as long as this one without")),
    responses((status = 200, description = "two plans", body = Ends), (status = "4XX", body = Problem, description = "no such set, nothing in the water, or no pace yet")))]
pub(crate) async fn ends(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    set: MaybeNamed,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    let asked = asked(query)?;
    let speed_kn = decimal("speed_kn", asked.speed_kn.as_deref())?;
    let pace_hooks_h = decimal("pace_hooks_h", asked.pace_hooks_h.as_deref())?;
    let next_set_s = decimal("next_set_s", asked.next_set_s.as_deref())?;
    let start_at = asked.start_at.as_deref().map(moment).transpose()?;
    let here = ship_now(&app);
    of_set_of(&app, &caller, set, asked.voyage.as_deref(), move |folded, voyage, set| {
        let ship = here.or_else(|| last_known(set)).ok_or_else(|| {
            Problem::not_found("nobody knows where the ship is: no fix from the instruments and no track of this set.")
        })?;
        let chosen = Chosen {
            now: folded.now,
            ship,
            ship_speed_kn: speed_kn.unwrap_or(USUAL_SPEED_KN),
            start_at,
            pace_hooks_h,
        };
        let question = of_set(voyage, set, &chosen).ok_or_else(|| {
            Problem::not_found("nothing was hauled on this voyage yet, so its pace is not known: say how many hooks an hour (pace_hooks_h).")
        })?;
        let question = forecast::ends::EndsAsked { next_set_s: next_set_s.or(question.next_set_s), ..question };
        let mut told = two_plans(&question).map_err(|error| match error {
            EndsError::NoHooks => Problem::not_found(format!("{error}.")),
            _ => Problem::not_understood(format!("{error}.")),
        })?;
        if speed_kn.is_none() {
            let text = format!("Nobody said how fast the ship steams to the line: {USUAL_SPEED_KN} kn is taken (a judgement).");
            told.doubts.push(EndDoubt { kind: "speed_assumed", text });
        }
        Ok(told)
    })
    .await
}

fn last_known(set: &SetRecord) -> Option<Position> {
    set.hauling_track.last().or_else(|| set.setting_track.last()).map(|(_, place)| *place)
}

/// A parameter that is a plain number.
fn decimal(name: &str, text: Option<&str>) -> Result<Option<f64>, Problem> {
    let Some(text) = text else { return Ok(None) };
    let number = text.parse::<f64>().ok().filter(|number| number.is_finite());
    number.map(Some).ok_or_else(|| {
        let shown: String = text.chars().take(40).collect();
        Problem::not_understood(format!("{name} is \"{shown}\"; it should be a number such as 7.5."))
    })
}

fn moment(text: &str) -> Result<UtcInstant, Problem> {
    text.parse().map_err(|_| {
        let shown: String = text.chars().take(40).collect();
        Problem::not_understood(format!("start_at is \"{shown}\"; it should be a moment such as 2026-03-04T13:00:00Z."))
    })
}
