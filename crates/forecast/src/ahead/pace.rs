//! Shooter, sag ratio and beat now against the plan, and what would keep them.
//!
//! A change of ship's speed changes the sag ratio, not the spacing: the shooter speed that keeps the ratio is ship's
//! speed ÷ ratio, the beat that then keeps the spacing is spacing ÷ shooter speed. Without a shooter the line leaves at
//! the ship's speed, and only the beat is free (common practice, no source).

use voyage::{Basket, Doubt, SetRecord, plan_number};

use super::answer::{Pace, Suggestion, SuggestionKind};
use crate::depth::hang;
use crate::to_come::{KNOT_M_S, basket_to_come};

/// A sag ratio that is off by less is kept: half of the standard error that a depth allows to it.
const RATIO_KEPT_WITHIN: f64 = 0.5 * crate::depth::SAG_RATIO_ERROR;
/// A spacing that is off by less than this part is kept (own judgement: a hand's breadth in two metres).
const SPACING_KEPT_WITHIN: f64 = 0.02;

pub(super) fn pace(set: &SetRecord, doubts: &mut Vec<Doubt>) -> (Option<Pace>, Vec<Suggestion>) {
    let Some(being) = &set.outgoing.being_set else { return (None, Vec::new()) };
    let plan = |name: &str| plan_number(set.plan.as_ref(), name).filter(|number| *number > 0.0);
    let ship_m_s = being.ship_speed_kn.map(|speed_kn| speed_kn * KNOT_M_S);
    let planned_shooter_speed_m_s = plan("shooter_speed_m_s");
    let planned_ship_speed_kn = plan("vessel_speed_through_water_kn");
    let quotient = planned_ship_speed_kn.zip(planned_shooter_speed_m_s).map(|(kn, m_s)| kn * KNOT_M_S / m_s);
    let planned_sag_ratio = plan("sag_ratio").or(quotient).filter(|ratio| *ratio <= 1.0);
    let planned_beat_s = plan("beat_s");
    let by_plan = planned_shooter_speed_m_s.zip(planned_beat_s).map(|(m_s, beat_s)| m_s * beat_s);
    let stated = set.outgoing.gear_for(being.basket).and_then(|gear| gear.clip_spacing_m);
    let last = set.baskets.iter().rev().find(|basket| basket.has_end_float);
    let coming = basket_to_come(set, being.basket);
    let deepest = deepest(set, &coming);
    let planned_clip_spacing_m = plan("clip_spacing_m").or(by_plan).or(stated);
    let as_planned = planned_sag_ratio.zip(planned_clip_spacing_m).map(|(ratio, spacing_m)| Basket {
        sag_ratio: Some(ratio),
        clip_spacing_m: Some(spacing_m),
        ..coming.clone()
    });
    let pace = Pace {
        shooter_speed_m_s: being.shooter_speed_m_s,
        planned_shooter_speed_m_s,
        ship_speed_kn: being.ship_speed_kn,
        speed_is_over_ground: being.speed_is_over_ground,
        planned_ship_speed_kn,
        sag_ratio: ship_m_s.zip(being.shooter_speed_m_s).map(|(ship, shooter)| ship / shooter),
        planned_sag_ratio,
        last_basket_sag_ratio: last.and_then(|basket| basket.sag_ratio),
        beat_s: being.beat_s,
        planned_beat_s,
        // Without a shooter's speed it is the ship that pulls the line out.
        clip_spacing_m: match being.shooter_speed_m_s {
            Some(_) => being.clip_spacing_m,
            None => ship_m_s.zip(being.beat_s).map(|(ship, beat_s)| ship * beat_s).or(being.clip_spacing_m),
        },
        planned_clip_spacing_m,
        deepest_m: deepest.map(|(depth_m, _)| depth_m),
        deepest_band_m: deepest.and_then(|(_, band_m)| band_m),
        planned_deepest_m: as_planned.and_then(|basket| Some(self::deepest(set, &basket)?.0)),
    };
    if being.speed_is_over_ground {
        let text = "The ship's speed is over the ground, for want of speed through the water: in a current the sag ratio is another.";
        doubts.push(Doubt::new("speed_over_ground", "set", text));
    }
    if being.ship_speed_kn.is_none() {
        doubts.push(Doubt::new("ship_speed_unknown", "set", "The ship's speed of the last minutes is not known."));
    }
    let suggestions = if being.stopped_since.is_some() { Vec::new() } else { suggest(&pace, ship_m_s) };
    (Some(pace), suggestions)
}

