//! When the ship's state becomes an event: every 10 s while setting or hauling, every 60 s otherwise, and at each
//! change of source or step of the clock.

use quantity::UtcInstant;
use serde_json::Value;

use crate::state::ShipState;

/// Between events while setting or hauling, seconds.
pub const BUSY_S: f64 = 10.0;
/// Between events otherwise, seconds.
pub const QUIET_S: f64 = 60.0;
/// A move of the clock against the time that passed that counts as a step, seconds.
pub const STEP_S: f64 = 5.0;

/// Decides when a state is due.
#[derive(Debug, Default)]
pub struct Cadence {
    last_event: Option<UtcInstant>,
    last_seen: Option<(UtcInstant, f64)>,
    last_sources: Value,
}

impl Cadence {
    /// The event's `data` when one is due at `now`. `steady_s` is any clock that never steps (seconds from any
    /// origin); a replay passes none and then only a step backwards is seen.
    pub fn due(&mut self, state: &ShipState, now: UtcInstant, steady_s: Option<f64>, busy: bool) -> Option<Value> {
        let stepped = self.last_seen.is_some_and(|(seen, seen_steady_s)| {
            let moved_s = now.seconds_since(seen);
            match steady_s {
                Some(steady_s) => (moved_s - (steady_s - seen_steady_s)).abs() > STEP_S,
                None => moved_s < -STEP_S,
            }
        });
        self.last_seen = Some((now, steady_s.unwrap_or(0.0)));
        let interval_s = if busy { BUSY_S } else { QUIET_S };
        let elapsed = self.last_event.is_none_or(|last| now.seconds_since(last) >= interval_s);
        let data = state.event_data(now);
        let sources = &data["sources"];
        if !(stepped || elapsed || changed(&self.last_sources, sources)) {
            return None;
        }
        self.last_event = Some(now);
        self.last_sources = sources.clone();
        Some(data)
    }
}

/// A quantity came, went, or changed its source.
fn changed(before: &Value, after: &Value) -> bool {
    before != after
}
