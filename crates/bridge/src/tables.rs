//! The boat's own tables: zones, targets, step lists and limits, as files beside the journal.
//!
//! A table counts once a `table_loaded` event names its SHA-256; a file that was changed since, or was never loaded, is
//! told and not used. Zones are GeoJSON (RFC 7946). What is right or allowed in any water is nobody's certainty here: a
//! real voyage begins with no table at all.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use forecast::zones::{self, Zone};
use quantity::UtcInstant;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use sha2::{Digest, Sha256};
use utoipa::ToSchema;
use voyage::aboard::LoadedTable;

/// The most tables of one kind.
pub(crate) const MOST_TABLES: usize = 100;
/// The most rows of a table of targets.
const MOST_ROWS: usize = 500;
/// No line that is set for fish hangs deeper, m.
const DEEPEST_M: f64 = 2_000.0;

/// What a table is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum What {
    /// Areas and lines on the sea: GeoJSON.
    Zones,
    /// Species or targets with the depths between which they are wanted.
    Targets,
    /// Steps of work on a fish, by species and product form.
    StepLists,
    /// Limits of time and temperature.
    Limits,
}

impl What {
    pub(crate) const ALL: [Self; 4] = [Self::Zones, Self::Targets, Self::StepLists, Self::Limits];

    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Zones => "zones",
            Self::Targets => "targets",
            Self::StepLists => "step_lists",
            Self::Limits => "limits",
        }
    }

    pub(crate) fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|what| what.word() == word)
    }
}

/// Whether a table is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum TableState {
    /// Its file is the one that was loaded: it is used.
    Loaded,
    /// Its file was changed since it was loaded: it is not used. Load it again.
    Changed,
    /// Its file lies in the folder and was never loaded: it is not used.
    NotLoaded,
    /// It was loaded and its file is gone.
    Missing,
}

/// A table in one line.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct TableHead {
    /// What it is of.
    pub(crate) what: What,
    /// Its name.
    pub(crate) name: String,
    /// Whether it is used.
    pub(crate) state: TableState,
    /// Size of its file; null where it is missing.
    pub(crate) bytes: Option<u64>,
    /// SHA-256 of its file, hexadecimal.
    pub(crate) sha256: Option<String>,
    /// When it was loaded.
    pub(crate) loaded_utc: Option<UtcInstant>,
    /// Zones, targets or entries in it, where it is used.
    pub(crate) entries: Option<usize>,
}

/// A row of a table of targets.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub(crate) struct TargetRow {
    /// What the boat calls it.
    pub(crate) name: String,
    /// FAO three-letter code, where it is one species.
    #[serde(default)]
    pub(crate) species: Option<String>,
    /// Depths between which its hooks are wanted, m: upper, lower.
    pub(crate) layer_m: [f64; 2],
    /// Where that comes from: whose word, which paper.
    pub(crate) source: String,
    /// A note.
    #[serde(default)]
    pub(crate) note: Option<String>,
}

/// A table of targets.
#[derive(Debug, Deserialize)]
struct TargetTable {
    rows: Vec<TargetRow>,
}

/// Why a table is not taken.
#[derive(Debug, thiserror::Error)]
pub(crate) enum TableError {
    /// Its name leads elsewhere or cannot be a file's.
    #[error(
        "\"{name}\" is no name for a table; use 1 to 60 letters, digits, spaces, dots, - and _, not beginning or ending with a dot or a space"
    )]
    Name { name: String },
    /// Not JSON.
    #[error("the table is not JSON ({why}); it was not loaded. Correct the file and load it again")]
    NotJson { why: String },
    /// A zone that cannot be read.
    #[error("{0}")]
    Zone(#[from] zones::ZoneError),
    /// A row of targets that makes no sense.
    #[error("row {row} of the targets: {why}; the table was not loaded. Correct it and load it again")]
    Row { row: usize, why: String },
    /// More rows than a table of targets can have.
    #[error("the table has {rows} rows; at most {MOST_ROWS} are taken. It was not loaded")]
    TooManyRows { rows: usize },
    /// Neither an object nor a list.
    #[error("the table is neither an object nor a list of entries; it was not loaded")]
    NoEntries,
    /// More tables than anybody keeps.
    #[error(
        "there are {MOST_TABLES} tables of this kind already; it was not loaded. Load it under the name of one that is not needed"
    )]
    TooMany,
    /// The disk.
    #[error("the table cannot be written ({kind}); it was not loaded. Look at the disk of the ship's computer")]
    Unwritten { kind: std::io::ErrorKind },
}

