//! The strip of a plan: every basket still to come, first float left, last right, with night and day under it.
//!
//! The same geometry as that of a set for a screen. A share of the width is a share of the clip intervals; times along it
//! run by the beat, with the beats of radio buoys between.

use forecast::RestsOn;
use forecast::plan::{Planned, SkyLight, Stretch};
use quantity::UtcInstant;

use crate::screen_strip::{ArcState, ScreenStrip, StripArc, StripFloat, metres, share};
use crate::strip::{Flag, HourTick, Light, LightBar};

/// Depth at which arcs are drawn whose depth is not known, metres.
const DRAWN_M: f64 = 50.0;
/// Baskets above which arcs get fewer points: nobody sees more of them.
const MANY_BASKETS: u32 = 400;

/// The strip of a plan; whole hours are those of `utc_offset_min`. Empty without hooks and hooks per basket.
#[must_use]
pub fn planned_strip(planned: &Planned, utc_offset_min: i64) -> ScreenStrip {
    let mut strip = ScreenStrip {
        deepest_m: planned.stretches.iter().filter_map(|stretch| stretch.deepest_m).reduce(f64::max),
        draw_to_m: planned.draw_to_m,
        arcs: Vec::new(),
        floats: Vec::new(),
        baskets_set: 0,
        baskets_to_come: 0,
        rests_on: RestsOn::Nothing,
        line_ends_at: 0.0,
        haul: None,
        hauled_bars: Vec::new(),
        flags: Vec::new(),
        missing_floats: Vec::new(),
        crosses: Vec::new(),
        questions: Vec::new(),
        dots: Vec::new(),
        light: Vec::new(),
        hours: Vec::new(),
    };
    let Some(line) = Line::of(planned) else { return strip };
    strip.baskets_to_come = i64::from(line.baskets);
    strip.rests_on = RestsOn::PlannedHooks;
    let step = if line.baskets > MANY_BASKETS { (line.each / 5).max(1) } else { 1 };
    for basket in 1..=line.baskets {
        strip.arcs.push(line.arc(planned, basket, step));
    }
    for place in 1..=line.baskets + 1 {
        strip.floats.push(StripFloat {
            place: i64::from(place),
            at: share(line.at_place(place)),
            tag: None,
            to_come: true,
        });
    }
    for (buoy, number) in planned.radio_buoys.iter().zip(1..) {
        strip.flags.push(Flag { at: share(line.at_place(buoy.place)), label: format!("{number}") });
    }
    let times = line.times(planned);
    strip.light = light(planned, &times);
    strip.hours = hours(&times, utc_offset_min);
    strip
}

/// The clip intervals of the line.
struct Line {
    hooks: u32,
    each: u32,
    baskets: u32,
    float_beat: u32,
    whole: f64,
}

impl Line {
    fn of(planned: &Planned) -> Option<Self> {
        let (hooks, each) = (planned.hooks?, planned.setting.hooks_per_basket?);
        let baskets = planned.setting.baskets?;
        let float_beat = u32::from(planned.setting.float_takes_a_beat);
        let whole = f64::from(hooks) + f64::from(baskets * float_beat);
        Some(Self { hooks, each, baskets, float_beat, whole })
    }

    /// Share of the width at which a place lies.
    fn at_place(&self, place: u32) -> f64 {
        let before = place.saturating_sub(1);
        (f64::from((before * self.each).min(self.hooks)) + f64::from(before * self.float_beat)) / self.whole
    }

