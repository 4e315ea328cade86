//! The nearest pair of a track and a boundary.

use quantity::{Position, geodesic, wrap_longitude_deg};

use super::Zone;
use super::shape::{Corner, Edge, in_earth_m};

/// Pieces are halved until they reach this far from their middle, metres.
const SHORT_ENOUGH_M: f64 = 1000.0;

/// Where a track comes nearest to a zone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// Least distance to the boundary, metres; 0 where the track crosses it.
    pub least_distance_m: f64,
    /// Whether any of the track lies inside.
    pub inside: bool,
    /// The place on the track.
    pub on_track: Position,
    /// The place on the boundary.
    pub on_zone: Position,
    /// The piece of the track: it begins at the place of this index.
    pub piece: usize,
    /// How far along that piece, 0 to 1.
    pub share: f64,
}

/// The least distance from a track to a zone's boundary. The track is straight in longitude and latitude between its
/// places, as the boundary is: on a course give a place every 5 km, or fewer near the equator. One place is a track too.
/// None without a place.
#[must_use]
pub fn least_distance(track: &[Position], zone: &Zone) -> Option<Nearest> {
    let pieces = pieces_of(track)?;
    let mut inside = track.iter().any(|place| zone.contains(*place));
    let mut best = Best { distance_m: f64::INFINITY, piece: 0, share: 0.0, on_zone: [0.0; 2] };
    // The ball round the track: a boundary far from it need not be held against every piece.
    let middle_m = mean(&pieces);
    let reach_m = pieces.iter().map(|piece| apart(piece.middle_m, middle_m) + piece.reach_m).fold(0.0, f64::max);
    let surely_m = zone.edges.iter().map(|edge| apart(edge.middle_m, middle_m)).fold(f64::INFINITY, f64::min) + reach_m;
    let mut near: Vec<(f64, &Edge)> = zone
        .edges
        .iter()
        .map(|edge| (apart(edge.middle_m, middle_m) - reach_m - edge.reach_m, edge))
        .filter(|(least_m, _)| *least_m <= surely_m)
        .collect();
    near.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (least_m, edge) in near {
        if least_m > best.distance_m {
            break;
        }
        for (number, piece) in pieces.iter().enumerate() {
            inside |= best.search(number, *piece, *edge) && !zone.polygons.is_empty();
        }
    }
    let piece = pieces.get(best.piece)?;
    let (on_track, on_zone) = (place(piece.at(best.share))?, place(best.on_zone)?);
    let least_distance_m = if best.distance_m > 0.0 { geodesic::inverse(on_track, on_zone).distance_m } else { 0.0 };
    Some(Nearest { least_distance_m, inside, on_track, on_zone, piece: best.piece, share: best.share })
}

fn pieces_of(track: &[Position]) -> Option<Vec<Edge>> {
    let corner = |place: &Position| [place.longitude_deg(), place.latitude_deg()];
    let mut last = corner(track.first()?);
    if track.len() == 1 {
        return Some(vec![Edge::new(last, last)]);
    }
    let pieces = track.iter().skip(1).map(|place| {
        let next = corner(place);
        let next = [last[0] + wrap_longitude_deg(next[0] - last[0]), next[1]];
        let piece = Edge::new(last, next);
        last = next;
        piece
    });
    Some(pieces.collect())
}

fn place([longitude_deg, latitude_deg]: Corner) -> Option<Position> {
    Position::new(latitude_deg.clamp(-90.0, 90.0), wrap_longitude_deg(longitude_deg)).ok()
}

/// The nearest pair found so far, by the chord between the two.
struct Best {
    distance_m: f64,
    piece: usize,
    share: f64,
    on_zone: Corner,
}

