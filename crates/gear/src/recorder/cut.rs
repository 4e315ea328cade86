//! A recorder's readings cut into before, sinking, soak and hauling; medians of the soak and fish marked.
//!
//! Sinking lasts until the depth changes by less than 1 cm/s over 5 minutes; hauling is the monotone rise before the
//! lift. Swings of one or two hours are true motion of the gear and stay in the medians. The limits are judgements.

use quantity::UtcInstant;
use serde::{Deserialize, Serialize};

use super::doubt::Doubt;
use super::inspect::{IN_WATER_M, middle};
use super::reading::{Reading, Sample};
use super::zone::{SetTimes, wrong_zone};

/// Length of a window of the soak, seconds.
pub const WINDOW_S: f64 = 900.0;
const QUIET_S: f64 = 300.0;
const QUIET_M_S: f64 = 0.01;
/// A dry time shorter than this does not end a time in the water: fish pull gear up.
const BRIDGED_S: f64 = 900.0;
/// Backwards in time, a recorder that comes up by more than this was not yet being hauled.
const TURN_M: f64 = 6.0;
/// Further than this from the running median is a fish, or whatever else moves fast.
const FISH_M: f64 = 10.0;

/// A recorder's time in the water, cut into its phases.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Cut {
    /// It went under water; what is before that is before.
    pub in_water_utc: UtcInstant,
    /// Sinking ended, the soak began; null when it never settled.
    pub settled_utc: Option<UtcInstant>,
    /// The rise to the surface began; null when the record does not show it.
    pub hauling_utc: Option<UtcInstant>,
    /// It came out of the water; null when the record does not show it.
    pub out_of_water_utc: Option<UtcInstant>,
    /// From going under water to settled, seconds.
    pub sinking_s: Option<f64>,
    /// Medians over 15 minutes of the soak.
    pub medians: Vec<Median>,
    /// Median depth of the whole soak, metres.
    pub soak_depth_m: Option<f64>,
    /// Excursions of more than 10 m; their readings stay in the medians.
    pub fish: Vec<Excursion>,
}

/// A window of the soak.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Median {
    /// First reading of the window.
    pub from_utc: UtcInstant,
    /// Last reading of the window.
    pub to_utc: UtcInstant,
    /// Median depth, metres.
    pub depth_m: f64,
    /// Half of the readings lie within this of the median, metres.
    pub spread_m: f64,
    /// Readings (means of 10 s where it read faster).
    pub readings: usize,
}

/// A rapid excursion.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Excursion {
    /// First reading off its level.
    pub from_utc: UtcInstant,
    /// Last reading off its level.
    pub to_utc: UtcInstant,
    /// The furthest off its level, metres, down positive.
    pub furthest_m: f64,
}

/// Cuts a reading; none when the recorder was never in the water. Doubts are added to the reading's.
#[must_use]
pub fn cut(reading: &mut Reading, times: &SetTimes) -> Option<Cut> {
    let samples = thinned(&reading.samples);
    let doubts = &mut reading.doubts;
    let file = reading.file.as_str();
    let Some([first, last]) = time_in_water(file, &samples, times, doubts) else {
        doubts.push(Doubt::new("never_in_water", file, format!("it never shows more than {IN_WATER_M:.0} m.")));
        return None;
    };
    let wet = &samples[first..=last];
    let in_water_utc = wet[0].utc;
    if first == 0 {
        let text = "its first reading is under water already: the beginning of the sinking is missing.";
        doubts.push(Doubt::new("starts_under_water", file, text));
    }
    let surfaced = last + 1 < samples.len();
    if !surfaced {
        let text = "its record ends under water: it never surfaced, or the record was stopped before.";
        doubts.push(Doubt::new("never_surfaced", file, text));
    }
    let out_of_water_utc = surfaced.then(|| wet[wet.len() - 1].utc);
    let went_in = (first > 0).then_some(in_water_utc);
    wrong_zone(file, [went_in, out_of_water_utc], times, &mut reading.unfit, doubts);

    let interval_s = reading.interval_s.unwrap_or(WINDOW_S).max(THIN_S);
    let settled = settled(wet);
    let rise = start_of_rise(wet);
    let hauling = rise.filter(|rise| *rise + 1 < wet.len());
    let soak = match settled {
        Some(settled) => &wet[settled..=rise.unwrap_or(wet.len() - 1).max(settled)],
        None => {
            let text = "its depth never came to rest within 1 cm/s over 5 minutes: no soak could be cut out.";
            doubts.push(Doubt::new("never_settled", file, text));
            &wet[..0]
        }
    };
    let medians = medians(soak, interval_s);
    let fish = excursions(soak);
    if !fish.is_empty() {
        let text = format!(
            "{} rapid excursions of more than {FISH_M:.0} m, first at {}: fish on the line, perhaps. They were marked, not taken out.",
            fish.len(),
            fish[0].from_utc
        );
        doubts.push(Doubt::new("fish", file, text));
    }
    let settled_utc = settled.map(|settled| wet[settled].utc);
    Some(Cut {
        in_water_utc,
        settled_utc,
        hauling_utc: hauling.map(|hauling| wet[hauling].utc),
        out_of_water_utc,
        sinking_s: settled_utc.filter(|_| first > 0).map(|settled| settled.seconds_since(in_water_utc)),
        soak_depth_m: middle(&mut soak.iter().map(|sample| sample.depth_m).collect::<Vec<_>>()),
        medians,
        fish,
    })
}

