//! Sinking and settling: the depth of every hook from its clipping until it hangs at rest.
//!
//! Model [`MODEL`]: the chain of the main line without inertia, stepped in time with the drag of its own motion (see
//! [`crate::chain::step`]), either laid flat all at once at the depth of the float line's end, or paid out over the stern beat by beat.
//! Over the stern each hook first sinks by itself until its branch line is stretched, and loads the main line from then on
//! (free fall apart, then joint sinking: Habano et al. 2004, Nippon Suisan Gakkaishi 70(1) 48–53, abstract read).
//! Against MoorDyn-C 2.7.2 with as many segments the settling times agree within 1 % (laid flat). Both depend on the number of elements: the
//! more, the shorter.
//!
//! Model [`LAW_MODEL`]: the same in one formula, see [`law`].

pub mod law;
mod lowering;

use serde::{Deserialize, Serialize};

use crate::error::{GearError, above_up_to};
use crate::hang::{HangOptions, Hung, Ready, Rig};
use crate::parts::Water;
use lowering::{History, lower};

/// Name of the model that follows the line in time.
pub const MODEL: &str = "sinking chain without inertia, stepped in time";
/// Name of the formula.
pub const LAW_MODEL: &str = "law t98 = 0.9 sag / terminal speed, shape of MoorDyn-C 2.7.2 (a stand-in)";
/// How fast a hook sinks until its branch line is stretched, m/s: mean over 0 to 30 m of Habano et al. 2004 (18.7 ± 3.6 cm/s).
pub const HOOK_SINK_M_S: f64 = 0.187;

/// How the basket comes into the water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Laid {
    /// All at once, zigzag, level with the lower ends of the float lines, branch lines stretched.
    Flat,
    /// Over the stern, a clip every `beat_s`.
    OverTheStern {
        /// Seconds from clip to clip.
        beat_s: f64,
    },
}

/// By which model.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum SinkMethod {
    /// The line followed in time.
    #[default]
    Computed,
    /// The formula.
    Law,
}

/// What is asked about sinking.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SinkPlan {
    /// How the basket comes into the water.
    pub laid: Laid,
    /// By which model.
    pub method: SinkMethod,
    /// A hook has settled when this share of its way is done for good, above 0 and below 1.
    pub settled_at_fraction: f64,
    /// How fast a hook sinks until its branch line is stretched, m/s.
    pub hook_sink_speed_m_s: f64,
}

/// A basket on its way down. Times from the clip of its first float.
#[derive(Debug, Clone, PartialEq)]
pub struct Sunk {
    /// The model that these numbers come from.
    pub model: &'static str,
    /// Speed at which the main line sinks level with its branch lines, m/s.
    pub terminal_speed_m_s: f64,
    /// Until the deepest hook has done 98 % of its way, from its clipping, seconds; none when it did not within the time
    /// followed.
    pub t98_s: Option<f64>,
    /// The same by the formula, seconds.
    pub t98_by_law_s: f64,
    /// Every hook in setting order.
    pub hooks: Vec<SinkingHook>,
    /// The basket at rest.
    pub hung: Hung,
}

/// One hook on its way down.
#[derive(Debug, Clone, PartialEq)]
pub struct SinkingHook {
    /// Hook position in setting order, from 1.
    pub position: u32,
    /// When it was clipped, seconds.
    pub clipped_s: f64,
    /// When it had settled, seconds; none when it did not within the time followed.
    pub settled_s: Option<f64>,
    /// Depth at rest, metres.
    pub depth_m: f64,
    /// Seconds and depths on the way, from the clipping on.
    track: Vec<(f64, f64)>,
}

impl SinkingHook {
    /// Depth so many seconds after its clipping, metres.
    #[must_use]
    pub fn depth_after(&self, after_s: f64) -> f64 {
        depth_at(&self.track, self.clipped_s + after_s)
    }

    /// From its clipping until it had settled, seconds; none when it did not within the time followed.
    #[must_use]
    pub fn sinking_s(&self) -> Option<f64> {
        self.settled_s.map(|settled_s| settled_s - self.clipped_s)
    }

    /// How long it fishes at its depth, from settled to lifted, seconds, when it is lifted so long after its clipping; 0 for
    /// one that is lifted sooner, or never settles.
    #[must_use]
    pub fn fishing_s(&self, lifted_after_s: f64) -> f64 {
        self.sinking_s().map_or(0.0, |sinking_s| (lifted_after_s - sinking_s).max(0.0))
    }
}

