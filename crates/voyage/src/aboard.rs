//! Who and what is aboard: people, stores, bait, bins and radio buoys, as far as the events tell.
//!
//! Counting is the ship's book-keeping, nothing more: what was counted last, less what was taken since, plus what came
//! back. A thing that was never counted is not known; it is never taken as none.

use quantity::UtcInstant;
use serde::Serialize;
use serde_json::Value;

/// Who and what is aboard.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Aboard {
    /// Everybody who was aboard in this voyage, by id.
    pub people: Vec<Person>,
    /// What was counted last of each item and kind.
    pub stores: Vec<StoreCount>,
    /// Bait by kind.
    pub bait: Vec<BaitStock>,
    /// The bins in the order in which they were described.
    pub bins: Vec<Bin>,
    /// The register of radio buoys, by name.
    pub radio_buoys: Vec<RegisteredBuoy>,
}

/// Somebody.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Person {
    /// The id that events carry.
    pub person: String,
    /// Name.
    pub name: Option<String>,
    /// What he does aboard.
    pub role: Option<String>,
    /// His watch.
    pub watch: Option<String>,
    /// Whether he is aboard.
    pub aboard: bool,
    /// Since when, or when he left.
    pub since_utc: Option<UtcInstant>,
}

/// What was counted of an item.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StoreCount {
    /// What: bait, float, branch line, ice …
    pub item: String,
    /// Of which kind.
    pub kind: Option<String>,
    /// How many.
    pub count: f64,
    /// When.
    pub counted_utc: UtcInstant,
}

/// One kind of bait.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BaitStock {
    /// The kind.
    pub bait: String,
    /// Boxes in the freezer; null where they were never counted.
    pub boxes_in_freezer: Option<f64>,
    /// When they were counted last.
    pub counted_utc: Option<UtcInstant>,
    /// Pieces in a box, as told last.
    pub pieces_per_box: Option<f64>,
    /// Boxes taken out to thaw since the last set ended.
    pub boxes_taken_out: f64,
    /// Boxes put back since then.
    pub boxes_put_back: f64,
    /// Boxes spoiled since then.
    pub boxes_spoiled: f64,
    /// Pieces thawed and not yet on a hook; null where nobody said how many a box holds.
    pub pieces_thawed: Option<f64>,
    /// Hooks baited with it in the set that goes out, else in the last one.
    pub hooks_baited: i64,
    /// True where nobody said which bait the hooks had, and they were shared out by what was thawed.
    pub hooks_assumed: bool,
    /// Sets like the last one that the freezer still holds bait for; null where that cannot be told.
    pub sets_left: Option<f64>,
}

/// A bin of branch lines.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Bin {
    /// Its name.
    pub bin: String,
    /// Hooks in it now; null where nobody said.
    pub hooks: Option<i64>,
    /// Types of its branch lines.
    pub branch_types: Vec<String>,
}

/// A radio buoy of the register.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RegisteredBuoy {
    /// Its id.
    pub buoy: String,
    /// Its painted name.
    pub name: Option<String>,
    /// Its call code or frequency.
    pub call: Option<String>,
    /// Reflector, as entered.
    pub reflector: Option<Value>,
    /// Light, as entered.
    pub light: Option<Value>,
    /// Date of its battery, as entered.
    pub battery_date: Option<String>,
    /// When it was checked last.
    pub checked_utc: Option<UtcInstant>,
    /// Number of the set it hangs in; null while it is aboard.
    pub in_set: Option<usize>,
}

/// A table that was loaded: zones, targets, step lists, limits.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct LoadedTable {
    /// What it is a table of.
    pub what: String,
    /// Its name.
    pub name: String,
    /// SHA-256 of its file, hexadecimal, as told.
    pub sha256: Option<String>,
    /// When it was loaded.
    pub loaded_utc: UtcInstant,
}

impl Aboard {
    /// What was counted last of an item, over all its kinds; none where it never was.
    #[must_use]
    pub fn counted(&self, item: &str) -> Option<(f64, UtcInstant)> {
        let own = || self.stores.iter().filter(|count| count.item.eq_ignore_ascii_case(item));
        let last = own().map(|count| count.counted_utc).max()?;
        Some((own().map(|count| count.count).sum(), last))
    }
}
