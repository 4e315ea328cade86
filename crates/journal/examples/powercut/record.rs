//! The recording: strace's lines as writes, truncations, flushes and acknowledgements.
//!
//! Format: strace 6.1 with `-f -y -xx`: `PID call(fd<\x2f…>, "\x61…", size, offset) = result`, a call that was
//! interrupted by another thread in two lines (`<unfinished ...>`, `<... call resumed>`).

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader};
use std::path::Path;

/// One thing that the recorded process did to its files, or said.
pub enum Step {
    /// Bytes written at a place.
    Write { file: String, offset: usize, bytes: Vec<u8> },
    /// A new length.
    Truncate { file: String, length: usize },
    /// The file was deleted.
    Unlink { file: String },
    /// All before it is on the disk.
    Flush { file: String },
    /// All names are on the disk.
    FlushFolder,
    /// Everything up to this number has been acknowledged.
    Acknowledged(u64),
}

/// Reads a log; only files in `folder` count. SQLite's shared memory is no file that outlives a cut.
pub fn read(log: &Path, folder: &Path) -> Result<Vec<Step>, Box<dyn std::error::Error>> {
    let mut steps = Vec::new();
    let mut unfinished: BTreeMap<String, String> = BTreeMap::new();
    let mut places: BTreeMap<String, usize> = BTreeMap::new();
    for line in BufReader::new(std::fs::File::open(log)?).lines() {
        let line = line?;
        let Some((pid, call)) = line.split_once(' ') else { continue };
        let call = call.trim_start();
        if let Some(begun) = call.strip_suffix(" <unfinished ...>") {
            unfinished.insert(pid.to_owned(), begun.to_owned());
            continue;
        }
        let whole = match call.strip_prefix("<... ").and_then(|rest| rest.split_once(" resumed>")) {
            Some((_, rest)) => unfinished.remove(pid).unwrap_or_default() + rest,
            None => call.to_owned(),
        };
        if let Some(step) = understand(&whole, folder, &mut places) {
            steps.push(step);
        }
    }
    Ok(steps)
}

fn understand(call: &str, folder: &Path, places: &mut BTreeMap<String, usize>) -> Option<Step> {
    let (head, result) = call.rsplit_once(" = ")?;
    let result: i64 = result.split(|c: char| !c.is_ascii_digit() && c != '-').next()?.parse().ok()?;
    if result < 0 {
        return None;
    }
    let size = usize::try_from(result).ok()?;
    let (name, arguments) = head.trim_end().strip_suffix(')')?.split_once('(')?;
    let texts: Vec<Vec<u8>> = arguments.split('"').skip(1).step_by(2).map(unhex).collect();
    let number = || arguments.rsplit(", ").next().and_then(|last| last.parse::<usize>().ok());
    if name == "write" && arguments.starts_with("1<") {
        let said = String::from_utf8(texts.into_iter().next()?).ok()?;
        return Some(Step::Acknowledged(said.strip_prefix("ack ")?.trim_end().parse().ok()?));
    }
    let path = match name {
        "openat" | "unlink" => String::from_utf8(texts.first()?.clone()).ok()?,
        _ => String::from_utf8(unhex(arguments.split_once('<')?.1.split_once('>')?.0)).ok()?,
    };
    if Path::new(&path) == folder {
        return (name == "fsync" || name == "fdatasync").then_some(Step::FlushFolder);
    }
    let file = Path::new(&path).strip_prefix(folder).ok()?.to_str()?.to_owned();
    if file.ends_with("-shm") || file.ends_with(".lock") {
        return None;
    }
    let place = places.entry(file.clone()).or_default();
    match name {
        "openat" => {
            *place = 0;
            None
        }
        "lseek" => {
            *place = size;
            None
        }
        "write" => {
            let offset = *place;
            *place += size;
            let mut bytes = texts.into_iter().next()?;
            bytes.truncate(size);
            Some(Step::Write { file, offset, bytes })
        }
        "pwrite64" => {
            let mut bytes = texts.into_iter().next()?;
            bytes.truncate(size);
            Some(Step::Write { file, offset: number()?, bytes })
        }
        "ftruncate" => Some(Step::Truncate { file, length: number()? }),
        "fsync" | "fdatasync" => Some(Step::Flush { file }),
        "unlink" => Some(Step::Unlink { file }),
        _ => None,
    }
}

/// The bytes of `\x2f\x74…`.
fn unhex(text: &str) -> Vec<u8> {
    text.split("\\x").skip(1).filter_map(|pair| u8::from_str_radix(pair.get(..2)?, 16).ok()).collect()
}
