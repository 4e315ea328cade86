//! `gangion plan`: a set before it goes out.

use forecast::plan::{NeededWhat, PlanWanted, Planned, SkyEventKind, plan};
use records::words::{Clock, count, duration};

use crate::plumbing::{Failure, parse_json, print_json, print_schema, read_text, write_file, write_line};

/// A set before it goes out: depths by legs, times, places, stores, sun and moon, and the order line for the stern.
///
/// Give the plan as JSON: `setting` as `gangion setting` takes it, `legs` with their courses through the water, and as much
/// else as is known: `start_at` and `start`, float and branch lines, `main_line`, `branch`, `float_line` and `float` as
/// `gangion depth` takes them, `water` with temperature and current by depth, the wanted `layer_m`, what is `aboard`, `zones`
/// as GeoJSON. What is left out leaves open what rests on it, and a doubt says so.
#[derive(clap::Args)]
#[command(after_help = "Example: 2,500 hooks on two legs in a sea whose current turns with depth:
  gangion plan --json '{\"start_at\":\"2031-03-02T06:00:00Z\",\"start\":{\"latitude_deg\":-14.5,\"longitude_deg\":178.9},
    \"legs\":[{\"course_deg_true\":74,\"hooks\":1300},{\"course_deg_true\":96}],\"layer_m\":[200,350],
    \"setting\":{\"vessel_speed_through_water_kn\":7.6,\"shooter_speed_m_s\":5.4,\"beat_s\":7,\"hooks_per_basket\":25,\"hooks\":2500},
    \"float_line_m\":28,\"branch_line_m\":25,\"main_line\":{\"diameter_mm\":3.6},\"branch\":{\"weight_in_water_n\":0.6},
    \"water\":{\"levels\":[{\"depth_m\":0,\"temperature_c\":28,\"east_m_s\":0.3,\"north_m_s\":0},{\"depth_m\":300,\"temperature_c\":12,\"east_m_s\":0,\"north_m_s\":-0.1}]}}'
one page to print, and the section alone:
  gangion plan plan.json --page plan.html --figure section.svg")]
pub struct Args {
    /// The plan: JSON text, a file, or - for stdin (as when left out).
    input: Option<String>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
    /// Draw one basket of the longest leg in section as SVG into this file.
    #[arg(long, value_name = "FILE")]
    figure: Option<String>,
    /// Write the plan as one page of paper (HTML, A4) into this file.
    #[arg(long, value_name = "FILE")]
    page: Option<String>,
    /// Print the JSON Schema of input and output, and end.
    #[arg(long)]
    schema: bool,
}

/// Runs the command.
///
/// # Errors
/// Bad input when it is no plan, or its numbers are outside what a set can be.
pub fn run(args: &Args) -> Result<(), Failure> {
    if args.schema {
        return print_schema::<PlanWanted, Planned>("gangion plan");
    }
    let wanted: PlanWanted = parse_json(&read_text(args.input.as_deref())?, "the plan")?;
    let planned = plan(&wanted).map_err(Failure::bad_input)?;
    let clock = Clock { offset_min: wanted.utc_offset_min };
    if let Some(name) = &args.figure {
        let drawn = records::plan_page::section_svg(&planned, 960.0, 560.0).ok_or_else(|| {
            Failure::BadInput(
                "the section cannot be drawn: no depth follows. Give hooks_per_basket, speeds or sag_ratio with the spacing, \
                 float_line_m and branch_line_m."
                    .to_owned(),
            )
        })?;
        write_file(name, &drawn)?;
    }
    if let Some(name) = &args.page {
        write_file(name, &records::plan_page(&planned, clock))?;
    }
    if args.json { print_json(&planned) } else { print_plain(&planned, clock) }
}

