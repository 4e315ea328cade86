//! What may be wrong with a recorder's readings: their order, their pace, their sign, their range, the surface level.
//!
//! The limits are judgements: they decide what is told, and never change a depth. Only the surface level is taken off.

use super::doubt::Doubt;
use super::mapping::{Mapping, Positive};
use super::reading::Sample;

/// Readings further apart than this are too few for the cutting and for the swings of the gear.
const SLOW_S: f64 = 120.0;
/// Deeper than this a recorder is in the water.
pub(super) const IN_WATER_M: f64 = 5.0;
/// A level of the surface further off than this is not taken off.
const SURFACE_LIMIT_M: f64 = 4.0;
/// Gaps told one by one.
const GAPS_TOLD: usize = 5;

/// Sorts by time and keeps the first of readings at one moment.
pub(super) fn put_in_order(file: &str, samples: &mut Vec<Sample>, doubts: &mut Vec<Doubt>) {
    let backward = samples.windows(2).filter(|pair| pair[1].utc < pair[0].utc).count();
    if let Some(pair) = samples.windows(2).find(|pair| pair[1].utc < pair[0].utc) {
        let text = format!(
            "times run backwards {backward} times, first from {} to {}; the readings were put in order of time. Was the clock \
             changed, or are two records in one file?",
            pair[0].utc, pair[1].utc
        );
        doubts.push(Doubt::new("times_backwards", file, text));
        samples.sort_by_key(|sample| sample.utc);
    }
    let before = samples.len();
    let first = samples.windows(2).find(|pair| pair[0].utc == pair[1].utc).map(|pair| pair[0].utc);
    samples.dedup_by_key(|sample| sample.utc);
    if let Some(first) = first {
        let text = format!(
            "{} readings bear a time that was there already, first {first}; the first reading of each moment was kept.",
            before - samples.len()
        );
        doubts.push(Doubt::new("times_double", file, text));
    }
}

/// The usual time from one reading to the next, seconds.
pub(super) fn interval_s(samples: &[Sample]) -> Option<f64> {
    let mut steps: Vec<f64> = samples.windows(2).map(|pair| pair[1].utc.seconds_since(pair[0].utc)).collect();
    middle(&mut steps)
}

/// Doubts about gaps and about readings too far apart.
pub(super) fn gaps_and_pace(file: &str, samples: &[Sample], interval_s: Option<f64>, doubts: &mut Vec<Doubt>) {
    let Some(interval_s) = interval_s else {
        doubts.push(Doubt::new("one_reading", file, "there is only one reading."));
        return;
    };
    if interval_s > SLOW_S {
        let text = format!(
            "it read every {interval_s:.0} s; sinking, hauling and fish show well only at {SLOW_S:.0} s or less (10 to 60 s is good)."
        );
        doubts.push(Doubt::new("slow_sampling", file, text));
    }
    let longest_s = (3.0 * interval_s).max(30.0);
    let gaps: Vec<_> = samples.windows(2).filter(|pair| pair[1].utc.seconds_since(pair[0].utc) > longest_s).collect();
    for pair in gaps.iter().take(GAPS_TOLD) {
        let minutes = pair[1].utc.seconds_since(pair[0].utc) / 60.0;
        let text = format!(
            "no reading from {} to {} ({minutes:.1} minutes); nothing was filled in.",
            pair[0].utc, pair[1].utc
        );
        doubts.push(Doubt::new("gap", file, text));
    }
    if gaps.len() > GAPS_TOLD {
        let text = format!("{} more gaps of more than {longest_s:.0} s.", gaps.len() - GAPS_TOLD);
        doubts.push(Doubt::new("gap", file, text));
    }
}

/// A depth that grows the other way than stated. Never turned over here.
pub(super) fn upside_down(
    file: &str,
    samples: &[Sample],
    mapping: &Mapping,
    doubts: &mut Vec<Doubt>,
) -> Option<String> {
    let above = samples.iter().filter(|sample| sample.depth_m < -IN_WATER_M).count();
    let below = samples.iter().filter(|sample| sample.depth_m > IN_WATER_M).count();
    let highest_m = samples.iter().map(|sample| -sample.depth_m).fold(f64::NEG_INFINITY, f64::max);
    if above <= below || highest_m < 15.0 {
        return None;
    }
    let stated = mapping.depth.as_ref().and_then(|depth| depth.positive);
    let advice = match (mapping.depth.is_some(), stated) {
        (false, _) => "the pressure falls as the recorder sinks; look at the column",
        (true, Some(Positive::Up)) => {
            "the mapping says positive: up, but the numbers grow downwards: say positive: down"
        }
        (true, Some(Positive::Down)) => {
            "the mapping says positive: down, but the numbers grow upwards: say positive: up"
        }
        (true, None) => "if the file counts depth as negative, say positive: up in the mapping",
    };
    let text = format!(
        "as it is mapped the recorder would be up to {highest_m:.0} m above the surface ({above} readings, {below} in the \
         water): upside down; {advice}. The readings were not turned over and not used."
    );
    doubts.push(Doubt::new("upside_down", file, text));
    Some("its depths are upside down".to_owned())
}