    fn arc(&self, planned: &Planned, basket: u32, step: u32) -> StripArc {
        let (from, to) = (self.at_place(basket), self.at_place(basket + 1));
        let first = (basket - 1) * self.each;
        let count = self.each.min(self.hooks - first);
        let lead = if self.float_beat == 1 { 0.0 } else { 0.5 };
        let mut points = vec![[share(from), 0.0]];
        let mut depth_known = true;
        for position in (1..=count).filter(|position| position % step == 0 || *position == count || *position == 1) {
            // Hook by hook, for a course may change within a basket.
            let depth_m = depth_m(&planned.stretches, first + position, position, count < self.each);
            depth_known &= depth_m.is_some();
            let along = (f64::from(position) - lead) / (f64::from(count) + f64::from(self.float_beat));
            let drawn_m = DRAWN_M * (1.0 - 0.6 * (2.0 * along - 1.0).powi(2));
            points.push([share(from + along * (to - from)), metres(depth_m.unwrap_or(drawn_m))]);
        }
        points.push([share(to), 0.0]);
        StripArc { basket: i64::from(basket), state: ArcState::ToCome, points, depth_known }
    }

    /// Shares of the width and times: each radio buoy and both ends. Between them the beat runs evenly.
    fn times(&self, planned: &Planned) -> Vec<(f64, UtcInstant)> {
        let ends = planned.stretches.first().and_then(|stretch| stretch.starts_at).zip(planned.totals.ends_at);
        let Some((start, end)) = ends else { return Vec::new() };
        let mut times = vec![(0.0, start)];
        let inner = planned.radio_buoys.iter().filter(|buoy| buoy.place > 1 && buoy.place <= self.baskets);
        times.extend(inner.filter_map(|buoy| Some((self.at_place(buoy.place), buoy.at?))));
        times.push((1.0, end));
        times
    }
}

fn depth_m(stretches: &[Stretch], hook: u32, position: u32, short: bool) -> Option<f64> {
    let stretch = stretches.iter().find(|stretch| stretch.to_hook.is_some_and(|to| hook <= to))?;
    let index = usize::try_from(position.checked_sub(1)?).ok()?;
    if short {
        return stretch.short_basket_depths_m.get(index).copied();
    }
    stretch.section.as_ref()?.hooks.get(index).map(|hook| hook.depth_m)
}

fn share_when(times: &[(f64, UtcInstant)], at: UtcInstant) -> Option<f64> {
    let pair = times.windows(2).find(|pair| at <= pair[1].1)?;
    let [(from, begins), (to, ends)] = pair else { return None };
    let whole_s = ends.seconds_since(*begins);
    let gone = if whole_s > 0.0 { (at.seconds_since(*begins) / whole_s).clamp(0.0, 1.0) } else { 0.0 };
    Some(from + gone * (to - from))
}

fn light(planned: &Planned, times: &[(f64, UtcInstant)]) -> Vec<LightBar> {
    let (Some(first), Some(last), Some(sky)) = (times.first(), times.last(), &planned.sky) else { return Vec::new() };
    sky.bars
        .iter()
        .filter_map(|bar| {
            let (from, to) = (bar.from.max(first.1), bar.to.min(last.1));
            let light = match bar.light {
                SkyLight::Night => Light::Night,
                SkyLight::Twilight => Light::Twilight,
                SkyLight::Day => Light::Day,
            };
            (to > from).then_some(())?;
            Some(LightBar { from: share(share_when(times, from)?), to: share(share_when(times, to)?), light })
        })
        .collect()
}

fn hours(times: &[(f64, UtcInstant)], utc_offset_min: i64) -> Vec<HourTick> {
    let (Some(first), Some(last)) = (times.first(), times.last()) else { return Vec::new() };
    #[expect(clippy::cast_precision_loss, reason = "an offset is less than a day")]
    let offset_s = utc_offset_min.clamp(-1440, 1440) as f64 * 60.0;
    let past_s = first.1.plus_seconds(offset_s).second_of_day_s().rem_euclid(3600.0);
    let mut when = first.1.plus_seconds(if past_s > 0.0 { 3600.0 - past_s } else { 0.0 });
    let mut ticks = Vec::new();
    while when <= last.1 && ticks.len() < 72 {
        ticks.extend(share_when(times, when).map(|at| HourTick { at: share(at), at_utc: when }));
        when = when.plus_seconds(3600.0);
    }
    ticks
}
