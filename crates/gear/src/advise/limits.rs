//! What the boat can do: speeds, line, hooks, floats and time aboard, and the ranges in which the gear may be varied.
//!
//! Ranges that are left out are taken from common practice (judgements, no source), and each is told, see
//! [`LimitsGiven::settle`].

use serde::{Deserialize, Serialize};

use crate::error::{GearError, above_up_to, from_up_to, short};
use crate::setting::{KNOT_M_S, count};

/// From one number to another, both included.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Range {
    /// The lower end.
    pub from: f64,
    /// The upper end.
    pub to: f64,
}

/// Limits as they are told; whatever is left out is taken from common practice.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(default)]
pub struct LimitsGiven {
    /// The ship's speed through the water while setting, knots; 5 to 9 when left out.
    pub vessel_speed_through_water_kn: Option<Range>,
    /// The fastest that the shooter pays out, m/s; 7 when left out.
    pub shooter_speed_max_m_s: Option<f64>,
    /// Main line aboard, metres; 100,000 when left out.
    pub line_aboard_m: Option<f64>,
    /// Hooks aboard; 2,500 when left out and no hooks are wanted either.
    pub hooks_aboard: Option<f64>,
    /// Hooks that shall be set at most.
    pub hooks_wanted: Option<f64>,
    /// Floats aboard, one more than baskets being needed; no limit when left out.
    pub floats_aboard: Option<f64>,
    /// The longest that setting may take, seconds; 21,600 (six hours) when left out.
    pub setting_time_max_s: Option<f64>,
    /// Seconds between two clips that the crew can keep up; 5 to 12 when left out.
    pub beat_s: Option<Range>,
    /// Main line between two clips, metres; 30 to 60 when left out, or what a given beat can make.
    pub clip_spacing_m: Option<Range>,
    /// Hooks between two floats, whole numbers; 5 to 30 when left out.
    pub hooks_per_basket: Option<Range>,
    /// Span between floats ÷ main line between them, below 1; 0.5 to 0.95 when left out.
    pub sag_ratio: Option<Range>,
    /// Lengths of the float lines aboard, metres; 20 and 30 when left out.
    pub float_lines_m: Option<Vec<f64>>,
}

/// Limits with nothing left open.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Limits {
    /// The ship's speed through the water while setting, knots.
    pub vessel_speed_through_water_kn: Range,
    /// The fastest that the shooter pays out, m/s.
    pub shooter_speed_max_m_s: f64,
    /// Main line aboard, metres.
    pub line_aboard_m: f64,
    /// Hooks that may be set: the fewer of aboard and wanted.
    pub hooks: u32,
    /// Floats aboard; none is no limit.
    pub floats_aboard: Option<u32>,
    /// The longest that setting may take, seconds.
    pub setting_time_max_s: f64,
    /// Seconds between two clips.
    pub beat_s: Range,
    /// Main line between two clips, metres.
    pub clip_spacing_m: Range,
    /// Hooks between two floats, whole numbers.
    pub hooks_per_basket: Range,
    /// Span between floats ÷ main line between them.
    pub sag_ratio: Range,
    /// Lengths of the float lines aboard, metres, rising, none twice.
    pub float_lines_m: Vec<f64>,
}

impl LimitsGiven {
    /// The names of its fields.
    pub const FIELDS: [&'static str; 12] = [
        "vessel_speed_through_water_kn",
        "shooter_speed_max_m_s",
        "line_aboard_m",
        "hooks_aboard",
        "hooks_wanted",
        "floats_aboard",
        "setting_time_max_s",
        "beat_s",
        "clip_spacing_m",
        "hooks_per_basket",
        "sag_ratio",
        "float_lines_m",
    ];

