//! How near a line comes to the boundary of a zone, and whether any of it lies inside. It says how far, never what
//! is allowed.
//!
//! Zones are GeoJSON (Butler, H. et al. (2016), "The GeoJSON Format", RFC 7946): an edge is straight in longitude and
//! latitude (section 3.1.1); where its ends are more than 180° apart it goes the short way over the 180° meridian, and
//! seams of a zone that was cut there (section 3.1.9) are no boundary. The nearest pair is found by branch and bound on
//! chords through the WGS84 ellipsoid, pieces of 2 km at last; the distance told is the geodesic between that pair.
//! Good to a metre up to 100 km and to 1 part in 10,000 up to 2,000 km (measured in the tests).

mod near;
mod shape;

use quantity::{Position, PositionError};
use serde::{Deserialize, Serialize};
use serde_json::Value;

pub use near::{Nearest, least_distance};
use shape::{Edge, Polygon};

/// The most corners that one zone may have.
pub const MOST_CORNERS: usize = 200_000;

/// A zone: areas, or lines, with a name.
#[derive(Debug, Clone)]
pub struct Zone {
    /// Its name, as loaded.
    pub name: String,
    polygons: Vec<Polygon>,
    edges: Vec<Edge>,
}

/// Why something is no zone.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ZoneError {
    /// Not GeoJSON.
    #[error(
        "zone \"{name}\" is not GeoJSON as in RFC 7946 ({why}). It was not loaded; load it again as a Polygon, a MultiPolygon or a LineString."
    )]
    NotGeoJson {
        /// Its name.
        name: String,
        /// What the reader says.
        why: String,
    },
    /// Nothing in it has a boundary.
    #[error(
        "zone \"{name}\" has no boundary: {kind} is neither an area nor a line. It was not loaded; give a Polygon, a MultiPolygon or a LineString."
    )]
    NoBoundary {
        /// Its name.
        name: String,
        /// The type of geometry.
        kind: String,
    },
    /// A corner that is no place.
    #[error(
        "zone \"{name}\" has a corner that is no place: {why}. It was not loaded; in GeoJSON the longitude comes first."
    )]
    Corner {
        /// Its name.
        name: String,
        /// What is wrong with it.
        why: PositionError,
    },
    /// A ring or line of too few corners.
    #[error(
        "zone \"{name}\" has a boundary of {corners} corners; a line needs 2, an area 3. It was not loaded; correct the file."
    )]
    TooFewCorners {
        /// Its name.
        name: String,
        /// How many it has.
        corners: usize,
    },
    /// More than can be searched while a man waits.
    #[error(
        "zone \"{name}\" has {corners} corners; at most {MOST_CORNERS} are taken. It was not loaded; thin its boundary."
    )]
    TooManyCorners {
        /// Its name.
        name: String,
        /// How many it has.
        corners: usize,
    },
}

impl Zone {
    /// A zone from a GeoJSON geometry (or a feature, or a collection of them taken as one zone).
    ///
    /// # Errors
    /// [`ZoneError`] for what is no GeoJSON, has no boundary, or corners that are no places.
    pub fn of(name: &str, geojson: &Value) -> Result<Self, ZoneError> {
        let read = geojson::GeoJson::deserialize(geojson)
            .map_err(|error| ZoneError::NotGeoJson { name: name.to_owned(), why: short(&error.to_string()) })?;
        let geometries = match read {
            geojson::GeoJson::Geometry(geometry) => vec![geometry],
            geojson::GeoJson::Feature(feature) => feature.geometry.into_iter().collect(),
            geojson::GeoJson::FeatureCollection(all) => {
                all.features.into_iter().filter_map(|feature| feature.geometry).collect()
            }
        };
        Self::from_geometries(name, &geometries)
    }

    fn from_geometries(name: &str, geometries: &[geojson::Geometry]) -> Result<Self, ZoneError> {
        let mut shapes = shape::Shapes::new(name);
        for geometry in geometries {
            shapes.add(geometry)?;
        }
        let (polygons, edges) = shapes.finish();
        if edges.is_empty() {
            let kind = geometries.first().map_or("nothing", |geometry| geometry.value.type_name()).to_owned();
            return Err(ZoneError::NoBoundary { name: name.to_owned(), kind });
        }
        Ok(Self { name: name.to_owned(), polygons, edges })
    }

    /// Whether a place lies inside one of its areas; never for lines.
    #[must_use]
    pub fn contains(&self, place: Position) -> bool {
        self.polygons.iter().any(|polygon| polygon.contains(place))
    }
}

/// What a file of zones gave: those that could be read, and what is wrong with the others.
#[derive(Debug, Clone, Default)]
pub struct Loaded {
    /// The zones.
    pub zones: Vec<Zone>,
    /// What could not be read.
    pub refused: Vec<ZoneError>,
}

/// Every feature of a GeoJSON file as a zone of its own, named by its property `name` (or `id`, or the file's name).
#[must_use]
pub fn load(file_name: &str, geojson: &Value) -> Loaded {
    let mut loaded = Loaded::default();
    let mut keep = |zone: Result<Zone, ZoneError>| match zone {
        Ok(zone) => loaded.zones.push(zone),
        Err(error) => loaded.refused.push(error),
    };
    let named = |feature: &Value, number: usize| {
        let property = |key: &str| match feature.pointer(key) {
            Some(Value::String(text)) if !text.trim().is_empty() => Some(short(text)),
            Some(Value::Number(number)) => Some(number.to_string()),
            _ => None,
        };
        ["/properties/name", "/properties/NAME", "/properties/Name", "/id"]
            .iter()
            .find_map(|key| property(key))
            .unwrap_or_else(|| if number > 1 { format!("{file_name} {number}") } else { file_name.to_owned() })
    };
    match geojson.get("features").and_then(Value::as_array) {
        Some(features) => {
            for (feature, number) in features.iter().zip(1..) {
                keep(Zone::of(&named(feature, number), feature));
            }
        }
        None => keep(Zone::of(&named(geojson, 1), geojson)),
    }
    loaded
}

fn short(text: &str) -> String {
    text.chars().take(120).collect()
}

/// How near a planned or set line comes to a zone, for a screen.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ZoneDistance {
    /// The zone's name.
    pub name: String,
    /// Least distance to its boundary, metres; 0 where the line crosses it.
    pub least_distance_m: f64,
    /// Whether any of the line lies inside.
    pub inside: bool,
    /// When the ship is nearest; null where that is not known.
    pub at: Option<quantity::UtcInstant>,
    /// Where on the line it is nearest.
    pub latitude_deg: f64,
    /// Where on the line it is nearest.
    pub longitude_deg: f64,
    /// The stretch of the line, from 1; null where it has none.
    pub leg: Option<u32>,
}
