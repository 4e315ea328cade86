//! How much one client may ask of the ship's computer, and how long anything may take.
//!
//! All numbers are own judgement for a ship's network of a few dozen devices; tests shrink them.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Sizes, counts and times that the server keeps to.
#[derive(Debug, Clone)]
pub struct Limits {
    /// The largest body of a post, bytes.
    pub body_bytes: usize,
    /// The most events in one post.
    pub events_a_post: usize,
    /// The most events in one answer.
    pub events_an_answer: usize,
    /// How long a client may take for its request line and headers (idle time between requests counts).
    pub head_time: Duration,
    /// How long a client may take for a body.
    pub body_time: Duration,
    /// How long a client may leave what is sent to it unread.
    pub stall_time: Duration,
    /// How long requests in hand have when the server stops.
    pub stop_time: Duration,
    /// Silence on a live stream after which a heartbeat is sent.
    pub heartbeat: Duration,
    /// Rows that a live stream may be behind before it is closed; its reader resumes from the journal.
    pub live_behind: usize,
    /// Live streams together.
    pub live_streams: usize,
    /// Live streams of one device (of one address, where it is not paired).
    pub live_streams_each: usize,
    /// Open connections together.
    pub connections: usize,
    /// Open connections of one address that is not this computer.
    pub connections_each: usize,
    /// Requests a second of one address that is not this computer, lasting.
    pub requests_a_second: f64,
    /// Requests at once of such an address.
    pub requests_at_once: f64,
    /// How long a pairing code stands.
    pub code_time: Duration,
    /// Wrong tries that one code survives.
    pub code_tries: u32,
    /// Wrong codes from one address before it has to wait.
    pub tries_each: u32,
    /// How long it has to wait then; doubled for each further round of wrong PINs.
    pub tries_wait: Duration,
    /// Wrong PINs before a wait.
    pub pin_tries: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            body_bytes: 4_000_000,
            events_a_post: 5_000,
            events_an_answer: 1_000,
            head_time: Duration::from_secs(15),
            body_time: Duration::from_secs(30),
            stall_time: Duration::from_secs(20),
            stop_time: Duration::from_secs(5),
            heartbeat: Duration::from_secs(10),
            live_behind: 4_096,
            live_streams: 64,
            live_streams_each: 6,
            connections: 256,
            connections_each: 32,
            requests_a_second: 50.0,
            requests_at_once: 200.0,
            code_time: Duration::from_secs(300),
            code_tries: 5,
            tries_each: 3,
            tries_wait: Duration::from_secs(60),
            pin_tries: 5,
        }
    }
}

/// A bucket of requests for each address: filled steadily, emptied by asking.
#[derive(Debug)]
pub(crate) struct Buckets {
    a_second: f64,
    at_once: f64,
    held: Mutex<BTreeMap<IpAddr, (f64, Instant)>>,
}

/// Addresses that are remembered at most; a ship's network has fewer.
const ADDRESSES: usize = 4_096;

impl Buckets {
    pub(crate) fn new(a_second: f64, at_once: f64) -> Self {
        Self { a_second, at_once, held: Mutex::default() }
    }

    /// Takes one request out of the bucket of `peer`; else how many seconds it should wait.
    pub(crate) fn take(&self, peer: IpAddr, now: Instant) -> Result<(), f64> {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if held.len() >= ADDRESSES {
            let (a_second, at_once) = (self.a_second, self.at_once);
            held.retain(|_, (left, at)| now.duration_since(*at).as_secs_f64().mul_add(a_second, *left) < at_once);
        }
        let (left, at) = held.entry(peer).or_insert((self.at_once, now));
        let filled = now.duration_since(*at).as_secs_f64().mul_add(self.a_second, *left).min(self.at_once);
        *at = now;
        if filled < 1.0 {
            *left = filled;
            return Err((1.0 - filled) / self.a_second);
        }
        *left = filled - 1.0;
        Ok(())
    }
}

/// Wrong tries of each address: after so many it waits.
#[derive(Debug, Default)]
pub(crate) struct Tries {
    wrong: BTreeMap<IpAddr, (u32, Instant)>,
}

impl Tries {
    /// Seconds that `peer` still has to wait; none when it may try.
    pub(crate) fn wait_s(&self, peer: IpAddr, most: u32, wait: Duration, now: Instant) -> Option<f64> {
        let (count, last) = self.wrong.get(&peer)?;
        let rounds = count.checked_div(most)?;
        if rounds == 0 || count % most != 0 {
            return None;
        }
        // Twice as long for each further round, an hour at most.
        let wait = wait.saturating_mul(1 << (rounds - 1).min(6)).min(Duration::from_secs(3_600));
        wait.checked_sub(now.duration_since(*last)).filter(|left| !left.is_zero()).map(|left| left.as_secs_f64())
    }

    pub(crate) fn failed(&mut self, peer: IpAddr, now: Instant) {
        if self.wrong.len() >= ADDRESSES {
            self.wrong.retain(|_, (_, last)| now.duration_since(*last) < Duration::from_secs(3_600));
        }
        let entry = self.wrong.entry(peer).or_insert((0, now));
        *entry = (entry.0.saturating_add(1), now);
    }

    pub(crate) fn succeeded(&mut self, peer: IpAddr) {
        self.wrong.remove(&peer);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PEER: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(10, 66, 0, 7));

    #[test]
    fn verif_a_bucket_gives_its_burst_and_then_its_rate() {
        let buckets = Buckets::new(10.0, 5.0);
        let begin = Instant::now();
        let taken = (0..20).filter(|_| buckets.take(PEER, begin).is_ok()).count();
        assert_eq!(taken, 5);
        let wait_s = buckets.take(PEER, begin).unwrap_err();
        assert!(wait_s > 0.0 && wait_s <= 0.1, "{wait_s}");
        let later = begin + Duration::from_secs(1);
        assert_eq!((0..20).filter(|_| buckets.take(PEER, later).is_ok()).count(), 5, "never more than the burst");
        let other = IpAddr::V4(std::net::Ipv4Addr::LOCALHOST);
        assert!(buckets.take(other, later).is_ok(), "one address does not starve another");
    }

    #[test]
    fn verif_wrong_tries_wait_longer_each_round() {
        let mut tries = Tries::default();
        let (begin, wait) = (Instant::now(), Duration::from_secs(60));
        let wait_s = |tries: &Tries, at| tries.wait_s(PEER, 3, wait, at);
        for _ in 0..3 {
            assert_eq!(wait_s(&tries, begin), None);
            tries.failed(PEER, begin);
        }
        assert_eq!(wait_s(&tries, begin), Some(60.0));
        let later = begin + Duration::from_secs(61);
        assert_eq!(wait_s(&tries, later), None);
        for _ in 0..3 {
            tries.failed(PEER, later);
        }
        assert_eq!(wait_s(&tries, later), Some(120.0));
        tries.succeeded(PEER);
        assert_eq!(wait_s(&tries, later), None);
    }
}