const THIN_S: f64 = 10.0;

/// Means over 10 s where the recorder read faster; the time is that of the first reading.
fn thinned(samples: &[Sample]) -> Vec<Sample> {
    let mut thin: Vec<(Sample, f64)> = Vec::with_capacity(samples.len().min(100_000));
    for sample in samples {
        match thin.last_mut() {
            Some((mean, count)) if sample.utc.seconds_since(mean.utc) < THIN_S - 1e-6 => {
                *count += 1.0;
                mean.depth_m += (sample.depth_m - mean.depth_m) / *count;
            }
            _ => thin.push((*sample, 1.0)),
        }
    }
    thin.into_iter().map(|(mean, _)| mean).collect()
}

/// First and last sample of the time in the water that is this set's: the one that the set's times meet most, else the longest.
fn time_in_water(file: &str, samples: &[Sample], times: &SetTimes, doubts: &mut Vec<Doubt>) -> Option<[usize; 2]> {
    let mut all: Vec<[usize; 2]> = Vec::new();
    for (index, sample) in samples.iter().enumerate().filter(|(_, sample)| sample.depth_m > IN_WATER_M) {
        match all.last_mut() {
            // In one piece, or a dry time too short to matter.
            Some([_, last]) if *last + 1 == index || sample.utc.seconds_since(samples[*last].utc) <= BRIDGED_S => {
                *last = index;
            }
            _ => all.push([index, index]),
        }
    }
    let length_s = |[first, last]: [usize; 2]| samples[last].utc.seconds_since(samples[first].utc);
    let met_s = |[first, last]: [usize; 2]| {
        let from = times.setting.map_or(samples[first].utc, |setting| setting[0].max(samples[first].utc));
        let to = times.hauling.map_or(samples[last].utc, |hauling| hauling[1].min(samples[last].utc));
        to.seconds_since(from).max(0.0)
    };
    let best = all
        .iter()
        .copied()
        .max_by(|a, b| met_s(*a).total_cmp(&met_s(*b)).then(length_s(*a).total_cmp(&length_s(*b))))?;
    let others = all.iter().filter(|run| **run != best && length_s(**run) > 1800.0).count();
    if others > 0 {
        let text = format!(
            "it was in the water {} times for more than half an hour; the time from {} to {} was taken.",
            others + 1,
            samples[best[0]].utc,
            samples[best[1]].utc
        );
        doubts.push(Doubt::new("several_sets", file, text));
    }
    Some(best)
}

/// The first sample after which the depth is at rest for 5 minutes, no shallower than half of what is usual.
fn settled(wet: &[Sample]) -> Option<usize> {
    let usual_m = middle(&mut wet.iter().map(|sample| sample.depth_m).collect::<Vec<_>>())?;
    (0..wet.len()).find(|start| {
        let window: &[Sample] = &wet[*start..];
        let inside = window.partition_point(|sample| sample.utc.seconds_since(window[0].utc) <= QUIET_S).max(3);
        let Some(window) = window.get(..inside) else { return false };
        window[0].depth_m > 0.5 * usual_m && slope_m_s(window).abs() < QUIET_M_S
    })
}

/// Change of depth over time by least squares, m/s.
fn slope_m_s(window: &[Sample]) -> f64 {
    let count = window.len() as f64;
    let time_s = |sample: &Sample| sample.utc.seconds_since(window[0].utc);
    let mean_s = window.iter().map(time_s).sum::<f64>() / count;
    let mean_m = window.iter().map(|sample| sample.depth_m).sum::<f64>() / count;
    let (mut product, mut square) = (0.0, 0.0);
    for sample in window {
        let away_s = time_s(sample) - mean_s;
        product += away_s * (sample.depth_m - mean_m);
        square += away_s * away_s;
    }
    if square > 0.0 { product / square } else { f64::INFINITY }
}

