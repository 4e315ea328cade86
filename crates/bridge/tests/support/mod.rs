//! A ship to test: a journal in a folder of its own, a server on a free port, and a small client that sends exactly
//! the bytes it is told to.

#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "each test uses its own part; a test fails by panicking"
)]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::Arc;
use std::time::{Duration, Instant};

use bridge::{Limits, Server, Setup, Ship};
use serde_json::Value;
use tempfile::TempDir;

/// A name by which the ship is called from elsewhere.
pub const ELSEWHERE: &str = "deck.test";

pub struct TestShip {
    pub folder: TempDir,
    pub ship: Arc<Ship>,
    pub server: Option<Server>,
    pub address: SocketAddr,
}

impl TestShip {
    pub fn new() -> Self {
        Self::with(Limits::default())
    }

    pub fn with(limits: Limits) -> Self {
        Self::in_folder(tempfile::tempdir().unwrap(), limits)
    }

    pub fn in_folder(folder: TempDir, limits: Limits) -> Self {
        let ship = Ship::open(&folder.path().join("voyage.journal"), limits.live_behind).unwrap();
        Self::of(folder, ship, limits)
    }

    /// A ship whose disk holds only so many pages of 4,096 bytes.
    pub fn on_a_small_disk(pages: u32) -> Self {
        let (folder, limits) = (tempfile::tempdir().unwrap(), Limits::default());
        let options = journal::Options { max_page_count: Some(pages) };
        let ship = Ship::open_with(&folder.path().join("voyage.journal"), limits.live_behind, options).unwrap();
        Self::of(folder, ship, limits)
    }

    /// A ship whose computer sounds the beat.
    pub fn with_a_horn(voice: bridge::VoiceMaker) -> Self {
        let (folder, limits) = (tempfile::tempdir().unwrap(), Limits::default());
        let ship = Ship::open(&folder.path().join("voyage.journal"), limits.live_behind).unwrap();
        Self::sounding(folder, ship, limits, Some(voice))
    }

    fn of(folder: TempDir, ship: Ship, limits: Limits) -> Self {
        Self::sounding(folder, ship, limits, None)
    }

    fn sounding(folder: TempDir, ship: Ship, limits: Limits, voice: Option<bridge::VoiceMaker>) -> Self {
        let ship = Arc::new(ship);
        let mut setup = Setup::new(folder.path());
        setup.backups = Some(folder.path().join("backups"));
        setup.names = vec![ELSEWHERE.to_owned()];
        setup.limits = limits;
        setup.voice = voice;
        let server = Server::start(Arc::clone(&ship), setup, "127.0.0.1:0".parse().unwrap()).unwrap();
        let address = server.address();
        Self { folder, ship, server: Some(server), address }
    }

    /// Stops the server and closes the journal; the folder stays.
    pub fn close(mut self) -> TempDir {
        self.server.take().unwrap().stop();
        let Self { folder, ship, .. } = self;
        assert_eq!(Arc::strong_count(&ship), 1, "something still holds the ship");
        folder
    }

    /// The ship's own computer.
    pub fn here(&self) -> Client {
        Client { address: self.address, host: format!("localhost:{}", self.address.port()), cookies: Vec::new() }
    }

    /// A device elsewhere.
    pub fn elsewhere(&self) -> Client {
        Client { address: self.address, host: format!("{ELSEWHERE}:{}", self.address.port()), cookies: Vec::new() }
    }

    /// A device elsewhere, paired in a role.
    pub fn paired(&self, device: &str, role: &str) -> Client {
        let code = self.here().post("/api/pairing", &format!(r#"{{"role":"{role}"}}"#)).json();
        let mut client = self.elsewhere();
        let wanted = serde_json::json!({"code": code["code"], "device": device});
        let reply = client.post("/api/pair", &wanted.to_string());
        assert_eq!(reply.status, 200, "{}", reply.text());
        client.keep_cookies(&reply);
        client
    }
}

#[derive(Clone)]
pub struct Client {
    pub address: SocketAddr,
    pub host: String,
    pub cookies: Vec<String>,
}

#[derive(Debug)]
pub struct Reply {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

impl Reply {
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("{error}: {} {}", self.status, self.text()))
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(found, _)| found == name).map(|(_, value)| value.as_str())
    }

