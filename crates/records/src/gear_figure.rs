//! Figures of gear in the water, as SVG in the colours of the day palette: a basket in its current, a line at the
//! beginning and the end of its soak, hooks on their way down.
//!
//! Depth is always downward, in metres. Each picture carries its scale, its units and what its marks mean.

use std::fmt::Write as _;

use gear::current::CurrentLevel;
use gear::soak::Moment;
use gear::{HookPlace, Node};

const WIDTH: f64 = 960.0;
const INK: &str = "#0b1217";
const SOFT: &str = "#56666f";
const GRID: &str = "#d5dee2";
const LINE: &str = "#0a5d78";
const LIT: &str = "#b4481c";
const BAND: &str = "#c3d3da";

/// A hook on its way down: position, and seconds and depths in metres.
pub type SinkingTrack = (u32, Vec<(f64, f64)>);

/// A frame on the page with its two scales.
struct Frame {
    left: f64,
    top: f64,
    wide: f64,
    tall: f64,
    x: (f64, f64),
    y: (f64, f64),
}

impl Frame {
    fn x(&self, value: f64) -> f64 {
        self.left + (value - self.x.0) / (self.x.1 - self.x.0) * self.wide
    }

    fn y(&self, value: f64) -> f64 {
        self.top + (value - self.y.0) / (self.y.1 - self.y.0) * self.tall
    }

    /// Frame, grid and numbers; `x_unit` and `y_unit` stand at the last number.
    fn axes(&self, svg: &mut String, title: &str, x_unit: &str, y_unit: &str) {
        let _ = write!(
            svg,
            r##"<text x="{}" y="{}" font-size="14" font-weight="600" fill="{INK}">{title}</text><rect x="{}" y="{}" width="{:.1}" height="{:.1}" fill="#ffffff" stroke="{SOFT}" stroke-width="0.8"/>"##,
            self.left,
            self.top - 10.0,
            self.left,
            self.top,
            self.wide,
            self.tall
        );
        let across = ticks(self.x, (self.wide / 90.0).max(2.0));
        for (index, value) in across.iter().enumerate() {
            let at = self.x(*value);
            let unit = if index + 1 == across.len() { x_unit } else { "" };
            let _ = write!(
                svg,
                r#"<line x1="{at:.1}" y1="{}" x2="{at:.1}" y2="{:.1}" stroke="{GRID}"/><text x="{at:.1}" y="{:.1}" font-size="12" text-anchor="middle" fill="{SOFT}">{}{unit}</text>"#,
                self.top,
                self.top + self.tall,
                self.top + self.tall + 15.0,
                number(*value)
            );
        }
        let down = ticks((self.y.0.min(self.y.1), self.y.0.max(self.y.1)), (self.tall / 45.0).max(2.0));
        for value in &down {
            let at = self.y(*value);
            let _ = write!(
                svg,
                r#"<line x1="{}" y1="{at:.1}" x2="{:.1}" y2="{at:.1}" stroke="{GRID}"/><text x="{:.1}" y="{:.1}" font-size="12" text-anchor="end" fill="{SOFT}">{}{y_unit}</text>"#,
                self.left,
                self.left + self.wide,
                self.left - 6.0,
                at + 4.0,
                number(*value)
            );
        }
    }

    fn path(&self, points: impl Iterator<Item = (f64, f64)>) -> String {
        points.map(|(x, y)| format!("{:.1},{:.1} ", self.x(x), self.y(y))).collect()
    }
}

