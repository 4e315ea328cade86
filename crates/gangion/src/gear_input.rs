//! The gear as commands read it: one basket with its parts, the water and how to compute.
//!
//! Only `basket` is needed: depths are then for still water. As soon as anything of the mechanics is given (the main
//! line, a branch line, the water …) the main line's diameter and the branch line's weight must be given too; what else is
//! left out is taken from common practice, and each such number is told as a doubt.

use gear::parts::{BranchLine, Float, FloatLine, MainLine, Water};
use gear::{Basket, EndsHeld, GearDoubt, GearDoubtKind, GearError, HangOptions, InputErrors, Rig};
use serde::Deserialize;
use serde_json::Value;
use utoipa::ToSchema;

use crate::plumbing::{Failure, parse_json};

/// One basket, its parts and the water. Fields that are not known are passed over.
#[derive(Debug, Clone, Deserialize, ToSchema)]
pub struct GearInput {
    /// The basket.
    pub basket: Basket,
    /// Its parts and the water.
    #[serde(flatten)]
    pub parts: PartsInput,
    /// Held ends, or an endless row that drifts (when left out).
    #[serde(default)]
    pub ends: EndsHeld,
    /// Branch lines as loads at their clips (when left out), or spread along the line.
    #[serde(default = "yes")]
    pub point_loads: bool,
    /// Straight elements for each clip interval, 1 to 64; 2 when left out.
    #[serde(default = "two")]
    pub elements_per_interval: u32,
    /// Standard errors of the input, for the bands.
    #[serde(default)]
    pub errors: InputErrors,
}

/// The parts of a gear without its basket, for commands that look for the basket. Fields that are not known are passed over.
#[derive(Debug, Clone, Deserialize, ToSchema)]
pub struct PartsInput {
    /// The main line.
    #[serde(default)]
    pub main_line: Option<MainLine>,
    /// The branch lines.
    #[serde(default)]
    pub branch: Option<BranchLine>,
    /// The float lines; without drag when left out.
    #[serde(default)]
    pub float_line: Option<FloatLine>,
    /// The floats; without drag when left out.
    #[serde(default)]
    pub float: Option<Float>,
    /// The water and its current.
    #[serde(default)]
    pub water: Option<Water>,
    /// Direction from the first float to the next, degrees true; 0 when left out.
    #[serde(default)]
    pub line_bearing_deg_true: f64,
}

/// The parts of [`GearInput`] that call for the mechanics.
const MECHANICS: [&str; 5] = ["main_line", "branch", "float_line", "float", "water"];

impl GearInput {
    /// Reads the gear; and what was taken from common practice because it was not given.
    ///
    /// # Errors
    /// Bad input when it is not a gear, or lacks what the mechanics cannot do without.
    pub fn read(text: &str, what: &str) -> Result<(Self, Vec<GearDoubt>), Failure> {
        let raw: Value = parse_json(text, what)?;
        Self::of(&raw, what)
    }

    /// The same from JSON that was parsed already.
    ///
    /// # Errors
    /// As [`GearInput::read`].
    pub fn of(raw: &Value, what: &str) -> Result<(Self, Vec<GearDoubt>), Failure> {
        PartsInput::check(raw)?;
        let input: Self = read_as(raw, what)?;
        let doubts = input.parts.assumed(raw, input.ends);
        Ok((input, doubts))
    }

    /// The gear for the mechanics; none when only a basket was given.
    pub fn rig(&self) -> Option<Rig> {
        let PartsInput { main_line, branch, float_line, float, .. } = self.parts;
        Some(Rig { basket: self.basket, main_line: main_line?, branch: branch?, float_line, float })
    }

    /// The water; still and of common density when none was given.
    pub fn water(&self) -> Water {
        self.parts.water.clone().unwrap_or_default()
    }

    /// How to compute.
    pub fn options(&self) -> HangOptions {
        HangOptions {
            line_bearing_deg_true: self.parts.line_bearing_deg_true,
            ends: self.ends,
            point_loads: self.point_loads,
            elements_per_interval: self.elements_per_interval,
        }
    }
}

