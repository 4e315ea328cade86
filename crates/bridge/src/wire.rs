//! What goes over the wire besides the views of the voyage: posts and their answers, devices, health, live messages.
//!
//! Snake case, times RFC 3339 UTC, units in the names; what is not known is null. These types are the contract with
//! the screens: the API document is made from them.

use quantity::UtcInstant;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use crate::beat::view::BeatView;
use crate::role::Role;
use crate::ship_clock::TimeBasis;

/// One event as its device made it. The ship keeps its bytes as they come; further fields are kept too.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Envelope {
    /// UUIDv7 made on the device.
    id: String,
    /// The device's own id.
    device: String,
    /// 1, 2, 3 … of that device.
    device_seq: u64,
    /// What kind of event; the examples of `POST /api/events` show one of each.
    kind: String,
    /// Version of the kind's data.
    version: u32,
    /// By the device's clock.
    happened_at: UtcInstant,
    /// What that time rests on: `tapped`, `typed`, `assumed` or `instrument`.
    happened_basis: String,
    /// Which start of the device.
    boot: Option<String>,
    /// The device's counter then, milliseconds.
    monotonic_ms: Option<u64>,
    /// Who.
    person: Option<String>,
    /// Which set: the id of its `setting_started`.
    set: Option<String>,
    /// Which haul part: the id of its `haul_started`.
    haul: Option<String>,
    /// What the kind says.
    data: Value,
}

/// What a post may hold.
#[derive(Serialize, ToSchema)]
#[serde(untagged)]
#[expect(dead_code, reason = "describes what is taken; the body is cut byte for byte")]
pub(crate) enum Post {
    /// One event.
    One(Box<Envelope>),
    /// Several events; each is judged by itself.
    Many(Vec<Envelope>),
}

/// What became of one posted event.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Outcome {
    /// It is in the journal, flushed to disk.
    Kept,
    /// It was there already with the same bytes: as good as kept.
    Repeat,
    /// It contradicts what is there; both are kept, this one set aside. The device shows it and does not send it again.
    Conflict,
    /// It is no event, or not this device's to send. The device sets it aside and shows it.
    Refused,
}

/// Why an event was not taken, for programs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum ReasonCode {
    /// Its id is there with other bytes, or its number with another id.
    Contradicts,
    /// Envelope, kind, version, a field's type or its size.
    NotReadable,
    /// The device's role does not allow this kind.
    NotInThisRole,
    /// It bears another device's id.
    AnotherDevice,
}

/// The answer for one posted event.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct PostResult {
    /// Its id; null where none could be read.
    pub(crate) id: Option<String>,
    /// What became of it.
    pub(crate) result: Outcome,
    /// Why it was not kept.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) reason: Option<String>,
    /// The same for programs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) reason_code: Option<ReasonCode>,
    /// The row that holds it, or that it contradicts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(crate) ship_seq: Option<i64>,
}

/// The answers to a post, one for each event in its order.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PostResults {
    /// What became of each.
    pub(crate) results: Vec<PostResult>,
}

/// A row of the journal.
#[derive(Serialize, ToSchema)]
pub(crate) struct KeptRow {
    /// Its place: `epoch.sequence`, the id of the live stream.
    cursor: String,
    /// Its ship sequence.
    ship_seq: i64,
    /// When the ship received it.
    received_at: UtcInstant,
    /// The event as its device made it.
    event: Envelope,
}

/// Rows of the journal after a cursor.
#[derive(Serialize, ToSchema)]
pub(crate) struct Rows {
    /// The rows in ship order.
    events: Vec<KeptRow>,
    /// The cursor to ask with next.
    next: String,
    /// True when there are more already.
    more: bool,
    /// True when the cursor was of another epoch: these rows start from the first, fold afresh.
    afresh: bool,
}

