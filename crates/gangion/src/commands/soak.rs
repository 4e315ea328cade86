//! `gangion soak`: the whole line through its soak, where it drifts and how deep every hook hangs meanwhile.

use std::io::Write;

use gear::soak::{Cut, FloatFix, Moment, ProfileAt, RadioBuoy, SoakPlan, SoakReport, Stretch, Wind, follow};
use gear::{GearDoubt, GearError};
use quantity::{Position, geodesic};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use crate::gear_input::{GearInput, gear_failure};
use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_file, write_line};

/// The whole line through its soak: where it drifts and how deep every hook hangs meanwhile.
///
/// Give the line in `stretches` of alike baskets, each with its gear as for `gangion depth`, how many `baskets`, and its course
/// (`line_bearing_deg_true` for all, or `bearings_deg_true` and `spans_m` basket by basket); or `start_positions` of every
/// float. `set_at_s` tells when each float went into the water; without it the line hangs settled at the beginning.
/// `profiles` are currents over depth at moments (`after_s`) and, where they differ along the line, at baskets. Floats drift
/// freely, ends slump inwards, `cuts` make new ends, `radio_buoys` feel `wind` and drogue, `fixes` of floats correct the sag
/// ratio. Not for navigation.
#[derive(clap::Args)]
#[command(after_help = "Example: 40 baskets of 25 hooks for 12 hours in a current that falls off with depth:
  gangion soak --json --out depths.jsonl '{\"stretches\":[{\"baskets\":40,\"line_bearing_deg_true\":70,
    \"basket\":{\"hooks\":25,\"clip_spacing_m\":45,\"sag_ratio\":0.7,\"float_line_m\":25,\"branch_line_m\":25},
    \"main_line\":{\"diameter_mm\":3.6},\"branch\":{\"weight_in_water_n\":0.6,\"drag_area_m2\":0.06},
    \"float_line\":{\"diameter_mm\":6},\"float\":{\"drag_area_m2\":0.018,\"net_buoyancy_n\":110}}],
    \"profiles\":[{\"current\":[{\"depth_m\":0,\"east_m_s\":0.25,\"north_m_s\":0.1},{\"depth_m\":300,\"east_m_s\":0,\"north_m_s\":0}]}],
    \"duration_s\":43200,\"step_s\":60,\"every_s\":3600}'")]
pub struct Args {
    /// The line and the sea: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Write one JSON line for each moment and basket, with the depth of every hook, to this file; the answer itself then
    /// holds no hook depths.
    #[arg(long, value_name = "FILE")]
    out: Option<String>,
    /// Draw the line at the beginning and the end of its soak as SVG into this file.
    #[arg(long, value_name = "FILE")]
    figure: Option<String>,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
}

/// Alike baskets one after the other: their gear, and where they lie.
#[derive(Debug, Deserialize, ToSchema)]
struct StretchInput {
    #[serde(flatten)]
    #[expect(dead_code, reason = "stands in the schema; the gear is read by its own reader")]
    gear: GearInput,
    /// How many baskets.
    baskets: u32,
    /// Course from float to float, degrees true, basket by basket; `line_bearing_deg_true` for all when left out.
    #[serde(default)]
    bearings_deg_true: Vec<f64>,
    /// Distance from float to float, metres, basket by basket; sag ratio × main line when left out.
    #[serde(default)]
    spans_m: Vec<f64>,
}

/// A float's fix: by position, or east and north of the first float's first position.
#[derive(Debug, Deserialize, ToSchema)]
struct FixInput {
    /// Seconds after the beginning.
    after_s: f64,
    /// The float's place in the line, from 0.
    place: u32,
    /// Latitude, degrees; needs `start_positions`.
    #[serde(default)]
    latitude_deg: Option<f64>,
    /// Longitude, degrees.
    #[serde(default)]
    longitude_deg: Option<f64>,
    /// East, metres.
    #[serde(default)]
    east_m: Option<f64>,
    /// North, metres.
    #[serde(default)]
    north_m: Option<f64>,
}

/// A position of a float.
#[derive(Debug, Clone, Copy, Serialize, Deserialize, ToSchema)]
struct PositionInput {
    /// Latitude, degrees, north positive.
    latitude_deg: f64,
    /// Longitude, degrees, east positive.
    longitude_deg: f64,
}

