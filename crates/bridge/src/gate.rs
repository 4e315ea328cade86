//! The gate: which requests are let through to the handlers at all, and in whose name.
//!
//! Every request's Host must be one of the ship's names: a page of another site whose name is made to point here
//! (DNS rebinding) still sends its own name. Every post must come from one of the ship's own pages, by its Origin;
//! where the browser says Sec-Fetch-Site, other sites' pages are turned away too. Sources: RFC 9110, section 7.2
//! (Host); RFC 6454 (Origin); W3C, "Fetch Metadata Request Headers" (Sec-Fetch-Site).

use std::collections::BTreeSet;
use std::net::{IpAddr, SocketAddr};
use std::str::FromStr;
use std::sync::{Arc, PoisonError};
use std::time::Instant;

use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, Request, Response, header};
use axum::middleware::Next;
use axum::response::IntoResponse;

use crate::app::App;
use crate::crew::Device;
use crate::problem::{Problem, ProblemCode};
use crate::role::Role;

/// Names of the cookie that holds a paired device's token, and of the one that holds an opened wheelhouse's. Cookies do
/// not heed scheme and port (RFC 6265, section 8.5): those of https have names that browsers let nobody set over plain
/// http (`__Host-`, RFC 6265bis, section 4.1.3.2).
pub(crate) const fn cookie_names(secure: bool) -> (&'static str, &'static str) {
    if secure {
        ("__Host-gangion_device", "__Host-gangion_wheelhouse")
    } else {
        ("gangion_device", "gangion_wheelhouse")
    }
}

/// The two ends of a connection.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ends {
    pub(crate) peer: SocketAddr,
    pub(crate) local: SocketAddr,
    /// By TLS.
    pub(crate) secure: bool,
}

/// Who asks.
#[derive(Debug, Clone)]
pub(crate) struct Caller {
    pub(crate) peer: IpAddr,
    /// On the ship's own computer, by its own name.
    pub(crate) this_computer: bool,
    /// By https.
    pub(crate) secure: bool,
    /// What it may do; none for a stranger.
    pub(crate) role: Option<Role>,
    /// The paired device, where it is one.
    pub(crate) device: Option<Device>,
}

impl Caller {
    /// The caller's role.
    pub(crate) fn role(&self) -> Result<Role, Problem> {
        self.role.ok_or_else(|| {
            let text = "this device is not paired with the ship; ask the wheelhouse for a code. What it has queued stays on it.";
            Problem::new(axum::http::StatusCode::UNAUTHORIZED, ProblemCode::NotPaired, text)
        })
    }

    /// Whether the caller stands where a wheelhouse may be: at the ship's own computer, or paired as one by https.
    pub(crate) fn may_be_wheelhouse(&self) -> bool {
        let paired = || self.device.as_ref().is_some_and(|device| device.role == Role::Wheelhouse);
        self.this_computer || (self.secure && paired())
    }

    /// That the caller is the wheelhouse, with its PIN entered where there is one.
    pub(crate) fn wheelhouse(&self) -> Result<(), Problem> {
        if !self.may_be_wheelhouse() {
            let text = "this can be done at the ship's own computer or from a wheelhouse paired by https only; \
                        nothing was changed.";
            return Err(Problem::forbidden(ProblemCode::OnlyAtTheShipsComputer, text));
        }
        if self.role == Some(Role::Wheelhouse) {
            return Ok(());
        }
        let text = "the wheelhouse is closed by its PIN; enter it first. Nothing was changed.";
        Err(Problem::forbidden(ProblemCode::PinNeeded, text))
    }
}

/// The names by which the ship may be called.
#[derive(Debug, Clone)]
pub(crate) struct Names {
    port: u16,
    https_port: Option<u16>,
    names: BTreeSet<String>,
}

impl Names {
    /// Names beside those of this computer and the address a connection came to.
    pub(crate) fn new(port: u16, https_port: Option<u16>, names: &[String]) -> Self {
        Self { port, https_port, names: names.iter().map(|name| name.to_ascii_lowercase()).collect() }
    }

    fn port_of(&self, secure: bool) -> Option<u16> {
        if secure { self.https_port } else { Some(self.port) }
    }

