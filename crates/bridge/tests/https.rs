//! The https rung over the wire: who is let in by it, and that nothing of it is good on the plain side.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

mod support;

use std::io::Write;
use std::net::{SocketAddr, TcpStream};
use std::sync::Arc;
use std::time::{Duration, Instant};

use bridge::{Limits, Server, Setup, Ship};
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{ClientConfig, ClientConnection, RootCertStore, StreamOwned};
use serde_json::{Value, json};
use support::{Client, Reply, note};

/// A ship that serves both ways.
struct Both {
    folder: tempfile::TempDir,
    server: Server,
    _ship: Arc<Ship>,
}

impl Both {
    fn new() -> Self {
        Self::in_folder(tempfile::tempdir().unwrap(), Limits::default())
    }

    fn in_folder(folder: tempfile::TempDir, limits: Limits) -> Self {
        let ship = Arc::new(Ship::open(&folder.path().join("voyage.journal"), limits.live_behind).unwrap());
        let mut setup = Setup::new(folder.path());
        setup.names = vec!["deck.test".to_owned()];
        setup.https = Some("127.0.0.1:0".parse().unwrap());
        setup.limits = limits;
        let server = Server::start(Arc::clone(&ship), setup, "127.0.0.1:0".parse().unwrap()).unwrap();
        Self { folder, server, _ship: ship }
    }

    fn plain(&self, name: &str) -> Client {
        let address = self.server.address();
        Client { address, host: format!("{name}:{}", address.port()), cookies: Vec::new() }
    }

    /// A device that has installed the ship's authority from the plain side.
    fn secure(&self, name: &str) -> Device {
        let root = self.plain("deck.test").get("/enrol/ship-ca.crt");
        assert_eq!((root.status, root.header("content-type")), (200, Some("application/x-x509-ca-cert")));
        let mut roots = RootCertStore::empty();
        roots.add(CertificateDer::from(root.body)).unwrap();
        let config = ClientConfig::builder_with_provider(Arc::new(rustls::crypto::ring::default_provider()))
            .with_safe_default_protocol_versions()
            .unwrap()
            .with_root_certificates(roots)
            .with_no_client_auth();
        let address = self.server.https_address().unwrap();
        let client = Client { address, host: format!("{name}:{}", address.port()), cookies: Vec::new() };
        Device { client, config: Arc::new(config), called: name.to_owned() }
    }