/// What `soak` reads. Fields that are not known are passed over.
#[derive(Debug, Deserialize, ToSchema)]
struct SoakInput {
    /// The line in setting order.
    stretches: Vec<StretchInput>,
    /// Where every float went in, one more than baskets; they replace spans and bearings.
    #[serde(default)]
    start_positions: Option<Vec<PositionInput>>,
    /// When each float went in, seconds after the beginning, one more than baskets.
    #[serde(default)]
    set_at_s: Vec<f64>,
    /// Radio buoys beside the floats.
    #[serde(default)]
    radio_buoys: Vec<RadioBuoy>,
    /// Cuts and gaps.
    #[serde(default)]
    cuts: Vec<Cut>,
    /// The current over depth, along the line and over time.
    #[serde(default)]
    profiles: Vec<ProfileAt>,
    /// The wind over time.
    #[serde(default)]
    wind: Vec<Wind>,
    /// Fixes of floats.
    #[serde(default)]
    fixes: Vec<FixInput>,
    /// How long, seconds.
    duration_s: f64,
    /// Step in time, seconds; 60 when left out.
    #[serde(default = "a_minute")]
    step_s: f64,
    /// How often the line is told, seconds; an hour when left out.
    #[serde(default = "an_hour")]
    every_s: f64,
    /// Straight elements for each clip interval; 1 when left out.
    #[serde(default = "one")]
    elements_per_interval: u32,
}

/// The line through its soak.
#[derive(Debug, Serialize, ToSchema)]
struct SoakAnswer {
    /// The model that these numbers come from.
    model: String,
    /// The line at the beginning, at every interval asked for, and at the end.
    moments: Vec<MomentOut>,
    /// What it took, what fixes corrected, what is not certain.
    #[serde(flatten)]
    report: SoakReport,
}

/// A moment, with positions where the line began at known ones.
#[derive(Debug, Serialize, ToSchema)]
struct MomentOut {
    #[serde(flatten)]
    moment: Moment,
    /// Where every float is, in the order of `floats`; none without `start_positions`.
    float_positions: Option<Vec<PositionInput>>,
}

/// One line of `--out`.
#[derive(Serialize)]
struct Row<'a> {
    after_s: f64,
    #[serde(flatten)]
    basket: &'a gear::soak::BasketNow,
}

/// Runs the command.
///
/// # Errors
/// Bad input for a line or a sea that cannot be; a failure when no balance is found in some step, or FILE cannot be written.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<SoakInput, SoakAnswer>("gangion soak");
    }
    let raw: Value = parse_json(&read_text(args.input.as_deref())?, "the line")?;
    let input = SoakInput::deserialize(&raw)
        .map_err(|error| Failure::BadInput(format!("the line is not understood: {error}.")))?;
    let places = input.start_positions.as_deref().map(positions).transpose()?;
    let (plan, mut doubts) = plan(&raw, &input, places.as_deref())?;
    let starts = starts(&plan);
    let mut out = args.out.as_deref().map(create).transpose()?;
    let mut moments = Vec::new();
    let mut broken = None;
    let bar = progress(&plan);
    let mut report = follow(&plan, |mut moment| {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "seconds, at most 30 days")]
        bar.set_position(moment.after_s.max(0.0) as u64);
        if let Some(file) = out.as_mut() {
            for basket in &mut moment.baskets {
                let written = serde_json::to_writer(&mut *file, &Row { after_s: moment.after_s, basket })
                    .map_err(std::io::Error::from)
                    .and_then(|()| file.write_all(b"\n"));
                broken = broken.take().or(written.err());
                basket.hook_depths_m.clear();
            }
        }
        let float_positions = places.as_deref().map(|places| drifted(places, &starts, &moment));
        moments.push(MomentOut { moment, float_positions });
    })
    .map_err(gear_failure)?;
    bar.finish_and_clear();
    if let (Some(file), Some(name)) = (out.as_mut(), args.out.as_deref()) {
        let ended = broken.map_or_else(|| file.flush(), Err);
        ended.map_err(|error| Failure::Failed(format!("{name} cannot be written ({error}); it may hold a part.")))?;
    }
    doubts.append(&mut report.doubts);
    report.doubts = doubts;
    let answer = SoakAnswer { model: gear::soak::MODEL.to_owned(), moments, report };
    if let (Some(name), Some(first), Some(last)) = (&args.figure, answer.moments.first(), answer.moments.last()) {
        // The first moment with the most baskets: while it is set, a line is not whole yet.
        let most = answer.moments.iter().map(|at| at.moment.baskets.len()).max().unwrap_or(0);
        let whole = answer.moments.iter().find(|at| at.moment.baskets.len() == most).unwrap_or(first);
        write_file(name, &records::gear_figure::soaked_line(&whole.moment, &last.moment))?;
    }
    if args.json { print_json(&answer) } else { print_plain(&answer) }
}

