//! The rings, lines and edges of a zone, unwrapped across 180°.

use geojson::GeometryValue;
use quantity::{Position, wrap_longitude_deg};

use super::{MOST_CORNERS, ZoneError};

/// The largest radius of curvature of WGS84, metres (polar; a²/b): no degree is longer.
const LARGEST_RADIUS_M: f64 = 6_399_594.0;
/// WGS84: equatorial radius, metres, and first eccentricity squared (NIMA TR8350.2).
const EQUATOR_RADIUS_M: f64 = 6_378_137.0;
const E2: f64 = 0.006_694_379_990_141_3;

/// `[longitude, latitude]` in degrees, the longitude running on beyond ±180 where a line does.
pub(super) type Corner = [f64; 2];

/// An area with its holes.
#[derive(Debug, Clone)]
pub(super) struct Polygon {
    rings: Vec<Vec<Corner>>,
}

impl Polygon {
    pub(super) fn contains(&self, place: Position) -> bool {
        let mut rings = self.rings.iter().map(|ring| in_ring(ring, place));
        rings.next().unwrap_or(false) && !rings.any(|inside| inside)
    }
}

/// A straight piece in longitude and latitude.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub from: Corner,
    pub to: Corner,
    /// Its middle in the earth's frame, metres, and how far the piece reaches from there at most.
    pub middle_m: [f64; 3],
    pub reach_m: f64,
}

impl Edge {
    pub(super) fn new(from: Corner, to: Corner) -> Self {
        let middle = between(from, to, 0.5);
        Self { from, to, middle_m: in_earth_m(middle), reach_m: 0.5 * longest_m(from, to) }
    }

    pub(super) fn halves(&self) -> [Self; 2] {
        let middle = between(self.from, self.to, 0.5);
        [Self::new(self.from, middle), Self::new(middle, self.to)]
    }

    pub(super) fn at(&self, share: f64) -> Corner {
        between(self.from, self.to, share)
    }
}

fn between(from: Corner, to: Corner, share: f64) -> Corner {
    [from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])]
}

/// A bound on the length of a straight piece in longitude and latitude.
fn longest_m(from: Corner, to: Corner) -> f64 {
    let widest = if from[1] * to[1] <= 0.0 { 1.0 } else { from[1].abs().min(to[1].abs()).to_radians().cos() };
    let east_rad = (to[0] - from[0]).to_radians() * widest;
    LARGEST_RADIUS_M * east_rad.hypot((to[1] - from[1]).to_radians())
}

/// A corner on the ellipsoid in the earth's own frame, metres.
pub(super) fn in_earth_m(corner: Corner) -> [f64; 3] {
    let (sin_lat, cos_lat) = corner[1].to_radians().sin_cos();
    let (sin_lon, cos_lon) = corner[0].to_radians().sin_cos();
    let radius_m = EQUATOR_RADIUS_M / (1.0 - E2 * sin_lat * sin_lat).sqrt();
    [radius_m * cos_lat * cos_lon, radius_m * cos_lat * sin_lon, radius_m * (1.0 - E2) * sin_lat]
}

/// The step in longitude from one corner to the next: the short way, but a whole turn as it is written.
fn step_deg(from_deg: f64, to_deg: f64) -> f64 {
    let step_deg = to_deg - from_deg;
    if step_deg.abs() > 180.0 && step_deg.abs() < 360.0 - 1e-9 { wrap_longitude_deg(step_deg) } else { step_deg }
}

/// Crossings of the meridian of a place north of it, for the place and its likes a turn away.
fn in_ring(ring: &[Corner], place: Position) -> bool {
    [-360.0, 0.0, 360.0].iter().any(|turn_deg| {
        let (x, y) = (place.longitude_deg() + turn_deg, place.latitude_deg());
        let crossings = ring.windows(2).filter(|pair| {
            let ([x0, y0], [x1, y1]) = (pair[0], pair[1]);
            (x0 <= x) != (x1 <= x) && y0 + (x - x0) / (x1 - x0) * (y1 - y0) > y
        });
        crossings.count() % 2 == 1
    })
}

/// Collects the shapes of a zone.
pub(super) struct Shapes<'a> {
    name: &'a str,
    corners: usize,
    polygons: Vec<Polygon>,
    edges: Vec<Edge>,
    /// Pieces along the 180° meridian as spans of latitude: of areas west of it, and of areas east of it.
    seams: [Vec<[f64; 2]>; 2],
}

impl<'a> Shapes<'a> {
    pub(super) fn new(name: &'a str) -> Self {
        Self { name, corners: 0, polygons: Vec::new(), edges: Vec::new(), seams: [Vec::new(), Vec::new()] }
    }

    pub(super) fn add(&mut self, geometry: &geojson::Geometry) -> Result<(), ZoneError> {
        match &geometry.value {
            GeometryValue::Polygon { coordinates } => self.polygon(coordinates),
            GeometryValue::MultiPolygon { coordinates } => coordinates.iter().try_for_each(|each| self.polygon(each)),
            GeometryValue::LineString { coordinates } => self.line(coordinates),
            GeometryValue::MultiLineString { coordinates } => coordinates.iter().try_for_each(|each| self.line(each)),
            GeometryValue::GeometryCollection { geometries } => geometries.iter().try_for_each(|each| self.add(each)),
            // Points have no boundary.
            GeometryValue::Point { .. } | GeometryValue::MultiPoint { .. } => Ok(()),
        }
    }

