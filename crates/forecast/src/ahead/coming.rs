//! The baskets to come, one after the other, with the course of each.

use voyage::{Basket, SetRecord, VoyageRecord};

use super::answer::AheadRestsOn;
use super::stores::Left;
use super::{count, to_f64};
use crate::to_come::{RestsOn, basket_to_come, to_come};

/// More baskets than are looked at ahead.
const MOST_AHEAD: i64 = 5_000;

/// A basket, or what is left of the one being hung.
#[derive(Debug, Clone)]
pub(super) struct ComingBasket {
    /// As it will hang.
    pub basket: Basket,
    /// Positions of it that are out already.
    pub out: i64,
    pub course_deg_true: Option<f64>,
    /// Beats from the next one due to its first position to come, and to its end float.
    pub beats: (f64, f64),
}

impl ComingBasket {
    pub(super) fn hooks(&self) -> i64 {
        (self.basket.hooks - self.out).max(0)
    }

    /// Main line that goes out with it, m.
    pub(super) fn main_line_m(&self) -> Option<f64> {
        let float = if self.basket.float_takes_a_beat { 1.0 } else { 0.0 };
        let half = if !self.basket.float_takes_a_beat && self.out > 0 { 0.5 } else { 0.0 };
        Some(self.basket.clip_spacing_m? * (to_f64(self.hooks()) + float + half))
    }

    /// Beats from the next one due to a position.
    pub(super) fn beat_of(&self, position: i64) -> f64 {
        self.beats.0 + to_f64(position - self.out - 1)
    }
}

/// Everything to come.
#[derive(Debug)]
pub(super) struct Coming {
    pub baskets: Vec<ComingBasket>,
    pub rests_on: AheadRestsOn,
}

impl Coming {
    pub(super) fn of(voyage: &VoyageRecord, set: &SetRecord, left: &Left) -> Self {
        let told = to_come(voyage, set);
        let mut rests_on = match told.rests_on {
            RestsOn::PlannedBaskets => AheadRestsOn::PlannedBaskets,
            RestsOn::PlannedHooks => AheadRestsOn::PlannedHooks,
            RestsOn::LastSet => AheadRestsOn::LastSet,
            RestsOn::Nothing => AheadRestsOn::Nothing,
        };
        let Some(being) = &set.outgoing.being_set else { return Self { baskets: Vec::new(), rests_on } };
        let mut walk = Walk::of(set);
        let mut baskets = Vec::new();
        let rest = match set.baskets.iter().find(|basket| basket.basket == being.basket) {
            Some(begun) => crate::to_come::as_when_full(set, begun).into_owned(),
            None => basket_to_come(set, being.basket),
        };
        baskets.push(walk.next(rest, being.hooks_out));
        if rests_on != AheadRestsOn::Nothing {
            for nth in 1..=told.baskets.min(MOST_AHEAD) {
                let mut basket = basket_to_come(set, being.basket + nth);
                if nth == told.baskets {
                    basket.hooks = told.hooks_in_last.unwrap_or(basket.hooks);
                }
                baskets.push(walk.next(basket, 0));
            }
            return Self { baskets, rests_on };
        }
        // Without a plan the line goes out until something that was counted is used up.
        if let Some((limit, basis)) = [
            (left.main_line_m, AheadRestsOn::MainLineLeft),
            (left.hooks_in_bins.map(to_f64), AheadRestsOn::BinsLeft),
            (left.floats.map(to_f64), AheadRestsOn::FloatsLeft),
        ]
        .into_iter()
        .filter_map(|(left, basis)| Some((baskets_for(set, &baskets[0], left?, basis), basis)))
        .min_by_key(|(baskets, _)| *baskets)
        {
            rests_on = basis;
            for nth in 1..=limit {
                baskets.push(walk.next(basket_to_come(set, being.basket + nth), 0));
            }
        }
        Self { baskets, rests_on }
    }

    pub(super) fn hooks(&self) -> i64 {
        self.baskets.iter().map(ComingBasket::hooks).sum()
    }

    /// Baskets after the one being hung.
    pub(super) fn whole_baskets(&self) -> i64 {
        count(self.baskets.len().saturating_sub(1))
    }

    /// Beats from the next one due to the last float.
    pub(super) fn beats(&self) -> f64 {
        self.baskets.last().map_or(0.0, |basket| basket.beats.1)
    }
}

/// Whole baskets after the one being hung, for which so much suffices.
fn baskets_for(set: &SetRecord, begun: &ComingBasket, left: f64, basis: AheadRestsOn) -> i64 {
    let cost = |coming: &ComingBasket| match basis {
        AheadRestsOn::MainLineLeft => coming.main_line_m().unwrap_or(f64::INFINITY),
        AheadRestsOn::BinsLeft => to_f64(coming.hooks()),
        _ => 1.0,
    };
    let mut left = left - cost(begun);
    let mut baskets = 0;
    while baskets < MOST_AHEAD {
        let basket = basket_to_come(set, begun.basket.basket + baskets + 1);
        let whole = ComingBasket { basket, out: 0, course_deg_true: None, beats: (0.0, 0.0) };
        left -= cost(&whole);
        if left < 0.0 || whole.basket.hooks <= 0 {
            break;
        }
        baskets += 1;
    }
    baskets
}

/// Walks along the line to come, by beats and by the planned courses.
struct Walk {
    begun: bool,
    beats: f64,
    /// Hooks out before the basket that is walked to.
    hooks: i64,
    course_deg_true: Option<f64>,
    /// Hooks before each planned leg that is still ahead, and its course.
    legs: Vec<(i64, f64)>,
}

impl Walk {
    fn of(set: &SetRecord) -> Self {
        let being = set.outgoing.being_set.as_ref();
        let hooks = count(set.hooks.len());
        let mut before = 0.0;
        let mut legs = Vec::new();
        for leg in &set.outgoing.planned_legs {
            let course = leg.get("course_deg_true").and_then(serde_json::Value::as_f64);
            if let Some(course) = course.filter(|course| course.is_finite()) {
                #[expect(clippy::cast_possible_truncation, reason = "a count of hooks")]
                legs.push((before as i64, quantity::wrap_bearing_deg(course)));
            }
            // A leg that says no hooks takes all that are left.
            let Some(own) = leg.get("hooks").and_then(serde_json::Value::as_f64) else { break };
            before += own.clamp(0.0, 1e6);
        }
        // Legs that are behind, or being sailed, are the course that was told.
        legs.retain(|(from, _)| *from > hooks);
        Self { begun: false, beats: 0.0, hooks, course_deg_true: being.and_then(|being| being.course_deg_true), legs }
    }

    fn next(&mut self, basket: Basket, out: i64) -> ComingBasket {
        if let Some((_, course)) = self.legs.iter().rfind(|(from, _)| *from <= self.hooks) {
            self.course_deg_true = Some(*course);
        }
        let hooks = (basket.hooks - out).max(0);
        // The next one due is at 0 beats: the first position to come, or the float where the basket is full.
        let begins = self.beats;
        let float = if basket.float_takes_a_beat { 1.0 } else { 0.5 };
        let first_hook = if self.begun { begins + float } else { begins };
        self.begun = true;
        let ends = if hooks == 0 { begins } else { first_hook + to_f64(hooks - 1) + float };
        self.beats = ends;
        self.hooks += hooks;
        ComingBasket { basket, out, course_deg_true: self.course_deg_true, beats: (first_hook, ends) }
    }
}
