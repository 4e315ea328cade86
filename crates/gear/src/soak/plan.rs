//! What a soak is computed from: the line as it was set, the sea and the wind over time, and fixes of floats.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::doubt::{GearDoubt, GearDoubtKind};
use crate::error::{GearError, above_up_to, from_up_to};
use crate::float_line::Tether;
use crate::hang::{HangOptions, Rig, check};
use crate::march::Strand;
use crate::parts::Water;
use crate::shoot::still_start;
use crate::soak::field::ProfileAt;
use crate::soak::line::{BasketState, FloatState, Line};

/// Density of air, kg/m³ (ICAO standard atmosphere at sea level, 1.225).
const AIR_KG_M3: f64 = 1.225;
/// Speed below which drag is taken to go with the speed, m/s.
const SLOW_M_S: f64 = 0.005;
const MOST_BASKETS: u32 = 3000;

/// Alike baskets one after the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// The gear of each.
    pub rig: Rig,
    /// How many baskets.
    pub baskets: u32,
    /// Course from float to float, degrees true: one for all, or one for each basket.
    pub bearings_deg_true: Vec<f64>,
    /// Distances from float to float, metres: one for each basket, or none (sag ratio × main line).
    pub spans_m: Vec<f64>,
}

/// A radio buoy at a float's place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RadioBuoy {
    /// The float's place in the line, from 0.
    pub place: u32,
    /// Drag coefficient × area in the water, m².
    #[serde(default)]
    pub drag_area_m2: f64,
    /// Drag coefficient × area in the air, m².
    #[serde(default)]
    pub wind_area_m2: f64,
    /// Drag coefficient × area of its drogue, m²; 0 for none.
    #[serde(default)]
    pub drogue_area_m2: f64,
    /// Depth of the drogue, metres.
    #[serde(default)]
    pub drogue_depth_m: f64,
    /// What it carries more than a float, N.
    #[serde(default)]
    pub net_buoyancy_n: Option<f64>,
}

/// A basket that is cut, or missing altogether.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Cut {
    /// The basket, from 1.
    pub basket: u32,
    /// Where along its main line it is cut, metres; none when there is no line at all between its floats.
    #[serde(default)]
    pub along_m: Option<f64>,
    /// When it parts, seconds after the beginning; 0 when left out.
    #[serde(default)]
    pub after_s: f64,
}

/// Where a float was measured to be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FloatFix {
    /// Seconds after the beginning.
    pub after_s: f64,
    /// The float's place in the line, from 0.
    pub place: u32,
    /// East of the first float's first position, metres.
    pub east_m: f64,
    /// North of it, metres.
    pub north_m: f64,
}

/// The wind from a moment on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Wind {
    /// Seconds after the beginning.
    #[serde(default)]
    pub after_s: f64,
    /// Speed, m/s.
    pub speed_m_s: f64,
    /// Where it blows from, degrees true.
    pub from_deg_true: f64,
}

/// All of it.
#[derive(Debug, Clone, PartialEq)]
pub struct SoakPlan {
    /// The line in setting order.
    pub stretches: Vec<Stretch>,
    /// When each float goes into the water, seconds after the beginning; all at the beginning when empty.
    pub float_times_s: Vec<f64>,
    /// Radio buoys beside the floats.
    pub radio_buoys: Vec<RadioBuoy>,
    /// Cuts and gaps.
    pub cuts: Vec<Cut>,
    /// Density and gravity of the water (its current is not used).
    pub water: Water,
    /// The current over depth, along the line and over time.
    pub profiles: Vec<ProfileAt>,
    /// The wind over time.
    pub wind: Vec<Wind>,
    /// Fixes of floats.
    pub fixes: Vec<FloatFix>,
    /// How long, seconds.
    pub duration_s: f64,
    /// Step in time, seconds.
    pub step_s: f64,
    /// How often the line is told, seconds.
    pub every_s: f64,
    /// Straight elements for each clip interval.
    pub elements_per_interval: u32,
}

impl SoakPlan {
    /// How many baskets there are.
    #[must_use]
    pub fn baskets(&self) -> u32 {
        self.stretches.iter().map(|stretch| stretch.baskets).sum()
    }

