//! Where radio buoys will be at a chosen hour, from their fixes alone: going on as before, with a band from how far this
//! very way of reckoning was off in the past of the same buoys.
//!
//! Model: position linear in time, fitted by least squares (weights 1 ÷ variance of each fix) to the fixes of a window
//! before the last one. Which window, 1 to 12 hours, is decided by the past: the one whose reckonings over a like time
//! came nearest to the later fixes (`hindcast.rs`). No current, no wind, no model of the sea. Range: hours, and some
//! 200 km; loops of the current that are shorter than the lead are in the band only as far as the past shows them.

use quantity::{Position, UtcInstant, geodesic};
use serde::{Deserialize, Serialize};

use crate::hindcast::{self, Past};
use crate::plane::{EastNorth, place_at, seen_from};

/// Windows of past fixes that are tried, seconds.
pub(crate) const WINDOWS_S: [f64; 5] = [3_600.0, 7_200.0, 14_400.0, 28_800.0, 43_200.0];
/// A fix without an uncertainty of its own: one standard deviation, metres. A judgement for satellite fixes.
const FIX_SD_M: f64 = 30.0;
/// No gear drifts faster, metres a second: a fix that asks for more is left out. A judgement.
const FASTEST_M_S: f64 = 3.0;
/// Where the past says nothing: standard error of the drift, metres a second. A judgement.
const UNKNOWN_DRIFT_M_S: f64 = 0.25;
/// A buoy not heard for so long is moved along with its neighbours that were, seconds.
const SILENT_S: f64 = 7_200.0;

/// A fix of a radio buoy.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Fix {
    /// When.
    pub at: UtcInstant,
    /// Latitude, degrees north.
    pub latitude_deg: f64,
    /// Longitude, degrees east.
    pub longitude_deg: f64,
    /// One standard deviation, metres; 30 when left out.
    #[serde(default)]
    pub uncertainty_m: Option<f64>,
}

/// A radio buoy on the line and its fixes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Buoy {
    /// Its painted name.
    pub buoy: String,
    /// Its fixes, in any order; those later than now are left out.
    pub fixes: Vec<Fix>,
}

/// Where a radio buoy will be.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Ahead {
    /// Its painted name.
    pub buoy: String,
    /// When it was last heard.
    pub last_fix_at: UtcInstant,
    /// How long that is ago, seconds.
    pub age_s: f64,
    /// Its last place, degrees north.
    pub last_latitude_deg: f64,
    /// Its last place, degrees east.
    pub last_longitude_deg: f64,
    /// Its place at the chosen hour, degrees north.
    pub latitude_deg: f64,
    /// Its place at the chosen hour, degrees east.
    pub longitude_deg: f64,
    /// It should lie within this distance of that place 95 times of 100, metres.
    pub radius_95_m: f64,
    /// Speed over ground, metres a second; none from a single fix.
    pub drift_m_s: Option<f64>,
    /// Towards, degrees true.
    pub drift_to_deg_true: Option<f64>,
    /// What its place rests on.
    pub basis: AheadBasis,
    /// Fixes that its drift was fitted to.
    pub fixes_used: usize,
    /// Over how long, seconds.
    pub window_s: Option<f64>,
    /// How far past reckonings over a like time were off, root mean square, metres; none where there were none.
    pub past_error_m: Option<f64>,
    /// How far staying put would have been off, likewise.
    pub staying_put_error_m: Option<f64>,
    /// How many past reckonings that rests on.
    pub past_reckonings: usize,
    /// What is not certain.
    pub doubts: Vec<FixDoubt>,
}

/// What a place ahead rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum AheadBasis {
    /// Its own fixes, going on as before.
    OwnFixes,
    /// Its last fix, moved as its neighbours moved since.
    Neighbours,
    /// Its only fix: it is taken to stay put.
    OneFix,
}

/// Something that is not certain.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FixDoubt {
    /// Which kind.
    pub kind: &'static str,
    /// In plain words.
    pub text: String,
}

