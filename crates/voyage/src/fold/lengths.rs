//! Lengths of main line, where each hook went in, and the sag ratio and gear of each basket.
//!
//! Clip spacing = shooter speed × beat; sag ratio = ship's speed through the water ÷ shooter speed
//! (common practice, no source).

use quantity::UtcInstant;

use super::SetWork;
use super::beats::{Beats, incomplete, to_f64};
use super::line::Line;
use crate::doubt::Doubt;
use crate::kind::Data;
use crate::loose::whole;
use crate::outgoing::{Outgoing, plan_number};
use crate::state::Gear;

/// One knot in m/s (1,852 m in 3,600 s, exact by definition).
const KNOT_M_S: f64 = 1852.0 / 3600.0;

pub(crate) struct GearChange {
    from: i64,
    ship_seq: i64,
    clip_spacing_m: Option<f64>,
    float_line_m: Option<f64>,
    branch_type: Option<String>,
}

/// An item along the line: the end of one stretch between two clips.
struct Item {
    at: Option<UtcInstant>,
    /// Main line before it, as spaced.
    spaced_m: f64,
    /// Empty line before it: stops with the line running, blanks of radio buoys.
    extra_m: f64,
}

/// What rules how line is paid out.
pub(crate) struct Pay<'a> {
    pub shooter: Vec<(UtcInstant, i64, f64)>,
    changes: Vec<GearChange>,
    beats: &'a Beats,
    gear: &'a Gear,
    plan: Option<serde_json::Value>,
    plan_spacing_m: Option<f64>,
}

impl Pay<'_> {
    pub fn shooter_m_s(&self, t: UtcInstant) -> Option<f64> {
        self.shooter.iter().rfind(|(at, _, _)| *at <= t).map(|(_, _, speed)| *speed)
    }

    fn change<T>(&self, basket: i64, pick: impl Fn(&GearChange) -> Option<T>) -> Option<T> {
        self.changes
            .iter()
            .filter(|change| change.from <= basket && pick(change).is_some())
            .max_by_key(|change| (change.from, change.ship_seq))
            .and_then(pick)
    }

    pub fn spacing_m(&self, basket: i64, position: i64, at: Option<UtcInstant>) -> Option<f64> {
        let by_shooter = at
            .and_then(|t| self.shooter_m_s(t))
            .zip(self.beats.anchor_for(basket, position).map(|anchor| anchor.beat_s))
            .map(|(speed, beat_s)| speed * beat_s);
        by_shooter.or_else(|| self.stated_spacing_m(basket))
    }

    /// Main line between clips as somebody stated it, m.
    pub fn stated_spacing_m(&self, basket: i64) -> Option<f64> {
        self.change(basket, |change| change.clip_spacing_m).or(self.gear.clip_spacing_m).or(self.plan_spacing_m)
    }

    pub fn float_line_m(&self, basket: i64) -> Option<f64> {
        self.change(basket, |change| change.float_line_m)
            .or(self.gear.float_line_m)
            .or_else(|| plan_number(self.plan.as_ref(), "float_line_m"))
    }

    pub fn branch_type(&self, basket: i64) -> Option<String> {
        self.change(basket, |change| change.branch_type.clone())
            .or_else(|| self.gear.branch_lines.first().and_then(|branch| branch.name.clone()))
    }

    pub fn branch_line_m(&self, basket: i64) -> Option<f64> {
        let types = &self.gear.branch_lines;
        let own = match self.branch_type(basket) {
            Some(name) => types.iter().find(|branch| branch.name.as_ref() == Some(&name)),
            None => types.first(),
        };
        own.and_then(|branch| branch.length_m).or_else(|| plan_number(self.plan.as_ref(), "branch_line_m"))
    }
}

