//! The envelope's columns as they are copied beside the body, read from the body's own bytes.
//!
//! Two readers, on purpose. What is *taken* is decided by `voyage::read_event`, which knows kinds and
//! versions. What is *verified* is read here, without the data, so that a journal with kinds of a later
//! program still verifies.

use std::borrow::Cow;

use quantity::UtcInstant;
use serde::Deserialize;
use serde::de::IgnoredAny;

/// The largest body that is taken, bytes.
pub const MAX_BODY_BYTES: usize = voyage::MAX_EVENT_BYTES;

/// The copied columns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Copies {
    pub(crate) id: String,
    pub(crate) device: String,
    pub(crate) device_seq: i64,
    pub(crate) kind: String,
    pub(crate) version: i64,
    pub(crate) happened_at_us: i64,
    pub(crate) happened_basis: String,
    pub(crate) boot: Option<String>,
    pub(crate) monotonic_ms: Option<i64>,
    pub(crate) person: Option<String>,
    pub(crate) set_id: Option<String>,
    pub(crate) haul_id: Option<String>,
}

/// Why an event is not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct NotTaken {
    pub(crate) id: Option<String>,
    pub(crate) reason: String,
}

/// The envelope as JSON has it; texts are borrowed from the body where they can be.
#[derive(Deserialize)]
pub(crate) struct Seen<'a> {
    #[serde(borrow)]
    pub(crate) id: Cow<'a, str>,
    #[serde(borrow)]
    pub(crate) device: Cow<'a, str>,
    pub(crate) device_seq: i64,
    #[serde(borrow)]
    pub(crate) kind: Cow<'a, str>,
    pub(crate) version: i64,
    pub(crate) happened_at: UtcInstant,
    #[serde(borrow)]
    pub(crate) happened_basis: Cow<'a, str>,
    #[serde(borrow, default)]
    pub(crate) boot: Option<Cow<'a, str>>,
    #[serde(default)]
    pub(crate) monotonic_ms: Option<i64>,
    #[serde(borrow, default)]
    pub(crate) person: Option<Cow<'a, str>>,
    #[serde(borrow, default)]
    pub(crate) set: Option<Cow<'a, str>>,
    #[serde(borrow, default)]
    pub(crate) haul: Option<Cow<'a, str>>,
    #[serde(default, rename = "data")]
    _data: IgnoredAny,
}

/// The envelope of a stored body.
pub(crate) fn see(body: &[u8]) -> Result<Seen<'_>, String> {
    let text = std::str::from_utf8(body).map_err(|error| format!("it is not UTF-8 text: {error}"))?;
    serde_json::from_str(text).map_err(|error| error.to_string())
}

/// The columns of an event that is to be taken now: one whose kind, version and data this program knows.
pub(crate) fn admit(bytes: &[u8]) -> Result<Copies, NotTaken> {
    match voyage::read_event(bytes) {
        Ok(_) => read(bytes),
        Err(refusal) => {
            let id = refusal.id().map(ToOwned::to_owned).or_else(|| id_of(bytes));
            Err(NotTaken { id, reason: refusal.to_string() })
        }
    }
}

/// The columns of an event that some program has taken before.
pub(crate) fn read(bytes: &[u8]) -> Result<Copies, NotTaken> {
    let refuse = |reason: String| NotTaken { id: id_of(bytes), reason };
    if bytes.len() > MAX_BODY_BYTES {
        let size = bytes.len();
        return Err(refuse(format!(
            "the event has {size} bytes, the most is {MAX_BODY_BYTES}; it stays on its device"
        )));
    }
    let seen = see(bytes).map_err(|error| refuse(format!("the envelope is not understood: {error}")))?;
    let owned = |text: Option<Cow<'_, str>>| text.map(Cow::into_owned);
    Ok(Copies {
        id: seen.id.into_owned(),
        device: seen.device.into_owned(),
        device_seq: seen.device_seq,
        kind: seen.kind.into_owned(),
        version: seen.version,
        happened_at_us: seen.happened_at.micros(),
        happened_basis: seen.happened_basis.into_owned(),
        boot: owned(seen.boot),
        monotonic_ms: seen.monotonic_ms,
        person: owned(seen.person),
        set_id: owned(seen.set),
        haul_id: owned(seen.haul),
    })
}

/// The id of something that is not an event, where it has one.
fn id_of(bytes: &[u8]) -> Option<String> {
    #[derive(Deserialize)]
    struct OnlyId {
        id: String,
    }
    serde_json::from_slice::<OnlyId>(bytes).ok().map(|only| only.id.chars().take(64).collect())
}
