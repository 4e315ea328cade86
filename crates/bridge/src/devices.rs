//! Devices: what the ship knows of the one that asks, pairing with a code, revoking, and the wheelhouse's PIN.

use std::sync::{Arc, PoisonError};
use std::time::Instant;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, Response, StatusCode, header};
use serde_json::json as value;

use crate::app::{App, blocking};
use crate::asked::{self, MaybeAsked, MaybeNamed, asked, named};
use crate::crew::{CrewError, OpenCode};
use crate::gate::{Caller, cookie, cookie_names};
use crate::problem::{Problem, ProblemCode, json};
use crate::role::Role;
use crate::wire::{CodeWanted, DeviceMe, Devices, PairWanted, PairedDevice, PairingCode, Pin};

/// A device keeps acknowledged events that long where no backup is known to hold them, days.
const KEEP_DAYS: u32 = 30;
/// How long a browser keeps its token, seconds: 400 days, the most that browsers grant.
const TOKEN_SECONDS: u32 = 34_560_000;

impl From<CrewError> for Problem {
    fn from(error: CrewError) -> Self {
        let text = format!("{error}.");
        match error {
            CrewError::CodeNotValid | CrewError::Overheard => Self::forbidden(ProblemCode::CodeNotValid, text),
            CrewError::PinWrong => Self::forbidden(ProblemCode::PinWrong, text),
            CrewError::Wait { wait_s } => Self::too_many(text, wait_s),
            CrewError::NoPin => Self::forbidden(ProblemCode::PinNeeded, text),
            CrewError::NotOverPlainHttp | CrewError::Length { .. } | CrewError::ShipsOwn { .. } => {
                Self::not_understood(text)
            }
            CrewError::NoSuchDevice { .. } => Self::not_found(text),
            CrewError::Secret(_) | CrewError::Unwritten { .. } | CrewError::Foreign { .. } => {
                Self::new(StatusCode::SERVICE_UNAVAILABLE, ProblemCode::Unwritten, text)
            }
        }
    }
}

/// The word to a device that holds the token of another.
pub(crate) fn not_this_one() -> Problem {
    let text = "the pairing of this browser is another device's; pair it anew. What it has queued stays on it.";
    Problem::new(StatusCode::UNAUTHORIZED, ProblemCode::NotPaired, text)
}

/// What the ship knows of this device
///
/// The last number and hash say what the ship holds: what is missing from an old backup is sent again. A device
/// deletes acknowledged events only up to `may_forget_through_seq`, or after `may_forget_after_days`.
#[utoipa::path(get, path = "/api/devices/me", tag = "devices",
    params(("device" = Option<String>, Query, description = "at the ship's own computer: which device of it asks")),
    responses((status = 200, description = "the device", body = DeviceMe),
        (status = "4XX", body = Problem, description = "not paired")))]
pub(crate) async fn me(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    query: MaybeAsked,
) -> Result<Response<Body>, Problem> {
    let role = caller.role()?;
    let query = asked(query)?;
    let device = match (&caller.device, query.device) {
        // The token belongs to a store that is gone: the device that asks is a new one.
        (Some(paired), Some(other)) if paired.device != other => return Err(not_this_one()),
        (Some(paired), _) => Some(paired.device.clone()),
        (None, asked) => asked,
    };
    let me = blocking(&app, move |app| -> Result<DeviceMe, Problem> {
        app.ship.catch_up().map_err(|_| Problem::unreadable())?;
        let heads = app.ship.with_reader(journal::Reader::device_heads).map_err(|_| Problem::unreadable())?;
        let head = heads.into_iter().find(|head| Some(&head.device) == device.as_ref());
        let backup = app.last_backup();
        let may_forget_through_seq = device
            .as_ref()
            .zip(backup)
            .and_then(|(device, backup)| app.ship.within(device, i64::try_from(backup.rows).unwrap_or(i64::MAX)));
        Ok(DeviceMe {
            device,
            name: caller.device.as_ref().and_then(|paired| paired.name.clone()),
            role,
            this_computer: caller.this_computer,
            pin_needed: caller.may_be_wheelhouse() && role != Role::Wheelhouse,
            epoch: app.ship.epoch().to_owned(),
            last_seq: head.as_ref().map(|head| head.last_seq),
            hash: head.map(|head| head.hash),
            may_forget_through_seq,
            may_forget_after_days: KEEP_DAYS,
        })
    })
    .await??;
    Ok(json(StatusCode::OK, &me))
}

/// Every device that has been paired, and the open code
#[utoipa::path(get, path = "/api/devices", tag = "wheelhouse",
    responses((status = 200, description = "the devices", body = Devices),
        (status = "4XX", body = Problem, description = "only the wheelhouse")))]
