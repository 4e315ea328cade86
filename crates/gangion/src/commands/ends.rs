//! `gangion ends`: from which end to haul, two plans side by side.

use std::path::PathBuf;

use forecast::ends::{Chosen, EndPlan, Ends, EndsAsked, ends, of_set};
use quantity::{Position, UtcInstant};

use crate::book::{open_book_at, pick_set};
use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_line};

/// From which end to haul: two plans side by side, from the last radio buoy and from the first.
///
/// Each plan tells where its buoy will lie, how far and how long to steam, when to leave and to call the hands, shortest and
/// longest soak (as long can a fish have been dead), the end of the haul, the wind off the bow, and everybody's rest, the
/// worst first. Give the question as JSON, or a journal with a set in the water. Common practice, no source: start from
/// the last buoy. Not for navigation; local law and the ship's own procedures decide on rest.
#[derive(clap::Args)]
#[command(after_help = "Examples: the set in the water of a journal:
  gangion ends --journal voyage/voyage.journal --set 2 --at 2026-03-12T03:00:00Z --lat -15.2 --lon 179.9 --speed-kn 7.8 --json
all by hand:
  gangion ends --json question.json      (gangion ends --schema prints what it holds)")]
pub struct Args {
    /// The question: JSON text, a file, or - for stdin (as when left out).
    #[arg(conflicts_with = "journal")]
    input: Option<String>,
    /// The journal.
    #[arg(long, value_name = "DB", requires_all = ["set", "at", "lat", "lon", "speed_kn"])]
    journal: Option<PathBuf>,
    /// Number or id of the voyage; the last one where absent.
    #[arg(long, value_name = "V")]
    voyage: Option<String>,
    /// Number of the set in the voyage.
    #[arg(long, value_name = "N")]
    set: Option<usize>,
    /// Now, such as 2026-03-12T03:00:00Z.
    #[arg(long)]
    at: Option<UtcInstant>,
    /// The ship's latitude, degrees, north positive.
    #[arg(long, allow_hyphen_values = true)]
    lat: Option<f64>,
    /// The ship's longitude, degrees, east positive.
    #[arg(long, allow_hyphen_values = true)]
    lon: Option<f64>,
    /// Her speed to the line, knots.
    #[arg(long)]
    speed_kn: Option<f64>,
    /// The chosen hour for the start of the haul; as soon as she can be there when left out.
    #[arg(long)]
    start_at: Option<UtcInstant>,
    /// Hooks hauled in an hour; that of this voyage's hauls when left out.
    #[arg(long)]
    pace: Option<f64>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
}

/// Runs the command.
///
/// # Errors
/// Bad input when there is nothing to haul or a number cannot be.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<EndsAsked, Ends>("gangion ends");
    }
    let asked = match &args.journal {
        Some(journal) => from_journal(args, journal)?,
        None => parse_json(&read_text(args.input.as_deref())?, "the question of the two ends")?,
    };
    let answer = ends(&asked).map_err(Failure::bad_input)?;
    if args.json { print_json(&answer) } else { print_plain(&answer) }
}

fn from_journal(args: &Args, journal: &std::path::Path) -> Result<EndsAsked, Failure> {
    let missing = || Failure::BadInput("--journal needs --set, --at, --lat, --lon and --speed-kn.".to_owned());
    let (Some(set), Some(now), Some(ship_speed_kn)) = (args.set, args.at, args.speed_kn) else { return Err(missing()) };
    let (Some(lat), Some(lon)) = (args.lat, args.lon) else { return Err(missing()) };
    let ship = Position::new(lat, lon).map_err(Failure::bad_input)?;
    let (book, _) = open_book_at(journal, Some(now))?;
    let (voyage, record) = pick_set(&book, args.voyage.as_deref(), set)?;
    let chosen = Chosen { now, ship, ship_speed_kn, start_at: args.start_at, pace_hooks_h: args.pace };
    of_set(voyage, record, &chosen).ok_or_else(|| {
        Failure::BadInput(
            "nothing was hauled on this voyage yet, so its pace is not known: give --pace in hooks an hour.".to_owned(),
        )
    })
}

fn print_plain(answer: &Ends) -> Result<(), Failure> {
    for (name, plan) in [("last", &answer.from_last), ("first", &answer.from_first)] {
        let Some(plan) = plan else { continue };
        print_plan(name, plan)?;
    }
    for doubt in &answer.doubts {
        write_line(&format!("Doubt: {}", doubt.text))?;
    }
    Ok(())
}

fn print_plan(name: &str, plan: &EndPlan) -> Result<(), Failure> {
    write_line(&format!(
        "From the {name} buoy, {}: {:.1} nmi on {:03.0}°, {:.1} h of steaming; leave {}, call the hands {}, start {}, end {} ± {:.0} min.",
        plan.buoy.buoy,
        plan.distance_m / 1852.0,
        plan.bearing_deg_true,
        plan.steam_s / 3600.0,
        plan.leave_at,
        plan.call_at,
        plan.starts_at,
        plan.ends_at,
        plan.ends_error_s / 60.0
    ))?;
    write_line(&format!(
        "  Soak {:.1} to {:.1} h; a fish can have been dead {:.1} h.",
        plan.shortest_soak_s / 3600.0,
        plan.longest_soak_s / 3600.0,
        plan.longest_soak_s / 3600.0
    ))?;
    for rest in plan.rest.iter().take(3) {
        write_line(&format!(
            "  {}: least rest {:.1} h in 24 h, {:.1} h in 7 days.",
            rest.name,
            rest.worst_24h.rest_s / 3600.0,
            rest.worst_7d.rest_s / 3600.0
        ))?;
    }
    for doubt in &plan.buoy.doubts {
        write_line(&format!("  Doubt: {}", doubt.text))?;
    }
    Ok(())
}
