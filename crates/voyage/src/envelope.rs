//! The envelope round every event, and the one way from bytes to an event.
//!
//! An event is refused only when its envelope cannot be read, its kind or version is unknown, a field has
//! the wrong JSON type, or it is too large. Everything else is kept, with a doubt where it is doubtful.

use quantity::UtcInstant;
use serde::Deserialize;
use serde_json::value::RawValue;

use crate::kind::{Data, Kind};

/// The largest event that is taken, bytes (64 kB).
pub const MAX_EVENT_BYTES: usize = 64_000;

/// What the time of happening rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// A key was pressed at that moment.
    Tapped,
    /// A person wrote the time.
    Typed,
    /// Taken for granted from other events.
    Assumed,
    /// An instrument said so.
    Instrument,
    /// A word that this program does not know; treated as typed.
    Unknown,
}

impl Basis {
    /// Whether the device's counter and sequence bind the time.
    #[must_use]
    pub fn is_bound(self) -> bool {
        matches!(self, Self::Tapped | Self::Instrument)
    }
}

/// Who, when, on which device, about which set and haul part.
#[derive(Debug, Clone, PartialEq)]
pub struct Envelope {
    /// Made on the device (UUIDv7).
    pub id: String,
    /// The device's own id.
    pub device: String,
    /// 1, 2, 3 … of that device.
    pub device_seq: u64,
    /// What kind of event.
    pub kind: Kind,
    /// The version of the kind's data.
    pub version: u32,
    /// By the device's clock.
    pub happened_at: UtcInstant,
    /// What that time rests on.
    pub happened_basis: Basis,
    /// Which start of the device.
    pub boot: Option<String>,
    /// The device's counter then, milliseconds.
    pub monotonic_ms: Option<u64>,
    /// Who.
    pub person: Option<String>,
    /// Which set (the id of its `setting_started`).
    pub set: Option<String>,
    /// Which haul part (the id of its `haul_started`).
    pub haul: Option<String>,
}

/// One thing that happened.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// The envelope.
    pub envelope: Envelope,
    /// What the kind says.
    pub data: Data,
}

/// Why an event was not taken. The device keeps it and shows it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// Larger than [`MAX_EVENT_BYTES`].
    #[error(
        "the event has {bytes} bytes, more than {MAX_EVENT_BYTES}; it stays on its device: shorten its text and send it again"
    )]
    TooLarge {
        /// Its size.
        bytes: usize,
    },
    /// Not JSON, or a field of the envelope is missing or of the wrong type.
    #[error("the event's envelope cannot be read ({fault}); it stays on its device")]
    Envelope {
        /// The id, where it could be read.
        id: Option<String>,
        /// What is wrong.
        fault: String,
    },
    /// No such kind.
    #[error(
        "event {id} is of kind \"{kind}\", which this program does not know; it stays on its device: update the ship's program"
    )]
    UnknownKind {
        /// The event's id.
        id: String,
        /// The kind as it came.
        kind: String,
    },
    /// No such version of that kind.
    #[error(
        "event {id} is version {version} of {kind}, which this program does not know; it stays on its device: update the ship's program"
    )]
    UnknownVersion {
        /// The event's id.
        id: String,
        /// The kind.
        kind: String,
        /// The version as it came.
        version: u64,
    },
    /// A field of the data has the wrong JSON type.
    #[error("event {id} ({kind}) has a field of the wrong type ({fault}); it stays on its device")]
    Data {
        /// The event's id.
        id: String,
        /// The kind.
        kind: String,
        /// What is wrong.
        fault: String,
    },
}

impl Refusal {
    /// The id of the refused event, where it could be read.
    #[must_use]
    pub fn id(&self) -> Option<&str> {
        match self {
            Self::TooLarge { .. } => None,
            Self::Envelope { id, .. } => id.as_deref(),
            Self::UnknownKind { id, .. } | Self::UnknownVersion { id, .. } | Self::Data { id, .. } => Some(id),
        }
    }
}

#[derive(Deserialize)]
struct Wire<'a> {
    id: String,
    device: String,
    device_seq: u64,
    kind: String,
    version: u64,
    happened_at: String,
    happened_basis: String,
    #[serde(default)]
    boot: Option<String>,
    #[serde(default)]
    monotonic_ms: Option<u64>,
    #[serde(default)]
    person: Option<String>,
    #[serde(default)]
    set: Option<String>,
    #[serde(default)]
    haul: Option<String>,
    #[serde(borrow, default)]
    data: Option<&'a RawValue>,
}

#[derive(Deserialize)]
struct OnlyId {
    id: String,
}

/// Reads one event from the bytes its device made.
///
/// # Errors
/// [`Refusal`], naming the event where its id could be read.
pub fn read_event(bytes: &[u8]) -> Result<Event, Refusal> {
    if bytes.len() > MAX_EVENT_BYTES {
        return Err(Refusal::TooLarge { bytes: bytes.len() });
    }
    let fault = |fault: String| Refusal::Envelope {
        id: serde_json::from_slice::<OnlyId>(bytes).ok().map(|only| only.id),
        fault,
    };
    if bytes.trim_ascii_start().first() != Some(&b'{') {
        return Err(fault("it is not a JSON object".to_owned()));
    }
    let wire: Wire<'_> = serde_json::from_slice(bytes).map_err(|error| fault(error.to_string()))?;
    for (name, text) in [("id", &wire.id), ("device", &wire.device)] {
        if text.is_empty() || text.len() > 200 {
            return Err(fault(format!("{name} has {} bytes", text.len())));
        }
    }
    if wire.device_seq == 0 || i64::try_from(wire.device_seq).is_err() {
        return Err(fault(format!("device_seq is {}, it counts from 1", wire.device_seq)));
    }
    let happened_at: UtcInstant = wire.happened_at.parse().map_err(|error| fault(format!("happened_at: {error}")))?;
    let Some(kind) = Kind::from_name(&wire.kind) else {
        return Err(Refusal::UnknownKind { id: wire.id, kind: wire.kind });
    };
    if wire.version != 1 {
        return Err(Refusal::UnknownVersion { id: wire.id, kind: wire.kind, version: wire.version });
    }
    let data = Data::decode(kind, wire.data.map_or("{}", RawValue::get)).map_err(|error| Refusal::Data {
        id: wire.id.clone(),
        kind: wire.kind.clone(),
        fault: error.to_string(),
    })?;
    let happened_basis = match wire.happened_basis.as_str() {
        "tapped" => Basis::Tapped,
        "typed" => Basis::Typed,
        "assumed" => Basis::Assumed,
        "instrument" => Basis::Instrument,
        _ => Basis::Unknown,
    };
    let envelope = Envelope {
        id: wire.id,
        device: wire.device,
        device_seq: wire.device_seq,
        kind,
        version: 1,
        happened_at,
        happened_basis,
        boot: wire.boot,
        monotonic_ms: wire.monotonic_ms,
        person: wire.person,
        set: wire.set,
        haul: wire.haul,
    };
    Ok(Event { envelope, data })
}