/// A table that has been read and found sound.
#[derive(Debug)]
pub(crate) struct Sound {
    pub(crate) what: What,
    pub(crate) name: String,
    pub(crate) sha256: String,
    /// Its file beside its place, flushed; in place once the journal has its word.
    beside: PathBuf,
    place: PathBuf,
}

/// The zones of the tables that are used.
#[derive(Debug, Default)]
pub(crate) struct ReadZones {
    /// All of them.
    pub(crate) zones: Vec<Zone>,
    /// Those within which a rule has hooks set by night.
    pub(crate) night_rules: Vec<Zone>,
}

/// Names and hashes of files, and what was read from them; none before it was asked for.
type KnownZones = Option<(Vec<(String, String)>, Arc<ReadZones>)>;

/// The folder of the tables.
#[derive(Debug)]
pub(crate) struct Tables {
    folder: PathBuf,
    zones: Mutex<KnownZones>,
    loading: Mutex<()>,
}

impl Tables {
    pub(crate) fn new(folder: &Path) -> Self {
        Self { folder: folder.to_owned(), zones: Mutex::default(), loading: Mutex::default() }
    }

    /// Reads a table, and lays its file beside its place.
    pub(crate) fn prepare(&self, what: What, name: &str, bytes: &[u8]) -> Result<Sound, TableError> {
        let place = self.place(what, name)?;
        entries(what, name, bytes)?;
        let folder = self.folder.join(what.word());
        let written = |source: std::io::Error| TableError::Unwritten { kind: source.kind() };
        std::fs::create_dir_all(&folder).map_err(written)?;
        if !place.exists() && self.files(what).len() >= MOST_TABLES {
            return Err(TableError::TooMany);
        }
        // A name of its own: two who load at once do not write into one file.
        let beside = folder.join(format!(".{}.part", crate::fresh_id()));
        let write = || -> std::io::Result<()> {
            let mut file = std::fs::File::create_new(&beside)?;
            file.write_all(bytes)?;
            file.sync_all()
        };
        write().map_err(|source| {
            let _ = std::fs::remove_file(&beside);
            written(source)
        })?;
        Ok(Sound { what, name: name.to_owned(), sha256: sha256(bytes), beside, place })
    }

    /// Every table: those of the folder and those that were loaded.
    pub(crate) fn heads(&self, loaded: &[LoadedTable], only: Option<What>) -> Vec<TableHead> {
        let mut heads = Vec::new();
        for what in What::ALL.into_iter().filter(|what| only.is_none_or(|only| only == *what)) {
            let of_kind = loaded.iter().filter(|table| table.what == what.word());
            let mut told: BTreeMap<String, &LoadedTable> =
                of_kind.map(|table| (table.name.clone(), table)).filter(|(name, _)| is_name(name)).collect();
            for name in self.files(what) {
                let bytes = self.place(what, &name).ok().and_then(|place| std::fs::read(place).ok());
                heads.push(head(what, name.clone(), bytes.as_deref(), told.remove(&name)));
            }
            heads.extend(told.into_iter().map(|(name, table)| head(what, name, None, Some(table))));
        }
        heads
    }

