//! Plans: worked out for whoever asks, kept by nobody. A plan that is to count is posted as a `set_planned` event with the
//! `event_data` of the answer.

use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, Response, StatusCode};
use forecast::plan::{PlanWanted, Planned, plan_near};
use records::ScreenStrip;
use serde::Serialize;
use utoipa::ToSchema;

use crate::app::{App, blocking};
use crate::asked;
use crate::gate::Caller;
use crate::problem::{Problem, json};

/// A plan worked out, and its strip.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PlanAnswer {
    #[serde(flatten)]
    planned: Planned,
    /// The line to come under one surface, as shares of its width and metres.
    strip: ScreenStrip,
}

/// Work out a plan
///
/// Pure calculation, open to every role: nothing is kept. What is left out leaves open what rests on it, with a doubt.
#[utoipa::path(post, path = "/api/plan", tag = "voyage", request_body = PlanWanted,
    responses((status = 200, description = "the plan", body = PlanAnswer),
        (status = "4XX", body = Problem, description = "numbers that no set can have; nothing was planned")))]
pub(crate) async fn plan(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let wanted: PlanWanted = asked::read(&app, &headers, body).await?;
    let answer = blocking(&app, move |_| worked_out(&wanted)).await??;
    Ok(json(StatusCode::OK, &answer))
}

fn worked_out(wanted: &PlanWanted) -> Result<PlanAnswer, Problem> {
    let planned = plan_near(wanted, &[]).map_err(|error| Problem::not_understood(error.to_string()))?;
    let strip = records::planned_strip(&planned, wanted.utc_offset_min.unwrap_or(0));
    Ok(PlanAnswer { planned, strip })
}