/// What the ship knows of the device that asks.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DeviceMe {
    /// Its id; null at the ship's own computer when none was asked for.
    pub(crate) device: Option<String>,
    /// Its name.
    pub(crate) name: Option<String>,
    /// What it may do.
    pub(crate) role: Role,
    /// True at the ship's own computer.
    pub(crate) this_computer: bool,
    /// True when the wheelhouse is closed by its PIN.
    pub(crate) pin_needed: bool,
    /// Which opening of the journal.
    pub(crate) epoch: String,
    /// The highest number of the device that the ship holds; null for none: send all again.
    pub(crate) last_seq: Option<i64>,
    /// The hash of that row in hexadecimal; another one than the device was told means an older journal: send again.
    pub(crate) hash: Option<String>,
    /// Up to which of its own numbers the device may delete acknowledged events: they lie in a verified backup.
    pub(crate) may_forget_through_seq: Option<u64>,
    /// After how many days an acknowledged event may be deleted in any case.
    pub(crate) may_forget_after_days: u32,
}

/// A device that has been paired.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PairedDevice {
    /// Its id.
    pub(crate) device: String,
    /// Its name.
    pub(crate) name: Option<String>,
    /// What it may do.
    pub(crate) role: Role,
    /// When it was paired.
    pub(crate) paired_at: String,
    /// When its right was taken away.
    pub(crate) revoked_at: Option<String>,
    /// Paired by https; its token is good there only, as that of plain http is there.
    pub(crate) by_https: bool,
    /// Its live streams that are open now.
    pub(crate) live_streams: usize,
    /// When it last asked for something, by the ship's time; null where it has not since the program began.
    pub(crate) last_seen_at: Option<UtcInstant>,
    /// The highest number of the device that the ship holds.
    pub(crate) last_seq: Option<i64>,
}

/// Every device that has been paired.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Devices {
    /// In order of pairing.
    pub(crate) devices: Vec<PairedDevice>,
    /// The code that stands open.
    pub(crate) open_code: Option<PairingCode>,
    /// Whether the wheelhouse has a PIN.
    pub(crate) pin_set: bool,
}

/// What is asked for a pairing code.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CodeWanted {
    /// The role that the device will have.
    pub(crate) role: Role,
    /// A name for it, such as `rail tablet`.
    #[serde(default)]
    pub(crate) name: Option<String>,
}

/// A code that pairs one device.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct PairingCode {
    /// Eight digits.
    pub(crate) code: String,
    /// The role that the device will have.
    pub(crate) role: Role,
    /// Its name.
    pub(crate) name: Option<String>,
    /// How long it stands yet, seconds.
    pub(crate) seconds_left_s: f64,
    /// Wrong tries that it survives yet.
    pub(crate) tries_left: u32,
    /// Addresses to open on the other device; the code is behind the `#` and is never sent by itself.
    pub(crate) addresses: Vec<String>,
    /// A QR code of the first address: rows from the top, 1 for a dark module.
    pub(crate) qr: Vec<String>,
}

/// What a device sends to be paired.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PairWanted {
    /// The code shown in the wheelhouse.
    pub(crate) code: String,
    /// The id that the device made for itself.
    pub(crate) device: String,
    /// A name for it.
    #[serde(default)]
    pub(crate) name: Option<String>,
}

/// A PIN.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Pin {
    /// Four to 64 characters; null takes the PIN away.
    pub(crate) pin: Option<String>,
}

/// How a device can come to the ship by https.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Enrolment {
    /// True where this answer itself came by https.
    pub(crate) by_https: bool,
    /// The ship's https addresses, the lasting name first; none where https is not served.
    pub(crate) addresses: Vec<String>,
    /// The port of https.
    pub(crate) https_port: Option<u16>,
    /// SHA-256 of the authority's certificate, as a tablet shows it.
    pub(crate) authority_sha256: Option<String>,
    /// When the authority ends: each device has to be enrolled again before.
    pub(crate) authority_ends: Option<UtcInstant>,
    /// When the server's present certificate ends; it is renewed by itself long before.
    pub(crate) certificate_ends: Option<UtcInstant>,
    /// Names of the ship for which the authority was not made: no device trusts them.
    pub(crate) unvouched: Vec<String>,
    /// The clock of the ship's computer, by which certificates are judged.
    pub(crate) computer_utc: UtcInstant,
}

