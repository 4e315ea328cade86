//! How fast a gear can be set and how much of it: the arithmetic of the line setter against the limits.
//!
//! `V_v = k V_s`, `l = V_s t`, `n` intervals in a basket (hooks + 1 where the float takes a beat, else hooks), as in
//! [`crate::setting`]. The ship goes as fast as its own limit, the shooter and the shortest beat let it: nothing that is
//! counted here gets better by going slower. Only whole baskets are set, and a float stands at either end of the line.

use serde::Serialize;

use super::grid::Candidate;
use super::limits::Limits;
use crate::setting::KNOT_M_S;

/// Why a gear of the grid is left out; for a gear that fits the first seven, which of them held its hooks back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// At the ship's slowest the shooter would have to pay out faster than it can.
    ShooterTooSlow,
    /// At the ship's slowest the clips would come faster than the shortest beat.
    ClipsTooFast,
    /// At the fastest that ship and shooter can, the clips still come slower than the longest beat.
    ClipsTooSlow,
    /// A basket needs more hooks than there are.
    Hooks,
    /// A basket needs more main line than there is.
    Line,
    /// A basket needs more time than there is.
    Time,
    /// There are not two floats for a basket.
    Floats,
    /// Line and branch lines together are lighter than the water.
    DoesNotSink,
    /// No shape was found in which all forces balance.
    NoBalancedShape,
    /// No balanced shape was found with the effort that a search can spend on a gear.
    TooHard,
    /// The float cannot carry its basket.
    FloatGoesUnder,
}

/// A gear as it would be set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fit {
    /// The ship's speed through the water, m/s.
    pub vessel_speed_m_s: f64,
    /// The main line's speed from the shooter, m/s.
    pub shooter_speed_m_s: f64,
    /// Seconds between two clips.
    pub beat_s: f64,
    /// Baskets of the set.
    pub baskets: u32,
    /// Main line of the set, metres.
    pub main_line_m: f64,
    /// Time of setting without stops, seconds.
    pub setting_time_s: f64,
    /// What keeps the set from having one basket more.
    pub held_by: Reason,
}

/// Digits that rounding may cost.
const ROUNDING: f64 = 1e-9;

impl Fit {
    /// Paces a gear and counts its baskets.
    ///
    /// # Errors
    /// The first limit that it does not meet.
    pub fn of(candidate: &Candidate, limits: &Limits, float_takes_a_beat: bool) -> Result<Self, Reason> {
        let way_m = candidate.sag_ratio * candidate.clip_spacing_m;
        let slowest_m_s = limits.vessel_speed_through_water_kn.from * KNOT_M_S;
        let by_shooter_m_s = candidate.sag_ratio * limits.shooter_speed_max_m_s;
        let by_beat_m_s = way_m / limits.beat_s.from;
        let least = slowest_m_s * (1.0 - ROUNDING);
        if by_shooter_m_s < least {
            return Err(Reason::ShooterTooSlow);
        }
        if by_beat_m_s < least {
            return Err(Reason::ClipsTooFast);
        }
        let fastest_m_s = limits.vessel_speed_through_water_kn.to * KNOT_M_S;
        let vessel_speed_m_s = fastest_m_s.min(by_shooter_m_s).min(by_beat_m_s);
        let beat_s = way_m / vessel_speed_m_s;
        if beat_s > limits.beat_s.to * (1.0 + ROUNDING) {
            return Err(Reason::ClipsTooSlow);
        }
        let hooks = f64::from(candidate.hooks_per_basket);
        let intervals = hooks + f64::from(u8::from(float_takes_a_beat));
        let room = [
            (Reason::Hooks, f64::from(limits.hooks) / hooks),
            (Reason::Line, limits.line_aboard_m / (intervals * candidate.clip_spacing_m)),
            (Reason::Time, limits.setting_time_max_s / (intervals * beat_s)),
            (Reason::Floats, limits.floats_aboard.map_or(f64::INFINITY, |floats| f64::from(floats) - 1.0)),
        ];
        let mut held = room[0];
        for other in room {
            if (other.1 + ROUNDING).floor() < (held.1 + ROUNDING).floor() {
                held = other;
            }
        }
        let (held_by, baskets) = (held.0, (held.1 + ROUNDING).floor());
        if baskets < 1.0 {
            return Err(held_by);
        }
        Ok(Self {
            vessel_speed_m_s,
            shooter_speed_m_s: vessel_speed_m_s / candidate.sag_ratio,
            beat_s,
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "1 to 100000 by the hooks")]
            baskets: baskets as u32,
            main_line_m: baskets * intervals * candidate.clip_spacing_m,
            setting_time_s: baskets * intervals * beat_s,
            held_by,
        })
    }
}

impl Reason {
    /// What so many gears of the grid were left out for, as a clause.
    pub(super) fn words(self, limits: &Limits) -> String {
        let vessel = limits.vessel_speed_through_water_kn;
        match self {
            Self::ShooterTooSlow => format!(
                "at the ship's slowest {} kn the shooter would have to pay out faster than {} m/s (limits.shooter_speed_max_m_s)",
                vessel.from, limits.shooter_speed_max_m_s
            ),
            Self::ClipsTooFast => format!(
                "at the ship's slowest {} kn the clips would come faster than one in {} s (limits.beat_s.from)",
                vessel.from, limits.beat_s.from
            ),
            Self::ClipsTooSlow => format!(
                "at the fastest that ship ({} kn) and shooter ({} m/s) can, the clips come slower than one in {} s (limits.beat_s.to)",
                vessel.to, limits.shooter_speed_max_m_s, limits.beat_s.to
            ),
            Self::Hooks => format!("one basket needs more than the {} hooks there are (limits.hooks_aboard, limits.hooks_wanted)", limits.hooks),
            Self::Line => format!("one basket needs more than the {} m of main line there are (limits.line_aboard_m)", limits.line_aboard_m),
            Self::Time => format!("setting one basket takes longer than {} s (limits.setting_time_max_s)", limits.setting_time_max_s),
            Self::Floats => format!(
                "one basket needs two floats and there are {} (limits.floats_aboard)",
                limits.floats_aboard.map_or_else(|| "enough".to_owned(), |floats| floats.to_string())
            ),
            Self::DoesNotSink => "main line and branch lines together are lighter than the water (main_line.density_kg_m3, branch.weight_in_water_n)".to_owned(),
            Self::NoBalancedShape => "no shape was found in which all forces balance in this current".to_owned(),
            Self::TooHard => "no balanced shape was found with the effort that a search can spend on a gear in so strong a shear (gangion depth spends more)".to_owned(),
            Self::FloatGoesUnder => "the float cannot carry its basket and goes under (float.net_buoyancy_n)".to_owned(),
        }
    }
}
