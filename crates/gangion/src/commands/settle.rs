//! `gangion settle`: how the hooks of a basket sink, when each has settled, and how long each fishes at its depth.

use gear::sink::{HOOK_SINK_M_S, Laid, SinkMethod, SinkPlan, Sunk, sink_basket};
use gear::{GearDoubt, GearDoubtKind, GearError, Rig};
use quantity::UtcInstant;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::gear_input::{GearInput, gear_failure};
use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_file, write_line};
use crate::settle_times::{HookTimes, Times, TimesInput};

/// How the hooks of a basket sink, when each has settled, and how long each fishes at its depth.
///
/// Give the gear as for `gangion depth`; `main_line.diameter_mm` and `branch.weight_in_water_n` are needed. With `beat_s`
/// (seconds from clip to clip) the line goes over the stern clip by clip, each hook sinking by itself until its branch line is
/// stretched; without it the basket is laid flat all at once at the depth of the float line's end. A hook has settled when
/// `settled_at_fraction` (0.98) of its way is done for good. Hooks 30 to 60 minutes under way are not at fishing depth:
/// `fishing_s` counts from settled to lifted, when the times of clipping and lifting are known.
#[derive(clap::Args)]
#[command(after_help = "Example: 15 hooks of 0.6 N; the middle one takes 33 minutes to its 276 m:
  gangion settle --json '{\"basket\":{\"hooks\":15,\"clip_spacing_m\":45,\"sag_ratio\":0.7,\"float_line_m\":20,\"branch_line_m\":25},
    \"main_line\":{\"diameter_mm\":3.6},\"branch\":{\"weight_in_water_n\":0.6},\"beat_s\":7,
    \"setting_started_at\":\"2026-03-04T18:00:00Z\",\"hauling_started_at\":\"2026-03-05T04:00:00Z\",\"hauling_beat_s\":12}'")]
pub struct Args {
    /// The gear and its times: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Draw the hooks on their way down as SVG into this file.
    #[arg(long, value_name = "FILE")]
    figure: Option<String>,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
}

/// How the basket comes into the water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum LaidHow {
    /// All at once at the depth of the float line's end, branch lines stretched.
    Flat,
    /// Clip by clip over the stern, every `beat_s`.
    OverTheStern,
}

/// What `settle` reads beside the gear.
#[derive(Debug, Deserialize, ToSchema)]
struct SinkInput {
    /// Seconds from clip to clip at setting.
    #[serde(default)]
    beat_s: Option<f64>,
    /// How the basket comes into the water; over the stern when left out and `beat_s` is given, flat without.
    #[serde(default)]
    laid: Option<LaidHow>,
    /// The line followed in time (when left out), or the formula.
    #[serde(default)]
    method: SinkMethod,
    /// Share of its way after which a hook has settled, above 0 and below 1; 0.98 when left out.
    #[serde(default = "nearly_all")]
    settled_at_fraction: f64,
    /// How fast a hook sinks until its branch line is stretched, m/s; 0.187 when left out.
    #[serde(default)]
    hook_sink_speed_m_s: Option<f64>,
    /// Seconds after clipping for `depth_at`; every 300 s up to an hour when left out.
    #[serde(default)]
    depth_after_s: Option<Vec<f64>>,
}

/// The gear, how it is set, and the times of its hooks. Fields that are not known are passed over.
#[derive(Debug, Deserialize, ToSchema)]
struct SettleInput {
    #[serde(flatten)]
    #[expect(dead_code, reason = "stands in the schema; the gear is read by its own reader")]
    gear: GearInput,
    #[serde(flatten)]
    sink: SinkInput,
    #[serde(flatten)]
    times: TimesInput,
}

/// How the hooks of a basket sink.
#[derive(Debug, Serialize, ToSchema)]
struct SettleAnswer {
    /// The model that these numbers come from.
    model: String,
    /// How the basket came into the water.
    laid: LaidHow,
    /// Speed at which the main line sinks level with its branch lines spread along it, m/s.
    terminal_speed_m_s: f64,
    /// From the lower end of the float lines to the deepest point of the main line at rest, metres.
    sag_m: f64,
    /// Until the deepest hook has done 98 % of its way, from its clipping, seconds.
    t98_s: Option<f64>,
    /// The same by the formula 0.9 × sag ÷ terminal speed, seconds.
    t98_by_law_s: f64,
    /// Every hook in setting order.
    hooks: Vec<SettledHook>,
    /// What is not certain.
    doubts: Vec<GearDoubt>,
}

