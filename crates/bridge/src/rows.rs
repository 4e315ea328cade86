//! Rows of the journal: after a cursor, as a whole export, and as a verified backup.

use std::fmt::Write as _;
use std::io::Write;
use std::sync::{Arc, PoisonError};

use axum::Extension;
use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::{HeaderValue, Response, StatusCode, header};

use crate::app::{App, blocking};
use crate::asked::{MaybeAsked, asked, number};
use crate::cursor::Cursor;
use crate::frames::Frames;
use crate::gate::Caller;
use crate::problem::{Problem, ProblemCode, json};
use crate::wire::Backup;

/// The most bytes of one answer; a row more may be in it.
const ANSWER_BYTES: usize = 2_000_000;

/// Rows of the journal after a cursor
///
/// From the first row without one. A cursor of another epoch is of another opening of the journal, perhaps of an
/// older file: the rows then start from the first, `afresh` is true, and its holder folds afresh.
#[utoipa::path(get, path = "/api/events", tag = "events",
    params(("after" = Option<String>, Query, description = "`epoch.sequence` of the last row known"),
        ("limit" = Option<usize>, Query, description = "the most rows to answer")),
    responses((status = 200, description = "rows in ship order", body = crate::wire::Rows),
        (status = "4XX", body = Problem, description = "what is wrong")))]
pub(crate) async fn events(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let query = asked(query)?;
    let most = number("limit", query.limit.as_deref())?.unwrap_or(usize::MAX).min(app.limits.events_an_answer);
    let after = query.after.as_deref().map(str::parse::<Cursor>).transpose();
    let after = after.map_err(|error| Problem::not_understood(format!("{error}.")))?;
    let text = blocking(&app, move |app| answer(app, after, most)).await??;
    let mut response = Response::new(Body::from(text));
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("application/json"));
    Ok(response)
}

fn answer(app: &App, after: Option<Cursor>, most: usize) -> Result<String, Problem> {
    let ship = &app.ship;
    ship.catch_up().map_err(|_| Problem::unreadable())?;
    let head = ship.cursor();
    let known = after.as_ref().filter(|after| after.epoch == head.epoch && after.sequence <= head.sequence);
    let from = known.map_or(0, |known| known.sequence);
    let rows = ship.rows_after(from, most).map_err(|_| Problem::unreadable())?;
    let mut text = String::from("{\"events\":[");
    let mut last = from;
    for row in &rows {
        if text.len() > ANSWER_BYTES {
            break;
        }
        if last != from {
            text.push(',');
        }
        text.push_str(&row.json);
        last = row.ship_seq;
    }
    let next = Cursor { sequence: last, ..head.clone() };
    let (more, afresh) = (last < head.sequence, after.is_some() && known.is_none());
    // Cursors are letters and digits.
    let _ = write!(text, "],\"next\":\"{next}\",\"more\":{more},\"afresh\":{afresh}}}");
    Ok(text)
}

/// The whole journal, one row a line
///
/// The same lines as `gangion journal export` writes.
#[utoipa::path(get, path = "/api/export", tag = "wheelhouse",
    responses((status = 200, description = "one JSON object a line", content_type = "application/x-ndjson", body = String),
        (status = "4XX", body = Problem, description = "only at the ship's own computer")))]
pub(crate) async fn export(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
) -> Result<Response<Body>, Problem> {
    caller.wheelhouse()?;
    let (out, frames) = tokio::sync::mpsc::channel(4);
    tokio::task::spawn_blocking(move || {
        let mut lines = std::io::BufWriter::with_capacity(65_536, Lines(out));
        // A broken export ends short of its last line; whoever imports it is told so by the chain.
        let _ = app.ship.with_reader(|reader| reader.export(&mut lines));
        let _ = lines.flush();
    });
    let mut response = Response::new(Body::new(Frames::new(frames)));
    for (name, value) in [
        (header::CONTENT_TYPE, "application/x-ndjson"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"voyage.jsonl\""),
    ] {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    Ok(response)
}

/// Hands written bytes on to a body.
struct Lines(tokio::sync::mpsc::Sender<Bytes>);

impl Write for Lines {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        let sent = self.0.blocking_send(Bytes::copy_from_slice(bytes));
        sent.map(|()| bytes.len()).map_err(|_| std::io::ErrorKind::BrokenPipe.into())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// Make a verified backup
///
/// Into the folder with which the server was started. Devices may then forget what lies within it.
#[utoipa::path(post, path = "/api/backups", tag = "wheelhouse",
    responses((status = 200, description = "the backup that was made", body = Backup),
        (status = "4XX", body = Problem, description = "only at the ship's own computer, and with a folder for backups"),
        (status = 503, body = Problem, description = "it could not be written")))]
pub(crate) async fn backup(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
) -> Result<Response<Body>, Problem> {
    caller.wheelhouse()?;
    let made = blocking(&app, make_backup).await??;
    Ok(json(StatusCode::OK, &made))
}

pub(crate) fn make_backup(app: &App) -> Result<Backup, Problem> {
    let Some(folder) = &app.backups else {
        return Err(Problem::not_found("the server was started without a folder for backups (--backups DIR)."));
    };
    let (made_at, _) = app.ship.clock.now();
    let stamp: String = made_at.to_string().chars().filter(char::is_ascii_alphanumeric).collect();
    let file = format!("voyage-{stamp}.journal");
    let failed = |error: String| {
        let text = format!("the backup was not made ({error}).");
        Problem::new(StatusCode::SERVICE_UNAVAILABLE, ProblemCode::Unwritten, text)
    };
    std::fs::create_dir_all(folder).map_err(|error| failed(error.kind().to_string()))?;
    let outcome = journal::backup(app.ship.path(), folder.join(&file)).map_err(|error| failed(error.to_string()))?;
    let made = Backup { made_at, file, rows: outcome.rows };
    *app.backup.lock().unwrap_or_else(PoisonError::into_inner) = Some(made.clone());
    Ok(made)
}