/// Measures the line and places every hook and float on it and on the earth.
pub(crate) fn measure(
    work: &SetWork<'_>,
    gear: &Gear,
    beats: &Beats,
    line: &mut Line,
    doubts: &mut Vec<Doubt>,
) -> Outgoing {
    let plan = super::conditions::plan_of(work);
    let pay = gather(work, gear, beats, plan.clone(), doubts);
    put_on_the_earth(work, line, doubts);
    let blanks = blank_places(gear, line);
    let mut items =
        vec![Item { at: line.places.first().and_then(|place| place.clipped_at), spaced_m: 0.0, extra_m: 0.0 }];
    let mut unspaced = false;
    let joined: Vec<i64> = work
        .facts()
        .filter_map(|fact| match fact.data.as_ref() {
            Data::EndsJoined(data) => whole(data.after_place).or_else(|| line.gaps.last().copied()),
            _ => None,
        })
        .collect();
    // For each basket: index of the item of its first float, then one item a hook, then its end.
    let mut float_item = vec![0];
    let (mut spaced_m, mut blank_m) = (0.0, 0.0);
    for basket in &line.baskets {
        blank_m += blanks.get(&basket.basket).copied().unwrap_or(0.0);
        let ends = basket.has_end_float || joined.contains(&basket.basket);
        for position in 1..=basket.hooks {
            let at = line.hook(basket.basket, position).and_then(|index| line.hooks[index].clipped_at);
            let spacing = pay.spacing_m(basket.basket, position, at);
            unspaced |= spacing.is_none();
            let half = !basket.float_takes_a_beat && position == 1;
            spaced_m += spacing.unwrap_or(0.0) * if half { 0.5 } else { 1.0 };
            items.push(Item { at, spaced_m, extra_m: blank_m + running_out_m(&pay, at) });
        }
        let at = line.place(basket.basket + 1).and_then(|place| place.clipped_at);
        if ends {
            let spacing = pay.spacing_m(basket.basket + 1, 0, at);
            unspaced |= spacing.is_none();
            spaced_m += spacing.unwrap_or(0.0) * if basket.float_takes_a_beat { 1.0 } else { 0.5 };
        }
        items.push(Item {
            at,
            spaced_m,
            extra_m: blank_m + running_out_m(&pay, at.or(items.last().and_then(|i| i.at))),
        });
        float_item.push(items.len() - 1);
    }
    if unspaced {
        doubts.push(Doubt::new("spacing_unknown", "set",
            "The main line between clips is not known everywhere: no shooter speed with a beat, and no clip spacing. Lengths and depths are left open."));
    }
    let scaled = scale_to_counter(work, &items, doubts);
    let along: Vec<f64> = items.iter().zip(&scaled).map(|(item, spaced_m)| spaced_m + item.extra_m).collect();
    if !unspaced {
        for (index, place) in line.places.iter_mut().enumerate() {
            place.along_line_m = float_item.get(index).and_then(|&item| along.get(item)).copied();
        }
        // The blank of a buoy at the very end lies beyond the last basket.
        let end_blank_m = if line.baskets.len() < line.places.len() {
            blanks.get(&line.last_place()).copied().unwrap_or(0.0)
        } else {
            0.0
        };
        line.main_line_total_m = along.last().map(|end_m| end_m + end_blank_m).filter(|_| !line.places.is_empty());
    }
    for index in 0..line.baskets.len() {
        let (first, last) = (float_item[index], float_item[index + 1]);
        let basket = &mut line.baskets[index];
        let extra_m = items[last].extra_m - items[first].extra_m;
        let stretches = if basket.float_takes_a_beat { basket.hooks + 1 } else { basket.hooks };
        let stretches = if basket.has_end_float {
            to_f64(stretches)
        } else {
            to_f64(basket.hooks) - if basket.float_takes_a_beat { 0.0 } else { 0.5 }
        };
        if !unspaced {
            basket.main_line_m = Some(along[last] - along[first]);
            basket.clip_spacing_m = Some((scaled[last] - scaled[first]) / stretches).filter(|m| m.is_finite());
            basket.empty_line_m = extra_m;
        }
        let number = basket.basket;
        basket.float_line_m = pay.float_line_m(number);
        basket.branch_type = pay.branch_type(number);
        basket.branch_line_m = pay.branch_line_m(number);
        let hooks = line.hooks_of(number);
        if !unspaced {
            for (offset, hook) in hooks.enumerate() {
                line.hooks[hook].along_line_m = along.get(first + 1 + offset).copied();
            }
        }
    }
    sag_ratios(work, &pay, line, plan.as_ref(), doubts);
    super::outgoing::outgoing(work, beats, &pay, line)
}

fn gather<'a>(
    work: &SetWork<'_>,
    gear: &'a Gear,
    beats: &'a Beats,
    plan: Option<serde_json::Value>,
    doubts: &mut Vec<Doubt>,
) -> Pay<'a> {
    let mut pay = Pay {
        shooter: Vec::new(),
        changes: Vec::new(),
        beats,
        gear,
        plan_spacing_m: plan_number(plan.as_ref(), "clip_spacing_m"),
        plan,
    };
    for fact in work.facts() {
        match fact.data.as_ref() {
            Data::ShooterSpeed(data) => match data.shooter_speed_m_s {
                Some(speed) if (0.05..=50.0).contains(&speed) => pay.shooter.push((fact.t, fact.ship_seq, speed)),
                _ => doubts.push(incomplete(fact.id(), "A shooter speed lacks its number, or no shooter runs so.")),
            },
            Data::GearChanged(data) => {
                if let Some(from) = whole(data.from_place) {
                    pay.changes.push(GearChange {
                        from,
                        ship_seq: fact.ship_seq,
                        clip_spacing_m: data.clip_spacing_m.filter(|m| *m > 0.0),
                        float_line_m: data.float_line_m.filter(|m| *m >= 0.0),
                        branch_type: data.branch_type.clone(),
                    });
                }
            }
            _ => {}
        }
    }
    pay.shooter.sort_by_key(|(at, seq, _)| (*at, *seq));
    pay
}

