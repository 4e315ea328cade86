//! One basket hanging in a moving sea: the depth of every hook, with the proof that its forces balance.
//!
//! Model: elastic main line under its weight, branch lines as loads, quadratic drag in a current over depth
//! (`march.rs`); ends held, or an endless row of alike baskets drifting freely (`drift.rs`). A branch line leans as a
//! stiff rod on a hinge with its weight at the hook and its drag spread along it: tan θ = ½ drag ÷ weight.

use serde::{Deserialize, Serialize};

use crate::band::{InputErrors, bands};
use crate::catenary::{Basket, HookPlace};
use crate::current::Profile;
use crate::drift::{Effort, free_row_with};
use crate::error::{GearError, above_up_to, from_up_to};
use crate::float_line::Tether;
use crate::march::Strand;
use crate::parts::{BranchLine, Float, FloatLine, MainLine, Water};
use crate::shape::Shape;
use crate::shoot::{Ends, Pull, Shot, close, still_start};
use crate::vector::{Vector, norm};

/// Name of the model, as it stands in every output.
pub const MODEL: &str = "elastic line in a current, forces balanced";

/// Everything that one basket is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rig {
    /// Hooks, spacing, sag ratio, lengths.
    pub basket: Basket,
    /// The main line.
    pub main_line: MainLine,
    /// The branch lines.
    pub branch: BranchLine,
    /// The float lines; without drag when none.
    pub float_line: Option<FloatLine>,
    /// The floats; without drag when none.
    pub float: Option<Float>,
}

/// How the ends of a basket are held.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum EndsHeld {
    /// The lower ends of the float lines are held; the current is the one relative to them.
    Fixed,
    /// An endless row of such baskets drifts freely.
    #[default]
    Drifting,
}

/// How to compute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HangOptions {
    /// Direction from the first float to the next, degrees true.
    pub line_bearing_deg_true: f64,
    /// How the ends are held.
    pub ends: EndsHeld,
    /// Branch lines as loads at their clips; false spreads them along the line.
    pub point_loads: bool,
    /// Straight elements for each clip interval, 1 to 64.
    pub elements_per_interval: u32,
}

impl Default for HangOptions {
    fn default() -> Self {
        Self { line_bearing_deg_true: 0.0, ends: EndsHeld::Drifting, point_loads: true, elements_per_interval: 2 }
    }
}

/// A point of the main line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Node {
    /// From 0, the lower end of the first float line.
    pub index: u32,
    /// Unstretched main line from there, metres.
    pub along_m: f64,
    /// Horizontally from there along the line bearing, metres.
    pub horizontal_m: f64,
    /// Horizontally to starboard of the line bearing, metres.
    pub across_m: f64,
    /// Below the surface, metres.
    pub depth_m: f64,
    /// Pull in the line, N; at a clip the mean of before and after it.
    pub tension_n: f64,
}

/// A velocity over ground of the whole gear, towards.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Drift {
    /// Towards east, m/s.
    pub east_m_s: f64,
    /// Towards north, m/s.
    pub north_m_s: f64,
}

/// A basket hanging in the current.
#[derive(Debug, Clone, PartialEq)]
pub struct Hung {
    /// Angle of the main line below the horizontal at the first float line, degrees.
    pub sag_angle_deg: f64,
    /// Unstretched main line, metres.
    pub main_line_m: f64,
    /// Distance between the lower ends of the float lines, metres.
    pub span_m: f64,
    /// From the lower end of the float lines down to the deepest point of the main line, metres.
    pub sag_m: f64,
    /// Every hook in setting order.
    pub hooks: Vec<HookPlace>,
    /// The main line, end to end.
    pub nodes: Vec<Node>,
    /// Pull at the two ends, N.
    pub end_tension_n: [f64; 2],
    /// What all forces leave over, summed anew from the nodes, N.
    pub force_closure_n: f64,
    /// How far the far end is from where it is held, metres.
    pub end_gap_m: f64,
    /// Marches along the line that were needed.
    pub iterations: u32,
    /// Straight elements for each clip interval: as asked for, or more where these had no balanced shape.
    pub elements_per_interval: u32,
    /// Velocity of the free row; none with held ends.
    pub drift: Option<Drift>,
    /// Horizontal force left on a basket of the free row, N; none with held ends.
    pub net_force_n: Option<f64>,
    /// Lower end of the float lines below the surface, metres.
    pub ends_depth_m: f64,
    /// What a float has to carry, N down: the gear under it and the pull that the line's lean costs.
    pub float_load_n: f64,
}