/// The plan as the mechanics wants it.
fn plan(raw: &Value, input: &SoakInput, places: Option<&[Position]>) -> Result<(SoakPlan, Vec<GearDoubt>), Failure> {
    let mut doubts: Vec<GearDoubt> = Vec::new();
    let mut stretches = Vec::new();
    let mut water = None;
    let mut profiles = input.profiles.clone();
    let mut next = 0_usize;
    for (index, stretch) in input.stretches.iter().enumerate() {
        let what = format!("stretch {}", index + 1);
        let (gear, assumed) = GearInput::of(&raw["stretches"][index], &what)?;
        for doubt in assumed {
            if !doubts.contains(&doubt) {
                doubts.push(doubt);
            }
        }
        let rig = gear.rig().ok_or_else(|| {
            Failure::bad_input(GearError::Missing {
                field: "main_line",
                why: "the line drifts and hangs by weight and drag: give main_line and branch for every stretch.",
            })
        })?;
        let own = gear.water();
        if profiles.is_empty() && !own.current.is_empty() {
            profiles.push(ProfileAt { after_s: 0.0, basket: None, current: own.current.clone() });
        }
        water.get_or_insert(own);
        let baskets = stretch.baskets as usize;
        let (bearings_deg_true, spans_m) = match places {
            Some(places) => legs(places, next, baskets)?,
            None if stretch.bearings_deg_true.is_empty() => {
                (vec![gear.parts.line_bearing_deg_true], stretch.spans_m.clone())
            }
            None => (stretch.bearings_deg_true.clone(), stretch.spans_m.clone()),
        };
        for (name, given) in [("bearings_deg_true", bearings_deg_true.len()), ("spans_m", spans_m.len())] {
            if given > 1 && given != baskets {
                return Err(Failure::BadInput(format!(
                    "{what} has {baskets} baskets and {given} {name}; give one for each basket or none. Nothing was computed."
                )));
            }
        }
        next += baskets;
        stretches.push(Stretch { rig, baskets: stretch.baskets, bearings_deg_true, spans_m });
    }
    if let Some(places) = places.filter(|places| places.len() != next + 1) {
        return Err(Failure::BadInput(format!(
            "start_positions holds {} floats and {next} baskets have {}; nothing was computed.",
            places.len(),
            next + 1
        )));
    }
    let mut plan = SoakPlan {
        stretches,
        float_times_s: input.set_at_s.clone(),
        radio_buoys: input.radio_buoys.clone(),
        cuts: input.cuts.clone(),
        water: water.unwrap_or_default(),
        profiles,
        wind: input.wind.clone(),
        fixes: Vec::new(),
        duration_s: input.duration_s,
        step_s: input.step_s,
        every_s: input.every_s,
        elements_per_interval: input.elements_per_interval,
    };
    let starts = starts(&plan);
    plan.fixes = input.fixes.iter().map(|fix| fixed(fix, places, &starts)).collect::<Result<_, _>>()?;
    Ok((plan, doubts))
}

/// A fix in the plane of the line.
fn fixed(fix: &FixInput, places: Option<&[Position]>, starts: &[[f64; 2]]) -> Result<FloatFix, Failure> {
    let at = |east_m, north_m| FloatFix { after_s: fix.after_s, place: fix.place, east_m, north_m };
    if let (Some(east_m), Some(north_m)) = (fix.east_m, fix.north_m) {
        return Ok(at(east_m, north_m));
    }
    let unknown = || {
        Failure::BadInput(format!(
            "the fix of float {} after {} s has no place: give east_m and north_m, or latitude_deg and longitude_deg with start_positions of the line.",
            fix.place, fix.after_s
        ))
    };
    let (Some(latitude_deg), Some(longitude_deg), Some(places)) = (fix.latitude_deg, fix.longitude_deg, places) else {
        return Err(unknown());
    };
    let index = fix.place as usize;
    let (Some(from), Some(start)) = (places.get(index), starts.get(index)) else { return Err(unknown()) };
    let to = Position::new(latitude_deg, longitude_deg).map_err(Failure::bad_input)?;
    let leg = geodesic::inverse(*from, to);
    let (sin, cos) = leg.bearing_start_deg.to_radians().sin_cos();
    Ok(at(start[0] + leg.distance_m * sin, start[1] + leg.distance_m * cos))
}