    /// The limits with nothing left open, and what was taken from common practice, each with its number.
    ///
    /// # Errors
    /// [`GearError::OutOfRange`] for counts that are none.
    pub fn settle(&self) -> Result<(Limits, Vec<String>), GearError> {
        let mut taken = Vec::new();
        let mut range = |given: Option<Range>, name: &str, (from, to): (f64, f64), unit: &str| {
            given.unwrap_or_else(|| {
                taken.push(format!("limits.{name} {} to {}{unit}", short(from), short(to)));
                Range { from, to }
            })
        };
        let vessel = range(self.vessel_speed_through_water_kn, "vessel_speed_through_water_kn", (5.0, 9.0), " kn");
        let beat = range(self.beat_s, "beat_s", (5.0, 12.0), " s");
        let hooks_per_basket = range(self.hooks_per_basket, "hooks_per_basket", (5.0, 30.0), "");
        let sag_ratio = range(self.sag_ratio, "sag_ratio", (0.5, 0.95), "");
        let shooter_speed_max_m_s = self.shooter_speed_max_m_s.unwrap_or(7.0);
        let spacing = match (self.beat_s, shooter_speed_max_m_s > 0.0) {
            // Whatever the given beat makes at the speeds that the shooter can have, in whole metres.
            (Some(beat), true) => {
                let slowest_m_s = vessel.from * KNOT_M_S / sag_ratio.to;
                let from_m = (slowest_m_s * beat.from).ceil();
                (from_m, (shooter_speed_max_m_s * beat.to).floor().max(from_m))
            }
            _ => (30.0, 60.0),
        };
        let clip_spacing_m = range(self.clip_spacing_m, "clip_spacing_m", spacing, " m");
        let mut number = |given: Option<f64>, name: &str, value: f64, unit: &str| {
            given.unwrap_or_else(|| {
                taken.push(format!("limits.{name} {}{unit}", short(value)));
                value
            })
        };
        number(self.shooter_speed_max_m_s, "shooter_speed_max_m_s", shooter_speed_max_m_s, " m/s");
        let line_aboard_m = number(self.line_aboard_m, "line_aboard_m", 100_000.0, " m");
        let setting_time_max_s = number(self.setting_time_max_s, "setting_time_max_s", 21_600.0, " s");
        let most = "a whole number from 1 to 100000";
        let aboard = count("limits.hooks_aboard", self.hooks_aboard, 100_000, most)?;
        let wanted = count("limits.hooks_wanted", self.hooks_wanted, 100_000, most)?;
        let floats_aboard = count("limits.floats_aboard", self.floats_aboard, 100_000, most)?;
        let hooks = match (aboard, wanted) {
            (Some(aboard), Some(wanted)) => aboard.min(wanted),
            (Some(hooks), None) | (None, Some(hooks)) => hooks,
            (None, None) => {
                taken.push("limits.hooks_aboard 2500".to_owned());
                2500
            }
        };
        if floats_aboard.is_none() {
            taken.push("limits.floats_aboard as many as needed".to_owned());
        }
        let mut float_lines_m = self.float_lines_m.clone().unwrap_or_else(|| {
            taken.push("limits.float_lines_m 20 and 30 m".to_owned());
            vec![20.0, 30.0]
        });
        float_lines_m.sort_by(f64::total_cmp);
        float_lines_m.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        let limits = Limits {
            vessel_speed_through_water_kn: vessel,
            shooter_speed_max_m_s,
            line_aboard_m,
            hooks,
            floats_aboard,
            setting_time_max_s,
            beat_s: beat,
            clip_spacing_m,
            hooks_per_basket,
            sag_ratio,
            float_lines_m,
        };
        Ok((limits, taken))
    }
}

impl Limits {
    pub(super) fn check(&self) -> Result<(), GearError> {
        Rule {
            fields: ["limits.vessel_speed_through_water_kn.from", "limits.vessel_speed_through_water_kn.to"],
            within: (0.0, 40.0),
            unit: " kn",
            rule: "above 0 and up to 40 kn",
        }
        .check(self.vessel_speed_through_water_kn)?;
        Rule {
            fields: ["limits.beat_s.from", "limits.beat_s.to"],
            within: (0.0, 3600.0),
            unit: " s",
            rule: "above 0 and up to 3600 s",
        }
        .check(self.beat_s)?;
        Rule {
            fields: ["limits.clip_spacing_m.from", "limits.clip_spacing_m.to"],
            within: (0.0, 2000.0),
            unit: " m",
            rule: "above 0 and up to 2000 m",
        }
        .check(self.clip_spacing_m)?;
        let per_basket = Rule {
            fields: ["limits.hooks_per_basket.from", "limits.hooks_per_basket.to"],
            within: (0.0, 400.0),
            unit: "",
            rule: "a whole number from 1 to 400",
        };
        per_basket.check(self.hooks_per_basket)?;
        for (field, value) in per_basket.fields.into_iter().zip([self.hooks_per_basket.from, self.hooks_per_basket.to])
        {
            count(field, Some(value), 400, per_basket.rule)?;
        }
        Rule {
            fields: ["limits.sag_ratio.from", "limits.sag_ratio.to"],
            within: (0.0, 0.999),
            unit: "",
            rule: "above 0 and up to 0.999 (span between floats ÷ main line between them; 1 is a taut line)",
        }
        .check(self.sag_ratio)?;
        let shooter = self.shooter_speed_max_m_s;
        above_up_to("limits.shooter_speed_max_m_s", shooter, (0.0, 40.0), " m/s", "above 0 and up to 40 m/s")?;
        above_up_to("limits.line_aboard_m", self.line_aboard_m, (0.0, 1e6), " m", "above 0 and up to 1000000 m")?;
        let time_s = self.setting_time_max_s;
        above_up_to("limits.setting_time_max_s", time_s, (0.0, 864_000.0), " s", "above 0 and up to 864000 s")?;
        if self.float_lines_m.is_empty() || self.float_lines_m.len() > 20 {
            #[expect(clippy::cast_precision_loss, reason = "a count for a sentence")]
            let value = self.float_lines_m.len() as f64;
            let rule = "a list of 1 to 20 lengths";
            return Err(GearError::OutOfRange { field: "limits.float_lines_m", value, unit: " lengths", rule });
        }
        for length_m in &self.float_lines_m {
            from_up_to("limits.float_lines_m", *length_m, (0.0, 1000.0), " m", "from 0 to 1000 m each")?;
        }
        Ok(())
    }
}

/// What a range may be.
struct Rule {
    fields: [&'static str; 2],
    within: (f64, f64),
    unit: &'static str,
    rule: &'static str,
}

impl Rule {
    fn check(&self, range: Range) -> Result<(), GearError> {
        above_up_to(self.fields[0], range.from, self.within, self.unit, self.rule)?;
        above_up_to(self.fields[1], range.to, self.within, self.unit, self.rule)?;
        let rule = "not below its from";
        from_up_to(self.fields[1], range.to, (range.from, self.within.1), self.unit, rule).map(|_| ())
    }
}
