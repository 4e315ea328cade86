//! What all handlers share, and the routes.

use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::routing::{get, post};
use quantity::UtcInstant;
use serde_json::{Value, json};
use tokio::sync::watch;

use crate::authority::{Authority, AuthorityError, Network, USUAL_NAME};
use crate::beat::{Desk, VoiceMaker};
use crate::crew::Crew;
use crate::gate::{self, Names};
use crate::limits::{Buckets, Limits};
use crate::pages::{self, Page};
use crate::server::ServeError;
use crate::ship::Ship;
use crate::tables::Tables;
use crate::tls::Secure;
use crate::wire::Backup;
use crate::{aboard, ahead, aside, beat, devices, drawings, ends, enrol, live, plan, posts, rows, table_routes, views};

/// How a server is set up.
#[derive(Debug, Clone)]
pub struct Setup {
    /// Folder of the list of paired devices: that of the journal.
    pub data: PathBuf,
    /// Folder for backups; none: the server makes none.
    pub backups: Option<PathBuf>,
    /// How often a backup is made by itself.
    pub backup_every: Option<Duration>,
    /// Names beside `localhost` and the address itself by which browsers may call the ship.
    pub names: Vec<String>,
    /// Address at which https is served beside the plain one.
    pub https: Option<SocketAddr>,
    /// The screens; empty: those that were built in.
    pub pages: Vec<Page>,
    /// Whether an interrupt or a terminate from the system stops the server.
    pub stop_on_signals: bool,
    /// What sounds the beat on this computer; none: it does not sound.
    pub voice: Option<VoiceMaker>,
    /// Sizes, counts and times.
    pub limits: Limits,
}

impl Setup {
    /// The usual set-up for a data folder.
    #[must_use]
    pub fn new(data: &Path) -> Self {
        Self {
            data: data.to_owned(),
            backups: None,
            backup_every: None,
            names: Vec::new(),
            https: None,
            pages: Vec::new(),
            stop_on_signals: false,
            voice: None,
            limits: Limits::default(),
        }
    }
}

/// Everything that a handler may need.
#[derive(Debug)]
pub(crate) struct App {
    pub(crate) ship: Arc<Ship>,
    pub(crate) beat: Desk,
    pub(crate) crew: Crew,
    pub(crate) limits: Limits,
    pub(crate) names: Names,
    pub(crate) own_addresses: Vec<String>,
    /// The same by https.
    pub(crate) secure_addresses: Vec<String>,
    /// The certificate and its authority, where https is served.
    pub(crate) secure: Option<Arc<Secure>>,
    pub(crate) buckets: Buckets,
    /// Open live streams by device or address.
    pub(crate) streams: Mutex<BTreeMap<String, usize>>,
    /// When each paired device last asked for something, ship's time.
    pub(crate) seen: Mutex<BTreeMap<String, UtcInstant>>,
    pub(crate) stopping: watch::Sender<bool>,
    pub(crate) backup: Mutex<Option<Backup>>,
    pub(crate) backups: Option<PathBuf>,
    pub(crate) backup_every: Option<Duration>,
    pub(crate) stop_on_signals: bool,
    pub(crate) tables: Tables,
    pages: Vec<Page>,
    own_seq: AtomicU64,
}

impl App {
    pub(crate) fn new(
        ship: Arc<Ship>,
        setup: Setup,
        listen: SocketAddr,
        https: Option<SocketAddr>,
    ) -> Result<Self, ServeError> {
        let crew = Crew::open(&setup.data.join("devices.json"), &setup.limits)?;
        let secure = https.map(|https| vouched(&setup, https)).transpose()?;
        // The number before the names: a tablet finds it without a name server. By https the name comes first: it
        // stays when the numbers of the network change, and the tablet's store with it.
        let own_addresses =
            numbered("http", 80, listen).into_iter().chain(named("http", 80, listen, &setup.names)).collect();
        let secure_addresses = https.map_or_else(Vec::new, |https| {
            named("https", 443, https, &setup.names).into_iter().chain(numbered("https", 443, https)).collect()
        });
        Ok(Self {
            ship,
            beat: Desk::new(&setup.data, setup.voice),
            crew,
            names: Names::new(listen.port(), https.map(|https| https.port()), &setup.names),
            own_addresses,
            secure_addresses,
            secure,
            buckets: Buckets::new(setup.limits.requests_a_second, setup.limits.requests_at_once),
            streams: Mutex::default(),
            seen: Mutex::default(),
            stopping: watch::Sender::new(false),
            backup: Mutex::default(),
            backup_every: setup.backup_every.filter(|_| setup.backups.is_some()),
            backups: setup.backups,
            stop_on_signals: setup.stop_on_signals,
            pages: pages::or_built_in(setup.pages),
            tables: Tables::new(&setup.data.join("tables")),
            own_seq: AtomicU64::new(1),
            limits: setup.limits,
        })
    }

    /// An event of the server itself, such as a device that was paired.
    pub(crate) fn own_event(&self, kind: &str, data: &Value, utc: UtcInstant) -> Vec<u8> {
        self.own_event_of(kind, data, utc, None, None)
    }

    /// The same for a set, with an id that is given.
    pub(crate) fn own_event_of(
        &self,
        kind: &str,
        data: &Value,
        utc: UtcInstant,
        set: Option<&str>,
        id: Option<&str>,
    ) -> Vec<u8> {
        let device_seq = self.own_seq.fetch_add(1, Ordering::Relaxed);
        let id = id.map_or_else(crate::fresh_id, ToOwned::to_owned);
        json!({
            "id": id, "device": format!("bridge-{}", self.ship.epoch()), "device_seq": device_seq,
            "kind": kind, "version": 1, "happened_at": utc.to_string(), "happened_basis": "instrument",
            "boot": null, "monotonic_ms": null, "person": null, "set": set, "haul": null, "data": data,
        })
        .to_string()
        .into_bytes()
    }

