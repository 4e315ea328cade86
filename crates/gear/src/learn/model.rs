//! The gear of a set as a model of depths: the basket of each stretch hung in the current that the parameters make of the
//! stated one; in still water, or without a stated current, the closed form.

use super::fit::DepthModel;
use super::parameters::Parameters;
use super::separate::Placed;
use crate::catenary::{self, Basket, HookPlace};
use crate::error::GearError;
use crate::hang::{HangOptions, Hung, Rig, hang_basket};
use crate::parts::{MainLine, Water};

/// A set: its stretches and the places where depths are asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct SetModel {
    /// The stretches.
    pub stretches: Vec<StretchModel>,
    /// The stretch, from 0, and the spot in its basket, of every place.
    pub places: Vec<(usize, Spot)>,
}

/// A stretch of alike baskets.
#[derive(Debug, Clone, PartialEq)]
pub enum StretchModel {
    /// Still water.
    Still(Basket),
    /// In a current.
    Current(Box<(Rig, Water, HangOptions)>),
}

/// A spot in a basket.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spot {
    /// On the main line, metres of unstretched line from the first float line.
    MainLine {
        /// The metres.
        along_m: f64,
    },
    /// On a branch line.
    Branch {
        /// The hook position, from 1.
        hook: u32,
        /// Below the clip, metres; at the hook when none.
        below_clip_m: Option<f64>,
    },
    /// At the lower end of the first float line.
    FloatLineEnd,
}

impl SetModel {
    /// Where a place is, for telling apart.
    #[must_use]
    pub fn placed(&self, place: usize) -> Option<Placed> {
        let (stretch, spot) = *self.places.get(place)?;
        let basket = self.stretches.get(stretch)?.basket();
        let lead = if basket.float_takes_a_beat { 0.0 } else { 0.5 };
        let along_m = match spot {
            Spot::MainLine { along_m } => Some(along_m),
            Spot::Branch { hook, .. } => Some((f64::from(hook) - lead) * basket.clip_spacing_m),
            Spot::FloatLineEnd => None,
        };
        let line_m = main_line_m(basket);
        Some(Placed { stretch, from_middle: along_m.map(|along_m| (2.0 * along_m / line_m - 1.0).abs()) })
    }
}

impl DepthModel for SetModel {
    fn depths_m(&self, parameters: &Parameters) -> Result<Vec<f64>, GearError> {
        let mut depths_m = vec![f64::NAN; self.places.len()];
        for (index, stretch) in self.stretches.iter().enumerate() {
            let here: Vec<usize> = (0..self.places.len()).filter(|place| self.places[*place].0 == index).collect();
            if here.is_empty() {
                continue;
            }
            let bias = parameters.sag_bias.get(index).copied().unwrap_or(0.0);
            let hanging = stretch.hang(parameters, bias)?;
            for place in here {
                depths_m[place] = hanging.depth_m(&self.places[place].1)?;
            }
        }
        Ok(depths_m)
    }
}

/// A basket that hangs.
struct Hanging {
    basket: Basket,
    ends_depth_m: f64,
    hooks: Vec<HookPlace>,
    hung: Option<Hung>,
}

impl StretchModel {
    /// The basket of the stretch.
    #[must_use]
    pub fn basket(&self) -> &Basket {
        match self {
            Self::Still(basket) => basket,
            Self::Current(parts) => &parts.0.basket,
        }
    }

    fn hang(&self, parameters: &Parameters, sag_bias: f64) -> Result<Hanging, GearError> {
        match self {
            Self::Still(basket) => {
                let basket = Basket { sag_ratio: basket.sag_ratio + sag_bias, ..*basket };
                let hooks = catenary::hook_depths(&basket)?.hooks;
                Ok(Hanging { basket, ends_depth_m: basket.float_line_m, hooks, hung: None })
            }
            Self::Current(parts) => {
                let (rig, water, options) = parts.as_ref();
                let rig = changed_rig(rig, parameters.drag_to_weight_ln.exp(), sag_bias);
                let water = changed_water(water, parameters.shear_ln.exp(), parameters.rotation_deg);
                let mut hung = hang_basket(&rig, &water, options)?;
                let hooks = std::mem::take(&mut hung.hooks);
                Ok(Hanging { basket: rig.basket, ends_depth_m: hung.ends_depth_m, hooks, hung: Some(hung) })
            }
        }
    }
}

impl Hanging {
    fn depth_m(&self, spot: &Spot) -> Result<f64, GearError> {
        match *spot {
            Spot::FloatLineEnd => Ok(self.ends_depth_m),
            Spot::MainLine { along_m } => Ok(self.main_line_depth_m(along_m)),
            Spot::Branch { hook, below_clip_m } => {
                let place = self.hooks.iter().find(|place| place.position == hook).ok_or(GearError::OutOfRange {
                    field: "hook_position",
                    value: f64::from(hook),
                    unit: "",
                    rule: "a hook of the recorder's basket",
                })?;
                let Some(below_m) = below_clip_m else { return Ok(place.depth_m) };
                // A straight branch line between its clip and its hook.
                let clip_m = self.main_line_depth_m(place.along_m);
                let length_m = self.basket.branch_line_m.max(f64::MIN_POSITIVE);
                Ok(clip_m + (place.depth_m - clip_m) * (below_m / length_m).min(1.0))
            }
        }
    }

    /// Depth of the main line, straight between two nodes.
    fn main_line_depth_m(&self, along_m: f64) -> f64 {
        let Some(hung) = &self.hung else {
            let line_m = main_line_m(&self.basket);
            return self.basket.float_line_m + catenary::drop_at_m(line_m, self.basket.sag_ratio, along_m);
        };
        let after = hung.nodes.partition_point(|node| node.along_m < along_m).clamp(1, hung.nodes.len() - 1);
        let (above, below) = (&hung.nodes[after - 1], &hung.nodes[after]);
        let part = ((along_m - above.along_m) / (below.along_m - above.along_m)).clamp(0.0, 1.0);
        above.depth_m + part * (below.depth_m - above.depth_m)
    }
}

/// Main line of a basket, metres.
pub(crate) fn main_line_m(basket: &Basket) -> f64 {
    f64::from(basket.hooks + u32::from(basket.float_takes_a_beat)) * basket.clip_spacing_m
}

/// All drag multiplied, weights as they are: only the ratio shows in a depth.
fn changed_rig(rig: &Rig, drag: f64, sag_bias: f64) -> Rig {
    let mut rig = *rig;
    rig.basket.sag_ratio += sag_bias;
    rig.main_line = MainLine {
        drag_normal: rig.main_line.drag_normal * drag,
        drag_tangential: rig.main_line.drag_tangential * drag,
        ..rig.main_line
    };
    rig.branch.drag_area_m2 *= drag;
    if let Some(line) = &mut rig.float_line {
        line.drag_normal *= drag;
    }
    if let Some(float) = &mut rig.float {
        float.drag_area_m2 *= drag;
    }
    rig
}

/// The current multiplied and turned clockwise.
fn changed_water(water: &Water, scale: f64, clockwise_deg: f64) -> Water {
    let (sin, cos) = clockwise_deg.to_radians().sin_cos();
    let mut water = water.clone();
    for level in &mut water.current {
        let (east, north) = (level.east_m_s, level.north_m_s);
        level.east_m_s = scale * (east * cos + north * sin);
        level.north_m_s = scale * (north * cos - east * sin);
    }
    water
}
