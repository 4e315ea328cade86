//! The gears that are tried: a grid over the ranges, in round numbers, made finer until enough of it fits the limits.

use std::collections::BTreeMap;

use serde::Serialize;

use super::limits::{Limits, Range};
use super::pace::{Fit, Reason};

/// One gear of the grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Hooks between two floats.
    pub hooks_per_basket: u32,
    /// Span between floats ÷ main line between them.
    pub sag_ratio: f64,
    /// Length of the float lines, metres.
    pub float_line_m: f64,
    /// Main line between two clips, metres.
    pub clip_spacing_m: f64,
}

/// Steps of the grid.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Steps {
    /// Of the hooks between two floats.
    pub hooks_per_basket: u32,
    /// Of the sag ratio.
    pub sag_ratio: f64,
    /// Of the main line between two clips, metres.
    pub clip_spacing_m: f64,
}

/// From the coarsest grid to the finest: hooks, sag ratio, metres.
const LADDER: [(u32, f64, f64); 14] = [
    (25, 0.2, 200.0),
    (10, 0.1, 50.0),
    (4, 0.1, 20.0),
    (2, 0.1, 10.0),
    (2, 0.05, 10.0),
    (2, 0.05, 5.0),
    (1, 0.05, 5.0),
    (1, 0.025, 5.0),
    (1, 0.025, 2.5),
    (1, 0.02, 2.0),
    (1, 0.01, 2.0),
    (1, 0.01, 1.0),
    (1, 0.005, 1.0),
    (1, 0.005, 0.5),
];
/// Gears of a grid at most.
const MOST: usize = 400_000;
/// Gears of a run at most: runs are what is shared out to the cores.
const MOST_IN_A_RUN: usize = 128;

/// The gears that fit, in runs of neighbours (hooks and float line the same), and what was left out.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    pub steps: Steps,
    /// Gears of the grid, those that do not fit included.
    pub size: usize,
    pub runs: Vec<Vec<(Candidate, Fit)>>,
    pub left_out: BTreeMap<Reason, usize>,
}

impl Grid {
    /// The coarsest grid with at least so many gears that fit, or else the finest there is.
    pub(super) fn fine_enough(limits: &Limits, float_takes_a_beat: bool, wanted: u32) -> Self {
        let mut grid = None;
        for (hooks_per_basket, sag_ratio, clip_spacing_m) in LADDER {
            let axes = Axes::of(limits, Steps { hooks_per_basket, sag_ratio, clip_spacing_m });
            if axes.size(limits) > MOST && grid.is_some() {
                break;
            }
            let finer = Self::of(limits, float_takes_a_beat, &axes);
            let enough = finer.runs.iter().map(Vec::len).sum::<usize>() >= wanted as usize;
            grid = Some(finer);
            if enough {
                break;
            }
        }
        grid.unwrap_or_else(|| Self::of(limits, float_takes_a_beat, &Axes::of(limits, Steps::coarsest())))
    }

    fn of(limits: &Limits, float_takes_a_beat: bool, axes: &Axes) -> Self {
        let mut grid = Self { steps: axes.steps, size: axes.size(limits), runs: Vec::new(), left_out: BTreeMap::new() };
        for hooks_per_basket in &axes.hooks {
            for float_line_m in &limits.float_lines_m {
                let mut run = Vec::new();
                for (row, sag_ratio) in axes.sag.iter().rev().enumerate() {
                    // There and back again, so that each gear is a neighbour of the one before it.
                    let step = |place: usize| if row % 2 == 0 { place } else { axes.spacing_m.len() - 1 - place };
                    for place in 0..axes.spacing_m.len() {
                        let candidate = Candidate {
                            hooks_per_basket: *hooks_per_basket,
                            sag_ratio: *sag_ratio,
                            float_line_m: *float_line_m,
                            clip_spacing_m: axes.spacing_m[step(place)],
                        };
                        match Fit::of(&candidate, limits, float_takes_a_beat) {
                            Ok(fit) => run.push((candidate, fit)),
                            Err(reason) => *grid.left_out.entry(reason).or_insert(0) += 1,
                        }
                    }
                }
                grid.runs.extend(run.chunks(MOST_IN_A_RUN).map(<[_]>::to_vec));
            }
        }
        grid
    }
}

impl Steps {
    fn coarsest() -> Self {
        let (hooks_per_basket, sag_ratio, clip_spacing_m) = LADDER[0];
        Self { hooks_per_basket, sag_ratio, clip_spacing_m }
    }
}

/// The values of a grid along its axes; float lines are the limits' own.
struct Axes {
    steps: Steps,
    hooks: Vec<u32>,
    sag: Vec<f64>,
    spacing_m: Vec<f64>,
}

impl Axes {
    fn of(limits: &Limits, steps: Steps) -> Self {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked: whole, 1 to 400")]
        let hooks =
            axis(limits.hooks_per_basket, f64::from(steps.hooks_per_basket)).iter().map(|n| *n as u32).collect();
        Self {
            steps,
            hooks,
            sag: axis(limits.sag_ratio, steps.sag_ratio),
            spacing_m: axis(limits.clip_spacing_m, steps.clip_spacing_m),
        }
    }

    fn size(&self, limits: &Limits) -> usize {
        self.hooks.len() * self.sag.len() * self.spacing_m.len() * limits.float_lines_m.len()
    }
}

/// Both ends of a range, and the multiples of a step between them that are not next to an end.
fn axis(range: Range, step: f64) -> Vec<f64> {
    let mut values = vec![range.from];
    let mut multiple = (range.from / step).floor();
    while multiple * step < range.to {
        // Rounded, so that 3 × 0.1 is 0.3.
        let value = (multiple * step * 1e4).round() / 1e4;
        if value > range.from + 0.2 * step && value < range.to - 0.2 * step {
            values.push(value);
        }
        multiple += 1.0;
    }
    if range.to > range.from {
        values.push(range.to);
    }
    values
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_an_axis_holds_both_ends_and_round_numbers_between() {
        let same = |got: Vec<f64>, want: &[f64]| {
            assert_eq!(got.len(), want.len(), "{got:?}");
            assert!(got.iter().zip(want).all(|(a, b)| (a - b).abs() < 1e-12), "{got:?}");
        };
        same(axis(Range { from: 0.5, to: 0.95 }, 0.1), &[0.5, 0.6, 0.7, 0.8, 0.9, 0.95]);
        same(axis(Range { from: 33.0, to: 51.0 }, 5.0), &[33.0, 35.0, 40.0, 45.0, 51.0]);
        same(axis(Range { from: 7.0, to: 7.0 }, 2.0), &[7.0]);
        same(axis(Range { from: 5.0, to: 8.0 }, 1.0), &[5.0, 6.0, 7.0, 8.0]);
    }
}
