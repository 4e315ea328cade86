//! Paints the drawings as SVG in the colours of the day palette. All positions come from the geometry; only the
//! stepping aside of labels is decided here, because it depends on the size of the type.
//!
//! Temperature colours: nine stops of cmocean "thermal" (Thyng et al. 2016, "True colors of oceanography", Oceanography
//! 29(3)), a sixth of white mixed in, from 4 to 30 °C, so that one colour is one temperature on every page.

use std::fmt::Write as _;

use voyage::HookFate;

use crate::by_position::ByPosition;
use crate::chart::Chart;
use crate::section::Section;
use crate::strip::{Light, Strip};
use crate::words::{Clock, escape};

const INK: &str = "#0b1217";
const SOFT: &str = "#56666f";
const EDGE: &str = "#6b7a85";
const LINE: &str = "#0a5d78";
const LIT: &str = "#b4481c";
const DOUBT: &str = "#8a5a00";
/// About half the height of a letter is this share of its size; its width, of a mean letter, too.
const LETTER_WIDTH: f64 = 0.56;

const THERMAL: [(f64, f64, f64); 9] = [
    (4.0, 35.0, 51.0),
    (25.0, 51.0, 124.0),
    (86.0, 59.0, 156.0),
    (131.0, 80.0, 143.0),
    (177.0, 95.0, 130.0),
    (223.0, 112.0, 100.0),
    (249.0, 147.0, 65.0),
    (249.0, 198.0, 65.0),
    (232.0, 250.0, 91.0),
];

