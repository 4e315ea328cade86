//! Plans: worked out for whoever asks, kept by nobody. A plan that is to count is posted as a `set_planned` event with the
//! `event_data` of the answer.

use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, Response, StatusCode, header};
use forecast::plan::{PlanWanted, Planned, StartFrom, plan_near, start_from};
use forecast::zones::Zone;
use quantity::Position;
use records::ScreenStrip;
use serde::Serialize;
use sha2::{Digest, Sha256};
use utoipa::ToSchema;

use crate::app::{App, blocking};
use crate::asked::{self, MaybeAsked};
use crate::gate::Caller;
use crate::problem::{Problem, json};
use crate::tables::ReadZones;
use crate::views::folded;

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
    let answer =
        blocking(&app, move |app| -> Result<PlanAnswer, Problem> { worked_out(&wanted, &zones_of(app)?.zones) })
            .await??;
    Ok(json(StatusCode::OK, &answer))
}

/// A plan as one page of paper
///
/// The same plan as HTML for A4: no script, nothing from outside, its only style named by hash.
#[utoipa::path(post, path = "/api/plan/page", tag = "voyage", request_body = PlanWanted,
    responses((status = 200, description = "the page", body = String, content_type = "text/html"),
        (status = "4XX", body = Problem, description = "numbers that no set can have; nothing was planned")))]
pub(crate) async fn page(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let wanted: PlanWanted = asked::read(&app, &headers, body).await?;
    let html = blocking(&app, move |app| -> Result<String, Problem> {
        let planned =
            plan_near(&wanted, &zones_of(app)?.zones).map_err(|error| Problem::not_understood(error.to_string()))?;
        Ok(records::plan_page(&planned, records::words::Clock { offset_min: wanted.utc_offset_min }))
    })
    .await??;
    let mut response = Response::new(Body::from(html));
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8"));
    if let Ok(policy) = HeaderValue::from_str(&policy_of_a_page()) {
        headers.insert(header::CONTENT_SECURITY_POLICY, policy);
    }
    Ok(response)
}

/// Only the page's own style, by its hash (W3C, Content Security Policy Level 3, section 2.3.1).
fn policy_of_a_page() -> String {
    let hash = Sha256::digest(records::page::STYLE.as_bytes());
    let base64 = base64(&hash);
    format!(
        "default-src 'none'; style-src 'sha256-{base64}'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
}

/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::new();
    for three in bytes.chunks(3) {
        let word = three.iter().fold(0_u32, |word, byte| word << 8 | u32::from(*byte)) << (8 * (3 - three.len()));
        for place in 0..4 {
            let letter = LETTERS.get((word >> (18 - 6 * place) & 63) as usize).copied().unwrap_or(b'=');
            text.push(if place <= three.len() { char::from(letter) } else { '=' });
        }
    }
    text
}

/// The zones that were loaded: as asked for last, so that nobody who plans waits for a fold.
fn zones_of(app: &App) -> Result<Arc<ReadZones>, Problem> {
    match app.tables.known_zones() {
        Some(known) => Ok(known),
        None => Ok(app.tables.zones(&folded(app)?.book.tables)),
    }
}

fn worked_out(wanted: &PlanWanted, zones: &[Zone]) -> Result<PlanAnswer, Problem> {
    let planned = plan_near(wanted, zones).map_err(|error| Problem::not_understood(error.to_string()))?;
    let strip = records::planned_strip(&planned, wanted.utc_offset_min.unwrap_or(0));
    Ok(PlanAnswer { planned, strip })
}

/// A plan to start from
///
/// The last set's gear, its pace as measured, its legs as sailed and what is aboard, for now and where the ship is.
/// Without a set yet only the time, the place and the stores are filled in.
#[utoipa::path(get, path = "/api/plan/start", tag = "voyage",
    params(("from" = Option<String>, Query, description = "`last` (as when left out): the last set of the voyage. `gear`: the last set with the gear named"),
        ("gear" = Option<String>, Query, description = "the name of the gear, with from=gear"),
        ("other_way" = Option<bool>, Query, description = "true: start where that set ended and go back along it"),
        ("voyage" = Option<usize>, Query, description = "its number; the last one without")),
    responses((status = 200, description = "what a plan may start from", body = PlanWanted),
        (status = "4XX", body = Problem, description = "no such voyage, gear or way to start")))]
pub(crate) async fn start(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let asked = asked::asked(query)?;
    let other_way = match asked.other_way.as_deref() {
        None | Some("" | "false" | "0") => false,
        Some("true" | "1") => true,
        Some(other) => return Err(not_a("other_way", other, "true or false")),
    };
    let gear = match asked.from.as_deref() {
        None | Some("" | "last") => None,
        Some("gear") => asked.gear.clone(),
        Some(other) => return Err(not_a("from", other, "last or gear")),
    };
    let number = asked::number("voyage", asked.voyage.as_deref())?;
    let wanted = blocking(&app, move |app| -> Result<PlanWanted, Problem> {
        let folded = crate::views::folded(app)?;
        let now = app.ship.clock.now().0;
        let voyage = match number {
            Some(number) => Some(crate::views::pick_voyage(&folded, number)?),
            None => folded.book.voyages.last(),
        };
        let Some(voyage) = voyage else { return Ok(PlanWanted { start_at: Some(now), ..PlanWanted::default() }) };
        let set = match &gear {
            // A set that is still going out tells neither its hooks nor its end.
            None => voyage.sets.iter().rev().find(|set| set.ended_at.is_some()).or(voyage.sets.last()),
            Some(name) => {
                let last = voyage.sets.iter().rfind(|set| set.gear.name.as_ref() == Some(name));
                Some(last.ok_or_else(|| {
                    let shown: String = name.chars().take(40).collect();
                    Problem::not_found(format!("no set of voyage {} had the gear \"{shown}\".", voyage.number))
                })?)
            }
        };
        Ok(start_from(&StartFrom { voyage, set, now, ship: ship_now(app), other_way }))
    })
    .await??;
    Ok(json(StatusCode::OK, &wanted))
}

/// Where the instruments say the ship is.
pub(crate) fn ship_now(app: &App) -> Option<Position> {
    let state = app.ship.state_now().borrow().clone()?;
    let number = |name: &str| state.get(name).and_then(serde_json::Value::as_f64);
    Position::new(number("latitude_deg")?, number("longitude_deg")?).ok()
}

fn not_a(name: &str, value: &str, should: &str) -> Problem {
    let shown: String = value.chars().take(40).collect();
    Problem::not_understood(format!("{name} is \"{shown}\"; it should be {should}."))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 4648, section 10, test vectors. Tolerance: none.
    #[test]
    fn val_base64_of_the_standards_vectors() {
        for (bytes, text) in
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foob", "Zm9vYg=="), ("foobar", "Zm9vYmFy")]
        {
            assert_eq!(base64(bytes.as_bytes()), text);
        }
    }
}
