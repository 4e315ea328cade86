//! How deep every hook of a set hung, basket by basket, with its band.
//!
//! Where the set has a current profile and the gear is described well enough, the forces on each basket are balanced
//! (`current.rs`). Else the closed-form catenary of [`gear::catenary`] (uniform line, still water, float and branch lines plumb;
//! Yoshihara 1951, 1954; Suzuki, Warashina & Kishida 1977; SOURCE NOT CHECKED in wording, derived again from the
//! catenary), taken at the arc at which each hook is clipped. Range: sag ratio above 0 and up to 1. Currents lift
//! hooks: that band does not hold it, it holds the error of the sag ratio alone.

use gear::catenary::{drop_at_m, main_line_shape};
use gear::{Cause, Hung};
use serde::Serialize;
use voyage::{Basket, Doubt, HookFate, SetRecord};

use crate::current::in_the_current;
use crate::to_come;

/// One standard error allowed to a sag ratio: what the band of a depth rests on. A judgement, not a measurement.
pub const SAG_RATIO_ERROR: f64 = 0.02;

/// What a depth and its band rest on where a current was counted, in words for the foot of a page.
const CURRENT_WORDS: &str = "Depths are computed in the current profile of the set: forces on an elastic main line, branch \
     lines and floats balanced, each basket one of an endless row that drifts freely with the sag ratio it was set with. The \
     band is what errors of ± 0.02 in the sag ratio, 20 % in the weights, 15 % in the drag and 0.07 m/s in the current make. \
     Ends of the line slump and hang deeper. Baskets whose current could not be counted say so.";

/// The same for still water.
const STILL_WORDS: &str = "Depths are computed for still water: a uniform catenary between the floats, float and branch lines \
     hanging plumb. The band is what an error of ± 0.02 in the sag ratio makes; current is not in it and lifts hooks.";

/// How deep one hook hung.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HookDepth {
    /// Below the surface, metres; none where something needed is not known, and at an empty position.
    pub depth_m: Option<f64>,
    /// Half-width of its band, metres.
    pub band_m: Option<f64>,
    /// What most of the band comes from.
    pub band_mostly: Option<Cause>,
    /// What is not sure of it; each concerns its basket.
    pub doubts: Vec<Doubt>,
}

/// A hook's depth with the hook it belongs to.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DepthRow {
    /// Number over the set; none for an empty position.
    pub number: Option<i64>,
    /// Its basket.
    pub basket: i64,
    /// Its position in the basket, setting order.
    pub position: i64,
    /// Below the surface, metres.
    pub depth_m: Option<f64>,
    /// Half-width of its band, metres.
    pub band_m: Option<f64>,
}

/// The depth of every position of a set: one answer for each of [`SetRecord::hooks`], in their order.
#[must_use]
pub fn depths(set: &SetRecord) -> Vec<HookDepth> {
    let mut all = vec![HookDepth::default(); set.hooks.len()];
    for basket in &set.baskets {
        let whole = to_come::as_when_full(set, basket);
        let hung = hang(set, &whole);
        let first = basket.first_hook;
        let count = usize::try_from(basket.hooks).unwrap_or(0);
        let begins_m = along_of_place(set, basket.basket);
        for (hook, answer) in set.hooks.iter().zip(&mut all).skip(first).take(count) {
            if hook.fate == HookFate::Missed {
                continue;
            }
            let measured = hook.along_line_m.zip(begins_m).map(|(hook_m, place_m)| hook_m - place_m);
            *answer = hung.hook(hook.position, measured);
        }
    }
    all
}

/// What the depths of a set rest on, in words for the foot of a page.
#[must_use]
pub fn model_words(set: &SetRecord) -> &'static str {
    if set.current_profile.is_empty() { STILL_WORDS } else { CURRENT_WORDS }
}

