//! The current over depth, as vectors: read, checked, turned into the frame of the line and looked up fast.
//!
//! A profile is linear between its levels, by components (never by speed and direction), and held beyond the first and
//! the last of them. Towards east and north positive; depth down from the surface.

use serde::{Deserialize, Serialize};

use crate::error::{GearError, from_up_to};

/// The current at one depth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CurrentLevel {
    /// Below the surface, metres.
    pub depth_m: f64,
    /// Towards east, m/s.
    pub east_m_s: f64,
    /// Towards north, m/s.
    pub north_m_s: f64,
}

/// A current profile ready for the mechanics, in a frame of two horizontal axes.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    depth_m: Vec<f64>,
    velocity_m_s: Vec<[f64; 2]>,
    /// Change over depth from each level to the next, 1/s.
    slope_per_s: Vec<[f64; 2]>,
}

impl Profile {
    /// The profile in the frame of a line: first component along `bearing_deg_true`, second to starboard of it.
    /// Levels may come in any order; none is still water.
    ///
    /// # Errors
    /// [`GearError::OutOfRange`] for a depth above the surface or a speed that no sea has,
    /// [`GearError::TwoLevels`] for two currents at one depth.
    pub fn along(levels: &[CurrentLevel], bearing_deg_true: f64) -> Result<Self, GearError> {
        let mut levels = levels.to_vec();
        for level in &levels {
            from_up_to("current depth_m", level.depth_m, (0.0, 12_000.0), " m", "from 0 to 12000 m")?;
            for (field, value) in [("current east_m_s", level.east_m_s), ("current north_m_s", level.north_m_s)] {
                from_up_to(field, value, (-6.0, 6.0), " m/s", "from -6 to 6 m/s")?;
            }
        }
        levels.sort_by(|a, b| a.depth_m.total_cmp(&b.depth_m));
        if let Some(pair) = levels.windows(2).find(|pair| pair[1].depth_m - pair[0].depth_m < 1e-6) {
            return Err(GearError::TwoLevels { depth_m: pair[1].depth_m });
        }
        let (sin, cos) = bearing_deg_true.to_radians().sin_cos();
        let velocity_m_s = levels
            .iter()
            .map(|level| [level.east_m_s * sin + level.north_m_s * cos, level.east_m_s * cos - level.north_m_s * sin])
            .collect();
        Ok(Self::of(levels.iter().map(|level| level.depth_m).collect(), velocity_m_s))
    }

    /// A profile from depths that rise and the velocities at them, already in the wanted frame.
    #[must_use]
    pub fn of(depth_m: Vec<f64>, velocity_m_s: Vec<[f64; 2]>) -> Self {
        let slope_per_s = depth_m
            .windows(2)
            .zip(velocity_m_s.windows(2))
            .map(|(depth, velocity)| {
                let step_m = depth[1] - depth[0];
                [(velocity[1][0] - velocity[0][0]) / step_m, (velocity[1][1] - velocity[0][1]) / step_m]
            })
            .collect();
        Self { depth_m, velocity_m_s, slope_per_s }
    }

    /// The velocity at a depth, m/s, and its change over depth, 1/s. `near` remembers the layer for the next question.
    #[inline]
    #[must_use]
    pub fn at(&self, depth_m: f64, near: &mut usize) -> ([f64; 2], [f64; 2]) {
        let layers = self.slope_per_s.len();
        let (Some(first), Some(last)) = (self.velocity_m_s.first(), self.velocity_m_s.last()) else {
            return ([0.0; 2], [0.0; 2]);
        };
        if depth_m <= self.depth_m[0] {
            return (*first, [0.0; 2]);
        }
        if depth_m >= self.depth_m[layers] {
            return (*last, [0.0; 2]);
        }
        let mut layer = (*near).min(layers - 1);
        while depth_m < self.depth_m[layer] {
            layer -= 1;
        }
        while depth_m >= self.depth_m[layer + 1] {
            layer += 1;
        }
        *near = layer;
        let (above, slope, down_m) = (self.velocity_m_s[layer], self.slope_per_s[layer], depth_m - self.depth_m[layer]);
        ([above[0] + slope[0] * down_m, above[1] + slope[1] * down_m], slope)
    }