    fn code(&self, role: &str) -> String {
        let code = self.plain("localhost").post("/api/pairing", &format!(r#"{{"role":"{role}"}}"#)).json();
        code["code"].as_str().unwrap_or_else(|| panic!("{code}")).to_owned()
    }
}

/// A client by https.
#[derive(Clone)]
struct Device {
    client: Client,
    config: Arc<ClientConfig>,
    called: String,
}

impl Device {
    fn open(&self, address: SocketAddr) -> StreamOwned<ClientConnection, TcpStream> {
        let name = ServerName::try_from(self.called.clone()).unwrap();
        StreamOwned::new(ClientConnection::new(Arc::clone(&self.config), name).unwrap(), support::connect(address))
    }

    fn send(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Reply {
        let mut stream = self.open(self.client.address);
        stream.write_all(&self.client.head(method, path, headers, Some(body.len()))).unwrap();
        stream.write_all(body).unwrap();
        support::read_reply(stream)
    }

    fn get(&self, path: &str) -> Reply {
        self.send("GET", path, &[], b"")
    }

    fn post(&self, path: &str, body: &str) -> Reply {
        let origin = format!("https://{}", self.client.host);
        self.send("POST", path, &[("Origin", &origin), ("Content-Type", "application/json")], body.as_bytes())
    }

    fn paired(mut self, code: &str, device: &str) -> Self {
        let reply = self.post("/api/pair", &json!({"code": code, "device": device}).to_string());
        assert_eq!(reply.status, 200, "{}", reply.text());
        self.client.keep_cookies(&reply);
        self
    }
}

#[test]
fn verif_the_ship_is_trusted_by_its_name_and_its_address_and_hardens_both() {
    let ship = Both::new();
    for name in ["deck.test", "127.0.0.1"] {
        let reply = ship.secure(name).get("/");
        assert_eq!(reply.status, 200, "{name}");
        assert!(reply.header("strict-transport-security").is_none(), "the plain address must stay usable");
        assert!(reply.header("content-security-policy").unwrap().contains("connect-src 'self';"));
    }
    let about = ship.plain("deck.test").get("/api/enrol").json();
    let port = ship.server.https_address().unwrap().port();
    assert_eq!(about["addresses"], json!([format!("https://deck.test:{port}/")]));
    assert_eq!(
        (&about["by_https"], &about["https_port"], &about["unvouched"]),
        (&json!(false), &json!(port), &json!([]))
    );
    assert_eq!(about["authority_sha256"].as_str().unwrap().len(), 95);
    assert_eq!(ship.secure("deck.test").get("/api/enrol").json()["by_https"], true);
    // Nothing in it is secret: neither key nor list.
    let all = [about.to_string(), ship.plain("deck.test").get("/enrol/ship-ca.crt").text()].concat();
    assert!(!all.contains("PRIVATE KEY"));
    for path in ["/authority.json", "/enrol/authority.json", "/devices.json"] {
        assert_eq!(ship.plain("localhost").get(path).status, 404, "{path}");
    }
    // Plain http on the port of https, and the other way round, gets nothing.
    let mut wrong = ship.plain("deck.test");
    wrong.address = ship.server.https_address().unwrap();
    let mut stream = support::connect(wrong.address);
    stream.write_all(&wrong.head("GET", "/", &[], None)).unwrap();
    let mut got = Vec::new();
    let _ = std::io::Read::read_to_end(&mut stream, &mut got);
    assert!(!got.starts_with(b"HTTP"), "{}", String::from_utf8_lossy(&got));
}

#[test]
fn verif_names_origins_and_other_sites_are_judged_by_https_as_well() {
    let ship = Both::new();
    let device = ship.secure("deck.test");
    let (plain, secure) = (ship.server.address().port(), ship.server.https_address().unwrap().port());
    for host in [format!("evil.test:{secure}"), format!("deck.test:{plain}"), "deck.test".to_owned(), String::new()] {
        for path in ["/", "/api/enrol", "/enrol/trust", "/enrol/ship-ca.crt"] {
            assert_eq!(
                device.send("GET", path, &[("Host", &host)], b"").problem().1,
                "host_not_known",
                "{host} {path}"
            );
        }
    }
    let post = |origin: &str| device.send("POST", "/api/pair", &[("Origin", origin)], b"{}").problem().1;
    for origin in [format!("http://deck.test:{secure}"), format!("http://deck.test:{plain}"), "null".to_owned()] {
        assert_eq!(post(&origin), "origin_not_known", "{origin}");
    }
    assert_ne!(post(&format!("https://deck.test:{secure}")), "origin_not_known");
    let cross = device.send("GET", "/api/enrol", &[("Sec-Fetch-Site", "cross-site"), ("Sec-Fetch-Mode", "cors")], b"");
    assert_eq!(cross.problem().1, "cross_site");
    // One harmless answer may be read from the plain side of the same name, and from nowhere else.
    let trust =
        |origin: &str| device.send("GET", "/enrol/trust", &[("Origin", origin), ("Sec-Fetch-Site", "cross-site")], b"");
    let ours = format!("http://deck.test:{plain}");
    let reply = trust(&ours);
    assert_eq!((reply.status, reply.header("access-control-allow-origin")), (200, Some(ours.as_str())));
    assert_eq!(reply.json()["trusted"], true);
    assert_eq!(reply.json().as_object().unwrap().len(), 2);
    for origin in [format!("http://evil.test:{plain}"), "http://deck.test:1".to_owned()] {
        assert!(trust(&origin).header("access-control-allow-origin").is_none(), "{origin}");
    }
    for path in ["/", "/api/enrol", "/enrol/ship-ca.crt"] {
        let reply = device.send("GET", path, &[("Origin", &ours)], b"");
        assert!(reply.header("access-control-allow-origin").is_none(), "{path}");
    }
    assert_eq!(ship.plain("deck.test").get("/enrol/trust").status, 404);
    // The page of enrolment may ask that one further origin.
    let page = ship.plain("deck.test").get("/enrol");
    assert_eq!(page.status, 200);
    let policy = page.header("content-security-policy").unwrap();
    assert!(policy.contains(&format!("connect-src 'self' https://deck.test:{secure};")), "{policy}");
}

#[test]
fn verif_a_token_of_one_side_is_refused_on_the_other() {
    let ship = Both::new();
    let mut plain = ship.plain("deck.test");
    let reply = plain.post("/api/pair", &json!({"code": ship.code("rail"), "device": "rail-1"}).to_string());
    plain.keep_cookies(&reply);
    let secure = ship.secure("deck.test").paired(&ship.code("rail"), "rail-2");
    assert_eq!((plain.get("/api/voyage").status, secure.get("/api/voyage").status), (200, 200));
    let reply =
        ship.secure("deck.test").post("/api/pair", &json!({"code": ship.code("rail"), "device": "r"}).to_string());
    let cookie = reply.header("set-cookie").unwrap();
    assert!(cookie.starts_with("__Host-gangion_device=") && cookie.contains("; Secure"), "{cookie}");
    let token = |cookies: &[String]| cookies[0].split_once('=').unwrap().1.to_owned();
    let (of_plain, of_secure) = (token(&plain.cookies), token(&secure.client.cookies));
    let names = ["gangion_device", "__Host-gangion_device"];
    let mut wrong_plain = ship.plain("deck.test");
    wrong_plain.cookies = names.map(|name| format!("{name}={of_secure}")).to_vec();
    assert_eq!(wrong_plain.get("/api/voyage").problem(), (401, "not_paired".to_owned()));
    let mut wrong_secure = ship.secure("deck.test");
    wrong_secure.client.cookies = names.map(|name| format!("{name}={of_plain}")).to_vec();
    assert_eq!(wrong_secure.get("/api/voyage").problem(), (401, "not_paired".to_owned()));
    let devices = ship.plain("localhost").get("/api/devices").json();
    assert_eq!([&devices["devices"][0]["by_https"], &devices["devices"][1]["by_https"]], [false, true]);
    // A revoked one is shut out here too, and a restart forgets nothing.
    assert_eq!(ship.plain("localhost").post("/api/devices/rail-2/revoke", "").status, 200);
    assert_eq!(secure.get("/api/voyage").status, 401);
}

#[test]
fn verif_a_wheelhouse_elsewhere_needs_https_its_token_and_the_pin() {
    let ship = Both::new();
    let here = ship.plain("localhost");
    assert_eq!(here.post("/api/pairing", r#"{"role":"wheelhouse"}"#).problem(), (403, "pin_needed".to_owned()));
    assert_eq!(here.post("/api/pin", r#"{"pin":"4711"}"#).status, 204);
    let mut opened = here.clone();
    opened.keep_cookies(&here.post("/api/pin/unlock", r#"{"pin":"4711"}"#));
    let make = || opened.post("/api/pairing", r#"{"role":"wheelhouse"}"#).json();
    let made = make();
    let addresses = made["addresses"].as_array().unwrap();
    assert!(!addresses.is_empty() && addresses.iter().all(|address| address.as_str().unwrap().starts_with("https://")));
    let code = made["code"].as_str().unwrap().to_owned();
    let overheard = ship.plain("deck.test").post("/api/pair", &json!({"code": code, "device": "w"}).to_string());
    assert_eq!(overheard.problem(), (403, "code_not_valid".to_owned()));
    let code = make()["code"].as_str().unwrap().to_owned();
    let mut bridge = ship.secure("deck.test").paired(&code, "wing-tablet");
    let me = bridge.get("/api/devices/me").json();
    assert_eq!((&me["role"], &me["pin_needed"], &me["this_computer"]), (&json!("stern"), &json!(true), &json!(false)));
    for path in ["/api/devices", "/api/export"] {
        assert_eq!(bridge.get(path).problem(), (403, "pin_needed".to_owned()), "{path}");
    }
    assert_eq!(bridge.post("/api/pin/unlock", r#"{"pin":"0000"}"#).problem(), (403, "pin_wrong".to_owned()));
    let reply = bridge.post("/api/pin/unlock", r#"{"pin":"4711"}"#);
    assert_eq!(reply.status, 204);
    let cookie = reply.header("set-cookie").unwrap();
    assert!(
        cookie.starts_with("__Host-gangion_wheelhouse=")
            && cookie.contains("; Secure; ") | cookie.ends_with("; Secure")
    );
    let pin_token = cookie.split(';').next().unwrap().split_once('=').unwrap().1.to_owned();
    bridge.client.keep_cookies(&reply);
    assert_eq!(bridge.get("/api/devices/me").json()["role"], "wheelhouse");
    assert_eq!((bridge.get("/api/devices").status, bridge.get("/api/export").status), (200, 200));
    assert_eq!(bridge.post("/api/pairing", r#"{"role":"rail"}"#).status, 200);
    // It speaks for itself only.
    let other = bridge.post("/api/events", &format!("[{},{}]", note("wing-tablet", 1), note("rail-7", 1))).json();
    assert_eq!(
        (&other["results"][0]["result"], &other["results"][1]["reason_code"]),
        (&json!("kept"), &json!("another_device"))
    );
    // Neither the opened PIN without the pairing, nor either of them on the plain side.
    let mut pin_only = ship.secure("deck.test");
    pin_only.client.cookies = vec![format!("__Host-gangion_wheelhouse={pin_token}")];
    assert_eq!(pin_only.get("/api/devices").status, 403);
    let mut plain = ship.plain("localhost");
    plain.cookies = vec![format!("gangion_wheelhouse={pin_token}")];
    assert_eq!(plain.get("/api/devices").problem(), (403, "pin_needed".to_owned()), "a PIN token of https");
    // A rail paired by https is no wheelhouse, whatever PIN it knows.
    let rail_code = opened.post("/api/pairing", r#"{"role":"rail"}"#).json()["code"].as_str().unwrap().to_owned();
    let rail = ship.secure("deck.test").paired(&rail_code, "rail-1");
    assert_eq!(rail.post("/api/pin/unlock", r#"{"pin":"4711"}"#).problem().1, "only_at_the_ships_computer");
    // Without a PIN no wheelhouse elsewhere is open.
    assert_eq!(opened.post("/api/pin", r#"{"pin":null}"#).status, 204);
    assert_eq!(bridge.get("/api/devices").status, 403);
    assert_eq!(ship.plain("localhost").post("/api/devices/wing-tablet/revoke", "").status, 200);
    assert_eq!(bridge.get("/api/devices/me").status, 401);
}

#[test]
fn verif_slow_and_silent_handshakes_are_cut_and_the_server_stops_at_once() {
    let limits = Limits { head_time: Duration::from_millis(300), ..Limits::default() };
    let ship = Both::in_folder(tempfile::tempdir().unwrap(), limits);
    let mut silent = support::connect(ship.server.https_address().unwrap());
    silent.write_all(&[22, 3, 1]).unwrap();
    let begun = Instant::now();
    let mut rest = Vec::new();
    let _ = std::io::Read::read_to_end(&mut silent, &mut rest);
    assert!(begun.elapsed() < Duration::from_secs(3), "{:?}", begun.elapsed());
    let device = ship.secure("deck.test");
    let mut idle = device.open(device.client.address);
    idle.write_all(b"GET / HTTP/1.1\r\n").unwrap();
    let begun = Instant::now();
    ship.server.stop();
    assert!(begun.elapsed() < Duration::from_secs(3), "{:?}", begun.elapsed());
}

#[test]
fn verif_a_restart_keeps_the_authority_and_the_tokens() {
    let ship = Both::new();
    let code = ship.code("rail");
    let device = ship.secure("deck.test").paired(&code, "rail-1");
    let print = |ship: &Both| -> Value { ship.plain("deck.test").get("/api/enrol").json()["authority_sha256"].clone() };
    let before = print(&ship);
    let Both { folder, server, _ship } = ship;
    server.stop();
    drop(_ship);
    let again = Both::in_folder(folder, Limits::default());
    assert_eq!(print(&again), before);
    let mut moved = device.clone();
    moved.client = again.secure("deck.test").client;
    moved.client.cookies = device.client.cookies;
    assert_eq!(moved.get("/api/devices/me").json()["device"], "rail-1", "the old trust and the old token still open");
    assert!(again.folder.path().join("authority.json").exists());
}
