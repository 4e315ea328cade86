//! What `verify` finds, and what a device claims to know of the ship.

use std::str::FromStr;

use quantity::UtcInstant;
use serde::Serialize;

use crate::DeviceHead;
use crate::chain::{Hash, unhex};

/// The outcome of a verification.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Verdict {
    /// Whether there are no faults.
    pub ok: bool,
    /// How many rows were read.
    pub rows: u64,
    /// The hash of the last row, in hexadecimal; null in an empty journal.
    pub head: Option<String>,
    /// What is broken.
    pub faults: Vec<Fault>,
    /// How many events were set aside because they contradict a row.
    pub set_aside: u64,
    /// Those events.
    pub set_aside_events: Vec<SetAside>,
    /// The newest event of every device.
    pub devices: Vec<DeviceHead>,
    /// Numbers that a device has used or skipped and the ship does not have: a doubt each, no fault.
    pub gaps: Vec<SequenceGap>,
}

/// One thing that is broken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Fault {
    /// The row; null where it concerns none.
    pub ship_seq: Option<i64>,
    /// What is wrong, in a sentence.
    pub what: String,
}

/// An event that contradicts a row: kept beside the chain.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SetAside {
    /// The row that it contradicts.
    pub against_ship_seq: i64,
    /// Its id.
    pub id: String,
    /// Its device.
    pub device: String,
    /// Its number on that device.
    pub device_seq: i64,
    /// In what it contradicts.
    pub reason: String,
    /// When the ship received it.
    pub received_at: UtcInstant,
    /// The event as it came.
    pub body: String,
}

/// Missing numbers of one device.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SequenceGap {
    /// The device.
    pub device: String,
    /// The first missing number.
    pub from_seq: i64,
    /// The last missing number.
    pub to_seq: i64,
}

/// What a device was told by the ship: this row of mine had this hash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Known {
    /// The device's id.
    pub device: String,
    /// The number of one of its events.
    pub device_seq: i64,
    /// The hash that the ship gave for it.
    pub hash: Hash,
}

/// Why a text is no [`Known`].
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not DEVICE:SEQ:HASH (a device id, its event's number from 1, and 64 hexadecimal digits)")]
pub struct KnownError {
    /// The text.
    pub text: String,
}

impl FromStr for Known {
    type Err = KnownError;

    fn from_str(text: &str) -> Result<Self, KnownError> {
        let refuse = || KnownError { text: text.to_owned() };
        let mut parts = text.rsplitn(3, ':');
        let (hash, seq, device) = (parts.next(), parts.next(), parts.next());
        let hash = hash.and_then(unhex).ok_or_else(refuse)?;
        let device_seq = seq.and_then(|seq| seq.parse().ok()).filter(|seq| *seq >= 1).ok_or_else(refuse)?;
        let device = device.filter(|device| !device.is_empty()).ok_or_else(refuse)?.to_owned();
        Ok(Self { device, device_seq, hash })
    }
}
