//! The one writer: a lock, a thread, and group commit. Whoever delivers waits until the rows are flushed.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread::JoinHandle;

use crate::files::{WriterLock, flush_folder};
use crate::store::{Prepared, Ready, Store};
use crate::{Answer, Incoming, JournalError, Reader, envelope, schema};

/// Events of several deliveries that one flush may hold together.
const GROUP_EVENTS: usize = 4_096;
/// Deliveries that may wait for the writer.
const WAITING: usize = 1_024;

const ADVICE: &str =
    "Make room or mend the disk, then start the program again; the devices keep their events and send them again.";

/// How a journal is opened.
#[derive(Debug, Clone, Copy, Default)]
pub struct Options {
    /// The most pages of 4,096 bytes that the file may grow to; none: until the disk is full.
    pub max_page_count: Option<u32>,
}

/// The journal of this process: it holds the lock and the writer thread until it is dropped.
#[derive(Debug)]
pub struct Journal {
    path: PathBuf,
    epoch: String,
    writer: Writer,
    thread: Option<JoinHandle<()>>,
    _lock: WriterLock,
}

/// Delivers events to the writer thread; clone it freely.
#[derive(Debug, Clone)]
pub struct Writer {
    inbox: SyncSender<Message>,
}

enum Message {
    Keep { events: Vec<Prepared>, answer: Sender<Result<Vec<Answer>, String>> },
    Close,
}

impl Journal {
    /// Opens the journal for writing; makes it where there is none.
    ///
    /// # Errors
    /// [`JournalError::Busy`] when another process writes it; others when the file is no sound journal.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, JournalError> {
        Self::open_with(path, Options::default())
    }

    /// Opens a journal that must be there.
    ///
    /// # Errors
    /// [`JournalError::Missing`] when it is not; then as [`Journal::open`].
    pub fn open_existing(path: impl AsRef<Path>) -> Result<Self, JournalError> {
        let path = path.as_ref();
        if !path.is_file() {
            return Err(JournalError::Missing { path: path.to_owned() });
        }
        Self::open(path)
    }

    /// Opens the journal for writing, with options.
    ///
    /// # Errors
    /// As [`Journal::open`].
    pub fn open_with(path: impl AsRef<Path>, options: Options) -> Result<Self, JournalError> {
        let path = path.as_ref().to_owned();
        let lock = WriterLock::take(&path)?;
        let conn = schema::open_for_writing(&path)?;
        if let Some(pages) = options.max_page_count {
            let limited = conn.pragma_update_and_check(None, "max_page_count", pages, |row| row.get::<_, i64>(0));
            limited.map_err(|source| JournalError::Sqlite { doing: "limiting", path: path.clone(), source })?;
        }
        flush_folder(&path)?;
        let store = Store::new(conn, &path)?;
        let (inbox, messages) = sync_channel(WAITING);
        let thread = std::thread::Builder::new()
            .name("journal-writer".to_owned())
            .spawn(move || write_until_closed(store, &messages))
            .map_err(|source| JournalError::Io { doing: "starting the writer of", path: path.clone(), source })?;
        let epoch = uuid::Uuid::now_v7().simple().to_string();
        Ok(Self { path, epoch, writer: Writer { inbox }, thread: Some(thread), _lock: lock })
    }

    /// Opens a journal for reading; any number of processes may, while one writes.
    ///
    /// # Errors
    /// When there is no sound journal of that name.
    pub fn open_read_only(path: impl AsRef<Path>) -> Result<Reader, JournalError> {
        Reader::open(path)
    }

    /// A reader of this journal with its own connection.
    ///
    /// # Errors
    /// When the file can no longer be opened.
    pub fn reader(&self) -> Result<Reader, JournalError> {
        Reader::open(&self.path)
    }

    /// A way to deliver events.
    #[must_use]
    pub fn writer(&self) -> Writer {
        self.writer.clone()
    }

    /// Keeps events; see [`Writer::append`].
    ///
    /// # Errors
    /// [`JournalError::Stopped`] as there.
    pub fn append(&self, events: Vec<Incoming>) -> Result<Vec<Answer>, JournalError> {
        self.writer.append(events)
    }

    /// A name for this opening, made new each time; a number within the journal counts within it.
    #[must_use]
    pub fn epoch(&self) -> &str {
        &self.epoch
    }

    /// Where the file is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }
}