/// The word that a device trusts the ship's certificate: only then can it read this.
#[derive(Debug, Serialize)]
pub(crate) struct Trusted {
    pub(crate) trusted: bool,
    pub(crate) computer_utc: UtcInstant,
}

/// How the ship's program is.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct Health {
    /// True while events are taken.
    pub(crate) ok: bool,
    /// The program's version.
    pub(crate) version: String,
    /// Which opening of the journal.
    pub(crate) epoch: String,
    /// Its last row.
    pub(crate) ship_seq: i64,
    /// Why nothing is taken any more.
    pub(crate) stopped: Option<String>,
    /// Events that contradict others and lie aside.
    pub(crate) set_aside: u64,
    /// Ship's UTC.
    pub(crate) now_utc: UtcInstant,
    /// What that rests on.
    pub(crate) time_basis: TimeBasis,
    /// When the last verified backup was made, and how many rows it holds; null for none since the start.
    pub(crate) backup: Option<Backup>,
    /// Always: not for navigation.
    pub(crate) not_for_navigation: bool,
}

/// A verified backup.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub(crate) struct Backup {
    /// When it was made.
    pub(crate) made_at: UtcInstant,
    /// Its file name in the backup folder.
    pub(crate) file: String,
    /// How many rows it holds, all verified.
    pub(crate) rows: u64,
}

/// The ship's time, for a device that measures its own clock: ask eight times, take the quickest answer.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ShipTime {
    /// Ship's UTC while answering.
    pub(crate) utc: UtcInstant,
    /// What it rests on.
    pub(crate) basis: TimeBasis,
    /// Seconds of it in a second: 1, but for a voyage that is played.
    pub(crate) rate: f64,
}

/// First on every live stream.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Hello {
    /// Where the journal stood when the stream was opened.
    pub(crate) cursor: String,
    /// From where rows are told; equal to the cursor for a new reader.
    pub(crate) from: String,
    /// True when the reader's cursor was of another epoch: all rows follow, fold afresh.
    pub(crate) afresh: bool,
    /// Silence that long is followed by a heartbeat; twice as long means that the link is down, seconds.
    pub(crate) heartbeat_s: f64,
}

/// Why a live stream ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum GoodbyeReason {
    /// The reader fell behind; come again with the last id, nothing is lost.
    Behind,
    /// The device's right was taken away: do not come again.
    Revoked,
    /// The program stops; come again.
    Stopping,
    /// The journal cannot be read.
    JournalUnreadable,
}

/// Last on a live stream, where it can still be sent.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Goodbye {
    /// Why.
    pub(crate) reason: GoodbyeReason,
}

/// What the instruments say now; not a row of the journal.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct ShipNow {
    /// As the data of a `ship_state` event.
    pub(crate) state: Value,
}

/// Every message of the live stream, by the name of its server-sent event. Only `kept` carries an id.
#[derive(Serialize, ToSchema)]
#[serde(tag = "event", content = "data", rename_all = "snake_case")]
#[expect(dead_code, reason = "describes the stream; messages are framed by name")]
pub(crate) enum LiveMessage {
    /// First of all.
    Hello(Hello),
    /// A row of the journal.
    Kept(KeptRow),
    /// The instruments.
    Ship(ShipNow),
    /// The beat of the line that is being laid: at every clip, and whenever something about it changes.
    Beat(Box<BeatView>),
    /// The journal has stopped, or other news of the program.
    Health(Health),
    /// The list of devices or the open code has changed; ask for it again.
    Devices(DevicesChanged),
    /// Last of all.
    Goodbye(Goodbye),
}

/// The list of devices or the open code has changed; told to the wheelhouse only.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct DevicesChanged {
    /// How often it has changed since the start.
    pub(crate) changes: u64,
}
