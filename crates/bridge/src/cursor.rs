//! A place in the journal as clients know it: `epoch.sequence`.
//!
//! The epoch names one opening of the journal's file and is made anew each time; the sequence counts rows within it.
//! A cursor of another epoch says nothing about this file, which may be an old backup: its holder folds afresh.

use std::fmt;
use std::str::FromStr;

/// Up to which row somebody knows the journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cursor {
    /// Which opening of the file.
    pub epoch: String,
    /// Ship sequence of the last row known; 0 before the first.
    pub sequence: i64,
}

/// Why a text is no cursor.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is no place in the journal: it should be EPOCH.SEQUENCE, such as 0195f2c0a1b2.117")]
pub struct CursorError {
    /// The text, cut off after 80 characters.
    pub text: String,
}

impl fmt::Display for Cursor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}", self.epoch, self.sequence)
    }
}

impl FromStr for Cursor {
    type Err = CursorError;

    fn from_str(text: &str) -> Result<Self, CursorError> {
        let refuse = || CursorError { text: text.chars().take(80).collect() };
        let (epoch, sequence) = text.rsplit_once('.').ok_or_else(refuse)?;
        let plain = !epoch.is_empty() && epoch.len() <= 64 && epoch.bytes().all(|byte| byte.is_ascii_alphanumeric());
        let digits = !sequence.is_empty() && sequence.bytes().all(|byte| byte.is_ascii_digit());
        let sequence = sequence.parse().ok().filter(|_| plain && digits).ok_or_else(refuse)?;
        Ok(Self { epoch: epoch.to_owned(), sequence })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_a_cursor_reads_back_and_nonsense_is_named() {
        let cursor = Cursor { epoch: "0195f2".to_owned(), sequence: 117 };
        assert_eq!(cursor.to_string().parse(), Ok(cursor));
        for wrong in ["", "7", ".7", "a.", "a.-1", "a.+1", "a b.1", "a.99999999999999999999", "é.1"] {
            assert!(wrong.parse::<Cursor>().is_err(), "{wrong}");
        }
    }
}
