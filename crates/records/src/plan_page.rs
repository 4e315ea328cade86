//! A plan as one self-contained HTML page for A4 paper, in the look of the report of a set: section, chart, strip, legs,
//! needed against aboard, bait with its hours, and the order line for the stern.
//!
//! No script, no font or picture from outside; what is not known is a dash, never a zero.

use std::fmt::Write as _;

use forecast::plan::{NeededWhat, Planned, Stretch};
use quantity::Position;
use voyage::HookFate;

use crate::chart::chart_of;
use crate::page::STYLE;
use crate::plan_strip::planned_strip;
use crate::screen_strip::ScreenStrip;
use crate::section::{Disc, Section, steps, tick_step_m};
use crate::strip::{Arc, Strip};
use crate::svg;
use crate::words::{self, Clock, escape};

/// The page of a plan, in ship time.
#[must_use]
pub fn plan_page(planned: &Planned, clock: Clock) -> String {
    let mut html = String::new();
    let _ = write!(
        html,
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\">\
         <title>Plan of a set</title><style>{STYLE}</style></head><body><main>"
    );
    head(&mut html, planned, clock);
    let _ = write!(html, "<p class=\"summary\"><b>{}</b></p>", escape(&order_line(planned)));
    figures(&mut html, planned, clock);
    let strip = planned_strip(planned, clock.offset_min.unwrap_or(0));
    if !strip.arcs.is_empty() {
        html += "<figure class=\"strip\">";
        html += &svg::strip(&on_paper(strip), clock, 688.0, 130.0);
        let _ = write!(
            html,
            "<figcaption>The line to come in setting order, first float left. Flags: radio buoys. Below: night (dark), twilight, day (white) and the hours of clipping, {}.</figcaption></figure>",
            clock.name()
        );
    }
    pictures(&mut html, planned);
    legs(&mut html, planned, clock);
    html += "<div class=\"two\">";
    needed(&mut html, planned);
    bait(&mut html, planned, clock);
    html += "</div>";
    foot(&mut html, planned, clock);
    html += "</main></body></html>\n";
    html
}

/// The strip to come as paper shows it.
fn on_paper(strip: ScreenStrip) -> Strip {
    let arcs = strip.arcs.into_iter().map(|arc| Arc {
        basket: arc.basket,
        fate: HookFate::InWater,
        points: arc.points.iter().map(|[at, depth_m]| (*at, *depth_m)).collect(),
        depth_known: arc.depth_known,
    });
    Strip {
        deepest_m: strip.deepest_m,
        arcs: arcs.collect(),
        flags: strip.flags,
        light: strip.light,
        hours: strip.hours,
        ..Strip::default()
    }
}

/// The order line for the stern: ship, shooter, beat, hooks, float line, branch line.
#[must_use]
pub fn order_line(planned: &Planned) -> String {
    let order = &planned.order;
    let mut parts = Vec::new();
    if let Some(kn) = order.ship_kn {
        parts.push(format!("ship {kn:.1} kn"));
    }
    if let (Some(m_s), Some(m_min)) = (order.shooter_m_s, order.shooter_m_min) {
        parts.push(format!("shooter {m_s:.2} m/s ({m_min:.0} m/min)"));
    }
    if let Some(beat_s) = order.beat_s {
        parts.push(format!("beat {beat_s:.1} s"));
    }
    if let Some(hooks) = order.hooks_per_basket {
        parts.push(format!("{hooks} hooks"));
    }
    if let Some(line_m) = order.float_line_m {
        parts.push(format!("float line {line_m:.0} m"));
    }
    if let Some(line_m) = order.branch_line_m {
        parts.push(format!("branch line {line_m:.0} m"));
    }
    if parts.is_empty() {
        "No order follows yet: give speeds, beat and hooks per basket.".to_owned()
    } else {
        parts.join(", ")
    }
}

/// The section of a leg for drawing; none without depths.
#[must_use]
pub fn section_of(planned: &Planned, stretch: &Stretch) -> Option<Section> {
    let drawn = stretch.section.as_ref()?;
    let step_m = tick_step_m(planned.draw_to_m);
    Some(Section {
        basket: i64::from(stretch.from_place.unwrap_or(1)),
        span_m: drawn.span_m,
        floor_m: planned.draw_to_m,
        main_line: drawn.main_line.clone(),
        in_current: stretch.in_current,
        discs: drawn
            .hooks
            .iter()
            .map(|hook| Disc {
                position: i64::from(hook.position),
                along_m: hook.x_m,
                clip_depth_m: hook.clip_depth_m,
                depth_m: hook.depth_m,
                band_m: hook.band_m.unwrap_or(0.0),
            })
            .collect(),
        profile: planned.temperature.iter().map(|level| (level.depth_m, level.temperature_c)).collect(),
        isotherms: planned.isotherms.iter().map(|line| (line.temperature_c, line.depth_m)).collect(),
        depth_ticks_m: steps(planned.draw_to_m, step_m),
    })
}

