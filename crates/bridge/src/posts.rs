//! Events as they are posted: one or many, each judged by itself, each answered after it is flushed to disk.
//!
//! Sending again is harmless: the same id with the same bytes is answered `repeat`, in the same row. A device deletes
//! nothing on the word of this answer alone; `GET /api/devices/me` says up to where it may.

use std::sync::Arc;

use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, Response, StatusCode};
use axum::{Extension, body::Bytes};
use journal::Answer;

use crate::app::{App, blocking};
use crate::asked;
use crate::cut::{CutError, cut};
use crate::gate::Caller;
use crate::problem::{Problem, ProblemCode, json};
use crate::role::Role;
use crate::wire::{Outcome, PostResult, PostResults, ReasonCode};

/// Keep events
///
/// One event or an array of them. Each is answered by itself, in order, after it is flushed to disk. The bytes of each
/// event are kept exactly as they come, so a device makes them once and sends the same at every try.
#[utoipa::path(post, path = "/api/events", tag = "events", request_body = crate::wire::Post,
    responses((status = 200, description = "what became of each event", body = PostResults),
        (status = "4XX", description = "nothing of the post was taken", body = Problem),
        (status = 503, description = "the journal has stopped; the device keeps its events", body = Problem)))]
pub(crate) async fn events(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response<Body>, Problem> {
    let role = caller.role()?;
    let bytes = asked::body(&app, &headers, body).await?;
    let results = blocking(&app, move |app| take(app, &caller, role, &bytes)).await??;
    Ok(json(StatusCode::OK, &PostResults { results }))
}

fn take(app: &App, caller: &Caller, role: Role, bytes: &Bytes) -> Result<Vec<PostResult>, Problem> {
    let pieces = cut(bytes, app.limits.events_a_post).map_err(|error| {
        let text = format!("{error}; nothing of it was taken.");
        match error {
            CutError::TooMany { .. } => Problem::new(StatusCode::PAYLOAD_TOO_LARGE, ProblemCode::TooLarge, text),
            _ => Problem::new(StatusCode::BAD_REQUEST, ProblemCode::NotJson, text),
        }
    })?;
    let judged: Vec<Option<PostResult>> = pieces.iter().map(|piece| not_to_send(caller, role, piece)).collect();
    // A wiped device with its old token is a new device: it pairs anew and keeps its queue, nothing is set aside.
    let foreign = |result: &Option<PostResult>| {
        result.as_ref().is_some_and(|result| result.reason_code == Some(ReasonCode::AnotherDevice))
    };
    if !judged.is_empty() && judged.iter().all(foreign) {
        return Err(crate::devices::not_this_one());
    }
    let admitted = pieces.iter().zip(&judged).filter(|(_, judged)| judged.is_none());
    let admitted: Vec<Vec<u8>> = admitted.map(|(piece, _)| piece.to_vec()).collect();
    let ids: Vec<Option<String>> = admitted.iter().map(|piece| id_of(piece)).collect();
    let answers =
        if admitted.is_empty() { Vec::new() } else { app.ship.keep(admitted).map_err(|error| stopped(&error))? };
    let mut answers = answers.into_iter().zip(ids).map(|(answer, id)| result_of(answer, id));
    Ok(judged.into_iter().filter_map(|judged| judged.or_else(|| answers.next())).collect())
}

fn stopped(error: &journal::JournalError) -> Problem {
    Problem::new(StatusCode::SERVICE_UNAVAILABLE, ProblemCode::JournalStopped, error.to_string())
}

/// The word on an event that this caller may not send; none when it may, or when it is no event at all.
fn not_to_send(caller: &Caller, role: Role, piece: &[u8]) -> Option<PostResult> {
    // The ship's own computer speaks for its devices; a wheelhouse elsewhere for itself only.
    if role == Role::Wheelhouse && caller.device.is_none() {
        return None;
    }
    let envelope = voyage::read_event(piece).ok()?.envelope;
    let refused = |reason_code, reason: String| PostResult {
        id: Some(envelope.id.clone()),
        result: Outcome::Refused,
        reason: Some(reason),
        reason_code: Some(reason_code),
        ship_seq: None,
    };
    if let Some(paired) = caller.device.as_ref().filter(|paired| paired.device != envelope.device) {
        let ours: String = paired.device.clone();
        return Some(refused(
            ReasonCode::AnotherDevice,
            format!("the event is of device {}, this one is paired as {ours}; it stays on its device", envelope.device),
        ));
    }
    let kind = envelope.kind.name();
    (!role.may_send(kind)).then(|| {
        let role = role.word();
        refused(
            ReasonCode::NotInThisRole,
            format!("a device in the role {role} may not send {kind}; it stays on its device: ask the wheelhouse"),
        )
    })
}

fn id_of(piece: &[u8]) -> Option<String> {
    #[derive(serde::Deserialize)]
    struct OnlyId {
        id: String,
    }
    serde_json::from_slice::<OnlyId>(piece).ok().map(|only| only.id)
}

fn result_of(answer: Answer, id: Option<String>) -> PostResult {
    let of =
        |result, reason, reason_code, ship_seq| PostResult { id: id.clone(), result, reason, reason_code, ship_seq };
    match answer {
        Answer::Kept { ship_seq } => of(Outcome::Kept, None, None, Some(ship_seq)),
        Answer::Known { ship_seq } => of(Outcome::Repeat, None, None, Some(ship_seq)),
        Answer::Conflict { ship_seq, reason, .. } => {
            of(Outcome::Conflict, Some(reason), Some(ReasonCode::Contradicts), Some(ship_seq))
        }
        Answer::Refused { id, reason } => PostResult {
            id,
            result: Outcome::Refused,
            reason: Some(reason),
            reason_code: Some(ReasonCode::NotReadable),
            ship_seq: None,
        },
    }
}
