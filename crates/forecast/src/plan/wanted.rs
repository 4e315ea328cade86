//! What is asked of a plan: everything but the legs and the setting may be left out.

use gear::parts::{BranchLine, Float, FloatLine, MainLine};
use gear::{InputErrors, SettingInput};
use quantity::{Position, UtcInstant};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::error::PlanError;
use super::{MOST_LEGS, error::within};

/// A plan as the master fixes it. Fields that are not known are passed over; what is left out leaves open what rests on it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(default)]
pub struct PlanWanted {
    /// When the first float goes out, UTC.
    pub start_at: Option<UtcInstant>,
    /// Where.
    pub start: Option<StartPlace>,
    /// Courses, in order.
    pub legs: Vec<LegWanted>,
    /// What is fixed of the setting; the rest follows.
    pub setting: SettingInput,
    /// Length of the float lines, metres.
    pub float_line_m: Option<f64>,
    /// Length of the branch lines, metres.
    pub branch_line_m: Option<f64>,
    /// The main line; with the branch lines it calls for the mechanics.
    pub main_line: Option<MainLine>,
    /// The branch lines.
    pub branch: Option<BranchLine>,
    /// The float lines; 6 mm when left out.
    pub float_line: Option<FloatLine>,
    /// The floats; 30 cm half out of the water when left out.
    pub float: Option<Float>,
    /// Temperature and current by depth.
    pub water: Option<WaterWanted>,
    /// The wanted layer: from and to, metres below the surface.
    pub layer_m: Option<[f64; 2]>,
    /// What is fished for, as the boat names it.
    pub target: Option<String>,
    /// Set by night on purpose.
    pub night: Option<bool>,
    /// True (as when left out): a radio buoy hangs in place of a float. False: beside it.
    pub buoy_in_place_of_float: Option<bool>,
    /// Empty main line round each radio buoy, metres.
    pub radio_buoy_blank_m: Option<f64>,
    /// Beats that launching a radio buoy takes beyond those of its place.
    pub radio_buoy_beats: Option<f64>,
    /// What is aboard.
    pub aboard: Option<Aboard>,
    /// Zones of which the least distance is wanted.
    pub zones: Vec<ZoneWanted>,
    /// Ship time minus UTC, minutes: for printing.
    pub utc_offset_min: Option<i64>,
    /// Standard errors of the input, for the bands.
    pub errors: Option<InputErrors>,
}

/// Where the set starts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanStart))]
pub struct StartPlace {
    /// North positive.
    pub latitude_deg: f64,
    /// East positive.
    pub longitude_deg: f64,
}

/// A leg: one course held.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanLeg))]
pub struct LegWanted {
    /// Course through the water, degrees true.
    pub course_deg_true: f64,
    /// Hooks of this leg; the last leg takes what is left, whatever it says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hooks: Option<f64>,
}

/// The water.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanWater))]
#[serde(default)]
pub struct WaterWanted {
    /// By depth, in any order.
    pub levels: Vec<WaterLevel>,
    /// When it was measured or is forecast for.
    pub taken_at: Option<UtcInstant>,
    /// Where it comes from.
    pub source: Option<String>,
}

/// The water at one depth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanWaterLevel))]
pub struct WaterLevel {
    /// Below the surface, metres.
    pub depth_m: f64,
    /// Temperature, °C.
    #[serde(default)]
    pub temperature_c: Option<f64>,
    /// Current towards east, m/s.
    #[serde(default)]
    pub east_m_s: Option<f64>,
    /// Current towards north, m/s.
    #[serde(default)]
    pub north_m_s: Option<f64>,
}

/// What is aboard; what was not counted is left out.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanAboard))]
#[serde(default)]
pub struct Aboard {
    /// Main line, metres.
    pub main_line_m: Option<f64>,
    /// Branch lines.
    pub branch_lines: Option<f64>,
    /// Floats.
    pub floats: Option<f64>,
    /// Radio buoys.
    pub radio_buoys: Option<f64>,
    /// Bins in the order in which they will go out: the one filled last first.
    pub bins: Vec<BinAboard>,
    /// Bait by kind.
    pub bait: Vec<BaitAboard>,
}

/// A bin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanBinAboard))]
pub struct BinAboard {
    /// Its name.
    pub bin: String,
    /// Hooks in it.
    pub hooks: f64,
}

