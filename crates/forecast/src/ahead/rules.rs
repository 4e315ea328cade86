//! Rules that come with a file of zones: only what the file itself says, and only where its zones lie.
//!
//! A feature whose property `rule` is `set_by_night` has hooks set by night within its boundary. What a rule rests on is
//! the file's own affair; nothing of the kind is built in.

use serde_json::Value;

use crate::zones::{Zone, load};

/// The word of the rule in a feature's properties.
const SET_BY_NIGHT: &str = "set_by_night";

/// The zones of a GeoJSON file within which hooks are set by night.
#[must_use]
pub fn night_rules(file_name: &str, geojson: &Value) -> Vec<Zone> {
    let is_rule = |feature: &&Value| feature.pointer("/properties/rule").and_then(Value::as_str) == Some(SET_BY_NIGHT);
    let features: Vec<&Value> = match geojson.get("features").and_then(Value::as_array) {
        Some(features) => features.iter().collect(),
        None => vec![geojson],
    };
    let ruled: Vec<Value> = features.into_iter().filter(is_rule).cloned().collect();
    let file = serde_json::json!({"type": "FeatureCollection", "features": ruled});
    load(file_name, &file).zones
}
