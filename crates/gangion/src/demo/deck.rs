//! The deck's devices and what they write: one event envelope a line, made once, in the order in which the ship
//! receives it. Every device has its own clock, its own starts and its own counter; one of them is an hour late.
//!
//! Ids are UUIDs of version 7 (RFC 9562, section 5.7): 48 bits of the device's milliseconds, the rest from the seed.

use quantity::UtcInstant;
use serde::Serialize;
use serde_json::Value;

use super::dice::Dice;

/// A device aboard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Device {
    /// The master's screen; it also beats.
    Wheelhouse,
    /// The screen of those who clip.
    Stern,
    /// The tablet at the hauler.
    Rail,
    /// The tablet at the fish table.
    Table,
}

impl Device {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Wheelhouse, Self::Stern, Self::Rail, Self::Table];

    /// Its id.
    pub const fn id(self) -> &'static str {
        match self {
            Self::Wheelhouse => "wheelhouse",
            Self::Stern => "stern",
            Self::Rail => "rail",
            Self::Table => "table",
        }
    }

    /// Its clock minus the ship's UTC, s. The rail tablet's clock is plainly wrong.
    pub const fn offset_s(self) -> f64 {
        match self {
            Self::Wheelhouse => 0.4,
            Self::Stern => -2.1,
            Self::Rail => 743.0,
            Self::Table => 5.6,
        }
    }

    /// Who taps on it.
    const fn person(self) -> Option<&'static str> {
        match self {
            Self::Wheelhouse => Some("person-1"),
            Self::Stern => Some("person-3"),
            Self::Rail => Some("person-2"),
            Self::Table => Some("person-4"),
        }
    }
}

#[derive(Serialize)]
struct Envelope<'a> {
    id: &'a str,
    device: &'a str,
    device_seq: u64,
    kind: &'a str,
    version: u32,
    happened_at: String,
    happened_basis: &'a str,
    boot: Option<&'a str>,
    monotonic_ms: Option<i64>,
    person: Option<&'a str>,
    set: Option<&'a str>,
    haul: Option<&'a str>,
    data: &'a Value,
}

struct Pending {
    id: String,
    device: Device,
    made_at: UtcInstant,
    happened_at: UtcInstant,
    basis: &'static str,
    kind: &'static str,
    set: Option<String>,
    haul: Option<String>,
    data: Value,
}

/// Everything that is written on deck, until it is put in order.
pub struct Deck {
    dice: Dice,
    pending: Vec<Pending>,
    starts: Vec<(Device, UtcInstant, String)>,
    /// The set that new events carry.
    pub set: Option<String>,
    /// The haul part that new events carry.
    pub haul: Option<String>,
    late: Option<(Device, UtcInstant, UtcInstant, f64)>,
}

/// Milliseconds between two moments.
fn milliseconds(from: UtcInstant, to: UtcInstant) -> i64 {
    (to.micros() - from.micros()) / 1000
}

/// A moment cut to whole milliseconds, as a tablet writes it.
fn cut(at: UtcInstant) -> UtcInstant {
    UtcInstant::from_micros_clamped(at.micros() - at.micros().rem_euclid(1000))
}

impl Deck {
    /// An empty deck log.
    pub fn new(seed: u64) -> Self {
        Self { dice: Dice::new(seed, 1), pending: Vec::new(), starts: Vec::new(), set: None, haul: None, late: None }
    }

    /// A start (boot) of a device; its counter begins at 0.
    pub fn starts(&mut self, device: Device, at: UtcInstant) {
        let number = self.starts.iter().filter(|(which, ..)| *which == device).count() + 1;
        self.starts.push((device, at, format!("{}-start-{number}", device.id())));
    }

    /// What this device writes between two moments arrives so much later.
    pub fn comes_late(&mut self, device: Device, from: UtcInstant, to: UtcInstant, late_s: f64) {
        self.late = Some((device, from, to, late_s));
    }

    /// The device's own clock at a moment.
    pub fn clock(device: Device, at: UtcInstant) -> UtcInstant {
        cut(at.plus_seconds(device.offset_s()))
    }

    /// The start a moment belongs to, and the counter then, ms.
    fn counter(&self, device: Device, at: UtcInstant) -> Option<(&str, i64)> {
        let latest = self.starts.iter().rfind(|(which, from, _)| *which == device && *from <= at);
        latest.map(|(_, from, name)| (name.as_str(), milliseconds(*from, at)))
    }