    /// The code of a problem.
    pub fn problem(&self) -> (u16, String) {
        (self.status, self.json()["code"].as_str().unwrap_or("none").to_owned())
    }
}

impl Client {
    pub fn keep_cookies(&mut self, reply: &Reply) {
        let given = reply.headers.iter().filter(|(name, _)| name == "set-cookie");
        self.cookies.extend(given.map(|(_, value)| value.split(';').next().unwrap().to_owned()));
    }

    pub fn get(&self, path: &str) -> Reply {
        self.send("GET", path, &[], b"")
    }

    /// A post from one of the ship's own pages.
    pub fn post(&self, path: &str, body: &str) -> Reply {
        let origin = format!("http://{}", self.host);
        self.send("POST", path, &[("Origin", &origin), ("Content-Type", "application/json")], body.as_bytes())
    }

    pub fn send(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Reply {
        let mut stream = connect(self.address);
        stream.write_all(&self.head(method, path, headers, Some(body.len()))).unwrap();
        // The server may answer and close before it has read all of a body that it does not want.
        let _ = stream.write_all(body);
        read_reply(stream)
    }

    pub fn head(&self, method: &str, path: &str, headers: &[(&str, &str)], length: Option<usize>) -> Vec<u8> {
        let mut head = format!("{method} {path} HTTP/1.1\r\n");
        if !headers.iter().any(|(name, _)| *name == "Host") {
            head.push_str(&format!("Host: {}\r\n", self.host));
        }
        for (name, value) in headers {
            head.push_str(&format!("{name}: {value}\r\n"));
        }
        for cookie in &self.cookies {
            head.push_str(&format!("Cookie: {cookie}\r\n"));
        }
        if let Some(length) = length.filter(|length| *length > 0 || method == "POST") {
            head.push_str(&format!("Content-Length: {length}\r\n"));
        }
        head.push_str("Connection: close\r\n\r\n");
        head.into_bytes()
    }

    /// Opens the live stream.
    pub fn live(&self, query: &str, last_id: Option<&str>) -> Live {
        let mut stream = connect(self.address);
        let last: Vec<(&str, &str)> = last_id.iter().map(|id| ("Last-Event-ID", *id)).collect();
        stream.write_all(&self.head("GET", &format!("/api/live{query}"), &last, None)).unwrap();
        Live::open(stream)
    }
}

pub fn connect(address: SocketAddr) -> TcpStream {
    let stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    stream.set_nodelay(true).unwrap();
    stream
}

fn read_head(reader: &mut impl BufRead) -> (u16, Vec<(String, String)>) {
    let mut line = String::new();
    reader.read_line(&mut line).unwrap();
    let status = line.split(' ').nth(1).and_then(|status| status.parse().ok());
    let status = status.unwrap_or_else(|| panic!("no status line: {line:?}"));
    let mut headers = Vec::new();
    loop {
        let mut line = String::new();
        reader.read_line(&mut line).unwrap();
        let Some((name, value)) = line.trim_end().split_once(": ") else { return (status, headers) };
        headers.push((name.to_ascii_lowercase(), value.to_owned()));
    }
}

pub fn read_reply(stream: impl Read) -> Reply {
    let mut reader = BufReader::new(stream);
    let (status, headers) = read_head(&mut reader);
    let chunked = headers.iter().any(|(name, value)| name == "transfer-encoding" && value == "chunked");
    let mut body = Vec::new();
    if chunked {
        while let Some(chunk) = read_chunk(&mut reader) {
            body.extend(chunk);
        }
    } else {
        // By TLS an end without a word of farewell is an error; the length says whether all is there.
        let read = reader.read_to_end(&mut body);
        let length = headers.iter().find(|(name, _)| name == "content-length").map(|(_, value)| value.parse().unwrap());
        assert!(read.is_ok() || length == Some(body.len()), "{read:?}");
    }
    Reply { status, headers, body }
}

/// One chunk of a chunked body; none at its end.
fn read_chunk(reader: &mut impl BufRead) -> Option<Vec<u8>> {
    let mut size = String::new();
    reader.read_line(&mut size).ok().filter(|read| *read > 0)?;
    let size = usize::from_str_radix(size.trim(), 16).ok()?;
    let mut chunk = vec![0; size + 2];
    reader.read_exact(&mut chunk).ok()?;
    chunk.truncate(size);
    (size > 0).then_some(chunk)
}

/// A live stream as a browser reads it.
pub struct Live {
    pub status: u16,
    reader: BufReader<TcpStream>,
    buffer: Vec<u8>,
    pub last_id: Option<String>,
    pub heartbeats: usize,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Message {
    pub name: String,
    pub id: Option<String>,
    pub data: Value,
}

impl Live {
    fn open(stream: TcpStream) -> Self {
        let mut reader = BufReader::new(stream);
        let (status, _) = read_head(&mut reader);
        Self { status, reader, buffer: Vec::new(), last_id: None, heartbeats: 0 }
    }