/// The section of the leg with the most hooks, as SVG; none without depths.
#[must_use]
pub fn section_svg(planned: &Planned, width: f64, height: f64) -> Option<String> {
    let hooks = |stretch: &&Stretch| stretch.from_hook.zip(stretch.to_hook).map_or(0, |(from, to)| to - from);
    let longest = planned.stretches.iter().filter(|stretch| stretch.section.is_some()).max_by_key(hooks)?;
    Some(svg::section(&section_of(planned, longest)?, width, height))
}

fn head(html: &mut String, planned: &Planned, clock: Clock) {
    let target = planned.event_data.get("target").and_then(|target| target.as_str()).unwrap_or("");
    let start = planned.track.first();
    let when = start.and_then(|point| point.at).map_or("start not given".to_owned(), |at| clock.date_time(at));
    let _ = write!(
        html,
        "<header><h1>Plan</h1><p>{}{when} <small>ship time {}</small></p><p class=\"right\">{}</p></header>",
        if target.is_empty() { String::new() } else { format!("set for {}, ", escape(target)) },
        clock.name(),
        start.map_or(String::new(), |point| words::position(place(point.latitude_deg, point.longitude_deg)))
    );
}

fn figures(html: &mut String, planned: &Planned, clock: Clock) {
    let totals = &planned.totals;
    let count = |number: Option<u32>| number.map(|number| words::count(number as usize));
    let mut cells = vec![
        (count(totals.hooks), "hooks".to_owned()),
        (count(totals.baskets), "baskets".to_owned()),
        (totals.main_line_m.map(|m| format!("{:.1} km", m / 1000.0)), "main line".to_owned()),
        (totals.setting_s.map(words::duration), "to set, without stops".to_owned()),
        (totals.ends_at.map(|at| clock.hour_minute(at)), "last float out".to_owned()),
        (count(totals.hooks_by_daylight), "hooks go out by daylight".to_owned()),
    ];
    if let Some([from_m, to_m]) = planned.layer_m {
        cells.insert(2, (count(planned.hooks_in_layer), format!("hooks between {from_m:.0} and {to_m:.0} m")));
    }
    html.push_str("<div class=\"figures\">");
    for (value, what) in cells {
        let _ = write!(html, "<div><b>{}</b><span>{what}</span></div>", value.unwrap_or_else(|| "—".to_owned()));
    }
    html.push_str("</div><p class=\"sum\"></p>");
}

fn pictures(html: &mut String, planned: &Planned) {
    let track: Vec<Position> =
        planned.track.iter().filter_map(|point| place(point.latitude_deg, point.longitude_deg)).collect();
    let buoys: Vec<(Position, String)> = planned
        .radio_buoys
        .iter()
        .zip(1..)
        .filter_map(|(buoy, number)| Some((place(buoy.latitude_deg?, buoy.longitude_deg?)?, format!("{number}"))))
        .collect();
    let (wide, tall) = svg::frame_of_chart(334.0, 260.0);
    let chart = (track.len() > 1).then(|| chart_of(&track, &[], &buoys, wide, tall)).flatten();
    html.push_str("<div class=\"two\">");
    if let Some(section) = section_svg(planned, 334.0, 260.0) {
        let words = if planned.stretches.iter().any(|stretch| stretch.in_current) {
            "One basket of the longest leg in the current, bars: band of each depth."
        } else {
            "One basket in still water, bars: band of each depth. A current lifts hooks."
        };
        let _ = write!(html, "<figure>{section}<figcaption>{words}</figcaption></figure>");
    } else {
        html.push_str("<p class=\"none\">Depths are not known.</p>");
    }
    match chart {
        Some(chart) => {
            let _ = write!(
                html,
                "<figure>{}<figcaption>The way while setting, numbers: radio buoys. Not for navigation.</figcaption></figure>",
                svg::chart(&chart, 334.0, 260.0)
            );
        }
        None => html.push_str("<p class=\"none\">The way is not known.</p>"),
    }
    html.push_str("</div>");
}

