//! `gangion advise`: what the boat should do. `advise gear`: which gear puts most hooks into a band of depth.

use std::sync::atomic::{AtomicUsize, Ordering};

use gear::advise::{
    Advice, CANDIDATES, CURRENT_CHANGE_M_S, LimitsGiven, PLANS, Parts, Plan, Question, Search, TargetBand, Tried,
};
use gear::{EndsHeld, GearDoubt, GearDoubtKind, InputErrors};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use serde::Deserialize;
use serde_json::Value;
use utoipa::ToSchema;

use crate::gear_input::PartsInput;
use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_line};

/// What the boat should do.
#[derive(clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(clap::Subcommand)]
enum What {
    Gear(GearArgs),
}

/// Which gear puts most hooks of the whole set into a band of depth, within what the boat can do.
///
/// Some 2,000 gears or more (hooks per basket × sag ratio × float line × clip spacing) are paced by the line setter's
/// arithmetic, as fast as the limits let them, and hung in the current as rows that drift freely. Shown are the best that differ
/// from each other, with line, time and floats needed, and how many hooks stay in the band when the current is 0.1 m/s
/// different. Without `main_line`, `branch` and `water` the depths are for still water. Limits that are left out are taken
/// from common practice, and each is told.
#[derive(clap::Args)]
#[command(
    after_help = "Example: most hooks between 200 and 300 m, 80 km of line, 2,400 hooks, five hours, in a current that turns with depth:
  gangion advise gear --json '{\"target\":{\"from_m\":200,\"to_m\":300},\"branch_line_m\":25,\"line_bearing_deg_true\":90,
    \"main_line\":{\"diameter_mm\":3.6},\"branch\":{\"weight_in_water_n\":0.6,\"drag_area_m2\":0.06},
    \"float_line\":{\"diameter_mm\":6},\"float\":{\"drag_area_m2\":0.018,\"net_buoyancy_n\":110},
    \"water\":{\"current\":[{\"depth_m\":0,\"east_m_s\":0.3,\"north_m_s\":0},{\"depth_m\":250,\"east_m_s\":0,\"north_m_s\":-0.1}]},
    \"limits\":{\"vessel_speed_through_water_kn\":{\"from\":6,\"to\":9},\"shooter_speed_max_m_s\":7,\"line_aboard_m\":80000,
      \"hooks_aboard\":2400,\"floats_aboard\":120,\"setting_time_max_s\":18000,\"beat_s\":{\"from\":6,\"to\":10},
      \"hooks_per_basket\":{\"from\":10,\"to\":30},\"sag_ratio\":{\"from\":0.5,\"to\":0.9},\"float_lines_m\":[20,30]}}'"
)]
pub struct GearArgs {
    /// Gear, band and limits: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
    /// Cores to use, 1 to 64; all when left out. The answer is the same.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=64))]
    threads: Option<u16>,
}

/// Gear, band and limits. Fields that are not known are passed over and told.
#[derive(Debug, Deserialize, ToSchema)]
struct AdviceInput {
    #[serde(flatten)]
    #[expect(dead_code, reason = "stands in the schema; the gear is read by its own reader")]
    gear: PartsInput,
    /// Length of the branch lines, metres.
    branch_line_m: f64,
    /// Whether the float has a clip beat of its own (when left out), or is clipped between two beats.
    #[serde(default = "yes")]
    float_takes_a_beat: bool,
    /// Where the hooks shall hang.
    target: TargetBand,
    /// What the boat can do.
    #[serde(default)]
    limits: LimitsGiven,
    /// Standard errors of the input, for the bands of the hooks.
    #[serde(default)]
    errors: InputErrors,
    /// By how much the current may differ, m/s; 0.1 when left out.
    #[serde(default = "current_change")]
    current_change_m_s: f64,
    /// Plans to show at most, 1 to 50; 5 when left out.
    #[serde(default = "plans")]
    plans: u32,
    /// Gears to hang at least, 1 to 50,000; 2,000 when left out.
    #[serde(default = "candidates")]
    candidates: u32,
}

/// The names of the fields of [`AdviceInput`].
const FIELDS: [&str; 14] = [
    "main_line",
    "branch",
    "float_line",
    "float",
    "water",
    "line_bearing_deg_true",
    "branch_line_m",
    "float_takes_a_beat",
    "target",
    "limits",
    "errors",
    "current_change_m_s",
    "plans",
    "candidates",
];

/// Runs the command.
///
/// # Errors
/// Bad input when it is not understood, or holds numbers that gear, boat or sea cannot have.
pub fn run(args: &Args) -> Result<(), Failure> {
    let What::Gear(args) = &args.what;
    if args.schema {
        return print_schema::<AdviceInput, Advice>("gangion advise gear");
    }
    let (question, doubts) = read(&read_text(args.input.as_deref())?)?;
    let search = Search::new(question).map_err(Failure::bad_input)?;
    let tried = try_all(&search, args.threads)?;
    let mut advice = search.advice(tried);
    advice.doubts.splice(0..0, doubts);
    if args.json { print_json(&advice) } else { print_plain(&advice) }
}

