//! `gangion sky`: sun, twilight and moon at a place, for one local solar day.

use quantity::moon::PhaseAt;
use quantity::{Position, UtcInstant, moon, sun};
use serde::Serialize;
use utoipa::ToSchema;

use crate::plumbing::{Failure, NoInput, print_json, print_schema, write_line};

/// Sunrise, sunset, nautical twilight and the moon at a place, for one local solar day.
///
/// The day is the one whose solar noon falls on the UTC date given: near the 180° meridian its dawn may lie on the UTC
/// date before, its dusk on the one after. What does not happen on that day is null. Years 1900 to 2100. Seen from sea level, open
/// horizon. Not for navigation.
#[derive(clap::Args)]
#[command(
    after_help = "Example: 30° S 170° E on 21 June 2024; nautical dawn 2024-06-20T18:39:10Z, dusk 2024-06-21T06:44:28Z:
  gangion sky --lat -30 --lon 170 --date 2024-06-21 --json"
)]
pub struct Args {
    /// Latitude, degrees, north positive.
    #[arg(long, allow_hyphen_values = true, required_unless_present = "schema")]
    lat: Option<f64>,
    /// Longitude, degrees, east positive.
    #[arg(long, allow_hyphen_values = true, required_unless_present = "schema")]
    lon: Option<f64>,
    /// The UTC date at solar noon, such as 2024-06-21.
    #[arg(long, required_unless_present = "schema")]
    date: Option<String>,
    /// The moment of the moon's lit part, such as 2024-06-21T18:00:00Z; 00:00 UTC of the date when left out.
    #[arg(long)]
    at: Option<String>,
    /// Also every phase of the moon in this UTC year.
    #[arg(long, allow_hyphen_values = true)]
    year: Option<i16>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of the output, and end.
    #[arg(long)]
    schema: bool,
}

/// What `sky` answers. What does not happen on that local solar day is null.
#[derive(Debug, Serialize, ToSchema)]
struct Sky {
    /// The sun's upper limb appears.
    sunrise_utc: Option<UtcInstant>,
    /// The sun's upper limb disappears.
    sunset_utc: Option<UtcInstant>,
    /// The sun's centre rises to 12° below the horizon.
    nautical_dawn_utc: Option<UtcInstant>,
    /// The sun's centre sinks to 12° below the horizon.
    nautical_dusk_utc: Option<UtcInstant>,
    /// The moon's upper limb appears.
    moonrise_utc: Option<UtcInstant>,
    /// The moon's upper limb disappears.
    moonset_utc: Option<UtcInstant>,
    /// Lit part of the moon's disc, 0 to 1.
    moon_illuminated_fraction: f64,
    /// Phases of the moon in the year asked for, in order of time; null when no year was asked for.
    moon_phases_utc: Option<Vec<PhaseAt>>,
}

/// Runs the command.
///
/// # Errors
/// Bad input when the place, the date or the year is none.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<NoInput, Sky>("gangion sky");
    }
    let (Some(latitude_deg), Some(longitude_deg), Some(date)) = (args.lat, args.lon, args.date.as_deref()) else {
        return Err(Failure::BadInput("give --lat, --lon and --date.".to_owned()));
    };
    let place = Position::new(latitude_deg, longitude_deg)
        .map_err(|error| Failure::BadInput(format!("{error}; nothing was computed.")))?;
    let date = day(date)?;
    let at = args.at.as_deref().map(str::parse::<UtcInstant>).transpose().map_err(Failure::bad_input)?.unwrap_or(date);
    let sun = sun::day(place, date).map_err(Failure::bad_input)?;
    let moon = moon::day(place, date).map_err(Failure::bad_input)?;
    let phases = args.year.map(moon::phases_of_year).transpose().map_err(Failure::bad_input)?;
    let sky = Sky {
        sunrise_utc: sun.sunrise_utc.map(whole_second),
        sunset_utc: sun.sunset_utc.map(whole_second),
        nautical_dawn_utc: sun.nautical_dawn_utc.map(whole_second),
        nautical_dusk_utc: sun.nautical_dusk_utc.map(whole_second),
        moonrise_utc: moon.moonrise_utc.map(whole_second),
        moonset_utc: moon.moonset_utc.map(whole_second),
        moon_illuminated_fraction: moon::illuminated_fraction(at).map_err(Failure::bad_input)?,
        moon_phases_utc: phases
            .map(|found| found.into_iter().map(|phase| PhaseAt { utc: whole_second(phase.utc), ..phase }).collect()),
    };
    if args.json { print_json(&sky) } else { print_plainly(&sky) }
}

fn print_plainly(sky: &Sky) -> Result<(), Failure> {
    for (what, when) in [
        ("Nautical dawn", sky.nautical_dawn_utc),
        ("Sunrise", sky.sunrise_utc),
        ("Sunset", sky.sunset_utc),
        ("Nautical dusk", sky.nautical_dusk_utc),
        ("Moonrise", sky.moonrise_utc),
        ("Moonset", sky.moonset_utc),
    ] {
        write_line(&format!(
            "{what}: {}",
            when.map_or_else(|| "none on this day".to_owned(), |when| when.to_string())
        ))?;
    }
    write_line(&format!("Moon lit: {:.0} %", sky.moon_illuminated_fraction * 100.0))?;
    for found in sky.moon_phases_utc.iter().flatten() {
        let name = match found.phase {
            moon::Phase::New => "New moon",
            moon::Phase::FirstQuarter => "First quarter",
            moon::Phase::Full => "Full moon",
            moon::Phase::LastQuarter => "Last quarter",
        };
        write_line(&format!("{name}: {}", found.utc))?;
    }
    Ok(())
}

/// Midnight UTC of a date written YYYY-MM-DD.
fn day(text: &str) -> Result<UtcInstant, Failure> {
    let refuse =
        || Failure::BadInput(format!("--date \"{text}\" is not a date such as 2024-06-21; nothing was computed."));
    let shaped = text.len() == 10
        && text.bytes().enumerate().all(|(i, b)| if i == 4 || i == 7 { b == b'-' } else { b.is_ascii_digit() });
    if !shaped {
        return Err(refuse());
    }
    format!("{text}T00:00:00Z").parse().map_err(|_| refuse())
}

/// The nearest whole second: more is not known.
fn whole_second(instant: UtcInstant) -> UtcInstant {
    UtcInstant::from_micros_clamped((instant.micros() + 500_000).div_euclid(1_000_000) * 1_000_000)
}