/// A basket in its current: from the side with the bands of its hooks, and from above. `bearing_deg_true` is the course of the
/// line; the current is drawn as arrows along it, towards starboard in the lower picture.
#[must_use]
pub fn basket(nodes: &[Node], hooks: &[HookPlace], current: &[CurrentLevel], bearing_deg_true: f64) -> String {
    let span_m = nodes.last().map_or(1.0, |node| node.horizontal_m).max(1.0);
    let lowest_m = hooks.iter().map(|hook| hook.depth_m + hook.band_m.unwrap_or(0.0)).fold(10.0, f64::max);
    let (least_m, most_m) = range(nodes.iter().map(|node| node.across_m).chain(hooks.iter().map(|hook| hook.across_m)));
    let along = range(nodes.iter().map(|node| node.horizontal_m).chain([0.0, span_m]));
    let wide = WIDTH - 210.0;
    let side = Frame { left: 64.0, top: 40.0, wide, tall: 400.0, x: padded(along, 0.03), y: (0.0, 1.05 * lowest_m) };
    let room_m = ((most_m - least_m) * 1.3).max(0.12 * span_m);
    let middle_m = 0.5 * (least_m + most_m);
    let tall = 150.0;
    let above =
        Frame { left: 64.0, top: 500.0, wide, tall, x: side.x, y: (middle_m - 0.5 * room_m, middle_m + 0.5 * room_m) };
    let mut svg = open(690.0, "A basket hanging in the current, from the side and from above");
    side.axes(&mut svg, "From the side: depth of line and hooks; bars are the hooks' bands", " m", " m");
    for hook in hooks {
        let (at, band_m) = (side.x(hook.horizontal_m), hook.band_m.unwrap_or(0.0));
        let _ = write!(
            svg,
            r#"<line x1="{at:.1}" y1="{:.1}" x2="{at:.1}" y2="{:.1}" stroke="{BAND}" stroke-width="6"/>"#,
            side.y((hook.depth_m - band_m).max(0.0)),
            side.y(hook.depth_m + band_m)
        );
    }
    for end in [nodes.first(), nodes.last()].into_iter().flatten() {
        let (x, y) = (side.x(end.horizontal_m), side.y(end.depth_m));
        let top = side.y(0.0);
        let _ = write!(
            svg,
            r#"<line x1="{x:.1}" y1="{top:.1}" x2="{x:.1}" y2="{y:.1}" stroke="{LINE}"/><circle cx="{x:.1}" cy="{top:.1}" r="5" fill="{INK}"/>"#
        );
    }
    line(&mut svg, &side.path(nodes.iter().map(|node| (node.horizontal_m, node.depth_m))), 2.0);
    for hook in hooks {
        let clip =
            nodes.iter().min_by(|a, b| (a.along_m - hook.along_m).abs().total_cmp(&(b.along_m - hook.along_m).abs()));
        if let Some(clip) = clip {
            let path = side.path([(clip.horizontal_m, clip.depth_m), (hook.horizontal_m, hook.depth_m)].into_iter());
            line(&mut svg, &path, 0.9);
        }
        disc(&mut svg, side.x(hook.horizontal_m), side.y(hook.depth_m));
    }
    above.axes(&mut svg, "From above: to starboard of the line's course is down", " m", " m");
    line(&mut svg, &above.path(nodes.iter().map(|node| (node.horizontal_m, node.across_m))), 2.0);
    for hook in hooks {
        disc(&mut svg, above.x(hook.horizontal_m), above.y(hook.across_m));
    }
    arrows(&mut svg, &side, current, bearing_deg_true, 1.05 * lowest_m);
    svg + "</svg>"
}

