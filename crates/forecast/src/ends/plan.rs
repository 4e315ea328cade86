//! The reckoning behind [`ends`]: steaming, lifting, soak, wind and rest.

use quantity::{Position, UtcInstant, geodesic};
use voyage::rest::{RestAsked, Span, rest};
use water::fixes::{Ahead, ahead};

use super::{EndDoubt, EndPlan, Ends, EndsAsked, EndsError, IfSilent, RestOf, Stretch, Worker};
use crate::to_come::KNOT_M_S;

/// A pace given without its error is known to a fifth: a judgement.
const PACE_ERROR: f64 = 0.2;
/// Looks again at where the buoy will be when the ship is there; the drift is a tenth of her speed, so each look leaves a tenth.
const LOOKS: usize = 12;

/// From which end to haul.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum End {
    First,
    Last,
}

/// The two plans.
///
/// # Errors
/// [`EndsError`] when there is nothing to haul or a number cannot be.
pub fn ends(asked: &EndsAsked) -> Result<Ends, EndsError> {
    let within = |field: &'static str, value: f64, most: f64| {
        if value > 0.0 && value <= most { Ok(value) } else { Err(EndsError::OutOfRange { field, value, most }) }
    };
    within("ship_speed_kn", asked.ship_speed_kn, 60.0)?;
    within("pace_hooks_h", asked.pace_hooks_h, 10_000.0)?;
    if let Some(error) = asked.pace_error_hooks_h {
        within("pace_error_hooks_h", error, 10_000.0)?;
    }
    if !(0.0..=86_400.0).contains(&asked.call_before_s) {
        return Err(EndsError::OutOfRange { field: "call_before_s", value: asked.call_before_s, most: 86_400.0 });
    }
    let ship = Position::new(asked.ship_latitude_deg, asked.ship_longitude_deg).map_err(|_| EndsError::NoPlace {
        latitude_deg: asked.ship_latitude_deg,
        longitude_deg: asked.ship_longitude_deg,
    })?;
    for (index, stretch) in asked.stretches.iter().enumerate() {
        if stretch.last_clipped_at < stretch.first_clipped_at {
            return Err(EndsError::TurnedStretch {
                number: index + 1,
                first: stretch.first_clipped_at,
                last: stretch.last_clipped_at,
            });
        }
    }
    let hooks: u32 = asked.stretches.iter().fold(0_u32, |sum, stretch| sum.saturating_add(stretch.hooks));
    if hooks == 0 {
        return Err(EndsError::NoHooks);
    }
    let mut doubts = Vec::new();
    let from_last = plan(asked, ship, End::Last, hooks, &mut doubts)?;
    let from_first = plan(asked, ship, End::First, hooks, &mut doubts)?;
    let buoys_at =
        from_last.as_ref().or(from_first.as_ref()).map_or(asked.start_at.unwrap_or(asked.now), |plan| plan.starts_at);
    let buoys = ahead(&asked.buoys, asked.now, buoys_at)?;
    if buoys.is_empty() {
        doubts.push(EndDoubt {
            kind: "no_fix",
            text: "No radio buoy has a fix: nobody knows where the line lies. Give where the buoys went out at least."
                .to_owned(),
        });
    }
    if !asked.people.is_empty() {
        doubts.push(EndDoubt {
            kind: "everybody_hauls",
            text: "Rest takes each person named to work from the call to the end of the haul without a break."
                .to_owned(),
        });
    }
    let if_last_silent = if_silent(&buoys);
    Ok(Ends { buoys, buoys_at, from_last, from_first, if_last_silent, hooks, doubts })
}

fn place_of(ahead: &Ahead) -> Option<Position> {
    Position::new(ahead.latitude_deg, ahead.longitude_deg).ok()
}