impl Drop for Journal {
    fn drop(&mut self) {
        let _ = self.writer.inbox.send(Message::Close);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

impl Writer {
    /// Keeps events in the order given and returns, one answer each, after they are flushed to disk.
    ///
    /// # Errors
    /// [`JournalError::Stopped`] when the disk is full, a flush failed or the file is broken: nothing of this
    /// delivery is acknowledged, and the writer takes nothing more until the journal is opened again.
    pub fn append(&self, events: Vec<Incoming>) -> Result<Vec<Answer>, JournalError> {
        let stopped = |why: String| JournalError::Stopped { why, advice: ADVICE };
        let gone = || stopped("its writer has been closed".to_owned());
        let events = events.into_iter().map(prepare).collect();
        let (answer, answered) = channel();
        self.inbox.send(Message::Keep { events, answer }).map_err(|_| gone())?;
        answered.recv().map_err(|_| gone())?.map_err(stopped)
    }
}

fn prepare(event: Incoming) -> Prepared {
    let copies = envelope::admit(&event.bytes)?;
    Ok(Ready {
        copies,
        body: event.bytes,
        received_at_us: event.received_at.micros(),
        received_basis: event.received_basis,
    })
}

/// The writer thread: takes what is waiting, keeps it in one transaction, answers after the flush.
fn write_until_closed(store: Store, messages: &Receiver<Message>) {
    let mut state = Ok(store);
    while let Ok(first) = messages.recv() {
        let mut closing = false;
        let (mut deliveries, mut waiting, mut count) = (Vec::new(), Vec::new(), 0);
        let mut next = Some(first);
        while let Some(message) = next {
            match message {
                Message::Keep { events, answer } => {
                    count += events.len();
                    deliveries.push(events);
                    waiting.push(answer);
                }
                Message::Close => closing = true,
            }
            next = if closing || count >= GROUP_EVENTS { None } else { messages.try_recv().ok() };
        }
        state = keep_and_answer(state, &deliveries, waiting);
        if closing {
            return;
        }
    }
}

/// After the first failure the connection is given up: what a failed flush left behind is never trusted.
fn keep_and_answer(
    state: Result<Store, String>,
    deliveries: &[Vec<Prepared>],
    waiting: Vec<Sender<Result<Vec<Answer>, String>>>,
) -> Result<Store, String> {
    if deliveries.is_empty() {
        return state;
    }
    let outcome = state.and_then(|mut store| match store.keep(deliveries) {
        Ok(answers) => Ok((store, answers)),
        Err(error) => {
            store.give_up();
            Err(in_plain_words(&error))
        }
    });
    match outcome {
        Ok((store, answers)) => {
            for (sender, answers) in waiting.into_iter().zip(answers) {
                let _ = sender.send(Ok(answers));
            }
            Ok(store)
        }
        Err(why) => {
            for sender in waiting {
                let _ = sender.send(Err(why.clone()));
            }
            Err(why)
        }
    }
}

fn in_plain_words(error: &rusqlite::Error) -> String {
    use rusqlite::ErrorCode::{DatabaseCorrupt, DiskFull, NotADatabase, ReadOnly, SystemIoFailure};
    match error.sqlite_error_code() {
        Some(DiskFull) => "the disk is full".to_owned(),
        Some(SystemIoFailure) => format!("the disk failed while writing or flushing ({error})"),
        Some(DatabaseCorrupt | NotADatabase) => format!("the file is broken ({error}); run `gangion journal verify`"),
        Some(ReadOnly) => "the file or its folder cannot be written".to_owned(),
        _ => format!("the database could not keep the rows ({error})"),
    }
}
