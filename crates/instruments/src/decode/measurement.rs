//! Named measurements: transducers (XDR), radar targets (TLL, TTM), trip distance (VLW).

use crate::frame::text_of;
use crate::sentence::{Reading, Target, xdr};

/// One named measurement.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Measurement {
    /// For an XDR its type letter as sent (`C` temperature, `P` pressure …), else a word such as `target_distance`.
    pub kind: String,
    /// The value; null when empty.
    pub value: Option<f64>,
    /// For an XDR its unit letter as sent, else such as `nmi`, `kn`, `deg_true`, `min`.
    pub unit: Option<String>,
    /// Name of the transducer, or the status of a target (`lost`, `acquiring`, `tracked`).
    pub name: Option<String>,
}

/// The measurements of one sentence.
pub(super) fn of(reading: &Reading<'_>) -> Vec<Measurement> {
    let mut found = Vec::new();
    if let Some(rest) = reading.transducers {
        let some = |raw: &[u8]| (!raw.is_empty()).then(|| text_of(raw));
        found.extend(xdr::groups(rest).map(|group| Measurement {
            kind: text_of(group.kind),
            value: group.value,
            unit: some(group.unit),
            name: some(group.name),
        }));
    }
    if let Some(target) = &reading.target {
        of_target(target, &mut found);
    }
    push(&mut found, "trip_distance_through_water", reading.trip_through_water_nmi, Some("nmi"));
    found
}

fn of_target(target: &Target<'_>, found: &mut Vec<Measurement>) {
    let (length, speed) = match target.unit {
        Some(b'K') => (Some("km"), Some("km/h")),
        Some(b'N') => (Some("nmi"), Some("kn")),
        Some(b'S') => (Some("mi"), Some("mi/h")),
        _ => (None, None),
    };
    let from = |is_true: bool| Some(if is_true { "deg_true" } else { "deg_relative" });
    push(found, "target_distance", target.distance, length);
    push(found, "target_bearing", target.bearing_deg, from(target.bearing_is_true));
    push(found, "target_speed", target.speed, speed);
    push(found, "target_course", target.course_deg, from(target.course_is_true));
    push(found, "closest_approach_distance", target.closest_distance, length);
    push(found, "closest_approach_in", target.closest_in_min, Some("min"));
    if let Some(status) = target.status {
        let name = match status {
            b"L" => "lost".to_owned(),
            b"Q" => "acquiring".to_owned(),
            b"T" => "tracked".to_owned(),
            other => text_of(other),
        };
        found.push(Measurement { kind: "target_status".to_owned(), value: None, unit: None, name: Some(name) });
    }
}

fn push(found: &mut Vec<Measurement>, kind: &str, value: Option<f64>, unit: Option<&str>) {
    if value.is_some() {
        found.push(Measurement { kind: kind.to_owned(), value, unit: unit.map(str::to_owned), name: None });
    }
}
