//! What a basket is made of, as the mechanics needs it: main line, branch lines, float lines, floats and the water.
//!
//! Every `drag_area_m2` is drag coefficient × area. Coefficients of lines: `drag_normal` on the projected area (diameter ×
//! length), `drag_tangential` on the skin (π × diameter × length): force per metre ½ρ d [C_n |u_n| u_n + π C_t |u_t| u_t].
//! What may be left out and what then stands in for it is told by each field; the caller turns that into doubts.

use serde::{Deserialize, Serialize};

use crate::current::CurrentLevel;
use crate::error::{GearError, above_up_to, from_up_to};

/// Density of nylon monofilament taken when none is given, kg/m³ (common practice, no source).
pub const NYLON_KG_M3: f64 = 1140.0;
/// Density of sea water taken when none is given, kg/m³ (common practice, no source).
pub const SEA_WATER_KG_M3: f64 = 1025.0;
/// Standard gravity, m/s² (CGPM 1901, 3rd conference).
pub const STANDARD_GRAVITY_M_S2: f64 = 9.806_65;
/// Axial stiffness taken when none is given, N. At the pull of hanging gear the strain stays below 0.1 %: it hardly
/// matters for depth.
pub const STIFFNESS_N: f64 = 20_000.0;
/// Drag coefficient of a smooth line across the flow taken when none is given, on diameter × length
/// (common practice, no source; fair above some 0.08 m/s for a 3.6 mm line, 10–30 % low below).
pub const DRAG_NORMAL: f64 = 1.2;
/// Drag coefficient along the line taken when none is given, on its skin (common practice, no source).
pub const DRAG_TANGENTIAL: f64 = 0.008;

/// The main line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct MainLine {
    /// Diameter, millimetres, above 0 to 50.
    pub diameter_mm: f64,
    /// Density of the line itself, kg/m³; 1140 (nylon) when left out.
    #[serde(default = "nylon")]
    pub density_kg_m3: f64,
    /// Pull that would stretch it to double length, N; 20,000 when left out.
    #[serde(default = "stiffness")]
    pub axial_stiffness_n: f64,
    /// Drag coefficient across the line, on diameter × length; 1.2 when left out.
    #[serde(default = "drag_normal")]
    pub drag_normal: f64,
    /// Drag coefficient along the line, on its skin (π × diameter × length); 0.008 when left out.
    #[serde(default = "drag_tangential")]
    pub drag_tangential: f64,
}

/// Where the drag of a branch line is taken.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum DragAt {
    /// Over the depths that the branch line itself hangs through.
    #[default]
    OwnDepth,
    /// At the depth of its clip on the main line.
    Node,
}

/// A branch line with its snap, hook and bait.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct BranchLine {
    /// Weight in sea water of all of it, N, from 0.
    pub weight_in_water_n: f64,
    /// Drag coefficient × area of all of it, m²; 0 when left out.
    #[serde(default)]
    pub drag_area_m2: f64,
    /// Where its drag is taken; over its own depths when left out.
    #[serde(default)]
    pub drag_at: DragAt,
}

/// The float lines; their length stands in the basket.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FloatLine {
    /// Diameter, millimetres, from 0 (no drag) to 50.
    pub diameter_mm: f64,
    /// Drag coefficient across the line, on diameter × length; 1.2 when left out.
    #[serde(default = "drag_normal")]
    pub drag_normal: f64,
}

/// The floats.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Float {
    /// Drag coefficient × area in the water, m².
    #[serde(default)]
    pub drag_area_m2: f64,
    /// What it can carry before it goes under: buoyancy of the whole float less its own weight, N. Not known when left out.
    #[serde(default)]
    pub net_buoyancy_n: Option<f64>,
}

/// The water around the gear.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Water {
    /// Density, kg/m³; 1025 when left out.
    #[serde(default = "sea_water")]
    pub density_kg_m3: f64,
    /// Gravity, m/s²; 9.80665 when left out.
    #[serde(default = "gravity")]
    pub gravity_m_s2: f64,
    /// The current over depth, towards; still water when left out.
    #[serde(default)]
    pub current: Vec<CurrentLevel>,
}