/// A basket of a set as it hung, for drawing.
#[derive(Debug, Clone, PartialEq)]
pub struct HungShape {
    /// Distance between the lower ends of its float lines, metres.
    pub span_m: f64,
    /// The main line: metres from the first float line along the course, depth in metres.
    pub main_line: Vec<(f64, f64)>,
    /// Every hook position: metres along, depth of its clip, metres.
    pub clips: Vec<(f64, f64)>,
    /// Whether a current was counted.
    pub in_current: bool,
}

/// The shape of one basket of a set; none where something that it needs is not recorded.
#[must_use]
pub fn shape(set: &SetRecord, basket: &Basket) -> Option<HungShape> {
    hang(set, basket).shape()
}

/// A basket of a set, or one still to come, hung in the set's water.
pub struct HungBasket {
    hanging: Option<Hanging>,
    even: Option<gear::Basket>,
    in_current: Option<Hung>,
    /// What is not sure of its depths.
    pub doubts: Vec<Doubt>,
}

/// Hangs a basket in the water of a set: in its current where that is known, else in still water.
#[must_use]
pub fn hang(set: &SetRecord, basket: &Basket) -> HungBasket {
    hang_on(set, basket, None)
}

/// The same on a course: of a basket to come that goes out on another one than the ship's now.
#[must_use]
pub fn hang_on(set: &SetRecord, basket: &Basket, course_deg_true: Option<f64>) -> HungBasket {
    let (hanging, mut doubts) = Hanging::of(basket);
    let even = hanging.as_ref().map(|hanging| hanging.even(basket));
    let hung = even.and_then(|even| in_the_current(set, basket, even, course_deg_true));
    let in_current = hung.and_then(|(hung, more)| {
        doubts.extend(more);
        hung
    });
    HungBasket { hanging, even, in_current, doubts }
}

impl HungBasket {
    /// Depth of the hook at a position; `measured_m` is the main line from its float, where that was measured.
    #[must_use]
    pub fn hook(&self, position: i64, measured_m: Option<f64>) -> HookDepth {
        let mut answer = HookDepth { doubts: self.doubts.clone(), ..HookDepth::default() };
        let Some(hanging) = &self.hanging else { return answer };
        let arc_m = hanging.arc_m(position, measured_m);
        let (depth_m, band_m, mostly) = match &self.in_current {
            Some(hung) => at_arc(hung, hanging.hung_m, arc_m),
            None => hanging.still(arc_m),
        };
        (answer.depth_m, answer.band_m, answer.band_mostly) = (Some(depth_m), band_m, mostly);
        answer
    }

    /// Its shape for drawing; none where something that it needs is not recorded.
    #[must_use]
    pub fn shape(&self) -> Option<HungShape> {
        const POINTS: u32 = 61;
        let even = self.even.as_ref()?;
        if let Some(hung) = &self.in_current {
            let line: Vec<(f64, f64)> = hung.nodes.iter().map(|node| (node.horizontal_m, node.depth_m)).collect();
            let per_interval = hung.elements_per_interval as usize;
            let clips = (1..=even.hooks as usize).filter_map(|hook| line.get(hook * per_interval).copied()).collect();
            return Some(HungShape { span_m: hung.span_m, main_line: line, clips, in_current: true });
        }
        let still = gear::hook_depths(even).ok()?;
        Some(HungShape {
            span_m: still.float_span_m,
            main_line: main_line_shape(even, POINTS).ok()?,
            clips: still.hooks.iter().map(|hook| (hook.horizontal_m, hook.depth_m - even.branch_line_m)).collect(),
            in_current: false,
        })
    }
}

