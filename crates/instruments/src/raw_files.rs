//! Raw bytes of a source in one compressed file a UTC day, kept 30 days or 2 GB, never needed by the fold.
//!
//! Each piece is a Zstandard frame of its own (RFC 8878), so a file that was cut off is readable up to its last whole
//! piece, and a day's file can be appended to after a restart. A piece starts with a TAG block line
//! `\c:<ms since 1970>*hh\` that gives the arrival time, then the bytes as they came.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use quantity::UtcInstant;

/// How long raw files are kept, days.
pub const KEEP_DAYS: f64 = 30.0;
/// How much raw files may take together, bytes.
pub const KEEP_BYTES: u64 = 2_000_000_000;
/// A piece is written when it holds so much.
const PIECE_BYTES: usize = 65_536;
const PREFIX: &str = "instruments-";
const SUFFIX: &str = ".nmea.zst";

/// Why raw bytes could not be kept.
#[derive(Debug, thiserror::Error)]
#[error("the raw instrument file {path} cannot be written ({error}); the log of the voyage is not touched")]
pub struct RawFileError {
    path: PathBuf,
    error: std::io::Error,
}

/// Writes raw bytes into the day's file of a directory.
#[derive(Debug)]
pub struct RawFiles {
    directory: PathBuf,
    open: Option<(UtcInstant, PathBuf, File)>,
    piece: Vec<u8>,
}

impl RawFiles {
    /// A writer into a directory, which must exist.
    #[must_use]
    pub fn new(directory: &Path) -> Self {
        Self { directory: directory.to_owned(), open: None, piece: Vec::new() }
    }

    /// Keeps bytes that came at a moment. They are on disk after [`RawFiles::flush`] or some 64 kB more.
    ///
    /// # Errors
    /// [`RawFileError`] when a file cannot be written.
    pub fn append(&mut self, bytes: &[u8], arrived: UtcInstant) -> Result<(), RawFileError> {
        let day = arrived.midnight();
        if self.open.as_ref().is_none_or(|(open_day, ..)| *open_day != day) {
            self.flush()?;
            let (year, month, date) = day.ymd();
            let path = self.directory.join(format!("{PREFIX}{year:04}-{month:02}-{date:02}{SUFFIX}"));
            let file = OpenOptions::new().create(true).append(true).open(&path);
            let file = file.map_err(|error| RawFileError { path: path.clone(), error })?;
            self.open = Some((day, path, file));
            self.clean(arrived);
        }
        let stamp = format!("c:{}", arrived.micros() / 1000);
        let sum = stamp.bytes().fold(0, |sum, byte| sum ^ byte);
        self.piece.extend_from_slice(format!("\\{stamp}*{sum:02X}\\\n").as_bytes());
        self.piece.extend_from_slice(bytes);
        if self.piece.len() >= PIECE_BYTES { self.flush() } else { Ok(()) }
    }

    /// Writes what is waiting as one frame.
    ///
    /// # Errors
    /// [`RawFileError`] when the file cannot be written; the bytes are then still waiting.
    pub fn flush(&mut self) -> Result<(), RawFileError> {
        let Some((_, path, file)) = &mut self.open else { return Ok(()) };
        if self.piece.is_empty() {
            return Ok(());
        }
        let written = zstd::bulk::compress(&self.piece, 3).and_then(|frame| file.write_all(&frame));
        written.map_err(|error| RawFileError { path: path.clone(), error })?;
        self.piece.clear();
        Ok(())
    }

    /// Deletes what is older than 30 days, and the oldest beyond 2 GB; never the day's own file.
    fn clean(&self, now: UtcInstant) {
        let Ok(entries) = std::fs::read_dir(&self.directory) else { return };
        let mut files: Vec<(UtcInstant, PathBuf, u64)> = entries
            .flatten()
            .filter_map(|entry| {
                let day = day_of_name(entry.file_name().to_str()?)?;
                Some((day, entry.path(), entry.metadata().ok()?.len()))
            })
            .collect();
        files.sort();
        let mut total: u64 = files.iter().map(|file| file.2).sum();
        for (day, path, bytes) in files {
            let old = now.seconds_since(day) > (KEEP_DAYS + 1.0) * 86_400.0;
            if (old || total > KEEP_BYTES) && day != now.midnight() && std::fs::remove_file(&path).is_ok() {
                total -= bytes;
            }
        }
    }
}

impl Drop for RawFiles {
    fn drop(&mut self) {
        // Raw files are a convenience: what cannot be written at the end is given up.
        let _ = self.flush();
    }
}

fn day_of_name(name: &str) -> Option<UtcInstant> {
    let day = name.strip_prefix(PREFIX)?.strip_suffix(SUFFIX)?;
    format!("{day}T00:00:00Z").parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_a_file_a_day_readable_and_the_old_ones_go() {
        let directory = tempfile::tempdir().unwrap();
        let old = directory.path().join("instruments-2026-01-01.nmea.zst");
        std::fs::write(&old, b"x").unwrap();
        let before: UtcInstant = "2026-03-04T23:59:59Z".parse().unwrap();
        let mut raw = RawFiles::new(directory.path());
        raw.append(b"$GPHDT,274.07,T*03\r\n", before).unwrap();
        raw.flush().unwrap();
        raw.append(b"$INMTW,17.9,C*1B\r\n", before).unwrap();
        raw.append(b"$INMTW,18.0,C*13\r\n", before.plus_seconds(2.0)).unwrap();
        drop(raw);
        assert!(!old.exists());
        let text = |day: &str| {
            let file = File::open(directory.path().join(format!("instruments-{day}.nmea.zst"))).unwrap();
            String::from_utf8(zstd::stream::decode_all(file).unwrap()).unwrap()
        };
        let first = text("2026-03-04");
        assert!(first.starts_with("\\c:1772668799000*") && first.contains("HDT") && first.contains("17.9"));
        assert!(text("2026-03-05").contains("18.0"));
    }
}
