//! `gangion hooks`: every position of a set, with times, place, depth, soak, fate and fish.

use std::path::PathBuf;

use records::{HookRow, hook_rows};
use voyage::HookFate;

use crate::book::{open_book, pick_set};
use crate::plumbing::{Failure, NoInput, print_json, print_schema, write_line};

/// Every hook of a set: where and when it went in, how deep it hung, how long it fished, what it caught, what became of it.
#[derive(clap::Args)]
#[command(after_help = "Example:
  gangion hooks --journal voyage.db --set 1 --json
  [{\"number\":1,\"basket\":1,\"position\":1,\"clipped_utc\":\"2031-03-02T13:00:07Z\",…,\"depth_m\":89.0,…,\"fate\":\"hauled\",\"fish\":[],\"doubts\":[]},…]

All positions in setting order, empty ones too (fate missed, number null). Depths are computed for still water.
Without --json: one plain line a hook.")]
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
    /// Print JSON: one array.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of one element of the answer.
    #[arg(long)]
    schema: bool,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<(), Failure> {
    let (Some(journal), Some(set), false) = (&args.journal, args.set, args.schema) else {
        return print_schema::<NoInput, HookRow>("gangion hooks, one element of the array");
    };
    let (book, _) = open_book(journal)?;
    let (_, record) = pick_set(&book, args.voyage.as_deref(), set)?;
    let rows = hook_rows(record, &forecast::depths(record));
    if args.json {
        return print_json(&rows);
    }
    let lines: Vec<String> = rows.iter().map(line).collect();
    write_line(&lines.join("\n"))
}

fn line(row: &HookRow) -> String {
    let number = row.number.map_or("–".to_owned(), |number| number.to_string());
    let clipped = row.clipped_utc.map_or("time unknown".to_owned(), |at| at.to_string());
    let depth = row
        .depth_m
        .zip(row.depth_band_m)
        .map_or("depth unknown".to_owned(), |(depth_m, band_m)| format!("{depth_m:.0} ± {band_m:.0} m"));
    let soak = row.soak_s.map_or(String::new(), |soak_s| format!(", soaked {:.1} h", soak_s / 3600.0));
    let fate = match row.fate {
        HookFate::InWater => "in the water",
        HookFate::Hauled => "hauled",
        HookFate::Lost => "lost",
        HookFate::Unknown => "unknown",
        HookFate::Missed => return format!("  –  basket {} position {}: empty position", row.basket, row.position),
    };
    let fish = if row.fish.is_empty() { String::new() } else { format!(", {} fish", row.fish.len()) };
    format!("{number:>5}  basket {} position {}: {clipped}, {depth}, {fate}{soak}{fish}", row.basket, row.position)
}
