//! `gangion calibrate`: what the recorders of a set say of its gear and its current, and the boat's own correction.

use std::path::Path;

use gear::learn::{
    CalibrateError, Calibration, Correction, CurrentError, LearnError, LearningSet, RecorderFile, RecorderReport,
    SagFix, Stretch, StretchModel, calibrate,
};
use gear::recorder::{Doubt, Mapping, SetTimes};
use gear::{Basket, HangOptions, Rig};
use quantity::UtcInstant;
use serde::Deserialize;
use serde_json::Value;
use utoipa::ToSchema;

use crate::gear_input::{GearInput, gear_failure};
use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_line};

/// Learn from the time–depth recorders of a set.
///
/// Reads every file of a directory that the mapping names, cuts it into sinking, soak and hauling, and compares the
/// soak with the depths that the gear should have had. What is off is shared out, within what is believed of each, to the
/// sag ratios of the stretches, the gear's drag-to-weight ratio, and the strength and direction of the current. What the
/// places of the recorders cannot tell apart is refused, with the reason and with what would help.
///
/// `correction` of the answer is the boat's own correction for this kind of gear: give it as `prior` with the next set.
/// Files are only read. A file that cannot be used is told, and the others are learned from.
#[derive(clap::Args)]
#[command(
    after_help = "Example: one recorder at the first clip, one at the middle of basket 12; set.json has the gear as for `gangion depth`:
  gangion calibrate --recorders tdr/ --mapping mapping.json --json set.json
mapping.json:
  {\"delimiter\":\";\",\"decimal_mark\":\",\",\"lines_to_skip\":2,\"time_zone_utc_h\":12,
   \"time\":{\"column\":\"Time\",\"format\":\"%d.%m.%Y %H:%M:%S\"},\"pressure\":{\"column\":\"Pressure\",\"unit\":\"dbar\",\"atmosphere\":\"taken_off\"},
   \"recorders\":[{\"file\":\"a*.csv\",\"basket\":12,\"on\":\"main_line\",\"hook_position\":1},
                {\"serial\":\"0815\",\"basket\":12,\"on\":\"branch_line\",\"hook_position\":13}]}
set.json:
  {\"basket\":{\"hooks\":25,\"clip_spacing_m\":45,\"sag_ratio\":0.75,\"float_line_m\":25,\"branch_line_m\":25},
   \"main_line\":{\"diameter_mm\":3.6},\"branch\":{\"weight_in_water_n\":0.6,\"drag_area_m2\":0.06},\"line_bearing_deg_true\":90,
   \"water\":{\"current\":[{\"depth_m\":0,\"east_m_s\":0.3,\"north_m_s\":0},{\"depth_m\":250,\"east_m_s\":0,\"north_m_s\":-0.2}]},
   \"latitude_deg\":-15,\"setting\":{\"from_utc\":\"2026-03-04T18:00:00Z\",\"to_utc\":\"2026-03-04T23:00:00Z\"},
   \"hauling\":{\"from_utc\":\"2026-03-05T04:00:00Z\",\"to_utc\":\"2026-03-05T14:00:00Z\"},
   \"stretches\":[{\"from_basket\":1,\"to_basket\":40,\"buoy_sag_ratio\":0.71,\"buoy_sag_ratio_error\":0.01},{\"from_basket\":41,\"to_basket\":100}]}"
)]
pub struct Args {
    /// The set: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// The directory of the recorders' files.
    #[arg(long, value_name = "DIR", required_unless_present = "schema")]
    recorders: Option<String>,
    /// The column mapping: JSON text, or a file.
    #[arg(long, value_name = "FILE", required_unless_present = "schema")]
    mapping: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of input (mapping and set) and output, and end.
    #[arg(long)]
    schema: bool,
}

/// The two inputs of `calibrate`.
#[derive(ToSchema)]
#[expect(dead_code, reason = "only its schema is used")]
pub struct CalibrateInput {
    /// What `--mapping` names.
    mapping: Mapping,
    /// The set.
    set: SetInput,
}

/// A set: the gear as for `depth`, and what follows. Fields that are not known are passed over and told as doubts.
#[derive(ToSchema)]
#[expect(dead_code, reason = "only its schema is used")]
pub struct SetInput {
    #[schema(inline)]
    #[serde(flatten)]
    gear: GearInput,
    #[schema(inline)]
    #[serde(flatten)]
    history: History,
}

/// What belongs to a set beside its gear.
#[derive(Debug, Deserialize, ToSchema)]
pub struct History {
    /// A name for the kind of gear: corrections are carried for each kind apart. Made of the basket's numbers when left out.
    gear: Option<String>,
    /// From the first to the last clip: recorders must have gone into the water then.
    setting: Option<Span>,
    /// From the first to the last branch line hauled: recorders must have come out then.
    hauling: Option<Span>,
    /// Degrees, north positive; needed for recorders of pressure unless the mapping says it.
    latitude_deg: Option<f64>,
    /// Stretches of alike baskets; one with all baskets when left out.
    #[serde(default)]
    stretches: Vec<StretchInput>,
    /// Standard errors of the current, when it was measured; those of a forecast (0.5 and 30°) when left out.
    current_error: Option<CurrentError>,
    /// `correction` of the answer for the set before.
    prior: Option<Correction>,
}

/// A span of time.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// Its beginning.
    from_utc: UtcInstant,
    /// Its end.
    to_utc: UtcInstant,
}

