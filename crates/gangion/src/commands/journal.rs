//! `gangion journal`: the ship's record verified, rebuilt, copied, carried out and carried in.

use std::io::{BufReader, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

use clap::Subcommand;
use journal::{BackupOutcome, ImportOutcome, Journal, JournalError, Known, RebuildOutcome, Verdict};
use serde::Serialize;
use utoipa::ToSchema;

use crate::plumbing::{Failure, NoInput, print_json, print_schema, write_line};

/// The journal: everything that happened, in one file, each row chained to the one before.
#[derive(clap::Args)]
#[command(after_help = "Example: is the record whole, and does it have what the rail's tablet was told it has?
  gangion journal verify --journal voyage.db --known rail-1:4711:9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
pub struct Args {
    #[command(subcommand)]
    what: Option<What>,
    /// Print the JSON Schema of `journal verify`, and end.
    #[arg(long)]
    schema: bool,
}

#[derive(Subcommand)]
enum What {
    Verify(Verify),
    Rebuild(Rebuild),
    Backup(Backup),
    Export(Export),
    Import(Import),
}

/// What every one of these commands takes.
#[derive(clap::Args)]
struct Common {
    /// The journal's file.
    #[arg(long, value_name = "DB", required_unless_present = "schema")]
    journal: Option<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of the answer, and end.
    #[arg(long)]
    schema: bool,
}

/// Compute the chain again and name every broken row. Exit code 1 when something is broken.
#[derive(clap::Args)]
#[command(after_help = "Example:
  gangion journal verify --journal voyage.db --json
With --known, the last number and hash that a device was given: an old copy put in place of the journal is noticed.
  gangion journal verify --journal voyage.db --known rail-1:4711:9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
struct Verify {
    #[command(flatten)]
    common: Common,
    /// What a device knows: its id, the number of one of its events, the hash it was given. May be given again.
    #[arg(long, value_name = "DEVICE:SEQ:HASH")]
    known: Vec<Known>,
}

/// Drop everything that is not a row, make it again from the rows, and read every event once.
#[derive(clap::Args)]
#[command(after_help = "Example:
  gangion journal rebuild --journal voyage.db")]
struct Rebuild {
    #[command(flatten)]
    common: Common,
}

/// Copy the journal to a new file while the ship goes on writing, and verify the copy.
#[derive(clap::Args)]
#[command(after_help = "Example:
  gangion journal backup --journal voyage.db --to /media/stick/voyage-2026-03-04.db")]
struct Backup {
    #[command(flatten)]
    common: Common,
    /// The new file; one that is there is never overwritten.
    #[arg(long, value_name = "FILE", required_unless_present = "schema")]
    to: Option<PathBuf>,
}

/// Write one JSON object a line, a row each, with the event's bytes as a string.
#[derive(clap::Args)]
#[command(after_help = "Example:
  gangion journal export --journal voyage.db --to voyage.jsonl
A line: {\"ship_seq\":1,\"received_at_us\":…,\"received_basis\":\"computer\",\"body\":\"{…}\",\"previous_hash\":\"…\",\"hash\":\"…\"}")]
struct Export {
    #[command(flatten)]
    common: Common,
    /// The new file, or - for stdout.
    #[arg(long, value_name = "FILE|-", default_value = "-")]
    to: PathBuf,
}

/// Make a journal from an export: the same rows, the same chain, the same head. All of it or nothing.
#[derive(clap::Args)]
#[command(after_help = "Example:
  gangion journal import --journal new.db --from voyage.jsonl")]
struct Import {
    #[command(flatten)]
    common: Common,
    /// The export, or - for stdin.
    #[arg(long, value_name = "FILE|-", default_value = "-")]
    from: PathBuf,
}