/// A solved basket as a start for the next one that is nearly alike.
#[derive(Debug, Clone)]
pub struct Start {
    pull: Pull,
    velocity_m_s: [f64; 2],
}

/// Where a solution lies, without its elements: the start for a basket nearly alike that is cut otherwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Near {
    /// The line's pull on its first end, N.
    pub pull_n: Vector,
    /// Horizontal velocity of the row, m/s.
    pub velocity_m_s: [f64; 2],
}

/// Where every hook of a basket hangs in a current.
///
/// # Errors
/// [`GearError::OutOfRange`] and its kin for numbers that gear cannot have, [`GearError::NotConverged`] when no
/// balanced shape was found.
pub fn hang_basket(rig: &Rig, water: &Water, options: &HangOptions) -> Result<Hung, GearError> {
    let (ready, solved, _) = Ready::solved(rig, water, options)?;
    Ok(ready.describe(&solved))
}

/// The same from a solved basket that is nearly alike, and the start for the next: along a line, or as the current changes,
/// it takes two or three rounds then. A start that does not fit (other intervals or elements) is passed over.
///
/// # Errors
/// As [`hang_basket`].
pub fn hang_basket_from(
    rig: &Rig,
    water: &Water,
    options: &HangOptions,
    start: Option<&Start>,
) -> Result<(Hung, Start), GearError> {
    let (ready, solved, start) = match start {
        Some(start) => {
            let ready = Ready::new(rig, water, options)?;
            let fits = start.pull.lag_n.len() == ready.strand.elements();
            match fits.then(|| ready.solve(Some(start))) {
                Some(Ok((solved, start))) => (ready, solved, start),
                _ => Ready::solved(rig, water, options)?,
            }
        }
        None => Ready::solved(rig, water, options)?,
    };
    Ok((ready.describe(&solved), start))
}

/// The same, with the band of every hook from errors of the input; without bands when a basket that is changed by such an
/// error has no balanced shape.
///
/// # Errors
/// As [`hang_basket`], and [`GearError::OutOfRange`] for errors that are none.
pub fn hang_with_bands(
    rig: &Rig,
    water: &Water,
    options: &HangOptions,
    errors: &InputErrors,
) -> Result<Hung, GearError> {
    errors.check()?;
    let (ready, solved, start) = Ready::solved(rig, water, options)?;
    let mut hung = ready.describe(&solved);
    if let Some(bands) = bands(&ready, &start, &hung.hooks, errors) {
        for (hook, (band_m, mostly)) in hung.hooks.iter_mut().zip(bands) {
            (hook.band_m, hook.band_mostly) = (Some(band_m), Some(mostly));
        }
    }
    Ok(hung)
}

/// A few long elements in a strong current may have no balanced shape where the line itself has one: then they are
/// halved, at most this often.
const MOST_HALVINGS: u32 = 3;

/// A basket whose numbers were checked, ready to be solved again and again with small changes.
#[derive(Debug, Clone)]
pub(crate) struct Ready {
    pub strand: Strand,
    pub profile: Profile,
    pub tether: Tether,
    pub basket: Basket,
    pub options: HangOptions,
    pub effort: Effort,
}

/// A solution within its frame.
#[derive(Debug, Clone)]
pub(crate) struct Solved {
    pub shot: Shot,
    pub ends: Ends,
    pub pull: Pull,
    pub net_n: Option<f64>,
}

impl Solved {
    pub(crate) fn near(&self) -> Near {
        Near { pull_n: self.pull.first_n, velocity_m_s: self.ends.first_m_s }
    }
}

impl Ready {
    pub(crate) fn new(rig: &Rig, water: &Water, options: &HangOptions) -> Result<Self, GearError> {
        check(rig, water, options)?;
        let profile = Profile::along(&water.current, options.line_bearing_deg_true)?;
        let strand = Strand::new(
            &rig.basket,
            &rig.main_line,
            &rig.branch,
            water,
            options.point_loads,
            options.elements_per_interval,
        );
        if strand.weight_n() <= 0.0 {
            return Err(GearError::DoesNotSink { weight_n: strand.weight_n() });
        }
        let tether = Tether::new(rig.basket.float_line_m, rig.float_line.as_ref(), rig.float.as_ref(), water);
        Ok(Self { strand, profile, tether, basket: rig.basket, options: *options, effort: Effort::Whole })
    }

