//! `gangion depth`: how deep every hook of a basket hangs in still water.

use gear::{Basket, Hanging, hook_depths};
use serde::Deserialize;
use utoipa::ToSchema;

use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_line};

/// How deep every hook of a basket hangs, in still water.
///
/// Give the basket as JSON. `sag_ratio` is the distance between two floats ÷ the main line between them (0.75 is a deep
/// set, 0.95 a shallow one). With `float_takes_a_beat` (true when left out) the float line has a clip beat of its own,
/// otherwise it is clipped half-way between two beats. Current, shoaling and slump are not in this model: real hooks
/// hang shallower.
#[derive(clap::Args)]
#[command(after_help = "Example: 25 hooks, 45 m apart, 25 m float and branch lines; the middle hook hangs at 394 m:
  gangion depth --json '{\"basket\":{\"hooks\":25,\"clip_spacing_m\":45,\"sag_ratio\":0.75,\"float_line_m\":25,\"branch_line_m\":25}}'")]
pub struct Args {
    /// The basket: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
}

/// What `depth` reads. Fields that it does not know are passed over.
#[derive(Debug, Deserialize, ToSchema)]
pub struct DepthInput {
    /// The basket.
    basket: Basket,
}

/// Runs the command.
///
/// # Errors
/// Bad input when it is not a basket, or its numbers are outside what gear can be.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<DepthInput, Hanging>("gangion depth");
    }
    let input: DepthInput = parse_json(&read_text(args.input.as_deref())?, "the basket")?;
    let hanging = hook_depths(&input.basket).map_err(Failure::bad_input)?;
    if args.json {
        return print_json(&hanging);
    }
    write_line(&format!("Model: {}. Depths are for still water; current lifts hooks.", hanging.model))?;
    write_line(&format!(
        "Main line {:.1} m between floats {:.1} m apart, sag {:.1} m, {:.1}° below the horizontal at the float line.",
        hanging.main_line_per_basket_m, hanging.float_span_m, hanging.sag_m, hanging.sag_angle_deg
    ))?;
    for hook in &hanging.hooks {
        write_line(&format!(
            "Hook {:>3}: {:>6.1} m deep, {:>7.1} m from the float.",
            hook.position, hook.depth_m, hook.horizontal_m
        ))?;
    }
    Ok(())
}
