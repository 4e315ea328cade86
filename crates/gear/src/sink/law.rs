//! Sinking in one formula: 98 % of the way down takes 0.9 × sag ÷ terminal speed, at nearly even speed with a sharp finish.
//!
//! Fitted to a lumped-mass code in time (MoorDyn-C 2.7.2, two segments an interval; 16 intervals of 45 m, sag ratio 0.70,
//! 3.6 mm nylon, 0.6 N for each branch line, laid flat in still water): 25, 50, 75, 90, 95 and 98 % of the way after 460,
//! 910, 1,350, 1,760, 1,900 and 2,000 s. Each hook by how far its clip comes to hang below the float line's end. A stand-in where following the line takes too long.

use super::{History, Laid, SinkPlan};
use crate::error::GearError;
use crate::hang::{Hung, Rig};
use crate::march::Strand;
use crate::parts::{MainLine, Water};

/// Share of the way done, and time ÷ time to 98 %. The end is where the same run stood within 0.1 % of rest.
const SHAPE: [(f64, f64); 8] =
    [(0.0, 0.0), (0.25, 0.23), (0.5, 0.455), (0.75, 0.675), (0.9, 0.88), (0.95, 0.95), (0.98, 1.0), (1.0, 1.1)];
const SLOWNESS: f64 = 0.9;

/// Speed at which the main line sinks level, its branch lines spread along it: √(2 w ÷ (ρ C_d d)), m/s (weight in balance
/// with drag).
pub(super) fn terminal_speed_m_s(strand: &Strand, water: &Water, main_line: &MainLine) -> Result<f64, GearError> {
    let weight_n_m = strand.weight_n() / strand.line_m;
    let width = water.density_kg_m3 * main_line.drag_normal * main_line.diameter_mm / 1000.0;
    Ok((2.0 * weight_n_m / width).sqrt())
}

/// Seconds to 98 % of the way.
pub(crate) fn t98_s(sag_m: f64, terminal_m_s: f64) -> f64 {
    SLOWNESS * sag_m / terminal_m_s
}

/// The tracks of the hooks.
pub(super) fn history(hung: &Hung, plan: &SinkPlan, rig: &Rig, terminal_m_s: f64) -> History {
    let lead = if rig.basket.float_takes_a_beat { 0.0 } else { 0.5 };
    let mut out = History::default();
    for hook in &hung.hooks {
        let (clipped_s, start_m) = match plan.laid {
            Laid::Flat => (0.0, hung.ends_depth_m + rig.basket.branch_line_m),
            Laid::OverTheStern { beat_s } => ((f64::from(hook.position) - lead) * beat_s, 0.0),
        };
        let way_m = hook.depth_m - start_m;
        let drop_m = hook.depth_m - hung.ends_depth_m - rig.basket.branch_line_m;
        let whole_s = t98_s(drop_m.max(1.0), terminal_m_s);
        let track = SHAPE.iter().map(|(done, time)| (clipped_s + time * whole_s, start_m + done * way_m)).collect();
        out.clipped_s.push(clipped_s);
        out.tracks.push(track);
    }
    out
}
