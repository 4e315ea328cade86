//! `gangion setting`: the arithmetic of the line setter.

use gear::{Setting, SettingInput, work_out};

use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_line};

/// From what is known of a set (ship's speed, shooter, beat, hooks …), everything that follows.
///
/// Give any of the fields of the input as JSON. Speed is through the water, not over the ground: floats drift with the
/// surface water. What does not follow stays null, and a doubt says what is missing. Numbers that contradict each other
/// by more than 0.5 % are refused.
#[derive(clap::Args)]
#[command(
    after_help = "Example: 8 knots, sag ratio 0.70, a beat of 7 s, 25 hooks a basket, 2,500 hooks: 107.0 km of main line,
74.9 km over the water, 5 h 03 min, and 6 radio buoys:
  gangion setting --json '{\"vessel_speed_through_water_kn\":8,\"sag_ratio\":0.7,\"beat_s\":7,\"hooks_per_basket\":25,\"hooks\":2500,\"hooks_per_radio_buoy\":500}'"
)]
pub struct Args {
    /// What is known: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
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
/// Bad input when it is no setting, contradicts itself, or nothing follows from it.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<SettingInput, Setting>("gangion setting");
    }
    let text = read_text(args.input.as_deref())?;
    let input: SettingInput = parse_json(&text, "the setting")?;
    let mut set = work_out(&input).map_err(Failure::bad_input)?;
    let fields: std::collections::BTreeMap<String, serde::de::IgnoredAny> = parse_json(&text, "the setting")?;
    for name in fields.keys().filter(|name| !SettingInput::FIELDS.contains(&name.as_str())) {
        let text = format!("\"{name}\" is not a field of a setting; it was passed over. Is it spelt right?");
        set.doubts.push(gear::setting::Doubt { kind: gear::setting::DoubtKind::UnknownField, text });
    }
    if args.json { print_json(&set) } else { print_plainly(&set) }
}

fn print_plainly(set: &Setting) -> Result<(), Failure> {
    let numbers = [
        ("Ship's speed through the water", set.vessel_speed_through_water_kn, "kn", 2),
        ("Shooter", set.shooter_speed_m_s, "m/s", 3),
        ("Sag ratio", set.sag_ratio, "", 3),
        ("Beat", set.beat_s, "s", 2),
        ("Main line between clips", set.clip_spacing_m, "m", 2),
        ("Main line per basket", set.main_line_per_basket_m, "m", 1),
        ("Between floats", set.float_span_m, "m", 1),
        ("Main line of the set", set.main_line_total_m.map(|m| m / 1000.0), "km", 1),
        ("Length over the water", set.set_length_m.map(|m| m / 1000.0), "km", 1),
        ("Time to set, without stops", set.setting_time_s.map(|s| s / 60.0), "min", 0),
    ];
    for (what, value, unit, places) in numbers {
        let value = value.map_or_else(|| "unknown".to_owned(), |value| format!("{value:.places$} {unit}"));
        write_line(&format!("{what}: {}", value.trim_end()))?;
    }
    for (what, count) in [
        ("Hooks per basket", set.hooks_per_basket),
        ("Baskets", set.baskets),
        ("Hooks", set.hooks),
        ("Radio buoys, both ends included", set.radio_buoys),
    ] {
        let count = count.map_or_else(|| "unknown".to_owned(), |count| count.to_string());
        write_line(&format!("{what}: {count}"))?;
    }
    for doubt in &set.doubts {
        write_line(&format!("Doubt: {}", doubt.text))?;
    }
    Ok(())
}