pub(crate) async fn list(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
) -> Result<Response<Body>, Problem> {
    caller.wheelhouse()?;
    let devices = blocking(&app, |app| -> Result<Devices, Problem> {
        let heads = app.ship.with_reader(journal::Reader::device_heads).map_err(|_| Problem::unreadable())?;
        let streams = app.streams.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let seen = app.seen.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let devices = app.crew.devices().into_iter().map(|paired| PairedDevice {
            last_seen_at: seen.get(&paired.device).copied(),
            live_streams: streams.get(&paired.device).copied().unwrap_or(0),
            last_seq: heads.iter().find(|head| head.device == paired.device).map(|head| head.last_seq),
            device: paired.device,
            name: paired.name,
            role: paired.role,
            paired_at: paired.paired_at,
            revoked_at: paired.revoked_at,
            by_https: paired.secure,
        });
        let now = Instant::now();
        let open_code = app.crew.open_code(now).map(|open| shown(app, open, now));
        Ok(Devices { devices: devices.collect(), open_code, pin_set: app.crew.has_pin() })
    })
    .await??;
    Ok(json(StatusCode::OK, &devices))
}

fn shown(app: &App, open: OpenCode, now: Instant) -> PairingCode {
    // A wheelhouse is paired by https only; the others by either, the address that needs no enrolment first.
    let plain = app.own_addresses.iter().filter(|_| open.role.may_come_over_plain_http());
    let addresses: Vec<String> =
        plain.chain(&app.secure_addresses).map(|address| format!("{address}#pair={}", open.code)).collect();
    let qr = addresses.first().and_then(|address| qrcode::QrCode::new(address).ok()).map_or_else(Vec::new, |qr| {
        let modules: Vec<char> =
            qr.to_colors().into_iter().map(|color| if color == qrcode::Color::Dark { '1' } else { '0' }).collect();
        modules.chunks(qr.width()).map(|row| row.iter().collect()).collect()
    });
    PairingCode {
        code: open.code,
        role: open.role,
        name: open.name,
        seconds_left_s: open.until.saturating_duration_since(now).as_secs_f64(),
        tries_left: open.tries_left,
        addresses,
        qr,
    }
}

/// Make a code that pairs one device
///
/// It stands for a few minutes and a few wrong tries; a newer one voids it.
#[utoipa::path(post, path = "/api/pairing", tag = "wheelhouse", request_body = CodeWanted,
    responses((status = 200, description = "the code to show", body = PairingCode),
        (status = "4XX", body = Problem, description = "only the wheelhouse")))]
pub(crate) async fn make_code(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response<Body>, Problem> {
    caller.wheelhouse()?;
    let wanted: CodeWanted = asked::read(&app, &headers, body).await?;
    let now = Instant::now();
    let open = app.crew.make_code(wanted.role, wanted.name, app.secure.is_some(), now)?;
    Ok(json(StatusCode::OK, &shown(&app, open, now)))
}

/// Pair this device by the code from the wheelhouse
///
/// Sets the device's token as a cookie that scripts cannot read. No pairing is needed to ask.
#[utoipa::path(post, path = "/api/pair", tag = "devices", request_body = PairWanted,
    responses((status = 200, description = "paired", body = DeviceMe),
        (status = "4XX", body = Problem, description = "the code is wrong, or too many were")))]
pub(crate) async fn pair(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response<Body>, Problem> {
    let wanted: PairWanted = asked::read(&app, &headers, body).await?;
    let (utc, _) = app.ship.clock.now();
    let (peer, secure) = (caller.peer, caller.secure);
    let (token, device, me) = blocking(&app, move |app| -> Result<_, Problem> {
        let code = wanted.code.trim();
        let (token, device) =
            app.crew.pair(code, &wanted.device, wanted.name, (peer, secure), (Instant::now(), utc))?;
        let told = value!({"device_id": device.device, "name": device.name, "role": device.role.word()});
        // Should the journal have stopped, the device is paired all the same: the list is what counts.
        let _ = app.ship.keep(vec![app.own_event("device_added", &told, utc)]);
        let heads = app.ship.with_reader(journal::Reader::device_heads).unwrap_or_default();
        let head = heads.into_iter().find(|head| head.device == device.device);
        Ok((token, device, head))
    })
    .await??;
    // Before its PIN is entered, a wheelhouse elsewhere is a deck's screen.
    let role = if device.role == Role::Wheelhouse { Role::Stern } else { device.role };
    let answer = DeviceMe {
        device: Some(device.device),
        name: device.name,
        role,
        this_computer: false,
        pin_needed: device.role == Role::Wheelhouse,
        epoch: app.ship.epoch().to_owned(),
        last_seq: me.as_ref().map(|head| head.last_seq),
        hash: me.map(|head| head.hash),
        may_forget_through_seq: None,
        may_forget_after_days: KEEP_DAYS,
    };
    let mut response = json(StatusCode::OK, &answer);
    set_cookie(&mut response, (secure, cookie_names(secure).0), &token, Some(TOKEN_SECONDS));
    Ok(response)
}

/// A cookie that scripts cannot read and other sites do not send (RFC 6265bis, section 4.1.2). `Secure` by https only:
/// the ship's plain http address is what a tablet has that is not enrolled.
fn set_cookie(response: &mut Response<Body>, (secure, name): (bool, &str), token: &str, seconds: Option<u32>) {
    let lasting = seconds.map_or_else(String::new, |seconds| format!("; Max-Age={seconds}"));
    let secure = if secure { "; Secure" } else { "" };
    let cookie = format!("{name}={token}; Path=/; HttpOnly; SameSite=Strict{secure}{lasting}");
    if let Ok(value) = HeaderValue::from_str(&cookie) {
        response.headers_mut().append(header::SET_COOKIE, value);
    }
}

/// Take a device's right away
///
/// Its live streams end at once. What it sent stays, what it has queued stays on it.
#[utoipa::path(post, path = "/api/devices/{device}/revoke", tag = "wheelhouse",
    params(("device" = String, Path, description = "the device's id")),
    responses((status = 200, description = "revoked", body = PairedDevice),
        (status = "4XX", body = Problem, description = "only the wheelhouse")))]