/// The current at depths, beside the side view: arrows along the line's course, and in words how strong across.
fn arrows(svg: &mut String, side: &Frame, current: &[CurrentLevel], bearing_deg_true: f64, lowest_m: f64) {
    let left = side.left + side.wide + 20.0;
    let (sin, cos) = bearing_deg_true.to_radians().sin_cos();
    let strongest = current.iter().map(|level| level.east_m_s.hypot(level.north_m_s)).fold(0.05, f64::max);
    let _ = write!(
        svg,
        r#"<text x="{left}" y="{:.1}" font-size="12" fill="{INK}">current, m/s</text><text x="{left}" y="{:.1}" font-size="11" fill="{SOFT}">arrow: as from above</text>"#,
        side.top - 28.0,
        side.top - 14.0
    );
    let mut clear_from = f64::NEG_INFINITY;
    for level in current.iter().filter(|level| level.depth_m <= lowest_m) {
        let y = side.y(level.depth_m);
        if y < clear_from {
            continue;
        }
        clear_from = y + 26.0;
        let ahead = level.east_m_s * sin + level.north_m_s * cos;
        let starboard = level.east_m_s * cos - level.north_m_s * sin;
        let speed = ahead.hypot(starboard);
        let (x0, size) = (left + 30.0, 26.0 / strongest);
        let (x1, y1) = (x0 + ahead * size, y + starboard * size);
        let _ = write!(
            svg,
            r#"<line x1="{x0:.1}" y1="{y:.1}" x2="{x1:.1}" y2="{y1:.1}" stroke="{LIT}" stroke-width="1.8"/><circle cx="{x0:.1}" cy="{y:.1}" r="2" fill="{LIT}"/>"#
        );
        if speed > 0.15 * strongest {
            let (dx, dy) = (ahead / speed, starboard / speed);
            let tip = |along: f64, side: f64| {
                format!("{:.1},{:.1} ", x1 + along * dx - side * dy, y1 + along * dy + side * dx)
            };
            let _ = write!(
                svg,
                r#"<polygon points="{}{}{}" fill="{LIT}"/>"#,
                tip(4.0, 0.0),
                tip(-4.0, 3.5),
                tip(-4.0, -3.5)
            );
        }
        let _ = write!(
            svg,
            r#"<text x="{:.1}" y="{:.1}" font-size="12" fill="{SOFT}">{speed:.2}</text>"#,
            left + 66.0,
            y + 4.0
        );
    }
}

/// A line at the beginning and the end of its soak, each basket an arc as deep as its deepest hook, and the sag ratio of
/// all baskets then.
#[must_use]
pub fn soaked_line(first: &Moment, last: &Moment) -> String {
    let lowest_m = first.baskets.iter().chain(&last.baskets).map(|basket| basket.deepest_hook_m).fold(10.0, f64::max);
    let line_m = [first, last].map(|moment| moment.baskets.iter().map(|basket| basket.span_m).sum::<f64>());
    let longest_km = line_m[0].max(line_m[1]).max(1.0) / 1000.0;
    let mut svg = open(720.0, "The line at the beginning and at the end of its soak");
    for (moment, top) in [(first, 40.0), (last, 270.0)] {
        let frame =
            Frame { left: 64.0, top, wide: WIDTH - 90.0, tall: 160.0, x: (0.0, longest_km), y: (0.0, 1.05 * lowest_m) };
        let title =
            format!("After {:.1} h: float to float along the line, depth of the deepest hook", moment.after_s / 3600.0);
        frame.axes(&mut svg, &title, " km", " m");
        let mut from_km = 0.5 * (longest_km - moment.baskets.iter().map(|basket| basket.span_m).sum::<f64>() / 1000.0);
        for basket in &moment.baskets {
            let to_km = from_km + basket.span_m / 1000.0;
            let middle = 0.5 * (from_km + to_km);
            // The control point of a quadratic curve lies twice as deep as its lowest point.
            let _ = write!(
                svg,
                r#"<path d="M{:.2},{:.1} Q{:.2},{:.1} {:.2},{:.1}" fill="{BAND}" fill-opacity="0.45" stroke="{LINE}" stroke-width="0.9"/>"#,
                frame.x(from_km),
                frame.y(0.0),
                frame.x(middle),
                frame.y(2.0 * basket.deepest_hook_m),
                frame.x(to_km),
                frame.y(0.0)
            );
            from_km = to_km;
        }
    }
    let count = last.baskets.iter().map(|basket| basket.basket).max().unwrap_or(1);
    let sag = last.baskets.iter().chain(&first.baskets).map(|basket| basket.sag_ratio);
    let frame = Frame {
        left: 64.0,
        top: 500.0,
        wide: WIDTH - 90.0,
        tall: 160.0,
        x: (0.5, f64::from(count) + 0.5),
        y: {
            let (least, most) = padded(range(sag), 0.1);
            (most.min(1.0), least.max(0.0))
        },
    };
    frame.axes(&mut svg, "Sag ratio of every basket: at the beginning (thin), at the end (thick)", "", "");
    for (moment, thick) in [(first, 1.0), (last, 2.4)] {
        let path = frame.path(moment.baskets.iter().map(|basket| (f64::from(basket.basket), basket.sag_ratio)));
        line(&mut svg, &path, thick);
    }
    let _ = write!(
        svg,
        r#"<text x="{:.1}" y="700" font-size="12" text-anchor="end" fill="{SOFT}">basket in setting order · not for navigation</text>"#,
        WIDTH - 26.0
    );
    svg + "</svg>"
}