/// A stretch of alike baskets. What is left out is as in the set.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StretchInput {
    /// First basket, from 1.
    from_basket: u32,
    /// Last basket.
    to_basket: u32,
    /// Its sag ratio as set.
    sag_ratio: Option<f64>,
    /// Its basket, when it is of another kind.
    basket: Option<Basket>,
    /// Its course, degrees true.
    line_bearing_deg_true: Option<f64>,
    /// Its sag ratio as the positions of radio buoys gave it.
    buoy_sag_ratio: Option<f64>,
    /// Standard error of that; 0.01 when left out.
    buoy_sag_ratio_error: Option<f64>,
}

/// Every field that a set can have.
const FIELDS: [&str; 18] = [
    "basket",
    "main_line",
    "branch",
    "float_line",
    "float",
    "water",
    "line_bearing_deg_true",
    "ends",
    "point_loads",
    "elements_per_interval",
    "errors",
    "gear",
    "setting",
    "hauling",
    "latitude_deg",
    "stretches",
    "current_error",
    "prior",
];

/// Runs the command.
///
/// # Errors
/// Bad input for a set, a mapping or a directory that cannot be used; a failure when the estimation finds nothing.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<CalibrateInput, Calibration>("gangion calibrate");
    }
    let (Some(directory), Some(mapping)) = (&args.recorders, &args.mapping) else {
        return Err(Failure::BadInput("--recorders and --mapping are both needed; nothing was read.".to_owned()));
    };
    let mapping: Mapping = parse_json(&read_text(Some(mapping))?, "the mapping")?;
    mapping.check().map_err(Failure::bad_input)?;
    let (set, assumed) = read_set(&read_text(args.input.as_deref())?)?;
    let files = read_directory(directory, args.mapping.as_deref())?;
    let files: Vec<RecorderFile<'_>> = files.iter().map(|(name, bytes)| RecorderFile { name, bytes }).collect();
    let mut answer = calibrate(&set, &mapping, &files).map_err(|error| match error {
        CalibrateError::Learn(LearnError::Gear(error)) => gear_failure(error),
        CalibrateError::Learn(error @ LearnError::NotConverged { .. }) => Failure::failed(error),
        other => Failure::bad_input(other),
    })?;
    answer.doubts.extend(assumed);
    if args.json { print_json(&answer) } else { print_plain(&answer) }
}

