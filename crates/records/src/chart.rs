//! Geometry of the small chart: where the line lay as set and as hauled, with graticule and scale.
//!
//! Plain numbers in nautical miles east and south of the north-west corner, on a plane tangent at the middle latitude
//! (plate carrée, east shrunk by the cosine of the middle latitude): a sketch, not for navigation. Longitudes are
//! unrolled from the first point on, so nothing breaks at 180°.

use quantity::{Position, wrap_longitude_deg};
use serde::Serialize;
use voyage::SetRecord;

use crate::geo::line_as_set;
use crate::words;

/// The chart of a set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chart {
    /// Width, nautical miles.
    pub width_nmi: f64,
    /// Height, nautical miles.
    pub height_nmi: f64,
    /// The line as set.
    pub as_set: Vec<(f64, f64)>,
    /// The ship's track while hauling.
    pub as_hauled: Vec<(f64, f64)>,
    /// Radio buoys where they went in.
    pub buoys: Vec<((f64, f64), String)>,
    /// Meridians: (east of the west edge in nautical miles, label, true for 180°).
    pub meridians: Vec<(f64, String, bool)>,
    /// Parallels: (south of the north edge in nautical miles, label).
    pub parallels: Vec<(f64, String)>,
    /// Length of the scale bar, nautical miles.
    pub scale_nmi: f64,
}

/// The chart of a set for a frame of `width` by `height` (any unit); none where nothing has a place.
#[must_use]
pub fn chart(set: &SetRecord, width: f64, height: f64) -> Option<Chart> {
    let laid = line_as_set(set);
    let hauled: Vec<Position> = set.hauling_track.iter().map(|(_, at)| *at).collect();
    let buoys = set.places.iter().filter_map(|place| {
        // In place of the float or beside it.
        let beside =
            || set.radio_buoys.iter().find(|buoy| buoy.place == Some(place.place)).map(|buoy| buoy.buoy.clone());
        Some((place.position?, place.radio_buoy.clone().or_else(beside)?))
    });
    chart_of(&laid, &hauled, &buoys.collect::<Vec<_>>(), width, height)
}

/// The chart of lines and radio buoys for a frame; none where neither line has a place.
#[must_use]
pub fn chart_of(
    laid: &[Position],
    hauled: &[Position],
    buoys: &[(Position, String)],
    width: f64,
    height: f64,
) -> Option<Chart> {
    let origin = *laid.first().or(hauled.first())?;
    let unroll = |at: &Position| {
        (origin.longitude_deg() + wrap_longitude_deg(at.longitude_deg() - origin.longitude_deg()), at.latitude_deg())
    };
    let all: Vec<(f64, f64)> = laid.iter().chain(hauled).map(unroll).collect();
    let (mut west, mut east, mut south, mut north) = (f64::MAX, f64::MIN, f64::MAX, f64::MIN);
    for (lon, lat) in &all {
        (west, east) = (west.min(*lon), east.max(*lon));
        (south, north) = (south.min(*lat), north.max(*lat));
    }
    let shrink = f64::midpoint(south, north).to_radians().cos().max(0.01);
    let (middle_lon, middle_lat) = (f64::midpoint(west, east), f64::midpoint(south, north));
    let wanted_w = ((east - west) * 60.0 * shrink).max(1.0) * 1.16;
    let wanted_h = ((north - south) * 60.0).max(1.0) * 1.16;
    // One scale both ways: the side that has room to spare shows more sea.
    let per_unit = (wanted_w / width).max(wanted_h / height);
    let (width_nmi, height_nmi) = (width * per_unit, height * per_unit);
    let (west, north) = (middle_lon - width_nmi / 2.0 / 60.0 / shrink, middle_lat + height_nmi / 2.0 / 60.0);
    let to_plane = |(lon, lat): (f64, f64)| ((lon - west) * 60.0 * shrink, (north - lat) * 60.0);
    let plane = |track: &[Position]| track.iter().map(|at| to_plane(unroll(at))).collect::<Vec<_>>();
    let step_min = graticule_step_min(width_nmi.max(height_nmi));
    let meridians = multiples(west, west + width_nmi / 60.0 / shrink, graticule_step_min(width_nmi / shrink))
        .into_iter()
        .map(|lon| {
            (
                to_plane((lon, north)).0,
                words::longitude_short(wrap_longitude_deg(lon)),
                (wrap_longitude_deg(lon) + 180.0).abs() < 1e-9,
            )
        })
        .collect::<Vec<_>>();
    let parallels = multiples(north - height_nmi / 60.0, north, step_min)
        .into_iter()
        .map(|lat| (to_plane((west, lat)).1, words::latitude_short(lat)))
        .collect();
    Some(Chart {
        width_nmi,
        height_nmi,
        as_set: plane(laid),
        as_hauled: plane(hauled),
        buoys: buoys.iter().map(|(at, name)| (to_plane(unroll(at)), name.clone())).collect(),
        meridians: with_date_line(meridians, west, width_nmi, shrink),
        parallels,
        scale_nmi: [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0]
            .into_iter()
            .filter(|bar| *bar <= width_nmi / 3.0)
            .fold(0.5, f64::max),
    })
}

/// The 180° meridian stands in the chart also where the step passes it by.
fn with_date_line(
    mut meridians: Vec<(f64, String, bool)>,
    west: f64,
    width_nmi: f64,
    shrink: f64,
) -> Vec<(f64, String, bool)> {
    if meridians.iter().any(|(.., date_line)| *date_line) {
        return meridians;
    }
    let east_nmi = wrap_longitude_deg(180.0 - west).rem_euclid(360.0) * 60.0 * shrink;
    if east_nmi > 0.0 && east_nmi < width_nmi {
        meridians.push((east_nmi, "180°".to_owned(), true));
    }
    meridians
}

fn graticule_step_min(extent_nmi: f64) -> f64 {
    [1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 300.0]
        .into_iter()
        .find(|step| extent_nmi / step <= 4.5)
        .unwrap_or(600.0)
}

fn multiples(from_deg: f64, to_deg: f64, step_min: f64) -> Vec<f64> {
    let mut at = (from_deg * 60.0 / step_min).ceil();
    let mut all = Vec::new();
    while at * step_min / 60.0 <= to_deg && all.len() < 50 {
        all.push(at * step_min / 60.0);
        at += 1.0;
    }
    all
}