/// Depth, band and its main cause of a hook at an arc from the first float, between its neighbours of the evenly
/// clipped basket.
fn at_arc(hung: &Hung, ends_m: f64, arc_m: f64) -> (f64, Option<f64>, Option<Cause>) {
    let next = hung.hooks.partition_point(|hook| hook.along_m < arc_m);
    let at = |index: Option<usize>| index.and_then(|index| hung.hooks.get(index));
    let (from, to) = (at(next.checked_sub(1)), at(Some(next)));
    let Some(nearest) = to.or(from) else { return (ends_m, None, None) };
    let (from_m, from_depth_m, from_band_m) =
        from.map_or((0.0, ends_m, Some(0.0)), |hook| (hook.along_m, hook.depth_m, hook.band_m));
    let (to_m, to_depth_m, to_band_m) =
        to.map_or((hung.main_line_m, ends_m, Some(0.0)), |hook| (hook.along_m, hook.depth_m, hook.band_m));
    let share = if to_m > from_m { ((arc_m - from_m) / (to_m - from_m)).clamp(0.0, 1.0) } else { 1.0 };
    let between = |from: f64, to: f64| from + share * (to - from);
    let band_m = from_band_m.zip(to_band_m).map(|(from_m, to_m)| between(from_m, to_m));
    (between(from_depth_m, to_depth_m), band_m, nearest.band_mostly)
}

/// The same as rows that name their hooks.
#[must_use]
pub fn hook_depth_rows(set: &SetRecord) -> Vec<DepthRow> {
    set.hooks
        .iter()
        .zip(depths(set))
        .map(|(hook, depth)| DepthRow {
            number: hook.number,
            basket: hook.basket,
            position: hook.position,
            depth_m: depth.depth_m,
            band_m: depth.band_m,
        })
        .collect()
}

fn along_of_place(set: &SetRecord, place: i64) -> Option<f64> {
    set.places.iter().find(|at| at.place == place)?.along_line_m
}

/// A basket with everything that its shape needs.
struct Hanging {
    line_m: f64,
    spacing_m: f64,
    /// Arc from the first float to hook 1, in spacings.
    lead: f64,
    /// True when empty line makes the clip count a poor measure of the arc.
    by_line: bool,
    sag_ratio: f64,
    /// Float line and branch line, metres.
    lines_m: (f64, f64),
    /// Both together, metres.
    hung_m: f64,
}

impl Hanging {
    /// The basket's shape, or none where something is missing; and what is doubtful of it.
    fn of(basket: &Basket) -> (Option<Self>, Vec<Doubt>) {
        let mut doubts = Vec::new();
        let number = basket.basket;
        let mut doubt = |kind: &str, text: String| doubts.push(Doubt::new(kind, format!("basket {number}"), text));
        let hooks = f64::from(u32::try_from(basket.hooks).unwrap_or(0));
        let intervals = hooks + if basket.float_takes_a_beat { 1.0 } else { 0.0 };
        let positive = |value: Option<f64>| value.filter(|value| value.is_finite() && *value > 0.0);
        let not_negative = |value: Option<f64>| value.filter(|value| value.is_finite() && *value >= 0.0);
        let spacing_m =
            positive(basket.clip_spacing_m).or_else(|| positive(basket.main_line_m).map(|line_m| line_m / intervals));
        let float_line_m = not_negative(basket.float_line_m);
        let branch_line_m = not_negative(basket.branch_line_m);
        let sag_ratio = positive(basket.sag_ratio);
        let missing: Vec<&str> = [
            (sag_ratio.is_none(), "the sag ratio"),
            (spacing_m.is_none(), "the clip spacing"),
            (float_line_m.is_none(), "the float line"),
            (branch_line_m.is_none(), "the branch line"),
        ]
        .iter()
        .filter_map(|(absent, name)| absent.then_some(*name))
        .collect();
        let (Some(stated), Some(spacing_m), Some(float_line_m), Some(branch_line_m)) =
            (sag_ratio, spacing_m, float_line_m, branch_line_m)
        else {
            doubt(
                "depth_unknown",
                format!("The depth of the hooks in basket {number} is not known: {} not recorded.", and_list(&missing)),
            );
            return (None, doubts);
        };
        if stated >= 1.0 {
            doubt(
                "line_taut",
                format!(
                    "The sag ratio of basket {number} is {stated:.3}; a line cannot be longer drawn than it is, so it is taken as taut and its hooks hang at their shallowest."
                ),
            );
        }
        if basket.sag_basis == Some("plan") {
            doubt(
                "sag_ratio_planned",
                format!("The sag ratio of basket {number}, {stated:.3}, is the plan's and was not measured."),
            );
        }
        if !basket.has_end_float {
            doubt(
                "basket_without_end_float",
                format!("Basket {number} has no float at its end; its depths are computed as if it had one."),
            );
        }
        let empty_m = basket.empty_line_m.max(0.0);
        if empty_m > 0.0 {
            doubt(
                "empty_line",
                format!(
                    "{empty_m:.0} m of empty line went out in basket {number}: it is longer and hung deeper than the others, and where in it the empty line lies is not exactly known."
                ),
            );
        }
        let nominal_m = intervals * spacing_m;
        let line_m = match positive(basket.main_line_m) {
            None => nominal_m + empty_m,
            // The line between the floats, given without the empty line that went out in it.
            Some(line_m) if empty_m > 0.0 && (line_m - nominal_m).abs() < 0.5 * empty_m => line_m + empty_m,
            // At a bare end the line is told up to its last hook: the float that is taken to follow hangs a clip further on.
            Some(line_m) if !basket.has_end_float => line_m.max(nominal_m),
            Some(line_m) => line_m,
        };
        let hanging = Self {
            line_m,
            spacing_m,
            lead: if basket.float_takes_a_beat { 0.0 } else { 0.5 },
            by_line: (line_m - nominal_m).abs() > 1e-6 * nominal_m,
            sag_ratio: stated.min(1.0),
            lines_m: (float_line_m, branch_line_m),
            hung_m: float_line_m + branch_line_m,
        };
        (Some(hanging), doubts)
    }