    pub(crate) fn page(&self, path: &str) -> Option<&Page> {
        let path = if path == "/" { "/index.html" } else { path };
        self.pages.iter().find(|page| page.path == path)
    }

    pub(crate) fn last_backup(&self) -> Option<Backup> {
        self.backup.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

fn written(scheme: &str, usual_port: u16, host: &str, port: u16) -> String {
    if port == usual_port { format!("{scheme}://{host}/") } else { format!("{scheme}://{host}:{port}/") }
}

fn numbered(scheme: &str, usual_port: u16, listen: SocketAddr) -> Option<String> {
    let ip = address_for_others(listen.ip())?;
    let host = if ip.is_ipv6() { format!("[{ip}]") } else { ip.to_string() };
    Some(written(scheme, usual_port, &host, listen.port()))
}

fn named(scheme: &str, usual_port: u16, listen: SocketAddr, names: &[String]) -> Vec<String> {
    names.iter().map(|name| written(scheme, usual_port, name, listen.port())).collect()
}

/// The certificate of an https address, by the authority of the data folder.
fn vouched(setup: &Setup, https: SocketAddr) -> Result<Arc<Secure>, AuthorityError> {
    let now_unix_s = crate::tls::unix_now_s();
    let address =
        if https.ip().is_unspecified() { address_for_others(https.ip()) } else { Some(https.ip().to_canonical()) };
    let networks: Vec<Network> = address.into_iter().map(Network::round).collect();
    let names: Vec<String> = setup.names.iter().map(|name| name.to_ascii_lowercase()).collect();
    let authority = Authority::open(&setup.data, &names, &networks, now_unix_s)?;
    let names = if names.is_empty() { vec![USUAL_NAME.to_owned()] } else { names };
    Secure::new(authority, names, address.into_iter().collect(), now_unix_s).map(Arc::new)
}

/// The address at which other devices find this computer; none while only this computer is served.
fn address_for_others(listen: std::net::IpAddr) -> Option<std::net::IpAddr> {
    if listen.is_loopback() {
        return None;
    }
    if !listen.is_unspecified() {
        return Some(listen);
    }
    // Which of its addresses this computer would use towards another network (TEST-NET-1, RFC 5737): nothing is sent.
    let socket = std::net::UdpSocket::bind("0.0.0.0:0").ok()?;
    socket.connect("192.0.2.1:9").ok()?;
    socket.local_addr().ok().map(|address| address.ip()).filter(|ip| !ip.is_loopback() && !ip.is_unspecified())
}

/// Work that blocks, such as a flush or a fold, away from the threads that serve.
pub(crate) async fn blocking<T: Send + 'static>(
    app: &Arc<App>,
    work: impl FnOnce(&App) -> T + Send + 'static,
) -> Result<T, crate::problem::Problem> {
    let app = Arc::clone(app);
    tokio::task::spawn_blocking(move || work(&app)).await.map_err(|_| crate::problem::Problem::unreadable())
}

/// All routes behind the gate.
pub(crate) fn router(app: &Arc<App>) -> Router {
    Router::new()
        .route("/api/openapi.json", get(views::openapi))
        .route("/api/health", get(views::health))
        .route("/api/clock", get(views::clock))
        .route("/api/voyage", get(views::voyage))
        .route("/api/sets/{number}", get(views::set))
        .route("/api/sets/{number}/hooks", get(views::hooks))
        .route("/api/sets/{number}/baskets", get(views::baskets))
        .route("/api/sets/{number}/places", get(views::places))
        .route("/api/sets/{number}/fish", get(views::fish))
        .route("/api/sets/{number}/map", get(views::map))
        .route("/api/sets/{number}/strip", get(drawings::strip))
        .route("/api/sets/{number}/section", get(drawings::section))
        .route("/api/plan", post(plan::plan))
        .route("/api/sets/{number}/ends", get(ends::ends))
        .route("/api/plan/start", get(plan::start))
        .route("/api/plan/page", post(plan::page))
        .route("/api/sets/{number}/ahead", get(ahead::ahead))
        .route("/api/people", get(aboard::people))
        .route("/api/stores", get(aboard::stores))
        .route("/api/aside", get(aside::aside))
        .route("/api/tables", get(table_routes::every))
        .route("/api/tables/{what}", get(table_routes::of_kind))
        .route("/api/tables/{what}/{name}", get(table_routes::one).put(table_routes::load))
        .route("/api/events", get(rows::events).post(posts::events))
        .route("/api/live", get(live::live))
        .route("/api/beat", get(beat::order::beat).post(beat::order::order))
        .route("/api/export", get(rows::export))
        .route("/api/backups", post(rows::backup))
        .route("/api/devices", get(devices::list))
        .route("/api/devices/me", get(devices::me))
        .route("/api/devices/{device}/revoke", post(devices::revoke))
        .route("/api/pairing", post(devices::make_code))
        .route("/api/pair", post(devices::pair))
        .route("/api/pin", post(devices::set_pin))
        .route("/api/pin/unlock", post(devices::unlock))
        .route("/api/pin/lock", post(devices::lock))
        .route("/api/enrol", get(enrol::about))
        .route(enrol::PAGE, get(enrol::page))
        .route("/enrol/ship-ca.crt", get(enrol::certificate))
        .route(enrol::TRUST, get(enrol::trust))
        .fallback(pages::page)
        .method_not_allowed_fallback(pages::method_not_allowed)
        .layer(axum::middleware::from_fn_with_state(Arc::clone(app), gate::pass))
        .with_state(Arc::clone(app))
}
