//! The line as beats: which hook, float and radio buoy goes out when, and which leg each hook belongs to.
//!
//! A beat is one clip interval. With a beat of its own for the float, place p stands at (p − 1)(n + 1) and hook j of its
//! basket j later; without, place p at (p − 1) n and hook j at j − ½. Each radio buoy takes its further beats behind its
//! place. A radio buoy hangs at the last float before the hooks to the next one are full, at the first and at the last place.

use gear::Setting;
use voyage::Doubt;

use super::wanted::PlanWanted;

/// A planned line.
#[derive(Debug)]
pub(super) struct Line {
    /// Hooks of a basket.
    each: Option<u32>,
    /// Hooks, and baskets with a short last one.
    count: Option<(u32, u32)>,
    float_beat: bool,
    buoy_beats: f64,
    /// Radio buoys: place, and hooks before it.
    pub buoys: Vec<(u32, u32)>,
    buoys_known: bool,
    /// The legs that have hooks.
    pub legs: Vec<Leg>,
}

/// A leg.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Leg {
    /// From 1, as given.
    pub number: u32,
    pub course_deg_true: Option<f64>,
    /// First and last hook; none where hooks are not known.
    pub hooks: Option<(u32, u32)>,
}

impl Line {
    pub(super) fn of(wanted: &PlanWanted, setting: &Setting, doubts: &mut Vec<Doubt>) -> Self {
        let each = setting.hooks_per_basket;
        let count = setting.hooks.zip(setting.baskets);
        let mut line = Self {
            each,
            count,
            float_beat: setting.float_takes_a_beat,
            buoy_beats: wanted.radio_buoy_beats.unwrap_or(0.0),
            buoys: Vec::new(),
            buoys_known: false,
            legs: legs(wanted, setting.hooks, doubts),
        };
        if let (Some(each), Some((hooks, baskets)), Some(apart)) = (each, count, setting.hooks_per_radio_buoy) {
            let mut places: Vec<u32> =
                (0..hooks.div_ceil(apart)).map(|buoy| buoy.saturating_mul(apart) / each + 1).collect();
            places.push(baskets + 1);
            let asked = places.len();
            places.dedup();
            if places.len() < asked {
                let text = format!(
                    "A radio buoy every {apart} hooks would put two at one float, where a basket has {each}: {} are planned.",
                    places.len()
                );
                doubts.push(Doubt::new("radio_buoys_too_close", "plan", text));
            }
            line.buoys_known = true;
            line.buoys = places.into_iter().map(|place| (place, (place - 1).saturating_mul(each).min(hooks))).collect();
        }
        line
    }

    pub(super) fn hooks(&self) -> Option<u32> {
        self.count.map(|(hooks, _)| hooks)
    }

    /// Hooks of the last basket where it is not full.
    pub(super) fn short_basket(&self) -> Option<u32> {
        let left = self.count?.0.checked_rem(self.each?)?;
        (left > 0).then_some(left)
    }

    /// The same where it goes out in this leg.
    pub(super) fn short_in(&self, leg: &Leg) -> Option<u32> {
        let last = leg.hooks.is_some_and(|(_, to)| Some(to) == self.hooks());
        self.short_basket().filter(|_| last)
    }

    /// Floats and radio buoys in the line.
    pub(super) fn places(&self) -> Option<u32> {
        self.count.map(|(_, baskets)| baskets + 1)
    }

    pub(super) fn radio_buoys(&self) -> Option<u32> {
        self.buoys_known.then(|| u32::try_from(self.buoys.len()).unwrap_or(u32::MAX))
    }

    /// The basket of a hook and its position in it, both from 1.
    pub(super) fn basket_of(&self, hook: u32) -> Option<(u32, u32)> {
        let each = self.each?;
        let before = hook.checked_sub(1)?;
        Some((before / each + 1, before % each + 1))
    }