    /// The areas, and every piece of boundary: the seams along 180° only where nothing of the zone lies beyond.
    pub(super) fn finish(mut self) -> (Vec<Polygon>, Vec<Edge>) {
        let [west, east] = &self.seams;
        for (own, other, longitude_deg) in [(west, east, 180.0), (east, west, -180.0)] {
            for span in own {
                for [from, to] in without(*span, other) {
                    self.edges.push(Edge::new([longitude_deg, from], [longitude_deg, to]));
                }
            }
        }
        (self.polygons, self.edges)
    }

    fn line(&mut self, line: &[geojson::Position]) -> Result<(), ZoneError> {
        let corners = self.unwrapped(line, 2)?;
        self.edges.extend(corners.windows(2).map(|pair| Edge::new(pair[0], pair[1])));
        Ok(())
    }

    fn polygon(&mut self, rings: &[Vec<geojson::Position>]) -> Result<(), ZoneError> {
        let mut polygon = Polygon { rings: Vec::new() };
        for ring in rings {
            let mut corners = self.unwrapped(ring, 3)?;
            if let (Some(first), Some(last)) = (corners.first().copied(), corners.last().copied()) {
                // A ring that was left open is closed the short way.
                let open_deg = wrap_longitude_deg(first[0] - last[0]);
                if open_deg.abs() > 1e-12 || (last[1] - first[1]).abs() > 1e-12 {
                    corners.push([last[0] + open_deg, first[1]]);
                }
            }
            for pair in corners.windows(2) {
                self.boundary(pair[0], pair[1]);
            }
            close_round_the_pole(&mut corners);
            polygon.rings.push(corners);
        }
        self.polygons.push(polygon);
        Ok(())
    }

    fn boundary(&mut self, from: Corner, to: Corner) {
        // Edges at a pole are a single place, and only close a ring that was written flat.
        if from[1].abs() >= 90.0 && to[1].abs() >= 90.0 {
            return;
        }
        let on_seam = |corner: Corner| (corner[0].abs() - 180.0).abs() < 1e-9;
        if on_seam(from) && on_seam(to) && (from[0] - to[0]).abs() < 1e-9 {
            let side = usize::from(from[0] < 0.0);
            self.seams[side].push([from[1].min(to[1]), from[1].max(to[1])]);
        } else {
            self.edges.push(Edge::new(from, to));
        }
    }

    /// Corners as places, their longitudes running on.
    fn unwrapped(&mut self, line: &[geojson::Position], least: usize) -> Result<Vec<Corner>, ZoneError> {
        self.corners += line.len();
        if self.corners > MOST_CORNERS {
            return Err(ZoneError::TooManyCorners { name: self.name.to_owned(), corners: self.corners });
        }
        let mut corners: Vec<Corner> = Vec::with_capacity(line.len() + 1);
        let mut written_deg = None;
        for corner in line {
            let (longitude_deg, latitude_deg) = match corner.as_slice() {
                [longitude_deg, latitude_deg, ..] => (*longitude_deg, *latitude_deg),
                _ => (f64::NAN, f64::NAN),
            };
            Position::new(latitude_deg, longitude_deg)
                .map_err(|why| ZoneError::Corner { name: self.name.to_owned(), why })?;
            let runs_on_deg = match (corners.last(), written_deg) {
                (Some(last), Some(before_deg)) => last[0] + step_deg(before_deg, longitude_deg),
                _ => longitude_deg,
            };
            written_deg = Some(longitude_deg);
            corners.push([runs_on_deg, latitude_deg]);
        }
        let mut distinct = corners.clone();
        distinct.dedup_by(|a, b| (a[0] - b[0]).abs() < 1e-12 && (a[1] - b[1]).abs() < 1e-12);
        if distinct.len() < least {
            return Err(ZoneError::TooFewCorners { name: self.name.to_owned(), corners: distinct.len() });
        }
        Ok(corners)
    }
}

/// A ring that goes once round the earth is closed by way of the pole on its side.
fn close_round_the_pole(corners: &mut Vec<Corner>) {
    if let (Some(first), Some(last)) = (corners.first().copied(), corners.last().copied())
        && (last[0] - first[0]).abs() > 180.0
    {
        let pole_deg = 90.0_f64.copysign(corners.iter().map(|corner| corner[1]).sum());
        corners.extend([[last[0], pole_deg], [first[0], pole_deg], first]);
    }
}

/// What is left of a span when others are taken out.
fn without(span: [f64; 2], others: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut left = vec![span];
    for other in others {
        left = left
            .into_iter()
            .flat_map(|[from, to]| [[from, to.min(other[0])], [from.max(other[1]), to]])
            .filter(|[from, to]| to - from > 1e-9)
            .collect();
    }
    left
}
