//! `gangion buoys`: where radio buoys will be at a chosen hour, from their fixes alone.

use quantity::UtcInstant;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use water::fixes::{Ahead, Buoy, ahead};

use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_line};

/// Where radio buoys will be at a chosen hour, from their fixes alone, with a band.
///
/// Each buoy goes on as before: a straight line in time through its last fixes. How far back to look, and how wide the band
/// is, is decided by how far this way of reckoning was off in the past of the same buoys. A buoy not heard for two
/// hours moves with its neighbours that were. Not for navigation.
#[derive(clap::Args)]
#[command(after_help = "Example: two fixes an hour apart, three hours on:
  gangion buoys --json '{\"now\":\"2026-03-03T20:00:00Z\",\"at\":\"2026-03-03T23:00:00Z\",\"buoys\":[{\"buoy\":\"E\",\"fixes\":[
    {\"at\":\"2026-03-03T19:00:00Z\",\"latitude_deg\":-14.03,\"longitude_deg\":179.99},
    {\"at\":\"2026-03-03T20:00:00Z\",\"latitude_deg\":-14.03,\"longitude_deg\":-179.99}]}]}'")]
pub struct Args {
    /// The buoys: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
}

/// The buoys, and the hour that is asked.
#[derive(Debug, Deserialize, ToSchema)]
pub struct BuoysAsked {
    /// Now: later fixes are left out.
    now: UtcInstant,
    /// The chosen hour.
    at: UtcInstant,
    /// The radio buoys in setting order.
    buoys: Vec<Buoy>,
}

/// Where they will be.
#[derive(Debug, Serialize, ToSchema)]
pub struct BuoysAhead {
    /// In setting order; a buoy without a good fix is not among them.
    buoys: Vec<Ahead>,
}

/// Runs the command.
///
/// # Errors
/// Bad input when a fix is no fix.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<BuoysAsked, BuoysAhead>("gangion buoys");
    }
    let asked: BuoysAsked = parse_json(&read_text(args.input.as_deref())?, "the buoys and their fixes")?;
    let buoys = ahead(&asked.buoys, asked.now, asked.at).map_err(Failure::bad_input)?;
    if args.json {
        return print_json(&BuoysAhead { buoys });
    }
    for buoy in &buoys {
        write_line(&format!(
            "{}: {:.5}, {:.5} at {}, within {:.1} km 95 times of 100; last heard {:.0} min ago.",
            buoy.buoy,
            buoy.latitude_deg,
            buoy.longitude_deg,
            asked.at,
            buoy.radius_95_m / 1000.0,
            buoy.age_s / 60.0
        ))?;
        for doubt in &buoy.doubts {
            write_line(&format!("  Doubt: {}", doubt.text))?;
        }
    }
    Ok(())
}