/// What `journal rebuild` answers.
#[derive(Debug, Serialize, ToSchema)]
struct Rebuilt {
    /// The tables made again.
    #[serde(flatten)]
    tables: RebuildOutcome,
    /// How many events this program reads and folds.
    events: usize,
    /// How many voyages they add up to.
    voyages: usize,
    /// How many sets.
    sets: usize,
    /// Rows whose event this program does not know; they are kept.
    unknown: Vec<Unread>,
}

/// A row that this program keeps and does not understand.
#[derive(Debug, Serialize, ToSchema)]
struct Unread {
    /// The row.
    ship_seq: i64,
    /// Why.
    reason: String,
}

/// What `journal export` answers.
#[derive(Debug, Serialize, ToSchema)]
struct Exported {
    /// How many rows were written.
    rows: u64,
    /// Events set aside because they contradict a row; they are not in an export, only in a backup.
    set_aside_left_out: u64,
}

/// Runs the command.
///
/// # Errors
/// Exit code 2 for a missing or foreign file, 1 for a broken one.
pub fn run(args: &Args) -> Result<(), Failure> {
    match &args.what {
        None if args.schema => print_schema::<NoInput, Verdict>("gangion journal verify"),
        None => Err(Failure::BadInput("journal what? verify, rebuild, backup, export or import.".to_owned())),
        Some(What::Verify(verify)) => run_verify(verify),
        Some(What::Rebuild(rebuild)) => run_rebuild(rebuild),
        Some(What::Backup(backup)) => run_backup(backup),
        Some(What::Export(export)) => run_export(export),
        Some(What::Import(import)) => run_import(import),
    }
}

fn run_verify(args: &Verify) -> Result<(), Failure> {
    if args.common.schema {
        return print_schema::<NoInput, Verdict>("gangion journal verify");
    }
    let path = args.common.path()?;
    let verdict = Journal::open_read_only(path).and_then(|reader| reader.verify(&args.known)).map_err(told)?;
    if args.common.json {
        print_json(&verdict)?;
    } else {
        tell_verdict(&verdict)?;
    }
    if verdict.ok {
        return Ok(());
    }
    let faults = verdict.faults.len();
    Err(Failure::Failed(format!("{} does not verify: {faults} faults in {} rows.", path.display(), verdict.rows)))
}

fn tell_verdict(verdict: &Verdict) -> Result<(), Failure> {
    let word = if verdict.ok { "whole" } else { "BROKEN" };
    write_line(&format!("{} rows, {word}; head {}", verdict.rows, verdict.head.as_deref().unwrap_or("-")))?;
    for fault in &verdict.faults {
        match fault.ship_seq {
            Some(row) => write_line(&format!("row {row}: {}", fault.what))?,
            None => write_line(&fault.what)?,
        }
    }
    for device in &verdict.devices {
        write_line(&format!("device {}: up to {}, hash {}", device.device, device.last_seq, device.hash))?;
    }
    for gap in &verdict.gaps {
        write_line(&format!("doubt: device {} never sent {} to {}", gap.device, gap.from_seq, gap.to_seq))?;
    }
    for event in &verdict.set_aside_events {
        write_line(&format!("set aside: {} of {}: {}", event.id, event.device, event.reason))?;
    }
    Ok(())
}

fn run_rebuild(args: &Rebuild) -> Result<(), Failure> {
    if args.common.schema {
        return print_schema::<NoInput, Rebuilt>("gangion journal rebuild");
    }
    let path = args.common.path()?;
    let tables = journal::rebuild(path).map_err(told)?;
    let (mut events, mut unknown) = (Vec::new(), Vec::new());
    for row in Journal::open_read_only(path).map_err(told)?.rows() {
        let row = row.map_err(told)?;
        match voyage::read_event(&row.body) {
            Ok(event) => events.push(voyage::Logged { ship_seq: row.ship_seq, event }),
            Err(refusal) => unknown.push(Unread { ship_seq: row.ship_seq, reason: refusal.to_string() }),
        }
    }
    let book = voyage::fold(&events, None);
    let sets = book.voyages.iter().map(|voyage| voyage.sets.len()).sum();
    let rebuilt = Rebuilt { tables, events: events.len(), voyages: book.voyages.len(), sets, unknown };
    if args.common.json {
        return print_json(&rebuilt);
    }
    write_line(&format!(
        "{} rows untouched, {} devices; {} events read: {} voyages, {sets} sets.",
        rebuilt.tables.rows, rebuilt.tables.devices, rebuilt.events, rebuilt.voyages
    ))?;
    rebuilt.unknown.iter().try_for_each(|row| write_line(&format!("row {}: {}", row.ship_seq, row.reason)))
}