/// Where the monotone rise before the lift begins: backwards from the end as long as it gets deeper by 1 cm/s over 5
/// minutes, stops of a quarter of an hour bridged. The last sample when there is no rise.
fn start_of_rise(wet: &[Sample]) -> Option<usize> {
    let smooth_m: Vec<f64> = (0..wet.len())
        .map(|at| {
            let around = &wet[at.saturating_sub(1)..(at + 2).min(wet.len())];
            middle(&mut around.iter().map(|sample| sample.depth_m).collect::<Vec<_>>()).unwrap_or(wet[at].depth_m)
        })
        .collect();
    let mut start = wet.len().checked_sub(1)?;
    let (mut deepest_m, mut soon) = (smooth_m[start], start);
    for at in (0..start).rev() {
        // The last sample within 5 minutes after this one, at least the next.
        while soon > at + 1 && wet[soon].utc.seconds_since(wet[at].utc) > QUIET_S {
            soon -= 1;
        }
        if smooth_m[at] > smooth_m[soon] + QUIET_S * QUIET_M_S && smooth_m[at] > smooth_m[start] {
            start = at;
        }
        deepest_m = deepest_m.max(smooth_m[at]);
        let turned = smooth_m[at] < deepest_m - TURN_M;
        if turned || wet[start].utc.seconds_since(wet[at].utc) > WINDOW_S {
            break;
        }
    }
    // That began up to 5 minutes early: on to the last sample still at its level.
    let level_m = smooth_m[start] - QUIET_S * QUIET_M_S;
    let at_level = smooth_m[start..].iter().take_while(|depth_m| **depth_m > level_m).count();
    Some(start + at_level.saturating_sub(1))
}

fn medians(soak: &[Sample], interval_s: f64) -> Vec<Median> {
    let Some(start) = soak.first().map(|sample| sample.utc) else { return Vec::new() };
    let window = |sample: &Sample| (sample.utc.seconds_since(start) / WINDOW_S).floor();
    let enough = (0.4 * WINDOW_S / interval_s).ceil().max(1.0);
    soak.chunk_by(|a, b| window(a).total_cmp(&window(b)).is_eq())
        .filter(|samples| samples.len() as f64 >= enough)
        .filter_map(|samples| {
            let mut depths_m: Vec<f64> = samples.iter().map(|sample| sample.depth_m).collect();
            let depth_m = middle(&mut depths_m)?;
            let mut away_m: Vec<f64> = depths_m.iter().map(|one_m| (one_m - depth_m).abs()).collect();
            Some(Median {
                from_utc: samples[0].utc,
                to_utc: samples[samples.len() - 1].utc,
                depth_m,
                spread_m: middle(&mut away_m)?,
                readings: samples.len(),
            })
        })
        .collect()
}

/// Samples more than 10 m from the median of the half hour around them, joined when they touch.
fn excursions(soak: &[Sample]) -> Vec<Excursion> {
    let mut found: Vec<(Excursion, usize)> = Vec::new();
    let (mut from, mut to) = (0, 0);
    for (at, sample) in soak.iter().enumerate() {
        while sample.utc.seconds_since(soak[from].utc) > WINDOW_S {
            from += 1;
        }
        while to < soak.len() && soak[to].utc.seconds_since(sample.utc) <= WINDOW_S {
            to += 1;
        }
        // The same reach to both sides: a steady change of depth has its median in the middle.
        let reach = (at - from).min(to - 1 - at);
        let mut around: Vec<f64> = soak[at - reach..=at + reach].iter().map(|one| one.depth_m).collect();
        let Some(level_m) = middle(&mut around) else { continue };
        let away_m = sample.depth_m - level_m;
        if away_m.abs() <= FISH_M {
            continue;
        }
        match found.last_mut() {
            Some((event, last)) if at - *last <= 3 => {
                event.to_utc = sample.utc;
                if away_m.abs() > event.furthest_m.abs() {
                    event.furthest_m = away_m;
                }
                *last = at;
            }
            _ => found.push((Excursion { from_utc: sample.utc, to_utc: sample.utc, furthest_m: away_m }, at)),
        }
    }
    found.into_iter().map(|(event, _)| event).collect()
}