/// How the hooks of a basket sink and when each has settled.
///
/// # Errors
/// As [`crate::hang_basket`], and [`GearError::NotConverged`] when a step in time finds no balance.
pub fn sink_basket(rig: &Rig, water: &Water, options: &HangOptions, plan: &SinkPlan) -> Result<Sunk, GearError> {
    check(rig, plan)?;
    let (ready, solved, _) = Ready::solved(rig, water, options)?;
    let hung = ready.describe(&solved);
    let terminal_m_s = law::terminal_speed_m_s(&ready.strand, water, &rig.main_line)?;
    let t98_by_law_s = law::t98_s(hung.sag_m, terminal_m_s);
    let parts = ready.options.elements_per_interval as usize;
    let branches_m: Vec<f64> =
        hung.hooks.iter().map(|hook| hook.depth_m - hung.nodes[hook.position as usize * parts].depth_m).collect();
    let history = match plan.method {
        SinkMethod::Computed => lower(&ready, &solved, plan, terminal_m_s, &branches_m)?,
        SinkMethod::Law => law::history(&hung, plan, rig, terminal_m_s),
    };
    let hooks: Vec<SinkingHook> = hung
        .hooks
        .iter()
        .zip(&history.clipped_s)
        .zip(&history.tracks)
        .enumerate()
        .map(|(index, ((hook, clipped_s), track))| {
            // Where the line's own rest differs a little from the balanced shape, the latter is told.
            let rest_m = history.rest_m.as_ref().map_or(hook.depth_m, |rest_m| rest_m[index]);
            let scale = hook.depth_m / rest_m;
            let track: Vec<(f64, f64)> = track.iter().map(|(at_s, depth_m)| (*at_s, depth_m * scale)).collect();
            let settled_s = settled_at(&track, hook.depth_m, plan.settled_at_fraction);
            SinkingHook { position: hook.position, clipped_s: *clipped_s, settled_s, depth_m: hook.depth_m, track }
        })
        .collect();
    let deepest = hooks.iter().max_by(|a, b| a.depth_m.total_cmp(&b.depth_m));
    let t98_s = deepest.and_then(|hook| Some(settled_at(&hook.track, hook.depth_m, 0.98)? - hook.clipped_s));
    Ok(Sunk {
        model: if plan.method == SinkMethod::Law { LAW_MODEL } else { MODEL },
        terminal_speed_m_s: terminal_m_s,
        t98_s,
        t98_by_law_s,
        hooks,
        hung,
    })
}

fn check(rig: &Rig, plan: &SinkPlan) -> Result<(), GearError> {
    if let Laid::OverTheStern { beat_s } = plan.laid {
        above_up_to("beat_s", beat_s, (0.0, 600.0), " s", "above 0 and up to 600 s")?;
    }
    if !(plan.settled_at_fraction > 0.0 && plan.settled_at_fraction < 1.0) {
        let (value, rule) = (plan.settled_at_fraction, "above 0 and below 1");
        return Err(GearError::OutOfRange { field: "settled_at_fraction", value, unit: "", rule });
    }
    above_up_to("hook_sink_speed_m_s", plan.hook_sink_speed_m_s, (0.0, 5.0), " m/s", "above 0 and up to 5 m/s")?;
    above_up_to("main_line.drag_normal", rig.main_line.drag_normal, (0.0, 20.0), "", "above 0 for sinking")?;
    Ok(())
}

/// The depth of a track at a moment, linear between its points and held beyond.
fn depth_at(track: &[(f64, f64)], at_s: f64) -> f64 {
    let after = track.partition_point(|(time_s, _)| *time_s <= at_s);
    match (after.checked_sub(1).and_then(|before| track.get(before)), track.get(after)) {
        (Some((from_s, from_m)), Some((to_s, to_m))) => from_m + (to_m - from_m) * (at_s - from_s) / (to_s - from_s),
        (Some((_, depth_m)), None) | (None, Some((_, depth_m))) => *depth_m,
        (None, None) => f64::NAN,
    }
}

/// When a track comes for good within what `fraction` of its way leaves; none when it never does.
fn settled_at(track: &[(f64, f64)], rest_m: f64, fraction: f64) -> Option<f64> {
    let start_m = track.first()?.1;
    let left_m = (1.0 - fraction) * (rest_m - start_m).abs();
    let off_m = |point: &(f64, f64)| (point.1 - rest_m).abs();
    let Some(last_out) = track.iter().rposition(|point| off_m(point) > left_m) else { return Some(track.first()?.0) };
    let (before, after) = (track.get(last_out)?, track.get(last_out + 1)?);
    let share = (off_m(before) - left_m) / (off_m(before) - off_m(after));
    Some(before.0 + share * (after.0 - before.0))
}
