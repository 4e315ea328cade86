//! Setting advice: which gear puts most hooks of the whole set into a band of depth, within what the boat can do.
//!
//! Model: every gear of a grid (hooks per basket × sag ratio × float line × clip spacing) is paced by the arithmetic of
//! the line setter (`pace.rs`), as fast as the limits let it; the gear then hangs in the current as an endless row that
//! drifts freely (`trial.rs`), or, where no parts were given, as the catenary in still water. Gears are ranked by hooks
//! in the band over the whole set, then by less main line, then by less time (`plan.rs`).
//!
//! Pure and without threads: [`Search::new`] lays the gears out in runs of neighbours, [`Search::try_run`] hangs one
//! run (each run for itself, so that it does not matter who computes which), [`Search::advice`] ranks them.

mod answer;
mod grid;
mod limits;
mod pace;
mod plan;
mod trial;

use serde::{Deserialize, Serialize};

pub use answer::{Advice, Change, Changed, LeftOut, Plan, Searched};
pub use grid::{Candidate, Steps};
pub use limits::{Limits, LimitsGiven, Range};
pub use pace::{Fit, Reason};
pub use trial::{Count, Tried};

use crate::band::InputErrors;
use crate::current::Profile;
use crate::error::{GearError, above_up_to, from_up_to};
use crate::parts::{BranchLine, Float, FloatLine, MainLine, Water};
use grid::Grid;

/// Gears that are hung at least when nothing else is asked for, as far as the finest grid has so many.
pub const CANDIDATES: u32 = 2000;
/// Plans shown when nothing else is asked for.
pub const PLANS: u32 = 5;
/// By how much the current may differ when nothing else is asked for, m/s.
pub const CURRENT_CHANGE_M_S: f64 = 0.1;

/// A band of depth, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TargetBand {
    /// Its upper end below the surface, metres.
    pub from_m: f64,
    /// Its lower end below the surface, metres.
    pub to_m: f64,
}

impl TargetBand {
    /// Whether a depth lies in the band.
    #[must_use]
    pub fn holds(&self, depth_m: f64) -> bool {
        depth_m >= self.from_m && depth_m <= self.to_m
    }
}

/// What the gear is made of beside its basket.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parts {
    /// The main line.
    pub main_line: MainLine,
    /// The branch lines.
    pub branch: BranchLine,
    /// The float lines; without drag when none.
    pub float_line: Option<FloatLine>,
    /// The floats; without drag when none.
    pub float: Option<Float>,
}

/// What advice is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The gear's parts; still water by the closed form when none.
    pub parts: Option<Parts>,
    /// The water and its current.
    pub water: Water,
    /// Direction from the first float to the next, degrees true.
    pub line_bearing_deg_true: f64,
    /// Length of the branch lines, metres.
    pub branch_line_m: f64,
    /// Whether the float has a clip beat of its own.
    pub float_takes_a_beat: bool,
    /// Where the hooks shall hang.
    pub target: TargetBand,
    /// What the boat can do.
    pub limits: Limits,
    /// Standard errors of the input, for the bands of the plans shown.
    pub errors: InputErrors,
    /// By how much the current may differ from what was told, m/s.
    pub current_change_m_s: f64,
    /// Plans to show at most.
    pub plans: u32,
    /// Gears to hang at least.
    pub candidates: u32,
}

/// A question made ready: its gears in runs of neighbours.
#[derive(Debug, Clone)]
pub struct Search {
    question: Question,
    grid: Grid,
}

impl Search {
    /// Checks a question and lays its gears out.
    ///
    /// # Errors
    /// [`GearError::OutOfRange`] and its kin for numbers that gear, boat or sea cannot have.
    pub fn new(question: Question) -> Result<Self, GearError> {
        question.check()?;
        let grid = Grid::fine_enough(&question.limits, question.float_takes_a_beat, question.candidates);
        Ok(Self { question, grid })
    }

    /// How many runs there are; each may be tried by whoever has time.
    #[must_use]
    pub fn runs(&self) -> usize {
        self.grid.runs.len()
    }

    /// How many gears fit the limits and are hung.
    #[must_use]
    pub fn candidates(&self) -> usize {
        self.grid.runs.iter().map(Vec::len).sum()
    }

    /// Hangs one run of gears, each from its neighbour; nothing for a run that there is not.
    #[must_use]
    pub fn try_run(&self, run: usize) -> Vec<Tried> {
        self.grid.runs.get(run).map(|run| trial::try_all(&self.question, run)).unwrap_or_default()
    }

    /// Ranks what was tried and describes the best plans that differ from each other. The order of `tried` is of no
    /// importance.
    #[must_use]
    pub fn advice(&self, tried: Vec<Tried>) -> Advice {
        plan::advice(&self.question, &self.grid, tried)
    }

    /// All of it, run after run.
    #[must_use]
    pub fn alone(&self) -> Advice {
        self.advice((0..self.runs()).flat_map(|run| self.try_run(run)).collect())
    }
}

impl Question {
    fn check(&self) -> Result<(), GearError> {
        from_up_to("branch_line_m", self.branch_line_m, (0.0, 1000.0), " m", "from 0 to 1000 m")?;
        from_up_to("target.from_m", self.target.from_m, (0.0, 2000.0), " m", "from 0 to 2000 m")?;
        above_up_to("target.to_m", self.target.to_m, (0.0, 2000.0), " m", "above 0 and up to 2000 m")?;
        above_up_to(
            "target.to_m",
            self.target.to_m,
            (self.target.from_m, 2000.0),
            " m",
            "deeper than target.from_m (the band goes from its upper end down to its lower end)",
        )?;
        self.limits.check()?;
        self.errors.check()?;
        from_up_to("current_change_m_s", self.current_change_m_s, (0.0, 1.0), " m/s", "from 0 to 1 m/s")?;
        from_up_to("plans", f64::from(self.plans), (1.0, 50.0), "", "a whole number from 1 to 50")?;
        from_up_to("candidates", f64::from(self.candidates), (1.0, 50_000.0), "", "a whole number from 1 to 50000")?;
        from_up_to("line_bearing_deg_true", self.line_bearing_deg_true, (-360.0, 360.0), "°", "from -360° to 360°")?;
        self.water.check()?;
        Profile::along(&self.water.current, self.line_bearing_deg_true)?;
        if let Some(parts) = &self.parts {
            parts.main_line.check()?;
            parts.branch.check()?;
            if let Some(line) = &parts.float_line {
                line.check()?;
            }
            if let Some(float) = &parts.float {
                float.check()?;
            }
        }
        Ok(())
    }
}