/// Numbers that gear cannot have are bad input; a shape that was not found is a failure.
pub fn gear_failure(error: GearError) -> Failure {
    match error {
        GearError::NotConverged { .. } => Failure::failed(error),
        _ => Failure::bad_input(error),
    }
}

fn asks_for_mechanics(raw: &Value) -> bool {
    MECHANICS.iter().any(|part| raw.get(part).is_some_and(|part| !part.is_null()))
}

fn needed(raw: &Value, part: &str, name: &str, field: &'static str, why: &'static str) -> Result<(), Failure> {
    let there = raw.get(part).and_then(|part| part.get(name)).is_some_and(|value| !value.is_null());
    if there { Ok(()) } else { Err(Failure::bad_input(GearError::Missing { field, why })) }
}

impl PartsInput {
    /// Reads the parts.
    ///
    /// # Errors
    /// Bad input when they are no parts, or lack what the mechanics cannot do without.
    pub fn of(raw: &Value, what: &str) -> Result<Self, Failure> {
        Self::check(raw)?;
        read_as(raw, what)
    }

    /// Refuses gear that lacks what the mechanics cannot do without.
    fn check(raw: &Value) -> Result<(), Failure> {
        if asks_for_mechanics(raw) {
            needed(
                raw,
                "main_line",
                "diameter_mm",
                "main_line.diameter_mm",
                "weight and drag of the main line follow from its diameter. Measure it and give it in millimetres.",
            )?;
            needed(
                raw,
                "branch",
                "weight_in_water_n",
                "branch.weight_in_water_n",
                "how far a current lifts the gear depends on it. Hang ten branch lines in a bucket of sea water on a spring \
                 balance: newtons for one are kilograms × 9.81 ÷ 10.",
            )?;
        }
        Ok(())
    }

    /// One doubt that lists every number that was not given; none where nothing asks for the mechanics.
    pub fn assumed(&self, raw: &Value, ends: EndsHeld) -> Vec<GearDoubt> {
        if asks_for_mechanics(raw) { assumed(raw, self, ends) } else { Vec::new() }
    }
}

fn read_as<T: serde::de::DeserializeOwned>(raw: &Value, what: &str) -> Result<T, Failure> {
    T::deserialize(raw).map_err(|error| Failure::BadInput(format!("{what} is not understood: {error}.")))
}

fn assumed(raw: &Value, input: &PartsInput, ends: EndsHeld) -> Vec<GearDoubt> {
    let mut taken = Vec::new();
    let mut look = |part: &str, name: &str, value: f64, unit: &str| {
        if raw.get(part).and_then(|part| part.get(name)).is_none() {
            taken.push(format!("{part}.{name} {value}{unit}"));
        }
    };
    if let Some(line) = &input.main_line {
        look("main_line", "density_kg_m3", line.density_kg_m3, " kg/m³");
        look("main_line", "axial_stiffness_n", line.axial_stiffness_n, " N");
        look("main_line", "drag_normal", line.drag_normal, "");
        look("main_line", "drag_tangential", line.drag_tangential, "");
    }
    if let Some(branch) = &input.branch {
        look("branch", "drag_area_m2", branch.drag_area_m2, " m²");
    }
    if let Some(line) = &input.float_line {
        look("float_line", "drag_normal", line.drag_normal, "");
    }
    if let Some(float) = &input.float {
        look("float", "drag_area_m2", float.drag_area_m2, " m²");
    }
    let water = input.water.clone().unwrap_or_default();
    look("water", "density_kg_m3", water.density_kg_m3, " kg/m³");
    let mut doubts = Vec::new();
    if ends == EndsHeld::Drifting && !water.current.is_empty() {
        for (part, given) in [("float_line", input.float_line.is_some()), ("float", input.float.is_some())] {
            if !given {
                taken.push(format!("{part} without drag"));
            }
        }
    }
    if !taken.is_empty() {
        let text = format!("Not given and taken from common practice: {}.", taken.join(", "));
        doubts.push(GearDoubt::new(GearDoubtKind::Assumed, text));
    }
    doubts
}

const fn yes() -> bool {
    true
}

const fn two() -> u32 {
    2
}
