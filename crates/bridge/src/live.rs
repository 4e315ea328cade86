//! The live stream: what is kept and what is going on, as server-sent events.
//!
//! A reader says up to which row it knows the journal (Last-Event-ID, or `after` at its first visit). The stream
//! subscribes first, then reads what the reader lacks from the journal, then goes on with what comes, leaving out what
//! was sent already: every row once, in ship order. A reader that falls behind is closed, never skipped: it comes
//! again with its last id and resumes from the journal.

use std::sync::{Arc, PoisonError};

use axum::Extension;
use axum::body::{Body, Bytes};
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, Response, header};
use serde::Serialize;
use tokio::sync::broadcast::error::RecvError;
use tokio::sync::mpsc::{Sender, channel};

use crate::app::{App, blocking};
use crate::asked::{MaybeAsked, asked};
use crate::cursor::Cursor;
use crate::event_stream::{HEARTBEAT, frame, retry};
use crate::frames::Frames;
use crate::gate::Caller;
use crate::problem::Problem;
use crate::role::Role;
use crate::wire::{DevicesChanged, Goodbye, GoodbyeReason, Hello, ShipNow};

/// Rows that are read from the journal at a time.
const PAGE: usize = 256;
/// How soon a reader that lost its stream comes again, milliseconds.
const COME_AGAIN_MS: u32 = 1_000;

/// What is kept and what is going on
///
/// Server-sent events named `hello`, `kept`, `ship`, `beat`, `health`, `devices` and `goodbye`; the component `LiveMessage`
/// describes each. Only `kept` carries an id, `epoch.sequence`. Without a cursor the stream starts from now.
#[utoipa::path(get, path = "/api/live", tag = "events",
    params(("after" = Option<String>, Query, description = "the last row known, at a first visit"),
        ("Last-Event-ID" = Option<String>, Header, description = "the last row known; goes before `after`")),
    responses((status = 200, description = "an event stream", content_type = "text/event-stream", body = crate::wire::LiveMessage),
        (status = "4XX", body = Problem, description = "what is wrong")))]
pub(crate) async fn live(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    caller.role()?;
    let query = asked(query)?;
    let after = match headers.get("last-event-id") {
        // An id that is none of ours is one of another ship's file: the reader folds afresh.
        Some(id) => Some(id.to_str().ok().and_then(|id| id.parse().ok()).unwrap_or_else(unknown)),
        None => query
            .after
            .as_deref()
            .map(str::parse::<Cursor>)
            .transpose()
            .map_err(|error| Problem::not_understood(format!("{error}.")))?,
    };
    let slot = Slot::take(&app, &caller)?;
    let (out, frames) = channel(8);
    tokio::spawn(async move {
        let stream = Stream { app: Arc::clone(&slot.app), caller, out, last: 0 };
        stream.run(after).await;
        drop(slot);
    });
    let mut response = Response::new(Body::new(Frames::new(frames)));
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("text/event-stream"));
    Ok(response)
}

fn unknown() -> Cursor {
    Cursor { epoch: "unknown".to_owned(), sequence: 0 }
}

/// A place among the live streams, given back when dropped.
struct Slot {
    app: Arc<App>,
    whose: String,
}

impl Slot {
    fn take(app: &Arc<App>, caller: &Caller) -> Result<Self, Problem> {
        let whose = whose(caller);
        let mut streams = app.streams.lock().unwrap_or_else(PoisonError::into_inner);
        let (all, own) = (streams.values().sum::<usize>(), streams.get(&whose).copied().unwrap_or(0));
        // The ship's own screens and tests may open as many as there are.
        let most = if caller.this_computer { app.limits.live_streams } else { app.limits.live_streams_each };
        if all >= app.limits.live_streams || own >= most {
            return Err(Problem::too_many("too many live streams are open; close one of this device's pages.", 5.0));
        }
        *streams.entry(whose.clone()).or_insert(0) += 1;
        Ok(Self { app: Arc::clone(app), whose })
    }
}

/// By which name a caller's live streams are counted.
fn whose(caller: &Caller) -> String {
    caller.device.as_ref().map_or_else(|| caller.peer.to_string(), |device| device.device.clone())
}

impl Drop for Slot {
    fn drop(&mut self) {
        let mut streams = self.app.streams.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = streams.get_mut(&self.whose) {
            *count -= 1;
            if *count == 0 {
                streams.remove(&self.whose);
            }
        }
    }
}

/// The reader is gone, or does not read.
struct Gone;

struct Stream {
    app: Arc<App>,
    caller: Caller,
    out: Sender<Bytes>,
    /// Ship sequence of the last row sent.
    last: i64,
}

impl Stream {
    async fn run(mut self, after: Option<Cursor>) {
        let goodbye = match self.tell(after).await {
            Ok(reason) => reason,
            Err(Gone) => return,
        };
        let _ = self.message("goodbye", &Goodbye { reason: goodbye }).await;
    }

