//! A recorded log as the `ship_state` events that it would have made.
//!
//! A state is taken at each fix of the believed source, so that its moment is that of its position; while there is
//! no fix, at any sentence with a time.

use quantity::UtcInstant;
use serde_json::Value;

use crate::cadence::Cadence;
use crate::clock::DateBasis;
use crate::decode::{Decoder, Heard};
use crate::doubt::{Doubt, about_date};
use crate::frame::Counts;
use crate::preference::SourceName;
use crate::state::{Preferences, Quantity, ShipState};

/// How long the first state waits for a fix, seconds.
const FIRST_FIX_S: f64 = 10.0;

/// What a log gives.
#[derive(Debug, Clone)]
pub struct Replayed {
    /// Moment and `data` of each `ship_state`, in the order of the log.
    pub states: Vec<(UtcInstant, Value)>,
    /// What is doubtful.
    pub doubts: Vec<Doubt>,
    /// Sentences and rejections.
    pub counts: Counts,
    /// Where the date came from at the end.
    pub date_basis: DateBasis,
}

/// The UTC day of a log's first time, and who says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogDay {
    /// A person gave it.
    Given(UtcInstant),
    /// Nobody did; the computer's day, used only when the sentences carry none either.
    Computer(UtcInstant),
}

/// Replays a log. `busy` says whether the boat is setting or hauling at a moment.
///
/// Without a given day the log is first searched for its own date; times before that get their day from it.
#[must_use]
pub fn replay_states(bytes: &[u8], day: LogDay, busy: impl Fn(UtcInstant) -> bool) -> Replayed {
    let mut doubts = Vec::new();
    let (day, basis) = match day {
        LogDay::Given(day) => (day, DateBasis::Given),
        LogDay::Computer(computer) => match day_in_sentences(bytes) {
            Some(day) => (day, DateBasis::Sentences),
            None => {
                doubts.push(Doubt::new(
                    "date_from_computer",
                    "no sentence carries a date and none was given; the computer's day is used. Give the date with --date.",
                ));
                (computer, DateBasis::Computer)
            }
        },
    };
    let mut decoder = Decoder::new(false, Some(day), basis);
    let mut state = ShipState::new(Preferences::default());
    let mut cadence = Cadence::default();
    let mut states = Vec::new();
    let (mut now, mut begun): (Option<UtcInstant>, Option<UtcInstant>) = (None, None);
    let mut first_own_date = None;
    let mut take = |heard: Heard<'_>| {
        let Some(reading) = &heard.reading else { return };
        let moves = matches!(reading.kind, b"RMC" | b"GGA" | b"GLL" | b"ZDA");
        let own = heard.time.filter(|_| moves).and_then(|time| time.utc());
        if reading.date.is_some() && reading.valid != Some(false) && first_own_date.is_none() {
            first_own_date = own;
        }
        now = own.or(now);
        let Some(moment) = now else { return };
        state.take(reading, moment);
        if own.is_none() {
            return;
        }
        // At the beginning a fix is waited for.
        let waited = moment.seconds_since(*begun.get_or_insert(moment)).abs() > FIRST_FIX_S || !states.is_empty();
        let due = match state.sent(Quantity::Position, moment) {
            Some(fix) => fix.source == SourceName::of(reading) && fix.at == moment,
            None => waited,
        };
        if due && let Some(data) = cadence.due(&state, moment, None, busy(moment)) {
            states.push((moment, data));
        }
    };
    decoder.push(bytes, &mut take);
    decoder.finish(&mut take);
    doubts.extend(first_own_date.and_then(about_date));
    let counts = decoder.counts();
    if counts.rejected > 0 {
        let text =
            format!("{} of {} sentences were rejected for framing or checksum.", counts.rejected, counts.sentences);
        doubts.push(Doubt::new("sentences_rejected", text));
    }
    if states.is_empty() {
        doubts.push(Doubt::new("no_times", "no sentence of the log carries a time; it gives no state of the ship."));
    }
    Replayed { states, doubts, counts, date_basis: decoder.clock().basis() }
}

