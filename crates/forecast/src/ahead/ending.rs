//! When setting will have ended, with its band.
//!
//! With x = (running time to come) ÷ (running time so far) and stops of D₁ … D_n so far, the stops to come take
//! x ΣD: a compound Poisson process of rate n/T, of mean length ΣD/n. Its variance is (rate × time) E[D²] = x ΣD²; the
//! rate itself is known from n stops, which adds x² ΣD². One standard error is √((x + x²) ΣD²).

use quantity::UtcInstant;
use voyage::{Doubt, SetRecord};

use super::answer::{AheadRestsOn, EndOfSetting};
use super::coming::Coming;

/// A rate from less running time than this is not carried on, seconds (own judgement: a stop in the first minutes says
/// nothing of the hours to come).
const LEAST_RUN_S: f64 = 600.0;

pub(super) fn end_of_setting(
    set: &SetRecord,
    coming: &Coming,
    now: UtcInstant,
    doubts: &mut Vec<Doubt>,
) -> Option<EndOfSetting> {
    let being = set.outgoing.being_set.as_ref()?;
    if coming.rests_on == AheadRestsOn::Nothing {
        return None;
    }
    let (Some(beat_s), Some(next_due_at)) = (being.beat_s, being.next_due_at) else {
        doubts.push(Doubt::new(
            "end_of_setting_unknown",
            "set",
            "When setting will have ended is not known: there is no beat.",
        ));
        return None;
    };
    let beats = coming.beats();
    let without_stops = next_due_at.plus_seconds(beats * beat_s);
    let lengths_s: Vec<f64> = set
        .outgoing
        .stops
        .iter()
        .map(|stop| stop.to.unwrap_or(now).min(now).seconds_since(stop.from).max(0.0))
        .collect();
    let stopped_s: f64 = lengths_s.iter().sum();
    let begun = set.places.first().and_then(|place| place.clipped_at).unwrap_or(set.started_at);
    let run_s = (now.seconds_since(begun) - stopped_s).max(0.0);
    let left_s = without_stops.seconds_since(now).max(0.0);
    let share = if run_s >= LEAST_RUN_S { left_s / run_s } else { 0.0 };
    let squares_s2: f64 = lengths_s.iter().map(|length_s| length_s * length_s).sum();
    let allowed_for_stops_s = share * stopped_s;
    let band_s = ((share + share * share) * squares_s2).sqrt().max(beat_s);
    if let Some(since) = being.stopped_since {
        doubts.push(Doubt::new(
            "setting_stands",
            "set",
            format!("Setting has stood still since {since}: its end moves on with every minute of it."),
        ));
    }
    if run_s < LEAST_RUN_S && !lengths_s.is_empty() {
        doubts.push(Doubt::new(
            "stops_not_counted",
            "set",
            format!(
                "Setting has run for {:.0} min only: its stops so far are not carried on to the end.",
                run_s / 60.0
            ),
        ));
    }
    Some(EndOfSetting {
        at: without_stops.plus_seconds(allowed_for_stops_s),
        band_s,
        without_stops,
        beats_left: beats,
        stops: lengths_s.len(),
        stopped_s,
        allowed_for_stops_s,
    })
}