    async fn tell(&mut self, after: Option<Cursor>) -> Result<GoodbyeReason, Gone> {
        let app = Arc::clone(&self.app);
        let ship = &app.ship;
        let mut stopping = app.stopping.subscribe();
        let mut crew = app.crew.watch();
        let mut state = ship.state_now();
        let mut stopped = ship.stopped();
        let mut beat = app.beat.watch();
        state.mark_changed();
        if beat.borrow().is_some() {
            beat.mark_changed();
        }
        if stopped.borrow().is_some() {
            stopped.mark_changed();
        }
        // Subscribed before the journal is read: what comes meanwhile is in both and sent once.
        let mut rows = ship.rows();
        if !matches!(blocking(&app, |app| app.ship.catch_up()).await, Ok(Ok(()))) {
            return Ok(GoodbyeReason::JournalUnreadable);
        }
        let head = ship.cursor();
        let known = after.as_ref().filter(|after| after.epoch == head.epoch && after.sequence <= head.sequence);
        let afresh = after.is_some() && known.is_none();
        self.last = match (known, afresh) {
            (Some(known), _) => known.sequence,
            (None, true) => 0,
            (None, false) => head.sequence,
        };
        self.send(retry(COME_AGAIN_MS)).await?;
        let from = Cursor { sequence: self.last, ..head.clone() }.to_string();
        let heartbeat_s = app.limits.heartbeat.as_secs_f64();
        self.message("hello", &Hello { cursor: head.to_string(), from, afresh, heartbeat_s }).await?;
        if let Some(reason) = self.catch_up().await? {
            return Ok(reason);
        }
        loop {
            tokio::select! {
                biased;
                _ = stopping.changed() => return Ok(GoodbyeReason::Stopping),
                () = self.out.closed() => return Err(Gone),
                changed = crew.changed() => {
                    if changed.is_err() || !self.still_let_in() {
                        return Ok(GoodbyeReason::Revoked);
                    }
                    if self.caller.role == Some(Role::Wheelhouse) {
                        let changes = *crew.borrow_and_update();
                        self.message("devices", &DevicesChanged { changes }).await?;
                    }
                }
                row = rows.recv() => match row {
                    Ok(row) if row.ship_seq > self.last => {
                        let id = Cursor { sequence: row.ship_seq, ..head.clone() }.to_string();
                        self.send(frame("kept", Some(&id), &row.json)).await?;
                        self.last = row.ship_seq;
                    }
                    Ok(_) => {}
                    Err(RecvError::Lagged(_)) => return Ok(GoodbyeReason::Behind),
                    Err(RecvError::Closed) => return Ok(GoodbyeReason::Stopping),
                },
                Ok(()) = stopped.changed() => {
                    let health = blocking(&app, crate::views::health_of).await;
                    if let Ok(Ok(health)) = health {
                        self.message("health", &health).await?;
                    }
                }
                Ok(()) = state.changed() => {
                    let now = state.borrow_and_update().clone();
                    if let Some(now) = now {
                        self.message("ship", &ShipNow { state: now }).await?;
                    }
                }
                Ok(()) = beat.changed() => {
                    let now = beat.borrow_and_update().clone();
                    if let Some(now) = now {
                        self.message("beat", &*now).await?;
                    }
                }
                () = tokio::time::sleep(app.limits.heartbeat) => self.send(HEARTBEAT.to_owned()).await?,
            }
        }
    }

    /// Sends what the reader lacks from the journal.
    async fn catch_up(&mut self) -> Result<Option<GoodbyeReason>, Gone> {
        loop {
            if *self.app.stopping.borrow() {
                return Ok(Some(GoodbyeReason::Stopping));
            }
            if !self.still_let_in() {
                return Ok(Some(GoodbyeReason::Revoked));
            }
            let last = self.last;
            let Ok(Ok(rows)) = blocking(&self.app, move |app| app.ship.rows_after(last, PAGE)).await else {
                return Ok(Some(GoodbyeReason::JournalUnreadable));
            };
            let full = rows.len() == PAGE;
            for row in rows {
                let id = Cursor { epoch: self.app.ship.epoch().to_owned(), sequence: row.ship_seq }.to_string();
                self.send(frame("kept", Some(&id), &row.json)).await?;
                self.last = row.ship_seq;
            }
            if !full {
                return Ok(None);
            }
        }
    }

    fn still_let_in(&self) -> bool {
        self.caller.device.as_ref().is_none_or(|device| self.app.crew.still(device))
    }

    async fn message<T: Serialize + Sync>(&self, name: &str, data: &T) -> Result<(), Gone> {
        let data = serde_json::to_string(data).unwrap_or_default();
        self.send(frame(name, None, &data)).await
    }

    /// Hands bytes on; a reader that does not take them for too long is given up.
    async fn send(&self, text: String) -> Result<(), Gone> {
        match tokio::time::timeout(self.app.limits.stall_time, self.out.send(text.into())).await {
            Ok(Ok(())) => Ok(()),
            _ => Err(Gone),
        }
    }
}
