//! The current around a whole line: profiles at moments and at baskets, linear between, held beyond.

use serde::{Deserialize, Serialize};

use crate::current::{CurrentLevel, Profile};
use crate::error::GearError;

/// A current profile at a moment, somewhere along the line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ProfileAt {
    /// Seconds after the beginning; 0 when left out.
    #[serde(default)]
    pub after_s: f64,
    /// The basket (from 1) where it holds; along all of the line when left out.
    #[serde(default)]
    pub basket: Option<f64>,
    /// The current over depth, towards.
    pub current: Vec<CurrentLevel>,
}

/// All profiles, on common depths, in the north–east frame.
#[derive(Debug, Clone)]
pub(crate) struct Field {
    depth_m: Vec<f64>,
    /// By place along the line, each with its moments in order.
    places: Vec<Place>,
}

#[derive(Debug, Clone)]
struct Place {
    basket: f64,
    moments: Vec<(f64, Vec<[f64; 2]>)>,
}

impl Field {
    pub(crate) fn new(profiles: &[ProfileAt]) -> Result<Self, GearError> {
        let mut depth_m: Vec<f64> =
            profiles.iter().flat_map(|profile| profile.current.iter().map(|level| level.depth_m)).collect();
        depth_m.sort_by(f64::total_cmp);
        depth_m.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
        let mut places: Vec<Place> = Vec::new();
        for profile in profiles {
            let whole = Profile::along(&profile.current, 0.0)?;
            let mut near = 0;
            let values = depth_m.iter().map(|depth_m| whole.at(*depth_m, &mut near).0).collect();
            let basket = profile.basket.unwrap_or(f64::NEG_INFINITY);
            let moment = (profile.after_s, values);
            match places.iter_mut().find(|place| place.basket.total_cmp(&basket).is_eq()) {
                Some(place) => place.moments.push(moment),
                None => places.push(Place { basket, moments: vec![moment] }),
            }
        }
        for place in &mut places {
            place.moments.sort_by(|a, b| a.0.total_cmp(&b.0));
        }
        // A profile for all of the line stands in only where no place is given.
        if places.iter().any(|place| place.basket.is_finite()) {
            places.retain(|place| place.basket.is_finite());
        }
        places.sort_by(|a, b| a.basket.total_cmp(&b.basket));
        Ok(Self { depth_m, places })
    }

    /// The profiles of all baskets at a moment: one for all of them where the current does not vary along the line.
    pub(crate) fn at(&self, after_s: f64, baskets: usize) -> Vec<Profile> {
        match self.places.as_slice() {
            [] => vec![Profile::of(Vec::new(), Vec::new())],
            [only] => vec![Profile::of(self.depth_m.clone(), only.at(after_s))],
            places => {
                let values: Vec<Vec<[f64; 2]>> = places.iter().map(|place| place.at(after_s)).collect();
                (0..baskets)
                    .map(|index| {
                        #[expect(clippy::cast_precision_loss, reason = "baskets are few")]
                        let basket = index as f64 + 1.0;
                        let next = places.partition_point(|place| place.basket < basket).clamp(1, places.len() - 1);
                        let (from, to) = (places[next - 1].basket, places[next].basket);
                        let share = ((basket - from) / (to - from)).clamp(0.0, 1.0);
                        Profile::of(self.depth_m.clone(), between(&values[next - 1], &values[next], share))
                    })
                    .collect()
            }
        }
    }

    /// Whether the current is the same at all times.
    pub(crate) fn is_steady(&self) -> bool {
        self.places.iter().all(|place| place.moments.len() < 2)
    }

    pub(crate) fn lowest_m(&self) -> Option<f64> {
        self.depth_m.last().copied()
    }
}

impl Place {
    fn at(&self, after_s: f64) -> Vec<[f64; 2]> {
        let moments = &self.moments;
        if moments.len() < 2 {
            return moments.first().map(|moment| moment.1.clone()).unwrap_or_default();
        }
        let next = moments.partition_point(|moment| moment.0 < after_s).clamp(1, moments.len() - 1);
        let (from, to) = (&moments[next - 1], &moments[next]);
        let span_s = to.0 - from.0;
        let share = if span_s > 0.0 { ((after_s - from.0) / span_s).clamp(0.0, 1.0) } else { 1.0 };
        between(&from.1, &to.1, share)
    }
}

fn between(from: &[[f64; 2]], to: &[[f64; 2]], share: f64) -> Vec<[f64; 2]> {
    from.iter()
        .zip(to)
        .map(|(from, to)| [from[0] + share * (to[0] - from[0]), from[1] + share * (to[1] - from[1])])
        .collect()
}
