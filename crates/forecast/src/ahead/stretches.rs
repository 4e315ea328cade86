//! The line by stretches: from one change of gear or course to the next, what is out and what is to come.

use quantity::{UtcInstant, geodesic};
use voyage::{Basket, HookFate, SetRecord};

use super::answer::AheadStretch;
use super::coming::{Coming, ComingBasket};
use super::to_f64;
use crate::HookDepth;
use crate::depth::hang_on;

/// Depths as they are gathered.
#[derive(Debug, Default)]
struct Depths {
    with_depth: i64,
    in_layer: i64,
    surely: i64,
    shallowest: Option<(f64, Option<f64>)>,
    deepest: Option<(f64, Option<f64>)>,
}

impl Depths {
    /// Takes in a hook that hangs so in so many baskets.
    fn take(&mut self, depth: &HookDepth, baskets: i64, layer: Option<(f64, f64)>) {
        let Some(depth_m) = depth.depth_m else { return };
        let band_m = depth.band_m;
        self.with_depth += baskets;
        if let Some((upper_m, lower_m)) = layer {
            self.in_layer += baskets * i64::from((upper_m..=lower_m).contains(&depth_m));
            let sure = |band_m: f64| depth_m - band_m >= upper_m && depth_m + band_m <= lower_m;
            self.surely += baskets * i64::from(band_m.is_some_and(sure));
        }
        if self.shallowest.is_none_or(|(other_m, _)| depth_m < other_m) {
            self.shallowest = Some((depth_m, band_m));
        }
        if self.deepest.is_none_or(|(other_m, _)| depth_m > other_m) {
            self.deepest = Some((depth_m, band_m));
        }
    }
}

pub(super) fn stretches(set: &SetRecord, depths: &[HookDepth], coming: &Coming) -> Vec<AheadStretch> {
    let courses = courses(set);
    let mut begins: Vec<i64> = set.outgoing.gear_from.iter().map(|gear| gear.basket).collect();
    begins.extend(courses.iter().map(|(basket, _)| *basket));
    let mut all = Vec::new();
    let mut from = 0;
    for to in 1..=set.baskets.len() {
        let ends = set.baskets.get(to).is_none_or(|basket| begins.contains(&basket.basket));
        if ends {
            all.extend(out(set, depths, &set.baskets[from..to], &courses));
            from = to;
        }
    }
    let same = |a: &ComingBasket, b: &ComingBasket| {
        a.course_deg_true == b.course_deg_true
            && set.outgoing.gear_for(a.basket.basket) == set.outgoing.gear_for(b.basket.basket)
    };
    all.extend(coming.baskets.chunk_by(same).filter_map(|chunk| ahead(set, chunk)));
    all
}

/// The baskets at which another course begins, with it: those whose float went out nearest to its telling.
fn courses(set: &SetRecord) -> Vec<(i64, f64)> {
    let nearest = |at: UtcInstant| {
        let off_us = |clipped: UtcInstant| (clipped.micros() - at.micros()).abs();
        let timed = set.places.iter().filter_map(|place| Some((place.place, place.clipped_at?)));
        timed.min_by_key(|(_, clipped)| off_us(*clipped)).map(|(place, _)| place)
    };
    set.outgoing.courses.iter().filter_map(|(at, course)| Some((nearest(*at)?, *course))).collect()
}

/// A stretch that is out; none when nothing of it is in the water any more.
fn out(set: &SetRecord, depths: &[HookDepth], baskets: &[Basket], courses: &[(i64, f64)]) -> Option<AheadStretch> {
    let layer = set.outgoing.wanted_layer_m;
    let (first, last) = (baskets.first()?, baskets.last()?);
    let mut found = Depths::default();
    let mut hooks = 0;
    for basket in baskets {
        let own = usize::try_from(basket.hooks).unwrap_or(0);
        for (hook, depth) in set.hooks.iter().zip(depths).skip(basket.first_hook).take(own) {
            if hook.fate == HookFate::InWater {
                hooks += 1;
                found.take(depth, 1, layer);
            }
        }
    }
    if hooks == 0 {
        return None;
    }
    let at = |place: i64| set.places.iter().find(|at| at.place == place);
    let told = courses.iter().rfind(|(basket, _)| *basket <= first.basket);
    let made_good = || {
        let from = at(first.basket)?.position?;
        let to = at(last.basket + 1).or_else(|| at(last.basket))?.position?;
        let leg = geodesic::inverse(from, to);
        (leg.distance_m > 100.0).then_some(quantity::wrap_bearing_deg(leg.bearing_start_deg))
    };
    let ratios: Vec<f64> = baskets.iter().filter_map(|basket| basket.sag_ratio).collect();
    let mean = (!ratios.is_empty()).then(|| ratios.iter().sum::<f64>() / to_f64(super::count(ratios.len())));
    let course = told.map(|(_, course)| *course).or_else(made_good);
    Some(told_of(first, last.basket, false, course, hooks, mean, layer.is_some(), &found))
}

/// A stretch to come; none without hooks. Baskets of one kind are hung once.
fn ahead(set: &SetRecord, chunk: &[ComingBasket]) -> Option<AheadStretch> {
    let layer = set.outgoing.wanted_layer_m;
    let (first, last) = (chunk.first()?, chunk.last()?);
    let mut found = Depths::default();
    let alike = |a: &ComingBasket, b: &ComingBasket| {
        a.out == b.out && Basket { basket: b.basket.basket, ..a.basket.clone() } == b.basket
    };
    for same in chunk.chunk_by(alike) {
        let hung = hang_on(set, &same[0].basket, same[0].course_deg_true);
        for position in same[0].out + 1..=same[0].basket.hooks {
            found.take(&hung.hook(position, None), super::count(same.len()), layer);
        }
    }
    let hooks: i64 = chunk.iter().map(ComingBasket::hooks).sum();
    if hooks == 0 {
        return None;
    }
    // What is left of the basket being hung may be the only thing in it.
    let whole = chunk.iter().find(|basket| basket.out == 0).unwrap_or(first);
    let begins = if first.hooks() > 0 { first } else { whole };
    let ratio = whole.basket.sag_ratio;
    let named = Basket { basket: begins.basket.basket, ..whole.basket.clone() };
    Some(told_of(&named, last.basket.basket, true, first.course_deg_true, hooks, ratio, layer.is_some(), &found))
}

#[expect(clippy::too_many_arguments, reason = "one place puts the answer together")]
fn told_of(
    first: &Basket,
    to_basket: i64,
    to_come: bool,
    course_deg_true: Option<f64>,
    hooks: i64,
    sag_ratio: Option<f64>,
    layered: bool,
    found: &Depths,
) -> AheadStretch {
    let counted = |hooks: i64| (layered && found.with_depth > 0).then_some(hooks);
    AheadStretch {
        from_basket: first.basket,
        to_basket,
        to_come,
        course_deg_true,
        hooks,
        hooks_per_basket: (first.hooks > 0).then_some(first.hooks),
        float_line_m: first.float_line_m,
        branch_line_m: first.branch_line_m,
        sag_ratio,
        hooks_with_depth: found.with_depth,
        hooks_in_layer: counted(found.in_layer),
        hooks_surely_in_layer: counted(found.surely),
        shallowest_m: found.shallowest.map(|(depth_m, _)| depth_m),
        shallowest_band_m: found.shallowest.and_then(|(_, band_m)| band_m),
        deepest_m: found.deepest.map(|(depth_m, _)| depth_m),
        deepest_band_m: found.deepest.and_then(|(_, band_m)| band_m),
    }
}