    /// Made ready and solved, with more elements than asked for where these have no balanced shape.
    pub(crate) fn solved(rig: &Rig, water: &Water, options: &HangOptions) -> Result<(Self, Solved, Start), GearError> {
        let mut finer = *options;
        let mut first = None;
        for _ in 0..=MOST_HALVINGS {
            let ready = Self::new(rig, water, &finer)?;
            match ready.solve(None) {
                Ok((solved, start)) => return Ok((ready, solved, start)),
                Err(error) => first = first.or(Some(error)),
            }
            finer.elements_per_interval *= 2;
            if finer.elements_per_interval > 64 {
                break;
            }
        }
        Err(first.unwrap_or(GearError::NotConverged { iterations: 0, gap_m: f64::INFINITY }))
    }

    /// A start from where another solution lies.
    pub(crate) fn start(&self, near: &Near) -> Start {
        let mut pull = still_start(&self.strand, [self.span_m(), 0.0, 0.0]);
        pull.first_n = near.pull_n;
        Start { pull, velocity_m_s: near.velocity_m_s }
    }

    pub(crate) fn span_m(&self) -> f64 {
        self.strand.line_m * self.basket.sag_ratio
    }

    /// Solves, from a start nearby where there is one.
    pub(crate) fn solve(&self, start: Option<&Start>) -> Result<(Solved, Start), GearError> {
        let span_m = self.span_m();
        let mut pull = start.map_or_else(|| still_start(&self.strand, [span_m, 0.0, 0.0]), |start| start.pull.clone());
        let solved = match self.options.ends {
            EndsHeld::Fixed => {
                let ends = Ends::still(span_m, self.tether.length_m);
                let shot = close(&self.strand, &self.profile, &ends, &mut pull)?;
                Solved { shot, ends, pull, net_n: None }
            }
            EndsHeld::Drifting => {
                let velocity = start.map_or_else(|| self.likely_drift(), |start| start.velocity_m_s);
                let (strand, profile, tether) = (&self.strand, &self.profile, &self.tether);
                let row = free_row_with(self.effort, strand, profile, tether, span_m, &mut pull, velocity)?;
                Solved { shot: row.shot, ends: row.ends, pull, net_n: Some(row.net_n) }
            }
        };
        let start = Start { pull: solved.pull.clone(), velocity_m_s: solved.ends.first_m_s };
        Ok((solved, start))
    }

    /// Where to look for the drift first: the mean current over the depths that the still gear hangs through.
    fn likely_drift(&self) -> [f64; 2] {
        let deepest_m = self.tether.length_m
            + crate::catenary::drop_at_m(self.strand.line_m, self.basket.sag_ratio, 0.5 * self.strand.line_m);
        let mut near = 0;
        let mut sum = [0.0; 2];
        for place in 0..8 {
            let (u, _) = self.profile.at((f64::from(place) + 0.5) / 8.0 * deepest_m, &mut near);
            sum = [sum[0] + u[0] / 8.0, sum[1] + u[1] / 8.0];
        }
        sum
    }

    /// The hooks of a solution: place and depth.
    pub(crate) fn hooks(&self, shape: &Shape, ends: &Ends) -> Vec<HookPlace> {
        let parts = self.options.elements_per_interval as usize;
        let mut near = 0;
        let lead_m = if self.basket.float_takes_a_beat { 0.0 } else { 0.5 * self.basket.clip_spacing_m };
        (1..=self.basket.hooks)
            .map(|position| {
                let along_m = f64::from(position) * self.basket.clip_spacing_m - lead_m;
                let node = shape.nodes_m[position as usize * parts];
                let velocity = ends.velocity_at(along_m / self.strand.line_m);
                let branch_m = self.basket.branch_line_m;
                let (aside, down_m) = branch_hang(&self.strand, &self.profile, branch_m, node[2], velocity, &mut near);
                HookPlace {
                    position,
                    along_m,
                    horizontal_m: node[0] + aside[0],
                    across_m: node[1] + aside[1],
                    depth_m: node[2] + down_m,
                    band_m: None,
                    band_mostly: None,
                }
            })
            .collect()
    }