fn run_backup(args: &Backup) -> Result<(), Failure> {
    let (false, Some(to)) = (args.common.schema, args.to.as_deref()) else {
        return print_schema::<NoInput, BackupOutcome>("gangion journal backup");
    };
    let outcome = journal::backup(args.common.path()?, to).map_err(told)?;
    if args.common.json {
        return print_json(&outcome);
    }
    let head = outcome.head.map_or_else(|| "-".to_owned(), |head| head.hash);
    let size_kb = outcome.size_bytes.div_ceil(1000);
    write_line(&format!("{} rows in {} ({size_kb} kB), verified; head {head}", outcome.rows, outcome.path.display()))
}

fn run_export(args: &Export) -> Result<(), Failure> {
    if args.common.schema {
        return print_schema::<NoInput, Exported>("gangion journal export");
    }
    let reader = Journal::open_read_only(args.common.path()?).map_err(told)?;
    let set_aside_left_out = reader.set_aside_count().map_err(told)?;
    if args.to == Path::new("-") {
        return match reader.export(&mut BufWriter::new(std::io::stdout().lock())) {
            Err(JournalError::Io { source, .. }) if source.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
            outcome => outcome.map(|_| ()).map_err(told),
        };
    }
    let rows = reader.export_to(&args.to).map_err(told)?;
    let exported = Exported { rows, set_aside_left_out };
    if args.common.json {
        return print_json(&exported);
    }
    write_line(&format!("{rows} rows in {}; {set_aside_left_out} events set aside are not in it.", args.to.display()))
}

fn run_import(args: &Import) -> Result<(), Failure> {
    if args.common.schema {
        return print_schema::<NoInput, ImportOutcome>("gangion journal import");
    }
    let path = args.common.path()?;
    let outcome = if args.from == Path::new("-") {
        let stdin = std::io::stdin();
        if stdin.is_terminal() {
            let _ = writeln!(std::io::stderr(), "gangion: reading an export from the keyboard; --from names a file.");
        }
        journal::import(path, stdin.lock())
    } else {
        let file = std::fs::File::open(&args.from).map_err(|error| {
            Failure::BadInput(format!("{} cannot be read ({error}); nothing was imported.", args.from.display()))
        })?;
        journal::import(path, BufReader::new(file))
    };
    let outcome = outcome.map_err(told)?;
    if args.common.json {
        return print_json(&outcome);
    }
    let head = outcome.head.map_or_else(|| "-".to_owned(), |head| head.hash);
    write_line(&format!("{} rows imported into {}; head {head}", outcome.rows, path.display()))
}

impl Common {
    fn path(&self) -> Result<&Path, Failure> {
        self.journal.as_deref().ok_or_else(|| Failure::BadInput("which journal? give --journal DB.".to_owned()))
    }
}

/// What the user gave wrongly is bad input; what the machine or the file does is a failure.
fn told(error: JournalError) -> Failure {
    match error {
        JournalError::Missing { .. }
        | JournalError::NotAJournal { .. }
        | JournalError::TooNew { .. }
        | JournalError::Exists { .. }
        | JournalError::NotEmpty { .. }
        | JournalError::BadLine { .. } => Failure::bad_input(error),
        _ => Failure::failed(error),
    }
}