/// Bait of one kind.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanBaitAboard))]
#[serde(default)]
pub struct BaitAboard {
    /// What it is.
    pub bait: String,
    /// Boxes aboard.
    pub boxes: Option<f64>,
    /// Pieces in a box.
    pub pieces_per_box: Option<f64>,
    /// Share of the hooks that get it, 0 to 1; kinds without one have the rest in equal parts.
    pub share: Option<f64>,
    /// Hours that it takes to thaw aboard this boat.
    pub thaw_h: Option<f64>,
}

/// A zone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema), schema(as = PlanZone))]
pub struct ZoneWanted {
    /// Its name.
    pub name: String,
    /// Its boundary: a GeoJSON geometry (RFC 7946).
    #[serde(alias = "geojson")]
    pub geometry: Value,
}

impl PlanWanted {
    /// Refuses what no plan can have; else the start as a place.
    pub(super) fn check(&self) -> Result<Option<Position>, PlanError> {
        if self.legs.len() > MOST_LEGS {
            return Err(PlanError::TooManyLegs { legs: self.legs.len() });
        }
        for (leg, number) in self.legs.iter().zip(1..) {
            within(&format!("course_deg_true of leg {number}"), leg.course_deg_true, (-360.0, 360.0), "°")?;
            if let Some(hooks) = leg.hooks {
                whole(&format!("hooks of leg {number}"), hooks)?;
            }
        }
        for (what, value, range, unit) in [
            ("float_line_m", self.float_line_m, (0.0, 1000.0), " m"),
            ("branch_line_m", self.branch_line_m, (0.0, 1000.0), " m"),
            ("radio_buoy_blank_m", self.radio_buoy_blank_m, (0.0, 10_000.0), " m"),
            ("radio_buoy_beats", self.radio_buoy_beats, (0.0, 1000.0), ""),
        ] {
            if let Some(value) = value {
                within(what, value, range, unit)?;
            }
        }
        if let Some([from_m, to_m]) = self.layer_m {
            within("layer_m from", from_m, (0.0, 12_000.0), " m")?;
            within("layer_m to", to_m, (0.0, 12_000.0), " m")?;
            if from_m >= to_m {
                return Err(PlanError::LayerUpsideDown { from_m, to_m });
            }
        }
        if let Some(minutes) = self.utc_offset_min {
            #[expect(clippy::cast_precision_loss, reason = "only its size is looked at")]
            within("utc_offset_min", minutes as f64, (-1440.0, 1440.0), " min")?;
        }
        self.aboard.as_ref().map_or(Ok(()), Aboard::check)?;
        let place = self.start.map(|start| Position::new(start.latitude_deg, start.longitude_deg)).transpose();
        place.map_err(|why| PlanError::Start { why })
    }
}

impl Aboard {
    fn check(&self) -> Result<(), PlanError> {
        for (what, value) in [
            ("aboard.main_line_m", self.main_line_m),
            ("aboard.branch_lines", self.branch_lines),
            ("aboard.floats", self.floats),
            ("aboard.radio_buoys", self.radio_buoys),
        ] {
            if let Some(value) = value {
                within(what, value, (0.0, 1e9), "")?;
            }
        }
        for bin in &self.bins {
            whole(&format!("hooks of bin {}", shown(&bin.bin)), bin.hooks)?;
        }
        for bait in &self.bait {
            let name = shown(&bait.bait);
            for (what, value, range, unit) in [
                ("boxes", bait.boxes, (0.0, 1e6), ""),
                ("pieces_per_box", bait.pieces_per_box, (1.0, 1e6), ""),
                ("share", bait.share, (0.0, 1.0), ""),
                ("thaw_h", bait.thaw_h, (0.0, 240.0), " h"),
            ] {
                if let Some(value) = value {
                    within(&format!("{what} of bait {name}"), value, range, unit)?;
                }
            }
        }
        Ok(())
    }
}

fn shown(name: &str) -> String {
    name.chars().take(40).collect()
}

fn whole(what: &str, value: f64) -> Result<(), PlanError> {
    within(what, value, (0.0, 1e6), "")?;
    if value.fract() == 0.0 { Ok(()) } else { Err(PlanError::NotWhole { what: what.to_owned(), value }) }
}