    /// The line before anything is in the water, when each float goes in, and what is doubtful of it.
    pub(crate) fn line(&self) -> Result<(Line, Vec<f64>, Vec<GearDoubt>), GearError> {
        self.check()?;
        let mut doubts = Vec::new();
        let options = HangOptions { elements_per_interval: self.elements_per_interval, ..HangOptions::default() };
        let mut floats: Vec<FloatState> = Vec::new();
        let mut baskets: Vec<BasketState> = Vec::new();
        let mut place_m = [0.0; 2];
        for stretch in &self.stretches {
            check(&stretch.rig, &self.water, &options)?;
            let rig = &stretch.rig;
            let elements = self.elements_per_interval;
            let strand = Strand::new(&rig.basket, &rig.main_line, &rig.branch, &self.water, true, elements);
            let strand = Arc::new(strand.rounded(SLOW_M_S));
            if strand.weight_n() <= 0.0 {
                return Err(GearError::DoesNotSink { weight_n: strand.weight_n() });
            }
            let mut tether =
                Tether::new(rig.basket.float_line_m, rig.float_line.as_ref(), rig.float.as_ref(), &self.water);
            tether.rounding = SLOW_M_S * SLOW_M_S;
            if floats.is_empty() {
                floats.push(FloatState::ashore(tether, place_m));
            }
            for basket in 0..stretch.baskets as usize {
                let span_m = stretch.spans_m.get(basket).copied().unwrap_or(rig.basket.sag_ratio * strand.line_m);
                above_up_to(
                    "span_m",
                    span_m / strand.line_m,
                    (0.0, 0.9999),
                    "",
                    "above 0 and less than its main line",
                )?;
                let bearing =
                    stretch.bearings_deg_true.get(basket).or(stretch.bearings_deg_true.last()).copied().unwrap_or(0.0);
                let (sin, cos) = bearing.to_radians().sin_cos();
                place_m = [place_m[0] + span_m * cos, place_m[1] + span_m * sin];
                floats.push(FloatState::ashore(tether, place_m));
                baskets.push(BasketState {
                    basket: rig.basket,
                    pull: still_start(&strand, [span_m * cos, span_m * sin, 0.0]),
                    strand: Arc::clone(&strand),
                    whole: true,
                    last_n: [0.0; 3],
                    settled_at_s: None,
                    pull_rate_n_s: [0.0; 3],
                });
            }
        }
        for buoy in &self.radio_buoys {
            let float = &mut floats[buoy.place as usize];
            let half_rho = 0.5 * self.water.density_kg_m3;
            float.tether = float.tether.with_more(half_rho * buoy.drag_area_m2, [0.0; 2]);
            float.tether.carries_n = match (float.tether.carries_n, buoy.net_buoyancy_n) {
                (Some(own_n), Some(more_n)) => Some(own_n + more_n),
                // A radio buoy of unknown buoyancy is taken to hold up its float.
                _ => None,
            };
            if buoy.drogue_area_m2 > 0.0 {
                float.drogue = Some((half_rho * buoy.drogue_area_m2, buoy.drogue_depth_m));
            }
        }
        doubts.extend(self.cuts.iter().filter(|cut| cut.along_m.is_some()).map(|cut| {
            let text = format!(
                "Basket {} is cut: its torn ends are taken to hang plumb from their floats; the depth of its hooks is not told from then on.",
                cut.basket
            );
            GearDoubt::new(GearDoubtKind::Assumed, text)
        }));
        // Floats that cannot carry their part of the line together would sink it all: they are taken to hold.
        let load_n: f64 = baskets.iter().filter(|basket| basket.whole).map(|basket| basket.strand.weight_n()).sum();
        let carried_n: Option<f64> = floats.iter().map(|float| float.tether.carries_n).sum();
        if let Some(carried_n) = carried_n.filter(|carried_n| *carried_n <= 1.05 * load_n) {
            for float in &mut floats {
                float.tether.carries_n = None;
            }
            doubts.push(GearDoubt::new(
                GearDoubtKind::FloatTooSmall,
                format!(
                    "All floats together carry {carried_n:.0} N and the line weighs {load_n:.0} N in water: it would sink as a whole. The depths are told as if the floats held it."
                ),
            ));
        }
        let times = if self.float_times_s.is_empty() { vec![0.0; floats.len()] } else { self.float_times_s.clone() };
        Ok((Line { floats, baskets }, times, doubts))
    }

    /// Parts the baskets whose time for it has come.
    pub(crate) fn part(&self, line: &mut Line, now_s: f64) {
        for cut in self.cuts.iter().filter(|cut| cut.after_s <= now_s + 1e-6) {
            let index = cut.basket as usize - 1;
            if !line.baskets[index].whole {
                continue;
            }
            line.baskets[index].whole = false;
            if let Some(along_m) = cut.along_m {
                let (line_m, normal) = (line.baskets[index].strand.line_m, line.baskets[index].strand.normal);
                let tail_m = along_m.clamp(0.0, line_m);
                line.floats[index].tails.push((normal, tail_m));
                line.floats[index + 1].tails.push((normal, line_m - tail_m));
            }
        }
    }

    /// Puts the wind of a moment on the radio buoys.
    pub(crate) fn blow(&self, line: &mut Line, now_s: f64) {
        let Some(wind) =
            self.wind.iter().filter(|wind| wind.after_s <= now_s + 1e-6).max_by(|a, b| a.after_s.total_cmp(&b.after_s))
        else {
            return;
        };
        let (sin, cos) = wind.from_deg_true.to_radians().sin_cos();
        for buoy in &self.radio_buoys {
            let pull_n = 0.5 * AIR_KG_M3 * buoy.wind_area_m2 * wind.speed_m_s * wind.speed_m_s;
            // It blows from there: the pull is the other way.
            line.floats[buoy.place as usize].tether.wind_n = [-pull_n * cos, -pull_n * sin];
        }
    }

