//! `gangion geodesic`: distance and bearing between two places, or the place at a bearing and a distance.

use quantity::geodesic::{Arrival, GeodesicError, Leg};
use quantity::{Position, geodesic, rhumb};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_line};

/// Distance and bearings between two places, or the place that a bearing and a distance lead to (WGS84).
///
/// Without `--rhumb` the shortest way, whose bearing changes on the way; with `--rhumb` the way of a ship that holds one
/// bearing. Bearings are true, 0 to 360; the second one is the bearing onward on arriving.
#[derive(clap::Args)]
#[command(after_help = "Examples: across the 180° meridian (21,510.097 m, leaving on 90.026°), and ten miles east:
  gangion geodesic --json '{\"from\":{\"latitude_deg\":-15,\"longitude_deg\":179.9},\"to\":{\"latitude_deg\":-15,\"longitude_deg\":-179.9}}'
  gangion geodesic --rhumb --json '{\"from\":{\"latitude_deg\":-15,\"longitude_deg\":179.95},\"bearing_deg_true\":90,\"distance_m\":18520}'")]
pub struct Args {
    /// The two places, or a place with bearing and distance: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// Along the rhumb line: one bearing all the way.
    #[arg(long)]
    rhumb: bool,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
}

/// A place as it is given: latitude north positive, longitude east positive.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
struct Place {
    /// Degrees, −90 to 90.
    latitude_deg: f64,
    /// Degrees, −360 to 360.
    longitude_deg: f64,
}

/// What `geodesic` reads: `from` with `to`, or `from` with `bearing_deg_true` and `distance_m`.
#[derive(Debug, Deserialize, ToSchema)]
struct GeodesicInput {
    /// Where the way begins.
    from: Place,
    /// Where it ends.
    to: Option<Place>,
    /// True bearing at the start, degrees.
    bearing_deg_true: Option<f64>,
    /// Distance, metres.
    distance_m: Option<f64>,
}

/// What `geodesic` answers: distance and bearings for two places, a place for a bearing and a distance.
#[derive(Debug, Serialize, ToSchema)]
#[serde(untagged)]
enum GeodesicOutput {
    /// From place to place.
    Between(Leg),
    /// Where bearing and distance lead.
    Reached(Arrival),
}

/// Runs the command.
///
/// # Errors
/// Bad input when it is neither two places nor a place with bearing and distance.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<GeodesicInput, GeodesicOutput>("gangion geodesic");
    }
    let input: GeodesicInput = parse_json(&read_text(args.input.as_deref())?, "the way")?;
    let output = work_out(&input, args.rhumb)?;
    if args.json {
        return print_json(&output);
    }
    match output {
        GeodesicOutput::Between(leg) => write_line(&format!(
            "{:.1} m ({:.3} nautical miles), leaving on {:.3}° true, arriving on {:.3}° true.",
            leg.distance_m,
            leg.distance_m / 1852.0,
            leg.bearing_start_deg,
            leg.bearing_end_deg
        )),
        GeodesicOutput::Reached(arrival) => write_line(&format!(
            "Latitude {:.6}°, longitude {:.6}°, onward on {:.3}° true.",
            arrival.position.latitude_deg(),
            arrival.position.longitude_deg(),
            arrival.bearing_end_deg
        )),
    }
}

fn work_out(input: &GeodesicInput, along_rhumb: bool) -> Result<GeodesicOutput, Failure> {
    let from = position("from", input.from)?;
    match (input.to, input.bearing_deg_true, input.distance_m) {
        (Some(to), None, None) => {
            let to = position("to", to)?;
            let leg = if along_rhumb { rhumb::inverse(from, to) } else { geodesic::inverse(from, to) };
            Ok(GeodesicOutput::Between(leg))
        }
        (None, Some(bearing_deg_true), Some(distance_m)) => {
            let direct: fn(Position, f64, f64) -> Result<Arrival, GeodesicError> =
                if along_rhumb { rhumb::direct } else { geodesic::direct };
            let arrival = direct(from, bearing_deg_true, distance_m)
                .map_err(|error| Failure::BadInput(format!("{error}. Nothing was computed.")))?;
            Ok(GeodesicOutput::Reached(arrival))
        }
        _ => Err(Failure::BadInput(
            "give either to, or both bearing_deg_true and distance_m, beside from; nothing was computed.".to_owned(),
        )),
    }
}

fn position(field: &str, place: Place) -> Result<Position, Failure> {
    Position::new(place.latitude_deg, place.longitude_deg)
        .map_err(|error| Failure::BadInput(format!("{field}: {error}. Nothing was computed.")))
}