/// Empty line that ran out in stops before `t`, m.
fn running_out_m(pay: &Pay<'_>, t: Option<UtcInstant>) -> f64 {
    let Some(t) = t else { return 0.0 };
    pay.beats
        .stops
        .iter()
        .filter(|stop| stop.line_running == Some(true) && stop.from_us < t.micros())
        .map(|stop| {
            let speed = pay.shooter_m_s(UtcInstant::from_micros_clamped(stop.from_us)).unwrap_or(0.0);
            speed * to_f64(stop.to_us.min(t.micros()) - stop.from_us) / 1e6
        })
        .sum()
}

/// Places whose radio buoy brings a blank, and its length, m.
fn blank_places(gear: &Gear, line: &Line) -> std::collections::BTreeMap<i64, f64> {
    if gear.radio_buoy_blank_m > 0.0 {
        line.buoy_place.values().map(|place| (*place, gear.radio_buoy_blank_m)).collect()
    } else {
        std::collections::BTreeMap::new()
    }
}

/// The spaced lengths, stretched between two readings of the line counter so that with the empty line they
/// come to what the counter says.
fn scale_to_counter(work: &SetWork<'_>, items: &[Item], doubts: &mut Vec<Doubt>) -> Vec<f64> {
    let mut scaled: Vec<f64> = items.iter().map(|item| item.spaced_m).collect();
    let readings: Vec<(UtcInstant, f64)> = work
        .facts()
        .filter_map(|fact| match fact.data.as_ref() {
            Data::LineCounter(data) => data.paid_out_m.filter(|m| m.is_finite()).map(|m| (fact.t, m)),
            _ => None,
        })
        .collect();
    let mut ladder: Vec<(f64, f64)> = Vec::new();
    for pair in readings.windows(2) {
        let (from, to) = (read_at(items, pair[0].0), read_at(items, pair[1].0));
        let (Some((from_m, from_extra_m)), Some((to_m, to_extra_m))) = (from, to) else { continue };
        let (counted_m, computed_m) = (pair[1].1 - pair[0].1, to_m - from_m);
        let factor = (counted_m - (to_extra_m - from_extra_m)) / computed_m;
        if !(computed_m > 0.0 && (0.2..=5.0).contains(&factor)) {
            doubts.push(Doubt::new("line_counter", format!("{}", pair[1].0), format!(
                "The line counter went on by {counted_m:.0} m where {computed_m:.0} m were reckoned; that stretch of the counter is not used."
            )));
            continue;
        }
        ladder.push((from_m, 0.0));
        ladder.push((to_m, (factor - 1.0) * computed_m));
    }
    for (value, item) in scaled.iter_mut().zip(items) {
        let mut gained_m = 0.0;
        for step in ladder.chunks_exact(2) {
            let (from_m, to_m, gain_m) = (step[0].0, step[1].0, step[1].1);
            gained_m += gain_m * ((item.spaced_m - from_m) / (to_m - from_m)).clamp(0.0, 1.0);
        }
        *value += gained_m;
    }
    scaled
}

/// Spaced and empty line out at `t`.
fn read_at(items: &[Item], t: UtcInstant) -> Option<(f64, f64)> {
    let timed: Vec<(UtcInstant, f64, f64)> =
        items.iter().filter_map(|item| item.at.map(|at| (at, item.spaced_m, item.extra_m))).collect();
    let next = timed.partition_point(|(at, _, _)| *at <= t);
    match (next.checked_sub(1).and_then(|i| timed.get(i)), timed.get(next)) {
        (Some(a), Some(b)) => {
            let share = t.seconds_since(a.0) / b.0.seconds_since(a.0);
            Some((a.1 + share * (b.1 - a.1), a.2 + share * (b.2 - a.2)))
        }
        (Some(a), None) | (None, Some(a)) => Some((a.1, a.2)),
        (None, None) => None,
    }
}

