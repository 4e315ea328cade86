//! `gangion depth`: how deep every hook of a basket hangs, in still water or in a current, with its band.

use gear::{
    Drift, GearDoubt, GearDoubtKind, GearError, HookPlace, Hung, InputErrors, Node, Rig, hang_with_bands,
    hook_depths_with_band,
};
use serde::Serialize;
use utoipa::ToSchema;

use crate::gear_input::GearInput;
use crate::plumbing::{Failure, print_json, print_schema, read_text, write_file, write_line};

/// How deep every hook of a basket hangs, in still water or in a current.
///
/// Give the basket as JSON. `sag_ratio` is the distance between two floats ÷ the main line between them (0.75 is a deep
/// set, 0.95 a shallow one). With `float_takes_a_beat` (true when left out) the float line has a clip beat of its own,
/// otherwise it is clipped half-way between two beats.
///
/// With only a basket the depths are for still water, and real hooks hang shallower. Give `main_line`, `branch` and
/// `water` with its `current` over depth (towards east and north, m/s) as well, and the forces on the gear are balanced:
/// `ends` "drifting" lets an endless row of such baskets drift freely, "fixed" holds the lower ends of the float lines in a
/// current that is the one relative to them. Every depth has a band from `errors` of the input.
#[derive(clap::Args)]
#[command(
    after_help = "Examples: 25 hooks, 45 m apart, 25 m float and branch lines; the middle hook hangs at 394 m in still water:
  gangion depth --json '{\"basket\":{\"hooks\":25,\"clip_spacing_m\":45,\"sag_ratio\":0.75,\"float_line_m\":25,\"branch_line_m\":25}}'
the same in a current that turns to the right with depth:
  gangion depth --json '{\"basket\":{\"hooks\":25,\"clip_spacing_m\":45,\"sag_ratio\":0.75,\"float_line_m\":25,\"branch_line_m\":25},
    \"main_line\":{\"diameter_mm\":3.6},\"branch\":{\"weight_in_water_n\":0.6,\"drag_area_m2\":0.06},
    \"float_line\":{\"diameter_mm\":6},\"float\":{\"drag_area_m2\":0.018,\"net_buoyancy_n\":110},\"line_bearing_deg_true\":90,
    \"water\":{\"current\":[{\"depth_m\":0,\"east_m_s\":0.3,\"north_m_s\":0},{\"depth_m\":250,\"east_m_s\":0,\"north_m_s\":-0.2}]}}'"
)]
pub struct Args {
    /// The basket: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Draw the basket in its current as SVG into this file (needs the parts of the gear).
    #[arg(long, value_name = "FILE")]
    figure: Option<String>,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
}

/// Where every hook of a basket hangs.
#[derive(Debug, Serialize, ToSchema)]
pub struct DepthAnswer {
    /// The model that these numbers come from.
    model: String,
    /// Angle of the main line below the horizontal at the first float line, degrees.
    sag_angle_deg: f64,
    /// Main line between the two float lines, metres.
    main_line_per_basket_m: f64,
    /// Horizontal distance between the two floats, metres.
    float_span_m: f64,
    /// From the lower end of the float lines down to the deepest point of the main line, metres.
    sag_m: f64,
    /// Lower end of the float lines below the surface, metres: less than their length where they lean.
    float_line_end_depth_m: f64,
    /// Every hook in setting order; horizontal distances from the lower end of the first float line.
    hooks: Vec<HookPlace>,
    /// The main line from float line to float line; none in still water by the closed form.
    nodes: Option<Vec<Node>>,
    /// Pull at the two ends, N.
    end_tension_n: Option<[f64; 2]>,
    /// What a float has to carry, N.
    float_load_n: Option<f64>,
    /// What all forces leave over, summed anew from the nodes, N.
    force_closure_n: Option<f64>,
    /// Horizontal force left on a basket of the drifting row, N.
    net_force_n: Option<f64>,
    /// How far the far end is from where it is held, metres.
    end_gap_m: Option<f64>,
    /// Marches along the line that were needed.
    iterations: Option<u32>,
    /// Straight elements for each clip interval.
    elements_per_interval: Option<u32>,
    /// Velocity of the drifting row over ground, towards.
    drift: Option<Drift>,
    /// The standard errors that the bands rest on.
    errors: InputErrors,
    /// What is not certain.
    doubts: Vec<GearDoubt>,
}

