//! CSV: the hook table, and the summary of a set as one row. RFC 4180 by the `csv` crate; what is not known is empty.

use crate::figures::Report;
use crate::hooks::{HookRow, fate_word};

/// Why a table could not be written.
#[derive(Debug, thiserror::Error)]
pub enum TableError {
    /// The CSV writer failed.
    #[error("the table could not be written as CSV ({0}); nothing was kept")]
    Csv(#[from] csv::Error),
    /// The writer's buffer could not be taken back.
    #[error("the table could not be finished ({reason}); nothing was kept")]
    Unfinished {
        /// What the writer said.
        reason: String,
    },
}

const HOOK_COLUMNS: [&str; 14] = [
    "number",
    "basket",
    "position",
    "clipped_utc",
    "latitude_deg",
    "longitude_deg",
    "along_line_m",
    "depth_m",
    "depth_band_m",
    "lifted_utc",
    "soak_s",
    "fate",
    "fish",
    "doubts",
];

/// The hook table: one row a position. Several fish or doubts stand in one field, parted by `; `.
///
/// # Errors
/// [`TableError`] when the writer fails.
pub fn hooks_csv(rows: &[HookRow]) -> Result<String, TableError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(HOOK_COLUMNS)?;
    for row in rows {
        let doubts: Vec<&str> = row.doubts.iter().map(|doubt| doubt.text.as_str()).collect();
        writer.write_record([
            text(row.number),
            row.basket.to_string(),
            row.position.to_string(),
            text(row.clipped_utc),
            fixed(row.latitude_deg, 7),
            fixed(row.longitude_deg, 7),
            fixed(row.along_line_m, 1),
            fixed(row.depth_m, 2),
            fixed(row.depth_band_m, 2),
            text(row.lifted_utc),
            fixed(row.soak_s, 1),
            fate_word(row.fate).to_owned(),
            plain(&row.fish.join("; ")),
            plain(&doubts.join("; ")),
        ])?;
    }
    finish(writer)
}

/// The set as one row of figures.
///
/// # Errors
/// [`TableError`] when the writer fails.
pub fn summary_csv(report: &Report) -> Result<String, TableError> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let latitude = |place: Option<quantity::Position>| fixed(place.map(quantity::Position::latitude_deg), 7);
    let longitude = |place: Option<quantity::Position>| fixed(place.map(quantity::Position::longitude_deg), 7);
    let caught: usize = report.catch.iter().map(crate::figures::CatchLine::caught).sum();
    let retained: usize = report.catch.iter().map(|line| line.retained).sum();
    let (setting, hauling) = (&report.setting, &report.hauling);
    let columns = [
        ("voyage", report.voyage.to_string()),
        ("set", report.set.to_string()),
        ("hooks_set", report.hooks_set.to_string()),
        ("hooks_in_water", report.hooks_in_water.to_string()),
        ("hooks_hauled", report.hooks_hauled.to_string()),
        ("hooks_lost", report.hooks_lost.to_string()),
        ("branch_lines_lost", report.branch_lines_lost.to_string()),
        ("hooks_unknown", report.hooks_unknown.to_string()),
        ("baskets", report.baskets.to_string()),
        ("floats_set", report.floats_set.to_string()),
        ("floats_hauled", report.floats_hauled.to_string()),
        ("radio_buoys", report.radio_buoys.to_string()),
        ("main_line_total_m", fixed(report.main_line_total_m, 1)),
        ("setting_start_utc", text(setting.start_utc)),
        ("setting_end_utc", text(setting.end_utc)),
        ("setting_start_latitude_deg", latitude(setting.start)),
        ("setting_start_longitude_deg", longitude(setting.start)),
        ("setting_end_latitude_deg", latitude(setting.end)),
        ("setting_end_longitude_deg", longitude(setting.end)),
        ("hauling_start_utc", text(hauling.start_utc)),
        ("hauling_end_utc", text(hauling.end_utc)),
        ("hauling_start_latitude_deg", latitude(hauling.start)),
        ("hauling_start_longitude_deg", longitude(hauling.start)),
        ("hauling_end_latitude_deg", latitude(hauling.end)),
        ("hauling_end_longitude_deg", longitude(hauling.end)),
        ("caught", caught.to_string()),
        ("retained", retained.to_string()),
        ("doubts", report.doubts.len().to_string()),
    ];
    writer.write_record(columns.iter().map(|(name, _)| *name))?;
    writer.write_record(columns.iter().map(|(_, value)| value.as_str()))?;
    finish(writer)
}

fn finish(writer: csv::Writer<Vec<u8>>) -> Result<String, TableError> {
    let bytes = writer.into_inner().map_err(|error| TableError::Unfinished { reason: error.to_string() })?;
    String::from_utf8(bytes).map_err(|error| TableError::Unfinished { reason: error.to_string() })
}

fn text(value: Option<impl ToString>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn fixed(value: Option<f64>, decimals: usize) -> String {
    value.map(|value| format!("{value:.decimals$}")).unwrap_or_default()
}

/// Words that a spreadsheet cannot take for a formula: a leading =, +, − or @ gets an apostrophe.
fn plain(words: &str) -> String {
    if words.starts_with(['=', '+', '-', '@']) { format!("'{words}") } else { words.to_owned() }
}