    pub(crate) fn https_port(&self) -> Option<u16> {
        self.https_port
    }

    /// The host of a request when it is one of ours, in lower case and without its port.
    pub(crate) fn known(&self, host: &str, ends: Ends) -> Option<String> {
        let (name, port) = split_host(host)?;
        let name = name.to_ascii_lowercase();
        if Some(port.unwrap_or(if ends.secure { 443 } else { 80 })) != self.port_of(ends.secure) {
            return None;
        }
        if is_this_computers_name(&name) {
            return ends.peer.ip().to_canonical().is_loopback().then_some(name);
        }
        let bare = name.trim_start_matches('[').trim_end_matches(']');
        let own_address = IpAddr::from_str(bare).is_ok_and(|ip| ip.to_canonical() == ends.local.ip().to_canonical());
        (own_address || self.names.contains(&name)).then_some(name)
    }
}

/// The name in a Host header, in lower case.
pub(crate) fn host_name(host: &str) -> Option<String> {
    split_host(host).map(|(name, _)| name.to_ascii_lowercase())
}

fn is_this_computers_name(name: &str) -> bool {
    name == "localhost" || name == "127.0.0.1"
}

/// Host and port of a Host header (RFC 3986, section 3.2).
fn split_host(host: &str) -> Option<(&str, Option<u16>)> {
    let after = if host.starts_with('[') { host.find(']')? + 1 } else { host.find(':').unwrap_or(host.len()) };
    let (name, rest) = host.split_at(after);
    let port = match rest.strip_prefix(':') {
        Some(digits) if !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit()) => {
            Some(digits.parse().ok()?)
        }
        None if rest.is_empty() => None,
        _ => return None,
    };
    (!name.is_empty()).then_some((name, port))
}

/// The one value of a header; none when it is missing, double or no plain text.
fn single(headers: &HeaderMap, name: HeaderName) -> Option<&str> {
    let mut values = headers.get_all(name).iter();
    let value = values.next()?.to_str().ok()?;
    values.next().is_none().then_some(value)
}

/// A cookie's value.
pub(crate) fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|value| value.split(';'))
        .find_map(|pair| pair.trim().strip_prefix(name)?.strip_prefix('='))
}

/// The gate as a layer round all handlers.
pub(crate) async fn pass(State(app): State<Arc<App>>, mut request: Request<Body>, next: Next) -> Response<Body> {
    let path_is_api = request.uri().path().starts_with("/api/");
    let by_own_name = whole_host(&request).and_then(split_host).is_some_and(|(name, _)| is_this_computers_name(name));
    let response = match judge(&app, &request) {
        Err(problem) => problem.into_response(),
        Ok(caller) => {
            request.extensions_mut().insert(caller);
            next.run(request).await
        }
    };
    harden(response, path_is_api, by_own_name)
}

fn judge(app: &App, request: &Request<Body>) -> Result<Caller, Problem> {
    let Some(ends) = request.extensions().get::<Ends>().copied() else {
        return Err(Problem::forbidden(ProblemCode::HostNotKnown, "the connection has no address."));
    };
    let peer = ends.peer.ip().to_canonical();
    if !peer.is_loopback()
        && let Err(wait_s) = app.buckets.take(peer, Instant::now())
    {
        return Err(Problem::too_many("too many requests from this device; wait a moment and try again.", wait_s));
    }
    let headers = request.headers();
    let host = whole_host(request).and_then(|host| app.names.known(host, ends)).ok_or_else(|| {
        let text = "this name is none of the ship's; open the address that the wheelhouse shows.";
        Problem::forbidden(ProblemCode::HostNotKnown, text)
    })?;
    from_our_own_page(app, request, &host, ends.secure)?;
    let forwarded = ["forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via"];
    let this_computer = peer.is_loopback()
        && is_this_computers_name(&host)
        && !forwarded.iter().any(|name| headers.contains_key(*name));
    let secure = ends.secure;
    let (device_cookie, wheelhouse_cookie) = cookie_names(secure);
    let opened = || cookie(headers, wheelhouse_cookie).is_some_and(|token| app.crew.is_open(token, secure));
    if this_computer {
        // Closed by its PIN, it goes on with the work of the deck: a set must not stop for a PIN.
        let role = if !app.crew.has_pin() || opened() { Role::Wheelhouse } else { Role::Stern };
        return Ok(Caller { peer, this_computer, secure, role: Some(role), device: None });
    }
    let device = cookie(headers, device_cookie).and_then(|token| app.crew.holder(token, secure));
    if let Some(device) = &device {
        let mut seen = app.seen.lock().unwrap_or_else(PoisonError::into_inner);
        seen.insert(device.device.clone(), app.ship.clock.now().0);
    }
    let role = device.as_ref().and_then(|device| match device.role {
        // A wheelhouse elsewhere needs a PIN, and it entered; without, it is a deck's screen.
        Role::Wheelhouse if secure && app.crew.has_pin() && opened() => Some(Role::Wheelhouse),
        Role::Wheelhouse if secure => Some(Role::Stern),
        role => Some(role).filter(|role| role.may_come_over_plain_http()),
    });
    Ok(Caller { peer, this_computer, secure, role, device })
}