/// Runs the command.
///
/// # Errors
/// Bad input when it is not a basket, or its numbers are outside what gear can be; a failure when no balanced shape is
/// found.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<GearInput, DepthAnswer>("gangion depth");
    }
    let (input, doubts) = GearInput::read(&read_text(args.input.as_deref())?, "the basket")?;
    let answer = match input.rig() {
        Some(rig) => in_a_current(&input, &rig, doubts)?,
        None => in_still_water(&input)?,
    };
    if let Some(name) = &args.figure {
        let nodes = answer.nodes.as_deref().ok_or_else(|| {
            Failure::bad_input(GearError::Missing {
                field: "main_line",
                why: "the figure shows the balanced basket: give main_line and branch as well.",
            })
        })?;
        let current = input.water().current;
        let drawn = records::gear_figure::basket(nodes, &answer.hooks, &current, input.parts.line_bearing_deg_true);
        write_file(name, &drawn)?;
    }
    if args.json { print_json(&answer) } else { print_plain(&answer) }
}

fn in_still_water(input: &GearInput) -> Result<DepthAnswer, Failure> {
    if input.basket.sag_ratio >= 1.0 {
        return Err(Failure::bad_input(GearError::OutOfRange {
            field: "sag_ratio",
            value: input.basket.sag_ratio,
            unit: "",
            rule: "above 0 and below 1 (span between floats ÷ main line between them; 1 is a taut line)",
        }));
    }
    let hanging = hook_depths_with_band(&input.basket, input.errors.sag_ratio).map_err(Failure::bad_input)?;
    let still = GearDoubt::new(
        GearDoubtKind::NoCurrent,
        "Depths are for still water and the band holds the error of the sag ratio alone; a current lifts hooks. Give \
         main_line, branch and water with its current to have it counted."
            .to_owned(),
    );
    Ok(DepthAnswer {
        model: hanging.model,
        sag_angle_deg: hanging.sag_angle_deg,
        main_line_per_basket_m: hanging.main_line_per_basket_m,
        float_span_m: hanging.float_span_m,
        sag_m: hanging.sag_m,
        float_line_end_depth_m: input.basket.float_line_m,
        hooks: hanging.hooks,
        nodes: None,
        end_tension_n: None,
        float_load_n: None,
        force_closure_n: None,
        net_force_n: None,
        end_gap_m: None,
        iterations: None,
        elements_per_interval: None,
        drift: None,
        errors: input.errors,
        doubts: vec![still],
    })
}

fn in_a_current(input: &GearInput, rig: &Rig, mut doubts: Vec<GearDoubt>) -> Result<DepthAnswer, Failure> {
    let water = input.water();
    let hung =
        hang_with_bands(rig, &water, &input.options(), &input.errors).map_err(crate::gear_input::gear_failure)?;
    doubts.extend(gear::doubt::about(&hung, rig, &water, &input.options()));
    Ok(describe(hung, input.errors, doubts))
}

fn describe(hung: Hung, errors: InputErrors, doubts: Vec<GearDoubt>) -> DepthAnswer {
    DepthAnswer {
        model: gear::hang::MODEL.to_owned(),
        sag_angle_deg: hung.sag_angle_deg,
        main_line_per_basket_m: hung.main_line_m,
        float_span_m: hung.span_m,
        sag_m: hung.sag_m,
        float_line_end_depth_m: hung.ends_depth_m,
        hooks: hung.hooks,
        nodes: Some(hung.nodes),
        end_tension_n: Some(hung.end_tension_n),
        float_load_n: Some(hung.float_load_n),
        force_closure_n: Some(hung.force_closure_n),
        net_force_n: hung.net_force_n,
        end_gap_m: Some(hung.end_gap_m),
        iterations: Some(hung.iterations),
        elements_per_interval: Some(hung.elements_per_interval),
        drift: hung.drift,
        errors,
        doubts,
    }
}

fn print_plain(answer: &DepthAnswer) -> Result<(), Failure> {
    write_line(&format!("Model: {}.", answer.model))?;
    write_line(&format!(
        "Main line {:.1} m between floats {:.1} m apart, sag {:.1} m, {:.1}° below the horizontal at the float line.",
        answer.main_line_per_basket_m, answer.float_span_m, answer.sag_m, answer.sag_angle_deg
    ))?;
    if let Some(drift) = answer.drift {
        let speed_m_s = drift.east_m_s.hypot(drift.north_m_s);
        let towards_deg_true = drift.east_m_s.atan2(drift.north_m_s).to_degrees().rem_euclid(360.0);
        write_line(&format!("The gear drifts at {speed_m_s:.3} m/s towards {towards_deg_true:.0}°."))?;
    }
    for hook in &answer.hooks {
        let band = match (hook.band_m, hook.band_mostly) {
            (Some(band_m), Some(mostly)) => format!(" ± {band_m:.0} m, mostly {}", mostly.words()),
            _ => String::new(),
        };
        write_line(&format!(
            "Hook {:>3}: {:>6.1} m deep{band}, {:>7.1} m from the float.",
            hook.position, hook.depth_m, hook.horizontal_m
        ))?;
    }
    for doubt in &answer.doubts {
        write_line(&format!("Doubt: {}", doubt.text))?;
    }
    Ok(())
}
