//! `gangion report`: the account of a set as JSON, a printed page, a table, or lines on a map.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use records::figures::CatchLine;
use records::page::Basis;
use records::words::Clock;
use records::{Report, geojson, hook_rows, hooks_csv, page, report};

use crate::book::{open_book, pick_set};
use crate::plumbing::{Failure, NoInput, print_json, print_schema, write_line};

/// The report of a set: hooks, times, places, catch, depths, doubts.
#[derive(clap::Args)]
#[command(after_help = "Example:
  gangion report --journal voyage.db --set 1 --html set-1.html --csv set-1.csv --geojson set-1.geojson
  gangion report --journal voyage.db --set 1 --json
  {\"hooks_set\":2500,\"hooks_hauled\":2467,\"hooks_lost\":28,\"branch_lines_lost\":3,\"hooks_unknown\":5,…}

Set = hauled + lost + unknown once the set is closed. Rates are per 1,000 hooks set. --csv writes the hook table, one row a
position. Several outputs may be asked for at once; none asked for prints a short text. Files appear whole or not at all.")]
pub struct Args {
    /// The journal.
    #[arg(long, value_name = "DB", required_unless_present = "schema")]
    journal: Option<PathBuf>,
    /// Number or id of the voyage; the last one where absent.
    #[arg(long, value_name = "V")]
    voyage: Option<String>,
    /// Number of the set in the voyage.
    #[arg(long, value_name = "N", required_unless_present = "schema")]
    set: Option<usize>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Write the page for printing to this file.
    #[arg(long, value_name = "F")]
    html: Option<PathBuf>,
    /// Write the hook table to this file.
    #[arg(long, value_name = "F")]
    csv: Option<PathBuf>,
    /// Write line, track, floats and fish to this file (RFC 7946).
    #[arg(long, value_name = "F")]
    geojson: Option<PathBuf>,
    /// Print the JSON Schema of the answer.
    #[arg(long)]
    schema: bool,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<(), Failure> {
    let (Some(journal), Some(set), false) = (&args.journal, args.set, args.schema) else {
        return print_schema::<NoInput, Report>("gangion report");
    };
    let voyage = args.voyage.as_deref();
    let account =
        write_files(journal, voyage, set, args.html.as_deref(), args.csv.as_deref(), args.geojson.as_deref())?;
    let files: Vec<&PathBuf> = [&args.html, &args.csv, &args.geojson].into_iter().flatten().collect();
    if args.json {
        return print_json(&account);
    }
    if files.is_empty() {
        return write_line(&in_words(&account));
    }
    files.iter().try_for_each(|path| write_line(&format!("Set {} written to {}.", account.set, path.display())))
}

/// Writes the files asked for, and answers the account they were drawn from.
///
/// # Errors
/// [`Failure`] when there is no such journal or set, or a file cannot be written.
pub fn write_files(
    journal: &Path,
    voyage: Option<&str>,
    set: usize,
    html: Option<&Path>,
    csv: Option<&Path>,
    geo: Option<&Path>,
) -> Result<Report, Failure> {
    let (book, journal_entries) = open_book(journal)?;
    let (voyage, record) = pick_set(&book, voyage, set)?;
    let depths = forecast::depths(record);
    let account = report(voyage, record, &depths);
    // Everything is made before the first file is touched.
    let mut files: Vec<(&Path, String)> = Vec::new();
    if let Some(path) = html {
        files.push((path, page(voyage, record, &depths, &account, Basis { journal_entries })));
    }
    if let Some(path) = csv {
        files.push((path, hooks_csv(&hook_rows(record, &depths)).map_err(Failure::failed)?));
    }
    if let Some(path) = geo {
        files.push((path, format!("{}\n", geojson(voyage, record, &depths))));
    }
    for (path, text) in &files {
        write_whole(path, text)?;
    }
    Ok(account)
}

/// A file that appears whole or not at all: written beside its place, flushed, then put in it.
fn write_whole(path: &Path, text: &str) -> Result<(), Failure> {
    let failed = |error: std::io::Error| {
        Failure::Failed(format!(
            "{} cannot be written ({error}); what stood there before still stands.",
            path.display()
        ))
    };
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".{}.part", std::process::id()));
    let beside = path.with_file_name(name);
    let write = || {
        let mut file = std::fs::File::create(&beside)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        std::fs::rename(&beside, path)
    };
    write().map_err(|error| {
        // The half-written file beside it is of no use to anybody.
        let _ = std::fs::remove_file(&beside);
        failed(error)
    })
}

/// The report in a few plain lines.
fn in_words(account: &Report) -> String {
    let clock = Clock { offset_min: account.utc_offset_min };
    let time = |at: Option<quantity::UtcInstant>| at.map_or("not recorded".to_owned(), |at| clock.date_time(at));
    let mut lines = vec![
        format!("Set {} of voyage {} (ship time {})", account.set, account.voyage, clock.name()),
        format!(
            "{} hooks set in {} baskets: {} hauled, {} lost ({} of them bitten or cut off), {} unknown, {} in the water",
            account.hooks_set,
            account.baskets,
            account.hooks_hauled,
            account.hooks_lost,
            account.branch_lines_lost,
            account.hooks_unknown,
            account.hooks_in_water
        ),
        format!("Floats {}, hauled {}; radio buoys {}", account.floats_set, account.floats_hauled, account.radio_buoys),
        format!("Set   {} to {}", time(account.setting.start_utc), time(account.setting.end_utc)),
        format!("Haul  {} to {}", time(account.hauling.start_utc), time(account.hauling.end_utc)),
    ];
    if account.catch.is_empty() {
        lines.push("No fish recorded.".to_owned());
    }
    for line in &account.catch {
        let rate =
            line.caught_per_thousand_hooks.map_or(String::new(), |rate| format!(", {rate:.1} caught per 1,000 hooks"));
        lines.push(format!(
            "{:<4} {} caught: {} kept, {} released, {} discarded, {} lost{rate}",
            line.species.as_deref().unwrap_or("?"),
            CatchLine::caught(line),
            line.retained,
            line.released,
            line.discarded,
            line.lost
        ));
    }
    lines.push(match account.doubts.len() {
        0 => "Nothing was noted as doubtful.".to_owned(),
        number => format!("{number} doubts: see --html, --json or gangion hooks."),
    });
    lines.join("\n")
}