/// Why buoys cannot be carried forward.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FixError {
    /// A fix is no place on the earth.
    #[error(
        "a fix of radio buoy {buoy} at {at} is {latitude_deg}, {longitude_deg}, which is no place on the earth; nothing was computed"
    )]
    NoPlace {
        /// The buoy.
        buoy: String,
        /// When.
        at: UtcInstant,
        /// As given.
        latitude_deg: f64,
        /// As given.
        longitude_deg: f64,
    },
    /// An uncertainty that is none.
    #[error(
        "a fix of radio buoy {buoy} has uncertainty_m {uncertainty_m}; it must be above 0 and at most 100 000. Nothing was computed"
    )]
    Uncertainty {
        /// The buoy.
        buoy: String,
        /// As given.
        uncertainty_m: f64,
    },
}

/// A fix in the plane of its buoy.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Point {
    /// Seconds after the first moment of all.
    pub t_s: f64,
    pub place_m: EastNorth,
    pub sd_m: f64,
}

/// One buoy, its good fixes in order of time.
#[derive(Debug)]
pub(crate) struct Track {
    name: String,
    origin: Position,
    last_at: UtcInstant,
    pub points: Vec<Point>,
    doubts: Vec<FixDoubt>,
}

/// Where each buoy will be `at` a chosen hour, as known `now`. Buoys stand in their order on the line; one without a good
/// fix is left out.
///
/// # Errors
/// [`FixError`] when a fix is no fix.
pub fn ahead(buoys: &[Buoy], now: UtcInstant, at: UtcInstant) -> Result<Vec<Ahead>, FixError> {
    let tracks: Vec<Track> =
        buoys.iter().map(|buoy| track(buoy, now)).collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect();
    Ok((0..tracks.len()).filter_map(|index| carried(&tracks, index, now, at)).collect())
}

fn track(buoy: &Buoy, now: UtcInstant) -> Result<Option<Track>, FixError> {
    let mut fixes: Vec<(UtcInstant, Position, f64)> = Vec::new();
    let mut doubts = Vec::new();
    for fix in &buoy.fixes {
        let place = Position::new(fix.latitude_deg, fix.longitude_deg).map_err(|_| FixError::NoPlace {
            buoy: buoy.buoy.clone(),
            at: fix.at,
            latitude_deg: fix.latitude_deg,
            longitude_deg: fix.longitude_deg,
        })?;
        let sd_m = fix.uncertainty_m.unwrap_or(FIX_SD_M);
        if !(sd_m > 0.0 && sd_m <= 1e5) {
            return Err(FixError::Uncertainty { buoy: buoy.buoy.clone(), uncertainty_m: sd_m });
        }
        if fix.at <= now {
            fixes.push((fix.at, place, sd_m));
        } else {
            doubts.push(FixDoubt {
                kind: "fix_in_the_future",
                text: format!("A fix of {} at {} is later than now and was left out.", buoy.buoy, fix.at),
            });
        }
    }
    fixes.sort_by_key(|fix| fix.0);
    fixes.dedup_by_key(|fix| fix.0);
    without_leaps(&mut fixes, &buoy.buoy, &mut doubts);
    let Some((last_at, origin, _)) = fixes.last().copied() else { return Ok(None) };
    let points = fixes
        .iter()
        .map(|(at, place, sd_m)| Point {
            t_s: at.seconds_since(last_at),
            place_m: seen_from(origin, *place),
            sd_m: *sd_m,
        })
        .collect();
    Ok(Some(Track { name: buoy.buoy.clone(), origin, last_at, points, doubts }))
}