/// A range that ends: many readings at exactly the deepest value, far fewer just above it.
pub(super) fn clipped(file: &str, samples: &[Sample], doubts: &mut Vec<Doubt>) {
    let mut depths_m: Vec<f64> = samples.iter().map(|sample| sample.depth_m).filter(|d| *d > IN_WATER_M).collect();
    depths_m.sort_by(|a, b| b.total_cmp(a));
    let Some(deepest_m) = depths_m.first().copied() else { return };
    let mut piles = depths_m.chunk_by(|a, b| a.total_cmp(b).is_eq()).map(<[f64]>::len);
    let at_end = piles.next().unwrap_or(0);
    let next = piles.take(3).max().unwrap_or(0);
    if at_end >= 10 && at_end > 3 * next && at_end * 100 > depths_m.len() {
        let text = format!(
            "{at_end} readings stand at exactly {deepest_m:.1} m, its deepest: either the range of the sensor ends there and \
             it was deeper, or the gear hung perfectly still. They were kept; compare with the sensor's range."
        );
        doubts.push(Doubt::new("clipped", file, text));
    }
}

/// Takes off what the recorder shows at the surface: as stated, or as it stood before and after it was in the water.
/// Answers what was taken off at the first and at the last reading.
pub(super) fn take_off_surface(
    file: &str,
    samples: &mut [Sample],
    stated_m: Option<f64>,
    unfit: bool,
    doubts: &mut Vec<Doubt>,
) -> [f64; 2] {
    let offset_m = match stated_m {
        Some(stated_m) => [stated_m; 2],
        None if unfit => [0.0; 2],
        None => {
            let before_m = level(file, "before", samples.iter(), doubts);
            let after_m = level(file, "after", samples.iter().rev(), doubts);
            match (before_m, after_m) {
                (Some(before_m), Some(after_m)) => [before_m, after_m],
                (Some(one_m), None) | (None, Some(one_m)) => [one_m; 2],
                (None, None) => {
                    let text = "it has no steady readings at the surface, before or after: its zero could not be checked \
                                and nothing was taken off.";
                    doubts.push(Doubt::new("surface_unknown", file, text));
                    [0.0; 2]
                }
            }
        }
    };
    let [before_m, after_m] = offset_m;
    if (before_m - after_m).abs() > 2.0 {
        let text = format!(
            "at the surface it showed {before_m:.1} m before and {after_m:.1} m after; the change was spread evenly over the record."
        );
        doubts.push(Doubt::new("surface_drifts", file, text));
    }
    if let (Some(first), Some(last)) = (samples.first().map(|s| s.utc), samples.last().map(|s| s.utc)) {
        let span_s = last.seconds_since(first).max(1e-6);
        for sample in samples {
            sample.depth_m -= before_m + (after_m - before_m) * sample.utc.seconds_since(first) / span_s;
        }
    }
    offset_m
}

/// The steady level of the readings from one end, metres, when it can be the surface.
fn level<'a>(
    file: &str,
    when: &str,
    samples: impl Iterator<Item = &'a Sample>,
    doubts: &mut Vec<Doubt>,
) -> Option<f64> {
    let mut run: Vec<f64> = Vec::new();
    for sample in samples {
        // Against the first few: a slow creep downwards must not be followed.
        let start_m = middle(&mut run.iter().copied().take(5).collect::<Vec<_>>()).unwrap_or(sample.depth_m);
        if (sample.depth_m - start_m).abs() > 1.0 || sample.depth_m.abs() > 3.0 * IN_WATER_M {
            break;
        }
        run.push(sample.depth_m);
    }
    if run.len() < 3 {
        return None;
    }
    let level_m = middle(&mut run)?;
    if level_m.abs() <= SURFACE_LIMIT_M {
        return Some(level_m);
    }
    let text = format!(
        "{when} it was in the water it shows a steady {level_m:.1} m, too far off to be the surface; it was not taken off."
    );
    // 1013 hPa weigh as much as 10.1 m of sea water.
    if (level_m.abs() - 10.1).abs() < 1.0 {
        let text =
            format!("{text} That is the pressure of the air: see whether the mapping states atmosphere rightly.");
        doubts.push(Doubt::new("air_pressure", file, text));
    } else {
        doubts.push(Doubt::new("surface_unlikely", file, text));
    }
    None
}

/// The median; none of nothing.
pub(super) fn middle(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    match values.len() {
        0 => None,
        n if n % 2 == 1 => Some(values[half]),
        _ => Some(f64::midpoint(values[half - 1], values[half])),
    }
}