fn print_plain(planned: &Planned, clock: Clock) -> Result<(), Failure> {
    write_line(&format!("Order: {}", records::plan_page::order_line(planned)))?;
    let totals = &planned.totals;
    let mut sums = Vec::new();
    if let (Some(hooks), Some(baskets)) = (totals.hooks, totals.baskets) {
        sums.push(format!("{} hooks in {} baskets", count(hooks as usize), count(baskets as usize)));
    }
    sums.extend(totals.main_line_m.map(|m| format!("{:.1} km of main line", m / 1000.0)));
    sums.extend(totals.distance_m.map(|m| format!("{:.1} nmi over the ground", m / 1852.0)));
    sums.extend(totals.setting_s.map(|s| format!("{} without stops", duration(s))));
    sums.extend(totals.ends_at.map(|at| format!("ends {} ({})", clock.date_time(at), clock.name())));
    sums.extend(totals.hooks_by_daylight.map(|hooks| format!("{} hooks by daylight", count(hooks as usize))));
    if !sums.is_empty() {
        write_line(&sums.join(", "))?;
    }
    if let (Some(inside), Some([from_m, to_m])) = (planned.hooks_in_layer, planned.layer_m) {
        let stronger = planned
            .hooks_in_layer_if_current_stronger
            .map_or(String::new(), |more| format!("; {} with 0.1 m/s more current", count(more as usize)));
        write_line(&format!("{} hooks between {from_m:.0} and {to_m:.0} m{stronger}", count(inside as usize)))?;
    }
    for leg in &planned.stretches {
        let mut words = vec![format!("Leg {}", leg.leg)];
        words.extend(leg.course_deg_true.map(|course| format!("{course:03.0}°")));
        words.extend(leg.from_hook.zip(leg.to_hook).map(|(from, to)| format!("hooks {from} to {to}")));
        words.extend(leg.off_current_deg.map(|off| format!("{off:.0}° off the current")));
        if let (Some(deepest_m), Some(shallowest_m)) = (leg.deepest_m, leg.shallowest_m) {
            let band = leg.deepest_band_m.map_or(String::new(), |band_m| format!(" ± {band_m:.0} m"));
            let mostly = leg.mostly.map_or(String::new(), |cause| format!(", mostly {}", cause.words()));
            words.push(format!("hooks hang at {shallowest_m:.0} to {deepest_m:.0} m{band}{mostly}"));
        }
        words.extend(leg.in_layer.zip(leg.hooks).map(|(inside, all)| format!("{inside} of {all} in the layer")));
        write_line(&words.join(", "))?;
    }
    for row in planned.needed.iter().filter(|row| row.enough == Some(false)) {
        let what = match row.what {
            NeededWhat::MainLine => "metres of main line",
            NeededWhat::BranchLines => "branch lines",
            NeededWhat::Floats => "floats",
            NeededWhat::RadioBuoys => "radio buoys",
        };
        let (needed, aboard) = (row.needed.unwrap_or(0.0), row.aboard.unwrap_or(0.0));
        write_line(&format!("Not enough: {needed:.0} {what} needed, {aboard:.0} aboard"))?;
    }
    for bait in &planned.bait {
        let mut words = vec![bait.bait.clone()];
        words.extend(bait.pieces.map(|pieces| format!("{} pieces", count(pieces as usize))));
        words.extend(bait.boxes.map(|boxes| format!("{boxes:.0} boxes")));
        words.extend(bait.take_out_by.map(|at| format!("take out by {}", clock.date_time(at))));
        write_line(&format!("Bait: {}", words.join(", ")))?;
    }
    if let Some(sky) = &planned.sky {
        let told: Vec<String> = sky
            .events
            .iter()
            .map(|event| {
                let what = match event.what {
                    SkyEventKind::Sunset => "sunset",
                    SkyEventKind::NauticalDusk => "nautical dusk",
                    SkyEventKind::NauticalDawn => "nautical dawn",
                    SkyEventKind::Sunrise => "sunrise",
                    SkyEventKind::Moonrise => "moonrise",
                    SkyEventKind::Moonset => "moonset",
                };
                format!("{what} {}", clock.hour_minute(event.at))
            })
            .collect();
        if !told.is_empty() {
            write_line(&format!("Sky: {}", told.join(", ")))?;
        }
    }
    for zone in &planned.zones {
        let inside = if zone.inside { ", part of the line lies inside" } else { "" };
        write_line(&format!("Zone {}: least distance {:.1} nmi{inside}", zone.name, zone.least_distance_m / 1852.0))?;
    }
    let own = planned.setting.doubts.iter().map(|doubt| doubt.text.clone());
    let legs = planned
        .stretches
        .iter()
        .flat_map(|leg| leg.doubts.iter().map(move |doubt| format!("Leg {}: {}", leg.leg, doubt.text)));
    let doubts = planned.warnings.iter().chain(&planned.doubts).map(|doubt| doubt.text.clone());
    for doubt in doubts.chain(own).chain(legs) {
        write_line(&format!("Doubt: {doubt}"))?;
    }
    Ok(())
}
