//! A disk that has lost its power: what was flushed is there, of the rest any part in any order.

use std::collections::BTreeMap;
use std::path::Path;

use rand_chacha::ChaCha8Rng;

use crate::below;
use crate::record::Step;

const SECTOR: usize = 512;

/// The files of one folder.
#[derive(Default)]
pub struct Disk {
    files: BTreeMap<String, Kept>,
}

#[derive(Default)]
struct Kept {
    /// Whether the name is on the disk for certain.
    named: bool,
    /// What has been flushed.
    flushed: Vec<u8>,
    /// What has not, in the order in which it was asked for.
    pending: Vec<Change>,
}

#[derive(Clone)]
enum Change {
    Write {
        offset: usize,
        bytes: Vec<u8>,
    },
    Truncate {
        length: usize,
    },
    /// The file was deleted; if that reached the disk, everything before it is gone.
    Unlink,
}

impl Disk {
    /// Takes one step of the recording.
    pub fn step(&mut self, step: &Step) {
        match step {
            Step::Write { file, offset, bytes } => {
                self.file(file).pending.push(Change::Write { offset: *offset, bytes: bytes.clone() });
            }
            Step::Truncate { file, length } => self.file(file).pending.push(Change::Truncate { length: *length }),
            Step::Unlink { file } => self.file(file).pending.push(Change::Unlink),
            Step::Flush { file } => self.file(file).flush(),
            Step::FlushFolder => {
                for kept in self.files.values_mut() {
                    if let Some(last) = kept.pending.iter().rposition(|change| matches!(change, Change::Unlink)) {
                        kept.pending.drain(..=last);
                        kept.flushed.clear();
                    }
                    kept.named = true;
                }
            }
            Step::Acknowledged(_) => {}
        }
    }

    /// How many changes a cut may lose now.
    pub fn unflushed(&self) -> usize {
        self.files.values().map(|kept| kept.pending.len()).sum()
    }

    /// Writes the files as they may be found after a cut at this moment.
    pub fn cut_into(&self, folder: &Path, random: &mut ChaCha8Rng) -> std::io::Result<()> {
        std::fs::create_dir_all(folder)?;
        for (name, kept) in &self.files {
            if let Some(bytes) = kept.after_cut(random) {
                std::fs::write(folder.join(name), bytes)?;
            }
        }
        Ok(())
    }

    fn file(&mut self, name: &str) -> &mut Kept {
        self.files.entry(name.to_owned()).or_default()
    }
}

impl Kept {
    fn flush(&mut self) {
        let mut bytes = std::mem::take(&mut self.flushed);
        for change in self.pending.drain(..) {
            change.apply(&mut bytes);
        }
        self.flushed = bytes;
    }

    /// None when the file is not there.
    fn after_cut(&self, random: &mut ChaCha8Rng) -> Option<Vec<u8>> {
        let unlinks: Vec<usize> =
            (0..self.pending.len()).filter(|place| matches!(self.pending[*place], Change::Unlink)).collect();
        // Deleted and not made again: gone, or still there as it was.
        let mut from = 0;
        let mut bytes = self.flushed.clone();
        if let Some(last) = unlinks.last()
            && below(random, 2) == 0
        {
            from = last + 1;
            bytes.clear();
            if from == self.pending.len() {
                return None;
            }
        } else if let Some(first) = unlinks.first() {
            return Some(self.scattered(&self.pending[..*first], bytes, random));
        }
        if !self.named && self.flushed.is_empty() && below(random, 4) == 0 {
            return None;
        }
        Some(self.scattered(&self.pending[from..], bytes, random))
    }

    /// Each change lost, whole or torn; all in any order.
    fn scattered(&self, pending: &[Change], mut bytes: Vec<u8>, random: &mut ChaCha8Rng) -> Vec<u8> {
        let mut order: Vec<&Change> = pending.iter().collect();
        for place in (1..order.len()).rev() {
            order.swap(place, below(random, place + 1));
        }
        // Most cuts lose about half, some nearly all or nearly nothing.
        let keep_of_ten = [1, 5, 5, 9][below(random, 4)];
        for change in order {
            match change {
                Change::Write { offset, bytes: written } if below(random, 3) == 0 => {
                    for (number, sector) in written.chunks(SECTOR).enumerate() {
                        if below(random, 2) == 0 {
                            let torn = Change::Write { offset: offset + number * SECTOR, bytes: sector.to_vec() };
                            torn.apply(&mut bytes);
                        }
                    }
                }
                whole if below(random, 10) < keep_of_ten => whole.apply(&mut bytes),
                _ => {}
            }
        }
        bytes
    }
}

impl Change {
    fn apply(&self, bytes: &mut Vec<u8>) {
        match self {
            Self::Write { offset, bytes: written } => {
                let end = offset + written.len();
                if bytes.len() < end {
                    bytes.resize(end, 0);
                }
                bytes[*offset..end].copy_from_slice(written);
            }
            Self::Truncate { length } => bytes.resize(*length, 0),
            Self::Unlink => bytes.clear(),
        }
    }
}