    /// Main line from the first float to a hook: by the clip count, or by the line meter where the two part.
    fn arc_m(&self, position: i64, measured_m: Option<f64>) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "positions in a basket are small")]
        let counted_m = (position as f64 - self.lead) * self.spacing_m;
        match measured_m {
            Some(measured_m) if self.by_line && (0.0..=self.line_m).contains(&measured_m) => measured_m,
            _ => counted_m.min(self.line_m),
        }
    }

    /// The basket clipped evenly over its whole line, as the mechanics and the pictures take it.
    fn even(&self, basket: &Basket) -> gear::Basket {
        let hooks = u32::try_from(basket.hooks).unwrap_or(1).clamp(1, 1000);
        let intervals = f64::from(hooks + u32::from(basket.float_takes_a_beat));
        gear::Basket {
            hooks,
            clip_spacing_m: self.line_m / intervals,
            sag_ratio: self.sag_ratio,
            float_line_m: self.lines_m.0,
            branch_line_m: self.lines_m.1,
            float_takes_a_beat: basket.float_takes_a_beat,
        }
    }

    /// Depth in still water and the band of the sag ratio alone.
    fn still(&self, arc_m: f64) -> (f64, Option<f64>, Option<Cause>) {
        let depth_m = self.depth_at(arc_m, self.sag_ratio);
        let off = |sag_ratio: f64| (self.depth_at(arc_m, sag_ratio.clamp(1e-6, 1.0)) - depth_m).abs();
        let band_m = off(self.sag_ratio - SAG_RATIO_ERROR).max(off(self.sag_ratio + SAG_RATIO_ERROR));
        (depth_m, Some(band_m), Some(Cause::SagRatio))
    }

    /// Depth of a hook clipped `arc_m` from the first float, metres: gear's closed form at any arc.
    fn depth_at(&self, arc_m: f64, sag_ratio: f64) -> f64 {
        self.hung_m + drop_at_m(self.line_m, sag_ratio, arc_m)
    }
}

/// `a`, `a and b`, `a, b and c`, with the verb that fits.
fn and_list(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => format!("{one} was"),
        [first @ .., last] => format!("{} and {last} were", first.join(", ")),
    }
}