/// The set, and doubts about numbers that were taken from common practice.
fn read_set(text: &str) -> Result<(LearningSet, Vec<Doubt>), Failure> {
    let raw: Value = parse_json(text, "the set")?;
    let (input, assumed) = GearInput::of(&raw, "the set")?;
    let history = History::deserialize(&raw)
        .map_err(|error| Failure::BadInput(format!("the set is not understood: {error}.")))?;
    check(&history)?;
    let basket = &input.basket;
    let gear = history.gear.clone().unwrap_or_else(|| {
        format!(
            "{} hooks {} m apart, float lines {} m, branch lines {} m",
            basket.hooks, basket.clip_spacing_m, basket.float_line_m, basket.branch_line_m
        )
    });
    let stretches = if history.stretches.is_empty() {
        vec![Stretch { baskets: [1, u32::MAX], model: model_of(&input, basket, None), fix: None }]
    } else {
        history.stretches.iter().map(|stretch| stretch_of(&input, stretch)).collect()
    };
    let flowing = stretches.iter().any(|stretch| matches!(stretch.model, StretchModel::Current(_)));
    let set = LearningSet {
        gear,
        stretches,
        times: SetTimes {
            setting: history.setting.map(|span| [span.from_utc, span.to_utc]),
            hauling: history.hauling.map(|span| [span.from_utc, span.to_utc]),
            turn: None,
        },
        latitude_deg: history.latitude_deg,
        current: flowing.then(|| history.current_error.unwrap_or_default()),
        prior: history.prior,
    };
    let mut doubts: Vec<Doubt> = assumed.into_iter().map(|doubt| Doubt::new("assumed", "set", doubt.text)).collect();
    let names = raw.as_object().into_iter().flat_map(|fields| fields.keys());
    for name in names.filter(|name| !FIELDS.contains(&name.as_str())) {
        let text = format!("the field \"{name}\" is not known; it was passed over.");
        doubts.push(Doubt::new("unknown_field", "set", text));
    }
    Ok((set, doubts))
}

fn stretch_of(input: &GearInput, stretch: &StretchInput) -> Stretch {
    let mut basket = stretch.basket.unwrap_or(input.basket);
    basket.sag_ratio = stretch.sag_ratio.unwrap_or(basket.sag_ratio);
    let fix = stretch.buoy_sag_ratio.map(|measured| SagFix {
        bias: measured - basket.sag_ratio,
        error: stretch.buoy_sag_ratio_error.unwrap_or(0.01),
    });
    let model = model_of(input, &basket, stretch.line_bearing_deg_true);
    Stretch { baskets: [stretch.from_basket, stretch.to_basket], model, fix }
}

/// In a current when there is one to speak of, else the closed form for still water.
fn model_of(input: &GearInput, basket: &Basket, bearing_deg_true: Option<f64>) -> StretchModel {
    let water = input.water();
    let flows = water.current.iter().any(|level| level.east_m_s.hypot(level.north_m_s) > 0.0);
    match input.rig() {
        Some(rig) if flows => {
            let options = input.options();
            let line_bearing_deg_true = bearing_deg_true.unwrap_or(options.line_bearing_deg_true);
            let options = HangOptions { line_bearing_deg_true, ..options };
            StretchModel::Current(Box::new((Rig { basket: *basket, ..rig }, water, options)))
        }
        _ => StretchModel::Still(*basket),
    }
}

fn check(history: &History) -> Result<(), Failure> {
    let refuse = |text: String| Err(Failure::BadInput(format!("{text} Nothing was computed.")));
    for (name, span) in [("setting", history.setting), ("hauling", history.hauling)] {
        if let Some(Span { from_utc, to_utc }) = span
            && to_utc < from_utc
        {
            return refuse(format!("{name} ends at {to_utc}, before it begins at {from_utc}."));
        }
    }
    if let Some(latitude_deg) = history.latitude_deg
        && !(-90.0..=90.0).contains(&latitude_deg)
    {
        return refuse(format!("latitude_deg is {latitude_deg}; it must be -90 to 90."));
    }
    if let Some(CurrentError { shear_ln, rotation_deg }) = history.current_error
        && !((0.001..=3.0).contains(&shear_ln) && (0.1..=180.0).contains(&rotation_deg))
    {
        return refuse(format!(
            "current_error is {shear_ln} and {rotation_deg}°; it must be 0.001 to 3 (shear_ln) and 0.1 to 180° (rotation_deg)."
        ));
    }
    for (index, stretch) in history.stretches.iter().enumerate() {
        let number = index + 1;
        if stretch.from_basket == 0 || stretch.to_basket < stretch.from_basket {
            let (from, to) = (stretch.from_basket, stretch.to_basket);
            return refuse(format!("stretch {number} goes from basket {from} to {to}; baskets count upwards from 1."));
        }
        let meets =
            |other: &&StretchInput| other.from_basket <= stretch.to_basket && stretch.from_basket <= other.to_basket;
        if let Some(other) = history.stretches[..index].iter().find(meets) {
            return refuse(format!(
                "stretch {number} shares baskets with the one from {} to {}.",
                other.from_basket, other.to_basket
            ));
        }
        for (field, value, low, high) in [
            ("buoy_sag_ratio", stretch.buoy_sag_ratio, 1e-3, 0.9999),
            ("buoy_sag_ratio_error", stretch.buoy_sag_ratio_error, 1e-4, 0.2),
            ("line_bearing_deg_true", stretch.line_bearing_deg_true, -360.0, 360.0),
        ] {
            if let Some(value) = value
                && !(low..=high).contains(&value)
            {
                return refuse(format!("{field} of stretch {number} is {value}; it must be {low} to {high}."));
            }
        }
    }
    Ok(())
}