    /// The next message; none when the stream has ended.
    pub fn next(&mut self) -> Option<Message> {
        loop {
            while let Some(end) = self.buffer.windows(2).position(|two| two == b"\n\n") {
                let block: Vec<u8> = self.buffer.drain(..end + 2).collect();
                let block = String::from_utf8(block).unwrap();
                let field = |name: &str| -> Vec<&str> {
                    let prefix = format!("{name}: ");
                    block.lines().filter_map(|line| line.strip_prefix(prefix.as_str())).collect()
                };
                if block.starts_with(':') {
                    self.heartbeats += 1;
                    continue;
                }
                let data = field("data").join("\n");
                if data.is_empty() {
                    continue;
                }
                let id = field("id").first().map(|id| (*id).to_owned());
                if id.is_some() {
                    self.last_id.clone_from(&id);
                }
                let data = serde_json::from_str(&data).unwrap();
                return Some(Message { name: field("event")[0].to_owned(), id, data });
            }
            self.buffer.extend(read_chunk(&mut self.reader)?);
        }
    }

    /// The next message of that name; others are passed over.
    pub fn next_named(&mut self, name: &str) -> Option<Message> {
        loop {
            let message = self.next()?;
            if message.name == name {
                return Some(message);
            }
        }
    }

    /// Lets one heartbeat come in.
    pub fn wait_for_heartbeat(&mut self, within: Duration) {
        let begin = Instant::now();
        while begin.elapsed() < within {
            if self.buffer.windows(2).any(|two| two == b": ") {
                return;
            }
            let chunk = read_chunk(&mut self.reader).expect("the stream must go on");
            self.buffer.extend(chunk);
        }
        panic!("no heartbeat within {within:?}");
    }
}

/// An event of a device.
pub fn event(device: &str, seq: u64, kind: &str, data: &Value) -> String {
    let whose = device.bytes().fold(7_u64, |sum, byte| (sum * 31 + u64::from(byte)) % 1_000_003);
    serde_json::json!({
        "id": format!("0195f2c0-0000-7000-8000-{:012x}", seq + 65_536 * whose),
        "device": device, "device_seq": seq, "kind": kind, "version": 1,
        "happened_at": "2031-03-02T05:06:07Z", "happened_basis": "tapped", "boot": "b1", "monotonic_ms": seq * 1000,
        "person": null, "set": null, "haul": null, "data": data,
    })
    .to_string()
}

pub fn note(device: &str, seq: u64) -> String {
    event(device, seq, "note", &serde_json::json!({"text": format!("note {seq}")}))
}