impl Best {
    /// Holds a piece of the track against an edge; true where the two cross.
    fn search(&mut self, number: usize, piece: Edge, edge: Edge) -> bool {
        let mut crossed = false;
        // A part of the piece from one share to another, and a part of the edge.
        let mut parts = vec![(0.0, 1.0, piece, edge)];
        while let Some((from, to, piece, edge)) = parts.pop() {
            let least_m = apart(piece.middle_m, edge.middle_m) - piece.reach_m - edge.reach_m;
            // What lies as near as the best may still cross, and so is looked at.
            if least_m > self.distance_m {
                continue;
            }
            if piece.reach_m.max(edge.reach_m) > SHORT_ENOUGH_M {
                if piece.reach_m > edge.reach_m {
                    let middle = f64::midpoint(from, to);
                    let [first, second] = piece.halves();
                    parts.extend([(from, middle, first, edge), (middle, to, second, edge)]);
                } else {
                    parts.extend(edge.halves().map(|half| (from, to, piece, half)));
                }
                // The nearer half first: it makes the other one needless.
                let [.., a, b] = parts.as_mut_slice() else { continue };
                if apart(a.2.middle_m, a.3.middle_m) < apart(b.2.middle_m, b.3.middle_m) {
                    std::mem::swap(a, b);
                }
                continue;
            }
            if let Some((on_piece, on_edge)) = crossing(&piece, &edge) {
                crossed = true;
                *self = Self {
                    distance_m: 0.0,
                    piece: number,
                    share: from + on_piece * (to - from),
                    on_zone: edge.at(on_edge),
                };
                continue;
            }
            let (on_piece, on_edge, distance_m) = closest(&piece, &edge);
            if distance_m < self.distance_m {
                *self =
                    Self { distance_m, piece: number, share: from + on_piece * (to - from), on_zone: edge.at(on_edge) };
            }
        }
        crossed
    }
}

/// Shares along both at which two straight pieces cross, in longitude and latitude.
fn crossing(a: &Edge, b: &Edge) -> Option<(f64, f64)> {
    let turn_deg = wrap_longitude_deg(b.from[0] - a.from[0]) - (b.from[0] - a.from[0]);
    let way = |edge: &Edge| [edge.to[0] - edge.from[0], edge.to[1] - edge.from[1]];
    let cross = |u: [f64; 2], v: [f64; 2]| u[0] * v[1] - u[1] * v[0];
    let (along_a, along_b) = (way(a), way(b));
    let gap = [b.from[0] + turn_deg - a.from[0], b.from[1] - a.from[1]];
    let turned = cross(along_a, along_b);
    if turned == 0.0 {
        return None;
    }
    let (on_a, on_b) = (cross(gap, along_b) / turned, cross(gap, along_a) / turned);
    ((0.0..=1.0).contains(&on_a) && (0.0..=1.0).contains(&on_b)).then_some((on_a, on_b))
}

/// The closest points of two chords: shares along both, and metres between (Ericson, C. (2005), "Real-Time Collision
/// Detection", section 5.1.9; SOURCE NOT CHECKED, held against brute force in the tests).
fn closest(a: &Edge, b: &Edge) -> (f64, f64, f64) {
    let (a0, a1, b0, b1) = (in_earth_m(a.from), in_earth_m(a.to), in_earth_m(b.from), in_earth_m(b.to));
    let (u, v, gap) = (less(a1, a0), less(b1, b0), less(a0, b0));
    let (uu, vv, uv) = (dot(u, u), dot(v, v), dot(u, v));
    let (ug, vg) = (dot(u, gap), dot(v, gap));
    let share = |over: f64, under: f64| if under > 0.0 { (over / under).clamp(0.0, 1.0) } else { 0.0 };
    let slant = uu * vv - uv * uv;
    let mut on_a = if slant > 1e-12 * uu * vv { share(uv * vg - ug * vv, slant) } else { 0.0 };
    let mut on_b = share(uv * on_a + vg, vv);
    // One held at its end may move the other.
    on_a = share(uv * on_b - ug, uu);
    on_b = share(uv * on_a + vg, vv);
    let point = |from: [f64; 3], way: [f64; 3], share: f64| [0, 1, 2].map(|axis| from[axis] + share * way[axis]);
    (on_a, on_b, apart(point(a0, u, on_a), point(b0, v, on_b)))
}

fn mean(pieces: &[Edge]) -> [f64; 3] {
    let mut sum = [0.0; 3];
    let mut count = 0.0;
    for piece in pieces {
        sum = [0, 1, 2].map(|axis| sum[axis] + piece.middle_m[axis]);
        count += 1.0;
    }
    sum.map(|total| total / f64::max(count, 1.0))
}

fn less(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    let d = less(a, b);
    dot(d, d).sqrt()
}
