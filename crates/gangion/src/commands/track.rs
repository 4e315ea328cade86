//! `gangion track`: what an instrument log holds: fixes, distance run, silences, doubts.

use instruments::track::{Track, track};

use super::decode::day_of;
use crate::plumbing::{Failure, NoInput, print_json, print_schema, read_bytes, write_line};

/// The track in an instrument log: sentences, fixes, distance, gaps, doubts.
#[derive(clap::Args)]
#[command(after_help = "Example:
  gangion track underway.nmea --date 2026-03-04 --json
  {\"sentences\":60000,\"rejected\":0,\"first_utc\":\"2026-03-04T09:55:59Z\",…,\"fixes\":3750,\"distance_m\":…}

One fix for each distinct time, from the best source alive (RMC, then GGA, then GLL; a better one counts as gone after
10 s of silence). The distance is the sum of the geodesics between fixes, nothing is smoothed. A gap is more than 60 s
between two fixes. The rejected sentences are among the sentences.")]
pub struct Args {
    /// The log, or - for stdin.
    #[arg(required_unless_present = "schema")]
    file: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// UTC day of the log's first time, for logs without dates.
    #[arg(long, value_name = "YYYY-MM-DD")]
    date: Option<String>,
    /// Print the JSON Schema of the answer.
    #[arg(long)]
    schema: bool,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<NoInput, Track>("gangion track");
    }
    let day = day_of(args.date.as_deref())?;
    let found = track(&read_bytes(args.file.as_deref().unwrap_or("-"))?, day);
    if args.json {
        return print_json(&found);
    }
    let time = |utc: Option<quantity::UtcInstant>| utc.map_or("unknown".to_owned(), |utc| utc.to_string());
    write_line(&format!(
        "{} sentences, {} of them rejected\nfrom {} to {}\n{} fixes, {:.0} m ({:.2} nautical miles) run, {} gaps of more than 60 s",
        found.sentences,
        found.rejected,
        time(found.first_utc),
        time(found.last_utc),
        found.fixes,
        found.distance_m,
        found.distance_m / 1852.0,
        found.gaps.len()
    ))?;
    found.doubts.iter().try_for_each(|doubt| write_line(&format!("doubt: {}", doubt.text)))
}