/// East and north of every float at its start, metres.
fn starts(plan: &SoakPlan) -> Vec<[f64; 2]> {
    let mut here = [0.0; 2];
    let mut all = vec![here];
    for stretch in &plan.stretches {
        let basket = &stretch.rig.basket;
        let intervals = f64::from(basket.hooks + u32::from(basket.float_takes_a_beat));
        let usual_m = basket.sag_ratio * intervals * basket.clip_spacing_m;
        for index in 0..stretch.baskets as usize {
            let bearing = stretch.bearings_deg_true.get(index).or(stretch.bearings_deg_true.last()).copied();
            let (sin, cos) = bearing.unwrap_or(0.0).to_radians().sin_cos();
            let span_m = stretch.spans_m.get(index).copied().unwrap_or(usual_m);
            here = [here[0] + span_m * sin, here[1] + span_m * cos];
            all.push(here);
        }
    }
    all
}

/// Where the floats are now: each from its own start on by what it drifted.
fn drifted(places: &[Position], starts: &[[f64; 2]], moment: &Moment) -> Vec<PositionInput> {
    moment
        .floats
        .iter()
        .filter_map(|float| {
            let (from, start) = (places.get(float.place as usize)?, starts.get(float.place as usize)?);
            let (east_m, north_m) = (float.east_m - start[0], float.north_m - start[1]);
            let bearing_deg_true = east_m.atan2(north_m).to_degrees().rem_euclid(360.0);
            let to = geodesic::direct(*from, bearing_deg_true, east_m.hypot(north_m)).ok()?.position;
            Some(PositionInput { latitude_deg: to.latitude_deg(), longitude_deg: to.longitude_deg() })
        })
        .collect()
}

fn positions(given: &[PositionInput]) -> Result<Vec<Position>, Failure> {
    given.iter().map(|at| Position::new(at.latitude_deg, at.longitude_deg).map_err(Failure::bad_input)).collect()
}

/// Bearings and spans from float to float.
fn legs(places: &[Position], first: usize, baskets: usize) -> Result<(Vec<f64>, Vec<f64>), Failure> {
    let Some(own) = places.get(first..=first + baskets) else {
        return Err(Failure::BadInput(format!(
            "start_positions holds {} floats, too few for the baskets of the stretches; nothing was computed.",
            places.len()
        )));
    };
    Ok(own
        .windows(2)
        .map(|pair| {
            let leg = geodesic::inverse(pair[0], pair[1]);
            (leg.bearing_start_deg, leg.distance_m)
        })
        .unzip())
}

fn create(name: &str) -> Result<std::io::BufWriter<std::fs::File>, Failure> {
    std::fs::File::create(name)
        .map(std::io::BufWriter::new)
        .map_err(|error| Failure::Failed(format!("{name} cannot be written ({error}); nothing was computed.")))
}

/// A bar on a terminal, nothing when piped.
fn progress(plan: &SoakPlan) -> indicatif::ProgressBar {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "seconds, checked by the plan")]
    let length = plan.duration_s.clamp(0.0, 1e9) as u64;
    indicatif::ProgressBar::with_draw_target(Some(length), indicatif::ProgressDrawTarget::stderr())
}

fn print_plain(answer: &SoakAnswer) -> Result<(), Failure> {
    write_line(&format!("Model: {}. Not for navigation.", answer.model))?;
    for MomentOut { moment, .. } in &answer.moments {
        let baskets = &moment.baskets;
        let Some(middle) = baskets.get(baskets.len() / 2) else {
            write_line(&format!("{:>6.2} h: no basket in the water yet.", moment.after_s / 3600.0))?;
            continue;
        };
        let deepest_m = baskets.iter().map(|basket| basket.deepest_hook_m).fold(0.0, f64::max);
        let ends = baskets.first().zip(baskets.last());
        let (first, last) = ends.map_or((0.0, 0.0), |(first, last)| (first.sag_ratio, last.sag_ratio));
        write_line(&format!(
            "{:>6.2} h: {} baskets; sag ratio {first:.3} at the first, {:.3} in the middle, {last:.3} at the last; deepest hook {:.0} m in the middle, {deepest_m:.0} m in all; drift in the middle {:.2} m/s.",
            moment.after_s / 3600.0,
            baskets.len(),
            middle.sag_ratio,
            middle.deepest_hook_m,
            middle.drift.east_m_s.hypot(middle.drift.north_m_s),
        ))?;
    }
    for correction in &answer.report.corrections {
        write_line(&format!(
            "From float {} to float {}: sag ratio {:.3} computed, {:.3} by the fixes.",
            correction.from_place, correction.to_place, correction.sag_ratio_computed, correction.sag_ratio_measured
        ))?;
    }
    for doubt in &answer.report.doubts {
        write_line(&format!("Doubt: {}", doubt.text))?;
    }
    Ok(())
}

const fn a_minute() -> f64 {
    60.0
}

const fn an_hour() -> f64 {
    3600.0
}

const fn one() -> u32 {
    1
}
