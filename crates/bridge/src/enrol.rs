//! What a device needs before it trusts the ship: the authority's certificate, its fingerprint, where https is, and
//! one harmless answer by which a page finds out whether the certificate is trusted.
//!
//! All of it is open to devices that are not paired, and none of it is secret. The page itself is one of the screens.

use std::collections::BTreeSet;
use std::sync::Arc;

use axum::Extension;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, Response, StatusCode, header};
use axum::response::IntoResponse;
use quantity::UtcInstant;

use crate::app::App;
use crate::gate::{Ends, host_name};
use crate::problem::{Problem, json};
use crate::tls::Secure;
use crate::wire::{Enrolment, Trusted};

/// Where the page of enrolment is.
pub(crate) const PAGE: &str = "/enrol";
/// The one answer that another of the ship's origins may read.
pub(crate) const TRUST: &str = "/enrol/trust";

fn moment(unix_s: i64) -> UtcInstant {
    UtcInstant::from_micros_clamped(unix_s.saturating_mul(1_000_000))
}

fn computer_utc() -> UtcInstant {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
    UtcInstant::from_micros_clamped(i64::try_from(since.as_micros()).unwrap_or(i64::MAX))
}

fn secure(app: &App) -> Result<&Arc<Secure>, Problem> {
    app.secure.as_ref().ok_or_else(|| Problem::not_found("this ship serves plain http only."))
}

/// How this device can come to the ship by https
///
/// Open to devices that are not paired: nothing in it is secret.
#[utoipa::path(get, path = "/api/enrol", tag = "devices",
    responses((status = 200, description = "where, and by which authority; no addresses: not at all", body = Enrolment)))]
pub(crate) async fn about(State(app): State<Arc<App>>, Extension(ends): Extension<Ends>) -> Response<Body> {
    let secure = app.secure.as_ref();
    let answer = Enrolment {
        by_https: ends.secure,
        addresses: app.secure_addresses.clone(),
        https_port: app.names.https_port(),
        authority_sha256: secure.map(|secure| secure.fingerprint()),
        authority_ends: secure.map(|secure| moment(secure.authority_ends_unix_s())),
        certificate_ends: secure.map(|secure| moment(secure.ends_unix_s())),
        unvouched: secure.map_or_else(Vec::new, |secure| secure.unvouched(&BTreeSet::<std::net::IpAddr>::new())),
        computer_utc: computer_utc(),
    };
    json(StatusCode::OK, &answer)
}

/// The authority's certificate, as tablets take it (RFC 5280, DER; media type as browsers know it).
pub(crate) async fn certificate(State(app): State<Arc<App>>) -> Result<Response<Body>, Problem> {
    let mut response = Response::new(Body::from(secure(&app)?.authority_der().to_vec()));
    for (name, value) in [
        (header::CONTENT_TYPE, "application/x-x509-ca-cert"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"ship-ca.crt\""),
        (header::CACHE_CONTROL, "no-cache"),
    ] {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    Ok(response)
}

/// The word that the certificate is trusted: whoever can read it has made the TLS connection. Pages under the ship's
/// plain http address of the same name may read it, nobody else.
pub(crate) async fn trust(
    State(app): State<Arc<App>>,
    Extension(ends): Extension<Ends>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    if !ends.secure {
        return Err(Problem::not_found("ask this under the ship's https address."));
    }
    let mut response = json(StatusCode::OK, &Trusted { trusted: true, computer_utc: computer_utc() });
    let plain = Ends { secure: false, ..ends };
    let from = headers.get(header::ORIGIN).filter(|origin| {
        let host = origin.to_str().ok().and_then(|origin| origin.strip_prefix("http://"));
        host.is_some_and(|host| app.names.known(host, plain).is_some())
    });
    if let Some(from) = from.cloned() {
        let headers = response.headers_mut();
        headers.insert(header::ACCESS_CONTROL_ALLOW_ORIGIN, from);
        headers.insert(header::VARY, HeaderValue::from_static("Origin"));
        let name = header::HeaderName::from_static("cross-origin-resource-policy");
        headers.insert(name, HeaderValue::from_static("cross-origin"));
    }
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(response)
}

/// The screens, allowed to ask the ship by https as well.
pub(crate) async fn page(
    State(app): State<Arc<App>>,
    headers: HeaderMap,
    request: axum::http::Request<Body>,
) -> Response<Body> {
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).and_then(host_name);
    let same = host.zip(app.names.https_port()).map(|(name, port)| format!("https://{name}:{port}"));
    let origins = app.secure_addresses.iter().map(|address| address.trim_end_matches('/').to_owned()).chain(same);
    // A policy has no way to write a number of IP version 6.
    let origins: BTreeSet<String> = origins.filter(|origin| !origin.contains('[')).collect();
    let other = origins.into_iter().collect::<Vec<_>>().join(" ");
    let (mut parts, body) = request.into_parts();
    parts.uri = axum::http::Uri::from_static("/index.html");
    let request = axum::http::Request::from_parts(parts, body);
    let mut response = crate::pages::page(State(app), headers, request).await.into_response();
    // Names were checked at the gate and at the start: letters, digits, dots, hyphens.
    if let Ok(policy) = HeaderValue::from_str(&crate::gate::policy(&other)) {
        response.headers_mut().insert(header::CONTENT_SECURITY_POLICY, policy);
    }
    response
}