fn put_on_the_earth(work: &SetWork<'_>, line: &mut Line, doubts: &mut Vec<Doubt>) {
    let mut unplaced = 0;
    let mut silent_s: f64 = 0.0;
    for hook in &mut line.hooks {
        match hook.clipped_at.and_then(|t| work.track.at(t)) {
            Some(fixed) => {
                hook.place = Some(fixed.place);
                if let Some(silence_s) = fixed.silent_s {
                    silent_s = silent_s.max(silence_s);
                    hook.doubts.push(Doubt::new("track_silent", "position", format!(
                        "The instruments were silent for {silence_s:.0} s round this hook; its position is interpolated."
                    )));
                }
            }
            None => unplaced += 1,
        }
    }
    for place in &mut line.places {
        place.position = place.clipped_at.and_then(|t| work.track.at(t)).map(|fixed| fixed.place);
    }
    if unplaced > 0 {
        doubts.push(Doubt::new(
            "no_track",
            "set",
            format!("{unplaced} positions have no place on the earth: no ship's track at their times."),
        ));
    }
    if silent_s > 0.0 {
        doubts.push(Doubt::new(
            "track_silent",
            "set",
            format!(
                "The instruments were silent for up to {silent_s:.0} s while setting; places there are interpolated."
            ),
        ));
    }
}

fn sag_ratios(
    work: &SetWork<'_>,
    pay: &Pay<'_>,
    line: &mut Line,
    plan: Option<&serde_json::Value>,
    doubts: &mut Vec<Doubt>,
) {
    let planned = plan_number(plan, "sag_ratio").filter(|k| *k > 0.0);
    let (mut by_ground, mut unknown) = (0, 0);
    for index in 0..line.baskets.len() {
        let number = line.baskets[index].basket;
        let from = line.place(number).and_then(|place| place.clipped_at);
        let to = if line.baskets[index].has_end_float {
            line.place(number + 1).and_then(|place| place.clipped_at)
        } else {
            line.hooks_of(number).last().and_then(|hook| line.hooks[hook].clipped_at)
        };
        let measured = from.zip(to).filter(|(from, to)| to > from).and_then(|(from, to)| {
            let shooter_m_s = mean_shooter_m_s(pay, from, to)?;
            let (ship_kn, over_ground) = mean_ship_kn(work, from, to)?;
            by_ground += usize::from(over_ground);
            Some(ship_kn * KNOT_M_S / shooter_m_s)
        });
        let basket = &mut line.baskets[index];
        if let Some(sag_ratio) = measured {
            basket.sag_ratio = Some(sag_ratio);
            basket.sag_basis = Some("measured");
        } else if let Some(sag_ratio) = planned {
            basket.sag_ratio = Some(sag_ratio);
            basket.sag_basis = Some("plan");
        } else {
            unknown += 1;
        }
    }
    if by_ground > 0 {
        doubts.push(Doubt::new("sag_over_ground", "set", format!(
            "The sag ratio of {by_ground} baskets rests on speed over the ground, for want of speed through the water: a current of 1 kn at 8 kn shifts it by an eighth."
        )));
    }
    if unknown > 0 {
        doubts.push(Doubt::new("sag_unknown", "set", format!(
            "The sag ratio of {unknown} baskets is not known (no shooter speed with a ship's speed, and no plan): their hooks have no depth."
        )));
    }
}

/// Mean shooter speed in force between two floats, by time.
fn mean_shooter_m_s(pay: &Pay<'_>, from: UtcInstant, to: UtcInstant) -> Option<f64> {
    let mut corners: Vec<UtcInstant> = vec![from];
    corners.extend(pay.shooter.iter().map(|(at, _, _)| *at).filter(|at| *at > from && *at < to));
    corners.push(to);
    let (mut sum, mut time_s) = (0.0, 0.0);
    for pair in corners.windows(2) {
        if let Some(speed) = pay.shooter_m_s(pair[0]) {
            let span_s = pair[1].seconds_since(pair[0]);
            sum += speed * span_s;
            time_s += span_s;
        }
    }
    (time_s > 0.0).then(|| sum / time_s)
}

/// Mean ship's speed between two floats, and whether it is over the ground.
pub(crate) fn mean_ship_kn(work: &SetWork<'_>, from: UtcInstant, to: UtcInstant) -> Option<(f64, bool)> {
    let readings = work.track.between(from, to);
    let mean = |values: Vec<f64>| {
        (!values.is_empty()).then(|| values.iter().sum::<f64>() / to_f64(i64::try_from(values.len()).unwrap_or(1)))
    };
    let water = mean(readings.iter().filter_map(|reading| reading.through_water_kn).collect());
    let ground = || mean(readings.iter().filter_map(|reading| reading.over_ground_kn).collect());
    if let Some(kn) = water {
        return Some((kn, false));
    }
    let middle = from.plus_seconds(to.seconds_since(from) / 2.0);
    let near_water =
        work.track.nearest(middle, super::track::LONGEST_SILENCE_S, |reading| reading.through_water_kn.is_some());
    if let Some(kn) = near_water.and_then(|reading| reading.through_water_kn) {
        return Some((kn, false));
    }
    ground()
        .or_else(|| {
            work.track
                .nearest(middle, super::track::LONGEST_SILENCE_S, |reading| reading.over_ground_kn.is_some())
                .and_then(|reading| reading.over_ground_kn)
        })
        .map(|kn| (kn, true))
}