fn read(text: &str) -> Result<(Question, Vec<GearDoubt>), Failure> {
    let what = "the question";
    let raw: Value = parse_json(text, what)?;
    let gear = PartsInput::of(&raw, what)?;
    let mut doubts = gear.assumed(&raw, EndsHeld::Drifting);
    let input = AdviceInput::deserialize(&raw)
        .map_err(|error| Failure::BadInput(format!("{what} is not understood: {error}.")))?;
    let (limits, taken) = input.limits.settle().map_err(Failure::bad_input)?;
    if !taken.is_empty() {
        let text = format!("Not given and taken from common practice: {}.", taken.join(", "));
        doubts.push(GearDoubt::new(GearDoubtKind::Assumed, text));
    }
    doubts.extend(unknown(&raw, "", &FIELDS));
    if let Some(limits) = raw.get("limits") {
        doubts.extend(unknown(limits, "limits.", &LimitsGiven::FIELDS));
    }
    let question = Question {
        parts: gear.main_line.zip(gear.branch).map(|(main_line, branch)| Parts {
            main_line,
            branch,
            float_line: gear.float_line,
            float: gear.float,
        }),
        water: gear.water.unwrap_or_default(),
        line_bearing_deg_true: gear.line_bearing_deg_true,
        branch_line_m: input.branch_line_m,
        float_takes_a_beat: input.float_takes_a_beat,
        target: input.target,
        limits,
        errors: input.errors,
        current_change_m_s: input.current_change_m_s,
        plans: input.plans,
        candidates: input.candidates,
    };
    Ok((question, doubts))
}

/// Fields that are not known.
fn unknown(raw: &Value, before: &str, known: &[&str]) -> Vec<GearDoubt> {
    let names = raw.as_object().into_iter().flat_map(serde_json::Map::keys);
    names
        .filter(|name| !known.contains(&name.as_str()))
        .map(|name| {
            let text = format!("{before}{name} is not a field that advice knows; it was passed over.");
            GearDoubt::new(GearDoubtKind::UnknownField, text)
        })
        .collect()
}

/// Hangs all gears, each core taking the next run as it is done with one.
fn try_all(search: &Search, threads: Option<u16>) -> Result<Vec<Tried>, Failure> {
    let threads = threads.map_or_else(|| std::thread::available_parallelism().map_or(1, usize::from), usize::from);
    let threads = threads.clamp(1, search.runs().max(1));
    let bar = progress(search.candidates());
    let next = AtomicUsize::new(0);
    let work = || {
        let mut tried = Vec::new();
        loop {
            let run = next.fetch_add(1, Ordering::Relaxed);
            if run >= search.runs() {
                return tried;
            }
            let found = search.try_run(run);
            bar.inc(u64::try_from(found.len()).unwrap_or(0));
            tried.extend(found);
        }
    };
    let tried = std::thread::scope(|scope| {
        let helpers: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
        let mut tried = work();
        for helper in helpers {
            let found = helper
                .join()
                .map_err(|_| Failure::Failed("a part of the search broke off; nothing was computed.".to_owned()))?;
            tried.extend(found);
        }
        Ok(tried)
    });
    bar.finish_and_clear();
    tried
}

/// A bar on a terminal; nothing when piped.
fn progress(length: usize) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(u64::try_from(length).unwrap_or(0)), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template("{wide_bar} {pos} of {len} gears") {
        bar.set_style(style);
    }
    bar
}

fn print_plain(advice: &Advice) -> Result<(), Failure> {
    let (target, searched) = (advice.target, &advice.searched);
    write_line(&format!("Model: {}.", advice.model))?;
    write_line(&format!(
        "{} gears of {} fit the limits and were tried; {} of all were left out.",
        searched.tried,
        searched.grid,
        searched.left_out.iter().map(|out| out.count).sum::<usize>()
    ))?;
    if let Some(why) = &advice.no_plan_because {
        write_line(why)?;
    }
    for (place, plan) in advice.plans.iter().enumerate() {
        print_plan(place + 1, plan, target)?;
    }
    for doubt in &advice.doubts {
        write_line(&format!("Doubt: {}", doubt.text))?;
    }
    Ok(())
}

fn print_plan(place: usize, plan: &Plan, target: TargetBand) -> Result<(), Failure> {
    let surely =
        plan.hooks_surely_in_band.map_or_else(String::new, |hooks| format!(", {hooks} of them with all of their ±"));
    write_line(&format!(
        "{place}. {} of {} hooks between {} and {} m{surely}; hooks from {:.0} to {:.0} m.",
        plan.hooks_in_band, plan.hooks, target.from_m, target.to_m, plan.shallowest_hook_m, plan.deepest_hook_m
    ))?;
    write_line(&format!(
        "   {} hooks a basket, sag ratio {}, float lines {} m, {} m between clips; {} baskets, {} floats.",
        plan.hooks_per_basket, plan.sag_ratio, plan.float_line_m, plan.clip_spacing_m, plan.baskets, plan.floats
    ))?;
    write_line(&format!(
        "   Ship {:.1} kn through the water, shooter {:.2} m/s, a clip every {:.1} s; {:.1} km of line in {:.1} h.",
        plan.vessel_speed_through_water_kn,
        plan.shooter_speed_m_s,
        plan.beat_s,
        plan.main_line_m / 1000.0,
        plan.setting_time_s / 3600.0
    ))?;
    if let Some(worst) = &plan.worst {
        let left = worst.hooks_in_band.map_or_else(|| "no balanced shape".to_owned(), |hooks| format!("{hooks} hooks"));
        write_line(&format!("   At worst {left}: {}.", worst.text))?;
    }
    for doubt in &plan.doubts {
        write_line(&format!("   Doubt: {}", doubt.text))?;
    }
    Ok(())
}

const fn yes() -> bool {
    true
}

const fn current_change() -> f64 {
    CURRENT_CHANGE_M_S
}

const fn plans() -> u32 {
    PLANS
}

const fn candidates() -> u32 {
    CANDIDATES
}