    /// The same profile with every velocity scaled and turned (in the sense from the first axis to the second), and a
    /// velocity taken off.
    #[must_use]
    pub fn changed(&self, scale: f64, turned_rad: f64, less_m_s: [f64; 2]) -> Self {
        let (sin, cos) = turned_rad.sin_cos();
        let velocity_m_s = self
            .velocity_m_s
            .iter()
            .map(|[x, y]| [scale * (x * cos - y * sin) - less_m_s[0], scale * (x * sin + y * cos) - less_m_s[1]])
            .collect();
        Self::of(self.depth_m.clone(), velocity_m_s)
    }

    /// The same profile with a velocity added that goes linearly from `top_m_s` at the surface to `bottom_m_s` at
    /// `bottom_m` and is held below.
    #[must_use]
    pub fn with_added(&self, bottom_m: f64, top_m_s: [f64; 2], bottom_m_s: [f64; 2]) -> Self {
        let mut depths: Vec<f64> = self.depth_m.iter().copied().chain([0.0, bottom_m]).collect();
        depths.sort_by(f64::total_cmp);
        depths.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        let mut near = 0;
        let velocity_m_s = depths
            .iter()
            .map(|depth_m| {
                let ([x, y], _) = self.at(*depth_m, &mut near);
                let along = (depth_m / bottom_m).clamp(0.0, 1.0);
                let added = |axis: usize| top_m_s[axis] + along * (bottom_m_s[axis] - top_m_s[axis]);
                [x + added(0), y + added(1)]
            })
            .collect();
        Self::of(depths, velocity_m_s)
    }

    /// Whether there is no current at any level.
    #[must_use]
    pub fn is_still(&self) -> bool {
        self.velocity_m_s.iter().all(|[x, y]| x.hypot(*y) < 1e-12)
    }

    /// The depth of the lowest level, metres; none for still water.
    #[must_use]
    pub fn lowest_m(&self) -> Option<f64> {
        self.depth_m.last().copied()
    }
}

#[cfg(test)]
mod tests {
    use quantity::testing::assert_within;

    use super::*;

    fn level(depth_m: f64, east_m_s: f64, north_m_s: f64) -> CurrentLevel {
        CurrentLevel { depth_m, east_m_s, north_m_s }
    }

    #[test]
    fn verif_a_profile_is_linear_by_components_and_held_beyond_its_ends() {
        let levels = [level(100.0, 0.0, 0.4), level(0.0, 0.3, 0.0)];
        let profile = Profile::along(&levels, 0.0).expect("valid");
        let mut near = 7;
        let (middle, slope) = profile.at(50.0, &mut near);
        // Exact by hand: half of each component; along is north, starboard is east. Rounding only.
        assert_within("along", middle[0], 0.2, 1e-15);
        assert_within("starboard", middle[1], 0.15, 1e-15);
        assert_within("slope", slope[0], 0.004, 1e-15);
        assert_within("held below", profile.at(900.0, &mut near).0[0], 0.4, 1e-15);
        assert_within("no slope below", profile.at(900.0, &mut near).1[0], 0.0, 1e-15);
        let east = Profile::along(&levels, 90.0).expect("valid");
        assert_within("along an eastward line", east.at(0.0, &mut near).0[0], 0.3, 1e-15);
        assert_within("north is to port of it", east.at(100.0, &mut near).0[1], -0.4, 1e-15);
    }

    #[test]
    fn regress_a_profile_that_cannot_be_is_refused_in_words() {
        let twice = Profile::along(&[level(10.0, 0.1, 0.0), level(10.0, 0.2, 0.0)], 0.0);
        assert!(twice.expect_err("two at one depth").to_string().contains("10 m"));
        assert!(Profile::along(&[level(-5.0, 0.1, 0.0)], 0.0).is_err());
        assert!(Profile::along(&[level(5.0, f64::NAN, 0.0)], 0.0).is_err());
        assert!(Profile::along(&[], 0.0).expect("still").is_still());
    }
}