impl Default for Water {
    fn default() -> Self {
        Self { density_kg_m3: SEA_WATER_KG_M3, gravity_m_s2: STANDARD_GRAVITY_M_S2, current: Vec::new() }
    }
}

impl MainLine {
    /// Weight in water of one metre of unstretched line, N/m, down positive.
    #[must_use]
    pub fn weight_n_m(&self, water: &Water) -> f64 {
        let diameter_m = self.diameter_mm / 1000.0;
        (self.density_kg_m3 - water.density_kg_m3)
            * std::f64::consts::FRAC_PI_4
            * diameter_m.powi(2)
            * water.gravity_m_s2
    }

    /// Refuses what a line cannot be.
    ///
    /// # Errors
    /// [`GearError::OutOfRange`] with the field and its value.
    pub fn check(&self) -> Result<(), GearError> {
        above_up_to("main_line.diameter_mm", self.diameter_mm, (0.0, 50.0), " mm", "above 0 and up to 50 mm")?;
        from_up_to(
            "main_line.density_kg_m3",
            self.density_kg_m3,
            (500.0, 10_000.0),
            " kg/m³",
            "from 500 to 10000 kg/m³",
        )?;
        from_up_to("main_line.axial_stiffness_n", self.axial_stiffness_n, (50.0, 1e12), " N", "from 50 to 1e12 N")?;
        coefficient("main_line.drag_normal", self.drag_normal)?;
        coefficient("main_line.drag_tangential", self.drag_tangential)
    }
}

impl BranchLine {
    /// Refuses what a branch line cannot be.
    ///
    /// # Errors
    /// [`GearError::OutOfRange`] with the field and its value.
    pub fn check(&self) -> Result<(), GearError> {
        from_up_to("branch.weight_in_water_n", self.weight_in_water_n, (0.0, 200.0), " N", "from 0 to 200 N")?;
        drag_area("branch.drag_area_m2", self.drag_area_m2)
    }
}

impl FloatLine {
    /// Refuses what a float line cannot be.
    ///
    /// # Errors
    /// [`GearError::OutOfRange`] with the field and its value.
    pub fn check(&self) -> Result<(), GearError> {
        from_up_to("float_line.diameter_mm", self.diameter_mm, (0.0, 50.0), " mm", "from 0 to 50 mm")?;
        coefficient("float_line.drag_normal", self.drag_normal)
    }
}

impl Float {
    /// Refuses what a float cannot be.
    ///
    /// # Errors
    /// [`GearError::OutOfRange`] with the field and its value.
    pub fn check(&self) -> Result<(), GearError> {
        drag_area("float.drag_area_m2", self.drag_area_m2)?;
        if let Some(net_n) = self.net_buoyancy_n {
            from_up_to("float.net_buoyancy_n", net_n, (0.0, 1e6), " N", "from 0 to 1000000 N")?;
        }
        Ok(())
    }
}

impl Water {
    /// Refuses what sea water cannot be; the current is checked where it is read.
    ///
    /// # Errors
    /// [`GearError::OutOfRange`] with the field and its value.
    pub fn check(&self) -> Result<(), GearError> {
        from_up_to("water.density_kg_m3", self.density_kg_m3, (900.0, 1200.0), " kg/m³", "from 900 to 1200 kg/m³")?;
        from_up_to("water.gravity_m_s2", self.gravity_m_s2, (9.7, 9.9), " m/s²", "from 9.7 to 9.9 m/s²")?;
        Ok(())
    }
}

fn coefficient(field: &'static str, value: f64) -> Result<(), GearError> {
    from_up_to(field, value, (0.0, 20.0), "", "from 0 to 20").map(|_| ())
}

fn drag_area(field: &'static str, value: f64) -> Result<(), GearError> {
    from_up_to(field, value, (0.0, 100.0), " m²", "from 0 to 100 m²").map(|_| ())
}

const fn nylon() -> f64 {
    NYLON_KG_M3
}

const fn stiffness() -> f64 {
    STIFFNESS_N
}

const fn drag_normal() -> f64 {
    DRAG_NORMAL
}

const fn drag_tangential() -> f64 {
    DRAG_TANGENTIAL
}

const fn sea_water() -> f64 {
    SEA_WATER_KG_M3
}

const fn gravity() -> f64 {
    STANDARD_GRAVITY_M_S2
}