/// The UTC day of the log's first time, counted back from its first date.
fn day_in_sentences(bytes: &[u8]) -> Option<UtcInstant> {
    let mut decoder = Decoder::new(false, None, DateBasis::Given);
    let (mut first, mut last_undated, mut dated) = (None, None, None);
    let mut take = |heard: Heard<'_>| {
        let Some(reading) = &heard.reading else { return };
        let moves = matches!(reading.kind, b"RMC" | b"GGA" | b"GLL" | b"ZDA");
        let Some(time) = heard.time.filter(|_| moves && dated.is_none()) else { return };
        if time.dated {
            dated = time.utc().filter(|_| reading.valid != Some(false));
        } else {
            first = first.or(Some(time.micros));
            last_undated = Some(time.micros);
        }
    };
    decoder.push(bytes, &mut take);
    decoder.finish(&mut take);
    let dated = dated?;
    let (Some(first), Some(last)) = (first, last_undated) else { return Some(dated.midnight()) };
    // The first time lies (last - first) before the first date, to within half a day.
    const DAY_MICROS: i64 = 86_400_000_000;
    let days = (dated.micros() - last + DAY_MICROS / 2).div_euclid(DAY_MICROS);
    UtcInstant::from_micros(first + days * DAY_MICROS).ok().map(UtcInstant::midnight)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sentence(body: &str) -> String {
        format!("${body}*{:02X}\r\n", body.bytes().fold(0, |sum, byte| sum ^ byte))
    }

    fn computer() -> LogDay {
        LogDay::Computer("2030-01-01T05:00:00Z".parse().unwrap())
    }

    #[test]
    fn verif_ten_seconds_while_busy_and_sixty_otherwise() {
        let log: String = (0..240)
            .map(|s| sentence(&format!("GPRMC,12{:02}{:02},A,3000.0,S,17000.0,E,5.0,90.0,040326,,,A", s / 60, s % 60)))
            .collect();
        let begin: UtcInstant = "2026-03-04T12:02:00Z".parse().unwrap();
        let replayed = replay_states(log.as_bytes(), computer(), |utc| utc >= begin);
        let seconds: Vec<f64> = replayed.states.iter().map(|(utc, _)| utc.seconds_since(begin) + 120.0).collect();
        let expected: Vec<f64> = [0.0, 60.0].into_iter().chain((12..24).map(|n| f64::from(n) * 10.0)).collect();
        assert_eq!(seconds, expected);
        assert_eq!(replayed.date_basis, DateBasis::Sentences);
        assert_eq!(replayed.doubts, []);
    }

    #[test]
    fn verif_a_silent_source_is_replaced_and_the_change_is_an_event() {
        let mut log = String::new();
        for s in 0..30 {
            if s < 5 {
                log += &sentence(&format!("GPRMC,1200{s:02},A,3000.0,S,17000.0,E,5.0,90.0,040326,,,A"));
            }
            log += &sentence(&format!("IIGLL,3000.1,S,17000.0,E,1200{s:02},A,A"));
        }
        let replayed = replay_states(log.as_bytes(), computer(), |_| false);
        let sources: Vec<&str> =
            replayed.states.iter().filter_map(|(_, data)| data["sources"]["position"].as_str()).collect();
        assert_eq!(sources, ["GPRMC", "IIGLL"]);
        assert_eq!(replayed.states[1].0.to_string(), "2026-03-04T12:00:15Z");
    }

    #[test]
    fn verif_dates_reach_back_over_midnight_and_the_computer_is_a_doubt() {
        let log = sentence("GPGLL,3000.1,S,17000.0,E,235958,A,A")
            + &sentence("GPGLL,3000.1,S,17000.0,E,000001,A,A")
            + &sentence("GPZDA,000002,05,03,2026,00,00");
        let replayed = replay_states(log.as_bytes(), computer(), |_| false);
        assert_eq!(replayed.states[0].0.to_string(), "2026-03-04T23:59:58Z");
        let undated = replay_states(sentence("GPGLL,3000.1,S,17000.0,E,235958,A,A").as_bytes(), computer(), |_| false);
        assert_eq!(undated.doubts[0].kind, "date_from_computer");
        assert_eq!(undated.states[0].0.to_string(), "2030-01-01T23:59:58Z");
    }

    #[test]
    fn verif_unknown_is_left_out_and_true_wind_needs_a_heading() {
        let log = sentence("GPRMC,120000,A,3000.0,S,17000.0,E,5.0,90.0,040326,,,A")
            + &sentence("WIMWV,30,T,10.0,M,A")
            + &sentence("GPGLL,3000.0,S,17000.0,E,120001,A,A")
            + &sentence("HEHDT,340.0,T")
            + &sentence("GPRMC,120100,A,3000.0,S,17000.0,E,5.0,90.0,040326,,,A");
        let without = replay_states(log.replace("HEHDT", "HEXXX").as_bytes(), computer(), |_| false);
        assert!(without.states.iter().all(|(_, data)| data.get("wind_from_deg_true").is_none()));
        let mut state = ShipState::new(Preferences::default());
        let now: UtcInstant = "2026-03-04T12:00:00Z".parse().unwrap();
        state.take(&crate::sentence::read(b"WIMWV,30,T,10.0,M,A"), now);
        state.take(&crate::sentence::read(b"HEHDT,340.0,T"), now);
        let data = state.event_data(now);
        assert_eq!(data["wind_from_deg_true"].as_f64(), Some(10.0));
        assert_eq!(data.get("latitude_deg"), None);
    }
}