/// The host that a request names; none when it names none or two different ones.
fn whole_host(request: &Request<Body>) -> Option<&str> {
    let host = single(request.headers(), header::HOST)?;
    match request.uri().authority() {
        Some(authority) if authority.as_str() != host => None,
        _ => Some(host),
    }
}

fn from_our_own_page(app: &App, request: &Request<Body>, host: &str, secure: bool) -> Result<(), Problem> {
    let (headers, method) = (request.headers(), request.method());
    let cross_site = || {
        let text = "a page of another site asked for this; it was refused and nothing was changed.";
        Problem::forbidden(ProblemCode::CrossSite, text)
    };
    // The one answer that the plain http pages of the ship may read; it tells nothing.
    if secure && *method == Method::GET && request.uri().path() == crate::enrol::TRUST {
        return Ok(());
    }
    if headers.contains_key("sec-fetch-site") {
        let site = single(headers, HeaderName::from_static("sec-fetch-site")).unwrap_or("");
        let ours = site == "same-origin" || site == "none";
        let mode = single(headers, HeaderName::from_static("sec-fetch-mode")).unwrap_or("");
        // A link from elsewhere may open the ship's page; it may fetch nothing and send nothing.
        let link = mode == "navigate" && *method == Method::GET && !request.uri().path().starts_with("/api/");
        if !(ours || link) {
            return Err(cross_site());
        }
    }
    if matches!(*method, Method::GET | Method::HEAD) {
        return Ok(());
    }
    let origin = single(headers, header::ORIGIN).and_then(|origin| {
        let (name, port) = split_host(origin.strip_prefix(if secure { "https://" } else { "http://" })?)?;
        let name = name.to_ascii_lowercase();
        let same = name == host || (is_this_computers_name(&name) && is_this_computers_name(host));
        let port = port.unwrap_or(if secure { 443 } else { 80 });
        (same && Some(port) == app.names.port_of(secure)).then_some(())
    });
    origin.ok_or_else(|| {
        let text =
            "what is sent must come from one of the ship's own pages (Origin); it was refused and nothing was changed.";
        Problem::forbidden(ProblemCode::OriginNotKnown, text)
    })
}

/// What every answer tells the browser to keep to. Never Strict-Transport-Security: the ship's plain http address
/// has to stay usable for the tablets that hold unsent events under it.
const HARDENING: [(&str, &str); 5] = [
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-resource-policy", "same-origin"),
    ("permissions-policy", "geolocation=(), camera=(), microphone=(), payment=(), usb=()"),
];

/// What a page may load and ask (W3C, "Content Security Policy Level 3"), with one further origin to ask where it is
/// given. Workers may come from a blob: the tick of the beat lies in the one bundle, so that nothing has to be fetched
/// in a hole of the Wi-Fi.
pub(crate) fn policy(other: &str) -> String {
    format!(
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; \
         connect-src 'self'{}{other}; worker-src 'self' blob:; manifest-src 'self'; media-src 'self'; base-uri 'none'; \
         form-action 'none'; frame-ancestors 'none'",
        if other.is_empty() { "" } else { " " }
    )
}

