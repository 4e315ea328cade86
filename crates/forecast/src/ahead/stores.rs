//! What is left aboard for the set that goes out: what was counted last, less what is out.

use quantity::UtcInstant;
use voyage::{HookFate, SetRecord, VoyageRecord, plan_number};

use super::answer::{KindLeft, StoreLeft, StoreWhat};
use super::coming::{Coming, ComingBasket};
use super::{count, to_f64};

/// What is left now; none where it was never counted.
#[derive(Debug, Default)]
pub(super) struct Left {
    pub main_line_m: Option<f64>,
    pub hooks_in_bins: Option<i64>,
    pub bins: Vec<(String, i64)>,
    pub bait: Vec<(String, f64)>,
    pub floats: Option<i64>,
    pub radio_buoys: Option<i64>,
}

impl Left {
    pub(super) fn of(voyage: &VoyageRecord, set: &SetRecord) -> Self {
        let aboard = &voyage.aboard;
        let bins = bins(voyage, set);
        let bait = aboard.bait.iter().filter_map(|stock| Some((stock.bait.clone(), stock.pieces_thawed?)));
        let registered = &aboard.radio_buoys;
        Self {
            main_line_m: main_line_m(voyage, set),
            hooks_in_bins: (!bins.is_empty()).then(|| bins.iter().map(|(_, hooks)| hooks).sum()),
            bins,
            bait: bait.collect(),
            floats: aboard.counted("float").map(|(counted, at)| floats(voyage, counted, at)),
            radio_buoys: (!registered.is_empty())
                .then(|| count(registered.iter().filter(|buoy| buoy.in_set.is_none()).count())),
        }
    }
}

/// Main line aboard: as the gear tells, less what is out of every set since and what was lost.
fn main_line_m(voyage: &VoyageRecord, set: &SetRecord) -> Option<f64> {
    let aboard_m = set.gear.main_line_aboard_m?;
    let since = set.gear.described_at?;
    let mut left_m = aboard_m;
    for other in voyage.sets.iter().filter(|other| other.started_at >= since || other.number == set.number) {
        if other.number == set.number {
            left_m -= other.main_line_total_m.unwrap_or(0.0);
            continue;
        }
        for basket in &other.baskets {
            let own = other.hooks.iter().skip(basket.first_hook).take(usize::try_from(basket.hooks).unwrap_or(0));
            // Line goes with most of its hooks: a hook bitten off loses none.
            let (mut hooks, mut gone) = (0, 0);
            for hook in own.filter(|hook| hook.fate != HookFate::Missed) {
                hooks += 1;
                gone += i64::from(hook.fate != HookFate::Hauled);
            }
            if 2 * gone > hooks {
                left_m -= basket.main_line_m.unwrap_or(0.0);
            }
        }
    }
    Some(left_m.max(0.0))
}

/// Hooks left in the bin that is being emptied and in those that follow, of the set's own branch lines.
fn bins(voyage: &VoyageRecord, set: &SetRecord) -> Vec<(String, i64)> {
    let types = &set.gear.branch_lines;
    let of_gear = |name: &String| types.iter().any(|branch| branch.name.as_ref() == Some(name));
    let mut all = Vec::new();
    for bin in &voyage.aboard.bins {
        let fits = bin.branch_types.is_empty() || types.is_empty() || bin.branch_types.iter().any(of_gear);
        let Some(held) = bin.hooks.filter(|_| fits) else { continue };
        let running = set.outgoing.bins.iter().rfind(|run| run.bin == bin.bin && run.ended_at.is_none());
        let left = match running {
            Some(run) => {
                let began = run.started_at.unwrap_or(set.started_at);
                // A bin that was not told to be done is, once the next one is begun.
                let next = set.outgoing.bins.iter().filter_map(|other| other.started_at).filter(|at| *at > began).min();
                let clipped = set.hooks.iter().filter(|hook| hook.fate != HookFate::Missed);
                let out = clipped.filter(|hook| hook.clipped_at.is_some_and(|at| at >= began)).count();
                if next.is_some() { 0 } else { (held - count(out)).max(0) }
            }
            None => held,
        };
        if left > 0 || running.is_some() {
            all.push((bin.bin.clone(), left));
        }
    }
    all
}

/// Floats aboard: as counted, less those clipped since, and with those hauled since.
fn floats(voyage: &VoyageRecord, counted: f64, at: UtcInstant) -> i64 {
    #[expect(clippy::cast_possible_truncation, reason = "a count of floats")]
    let counted = counted as i64;
    let places = voyage.sets.iter().flat_map(|set| &set.places).filter(|place| place.radio_buoy.is_none());
    let moved = places.map(|place| {
        let out = place.clipped_at.is_some_and(|clipped| clipped > at);
        let back = place.hauled_at.is_some_and(|hauled| hauled > at);
        i64::from(back) - i64::from(out)
    });
    (counted + moved.sum::<i64>()).max(0)
}

/// Left against needed.
pub(super) fn stores(set: &SetRecord, left: &Left, coming: &Coming, known: bool) -> Vec<StoreLeft> {
    let hooks = known.then(|| to_f64(coming.hooks()));
    let line_m = known.then(|| coming.baskets.iter().map(ComingBasket::main_line_m).sum::<Option<f64>>()).flatten();
    // Every basket to come ends with a float; some of these are radio buoys.
    let ends = known.then(|| count(coming.baskets.len()));
    let buoys = ends.and_then(|ends| radio_buoys(set, coming, ends));
    let in_place = if set.gear.buoy_in_place_of_float { buoys.unwrap_or(0) } else { 0 };
    let kinds =
        |of: &[(String, f64)]| of.iter().map(|(kind, left)| KindLeft { kind: kind.clone(), left: *left }).collect();
    let bins: Vec<(String, f64)> = left.bins.iter().map(|(bin, hooks)| (bin.clone(), to_f64(*hooks))).collect();
    let bait = (!left.bait.is_empty()).then(|| left.bait.iter().map(|(_, pieces)| pieces).sum::<f64>());
    let one = |what, left: Option<f64>, needed: Option<f64>, of_kinds| StoreLeft {
        what,
        left,
        needed,
        left_at_end: left.zip(needed).map(|(left, needed)| left - needed),
        of_kinds,
    };
    vec![
        one(StoreWhat::MainLineM, left.main_line_m, line_m, Vec::new()),
        one(StoreWhat::HooksInBins, left.hooks_in_bins.map(to_f64), hooks, kinds(&bins)),
        one(StoreWhat::BaitPieces, bait, hooks, kinds(&left.bait)),
        one(StoreWhat::Floats, left.floats.map(to_f64), ends.map(|ends| to_f64(ends - in_place)), Vec::new()),
        one(StoreWhat::RadioBuoys, left.radio_buoys.map(to_f64), buoys.map(to_f64), Vec::new()),
    ]
}

/// Radio buoys still to be launched: every so many hooks by the plan, and one at the end.
fn radio_buoys(set: &SetRecord, coming: &Coming, ends: i64) -> Option<i64> {
    let each = plan_number(set.plan.as_ref(), "hooks_per_radio_buoy").filter(|each| (1.0..=1e6).contains(each))?;
    let (out, to_come) = (to_f64(count(set.hooks.len())), to_f64(coming.hooks()));
    #[expect(clippy::cast_possible_truncation, reason = "a count of buoys")]
    let between = ((out + to_come) / each).floor() as i64 - (out / each).floor() as i64;
    Some((between + i64::from(((out + to_come) / each).fract() > 0.0)).min(ends))
}