/// Leaves out fixes that no drift explains: too far from the fix before and from the one after (at the end of the record
/// from the one before alone).
fn without_leaps(fixes: &mut Vec<(UtcInstant, Position, f64)>, buoy: &str, doubts: &mut Vec<FixDoubt>) {
    let leaps = |a: &(UtcInstant, Position, f64), b: &(UtcInstant, Position, f64)| {
        let distance_m = geodesic::inverse(a.1, b.1).distance_m;
        distance_m > FASTEST_M_S * b.0.seconds_since(a.0).abs() + 4.0 * a.2.hypot(b.2)
    };
    let mut index = 0;
    while index < fixes.len() && fixes.len() > 2 {
        let here = &fixes[index];
        let before = index.checked_sub(1).map(|before| leaps(&fixes[before], here));
        let after = fixes.get(index + 1).map(|after| leaps(here, after));
        // The first fix is wrong only when the two after it agree with each other.
        let others_agree = index > 0 || fixes.get(1).zip(fixes.get(2)).is_some_and(|(a, b)| !leaps(a, b));
        if before.unwrap_or(true) && after.unwrap_or(true) && (before.is_some() || after.is_some()) && others_agree {
            doubts.push(FixDoubt {
                kind: "fix_leaps",
                text: format!(
                    "The fix of {buoy} at {} lies too far from its neighbours for any drift (more than {FASTEST_M_S} m/s) and was left out.",
                    here.0
                ),
            });
            fixes.remove(index);
            index = index.saturating_sub(1);
        } else {
            index += 1;
        }
    }
}

/// A straight line in time through points: place and velocity at time `t_s`.
pub(crate) fn fitted(points: &[Point], t_s: f64) -> Option<(EastNorth, EastNorth)> {
    let weight = |point: &Point| 1.0 / (point.sd_m * point.sd_m);
    let sum: f64 = points.iter().map(weight).sum();
    let mean = |of: &dyn Fn(&Point) -> f64| points.iter().map(|point| weight(point) * of(point)).sum::<f64>() / sum;
    let t_mean_s = mean(&|point| point.t_s);
    let spread_s2 = mean(&|point| (point.t_s - t_mean_s).powi(2));
    if points.len() < 2 || spread_s2 <= 0.0 {
        return None;
    }
    let mut place_m = [0.0; 2];
    let mut velocity_m_s = [0.0; 2];
    for axis in 0..2 {
        let middle_m = mean(&|point| point.place_m[axis]);
        velocity_m_s[axis] = mean(&|point| (point.t_s - t_mean_s) * (point.place_m[axis] - middle_m)) / spread_s2;
        place_m[axis] = middle_m + velocity_m_s[axis] * (t_s - t_mean_s);
    }
    Some((place_m, velocity_m_s))
}

/// The points of a window that ends with the point of an index; the two last at least.
pub(crate) fn window(points: &[Point], last: usize, window_s: f64) -> &[Point] {
    let Some(end) = points.get(last) else { return &[] };
    let first = points[..=last].partition_point(|point| point.t_s < end.t_s - window_s);
    &points[first.min(last.saturating_sub(1))..=last]
}