    /// A tap: it happened when it was made.
    pub fn tap(&mut self, device: Device, at: UtcInstant, kind: &'static str, data: Value) -> String {
        self.write(device, at, at, "tapped", kind, data)
    }

    /// A thing that the machine itself tells.
    pub fn beat(&mut self, device: Device, at: UtcInstant, kind: &'static str, data: Value) -> String {
        self.write(device, at, at, "instrument", kind, data)
    }

    /// A thing typed in later than it happened.
    pub fn typed(
        &mut self,
        device: Device,
        made_at: UtcInstant,
        happened_at: UtcInstant,
        kind: &'static str,
        data: Value,
    ) -> String {
        self.write(device, made_at, happened_at, "typed", kind, data)
    }

    /// The device's clock held against the ship's, and written down by the wheelhouse.
    pub fn clock_measured(&mut self, device: Device, at: UtcInstant, error_s: f64) {
        let (boot, counter_ms) = match self.counter(device, at) {
            Some((boot, counter_ms)) => (Some(boot.to_owned()), Some(counter_ms)),
            None => (None, None),
        };
        let offset_s = device.offset_s() + error_s;
        let data = serde_json::json!({"of_device": device.id(), "offset_s": offset_s, "uncertainty_s": 0.3,
            "of_boot": boot, "of_monotonic_ms": counter_ms});
        self.beat(Device::Wheelhouse, at, "clock_offset", data);
    }

    fn write(
        &mut self,
        device: Device,
        made_at: UtcInstant,
        happened_at: UtcInstant,
        basis: &'static str,
        kind: &'static str,
        data: Value,
    ) -> String {
        let id = self.new_id(Self::clock(device, made_at));
        let (set, haul) = (self.set.clone(), self.haul.clone());
        self.pending.push(Pending { id: id.clone(), device, made_at, happened_at, basis, kind, set, haul, data });
        id
    }

    fn new_id(&mut self, clock: UtcInstant) -> String {
        let ms = u64::try_from(clock.micros() / 1000).unwrap_or(0) & 0xffff_ffff_ffff;
        let (a, b) = (self.dice.word(), self.dice.word());
        let (tail, node) = (0x8000 | (b & 0x3fff), (b >> 16) & 0xffff_ffff_ffff);
        format!("{:08x}-{:04x}-7{:03x}-{tail:04x}-{node:012x}", ms >> 16, ms & 0xffff, a & 0xfff)
    }

    /// All lines, each device in its own order, together in the order in which the ship receives them, with the
    /// moment of receiving.
    pub fn lines(mut self) -> Result<Vec<(UtcInstant, String)>, serde_json::Error> {
        self.pending.sort_by_key(|one| one.made_at);
        let mut received = Vec::with_capacity(self.pending.len());
        for device in Device::ALL {
            let mut last = None;
            for (one, device_seq) in self.pending.iter().filter(|one| one.device == device).zip(1_u64..) {
                let counter = self.counter(device, one.made_at);
                let typed = one.basis == "typed";
                let envelope = Envelope {
                    id: &one.id,
                    device: device.id(),
                    device_seq,
                    kind: one.kind,
                    version: 1,
                    happened_at: Self::clock(device, one.happened_at).to_string(),
                    happened_basis: one.basis,
                    boot: counter.map(|(boot, _)| boot),
                    monotonic_ms: counter.map(|(_, counter_ms)| counter_ms),
                    person: if one.basis == "instrument" { None } else { device.person() },
                    set: one.set.as_deref(),
                    haul: one.haul.as_deref(),
                    data: &one.data,
                };
                debug_assert!(typed || one.happened_at == one.made_at);
                let late_s = match self.late {
                    Some((which, from, to, late_s)) if which == device && from <= one.made_at && one.made_at < to => {
                        late_s
                    }
                    _ => 0.0,
                };
                let arrives = one.made_at.plus_seconds(late_s + 0.2);
                let arrives = last.map_or(arrives, |before| arrives.max(before));
                last = Some(arrives);
                received.push((arrives, serde_json::to_string(&envelope)?));
            }
        }
        received.sort_by_key(|(arrives, _)| *arrives);
        Ok(received)
    }
}
