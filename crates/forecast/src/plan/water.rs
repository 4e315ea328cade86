//! The water of a plan: the levels that can be used, isotherms, the shear.

use gear::current::{CurrentLevel, Profile};
use voyage::Doubt;

use super::answer::{Isotherm, Level, Stretch};
use super::wanted::{PlanWanted, WaterLevel};

/// How much stronger the current is taken for the second count, m/s.
pub(super) const STRONGER_M_S: f64 = 0.1;
/// A profile older than this at the start is a doubt, seconds (a judgement).
const OLD_S: f64 = 24.0 * 3600.0;
/// Isotherms that a picture bears.
const MOST_ISOTHERMS: f64 = 12.0;

/// Temperature and current, downward, one value a depth.
#[derive(Debug, Default)]
pub(super) struct Water {
    temperature: Vec<(f64, f64)>,
    pub current: Vec<CurrentLevel>,
}

impl Water {
    pub(super) fn of(wanted: &PlanWanted, doubts: &mut Vec<Doubt>) -> Self {
        let Some(given) = &wanted.water else { return Self::default() };
        let mut levels: Vec<WaterLevel> =
            given.levels.iter().copied().filter(|level| (0.0..=12_000.0).contains(&level.depth_m)).collect();
        let mut left_out = given.levels.len() - levels.len();
        levels.sort_by(|a, b| a.depth_m.total_cmp(&b.depth_m));
        let mut water = Self::default();
        for level in levels {
            let depth_m = level.depth_m;
            let twice = |last: Option<f64>| last.is_some_and(|last_m| depth_m - last_m < 1e-6);
            if let Some(celsius) = level.temperature_c {
                let known = twice(water.temperature.last().map(|last| last.0));
                if (-4.0..=45.0).contains(&celsius) && !known {
                    water.temperature.push((depth_m, celsius));
                } else {
                    left_out += 1;
                }
            }
            let flows = |m_s: f64| (-6.0..=6.0).contains(&m_s);
            match level.east_m_s.zip(level.north_m_s) {
                Some((east_m_s, north_m_s)) => {
                    let known = twice(water.current.last().map(|last| last.depth_m));
                    if flows(east_m_s) && flows(north_m_s) && !known {
                        water.current.push(CurrentLevel { depth_m, east_m_s, north_m_s });
                    } else {
                        left_out += 1;
                    }
                }
                None if level.east_m_s.is_some() || level.north_m_s.is_some() => left_out += 1,
                None => {}
            }
        }
        if left_out > 0 {
            let text = format!(
                "{left_out} values of the water profile were left out: a depth above the surface, a value that no sea has, a current without its other part, or two at one depth."
            );
            doubts.push(Doubt::new("profile_values_left_out", "water", text));
        }
        if let Some(old_s) = given.taken_at.zip(wanted.start_at).map(|(taken, start)| start.seconds_since(taken))
            && old_s > OLD_S
        {
            let text = format!("The water profile is {:.0} h old when setting starts.", old_s / 3600.0);
            doubts.push(Doubt::new("profile_old", "water", text));
        }
        water
    }

    /// Current at the surface, m/s east and north: the highest level held up; none where no current is known.
    pub(super) fn surface(&self) -> Option<[f64; 2]> {
        self.current.first().map(|level| [level.east_m_s, level.north_m_s])
    }

    /// Current at a depth, m/s east and north.
    fn at(&self, depth_m: f64) -> [f64; 2] {
        Profile::along(&self.current, 0.0).map_or([0.0; 2], |profile| {
            let ([north_m_s, east_m_s], _) = profile.at(depth_m, &mut 0);
            [east_m_s, north_m_s]
        })
    }

    /// The current at the surface less that at a depth; none where there is none to speak of.
    pub(super) fn shear(&self, deepest_m: f64) -> Option<[f64; 2]> {
        let (upper, lower) = (self.surface()?, self.at(deepest_m));
        let shear = [upper[0] - lower[0], upper[1] - lower[1]];
        (shear[0].hypot(shear[1]) > 1e-3).then_some(shear)
    }

