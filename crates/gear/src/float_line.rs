//! A float with its line: what drag it puts on the gear, and where the line's lower end hangs when it leans.
//!
//! The line is weightless. Its drag is taken as of a plumb line (at the leans that gear shows, below some 15°, that is
//! less than 7 % too much of a small force); its lean follows from the balance of every piece, and with it how far the
//! lower end lies off the float and how much it is lifted.

use crate::current::Profile;
use crate::march::pressure;
use crate::parts::{Float, FloatLine, Water};

/// Depth at which a floating float meets the current, metres.
const FLOAT_MIDDLE_M: f64 = 0.05;
/// Pieces of the float line.
const PIECES: usize = 4;

/// A float and its line, made ready.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tether {
    pub length_m: f64,
    /// ½ρ d C_n, kg/m².
    line: f64,
    /// ½ρ C A, kg/m.
    float: f64,
    /// Pull of the wind, N, in the line's frame.
    pub wind_n: [f64; 2],
    /// What it can carry, N; none when not known.
    pub carries_n: Option<f64>,
    /// As that of the strand.
    pub rounding: f64,
}

/// Horizontal drag with its change by the velocity of the water.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Drag {
    pub force_n: [f64; 2],
    pub by_water: [[f64; 2]; 2],
}

/// The lower end of a float line as seen from its float.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Lean {
    pub aside_m: [f64; 2],
    pub down_m: f64,
}

impl Tether {
    pub(crate) fn new(length_m: f64, line: Option<&FloatLine>, float: Option<&Float>, water: &Water) -> Self {
        let half_rho = 0.5 * water.density_kg_m3;
        Self {
            length_m,
            line: line.map_or(0.0, |line| half_rho * line.diameter_mm / 1000.0 * line.drag_normal),
            float: float.map_or(0.0, |float| half_rho * float.drag_area_m2),
            wind_n: [0.0; 2],
            carries_n: float.and_then(|float| float.net_buoyancy_n),
            rounding: 0.0,
        }
    }

    /// The same with its drag scaled: for sensitivities.
    pub(crate) fn scaled(&self, drag: f64) -> Self {
        Self { line: self.line * drag, float: self.float * drag, ..*self }
    }

    /// The same with more drag area on the float (a drogue, a radio buoy), m², and a pull of the wind, N.
    pub(crate) fn with_more(self, half_rho_area: f64, wind_n: [f64; 2]) -> Self {
        Self { float: self.float + half_rho_area, wind_n, ..self }
    }

    /// Drag and wind on float and line together, the float `under_m` below the surface (0 where it floats).
    pub(crate) fn drag(&self, profile: &Profile, under_m: f64, velocity_m_s: [f64; 2]) -> Drag {
        let mut near = 0;
        let mut all = Drag { force_n: self.wind_n, by_water: [[0.0; 2]; 2] };
        let mut add = |half_rho_area: f64, depth_m: f64, range_m: f64| {
            let (force, _, by_water) =
                pressure(profile, half_rho_area, (depth_m, range_m), velocity_m_s, self.rounding, &mut near);
            for axis in 0..2 {
                all.force_n[axis] += force[axis];
                all.by_water[axis][0] += by_water[axis][0];
                all.by_water[axis][1] += by_water[axis][1];
            }
        };
        add(self.float, under_m + FLOAT_MIDDLE_M, 0.0);
        let piece_m = self.length_m / PIECES as f64;
        for piece in 0..PIECES {
            add(self.line * piece_m, under_m + piece as f64 * piece_m, piece_m);
        }
        all
    }

    /// How the line hangs when the gear below pulls its lower end with `aside_n` and `down_n` (positive).
    pub(crate) fn lean(
        &self,
        profile: &Profile,
        under_m: f64,
        velocity_m_s: [f64; 2],
        aside_n: [f64; 2],
        down_n: f64,
    ) -> Lean {
        let mut near = 0;
        let piece_m = self.length_m / PIECES as f64;
        let mut pull = aside_n;
        let mut lean = Lean { aside_m: [0.0; 2], down_m: 0.0 };
        for piece in (0..PIECES).rev() {
            let top_m = under_m + piece as f64 * piece_m;
            let (drag, _, _) =
                pressure(profile, self.line * piece_m, (top_m, piece_m), velocity_m_s, self.rounding, &mut near);
            let middle = [pull[0] + 0.5 * drag[0], pull[1] + 0.5 * drag[1]];
            let size = (middle[0] * middle[0] + middle[1] * middle[1] + down_n * down_n).sqrt();
            if size > 0.0 && down_n > 0.0 {
                lean.aside_m[0] += piece_m * middle[0] / size;
                lean.aside_m[1] += piece_m * middle[1] / size;
                lean.down_m += piece_m * down_n / size;
            } else {
                lean.down_m += piece_m;
            }
            pull = [pull[0] + drag[0], pull[1] + drag[1]];
        }
        lean
    }
}