fn harden(mut response: Response<Body>, path_is_api: bool, by_own_name: bool) -> Response<Body> {
    let headers = response.headers_mut();
    for (name, value) in HARDENING {
        headers.entry(HeaderName::from_static(name)).or_insert(HeaderValue::from_static(value));
    }
    if let Ok(usual) = HeaderValue::from_str(&policy("")) {
        headers.entry(header::CONTENT_SECURITY_POLICY).or_insert(usual);
    }
    // Browsers heed it on trustworthy origins only, and complain about it on others.
    if by_own_name {
        let name = HeaderName::from_static("cross-origin-opener-policy");
        headers.insert(name, HeaderValue::from_static("same-origin"));
    }
    if path_is_api {
        headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    }
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ends(peer: &str, local: &str) -> Ends {
        Ends { peer: peer.parse().unwrap(), local: local.parse().unwrap(), secure: false }
    }

    #[test]
    fn verif_only_the_ships_own_names_are_known() {
        let names = Names::new(8080, Some(8443), &["deck.test".to_owned(), "Ship.Home.Arpa".to_owned()]);
        let here = ends("127.0.0.1:50000", "127.0.0.1:8080");
        let there = ends("10.66.0.7:50000", "10.66.0.1:8080");
        for host in ["localhost:8080", "127.0.0.1:8080", "LOCALHOST:8080", "deck.test:8080"] {
            assert!(names.known(host, here).is_some(), "{host}");
        }
        for host in ["10.66.0.1:8080", "deck.test:8080", "ship.home.arpa:8080"] {
            assert!(names.known(host, there).is_some(), "{host}");
        }
        for host in ["localhost:8080", "127.0.0.1:8080"] {
            assert!(names.known(host, there).is_none(), "{host} is this computer's name only at this computer");
        }
        let strange = ["evil.test:8080", "localhost", "localhost:80", "localhost.:8080", "127.0.0.1.evil.test:8080"];
        for host in
            strange.into_iter().chain(["", ":8080", "10.66.0.2:8080", "localhost:8080x", "a@localhost:8080", "[::1"])
        {
            assert!(names.known(host, here).is_none() && names.known(host, there).is_none(), "{host}");
        }
        let six = ends("[fd00::7]:50000", "[fd00::1]:8080");
        assert!(names.known("[fd00::1]:8080", six).is_some() && names.known("[fd00::2]:8080", six).is_none());
        let mapped = ends("[::ffff:10.66.0.7]:50000", "[::ffff:10.66.0.1]:8080");
        assert!(names.known("10.66.0.1:8080", mapped).is_some());
        let secure = Ends { secure: true, local: "10.66.0.1:8443".parse().unwrap(), ..there };
        assert!(names.known("deck.test:8443", secure).is_some() && names.known("10.66.0.1:8443", secure).is_some());
        assert!(names.known("deck.test:8080", secure).is_none() && names.known("deck.test:8443", there).is_none());
        assert!(names.known("evil.test:8443", secure).is_none() && names.known("deck.test", secure).is_none());
        assert!(Names::new(80, None, &[]).known("localhost", here).is_some(), "port 80 is not written");
    }

    #[test]
    fn verif_cookies_are_found_among_others() {
        let mut headers = HeaderMap::new();
        headers.append(header::COOKIE, HeaderValue::from_static("a=1; xgangion_device=no; gangion_device=abc;b=2"));
        assert_eq!(cookie(&headers, cookie_names(false).0), Some("abc"));
        assert_eq!(cookie(&headers, cookie_names(false).1), None);
        assert_eq!(cookie(&headers, cookie_names(true).0), None, "a token of plain http is none of https");
        assert_eq!(single(&headers, header::HOST), None);
        headers.append(header::HOST, HeaderValue::from_static("a"));
        assert_eq!(single(&headers, header::HOST), Some("a"));
        headers.append(header::HOST, HeaderValue::from_static("b"));
        assert_eq!(single(&headers, header::HOST), None);
    }
}