fn plan(
    asked: &EndsAsked,
    ship: Position,
    end: End,
    hooks: u32,
    doubts: &mut Vec<EndDoubt>,
) -> Result<Option<EndPlan>, EndsError> {
    let speed_m_s = asked.ship_speed_kn * KNOT_M_S;
    let wanted = asked.start_at.unwrap_or(asked.now).max(asked.now);
    let mut starts_at = wanted;
    let mut found = None;
    for _ in 0..LOOKS {
        let all = ahead(&asked.buoys, asked.now, starts_at)?;
        let (near, far) = match end {
            End::First => (all.first(), all.last()),
            End::Last => (all.last(), all.first()),
        };
        let Some((near, place)) = near.and_then(|near| Some((near.clone(), place_of(near)?))) else { return Ok(None) };
        let far = far.filter(|far| far.buoy != near.buoy).and_then(place_of);
        let leg = geodesic::inverse(ship, place);
        let steam_s = leg.distance_m / speed_m_s;
        let there = asked.now.plus_seconds(steam_s).max(wanted);
        let settled = there.seconds_since(starts_at).abs() < 1.0;
        found = Some((near, place, far, leg, steam_s));
        if settled {
            break;
        }
        starts_at = there;
    }
    let Some((buoy, place, far, leg, steam_s)) = found else { return Ok(None) };
    if starts_at > wanted && asked.start_at.is_some() {
        doubts.push(EndDoubt {
            kind: "later_than_wanted",
            text: format!(
                "The ship cannot be at {} before {starts_at}: {:.1} h of steaming.",
                buoy.buoy,
                steam_s / 3600.0
            ),
        });
    }
    let haul_s = f64::from(hooks) / asked.pace_hooks_h * 3600.0;
    let pace_error = asked.pace_error_hooks_h.unwrap_or(PACE_ERROR * asked.pace_hooks_h) / asked.pace_hooks_h;
    let ends_at = starts_at.plus_seconds(haul_s);
    let soak = soak(&asked.stretches, end, starts_at, 3600.0 / asked.pace_hooks_h);
    let haul_course_deg_true = far.map(|far| geodesic::inverse(place, far).bearing_start_deg);
    let relative_deg = haul_course_deg_true
        .zip(asked.wind_from_deg_true)
        .map(|(course, wind)| (wind - course + 180.0).rem_euclid(360.0) - 180.0)
        .filter(|relative| relative.is_finite());
    let call_at = starts_at.plus_seconds(-asked.call_before_s);
    Ok(Some(EndPlan {
        distance_m: leg.distance_m,
        bearing_deg_true: leg.bearing_start_deg,
        steam_s,
        leave_at: starts_at.plus_seconds(-steam_s),
        call_at,
        starts_at,
        ends_at,
        ends_error_s: haul_s * pace_error,
        shortest_soak_s: soak.shortest_s,
        longest_soak_s: soak.longest_s,
        mean_soak_s: soak.mean_s,
        haul_course_deg_true,
        wind_off_bow_deg: relative_deg.map(f64::abs),
        wind_side: relative_deg.map(|relative| if relative < 0.0 { "port" } else { "starboard" }),
        rest: rest_of_all(&asked.people, call_at, ends_at, asked.next_set_s)?,
        buoy,
    }))
}

struct Soak {
    shortest_s: f64,
    longest_s: f64,
    mean_s: f64,
}

/// Within a stretch clipping and lifting are both linear in the hook's number, so the ends of stretches hold the extremes.
fn soak(stretches: &[Stretch], end: End, starts_at: UtcInstant, per_hook_s: f64) -> Soak {
    let hooks: f64 = stretches.iter().map(|stretch| f64::from(stretch.hooks)).sum();
    let (mut shortest_s, mut longest_s, mut sum_s, mut before) = (f64::INFINITY, f64::NEG_INFINITY, 0.0, 0.0);
    for stretch in stretches.iter().filter(|stretch| stretch.hooks > 0) {
        let count = f64::from(stretch.hooks);
        // The i-th hook to come up is lifted i beats of the hauler after the start.
        let lifted = |number: f64| match end {
            End::First => number,
            End::Last => hooks + 1.0 - number,
        };
        let soak_s = |number: f64, clipped: UtcInstant| {
            starts_at.plus_seconds(per_hook_s * lifted(number)).seconds_since(clipped)
        };
        let first_s = soak_s(before + 1.0, stretch.first_clipped_at);
        let last_s = soak_s(before + count, stretch.last_clipped_at);
        shortest_s = shortest_s.min(first_s).min(last_s);
        longest_s = longest_s.max(first_s).max(last_s);
        sum_s += count * 0.5 * (first_s + last_s);
        before += count;
    }
    Soak { shortest_s, longest_s, mean_s: sum_s / hooks }
}

fn rest_of_all(
    people: &[Worker],
    from: UtcInstant,
    to: UtcInstant,
    next_set_s: Option<f64>,
) -> Result<Vec<RestOf>, EndsError> {
    let mut all = Vec::with_capacity(people.len());
    for person in people {
        let mut intervals = person.intervals.clone();
        intervals.push(Span { from, to });
        let answer = rest(&RestAsked { intervals, unknown: Vec::new(), next_duration_s: next_set_s, at: to })?;
        all.push(RestOf {
            name: person.name.clone(),
            worst_24h: answer.worst_24h,
            worst_7d: answer.worst_7d,
            next_set_from: answer.earliest_start,
        });
    }
    // The worst is who lacks most of what the rule asks for, in either window.
    let spare_s = |of: &RestOf| {
        (of.worst_24h.rest_s - of.worst_24h.least_rest_s).min(of.worst_7d.rest_s - of.worst_7d.least_rest_s)
    };
    all.sort_by(|a, b| spare_s(a).total_cmp(&spare_s(b)).then_with(|| a.name.cmp(&b.name)));
    Ok(all)
}

fn if_silent(buoys: &[Ahead]) -> Option<IfSilent> {
    let [.., next, last] = buoys else { return None };
    let (to, from) = (place_of(last)?, place_of(next)?);
    let cross = geodesic::interpolate(from, to, 0.5);
    let line_bearing_deg_true = geodesic::inverse(cross, to).bearing_start_deg;
    Some(IfSilent {
        next_buoy: next.buoy.clone(),
        latitude_deg: next.latitude_deg,
        longitude_deg: next.longitude_deg,
        cross_latitude_deg: cross.latitude_deg(),
        cross_longitude_deg: cross.longitude_deg(),
        line_bearing_deg_true,
        cross_courses_deg_true: [90.0, 270.0].map(|turn| (line_bearing_deg_true + turn).rem_euclid(360.0)),
        look_m: next.radius_95_m.max(last.radius_95_m),
    })
}
