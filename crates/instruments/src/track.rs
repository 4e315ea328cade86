//! The track in a log: fixes, distance run, silences.
//!
//! One fix per distinct time, from the best source at that time (see [`crate::preference`]): a lesser source
//! counts only where no better one gave a fix within [`SOURCE_TIME_OUT_S`]. Distance is the sum of the geodesics
//! between fixes that follow each other (Karney 2013, "Algorithms for geodesics", J. Geodesy 87, 43–55); nothing
//! is smoothed. A gap is more than [`GAP_S`] between two fixes.

use quantity::{Position, UtcInstant};

use crate::clock::{DateBasis, StreamTime};
use crate::decode::{Decoder, Heard};
use crate::doubt::{Doubt, about_date};
use crate::preference::{SourceName, position_rank};

/// A better source that was silent for so long is replaced, seconds.
pub const SOURCE_TIME_OUT_S: f64 = 10.0;
/// Silence that is told as a gap, seconds.
pub const GAP_S: f64 = 60.0;
/// No fishing vessel runs faster, knots: fixes further apart are told as a doubt.
const FASTEST_KN: f64 = 60.0;
const DAY_MICROS: i64 = 86_400_000_000;

/// What a log holds.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Track {
    /// Sentences found, the rejected ones included.
    pub sentences: u64,
    /// Sentences rejected for framing or checksum.
    pub rejected: u64,
    /// First moment in the log; null where no date is known.
    pub first_utc: Option<UtcInstant>,
    /// Last moment in the log; null where no date is known.
    pub last_utc: Option<UtcInstant>,
    /// Distinct fixes used.
    pub fixes: u64,
    /// Sum of the geodesics between the fixes, metres.
    pub distance_m: f64,
    /// Silences of more than 60 s between fixes.
    pub gaps: Vec<Gap>,
    /// What is doubtful.
    pub doubts: Vec<Doubt>,
}

/// A silence.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Gap {
    /// The last fix before; null where no date is known.
    pub from_utc: Option<UtcInstant>,
    /// The first fix after; null where no date is known.
    pub to_utc: Option<UtcInstant>,
    /// How long, seconds.
    pub duration_s: f64,
}

/// One fix used for the track.
#[derive(Debug, Clone, PartialEq)]
pub struct Fix {
    /// When.
    pub time: StreamTime,
    /// Where.
    pub position: Position,
    /// Who said so.
    pub source: SourceName,
    /// Whether it came from satellites, where the source says so.
    pub satellite: Option<bool>,
}

/// The track of a whole log; `day` is the UTC day of its first time where someone knows it.
#[must_use]
pub fn track(bytes: &[u8], day: Option<UtcInstant>) -> Track {
    let mut decoder = Decoder::new(false, day, DateBasis::Given);
    let mut log = Log::default();
    decoder.push(bytes, &mut |heard| log.take(&heard));
    decoder.finish(&mut |heard| log.take(&heard));
    log.date_backwards();
    let counts = decoder.counts();
    let mut doubts = log.doubts(day);
    let fixes = chosen(&log.fixes);
    let (distance_m, gaps) = run(&fixes, &mut doubts);
    let utc = |time: Option<StreamTime>| time.and_then(StreamTime::utc);
    Track {
        sentences: counts.sentences,
        rejected: counts.rejected,
        first_utc: utc(log.times.iter().copied().min_by_key(|time| time.micros)),
        last_utc: utc(log.times.iter().copied().max_by_key(|time| time.micros)),
        fixes: fixes.len() as u64,
        distance_m,
        gaps,
        doubts,
    }
}

#[derive(Default)]
struct Log {
    times: Vec<StreamTime>,
    fixes: Vec<Fix>,
    not_satellite: u64,
    untimed_fixes: u64,
    first_own_date: Option<UtcInstant>,
}

impl Log {
    fn take(&mut self, heard: &Heard<'_>) {
        let Some(reading) = &heard.reading else { return };
        let moves = matches!(reading.kind, b"RMC" | b"GGA" | b"GLL" | b"ZDA");
        if !moves {
            return;
        }
        if let Some(time) = heard.time {
            // The date of a void RMC may be nonsense.
            if !(reading.valid == Some(false) && reading.date.is_some()) {
                self.times.push(time);
            }
            if reading.date.is_some() && reading.valid != Some(false) && self.first_own_date.is_none() {
                self.first_own_date = time.utc();
            }
        }
        let (Some(latitude_deg), Some(longitude_deg)) = (reading.latitude_deg, reading.longitude_deg) else { return };
        let Ok(position) = Position::new(latitude_deg, longitude_deg) else { return };
        let Some(time) = heard.time else {
            self.untimed_fixes += 1;
            return;
        };
        let satellite = reading.fix_quality.map(|quality| (1..=5).contains(&quality));
        self.not_satellite += u64::from(satellite == Some(false));
        self.fixes.push(Fix { time, position, source: SourceName::of(reading), satellite });
    }