/// One hook.
#[derive(Debug, Serialize, ToSchema)]
struct SettledHook {
    /// Hook position in setting order, from 1.
    position: u32,
    /// When it was clipped, seconds after the first float.
    clipped_s: f64,
    /// When it had settled, seconds after the first float; none when it did not within the time followed.
    settled_s: Option<f64>,
    /// From clipped to settled, seconds.
    sinking_s: Option<f64>,
    /// Depth at rest, metres.
    depth_m: f64,
    /// Depth on the way.
    depth_at: Vec<DepthAfter>,
    /// When it was clipped.
    clipped_at: Option<UtcInstant>,
    /// When it had settled.
    settled_at: Option<UtcInstant>,
    /// When it was lifted.
    lifted_at: Option<UtcInstant>,
    /// From settled to lifted, seconds; 0 when it was lifted before; none when its times are not known.
    fishing_s: Option<f64>,
}

/// A depth on the way.
#[derive(Debug, Serialize, ToSchema)]
struct DepthAfter {
    /// Seconds after clipping.
    after_s: f64,
    /// Depth, metres.
    depth_m: f64,
}

/// Runs the command.
///
/// # Errors
/// Bad input when weights or sizes are missing or outside what gear can be; a failure when no balanced shape is found.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<SettleInput, SettleAnswer>("gangion settle");
    }
    let what = "the gear and its setting";
    let raw = parse_json(&read_text(args.input.as_deref())?, what)?;
    let (gear, doubts) = GearInput::of(&raw, what)?;
    let rig = gear.rig().ok_or_else(|| {
        Failure::bad_input(GearError::Missing {
            field: "main_line.diameter_mm",
            why: "how fast gear sinks follows from the diameter of the main line and from branch.weight_in_water_n. Give both.",
        })
    })?;
    let input: SettleInput = serde_json::from_value(raw)
        .map_err(|error| Failure::BadInput(format!("{what} is not understood: {error}.")))?;
    let (answer, sunk) = settle(&gear, &rig, &input, doubts)?;
    if let Some(name) = &args.figure {
        write_file(name, &figure(&sunk))?;
    }
    if args.json { print_json(&answer) } else { print_plain(&answer) }
}

fn settle(
    gear: &GearInput,
    rig: &Rig,
    input: &SettleInput,
    mut doubts: Vec<GearDoubt>,
) -> Result<(SettleAnswer, Sunk), Failure> {
    let sink = &input.sink;
    let (laid, plan) = plan(sink)?;
    let times = Times::of(&input.times, rig)?;
    let (water, options) = (gear.water(), gear.options());
    let sunk = sink_basket(rig, &water, &options, &plan).map_err(gear_failure)?;
    // Bands are no part of this; what else is uncertain about the depths holds here too.
    let of_depths = gear::doubt::about(&sunk.hung, rig, &water, &options);
    doubts.extend(
        of_depths
            .into_iter()
            .filter(|doubt| !matches!(doubt.kind, GearDoubtKind::BandUnknown | GearDoubtKind::NoCurrent)),
    );
    doubts.extend(times.doubts.iter().cloned());
    doubts.extend(settling_doubts(&sunk, &plan));
    let marks_s =
        sink.depth_after_s.clone().unwrap_or_else(|| (1..=12).map(|count| 300.0 * f64::from(count)).collect());
    let mut early = Vec::new();
    let mut hooks = Vec::new();
    for hook in &sunk.hooks {
        let HookTimes { clipped_at, lifted_at } = times.of_hook(hook.position, hook.clipped_s)?;
        let lifted_after_s = clipped_at.zip(lifted_at).map(|(clipped, lifted)| lifted.seconds_since(clipped));
        let fishing_s = lifted_after_s.map(|after_s| hook.fishing_s(after_s));
        if fishing_s.is_some_and(|fishing_s| fishing_s <= 0.0) {
            early.push(hook.position.to_string());
        }
        hooks.push(SettledHook {
            position: hook.position,
            clipped_s: hook.clipped_s,
            settled_s: hook.settled_s,
            sinking_s: hook.sinking_s(),
            depth_m: hook.depth_m,
            depth_at: marks_s
                .iter()
                .map(|after_s| DepthAfter { after_s: *after_s, depth_m: hook.depth_after(*after_s) })
                .collect(),
            clipped_at,
            settled_at: clipped_at.zip(hook.sinking_s()).map(|(clipped, sinking_s)| clipped.plus_seconds(sinking_s)),
            lifted_at,
            fishing_s,
        });
    }
    if !early.is_empty() {
        let text = format!("Lifted before they had settled, so their fishing time is 0: hooks {}.", early.join(", "));
        doubts.push(GearDoubt::new(GearDoubtKind::LiftedEarly, text));
    }
    let answer = SettleAnswer {
        model: sunk.model.to_owned(),
        laid,
        terminal_speed_m_s: sunk.terminal_speed_m_s,
        sag_m: sunk.hung.sag_m,
        t98_s: sunk.t98_s,
        t98_by_law_s: sunk.t98_by_law_s,
        hooks,
        doubts,
    };
    Ok((answer, sunk))
}

