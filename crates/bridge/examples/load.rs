//! Measures a server under load: durable posts a second, and how soon an accepted event shows on a second screen.
//!
//! `cargo run --release -p bridge --example load -- [seconds] [clients] [events a second of each]`. Each client keeps
//! its connection and posts one event at a time, as tablets do; without the last number as fast as it can. Numbers depend on the disk: every answer waits for a flush.

#![allow(clippy::unwrap_used, clippy::cast_precision_loss, reason = "a measuring tool; it fails by panicking")]

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use bridge::{Limits, Server, Setup, Ship};

fn event(client: u64, seq: u64) -> String {
    format!(
        r#"{{"id":"0195f2c0-0000-7000-{client:04x}-{seq:012x}","device":"c-{client}","device_seq":{seq},"kind":"note","version":1,"happened_at":"2031-03-02T05:06:07Z","happened_basis":"typed","boot":null,"monotonic_ms":null,"person":null,"set":null,"haul":null,"data":{{"text":"x"}}}}"#
    )
}

fn post(stream: &mut BufReader<TcpStream>, address: SocketAddr, body: &str) {
    let port = address.port();
    let head = format!(
        "POST /api/events HTTP/1.1\r\nHost: localhost:{port}\r\nOrigin: http://localhost:{port}\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n",
        body.len()
    );
    stream.get_mut().write_all(&[head.as_bytes(), body.as_bytes()].concat()).unwrap();
    let mut length = 0;
    loop {
        let mut line = String::new();
        stream.read_line(&mut line).unwrap();
        if let Some(value) = line.to_ascii_lowercase().strip_prefix("content-length: ") {
            length = value.trim().parse().unwrap();
        }
        if line.trim().is_empty() {
            break;
        }
    }
    let mut answer = vec![0; length];
    stream.read_exact(&mut answer).unwrap();
    assert!(answer.windows(6).any(|part| part == b"\"kept\""), "{}", String::from_utf8_lossy(&answer));
}

fn told(name: &str, mut times: Vec<Duration>) {
    times.sort();
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize].as_secs_f64() * 1e3;
    println!("{name}: p50 {:.2} ms, p95 {:.2} ms, p99 {:.2} ms, n {}", at(0.5), at(0.95), at(0.99), times.len());
}

fn main() {
    let mut words = std::env::args().skip(1).filter_map(|word| word.parse::<u64>().ok());
    let (seconds, clients) = (words.next().unwrap_or(5), words.next().unwrap_or(8));
    let pace = words.next().filter(|pace| *pace > 0).map(|pace| Duration::from_secs_f64(1.0 / pace as f64));
    let folder = std::env::temp_dir().join(format!("bridge-load-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let limits = Limits::default();
    let ship = Arc::new(Ship::open(&folder.join("voyage.journal"), limits.live_behind).unwrap());
    let server = Server::start(Arc::clone(&ship), Setup::new(&folder), "127.0.0.1:0".parse().unwrap()).unwrap();
    let address = server.address();
    let posted: Arc<Mutex<BTreeMap<String, Instant>>> = Arc::default();
    let shown = Arc::clone(&posted);
    let mut screen = BufReader::new(TcpStream::connect(address).unwrap());
    write!(screen.get_mut(), "GET /api/live HTTP/1.1\r\nHost: localhost:{}\r\n\r\n", address.port()).unwrap();
    std::thread::sleep(Duration::from_millis(300));
    let seen: Arc<Mutex<Vec<Duration>>> = Arc::default();
    let noted = Arc::clone(&seen);
    std::thread::spawn(move || {
        let mut line = String::new();
        while screen.read_line(&mut line).is_ok_and(|read| read > 0) {
            if let Some((_, rest)) = line.split_once("\"id\":\"")
                && let Some(begun) = shown.lock().unwrap().remove(rest.split('"').next().unwrap_or(""))
            {
                noted.lock().unwrap().push(begun.elapsed());
            }
            line.clear();
        }
    });
    let end = Instant::now() + Duration::from_secs(seconds);
    let threads: Vec<_> = (1..=clients)
        .map(|client| {
            let posted = Arc::clone(&posted);
            std::thread::spawn(move || {
                let stream = TcpStream::connect(address).unwrap();
                stream.set_nodelay(true).unwrap();
                let (mut stream, mut times) = (BufReader::new(stream), Vec::new());
                // Taps of several hands do not fall together.
                let first = Instant::now() + pace.unwrap_or_default().mul_f64(client as f64 / clients as f64);
                for seq in 1_u64.. {
                    if let Some(pace) = pace {
                        let due = first + pace.mul_f64(seq as f64);
                        std::thread::sleep(due.saturating_duration_since(Instant::now()));
                    }
                    let begun = Instant::now();
                    if begun >= end {
                        break;
                    }
                    let id = format!("0195f2c0-0000-7000-{client:04x}-{seq:012x}");
                    posted.lock().unwrap().insert(id, begun);
                    post(&mut stream, address, &event(client, seq));
                    times.push(begun.elapsed());
                }
                times
            })
        })
        .collect();
    let times: Vec<Duration> = threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect();
    println!("{clients} clients: {:.0} durable posts/s", times.len() as f64 / seconds as f64);
    told("post to answer", times);
    std::thread::sleep(Duration::from_millis(300));
    told("post to second screen", seen.lock().unwrap().clone());
    server.stop();
    drop(ship);
    let _ = std::fs::remove_dir_all(folder);
}