    /// Times before the first date get their day from it.
    fn date_backwards(&mut self) {
        let Some(first) = self.times.iter().position(|time| time.dated).filter(|&at| at > 0) else { return };
        let days_micros = {
            let apart = self.times[first].micros - self.times[first - 1].micros;
            (apart + DAY_MICROS / 2).div_euclid(DAY_MICROS) * DAY_MICROS
        };
        let date = |time: &mut StreamTime| {
            if !time.dated {
                *time = StreamTime { micros: time.micros + days_micros, dated: true };
            }
        };
        self.times.iter_mut().for_each(date);
        self.fixes.iter_mut().for_each(|fix| date(&mut fix.time));
    }

    fn doubts(&self, day: Option<UtcInstant>) -> Vec<Doubt> {
        let mut doubts = Vec::new();
        if self.times.iter().any(|time| !time.dated) {
            doubts.push(Doubt::new(
                "date_unknown",
                "no sentence carries a date and none was given; the times of day are used, the moments are left out. \
                 Give the date with --date.",
            ));
        }
        doubts.extend(self.first_own_date.and_then(about_date));
        if let (Some(given), Some(own)) = (day, self.first_own_date)
            && own.seconds_since(given.midnight()).abs() > 2.0 * 86_400.0
        {
            doubts.push(Doubt::new(
                "date_differs",
                format!("{given} was given as the day, the sentences say {own}; theirs is used."),
            ));
        }
        if self.not_satellite > 0 {
            let text = format!(
                "{} fixes are estimated, manual or simulated, not from satellites; they are used.",
                self.not_satellite
            );
            doubts.push(Doubt::new("not_a_satellite_fix", text));
        }
        if self.untimed_fixes > 0 {
            let text = format!("{} positions carry no time and are not used.", self.untimed_fixes);
            doubts.push(Doubt::new("fix_without_time", text));
        }
        let steps = self.times.windows(2).filter(|pair| pair[1].micros < pair[0].micros - 1_000_000).count();
        if steps > 0 {
            doubts.push(Doubt::new(
                "clock_stepped_back",
                format!("the clock of the stream steps back {steps} times; the order of the log is kept."),
            ));
        }
        doubts
    }
}

/// One fix per distinct time, of the best source that is alive.
fn chosen(fixes: &[Fix]) -> Vec<&Fix> {
    let ranks: Vec<u32> = fixes.iter().map(|fix| position_rank(fix.source)).collect();
    let best = ranks.iter().copied().min().unwrap_or(0);
    let mut out: Vec<&Fix> = Vec::new();
    for (at, fix) in fixes.iter().enumerate() {
        let outdone = ranks[at] != best && has_better_near(fixes, &ranks, at);
        let repeated = out.last().is_some_and(|last| last.time == fix.time);
        if !outdone && !repeated {
            out.push(fix);
        }
    }
    out
}

/// Whether a better source gave a fix within the time-out, before or after, in the order of the log.
fn has_better_near(fixes: &[Fix], ranks: &[u32], at: usize) -> bool {
    let apart_s = |other: usize| (fixes[other].time.seconds_s() - fixes[at].time.seconds_s()).abs();
    let better = |&other: &usize| ranks[other] < ranks[at];
    let before = (0..at).rev().take_while(|&other| apart_s(other) <= SOURCE_TIME_OUT_S);
    let after = (at + 1..fixes.len()).take_while(|&other| apart_s(other) <= SOURCE_TIME_OUT_S);
    before.chain(after).any(|other| better(&other))
}

fn run(fixes: &[&Fix], doubts: &mut Vec<Doubt>) -> (f64, Vec<Gap>) {
    let (mut total_m, mut gaps, mut jumps) = (0.0, Vec::new(), 0_u64);
    for pair in fixes.windows(2) {
        let (one, two) = (pair[0], pair[1]);
        let step_m = quantity::geodesic::inverse(one.position, two.position).distance_m;
        total_m += step_m;
        let duration_s = two.time.seconds_s() - one.time.seconds_s();
        if duration_s > GAP_S {
            gaps.push(Gap { from_utc: one.time.utc(), to_utc: two.time.utc(), duration_s });
        }
        jumps += u64::from(step_m > 100.0 && step_m > FASTEST_KN * 1852.0 / 3600.0 * duration_s.abs());
    }
    if jumps > 0 {
        doubts.push(Doubt::new(
            "position_jumps",
            format!("the position jumps faster than {FASTEST_KN} kn {jumps} times; the jumps are in the distance."),
        ));
    }
    (total_m, gaps)
}