    /// The file of a table.
    pub(crate) fn read(&self, what: What, name: &str) -> Result<Option<Vec<u8>>, TableError> {
        match std::fs::read(self.place(what, name)?) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(TableError::Unwritten { kind: error.kind() }),
        }
    }

    /// The rows of every table of targets that is used.
    pub(crate) fn targets(&self, loaded: &[LoadedTable]) -> Vec<TargetRow> {
        let used = self.used(What::Targets, loaded);
        used.iter().filter_map(|(_, bytes)| target_rows(bytes).ok()).flatten().collect()
    }

    /// Every zone of the tables that are used; read anew only when one was loaded.
    pub(crate) fn zones(&self, loaded: &[LoadedTable]) -> Arc<ReadZones> {
        let mut known = self.zones.lock().unwrap_or_else(PoisonError::into_inner);
        let own = loaded.iter().filter(|table| table.what == What::Zones.word());
        let key: Vec<(String, String)> =
            own.filter_map(|table| Some((table.name.clone(), table.sha256.clone()?))).collect();
        if let Some((_, read)) = known.as_ref().filter(|(of, _)| *of == key) {
            return Arc::clone(read);
        }
        let mut read = ReadZones::default();
        for (name, bytes) in self.used(What::Zones, loaded) {
            let Ok(geojson) = serde_json::from_slice(&bytes) else { continue };
            read.zones.extend(zones::load(&name, &geojson).zones);
            read.night_rules.extend(forecast::ahead::night_rules(&name, &geojson));
        }
        let read = Arc::new(read);
        *known = Some((key, Arc::clone(&read)));
        read
    }

    /// The same as they were asked for last, for whoever has no time to fold; none before that.
    pub(crate) fn known_zones(&self) -> Option<Arc<ReadZones>> {
        let known = self.zones.lock().unwrap_or_else(PoisonError::into_inner);
        known.as_ref().map(|(_, read)| Arc::clone(read))
    }

    /// Held while a table is loaded: of two under one name the file and the event of the later one stand.
    pub(crate) fn alone(&self) -> MutexGuard<'_, ()> {
        self.loading.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Names and bytes of the tables that are used.
    fn used(&self, what: What, loaded: &[LoadedTable]) -> Vec<(String, Vec<u8>)> {
        let own = loaded.iter().filter(|table| table.what == what.word());
        let files = own.filter_map(|table| {
            let bytes = std::fs::read(self.place(what, &table.name).ok()?).ok()?;
            (table.sha256.as_deref() == Some(sha256(&bytes).as_str())).then(|| (table.name.clone(), bytes))
        });
        files.collect()
    }

    fn place(&self, what: What, name: &str) -> Result<PathBuf, TableError> {
        if !is_name(name) {
            return Err(TableError::Name { name: name.chars().take(60).collect() });
        }
        Ok(self.folder.join(what.word()).join(name))
    }

    /// Names of the files of a kind, in order.
    fn files(&self, what: What) -> Vec<String> {
        let entries = std::fs::read_dir(self.folder.join(what.word())).into_iter().flatten().flatten();
        let files = entries.filter(|entry| entry.file_type().is_ok_and(|kind| kind.is_file()));
        let mut names: Vec<String> =
            files.filter_map(|entry| entry.file_name().into_string().ok()).filter(|name| is_name(name)).collect();
        names.sort();
        names
    }
}

impl Sound {
    /// Puts the file in its place.
    pub(crate) fn settle(self) -> Result<(), TableError> {
        std::fs::rename(&self.beside, &self.place).map_err(|source| TableError::Unwritten { kind: source.kind() })
    }
}

impl Drop for Sound {
    fn drop(&mut self) {
        // Gone already where it was settled.
        let _ = std::fs::remove_file(&self.beside);
    }
}

/// A name that is a plain file's on every system, and leads nowhere else.
fn is_name(name: &str) -> bool {
    let plain = |character: char| character.is_alphanumeric() || " .-_".contains(character);
    let edge = |character: char| character == '.' || character == ' ';
    let count = name.chars().count();
    (1..=60).contains(&count) && name.chars().all(plain) && !name.starts_with(edge) && !name.ends_with(edge)
}

fn head(what: What, name: String, bytes: Option<&[u8]>, loaded: Option<&LoadedTable>) -> TableHead {
    let here = bytes.map(sha256);
    let told = loaded.and_then(|table| table.sha256.clone());
    let state = match (&here, loaded) {
        (None, _) => TableState::Missing,
        (Some(_), None) => TableState::NotLoaded,
        (here, Some(_)) if *here == told => TableState::Loaded,
        (Some(_), Some(_)) => TableState::Changed,
    };
    let entries = bytes.filter(|_| state == TableState::Loaded).and_then(|bytes| entries(what, &name, bytes).ok());
    let bytes = bytes.map(|bytes| bytes.len() as u64);
    TableHead {
        what,
        name,
        state,
        bytes,
        sha256: here.or(told),
        loaded_utc: loaded.map(|table| table.loaded_utc),
        entries,
    }
}