/// Hooks on their way down: depth against time, with a mark where each had settled.
#[must_use]
pub fn settling(tracks: &[SinkingTrack], settled: &[(u32, f64)]) -> String {
    let points = || tracks.iter().flat_map(|(_, track)| track.iter());
    let lowest_m = points().map(|(_, depth_m)| *depth_m).fold(10.0, f64::max);
    let longest_min = points().map(|(at_s, _)| at_s / 60.0).fold(1.0, f64::max);
    let mut svg = open(520.0, "Hooks on their way down");
    let frame = Frame {
        left: 64.0,
        top: 40.0,
        wide: WIDTH - 110.0,
        tall: 420.0,
        x: (0.0, longest_min),
        y: (0.0, 1.05 * lowest_m),
    };
    frame.axes(
        &mut svg,
        "Depth of every hook after its basket's first float was clipped; a ring where it had settled",
        " min",
        " m",
    );
    for (position, track) in tracks {
        let path = frame.path(track.iter().map(|(at_s, depth_m)| (at_s / 60.0, *depth_m)));
        line(&mut svg, &path, 1.2);
        let mark = settled.iter().find(|(hook, _)| hook == position);
        if let Some((_, at_s)) = mark
            && let Some(depth_m) = between(track, *at_s)
        {
            disc(&mut svg, frame.x(at_s / 60.0), frame.y(depth_m));
        }
    }
    svg + "</svg>"
}

fn between(track: &[(f64, f64)], at_s: f64) -> Option<f64> {
    let next = track.partition_point(|(time_s, _)| *time_s < at_s);
    let (from, to) = (track.get(next.checked_sub(1)?)?, track.get(next)?);
    Some(from.1 + (at_s - from.0) / (to.0 - from.0) * (to.1 - from.1))
}

fn open(height: f64, title: &str) -> String {
    format!(
        r##"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" height="{height}" font-family="system-ui, sans-serif" role="img"><title>{title}</title><rect width="{WIDTH}" height="{height}" fill="#eef2f3"/>"##
    )
}

fn line(svg: &mut String, path: &str, thick: f64) {
    let _ = write!(svg, r#"<polyline points="{path}" fill="none" stroke="{LINE}" stroke-width="{thick}"/>"#);
}

fn disc(svg: &mut String, x: f64, y: f64) {
    let _ =
        write!(svg, r##"<circle cx="{x:.1}" cy="{y:.1}" r="3.4" fill="#ffffff" stroke="{INK}" stroke-width="1.2"/>"##);
}

fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (least, most) =
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), value| (least.min(value), most.max(value)));
    if least <= most { (least, most) } else { (0.0, 1.0) }
}

fn padded((least, most): (f64, f64), share: f64) -> (f64, f64) {
    let room = ((most - least) * share).max(1e-3);
    (least - room, most + room)
}

/// Round numbers within a range, about `count` of them.
fn ticks((least, most): (f64, f64), count: f64) -> Vec<f64> {
    let rough = (most - least) / count;
    let power = 10_f64.powf(rough.max(1e-9).log10().floor());
    let step =
        [1.0, 2.0, 5.0, 10.0].map(|part| part * power).into_iter().find(|step| *step >= rough).unwrap_or(10.0 * power);
    let mut at = (least / step).ceil() * step;
    let mut all = Vec::new();
    while at <= most + 1e-9 * step {
        all.push(if at.abs() < 1e-9 * step { 0.0 } else { at });
        at += step;
    }
    all
}

fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