    /// Doubts that show only after the run.
    pub(crate) fn doubts(&self, lowest_m: Option<f64>, deepest_m: f64) -> Vec<GearDoubt> {
        match lowest_m {
            None => vec![GearDoubt::new(
                GearDoubtKind::NoCurrent,
                "No current was given: the line is followed in still water, where only its own weight moves it."
                    .to_owned(),
            )],
            Some(lowest_m) if lowest_m < deepest_m => vec![GearDoubt::new(
                GearDoubtKind::ProfileHeld,
                format!(
                    "The current profiles end at {lowest_m:.0} m, the gear hangs down to {deepest_m:.0} m: the lowest current was held below."
                ),
            )],
            Some(_) => Vec::new(),
        }
    }

    fn check(&self) -> Result<(), GearError> {
        self.water.check()?;
        let baskets = self.baskets();
        from_up_to("baskets", f64::from(baskets), (1.0, f64::from(MOST_BASKETS)), "", "from 1 to 3000 in all")?;
        above_up_to("duration_s", self.duration_s, (0.0, 30.0 * 86_400.0), " s", "above 0 and up to 30 days")?;
        above_up_to("step_s", self.step_s, (0.1, 3600.0), " s", "above 0.1 and up to 3600 s")?;
        above_up_to("every_s", self.every_s, (0.1, 30.0 * 86_400.0), " s", "above 0.1 s and up to 30 days")?;
        let floats = baskets as usize + 1;
        let times = &self.float_times_s;
        if !times.is_empty() && times.len() != floats {
            #[expect(clippy::cast_precision_loss, reason = "few")]
            let (given, wanted) = (times.len() as f64, floats as f64);
            return Err(GearError::Contradiction {
                field: "float times",
                value: given,
                unit: "",
                others: format!("{baskets} baskets"),
                expected: wanted,
            });
        }
        for time_s in times {
            from_up_to("set_at_s", *time_s, (0.0, 30.0 * 86_400.0), " s", "from 0 to 30 days")?;
        }
        let last = f64::from(baskets);
        for buoy in &self.radio_buoys {
            from_up_to(
                "radio_buoys.place",
                f64::from(buoy.place),
                (0.0, last),
                "",
                "a float's place in the line, from 0",
            )?;
            for (field, value) in [
                ("radio_buoys.drag_area_m2", buoy.drag_area_m2),
                ("radio_buoys.wind_area_m2", buoy.wind_area_m2),
                ("radio_buoys.drogue_area_m2", buoy.drogue_area_m2),
            ] {
                from_up_to(field, value, (0.0, 100.0), " m²", "from 0 to 100 m²")?;
            }
            from_up_to("radio_buoys.drogue_depth_m", buoy.drogue_depth_m, (0.0, 500.0), " m", "from 0 to 500 m")?;
        }
        for cut in &self.cuts {
            from_up_to("cuts.basket", f64::from(cut.basket), (1.0, last), "", "a basket's number, from 1")?;
            from_up_to("cuts.after_s", cut.after_s, (0.0, self.duration_s), " s", "within the duration")?;
        }
        for fix in &self.fixes {
            from_up_to("fixes.after_s", fix.after_s, (0.0, self.duration_s), " s", "within the duration")?;
            from_up_to("fixes.place", f64::from(fix.place), (0.0, last), "", "a float's place in the line, from 0")?;
            for (field, value) in [("fixes.east_m", fix.east_m), ("fixes.north_m", fix.north_m)] {
                from_up_to(field, value, (-1e6, 1e6), " m", "within 1000 km")?;
            }
        }
        for wind in &self.wind {
            from_up_to("wind.speed_m_s", wind.speed_m_s, (0.0, 80.0), " m/s", "from 0 to 80 m/s")?;
            from_up_to("wind.from_deg_true", wind.from_deg_true, (-360.0, 360.0), "°", "from -360° to 360°")?;
        }
        for stretch in &self.stretches {
            for bearing in &stretch.bearings_deg_true {
                from_up_to("line_bearing_deg_true", *bearing, (-360.0, 360.0), "°", "from -360° to 360°")?;
            }
        }
        Ok(())
    }
}

impl FloatState {
    fn ashore(tether: Tether, place_m: [f64; 2]) -> Self {
        Self {
            tether,
            drogue: None,
            tails: Vec::new(),
            place_m,
            velocity_m_s: [0.0; 2],
            under_m: 0.0,
            is_under: false,
            down_m: tether.length_m,
            afloat: false,
        }
    }
}

impl Line {
    /// Sag ratio from one float to another along the line: distances between the floats over main line between them.
    pub(crate) fn mean_sag(&self, from: usize, to: usize) -> Option<f64> {
        let (mut spans_m, mut line_m) = (0.0, 0.0);
        for basket in from..to {
            if !self.hangs(basket) {
                return None;
            }
            let apart = self.ends(basket).apart_m;
            spans_m += apart[0].hypot(apart[1]);
            line_m += self.baskets[basket].strand.line_m;
        }
        (line_m > 0.0).then(|| spans_m / line_m)
    }
}