/// How many entries a table has, if it is sound.
fn entries(what: What, name: &str, bytes: &[u8]) -> Result<usize, TableError> {
    let not_json = |error: serde_json::Error| TableError::NotJson { why: error.to_string() };
    match what {
        What::Zones => {
            let geojson: Value = serde_json::from_slice(bytes).map_err(not_json)?;
            let loaded = zones::load(name, &geojson);
            match loaded.refused.into_iter().next() {
                Some(refused) => Err(refused.into()),
                None => Ok(loaded.zones.len()),
            }
        }
        What::Targets => Ok(target_rows(bytes)?.len()),
        What::StepLists | What::Limits => match serde_json::from_slice(bytes).map_err(not_json)? {
            Value::Object(entries) => Ok(entries.len()),
            Value::Array(entries) => Ok(entries.len()),
            _ => Err(TableError::NoEntries),
        },
    }
}

fn target_rows(bytes: &[u8]) -> Result<Vec<TargetRow>, TableError> {
    let table: TargetTable =
        serde_json::from_slice(bytes).map_err(|error| TableError::NotJson { why: error.to_string() })?;
    if table.rows.len() > MOST_ROWS {
        return Err(TableError::TooManyRows { rows: table.rows.len() });
    }
    for (row, number) in table.rows.iter().zip(1..) {
        let wrong = |why: &str| Err(TableError::Row { row: number, why: why.to_owned() });
        let [upper_m, lower_m] = row.layer_m;
        if row.name.trim().is_empty() || row.name.chars().count() > 60 {
            return wrong("it has no name of 1 to 60 characters");
        }
        if row.source.trim().is_empty() {
            return wrong("it does not say where its depths come from (source)");
        }
        if !(0.0..=DEEPEST_M).contains(&upper_m) || !(0.0..=DEEPEST_M).contains(&lower_m) || upper_m >= lower_m {
            return wrong(&format!(
                "its layer runs from {upper_m} m to {lower_m} m; it should run downward between 0 and {DEEPEST_M} m"
            ));
        }
    }
    Ok(table.rows)
}

/// SHA-256 in hexadecimal.
fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_names_lead_nowhere_else() {
        for name in ["eez.geojson", "Our own 2031", "línea_4", "a", "漁区"] {
            assert!(is_name(name), "{name}");
        }
        let tricks = [
            "",
            ".",
            "..",
            "../a",
            "a/b",
            "a\\b",
            "/etc/passwd",
            "a\0",
            ".hidden",
            "a.",
            " a",
            "a\n",
            "C:a",
            "~",
            "%2e%2e",
        ];
        for name in tricks.into_iter().map(str::to_owned).chain(["x".repeat(61)]) {
            assert!(!is_name(&name), "{name:?}");
        }
    }

    #[test]
    fn verif_targets_say_what_is_wrong_with_which_row() {
        let row = |layer: &str| {
            format!(
                r#"{{"rows":[{{"name":"a","layer_m":[0,10],"source":"us"}},{{"name":"b","layer_m":{layer},"source":"us"}}]}}"#
            )
        };
        assert_eq!(target_rows(row("[100, 250]").as_bytes()).unwrap().len(), 2);
        for wrong in ["[250, 100]", "[-1, 5]", "[0, 1e9]", "[5, 5]"] {
            let error = target_rows(row(wrong).as_bytes()).unwrap_err().to_string();
            assert!(error.starts_with("row 2 of the targets") && error.contains(" m; it should"), "{error}");
        }
        for wrong in ["[]", "[1]", "\"x\"", "null"] {
            assert!(matches!(target_rows(row(wrong).as_bytes()), Err(TableError::NotJson { .. })), "{wrong}");
        }
        let nobody = br#"{"rows":[{"name":"a","layer_m":[0,10],"source":" "}]}"#;
        assert!(target_rows(nobody).unwrap_err().to_string().contains("source"));
    }
}
