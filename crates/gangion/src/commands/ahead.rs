//! `gangion ahead`: what a set that goes out still has ahead of it, at any moment of a journal.

use std::path::{Path, PathBuf};

use forecast::ahead::{Ahead, Loaded, StoreWhat, ahead, night_rules};
use forecast::zones;
use quantity::UtcInstant;

use crate::book::{open_book_at, pick_set};
use crate::plumbing::{Failure, NoInput, parse_json, print_json, print_schema, read_text, write_line};

/// What is ahead of a set while it goes out: hooks to come, end of setting, depths by stretches, stores left, zones.
#[derive(clap::Args)]
#[command(after_help = "Example:
  gangion ahead --journal voyage.journal --set 1 --at 2031-03-02T14:30:00Z --zones closed.geojson --json
  {\"at\":\"2031-03-02T14:30:00Z\",\"setting\":true,\"hooks_set\":742,\"hooks_to_come\":1758,\"rests_on\":\"planned_hooks\",
   \"end_of_setting\":{\"at\":\"…\",\"band_s\":210.0,…},\"stretches\":[…],\"stores\":[…],\"zones\":[…],…}

--at leaves out what happened later, by the ship's time. Without it, all of the journal up to its last event.
Zones are GeoJSON (RFC 7946); a feature with the property \"rule\": \"set_by_night\" counts as such a rule within its
boundary. Distances are to a boundary, never a word on what is allowed. Not for navigation.")]
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
    /// The moment, UTC as RFC 3339.
    #[arg(long, value_name = "UTC")]
    at: Option<String>,
    /// A file of zones; may be given again.
    #[arg(long, value_name = "GEOJSON")]
    zones: Vec<PathBuf>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of the answer.
    #[arg(long)]
    schema: bool,
}

/// Runs the command.
///
/// # Errors
/// Bad input for what is no journal, moment, set or file of zones.
pub fn run(args: &Args) -> Result<(), Failure> {
    let (Some(journal), Some(set), false) = (&args.journal, args.set, args.schema) else {
        return print_schema::<NoInput, Ahead>("gangion ahead");
    };
    let at = args.at.as_deref().map(moment).transpose()?;
    let (mut known, mut rules) = (Vec::new(), Vec::new());
    for file in &args.zones {
        read_zones(file, &mut known, &mut rules)?;
    }
    let (book, _) = open_book_at(journal, at)?;
    let (voyage, record) = pick_set(&book, args.voyage.as_deref(), set)?;
    let loaded = Loaded { zones: &known, night_rules: &rules };
    let told = ahead(voyage, record, &forecast::depths(record), loaded, book.judged_at);
    if args.json { print_json(&told) } else { tell(&told) }
}

fn moment(text: &str) -> Result<UtcInstant, Failure> {
    text.parse().map_err(|error| {
        Failure::BadInput(format!(
            "--at \"{text}\" is no UTC time as in 2031-03-02T14:30:00Z ({error}); nothing was read."
        ))
    })
}

fn read_zones(file: &Path, known: &mut Vec<zones::Zone>, rules: &mut Vec<zones::Zone>) -> Result<(), Failure> {
    let text = read_text(file.to_str())?;
    let geojson: serde_json::Value = parse_json(&text, &format!("the file of zones {}", file.display()))?;
    let name = file.file_stem().map_or_else(|| "zone".to_owned(), |name| name.to_string_lossy().into_owned());
    let read = zones::load(&name, &geojson);
    if let Some(refused) = read.refused.first() {
        return Err(Failure::BadInput(refused.to_string()));
    }
    known.extend(read.zones);
    rules.extend(night_rules(&name, &geojson));
    Ok(())
}

fn tell(told: &Ahead) -> Result<(), Failure> {
    let unknown = || "unknown".to_owned();
    write_line(&format!("At {}: {} hooks in {} baskets", told.at, told.hooks_set, told.baskets_set))?;
    if told.setting {
        let to_come = told.hooks_to_come.zip(told.baskets_to_come);
        let to_come =
            to_come.map_or_else(unknown, |(hooks, baskets)| format!("{hooks} hooks, {baskets} whole baskets"));
        write_line(&format!("To come: {to_come}"))?;
        let end = told.end_of_setting.as_ref();
        let end = end.map_or_else(unknown, |end| {
            format!(
                "{} ± {:.0} min ({:.0} min allowed for stops)",
                end.at,
                end.band_s / 60.0,
                end.allowed_for_stops_s / 60.0
            )
        });
        write_line(&format!("End of setting: {end}"))?;
    } else {
        write_line("Setting has ended.")?;
    }
    for stretch in &told.stretches {
        let depths = match (stretch.shallowest_m, stretch.deepest_m, stretch.deepest_band_m) {
            (Some(from_m), Some(to_m), Some(band_m)) => format!("{from_m:.0} to {to_m:.0} ± {band_m:.0} m"),
            _ => "depth unknown".to_owned(),
        };
        let layer = stretch.hooks_in_layer.map_or_else(String::new, |hooks| format!(", {hooks} in the wanted layer"));
        let what = if stretch.to_come { "to come" } else { "in the water" };
        write_line(&format!(
            "Baskets {} to {} ({what}): {} hooks, {depths}{layer}",
            stretch.from_basket, stretch.to_basket, stretch.hooks
        ))?;
    }
    for store in &told.stores {
        let what = match store.what {
            StoreWhat::MainLineM => "Main line, m",
            StoreWhat::HooksInBins => "Hooks in bins",
            StoreWhat::BaitPieces => "Bait, pieces",
            StoreWhat::Floats => "Floats",
            StoreWhat::RadioBuoys => "Radio buoys",
        };
        let number = |value: Option<f64>| value.map_or_else(unknown, |value| format!("{value:.0}"));
        write_line(&format!("{what}: {} left, {} needed", number(store.left), number(store.needed)))?;
    }
    let light = told.daylight;
    let more = light.to_come_by_daylight.map_or_else(String::new, |hooks| format!("; {hooks} of those to come will"));
    write_line(&format!("By daylight: {} of {} hooks{more}", light.hooks_by_daylight, light.hooks_judged))?;
    for zone in &told.zones {
        let of = |what: &str, distance: Option<&zones::ZoneDistance>| {
            distance.map_or_else(String::new, |near| {
                let inside = if near.inside { ", some of it inside" } else { "" };
                format!("; {what} {:.1} nmi from its boundary{inside}", near.least_distance_m / 1852.0)
            })
        };
        let (line, ship) = (of("line", zone.line_so_far.as_ref()), of("ship", zone.ship.as_ref()));
        write_line(&format!("Zone {}{line}{ship}{}", zone.name, of("way ahead", zone.way_ahead.as_ref())))?;
    }
    for suggestion in &told.suggestions {
        write_line(&format!("Suggestion: {}", suggestion.text))?;
    }
    for warning in &told.warnings {
        write_line(&format!("Warning: {}", warning.text))?;
    }
    for doubt in &told.doubts {
        write_line(&format!("Doubt: {}", doubt.text))?;
    }
    Ok(())
}