/// The strip, `width` × `height` px.
#[must_use]
pub fn strip(strip: &Strip, clock: Clock, width: f64, height: f64) -> String {
    let surface = 34.0;
    let depth_px = height - surface - 36.0;
    let deepest = strip.arcs.iter().flat_map(|arc| &arc.points).map(|(_, depth)| *depth).fold(1.0, f64::max);
    let (left, wide) = (1.0, width - 2.0);
    let x = |at: f64| left + at * wide;
    let y = |depth_m: f64| surface + depth_m / deepest * depth_px;
    let mut svg = open(width, height, "The line as it hung, first float left, with what became of its hooks");
    for arc in &strip.arcs {
        let path: String = arc.points.iter().map(|(at, depth)| format!("{:.1},{:.1} ", x(*at), y(*depth))).collect();
        let (Some(first), Some(last)) = (arc.points.first(), arc.points.last()) else { continue };
        let closed = format!("{:.1},{surface} {path}{:.1},{surface}", x(first.0), x(last.0));
        let fill = match arc.fate {
            HookFate::InWater => "#7fb3c2",
            HookFate::Hauled => "#dbe8ec",
            HookFate::Lost | HookFate::Unknown | HookFate::Missed => "none",
        };
        let _ = write!(svg, r#"<polygon points="{closed}" fill="{fill}"/>"#);
        let (stroke, dash, thick) = match (arc.fate, arc.depth_known) {
            (HookFate::Lost, _) => (DOUBT, "1.5 2.5", 1.3),
            (HookFate::Unknown, _) => (SOFT, "none", 0.9),
            (_, false) => (EDGE, "4 3", 0.8),
            (HookFate::Hauled, _) => ("#5f95a6", "none", 0.9),
            _ => (LINE, "none", 1.3),
        };
        let _ = write!(
            svg,
            r#"<polyline points="{path}" fill="none" stroke="{stroke}" stroke-width="{thick}" stroke-dasharray="{dash}"/>"#
        );
    }
    for arc in &strip.arcs {
        let (Some(first), Some(last)) = (arc.points.first(), arc.points.last()) else { continue };
        let middle = x(f64::midpoint(first.0, last.0));
        let low = y(arc.points.iter().map(|(_, depth)| *depth).fold(0.0, f64::max));
        let half = (0.5 * (last.0 - first.0) * wide).clamp(3.0, 9.0);
        match arc.fate {
            HookFate::Lost => {
                let (top, bottom) = (surface + 8.0, low - 4.0);
                let _ = write!(
                    svg,
                    r#"<path d="M{:.1},{top:.1}L{:.1},{bottom:.1}M{:.1},{top:.1}L{:.1},{bottom:.1}" stroke="{DOUBT}" stroke-width="1.5" fill="none"/>"#,
                    middle - half,
                    middle + half,
                    middle + half,
                    middle - half
                );
            }
            HookFate::Unknown => {
                let _ = write!(
                    svg,
                    r#"<text x="{middle:.1}" y="{:.1}" font-size="13" font-weight="700" text-anchor="middle" fill="{INK}">?</text>"#,
                    (surface + 15.0).min(low)
                );
            }
            _ => {}
        }
    }
    let _ = write!(svg, r#"<line x1="0" y1="{surface}" x2="{width}" y2="{surface}" stroke="{INK}" stroke-width="1"/>"#);
    for (from, to) in &strip.hauled_bars {
        let _ = write!(
            svg,
            r#"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="3.5" fill="{LINE}"/>"#,
            x(*from),
            surface - 6.0,
            (to - from) * wide
        );
    }
    for at in &strip.missing_floats {
        let _ = write!(
            svg,
            r##"<g transform="translate({:.1},{surface})"><circle r="3.6" fill="#fff" stroke="{DOUBT}" stroke-width="1.4"/><path d="M-2.4,-2.4L2.4,2.4M2.4,-2.4L-2.4,2.4" stroke="{DOUBT}" stroke-width="1.2"/></g>"##,
            x(*at)
        );
    }
    for (at, depth) in &strip.crosses {
        let _ = write!(
            svg,
            r#"<path transform="translate({:.1},{:.1})" d="M-2.6,-2.6L2.6,2.6M2.6,-2.6L-2.6,2.6" stroke="{DOUBT}" stroke-width="1.3"/>"#,
            x(*at),
            y(*depth)
        );
    }
    for (at, depth) in &strip.questions {
        let _ = write!(
            svg,
            r##"<text x="{:.1}" y="{:.1}" font-size="11" font-weight="700" text-anchor="middle" fill="{INK}" stroke="#ffffff" stroke-width="2" paint-order="stroke">?</text>"##,
            x(*at),
            y(*depth) - 3.0
        );
    }
    for dot in &strip.dots {
        let (fill, dash) = (if dot.kept { LIT } else { "#ffffff" }, if dot.guessed { "1.6 1.2" } else { "none" });
        let _ = write!(
            svg,
            r#"<circle cx="{:.1}" cy="{:.1}" r="3.1" fill="{fill}" stroke="{}" stroke-width="1.2" stroke-dasharray="{dash}"/>"#,
            x(dot.at),
            y(dot.depth_m),
            if dot.kept && !dot.guessed { "#ffffff" } else { LIT }
        );
    }
    let mut clear_from = f64::MIN;
    for flag in &strip.flags {
        let at = x(flag.at);
        let wide_label = 11.0 + text_width(&flag.label, 11.0);
        // A flag near the right edge flies to the left.
        let leftward = at + wide_label > width;
        let (tip, anchor, from) = if leftward { (-9.0, "end", at - wide_label) } else { (9.0, "start", at) };
        let _ = write!(
            svg,
            r#"<path d="M{at:.1},{surface}V9L{:.1},13L{at:.1},17" fill="{INK}" stroke="{INK}" stroke-width="1.3"/>"#,
            at + tip
        );
        if from >= clear_from {
            let _ = write!(
                svg,
                r#"<text x="{:.1}" y="17" font-size="11" text-anchor="{anchor}" fill="{SOFT}">{}</text>"#,
                at + tip * 1.3,
                escape(&flag.label)
            );
            clear_from = from + wide_label + 4.0;
        }
    }
    let bar = height - 28.0;
    for light in &strip.light {
        let (fill, edge) = match light.light {
            Light::Night => ("#3c464d", "none"),
            Light::Twilight => ("#a4adb3", "none"),
            Light::Day => ("#ffffff", EDGE),
        };
        let _ = write!(
            svg,
            r#"<rect x="{:.1}" y="{bar:.1}" width="{:.1}" height="6.5" fill="{fill}" stroke="{edge}" stroke-width="0.8"/>"#,
            x(light.from),
            (light.to - light.from) * wide
        );
    }
    let mut clear_from = 0.0;
    for tick in &strip.hours {
        let at = x(tick.at);
        let _ = write!(
            svg,
            r#"<line x1="{at:.1}" y1="{:.1}" x2="{at:.1}" y2="{:.1}" stroke="{EDGE}"/>"#,
            bar + 6.5,
            bar + 11.0
        );
        let half = text_width("00:00", 11.0) / 2.0;
        if at - half >= clear_from && at + half <= width {
            let _ = write!(
                svg,
                r#"<text x="{at:.1}" y="{:.1}" font-size="11" text-anchor="middle" fill="{SOFT}">{}</text>"#,
                bar + 22.0,
                clock.hour_minute(tick.at_utc)
            );
            clear_from = at + half + 6.0;
        }
    }
    svg + "</svg>"
}

/// The section, `width` × `height` px.
#[must_use]
pub fn section(section: &Section, width: f64, height: f64) -> String {
    let (left, right, top, bottom) = (46.0, 46.0, 8.0, 8.0);
    let (wide, tall) = (width - left - right, height - top - bottom);
    let pad = 14.0;
    let x = |along_m: f64| left + pad + along_m / section.span_m.max(1.0) * (wide - 2.0 * pad);
    let y = |depth_m: f64| top + depth_m / section.floor_m.max(1.0) * tall;
    let mut svg = open(width, height, "One basket as it hung, depth downward");
    if let (Some(upper), Some(lower)) = (section.profile.first(), section.profile.last()) {
        let (from, to) = (upper.0.min(section.floor_m), lower.0.min(section.floor_m));
        let rows = 120;
        let row_m = (to - from) / f64::from(rows);
        let _ = write!(svg, r##"<rect x="{left}" y="{top}" width="{wide:.1}" height="{tall:.1}" fill="#dfe7ea"/>"##);
        for row in 0..rows {
            let depth_m = from + (f64::from(row) + 0.5) * row_m;
            let _ = write!(
                svg,
                r#"<rect x="{left}" y="{:.2}" width="{wide:.1}" height="{:.2}" fill="{}"/>"#,
                y(from + f64::from(row) * row_m),
                row_m / section.floor_m * tall + 0.4,
                temperature_colour(temperature_at(&section.profile, depth_m))
            );
        }
    } else {
        let _ = write!(svg, r##"<rect x="{left}" y="{top}" width="{wide:.1}" height="{tall:.1}" fill="#cfe0e6"/>"##);
    }
    let mut clear_from = f64::MIN;
    for (celsius, depth_m) in &section.isotherms {
        let at = y(*depth_m);
        let _ = write!(
            svg,
            r##"<line x1="{left}" y1="{at:.1}" x2="{:.1}" y2="{at:.1}" stroke="#ffffff" stroke-opacity="0.75" stroke-width="0.9"/>"##,
            left + wide
        );
        if at - 6.0 >= clear_from && at + 6.0 <= height {
            let _ = write!(
                svg,
                r#"<text x="{:.1}" y="{:.1}" font-size="11" fill="{SOFT}">{celsius:.0}&#160;°C</text>"#,
                left + wide + 5.0,
                at + 4.0
            );
            clear_from = at + 7.0;
        }
    }
    for depth_m in &section.depth_ticks_m {
        let at = y(*depth_m);
        let _ = write!(
            svg,
            r#"<line x1="{:.1}" y1="{at:.1}" x2="{left}" y2="{at:.1}" stroke="{EDGE}"/><text x="{:.1}" y="{:.1}" font-size="11" text-anchor="end" fill="{SOFT}">{depth_m:.0}&#160;m</text>"#,
            left - 4.0,
            left - 7.0,
            (at + 4.0).clamp(11.0, height - 2.0)
        );
    }
    for end in [section.main_line.first(), section.main_line.last()].into_iter().flatten() {
        let _ = write!(
            svg,
            r##"<line x1="{0:.1}" y1="{top}" x2="{0:.1}" y2="{1:.1}" stroke="#ffffff" stroke-width="1.4"/><circle cx="{0:.1}" cy="{top}" r="5" fill="{INK}" stroke="#fff"/>"##,
            x(end.0),
            y(end.1)
        );
    }
    let path: String =
        section.main_line.iter().map(|(along, depth)| format!("{:.1},{:.1} ", x(*along), y(*depth))).collect();
    let _ = write!(
        svg,
        r##"<polyline points="{path}" fill="none" stroke="#08202b" stroke-opacity="0.45" stroke-width="3.4"/><polyline points="{path}" fill="none" stroke="#ffffff" stroke-width="1.8"/>"##
    );
    for disc in &section.discs {
        let at = x(disc.along_m);
        let _ = write!(
            svg,
            r##"<line x1="{at:.1}" y1="{:.1}" x2="{at:.1}" y2="{:.1}" stroke="#ffffff" stroke-width="1"/><line x1="{at:.1}" y1="{:.1}" x2="{at:.1}" y2="{:.1}" stroke="#08202b" stroke-opacity="0.38" stroke-width="4.5"/>"##,
            y(disc.clip_depth_m),
            y(disc.depth_m),
            y((disc.depth_m - disc.band_m).max(0.0)),
            y(disc.depth_m + disc.band_m)
        );
    }
    for disc in &section.discs {
        let _ = write!(
            svg,
            r##"<circle cx="{:.1}" cy="{:.1}" r="3.2" fill="#ffffff" stroke="{INK}" stroke-width="1.1"/>"##,
            x(disc.along_m),
            y(disc.depth_m)
        );
    }
    svg + "</svg>"
}

/// The chart, `width` × `height` px around a frame of the proportions that [`frame_of_chart`] gives.
#[must_use]
pub fn chart(chart: &Chart, width: f64, height: f64) -> String {
    let (left, top) = (CHART_LEFT, CHART_TOP);
    let (wide, tall) = frame_of_chart(width, height);
    let scale = wide / chart.width_nmi;
    let at = |point: &(f64, f64)| (left + point.0 * scale, top + point.1 * scale);
    let mut svg = open(width, height, "Where the line lay; not for navigation");
    let _ = write!(
        svg,
        r##"<rect x="{left}" y="{top}" width="{wide:.1}" height="{tall:.1}" fill="#e3edf1" stroke="{EDGE}" stroke-width="0.8"/>"##
    );
    let mut taken: Vec<(f64, f64)> = Vec::new();
    let mut ordered: Vec<_> = chart.meridians.iter().collect();
    ordered.sort_by_key(|meridian| !meridian.2);
    for (east, label, date_line) in ordered {
        let x = left + east * scale;
        let (stroke, thick, dash) = if *date_line { (INK, 1.1, "5 3") } else { ("#b5c4cb", 0.7, "none") };
        let _ = write!(
            svg,
            r#"<line x1="{x:.1}" y1="{top}" x2="{x:.1}" y2="{:.1}" stroke="{stroke}" stroke-width="{thick}" stroke-dasharray="{dash}"/>"#,
            top + tall
        );
        let half = text_width(label, 11.0) / 2.0;
        if x - half >= 0.0
            && x + half <= width
            && taken.iter().all(|(from, to)| x + half + 4.0 < *from || x - half - 4.0 > *to)
        {
            let _ = write!(
                svg,
                r#"<text x="{x:.1}" y="{:.1}" font-size="11" text-anchor="middle" fill="{SOFT}">{label}</text>"#,
                top + tall + 14.0
            );
            taken.push((x - half, x + half));
        }
    }
    for (south, label) in &chart.parallels {
        let y = top + south * scale;
        let _ = write!(
            svg,
            r##"<line x1="{left}" y1="{y:.1}" x2="{:.1}" y2="{y:.1}" stroke="#b5c4cb" stroke-width="0.7"/><text x="{:.1}" y="{:.1}" font-size="11" text-anchor="end" fill="{SOFT}">{label}</text>"##,
            left + wide,
            left - 5.0,
            (y + 4.0).clamp(11.0, top + tall)
        );
    }
    let path = |track: &[(f64, f64)]| {
        track
            .iter()
            .map(|point| {
                let (x, y) = at(point);
                format!("{x:.1},{y:.1} ")
            })
            .collect::<String>()
    };
    let _ = write!(
        svg,
        r#"<polyline points="{}" fill="none" stroke="{LIT}" stroke-width="1.5" stroke-dasharray="5 3"/>"#,
        path(&chart.as_hauled)
    );
    let _ =
        write!(svg, r#"<polyline points="{}" fill="none" stroke="{LINE}" stroke-width="2.2"/>"#, path(&chart.as_set));
    // Flags first, then each name where it lies on no flag and no other name: right, left, below, else it is left out.
    let mut taken: Vec<[f64; 4]> = chart
        .buoys
        .iter()
        .map(|(point, _)| {
            let (x, y) = at(point);
            let _ = write!(
                svg,
                r#"<path d="M{x:.1},{y:.1}v-14l8,3.5l-8,3.5" fill="{INK}" stroke="{INK}" stroke-width="1.2"/>"#
            );
            [x - 1.0, y - 15.0, x + 9.0, y]
        })
        .collect();
    for (point, name) in &chart.buoys {
        let (x, y) = at(point);
        let wide_label = text_width(name, 11.0);
        let places = [
            (x + 10.0, y - 8.0),
            (x - 4.0 - wide_label, y - 8.0),
            (x - wide_label / 2.0, y + 15.0),
            (x - wide_label / 2.0, y - 19.0),
        ];
        let free = places.into_iter().find(|(from, base)| {
            let [label_left, label_top, label_right, label_bottom] = [*from, base - 9.0, from + wide_label, base + 3.0];
            label_left > left
                && label_right < left + wide
                && label_top > top
                && label_bottom < top + tall
                && taken.iter().all(|other| {
                    label_right < other[0] || label_left > other[2] || label_bottom < other[1] || label_top > other[3]
                })
        });
        let Some((from, base)) = free else { continue };
        let _ = write!(
            svg,
            r##"<text x="{from:.1}" y="{base:.1}" font-size="11" fill="{INK}" stroke="#e3edf1" stroke-width="3" paint-order="stroke">{}</text>"##,
            escape(name)
        );
        taken.push([from, base - 9.0, from + wide_label, base + 3.0]);
    }
    let key = height - 8.0;
    let bar = chart.scale_nmi * scale;
    let bar_from = left + wide - bar;
    let _ = write!(
        svg,
        r#"<line x1="{left}" y1="{0:.1}" x2="{1:.1}" y2="{0:.1}" stroke="{LINE}" stroke-width="2.2"/><text x="{2:.1}" y="{3:.1}" font-size="11" fill="{SOFT}">as set</text>"#,
        key - 4.0,
        left + 22.0,
        left + 27.0,
        key
    );
    let _ = write!(
        svg,
        r#"<line x1="{0:.1}" y1="{1:.1}" x2="{2:.1}" y2="{1:.1}" stroke="{LIT}" stroke-width="1.5" stroke-dasharray="5 3"/><text x="{3:.1}" y="{key:.1}" font-size="11" fill="{SOFT}">{4}</text>"#,
        left + 72.0,
        key - 4.0,
        left + 94.0,
        left + 99.0,
        if chart.as_hauled.len() > 1 { "as hauled" } else { "haul not recorded" }
    );
    let _ = write!(
        svg,
        r#"<path d="M{bar_from:.1},{0:.1}v4h{bar:.1}v-4" fill="none" stroke="{INK}" stroke-width="1.2"/><text x="{1:.1}" y="{key:.1}" font-size="11" text-anchor="end" fill="{SOFT}">{2}&#160;nmi</text>"#,
        key - 7.0,
        bar_from - 5.0,
        chart.scale_nmi
    );
    svg + "</svg>"
}

const CHART_LEFT: f64 = 56.0;
const CHART_TOP: f64 = 8.0;

/// Width and height of the sea in a chart of `width` × `height` px.
#[must_use]
pub fn frame_of_chart(width: f64, height: f64) -> (f64, f64) {
    (width - CHART_LEFT - 8.0, height - CHART_TOP - 42.0)
}

/// Bars of the catch by hook position, `width` × `height` px.
#[must_use]
pub fn by_position(rows: &[ByPosition], width: f64, height: f64) -> String {
    let mut svg = open(width, height, "Fish caught per 1,000 hooks by position from the nearer float");
    let highest = rows.iter().filter_map(|row| row.per_thousand).fold(0.0, f64::max).max(1e-9);
    let (top, base) = (18.0, height - 34.0);
    #[expect(clippy::cast_precision_loss, reason = "positions are few")]
    let pitch = (width / rows.len().max(1) as f64).min(64.0);
    let every = (26.0 / pitch).ceil().max(1.0);
    for (index, row) in rows.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "positions are few")]
        let (nth, middle) = (index as f64, (index as f64 + 0.5) * pitch);
        let rate = row.per_thousand.unwrap_or(0.0);
        let tall = rate / highest * (base - top);
        let _ = write!(
            svg,
            r##"<rect x="{:.1}" y="{:.1}" width="{:.1}" height="{tall:.1}" fill="#2f7389"/>"##,
            middle - pitch * 0.34,
            base - tall,
            pitch * 0.68
        );
        if nth % every < 0.5 {
            let _ = write!(
                svg,
                r#"<text x="{middle:.1}" y="{:.1}" font-size="11" text-anchor="middle" fill="{INK}">{rate:.1}</text><text x="{middle:.1}" y="{:.1}" font-size="11" text-anchor="middle" fill="{SOFT}">{}</text>"#,
                base - tall - 4.0,
                base + 14.0,
                row.from_nearer_float
            );
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "positions are few")]
    let end = pitch * rows.len() as f64;
    let _ = write!(
        svg,
        r#"<line x1="0" y1="{base}" x2="{end:.1}" y2="{base}" stroke="{EDGE}"/><text x="0" y="{:.1}" font-size="11" fill="{SOFT}">at the float</text>"#,
        base + 29.0
    );
    if end > 190.0 {
        let _ = write!(
            svg,
            r#"<text x="{end:.1}" y="{:.1}" font-size="11" text-anchor="end" fill="{SOFT}">middle of the basket</text>"#,
            base + 29.0
        );
    }
    svg + "</svg>"
}

/// The colour of a temperature by day, from 4 to 30 °C.
#[must_use]
pub fn temperature_colour(celsius: f64) -> String {
    let along = ((celsius - 4.0) / 26.0).clamp(0.0, 1.0) * 8.0;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 7")]
    let stop = (along.floor() as usize).min(7);
    let (from, to) = (THERMAL[stop], THERMAL[stop + 1]);
    #[expect(clippy::cast_precision_loss, reason = "0 to 7")]
    let share = along - stop as f64;
    let mix = |from: f64, to: f64| (from + share * (to - from)) * 5.0 / 6.0 + 255.0 / 6.0;
    format!("rgb({:.0},{:.0},{:.0})", mix(from.0, to.0), mix(from.1, to.1), mix(from.2, to.2))
}

fn temperature_at(profile: &[(f64, f64)], depth_m: f64) -> f64 {
    let below = profile.iter().position(|(at_m, _)| *at_m >= depth_m).unwrap_or(profile.len().saturating_sub(1));
    match (below.checked_sub(1).and_then(|above| profile.get(above)), profile.get(below)) {
        (Some(above), Some(below)) if below.0 > above.0 => {
            above.1 + (depth_m - above.0) / (below.0 - above.0) * (below.1 - above.1)
        }
        (_, Some(below)) => below.1,
        _ => 0.0,
    }
}

#[expect(clippy::cast_precision_loss, reason = "labels are short")]
fn text_width(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * LETTER_WIDTH
}

fn open(width: f64, height: f64, title: &str) -> String {
    format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0} {height:.0}" width="{width:.0}" height="{height:.0}" role="img" aria-label="{}">"#,
        escape(title)
    )
}