fn carried(tracks: &[Track], index: usize, now: UtcInstant, at: UtcInstant) -> Option<Ahead> {
    let track = tracks.get(index)?;
    let last = track.points.last()?;
    let lead_s = at.seconds_since(track.last_at);
    let age_s = now.seconds_since(track.last_at);
    let past = hindcast::best(tracks, lead_s.max(60.0));
    let mut doubts = track.doubts.clone();
    let window_s = past.as_ref().map_or(WINDOWS_S[2], |past| past.window_s);
    let used = window(&track.points, track.points.len() - 1, window_s);
    let own = fitted(used, lead_s);
    let moved = (age_s > SILENT_S).then(|| with_neighbours(tracks, index, at)).flatten();
    let (place_m, velocity_m_s, basis) = match (moved, own) {
        (Some((moved_m, velocity_m_s)), _) => {
            ([last.place_m[0] + moved_m[0], last.place_m[1] + moved_m[1]], Some(velocity_m_s), AheadBasis::Neighbours)
        }
        (None, Some((place_m, velocity_m_s))) => (place_m, Some(velocity_m_s), AheadBasis::OwnFixes),
        (None, None) => (last.place_m, None, AheadBasis::OneFix),
    };
    let radius_95_m = match &past {
        Some(past) => past.radius_95_m().hypot(2.45 * last.sd_m),
        None => {
            doubts.push(FixDoubt {
                kind: "no_past",
                text: format!(
                    "Too few fixes to see how far such a reckoning is off: the band takes the drift of {} as known to \
                     {UNKNOWN_DRIFT_M_S} m/s only (a judgement).",
                    track.name
                ),
            });
            let drift_m_s = if basis == AheadBasis::OneFix { 2.0 * UNKNOWN_DRIFT_M_S } else { UNKNOWN_DRIFT_M_S };
            2.45 * last.sd_m.hypot(drift_m_s * lead_s.abs())
        }
    };
    if let Some(past) = past.as_ref().filter(|past| past.stretched) {
        doubts.push(FixDoubt {
            kind: "longer_than_the_past",
            text: format!(
                "The fixes of these buoys cover {:.1} h; the band for {:.1} h ahead is stretched in proportion to time.",
                past.longest_s / 3600.0,
                lead_s / 3600.0
            ),
        });
    }
    if age_s > SILENT_S {
        doubts.push(FixDoubt {
            kind: "silent",
            text: format!("{} was not heard for {:.1} h.", track.name, age_s / 3600.0),
        });
    }
    let place = place_at(track.origin, place_m)?;
    Some(Ahead {
        buoy: track.name.clone(),
        last_fix_at: track.last_at,
        age_s,
        last_latitude_deg: track.origin.latitude_deg(),
        last_longitude_deg: track.origin.longitude_deg(),
        latitude_deg: place.latitude_deg(),
        longitude_deg: place.longitude_deg(),
        radius_95_m,
        drift_m_s: velocity_m_s.map(|[east, north]| east.hypot(north)),
        drift_to_deg_true: velocity_m_s.map(|[east, north]| east.atan2(north).to_degrees().rem_euclid(360.0)),
        basis,
        fixes_used: used.len(),
        window_s: used.first().zip(used.last()).map(|(first, last)| last.t_s - first.t_s).filter(|_| used.len() > 1),
        past_error_m: past.as_ref().map(Past::error_m),
        staying_put_error_m: past.as_ref().map(|past| past.staying_put_m),
        past_reckonings: past.as_ref().map_or(0, |past| past.reckonings),
        doubts,
    })
}

/// How far the nearest neighbours on either side that were heard since have moved from this buoy's last fix to `at`.
fn with_neighbours(tracks: &[Track], index: usize, at: UtcInstant) -> Option<(EastNorth, EastNorth)> {
    let silent = tracks.get(index)?;
    let heard = |track: &&Track| {
        track.last_at.seconds_since(silent.last_at) > SILENT_S / 2.0
            && track.points.first().is_some_and(|first| first.t_s <= silent.last_at.seconds_since(track.last_at))
    };
    let before = tracks[..index].iter().rev().find(heard);
    let after = tracks[index + 1..].iter().find(heard);
    let moves: Vec<(EastNorth, EastNorth)> = [before, after]
        .into_iter()
        .flatten()
        .filter_map(|track| {
            let from_s = silent.last_at.seconds_since(track.last_at);
            let last = track.points.len() - 1;
            let next = track.points.partition_point(|point| point.t_s <= from_s);
            let around = track.points.get(next.saturating_sub(1)..=next.min(last))?;
            let from_m = fitted(around, from_s).map_or(around.first()?.place_m, |(place_m, _)| place_m);
            let (to_m, velocity_m_s) =
                fitted(window(&track.points, last, WINDOWS_S[2]), at.seconds_since(track.last_at))?;
            Some(([to_m[0] - from_m[0], to_m[1] - from_m[1]], velocity_m_s))
        })
        .collect();
    #[expect(clippy::cast_precision_loss, reason = "one or two")]
    let count = moves.len() as f64;
    let mean = |of: &dyn Fn(&(EastNorth, EastNorth)) -> f64| moves.iter().map(of).sum::<f64>() / count;
    (!moves.is_empty()).then(|| ([mean(&|m| m.0[0]), mean(&|m| m.0[1])], [mean(&|m| m.1[0]), mean(&|m| m.1[1])]))
}
