//! Until when tones sounded, kept beside the journal: a few bytes, written anew twice a second, not an event.
//!
//! After a kill or a loss of power it says from when the men at the stern heard nothing. It is not flushed to disk: what
//! a loss of power takes of it makes the silence told longer, never shorter.

use std::io;
use std::path::Path;

use quantity::UtcInstant;
use serde::{Deserialize, Serialize};

/// Until when tones sounded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Sounded {
    /// Which set: the id of its `setting_started`.
    pub(crate) set: String,
    /// By the ship's time.
    pub(crate) until_utc: UtcInstant,
    /// By the computer's clock, which alone runs while the program does not.
    pub(crate) until_computer_utc: UtcInstant,
}

impl Sounded {
    /// What is kept; none where there is nothing, or nothing that can be read.
    pub(crate) fn read(path: &Path) -> Option<Self> {
        serde_json::from_slice(&std::fs::read(path).ok()?).ok()
    }

    /// Keeps it, whole or not at all.
    pub(crate) fn write(&self, path: &Path) -> io::Result<()> {
        let beside = path.with_extension("new");
        std::fs::write(&beside, serde_json::to_vec(self)?)?;
        std::fs::rename(&beside, path)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_what_is_kept_is_read_again_and_rubbish_is_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("beat.json");
        assert_eq!(Sounded::read(&path), None);
        let at: UtcInstant = "2031-03-02T05:06:07.25Z".parse().unwrap();
        let sounded = Sounded { set: "s".to_owned(), until_utc: at, until_computer_utc: at.plus_seconds(3.0) };
        sounded.write(&path).unwrap();
        sounded.write(&path).unwrap();
        assert_eq!(Sounded::read(&path), Some(sounded));
        for rubbish in ["", "{}", "{\"set\": 3}"] {
            std::fs::write(&path, rubbish).unwrap();
            assert_eq!(Sounded::read(&path), None);
        }
    }
}
