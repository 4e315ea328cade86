//! What a request carries: its query, its body within size and time, its JSON.

use std::pin::Pin;

use axum::body::{Body, Bytes, HttpBody};
use axum::extract::rejection::{PathRejection, QueryRejection};
use axum::extract::{Path, Query};
use axum::http::{HeaderMap, StatusCode, header};
use serde::Deserialize;
use serde::de::DeserializeOwned;

use crate::app::App;
use crate::problem::{Problem, ProblemCode};

/// Every query parameter there is; each address uses its own.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Asked {
    pub(crate) voyage: Option<String>,
    pub(crate) after: Option<String>,
    pub(crate) limit: Option<String>,
    pub(crate) device: Option<String>,
    pub(crate) speed_kn: Option<String>,
    pub(crate) start_at: Option<String>,
    pub(crate) pace_hooks_h: Option<String>,
    pub(crate) next_set_s: Option<String>,
    pub(crate) basket: Option<String>,
    pub(crate) from: Option<String>,
    pub(crate) gear: Option<String>,
    pub(crate) other_way: Option<String>,
}

/// The query, or what is wrong with it.
pub(crate) type MaybeAsked = Result<Query<Asked>, QueryRejection>;

/// The query of a request.
pub(crate) fn asked(query: MaybeAsked) -> Result<Asked, Problem> {
    query
        .map(|Query(asked)| asked)
        .map_err(|_| Problem::not_understood("the address has a parameter twice, or one that is no text."))
}

/// The part of the path that names a thing, or what is wrong with it.
pub(crate) type MaybeNamed = Result<Path<String>, PathRejection>;

/// What the path names.
pub(crate) fn named(path: MaybeNamed) -> Result<String, Problem> {
    path.map(|Path(name)| name).map_err(|_| Problem::not_found("there is nothing under this address."))
}

/// The two parts of the path that name a thing, or what is wrong with them.
pub(crate) type MaybeNamedTwice = Result<Path<(String, String)>, PathRejection>;

/// A parameter that counts from 1.
pub(crate) fn number(name: &str, text: Option<&str>) -> Result<Option<usize>, Problem> {
    let Some(text) = text else { return Ok(None) };
    let number = text.parse().ok().filter(|number| *number >= 1);
    number.map(Some).ok_or_else(|| {
        let shown: String = text.chars().take(40).collect();
        Problem::not_understood(format!("{name} is \"{shown}\"; it should be a number from 1 on."))
    })
}

/// A whole body, JSON by its own word, within the server's size and time.
pub(crate) async fn body(app: &App, headers: &HeaderMap, body: Body) -> Result<Bytes, Problem> {
    body_of(app, headers, body, &["application/json"]).await
}

/// The same for other names of JSON too.
pub(crate) async fn body_of(app: &App, headers: &HeaderMap, body: Body, kinds: &[&str]) -> Result<Bytes, Problem> {
    let kind = headers.get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or("application/json");
    let kind = kind.split(';').next().unwrap_or("").trim().to_ascii_lowercase();
    if !kinds.contains(&kind.as_str()) {
        let text = "what is sent must be JSON (Content-Type: application/json); nothing was changed.";
        return Err(Problem::new(StatusCode::UNSUPPORTED_MEDIA_TYPE, ProblemCode::NotJson, text));
    }
    let most = app.limits.body_bytes;
    match tokio::time::timeout(app.limits.body_time, collect(body, most)).await {
        Ok(Some(Ok(bytes))) => Ok(bytes),
        Ok(Some(Err(()))) => {
            Err(Problem::not_understood("the post broke off; nothing of it was taken. Send it again."))
        }
        Ok(None) => {
            let text =
                format!("the post is larger than {most} bytes; nothing of it was taken. Send it in smaller batches.");
            Err(Problem::new(StatusCode::PAYLOAD_TOO_LARGE, ProblemCode::TooLarge, text))
        }
        Err(_) => {
            let text = "the post took too long to come; nothing of it was taken. Send it again.";
            Err(Problem::new(StatusCode::REQUEST_TIMEOUT, ProblemCode::TooSlow, text))
        }
    }
}

/// The body's bytes; none when there are more than `most`, after reading on a little, so that the sender who is
/// still sending gets to see the answer.
async fn collect(mut body: Body, most: usize) -> Option<Result<Bytes, ()>> {
    let patience = most.saturating_mul(4);
    let (mut bytes, mut seen) = (Vec::new(), 0_usize);
    loop {
        match std::future::poll_fn(|context| Pin::new(&mut body).poll_frame(context)).await {
            None if seen > most => return None,
            None => return Some(Ok(bytes.into())),
            Some(Err(_)) => return Some(Err(())),
            Some(Ok(frame)) => {
                let Ok(data) = frame.into_data() else { continue };
                seen = seen.saturating_add(data.len());
                if seen > patience {
                    return None;
                }
                if seen <= most {
                    bytes.extend_from_slice(&data);
                } else {
                    bytes = Vec::new();
                }
            }
        }
    }
}

/// A small JSON body as what it should be.
pub(crate) async fn read<T: DeserializeOwned>(app: &App, headers: &HeaderMap, from: Body) -> Result<T, Problem> {
    let bytes = body(app, headers, from).await?;
    serde_json::from_slice(&bytes).map_err(|error| {
        let text = format!("what was sent is not understood ({error}); nothing was changed.");
        Problem::not_understood(text)
    })
}
