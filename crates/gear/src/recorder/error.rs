//! Why a recorder's file or the mapping cannot be used, in sentences for the bridge.

/// Why nothing could be read. The files themselves are never changed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RecorderError {
    /// The mapping is at fault.
    #[error("the mapping's {field} {fault}. Nothing was read.")]
    Mapping {
        /// The field.
        field: String,
        /// What is wrong with it.
        fault: String,
    },
    /// A column is not in the file.
    #[error("{file} has no column {column}; its columns are {there}. Correct the mapping; this file was not read.")]
    NoColumn {
        /// The file's name.
        file: String,
        /// The column that the mapping asks for.
        column: String,
        /// The columns that are there.
        there: String,
    },
    /// The times have no zone.
    #[error(
        "{file}: its times bear no offset from UTC and the mapping has no time_zone_utc_h. Say how many hours the \
         recorder's clock was ahead of UTC; this file was not read."
    )]
    NoZone {
        /// The file's name.
        file: String,
    },
    /// Pressure without a latitude.
    #[error("{file}: pressure becomes depth only with a latitude. Give latitude_deg; this file was not read.")]
    NoLatitude {
        /// The file's name.
        file: String,
    },
    /// No line was a reading.
    #[error(
        "{file}: none of its {lines} lines is a reading ({first_fault}). Check delimiter, decimal mark and time format; this file was not used."
    )]
    NothingReadable {
        /// The file's name.
        file: String,
        /// Lines looked at.
        lines: usize,
        /// What was wrong with the first.
        first_fault: String,
    },
}