    /// Beats from the first float to a place.
    pub(super) fn beat_of_place(&self, place: u32) -> f64 {
        let Some((each, (hooks, _))) = self.each.zip(self.count) else { return 0.0 };
        let baskets = place.saturating_sub(1);
        let out = baskets.saturating_mul(each).min(hooks);
        f64::from(out) + if self.float_beat { f64::from(baskets) } else { 0.0 } + self.buoy_beats_before(place)
    }

    /// Beats from the first float to a hook.
    pub(super) fn beat_of_hook(&self, hook: u32) -> f64 {
        let Some((basket, position)) = self.basket_of(hook) else { return 0.0 };
        let lead = if self.float_beat { 0.0 } else { 0.5 };
        self.beat_of_place(basket) - self.buoy_beats_before(basket)
            + self.buoy_beats_before(basket + 1)
            + f64::from(position)
            - lead
    }

    /// Beats at which a leg ends: at its last hook, or at the float behind it.
    pub(super) fn leg_ends(&self, leg: &Leg) -> f64 {
        let Some((_, last)) = leg.hooks else { return 0.0 };
        let Some((basket, position)) = self.basket_of(last) else { return 0.0 };
        if Some(last) == self.hooks() {
            self.beats().unwrap_or(0.0)
        } else if Some(position) == self.each {
            self.beat_of_place(basket + 1)
        } else {
            self.beat_of_hook(last)
        }
    }

    /// Beats of the whole setting.
    pub(super) fn beats(&self) -> Option<f64> {
        let last = self.places()?;
        self.each?;
        Some(self.beat_of_place(last) - self.buoy_beats_before(last) + self.buoy_beats_before(last + 1))
    }

    fn buoy_beats_before(&self, place: u32) -> f64 {
        let out = self.buoys.partition_point(|(at, _)| *at < place);
        self.buoy_beats * f64::from(u32::try_from(out).unwrap_or(0))
    }
}

/// Hooks dealt out to the legs in order; the last leg takes what is left.
fn legs(wanted: &PlanWanted, hooks: Option<u32>, doubts: &mut Vec<Doubt>) -> Vec<Leg> {
    let Some(last) = wanted.legs.len().checked_sub(1) else {
        let text = "No course was given: depths count no current, and no way is told. Give at least one leg.";
        doubts.push(Doubt::new("no_course", "plan", text));
        return vec![Leg { number: 1, course_deg_true: None, hooks: hooks.map(|hooks| (1, hooks)) }];
    };
    let mut legs = Vec::new();
    let mut next = 1;
    for (index, leg) in wanted.legs.iter().enumerate() {
        let number = u32::try_from(index + 1).unwrap_or(u32::MAX);
        let course_deg_true = Some(quantity::wrap_bearing_deg(leg.course_deg_true));
        let Some(all) = hooks else {
            legs.push(Leg { number, course_deg_true, hooks: None });
            continue;
        };
        let left = (all + 1).saturating_sub(next);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked to be whole and small")]
        let asked = leg.hooks.map(|hooks| hooks as u32);
        let own = if index == last { left } else { asked.unwrap_or(left).min(left) };
        let mut doubt = |kind: &str, text: String| doubts.push(Doubt::new(kind, format!("leg {number}"), text));
        match asked {
            Some(asked) if index == last && asked != own => {
                doubt(
                    "leg_takes_the_rest",
                    format!("The last leg has {own} hooks, not {asked}: it takes what is left of {all}."),
                );
            }
            Some(asked) if asked > own => {
                doubt(
                    "leg_cut_off",
                    format!("Leg {number} asks for {asked} hooks; only {own} of {all} are left for it."),
                );
            }
            None if index < last && left > 0 => {
                doubt(
                    "leg_takes_the_rest",
                    format!(
                        "Leg {number} says no hooks: it takes all {own} that are left, the legs behind it have none."
                    ),
                );
            }
            _ => {}
        }
        if own > 0 {
            legs.push(Leg { number, course_deg_true, hooks: Some((next, next + own - 1)) });
            next += own;
        } else {
            doubt("leg_without_hooks", format!("Leg {number} has no hooks: all {all} are out before it."));
        }
    }
    legs
}