fn legs(html: &mut String, planned: &Planned, clock: Clock) {
    html.push_str(
        "<h2>Legs</h2><table><tr><th>Leg</th><th class=\"n\">Course</th><th class=\"n\">Hooks</th><th class=\"n\">Floats</th>\
         <th class=\"n\">Begins</th><th class=\"n\">Hooks in the layer, each basket</th><th class=\"n\">Deepest hook</th><th class=\"n\">Shallowest</th></tr>",
    );
    let dash = || "—".to_owned();
    for leg in &planned.stretches {
        let in_layer = leg.in_layer.zip(leg.hooks).map_or_else(dash, |(inside, all)| {
            let stronger = leg
                .in_layer_if_current_stronger
                .map_or(String::new(), |more| format!(" ({more} with 0.1 m/s more current)"));
            format!("{inside} of {all}{stronger}")
        });
        let deepest = leg.deepest_m.map_or_else(dash, |deepest_m| {
            let band = leg.deepest_band_m.map_or(String::new(), |band_m| format!(" ± {band_m:.0}"));
            let mostly = leg.mostly.map_or(String::new(), |cause| format!(", mostly {}", cause.words()));
            format!("{deepest_m:.0}{band} m{mostly}")
        });
        let _ = write!(
            html,
            "<tr><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{in_layer}</td><td class=\"n\">{deepest}</td><td class=\"n\">{}</td></tr>",
            leg.leg,
            leg.course_deg_true.map_or_else(dash, |course| format!("{course:03.0}°")),
            leg.from_hook.zip(leg.to_hook).map_or_else(dash, |(from, to)| format!("{from}–{to}")),
            leg.from_place.zip(leg.to_place).map_or_else(dash, |(from, to)| format!("{from}–{to}")),
            leg.starts_at.map_or_else(dash, |at| clock.hour_minute(at)),
            leg.shallowest_m.map_or_else(dash, |m| format!("{m:.0} m")),
        );
    }
    html.push_str("</table><p class=\"sum\"></p>");
}

fn needed(html: &mut String, planned: &Planned) {
    html.push_str("<div><h2>Needed and aboard</h2><table><tr><th></th><th class=\"n\">Needed</th><th class=\"n\">Aboard</th><th></th></tr>");
    for row in &planned.needed {
        let (name, unit) = match row.what {
            NeededWhat::MainLine => ("Main line", " m"),
            NeededWhat::BranchLines => ("Branch lines", ""),
            NeededWhat::Floats => ("Floats", ""),
            NeededWhat::RadioBuoys => ("Radio buoys", ""),
        };
        let number = |value: Option<f64>| value.map_or_else(|| "—".to_owned(), |value| format!("{value:.0}{unit}"));
        let said = match row.enough {
            Some(true) => "enough",
            Some(false) => "<b>not enough</b>",
            None => "",
        };
        let _ = write!(
            html,
            "<tr><td>{name}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td>{said}</td></tr>",
            number(row.needed),
            number(row.aboard)
        );
    }
    html.push_str("</table>");
    if !planned.bins.is_empty() {
        let bins: Vec<String> =
            planned.bins.iter().map(|bin| format!("{} ({})", escape(&bin.bin), bin.hooks)).collect();
        let _ = write!(html, "<p class=\"note\">Bins in order: {}.", bins.join(", "));
        if let Some(short) = planned.bins_short_of_hooks.filter(|short| *short > 0) {
            let _ = write!(html, " <b>{short} hooks short.</b>");
        }
        html.push_str("</p>");
    }
    html.push_str("</div>");
}

fn bait(html: &mut String, planned: &Planned, clock: Clock) {
    html.push_str("<div><h2>Bait</h2>");
    if planned.bait.is_empty() {
        html.push_str("<p class=\"none\">No bait was given.</p></div>");
        return;
    }
    html.push_str("<table><tr><th>Kind</th><th class=\"n\">Pieces</th><th class=\"n\">Boxes</th><th class=\"n\">Aboard</th><th>Take out by</th></tr>");
    for kind in &planned.bait {
        let dash = || "—".to_owned();
        let _ = write!(
            html,
            "<tr><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td>{}</td></tr>",
            escape(&kind.bait),
            kind.pieces.map_or_else(dash, |pieces| words::count(pieces as usize)),
            kind.boxes.map_or_else(dash, |boxes| format!("{boxes:.0}")),
            kind.boxes_aboard.map_or_else(dash, |boxes| format!("{boxes:.0}")),
            kind.take_out_by.map_or_else(dash, |at| clock.date_time(at)),
        );
    }
    html.push_str("</table></div>");
}

fn foot(html: &mut String, planned: &Planned, clock: Clock) {
    html.push_str("<footer>");
    for zone in &planned.zones {
        let _ = write!(
            html,
            "<p>Zone {}: least distance to its boundary {:.1} nmi{}{}.</p>",
            escape(&zone.name),
            zone.least_distance_m / 1852.0,
            zone.at.map_or(String::new(), |at| format!(" at {}", clock.date_time(at))),
            if zone.inside { ", and part of the line lies inside" } else { "" }
        );
    }
    for doubt in planned.warnings.iter().chain(&planned.doubts) {
        let _ = write!(html, "<p>{}</p>", escape(&doubt.text));
    }
    for leg in &planned.stretches {
        for doubt in &leg.doubts {
            let _ = write!(html, "<p>Leg {}: {}</p>", leg.leg, escape(&doubt.text));
        }
    }
    html.push_str("<p>Depths are computed, each with its band. Not for navigation.</p></footer>");
}

fn place(latitude_deg: f64, longitude_deg: f64) -> Option<Position> {
    Position::new(latitude_deg, longitude_deg).ok()
}
