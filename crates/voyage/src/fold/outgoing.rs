//! How a set is laid: gear by stretches and the basket that is being hung, from the set's own facts.

use std::collections::BTreeSet;

use quantity::{UtcInstant, geodesic};

use super::SetWork;
use super::beats::{Beats, MOST_PLACES};
use super::conditions::planned;
use super::lengths::{Pay, mean_ship_kn};
use super::line::Line;
use crate::kind::{Data, Kind};
use crate::loose::whole;
use crate::outgoing::{BeingSet, GearFrom, Outgoing, Stop};

/// Over how long the ship's speed is taken for the one that she has now, seconds (own judgement: longer than a swell
/// and a turn of the wheel, shorter than a basket of a deep set).
const SPEED_OVER_S: f64 = 180.0;

/// How the set is laid as far as it went.
pub(crate) fn outgoing(work: &SetWork<'_>, beats: &Beats, pay: &Pay<'_>, line: &Line) -> Outgoing {
    let planned = planned(work);
    let layer = planned.and_then(|planned| planned.layer_m.as_deref());
    let wanted_layer_m = match layer {
        Some([upper_m, lower_m, ..]) if upper_m.is_finite() && lower_m.is_finite() => {
            Some((upper_m.min(*lower_m), upper_m.max(*lower_m)))
        }
        _ => None,
    };
    let courses = work.facts().filter_map(|fact| match fact.data.as_ref() {
        Data::CourseLeg(data) => {
            data.course_deg_true.filter(|course| (0.0..=360.0).contains(course)).map(|course| (fact.t, course))
        }
        _ => None,
    });
    let mut outgoing = Outgoing {
        gear_from: gear_from(work, beats, pay),
        wanted_layer_m,
        planned_legs: planned.and_then(|planned| planned.legs.clone()).unwrap_or_default(),
        shooter_speeds: pay.shooter.iter().map(|(at, _, speed_m_s)| (*at, *speed_m_s)).collect(),
        courses: courses.collect(),
        stops: stops(beats),
        being_set: None,
        bins: Vec::new(),
        next_bins: Vec::new(),
        bins_against_beat: None,
    };
    let goes_on = work.set.parts.is_empty() && !work.facts().any(|fact| fact.kind() == Kind::SettingEnded);
    if goes_on && work.set.open {
        outgoing.being_set = being_set(work, beats, pay, line, &outgoing);
    }
    outgoing
}

fn gear_from(work: &SetWork<'_>, beats: &Beats, pay: &Pay<'_>) -> Vec<GearFrom> {
    let mut begins = BTreeSet::from([1]);
    for fact in work.facts() {
        match fact.data.as_ref() {
            Data::GearChanged(data) => begins.extend(whole(data.from_place)),
            Data::Beat(data) => {
                let basket = whole(data.basket);
                begins.extend(basket.into_iter().chain(basket.map(|basket| basket.saturating_add(1))));
            }
            _ => {}
        }
    }
    let mut steps: Vec<GearFrom> = Vec::new();
    for basket in begins.into_iter().filter(|basket| (1..=MOST_PLACES).contains(basket)) {
        let step = GearFrom {
            basket,
            hooks: beats.hooks_stated(basket),
            float_takes_a_beat: beats.float_takes_a_beat(basket),
            clip_spacing_m: pay.stated_spacing_m(basket),
            float_line_m: pay.float_line_m(basket),
            branch_type: pay.branch_type(basket),
            branch_line_m: pay.branch_line_m(basket),
        };
        let same = steps.last().is_some_and(|before| GearFrom { basket, ..before.clone() } == step);
        if !same {
            steps.push(step);
        }
    }
    steps
}

fn stops(beats: &Beats) -> Vec<Stop> {
    let at = UtcInstant::from_micros_clamped;
    let told = beats.stops.iter().map(|stop| Stop {
        from: at(stop.from_us),
        to: (!stop.lasts).then(|| at(stop.to_us)),
        line_running: stop.line_running,
    });
    told.collect()
}

fn being_set(work: &SetWork<'_>, beats: &Beats, pay: &Pay<'_>, line: &Line, outgoing: &Outgoing) -> Option<BeingSet> {
    let now = work.now;
    let basket = line.last_place();
    if basket == 0 {
        return None;
    }
    let hooks_out = line.basket(basket).map_or(0, |basket| basket.hooks);
    let hooks = beats.hooks_in(basket).max(hooks_out);
    let next = if hooks_out < hooks { (basket, hooks_out + 1) } else { (basket + 1, 0) };
    let speed = mean_ship_kn(work, now.plus_seconds(-SPEED_OVER_S), now);
    let at = |t: UtcInstant| work.track.at(t).map(|fixed| fixed.place);
    let ship = at(now);
    let made_good = || {
        let leg = geodesic::inverse(at(now.plus_seconds(-SPEED_OVER_S))?, ship?);
        (leg.distance_m > 50.0).then_some(leg.bearing_start_deg)
    };
    Some(BeingSet {
        basket,
        hooks,
        hooks_out,
        beat_s: beats.beat_s(now),
        next_due_at: beats.due(next.0, next.1),
        clip_spacing_m: pay.spacing_m(basket, hooks_out, Some(now)),
        shooter_speed_m_s: pay.shooter_m_s(now),
        ship_speed_kn: speed.map(|(speed_kn, _)| speed_kn),
        speed_is_over_ground: speed.is_some_and(|(_, over_ground)| over_ground),
        ship,
        course_deg_true: outgoing
            .courses
            .iter()
            .rfind(|(at, _)| *at <= now)
            .map(|(_, course)| *course)
            .or_else(made_good),
        stopped_since: outgoing.stops.iter().find(|stop| stop.to.is_none()).map(|stop| stop.from),
    })
}
