//! Files around the journal: the lock of the one writer, flushes of folders, and putting a finished file
//! in place without ever writing over another.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};

use crate::JournalError;

/// The right to write one journal; given up when dropped, or by the system when the process dies.
#[derive(Debug)]
pub(crate) struct WriterLock {
    _file: File,
}

impl WriterLock {
    /// Takes the lock of `journal`, or says that another process has it.
    pub(crate) fn take(journal: &Path) -> Result<Self, JournalError> {
        let path = beside(journal, ".lock");
        let io = |source| JournalError::Io { doing: "opening", path: path.clone(), source };
        let file = OpenOptions::new().create(true).truncate(false).write(true).open(&path).map_err(io)?;
        match file.try_lock() {
            Ok(()) => Ok(Self { _file: file }),
            Err(TryLockError::WouldBlock) => Err(JournalError::Busy { path: journal.to_owned() }),
            Err(TryLockError::Error(source)) => Err(JournalError::Io { doing: "locking", path, source }),
        }
    }
}

/// `path` with `suffix` after its whole name, as SQLite names its own files.
pub(crate) fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(suffix);
    PathBuf::from(name)
}

/// The folder that holds `path`.
fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Flushes the names in the folder of `path`, so that a new file is still there after a power cut.
pub(crate) fn flush_folder(path: &Path) -> Result<(), JournalError> {
    let folder = folder_of(path);
    if cfg!(unix) {
        let flushed = File::open(folder).and_then(|opened| opened.sync_all());
        flushed.map_err(|source| JournalError::Io { doing: "flushing", path: folder.to_owned(), source })?;
    }
    Ok(())
}

/// A file in the making, in the folder where it will stand; removed unless it was put in place.
#[derive(Debug)]
pub(crate) struct Unfinished {
    path: PathBuf,
}

impl Unfinished {
    pub(crate) fn for_target(target: &Path) -> Self {
        let path = beside(target, &format!(".unfinished-{}", std::process::id()));
        remove_database(&path);
        Self { path }
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// Flushes the file and gives it its name; a file of that name is left alone.
    pub(crate) fn put_in_place(self, target: &Path) -> Result<(), JournalError> {
        let io = |doing| move |source| JournalError::Io { doing, path: target.to_owned(), source };
        File::open(&self.path).and_then(|file| file.sync_all()).map_err(io("flushing"))?;
        match std::fs::hard_link(&self.path, target) {
            Ok(()) => {}
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
                return Err(JournalError::Exists { path: target.to_owned() });
            }
            // Sticks with FAT know no second name for a file.
            Err(_) if !target.exists() => std::fs::rename(&self.path, target).map_err(io("naming"))?,
            Err(source) => return Err(io("naming")(source)),
        }
        flush_folder(target)
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        remove_database(&self.path);
    }
}

/// Removes a database file of our own making and what SQLite put beside it; what is not there is no fault.
pub(crate) fn remove_database(path: &Path) {
    for suffix in ["", "-wal", "-shm", "-journal"] {
        let _ = std::fs::remove_file(beside(path, suffix));
    }
}