/// Every file of a directory but hidden ones and the mapping itself.
fn read_directory(directory: &str, mapping: Option<&str>) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let refuse = |error: std::io::Error| {
        Failure::BadInput(format!(
            "the recorders' directory {directory} cannot be read ({error}); nothing was computed."
        ))
    };
    let same =
        |path: &Path| match (mapping.map(Path::new).and_then(|path| path.canonicalize().ok()), path.canonicalize()) {
            (Some(mapping), Ok(path)) => mapping == path,
            _ => false,
        };
    let mut files = Vec::new();
    for entry in std::fs::read_dir(directory).map_err(refuse)? {
        let path = entry.map_err(refuse)?.path();
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        if name.starts_with('.') || !path.is_file() || same(&path) {
            continue;
        }
        let bytes = std::fs::read(&path).map_err(|error| {
            Failure::BadInput(format!("{} cannot be read ({error}); nothing was computed.", path.display()))
        })?;
        files.push((name, bytes));
    }
    if files.is_empty() {
        return Err(Failure::BadInput(format!("there is no file in {directory}; nothing was computed.")));
    }
    Ok(files)
}

fn print_plain(answer: &Calibration) -> Result<(), Failure> {
    for recorder in &answer.recorders {
        write_line(&recorder_line(recorder))?;
        for doubt in &recorder.doubts {
            write_line(&format!("  Doubt: {}", doubt.text))?;
        }
    }
    if let Some(fit) = &answer.fit {
        write_line(&format!(
            "{} windows of 15 minutes: off by {:.1} m before, {:.1} m after.",
            fit.windows, fit.off_before_m, fit.off_after_m
        ))?;
    }
    for one in &answer.parameters {
        let name = one.stretch.map_or_else(|| one.name.clone(), |stretch| format!("{} of stretch {stretch}", one.name));
        write_line(&match (one.estimate, one.standard_error) {
            (Some(estimate), Some(error)) => {
                format!("{name}: {estimate:+.3} ± {error:.3} (before {:+.3} ± {:.3}).", one.prior, one.prior_error)
            }
            _ => format!("{name}: refused (before {:+.3} ± {:.3}).", one.prior, one.prior_error),
        })?;
    }
    for refusal in &answer.refusals {
        write_line(&format!("Refused: {} {}", refusal.reason, refusal.remedy))?;
    }
    for doubt in &answer.doubts {
        write_line(&format!("Doubt ({}): {}", doubt.concerns, doubt.text))?;
    }
    let boat = &answer.correction;
    write_line(&format!(
        "The boat's correction for gear \"{}\" after {}: sag ratio {:+.3} ± {:.3}, drag-to-weight ratio × {:.2} (÷ or × {:.2}).",
        boat.gear,
        if boat.sets == 1 { "1 set".to_owned() } else { format!("{} sets", boat.sets) },
        boat.sag_bias,
        boat.sag_bias_error,
        boat.drag_to_weight_ln.exp(),
        boat.drag_to_weight_ln_error.exp()
    ))
}

fn recorder_line(recorder: &RecorderReport) -> String {
    let depth =
        |depth_m: Option<f64>| depth_m.map_or_else(|| "unknown".to_owned(), |depth_m| format!("{depth_m:.1} m"));
    let end = recorder.left_out_because.as_ref().map_or_else(String::new, |why| format!(" Left out: {why}."));
    format!(
        "{} in basket {}: soak at {}, model {} before and {} after.{end}",
        recorder.file,
        recorder.basket,
        depth(recorder.observed_m),
        depth(recorder.modelled_before_m),
        depth(recorder.modelled_after_m)
    )
}
