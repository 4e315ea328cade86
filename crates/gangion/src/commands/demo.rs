//! `gangion demo`: writes the demo voyage's two files, plays them into a journal, and says where everything is.

use std::path::{Path, PathBuf};

use crate::commands::{replay, report};
use crate::demo::{self, Demo};
use crate::plumbing::{Failure, NoInput, print_json, print_schema, write_line};

/// The demo's journal within its folder.
const JOURNAL: &str = "voyage.journal";

/// Write the demo voyage (instrument log and deck events) and play it into a journal
#[derive(clap::Args)]
#[command(after_help = "Example: gangion demo --out demo-voyage
  writes demo-voyage/instruments.nmea and demo-voyage/deck.jsonl: two sets beside the 180° meridian, a deep tuna set
  of 2,500 hooks and a shallow swordfish set at dusk, with the things that go wrong. People and vessel are invented.")]
pub struct Args {
    /// Folder to write to; made if it is not there
    #[arg(long, value_name = "DIR", required_unless_present = "schema")]
    out: Option<PathBuf>,
    /// Play the voyage live, this many times faster than it happened; without it, all at once
    #[arg(long, value_name = "N")]
    speed: Option<f64>,
    /// Write the two files only
    #[arg(long)]
    no_play: bool,
    /// Say where things are as JSON
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of the answer and end
    #[arg(long)]
    schema: bool,
}

/// Where the demo's files are, and what its script expects of each set.
#[derive(serde::Serialize, utoipa::ToSchema)]
struct Answer {
    instruments: String,
    deck: String,
    /// Journal and reports made from the two files.
    played: Vec<String>,
    sets: Vec<Expected>,
}

/// What the script itself knows of a set, to be held against its report.
#[derive(serde::Serialize, utoipa::ToSchema)]
struct Expected {
    hooks_set: usize,
    hooks_lost: usize,
    hooks_unknown: usize,
    fish_seen: u32,
    haul_end_utc: quantity::UtcInstant,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<NoInput, Answer>("gangion demo");
    }
    if let Some(speed) = args.speed.filter(|speed| !(speed.is_finite() && *speed > 0.0)) {
        return Err(Failure::BadInput(format!("--speed {speed} is not a number above 0; nothing was written.")));
    }
    let folder = args.out.as_deref().ok_or_else(|| Failure::BadInput("--out names no folder.".to_owned()))?;
    let demo = demo::generate(demo::SEED).map_err(Failure::failed)?;
    let instruments = write(folder, "instruments.nmea", &demo.instruments)?;
    let deck = write(folder, "deck.jsonl", &demo.deck)?;
    let played = if args.no_play { Vec::new() } else { play(folder, &demo, args.speed)? };
    tell(args.json, &instruments, &deck, &demo, played)
}

/// Plays the two files into a fresh journal and writes the report of each set beside it.
fn play(folder: &Path, demo: &Demo, speed: Option<f64>) -> Result<Vec<String>, Failure> {
    let journal = folder.join(JOURNAL);
    remove_old_demo(&journal)?;
    replay::replay(&demo.instruments, None, &demo.deck, &journal, speed)?;
    demo::tables::write(folder).map_err(|error| {
        Failure::Failed(format!("the demo's tables cannot be written into {} ({error}).", folder.display()))
    })?;
    let mut made = vec![journal.display().to_string()];
    for set in 1..=demo.accounts.len() {
        let files = ["html", "csv", "geojson"].map(|kind| folder.join(format!("set-{set}.{kind}")));
        report::write_files(&journal, None, set, Some(&files[0]), Some(&files[1]), Some(&files[2]))?;
        made.extend(files.iter().map(|file| file.display().to_string()));
    }
    Ok(made)
}

/// The journal of an older demo, which this program itself wrote under this name; its events are invented.
fn remove_old_demo(journal: &Path) -> Result<(), Failure> {
    for end in ["", "-wal", "-shm", ".lock"] {
        let mut name = journal.as_os_str().to_owned();
        name.push(end);
        match std::fs::remove_file(&name) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return Err(Failure::Failed(format!("{} cannot be removed ({error}).", name.display())));
            }
            _ => {}
        }
    }
    Ok(())
}

fn write(folder: &Path, name: &str, bytes: &[u8]) -> Result<PathBuf, Failure> {
    let path = folder.join(name);
    let outcome = std::fs::create_dir_all(folder).and_then(|()| std::fs::write(&path, bytes));
    let told = |error| {
        Failure::Failed(format!(
            "{} cannot be written ({error}); free some space or choose another --out.",
            path.display()
        ))
    };
    outcome.map_err(told)?;
    Ok(path)
}

fn tell(json: bool, instruments: &Path, deck: &Path, demo: &Demo, played: Vec<String>) -> Result<(), Failure> {
    let sets = demo.accounts.iter().map(|account| Expected {
        hooks_set: account.hooks_set,
        hooks_lost: account.hooks_lost,
        hooks_unknown: account.hooks_unknown,
        fish_seen: account.seen.values().sum(),
        haul_end_utc: account.end,
    });
    let answer = Answer {
        instruments: instruments.display().to_string(),
        deck: deck.display().to_string(),
        played,
        sets: sets.collect(),
    };
    if json {
        return print_json(&answer);
    }
    write_line(&format!("instruments  {}", answer.instruments))?;
    write_line(&format!("deck         {}", answer.deck))?;
    for file in &answer.played {
        let what = if file.ends_with(JOURNAL) { "journal" } else { "report" };
        write_line(&format!("{what:<12} {file}"))?;
    }
    for (number, set) in (1..).zip(&answer.sets) {
        write_line(&format!(
            "set {number}        by the script: {} hooks set, {} lost, {} unknown, {} fish seen, haul ended {}",
            set.hooks_set, set.hooks_lost, set.hooks_unknown, set.fish_seen, set.haul_end_utc
        ))?;
    }
    Ok(())
}