pub(crate) async fn revoke(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    device: MaybeNamed,
) -> Result<Response<Body>, Problem> {
    caller.wheelhouse()?;
    let device = named(device)?;
    let (utc, _) = app.ship.clock.now();
    let revoked = blocking(&app, move |app| -> Result<PairedDevice, Problem> {
        let paired = app.crew.revoke(&device, utc)?;
        let told = value!({"device_id": paired.device, "name": paired.name, "role": paired.role.word()});
        let _ = app.ship.keep(vec![app.own_event("device_revoked", &told, utc)]);
        Ok(PairedDevice {
            device: paired.device,
            name: paired.name,
            role: paired.role,
            paired_at: paired.paired_at,
            revoked_at: paired.revoked_at,
            by_https: paired.secure,
            live_streams: 0,
            last_seen_at: None,
            last_seq: None,
        })
    })
    .await??;
    Ok(json(StatusCode::OK, &revoked))
}

/// Set, change or take away the wheelhouse's PIN
///
/// Every opened wheelhouse is closed by it, this one opened again.
#[utoipa::path(post, path = "/api/pin", tag = "wheelhouse", request_body = Pin,
    responses((status = 204, description = "done"),
        (status = "4XX", body = Problem, description = "only the wheelhouse")))]
pub(crate) async fn set_pin(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response<Body>, Problem> {
    caller.wheelhouse()?;
    let wanted: Pin = asked::read(&app, &headers, body).await?;
    let (peer, secure) = (caller.peer, caller.secure);
    let token = blocking(&app, move |app| -> Result<Option<String>, CrewError> {
        app.crew.set_pin(wanted.pin.as_deref())?;
        wanted.pin.map(|pin| app.crew.unlock(&pin, (peer, secure), Instant::now())).transpose()
    })
    .await??;
    Ok(done(secure, token.as_deref()))
}

/// Open the wheelhouse with its PIN
#[utoipa::path(post, path = "/api/pin/unlock", tag = "wheelhouse", request_body = Pin,
    responses((status = 204, description = "open until it is locked or the program ends"),
        (status = "4XX", body = Problem, description = "wrong, or only the wheelhouse")))]
pub(crate) async fn unlock(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response<Body>, Problem> {
    only_here(&caller)?;
    let wanted: Pin = asked::read(&app, &headers, body).await?;
    if !app.crew.has_pin() {
        return Ok(done(caller.secure, None));
    }
    let pin = wanted.pin.unwrap_or_default();
    let (peer, secure) = (caller.peer, caller.secure);
    let token = blocking(&app, move |app| app.crew.unlock(&pin, (peer, secure), Instant::now())).await??;
    Ok(done(secure, Some(&token)))
}

/// Close the wheelhouse
#[utoipa::path(post, path = "/api/pin/lock", tag = "wheelhouse",
    responses((status = 204, description = "closed, where it has a PIN"),
        (status = "4XX", body = Problem, description = "only the wheelhouse")))]
pub(crate) async fn lock(
    State(app): State<Arc<App>>,
    Extension(caller): Extension<Caller>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    only_here(&caller)?;
    if let Some(token) = cookie(&headers, cookie_names(caller.secure).1) {
        app.crew.lock_again(token);
    }
    let mut response = done(caller.secure, None);
    set_cookie(&mut response, (caller.secure, cookie_names(caller.secure).1), "", Some(0));
    Ok(response)
}

/// No PIN goes over the air unencrypted.
fn only_here(caller: &Caller) -> Result<(), Problem> {
    if caller.may_be_wheelhouse() {
        return Ok(());
    }
    let text = "the PIN can be entered at the ship's own computer or in a wheelhouse paired by https only.";
    Err(Problem::forbidden(ProblemCode::OnlyAtTheShipsComputer, text))
}

fn done(secure: bool, token: Option<&str>) -> Response<Body> {
    let mut response = Response::new(Body::empty());
    *response.status_mut() = StatusCode::NO_CONTENT;
    if let Some(token) = token {
        set_cookie(&mut response, (secure, cookie_names(secure).1), token, None);
    }
    response
}
