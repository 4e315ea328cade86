//! One recorder: whose file it is, where it hung, and what is particular to its clock.

use serde::{Deserialize, Serialize};

use super::error::RecorderError;
use super::mapping::{check_offsets, refuse, within};

/// How far a recorder's clock ran ahead of UTC (behind: negative), over and above its time zone.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ClockAhead {
    /// At its first reading, seconds.
    pub at_start_s: f64,
    /// At its last reading, seconds; in between the drift is even.
    pub at_end_s: f64,
}

/// One recorder and where it hung. What it states of clock, zone and surface goes before what the mapping states.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Placement {
    /// Its file's name; `*` stands for anything.
    pub file: Option<String>,
    /// Its serial number, looked for in the file's name and in the lines before the readings.
    pub serial: Option<String>,
    /// The basket it hung in, from 1.
    pub basket: u32,
    /// What it hung on.
    pub on: HungOn,
    /// The hook position of its clip or branch line, in setting order from 1.
    pub hook_position: Option<u32>,
    /// Or: metres of main line from the basket's first float line.
    pub along_m: Option<f64>,
    /// On a branch line: metres below the clip; at the hook when left out.
    pub below_clip_m: Option<f64>,
    /// Its own time zone, hours ahead of UTC.
    pub time_zone_utc_h: Option<f64>,
    /// Its own clock.
    pub clock: Option<ClockAhead>,
    /// What it showed at the surface, metres.
    pub surface_offset_m: Option<f64>,
}

/// What a recorder hung on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum HungOn {
    /// On the main line.
    MainLine,
    /// On a branch line.
    BranchLine,
    /// At the lower end of the basket's first float line.
    FloatLineEnd,
}

impl Placement {
    pub(super) fn check(&self, number: usize) -> Result<(), RecorderError> {
        let name = format!("recorders, number {number},");
        if self.file.is_none() && self.serial.as_deref().is_none_or(|serial| serial.trim().is_empty()) {
            return refuse(&name, "has neither file nor serial; give one of them".to_owned());
        }
        if self.basket == 0 {
            return refuse(&name, "hung in basket 0; baskets count from 1".to_owned());
        }
        match (self.on, self.hook_position, self.along_m) {
            (HungOn::FloatLineEnd, None, None)
            | (HungOn::MainLine, None, Some(_))
            | (HungOn::MainLine | HungOn::BranchLine, Some(1..), None) => {}
            (HungOn::FloatLineEnd, _, _) => {
                return refuse(
                    &name,
                    "hung at a float line's end: hook_position and along_m do not belong there".to_owned(),
                );
            }
            (HungOn::MainLine, _, _) => {
                return refuse(
                    &name,
                    "hung on the main line: give hook_position (from 1) or along_m, one of them".to_owned(),
                );
            }
            (HungOn::BranchLine, _, _) => {
                return refuse(
                    &name,
                    "hung on a branch line: give its hook_position, from 1, and no along_m".to_owned(),
                );
            }
        }
        within(&name, self.along_m, 0.0..=100_000.0, "0 to 100000 m along the main line")?;
        within(&name, self.below_clip_m, 0.0..=1000.0, "0 to 1000 m below the clip")?;
        check_offsets(&name, self.time_zone_utc_h, self.clock, self.surface_offset_m)
    }

    /// Whether a file is this recorder's, by its name or by a serial number in its name or in `before_readings`.
    #[must_use]
    pub fn is_of(&self, file_name: &str, before_readings: &str) -> bool {
        let by_file = self.file.as_ref().is_none_or(|pattern| matches_pattern(pattern, file_name));
        let by_serial = self.serial.as_ref().is_none_or(|serial| {
            let serial = serial.trim();
            stands_alone(file_name, serial) || stands_alone(before_readings, serial)
        });
        by_file && by_serial
    }
}

/// Whether `part` occurs with no letter or digit touching it, so that serial 12 is not found in 4123.
fn stands_alone(text: &str, part: &str) -> bool {
    !part.is_empty()
        && text.match_indices(part).any(|(at, found)| {
            let before = text[..at].chars().next_back();
            let after = text[at + found.len()..].chars().next();
            ![before, after].into_iter().flatten().any(char::is_alphanumeric)
        })
}

/// A name against a pattern with `*`, capitals alike.
fn matches_pattern(pattern: &str, name: &str) -> bool {
    let (pattern, name) = (pattern.to_lowercase(), name.to_lowercase());
    let parts: Vec<&str> = pattern.split('*').collect();
    let [first, middle @ .., last] = parts.as_slice() else { return pattern == name };
    let Some(mut rest) = name.strip_prefix(first) else { return false };
    for part in middle {
        let Some(at) = rest.find(part) else { return false };
        rest = &rest[at + part.len()..];
    }
    rest.ends_with(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_names_match_patterns_and_serials_stand_alone() {
        assert!(matches_pattern("TDR_*.csv", "tdr_0123.CSV"));
        assert!(matches_pattern("a*b*c", "axxbyyc") && !matches_pattern("a*b*c", "axxc"));
        assert!(matches_pattern("plain.txt", "plain.txt") && !matches_pattern("plain.txt", "plain.txt.old"));
        assert!(!matches_pattern("ab*ba", "aba"));
        assert!(stands_alone("tdr_0123_set4.csv", "0123") && !stands_alone("tdr_40123.csv", "0123"));
        assert!(stands_alone("Serial: 77;\nUnit m", "77") && !stands_alone("", "77"));
    }
}