/// Depth of every hook against time, until a while after the last has settled.
fn figure(sunk: &Sunk) -> String {
    const POINTS: u32 = 160;
    let hooks = || sunk.hooks.iter();
    let settled: Vec<(u32, f64)> = hooks().filter_map(|hook| Some((hook.position, hook.settled_s?))).collect();
    let longest_s = settled.iter().map(|mark| mark.1).fold(1.2 * sunk.t98_by_law_s, f64::max) * 1.15;
    let tracks: Vec<(u32, Vec<(f64, f64)>)> = hooks()
        .map(|hook| {
            let step_s = (longest_s - hook.clipped_s) / f64::from(POINTS);
            let after = (0..=POINTS).map(|point| f64::from(point) * step_s);
            let track = after.map(|after_s| (hook.clipped_s + after_s, hook.depth_after(after_s))).collect();
            (hook.position, track)
        })
        .collect();
    records::gear_figure::settling(&tracks, &settled)
}

fn plan(input: &SinkInput) -> Result<(LaidHow, SinkPlan), Failure> {
    let how = input.laid.unwrap_or(if input.beat_s.is_some() { LaidHow::OverTheStern } else { LaidHow::Flat });
    let laid = match (how, input.beat_s) {
        (LaidHow::Flat, _) => Laid::Flat,
        (LaidHow::OverTheStern, Some(beat_s)) => Laid::OverTheStern { beat_s },
        (LaidHow::OverTheStern, None) => {
            let why = "a basket that goes over the stern does so clip by clip. Give the seconds from clip to clip.";
            return Err(Failure::bad_input(GearError::Missing { field: "beat_s", why }));
        }
    };
    if let Some(marks_s) = &input.depth_after_s
        && let Some(value) = marks_s.iter().find(|after_s| !(0.0..=1e6).contains(*after_s))
    {
        let (field, rule) = ("depth_after_s", "from 0 to 1000000 s");
        return Err(Failure::bad_input(GearError::OutOfRange { field, value: *value, unit: " s", rule }));
    }
    let plan = SinkPlan {
        laid,
        method: input.method,
        settled_at_fraction: input.settled_at_fraction,
        hook_sink_speed_m_s: input.hook_sink_speed_m_s.unwrap_or(HOOK_SINK_M_S),
    };
    Ok((how, plan))
}

fn settling_doubts(sunk: &Sunk, plan: &SinkPlan) -> Vec<GearDoubt> {
    let mut doubts = Vec::new();
    let mut doubt = |kind, text: String| doubts.push(GearDoubt::new(kind, text));
    match plan.method {
        SinkMethod::Law => doubt(
            GearDoubtKind::SettlingTimes,
            "Settling times come from a formula that was fitted to one basket laid flat in still water; each hook is \
             taken by itself."
                .to_owned(),
        ),
        SinkMethod::Computed => doubt(
            GearDoubtKind::SettlingTimes,
            format!(
                "Settling times are computed with {} elements for each clip interval and are good to some 15 %: a \
                 lumped-mass code settles one and the same basket 10 to 17 % sooner with 4 and 8 elements than with 2, and \
                 by as much sooner or later as its slack lies otherwise at the start.",
                sunk.hung.elements_per_interval
            ),
        ),
    }
    let never: Vec<String> =
        sunk.hooks.iter().filter(|hook| hook.settled_s.is_none()).map(|hook| hook.position.to_string()).collect();
    if !never.is_empty() {
        let text = format!("Not settled within the time that was followed: hooks {}.", never.join(", "));
        doubt(GearDoubtKind::NotSettled, text);
    }
    doubts
}

fn print_plain(answer: &SettleAnswer) -> Result<(), Failure> {
    write_line(&format!("Model: {}.", answer.model))?;
    let t98 =
        answer.t98_s.map_or("not within the time followed".to_owned(), |t98_s| format!("{:.0} min", t98_s / 60.0));
    write_line(&format!(
        "The deepest hook has done 98 % of its way in: {t98}. Sag {:.1} m, level line sinks at {:.3} m/s.",
        answer.sag_m, answer.terminal_speed_m_s
    ))?;
    for hook in &answer.hooks {
        let settled =
            hook.sinking_s.map_or("not settled".to_owned(), |s| format!("settled after {:>4.0} min", s / 60.0));
        let fishing = hook.fishing_s.map_or(String::new(), |s| format!(", fished {:.1} h", s / 3600.0));
        write_line(&format!("Hook {:>3}: {settled} at {:>6.1} m{fishing}.", hook.position, hook.depth_m))?;
    }
    for doubt in &answer.doubts {
        write_line(&format!("Doubt: {}", doubt.text))?;
    }
    Ok(())
}

const fn nearly_all() -> f64 {
    0.98
}