/// The deepest hook of a basket with its band.
fn deepest(set: &SetRecord, basket: &Basket) -> Option<(f64, Option<f64>)> {
    let hung = hang(set, basket);
    let depths = (1..=basket.hooks).map(|position| hung.hook(position, None));
    depths.filter_map(|hook| Some((hook.depth_m?, hook.band_m))).max_by(|a, b| a.0.total_cmp(&b.0))
}

fn suggest(pace: &Pace, ship_m_s: Option<f64>) -> Vec<Suggestion> {
    let Some(ship_m_s) = ship_m_s.filter(|speed| *speed > 0.5) else { return Vec::new() };
    let spacing_off = |now_m: Option<f64>, wanted_m: f64| {
        now_m.is_some_and(|now_m| (now_m / wanted_m - 1.0).abs() > SPACING_KEPT_WITHIN)
    };
    let beat_of = |line_m_s: f64| pace.planned_clip_spacing_m.map(|spacing_m| spacing_m / line_m_s);
    let kn = pace.ship_speed_kn.unwrap_or(0.0);
    match (pace.shooter_speed_m_s, pace.sag_ratio.zip(pace.planned_sag_ratio)) {
        (Some(shooter_m_s), Some((ratio, wanted))) if (ratio - wanted).abs() > RATIO_KEPT_WITHIN => {
            let keeps_m_s = ship_m_s / wanted;
            let hangs = if ratio < wanted { "deeper" } else { "shallower" };
            let beat_s = beat_of(keeps_m_s);
            let then = beat_s.map_or_else(String::new, |beat_s| format!(" and the beat {beat_s:.1} s"));
            vec![Suggestion {
                kind: SuggestionKind::ShooterAndBeat,
                shooter_speed_m_s: Some(keeps_m_s),
                shooter_speed_m_min: Some(keeps_m_s * 60.0),
                beat_s,
                sag_ratio: Some(wanted),
                clip_spacing_m: pace.planned_clip_spacing_m,
                text: format!(
                    "At {kn:.1} kn with the shooter at {shooter_m_s:.2} m/s the sag ratio is {ratio:.2}, not {wanted:.2}: the line hangs {hangs}. Shooter {keeps_m_s:.2} m/s ({:.0} m/min){then} keep it.",
                    keeps_m_s * 60.0
                ),
            }]
        }
        (shooter, _) => {
            let line_m_s = shooter.unwrap_or(ship_m_s);
            let Some(wanted_m) = pace.planned_clip_spacing_m.filter(|m| spacing_off(pace.clip_spacing_m, *m)) else {
                return Vec::new();
            };
            let (Some(beat_s), Some(now_m)) = (beat_of(line_m_s), pace.clip_spacing_m) else { return Vec::new() };
            let leaves = if shooter.is_some() { "from the shooter" } else { "at the ship's speed" };
            vec![Suggestion {
                kind: SuggestionKind::Beat,
                shooter_speed_m_s: shooter,
                shooter_speed_m_min: shooter.map(|m_s| m_s * 60.0),
                beat_s: Some(beat_s),
                sag_ratio: pace.sag_ratio,
                clip_spacing_m: Some(wanted_m),
                text: format!(
                    "The line leaves {leaves}, {line_m_s:.2} m/s: clips are {now_m:.1} m apart, not {wanted_m:.1} m. A beat of {beat_s:.1} s keeps that."
                ),
            }]
        }
    }
}
