//! The tables of the demo voyage: one zone beside the 180° meridian and one row of targets, both invented and marked so.
//!
//! A real voyage begins with no table at all.

use std::path::Path;

use sha2::{Digest, Sha256};

/// A table: what it is of, its name, its file.
pub struct Table {
    /// Its kind.
    pub what: &'static str,
    /// Its name.
    pub name: &'static str,
    /// The whole file.
    pub text: &'static str,
}

/// The tables of the demo.
pub const TABLES: [Table; 2] = [
    Table { what: "zones", name: "invented for the demo.geojson", text: ZONE },
    Table { what: "targets", name: "invented for the demo.json", text: TARGETS },
];

/// Cut at the 180° meridian as RFC 7946, section 3.1.9, asks.
const ZONE: &str = r#"{"type": "FeatureCollection", "features": [{"type": "Feature",
  "properties": {"name": "Invented zone (demo)", "source": "invented for the demo; there is no such zone"},
  "geometry": {"type": "MultiPolygon", "coordinates": [
    [[[179.7, -14.78], [180, -14.72], [180, -14.3], [179.7, -14.3], [179.7, -14.78]]],
    [[[-180, -14.72], [-179.75, -14.67], [-179.75, -14.3], [-180, -14.3], [-180, -14.72]]]]}}]}
"#;

const TARGETS: &str = r#"{"rows": [
  {"name": "Deep fish (invented)", "layer_m": [150, 280], "source": "invented for the demo", "note": "no depth of any real fish"},
  {"name": "Night fish (invented)", "layer_m": [20, 60], "source": "invented for the demo", "note": "no depth of any real fish"}]}
"#;

impl Table {
    /// SHA-256 of its file, hexadecimal.
    pub fn sha256(&self) -> String {
        Sha256::digest(self.text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

/// Writes the files into the folder `tables` of a data folder.
///
/// # Errors
/// When the disk does not take them.
pub fn write(data: &Path) -> std::io::Result<()> {
    for table in &TABLES {
        let folder = data.join("tables").join(table.what);
        std::fs::create_dir_all(&folder)?;
        std::fs::write(folder.join(table.name), table.text)?;
    }
    Ok(())
}
