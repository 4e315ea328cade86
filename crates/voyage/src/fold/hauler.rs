//! The hauler's own time: clock time less its stops, within one haul part.

use quantity::UtcInstant;

use super::Fact;
use super::beats::{to_f64, to_micros};
use crate::kind::Kind;

/// The hauler's own running time within one part.
pub(crate) struct Hauler {
    stops: Vec<(i64, i64)>,
}

impl Hauler {
    pub fn gather(facts: &[Fact<'_>], indices: &[usize], until: UtcInstant) -> Self {
        let mut stops: Vec<(i64, i64)> = Vec::new();
        let mut since: Option<i64> = None;
        for &index in indices {
            match facts[index].kind() {
                Kind::HaulerStopped => since = since.or(Some(facts[index].t.micros())),
                Kind::HaulerStarted => {
                    if let Some(from) = since.take() {
                        stops.push((from, facts[index].t.micros()));
                    }
                }
                _ => {}
            }
        }
        if let Some(from) = since {
            stops.push((from, until.micros().max(from)));
        }
        Self { stops }
    }

    pub fn running_us(&self, t_us: i64) -> i64 {
        t_us - self
            .stops
            .iter()
            .take_while(|(from, _)| *from < t_us)
            .map(|(from, to)| to.min(&t_us) - from)
            .sum::<i64>()
    }

    pub fn clock_us(&self, running_us: i64) -> i64 {
        let mut t_us = running_us;
        for (from, to) in &self.stops {
            if *from < t_us {
                t_us += to - from;
            } else {
                break;
            }
        }
        t_us
    }

    /// The moment at a share of the running time between two moments.
    pub fn between(&self, from: UtcInstant, to: UtcInstant, share: f64) -> UtcInstant {
        let (from_us, to_us) = (self.running_us(from.micros()), self.running_us(to.micros()));
        let running = from_us + to_micros(to_f64(to_us - from_us) / 1e6 * share);
        UtcInstant::from_micros_clamped(self.clock_us(running))
    }

    pub fn share(&self, from: UtcInstant, to: UtcInstant, t: UtcInstant) -> f64 {
        let from_us = self.running_us(from.micros());
        let span = to_f64(self.running_us(to.micros()) - from_us);
        if span > 0.0 { to_f64(self.running_us(t.micros()) - from_us) / span } else { 0.0 }
    }
}