    /// The current with 0.1 m/s more between the surface and `deepest_m`, in the direction of the shear; across a line on
    /// `course_deg_true` where there is none.
    pub(super) fn stronger(&self, deepest_m: f64, course_deg_true: f64) -> Vec<CurrentLevel> {
        let across = (course_deg_true + 90.0).to_radians();
        let [east, north] = self.shear(deepest_m).unwrap_or([across.sin(), across.cos()]);
        let size = east.hypot(north);
        let mut depths: Vec<f64> = self.current.iter().map(|level| level.depth_m).collect();
        depths.extend([0.0, deepest_m]);
        depths.sort_by(f64::total_cmp);
        depths.dedup_by(|a, b| (*a - *b).abs() < 1e-3);
        depths
            .into_iter()
            .map(|depth_m| {
                let more_m_s = STRONGER_M_S * (1.0 - depth_m / deepest_m).max(0.0) / size;
                let [east_m_s, north_m_s] = self.at(depth_m);
                let held = |m_s: f64| m_s.clamp(-6.0, 6.0);
                CurrentLevel {
                    depth_m,
                    east_m_s: held(east_m_s + more_m_s * east),
                    north_m_s: held(north_m_s + more_m_s * north),
                }
            })
            .collect()
    }

    pub(super) fn temperature_rows(&self) -> Vec<Level> {
        self.temperature
            .iter()
            .map(|(depth_m, temperature_c)| Level { depth_m: *depth_m, temperature_c: *temperature_c })
            .collect()
    }

    /// Whole degrees down to a depth, by proportion between the levels, so far apart that there are few enough to read.
    pub(super) fn isotherms(&self, floor_m: f64) -> Vec<Isotherm> {
        let seen = self.temperature.iter().filter(|(depth_m, _)| *depth_m <= floor_m).map(|(_, celsius)| *celsius);
        let (low, high) = seen.fold((f64::MAX, f64::MIN), |(low, high), celsius| (low.min(celsius), high.max(celsius)));
        let step_c = [1.0, 2.0, 5.0].into_iter().find(|step| (high - low) / step <= MOST_ISOTHERMS).unwrap_or(10.0);
        let mut isotherms = Vec::new();
        for pair in self.temperature.windows(2) {
            let [(upper_m, above), (lower_m, below)] = pair else { continue };
            let (least, most) = (above.min(*below), above.max(*below));
            let mut celsius = (least / step_c).ceil() * step_c;
            while celsius <= most {
                // The lower end belongs to the next pair.
                let whole = below - above;
                let at_lower_end = (celsius - below).abs() < 1e-12;
                if whole.abs() > 1e-12 && !at_lower_end {
                    let depth_m = upper_m + (celsius - above) / whole * (lower_m - upper_m);
                    isotherms.push(Isotherm { temperature_c: celsius, depth_m });
                }
                celsius += step_c;
            }
        }
        if let Some((depth_m, celsius)) = self.temperature.last()
            && ((celsius / step_c).round() * step_c - celsius).abs() < 1e-12
            && self.temperature.len() > 1
        {
            isotherms.push(Isotherm { temperature_c: *celsius, depth_m: *depth_m });
        }
        isotherms.retain(|isotherm| isotherm.depth_m <= floor_m);
        isotherms.sort_by(|a, b| a.depth_m.total_cmp(&b.depth_m));
        isotherms
    }
}

/// A round depth below the deepest band and the layer.
pub(super) fn draw_to_m(stretches: &[Stretch], layer_m: Option<[f64; 2]>) -> f64 {
    let hooks = stretches.iter().filter_map(|stretch| stretch.section.as_ref()).flat_map(|section| &section.hooks);
    let deepest_m = hooks.map(|hook| hook.depth_m + hook.band_m.unwrap_or(0.0)).fold(0.0, f64::max);
    let lowest_m = layer_m.map_or(deepest_m, |[_, to_m]| deepest_m.max(to_m));
    if lowest_m <= 0.0 {
        return 400.0;
    }
    let step_m = [5.0, 10.0, 20.0, 50.0, 100.0].into_iter().find(|step| lowest_m / step <= 6.0).unwrap_or(200.0);
    (lowest_m * 1.04 / step_m).ceil() * step_m
}
