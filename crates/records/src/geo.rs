//! GeoJSON of a set (RFC 7946): the line as set, the haul track, floats, radio buoys and fish.
//!
//! Lines that cross the 180° meridian are cut there into a MultiLineString (RFC 7946, section 3.1.9), with the latitude
//! of the cut by proportion of longitude. Coordinates are longitude, latitude on WGS84, seven decimals.

use std::collections::BTreeMap;

use forecast::HookDepth;
use quantity::{Position, wrap_longitude_deg};
use serde_json::{Value, json};
use voyage::{CatchFate, SetRecord, VoyageRecord};

use crate::hooks::fate_word;

/// The set as a FeatureCollection. `depths` is [`forecast::depths`] of the same set.
#[must_use]
pub fn geojson(voyage: &VoyageRecord, set: &SetRecord, depths: &[HookDepth]) -> Value {
    let mut features = Vec::new();
    let mut line = |what: &str, track: &[Position]| {
        if let Some(geometry) = line_geometry(track) {
            features.push(json!({"type": "Feature", "geometry": geometry,
                "properties": {"what": what, "voyage": voyage.number, "set": set.number, "not_for_navigation": true}}));
        }
    };
    line("line_as_set", &line_as_set(set));
    line("haul_track", &set.hauling_track.iter().map(|(_, at)| *at).collect::<Vec<_>>());
    for place in &set.places {
        let Some(at) = place.position else { continue };
        let what = if place.radio_buoy.is_some() { "radio_buoy" } else { "float" };
        features.push(json!({"type": "Feature", "geometry": point(at), "properties": {
            "what": what, "place": place.place, "tag": place.tag, "radio_buoy": place.radio_buoy, "clipped_utc": place.clipped_at,
            "tapped": place.tapped, "hauled_utc": place.hauled_at, "missing": place.missing, "along_line_m": place.along_line_m}}));
    }
    let hooks: BTreeMap<(i64, i64), usize> =
        set.hooks.iter().enumerate().map(|(index, hook)| ((hook.basket, hook.position), index)).collect();
    for fish in &set.fish {
        let index = fish.basket.zip(fish.position).and_then(|hook| hooks.get(&hook)).copied();
        let hook = index.and_then(|index| set.hooks.get(index));
        let depth = index.and_then(|index| depths.get(index));
        // RFC 7946, 3.2: a feature without a place has a null geometry.
        let geometry = hook.and_then(|hook| hook.place).map_or(Value::Null, point);
        features.push(json!({"type": "Feature", "geometry": geometry, "properties": {
            "what": "fish", "id": fish.id, "species": fish.species, "fate": catch_word(fish.fate), "at_rail_utc": fish.at,
            "basket": fish.basket, "position": fish.position, "uncertainty_hooks": fish.uncertainty_hooks,
            "hook_number": hook.and_then(|hook| hook.number), "hook_fate": hook.map(|hook| fate_word(hook.fate)),
            "depth_m": depth.and_then(|depth| depth.depth_m), "depth_band_m": depth.and_then(|depth| depth.band_m)}}));
    }
    json!({"type": "FeatureCollection", "features": features})
}

/// The places that the line went through while it was set: places and hooks in setting order, else the ship's track.
#[must_use]
pub fn line_as_set(set: &SetRecord) -> Vec<Position> {
    let mut points: Vec<Position> = Vec::new();
    let mut push = |at: Option<Position>| {
        if let Some(at) = at
            && points.last() != Some(&at)
        {
            points.push(at);
        }
    };
    for (index, place) in set.places.iter().enumerate() {
        push(place.position);
        let Some(basket) = set.baskets.iter().find(|basket| basket.basket == place.place) else { continue };
        let hooks = usize::try_from(basket.hooks).unwrap_or(0);
        set.hooks.iter().skip(basket.first_hook).take(hooks).for_each(|hook| push(hook.place));
        if index + 1 == set.places.len() {
            break;
        }
    }
    if points.len() < 2 { set.setting_track.iter().map(|(_, at)| *at).collect() } else { points }
}

/// A LineString, or a MultiLineString cut at ±180°; none for fewer than two points.
#[must_use]
pub fn line_geometry(track: &[Position]) -> Option<Value> {
    let mut parts = cut_at_antimeridian(track);
    parts.retain(|part| part.len() > 1);
    let written = |part: &Vec<(f64, f64)>| {
        Value::from(part.iter().map(|(lon, lat)| json!([seven(*lon), seven(*lat)])).collect::<Vec<_>>())
    };
    match parts.as_slice() {
        [] => None,
        [one] => Some(json!({"type": "LineString", "coordinates": written(one)})),
        many => Some(json!({"type": "MultiLineString", "coordinates": many.iter().map(written).collect::<Vec<_>>()})),
    }
}

/// A track as `(longitude, latitude)` parts that nowhere cross the 180° meridian; a cut stands at +180 and −180.
#[must_use]
pub fn cut_at_antimeridian(track: &[Position]) -> Vec<Vec<(f64, f64)>> {
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut part: Vec<(f64, f64)> = Vec::new();
    for at in track {
        let (lon, lat) = (at.longitude_deg(), at.latitude_deg());
        if let Some(&(before_lon, before_lat)) = part.last()
            && (lon - before_lon).abs() > 180.0
        {
            let edge = if before_lon > 0.0 { 180.0 } else { -180.0 };
            let whole = wrap_longitude_deg(lon - before_lon);
            let fraction =
                if whole.abs() > 0.0 { (wrap_longitude_deg(edge - before_lon) / whole).abs().min(1.0) } else { 0.0 };
            let edge_lat = before_lat + fraction * (lat - before_lat);
            if (before_lon - edge).abs() > 0.0 {
                part.push((edge, edge_lat));
            }
            parts.push(std::mem::take(&mut part));
            if (lon + edge).abs() > 0.0 {
                part.push((-edge, edge_lat));
            }
        }
        part.push((lon, lat));
    }
    parts.push(part);
    parts
}

fn point(at: Position) -> Value {
    json!({"type": "Point", "coordinates": [seven(at.longitude_deg()), seven(at.latitude_deg())]})
}

fn seven(degrees: f64) -> f64 {
    (degrees * 1e7).round() / 1e7
}

/// The word of what became of a fish.
#[must_use]
pub const fn catch_word(fate: CatchFate) -> &'static str {
    match fate {
        CatchFate::Retained => "retained",
        CatchFate::Released => "released",
        CatchFate::Discarded => "discarded",
        CatchFate::Lost => "lost",
    }
}