    pub(crate) fn describe(&self, solved: &Solved) -> Hung {
        let (ends, pull) = (&solved.ends, &solved.pull);
        let shape = Shape::of(&self.strand, &self.profile, ends, pull);
        let closure = shape.unbalanced_n(&self.strand, &self.profile, ends, pull, solved.shot.last_n);
        let hooks = self.hooks(&shape, ends);
        let deepest_m = shape.nodes_m.iter().map(|node| node[2]).fold(0.0, f64::max);
        let along = along_m(&self.strand);
        let nodes = shape
            .nodes_m
            .iter()
            .zip(&shape.pull_n)
            .zip(&along)
            .zip(0_u32..)
            .map(|(((at, pull), along_m), index)| Node {
                index,
                along_m: *along_m,
                horizontal_m: at[0],
                across_m: at[1],
                depth_m: at[2],
                tension_n: norm(*pull),
            })
            .collect();
        let first = pull.first_n;
        let last = solved.shot.last_n;
        let (sin, cos) = self.options.line_bearing_deg_true.to_radians().sin_cos();
        let [ahead, starboard] = ends.first_m_s;
        Hung {
            sag_angle_deg: first[2].atan2(first[0].hypot(first[1])).to_degrees(),
            main_line_m: self.strand.line_m,
            span_m: self.span_m(),
            sag_m: deepest_m - ends.depth_m,
            hooks,
            nodes,
            end_tension_n: [norm(first), norm(last)],
            force_closure_n: norm(closure),
            end_gap_m: gap_m(&shape, ends),
            iterations: solved.shot.rounds,
            elements_per_interval: self.options.elements_per_interval,
            drift: solved
                .net_n
                .map(|_| Drift { east_m_s: ahead * sin + starboard * cos, north_m_s: ahead * cos - starboard * sin }),
            net_force_n: solved.net_n,
            ends_depth_m: ends.depth_m,
            float_load_n: first[2] - last[2],
        }
    }
}

/// How far aside and down from its clip a hook hangs, metres, its branch line leaning as a stiff rod with its weight at
/// the hook and its drag spread along it.
pub(crate) fn branch_hang(
    strand: &Strand,
    profile: &Profile,
    length_m: f64,
    clip_depth_m: f64,
    velocity_m_s: [f64; 2],
    near: &mut usize,
) -> ([f64; 2], f64) {
    let (drag, _, _) = strand.branch_drag_at(profile, clip_depth_m, velocity_m_s, near);
    let size = drag[0].hypot(drag[1]);
    if size <= 0.0 {
        return ([0.0; 2], length_m);
    }
    let lean_rad = (0.5 * size).atan2(strand.branch_n);
    let aside_m = length_m * lean_rad.sin();
    ([aside_m * drag[0] / size, aside_m * drag[1] / size], length_m * lean_rad.cos())
}

/// The far end's distance from where it is held, measured on the nodes.
fn gap_m(shape: &Shape, ends: &Ends) -> f64 {
    let Some(last) = shape.nodes_m.last() else { return f64::NAN };
    let held: Vector = [ends.apart_m[0], ends.apart_m[1], ends.depth_m + ends.apart_m[2]];
    norm([last[0] - held[0], last[1] - held[1], last[2] - held[2]])
}

fn along_m(strand: &Strand) -> Vec<f64> {
    let mut arc_m = 0.0;
    let mut all = vec![0.0];
    for length_m in &strand.length_m {
        arc_m += length_m;
        all.push(arc_m);
    }
    all
}

pub(crate) fn check(rig: &Rig, water: &Water, options: &HangOptions) -> Result<(), GearError> {
    rig.basket.check()?;
    let slack = "above 0 and below 1 (span between floats ÷ main line between them; 1 is a taut line)";
    if rig.basket.sag_ratio >= 1.0 {
        return Err(GearError::OutOfRange { field: "sag_ratio", value: rig.basket.sag_ratio, unit: "", rule: slack });
    }
    rig.main_line.check()?;
    rig.branch.check()?;
    if let Some(line) = &rig.float_line {
        line.check()?;
    }
    if let Some(float) = &rig.float {
        float.check()?;
    }
    water.check()?;
    from_up_to("line_bearing_deg_true", options.line_bearing_deg_true, (-360.0, 360.0), "°", "from -360° to 360°")?;
    let elements = f64::from(options.elements_per_interval);
    from_up_to("elements_per_interval", elements, (1.0, 64.0), "", "a whole number from 1 to 64")?;
    above_up_to(
        "main line",
        f64::from(rig.basket.hooks + 1) * rig.basket.clip_spacing_m,
        (0.0, 1e5),
        " m",
        "at most 100 km in a basket",
    )?;
    Ok(())
}
