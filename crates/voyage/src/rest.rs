//! Rest hours of one person: the least rest in any rolling window, and the earliest start of more work.
//!
//! Rule: rest of not less than 10 hours in any 24-hour period and 77 hours in any seven-day period, for vessels at sea
//! more than three days: ILO Work in Fishing Convention, 2007 (No. 188), Article 14(1)(b). Its exceptions, Article
//! 14(2) to (4), are not judged here. Local law and the ship's own papers decide.
//!
//! Method, exact, without sampling: the work inside a window of fixed length is a piecewise linear function of where the
//! window stands, with corners only where one of its ends meets a change between work and rest. So only windows that
//! begin or end at such a change need be looked at. Calendar days play no part. Time that nobody recorded counts as rest,
//! and as work in the second answer.

use quantity::UtcInstant;
use serde::{Deserialize, Serialize};

/// Microseconds in an hour.
const HOUR_US: i64 = 3_600_000_000;
/// Window and least rest in it, microseconds: C188 Article 14(1)(b)(i) and (ii).
const DAY: Limit = Limit { window_us: 24 * HOUR_US, rest_us: 10 * HOUR_US };
/// See [`DAY`].
const WEEK: Limit = Limit { window_us: 168 * HOUR_US, rest_us: 77 * HOUR_US };
/// More separate stretches of work than this are no person's record.
pub const MOST_STRETCHES: usize = 20_000;

#[derive(Debug, Clone, Copy)]
struct Limit {
    window_us: i64,
    rest_us: i64,
}

impl Limit {
    const fn most_work_us(self) -> i64 {
        self.window_us - self.rest_us
    }
}

/// A stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Span {
    /// From when.
    pub from: UtcInstant,
    /// To when.
    pub to: UtcInstant,
}

/// The work of one person, and what is asked.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RestAsked {
    /// Stretches of work, in any order; those that overlap count once. Those after `at` are work that is planned.
    pub intervals: Vec<Span>,
    /// Stretches of which nobody knows whether they were work.
    #[serde(default)]
    pub unknown: Vec<Span>,
    /// How long the next work lasts, seconds.
    #[serde(default)]
    pub next_duration_s: Option<f64>,
    /// Now: the next work cannot start earlier.
    pub at: UtcInstant,
}

/// The window with the least rest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WorstWindow {
    /// It begins; the earliest of equal windows.
    pub from: UtcInstant,
    /// It ends.
    pub to: UtcInstant,
    /// Rest in it, seconds.
    pub rest_s: f64,
    /// The least that the rule asks for, seconds.
    pub least_rest_s: f64,
    /// Whether the rule is met in every window of this length.
    pub met: bool,
}

/// What a person's record says.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RestAnswer {
    /// The 24 hours with the least rest; time that nobody recorded taken as rest.
    pub worst_24h: WorstWindow,
    /// The seven days with the least rest; likewise.
    pub worst_7d: WorstWindow,
    /// The same with unknown time taken as work; none where no time is unknown.
    pub worst_24h_if_unknown_worked: Option<WorstWindow>,
    /// Likewise.
    pub worst_7d_if_unknown_worked: Option<WorstWindow>,
    /// The earliest moment, not before `at`, at which the next work can start so that no window that it falls in has too
    /// little rest; none where it is too long for that or its length was not given.
    pub earliest_start: Option<UtcInstant>,
    /// The same with unknown time taken as work; none where no time is unknown.
    pub earliest_start_if_unknown_worked: Option<UtcInstant>,
    /// Which rule was compared with.
    pub rule: &'static str,
    /// What is not certain.
    pub doubts: Vec<RestDoubt>,
}

/// Something that is not certain.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RestDoubt {
    /// Which kind.
    pub kind: &'static str,
    /// In plain words.
    pub text: String,
}

/// The rule in words.
pub const RULE: &str = "ILO C188 (2007) Article 14(1)(b): 10 h of rest in any 24 h and 77 h in any 7 days";

/// Why a record cannot be judged.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RestError {
    /// The length of the next work is no length.
    #[error(
        "next_duration_s is {next_duration_s}; it must be a number of seconds from 0 to 31 536 000. Nothing was computed"
    )]
    Duration {
        /// As given.
        next_duration_s: f64,
    },
    /// More stretches than a person can have.
    #[error(
        "{stretches} stretches of work; at most {MOST_STRETCHES} can be judged at once. Nothing was computed: give the last weeks only"
    )]
    TooMany {
        /// How many.
        stretches: usize,
    },
}

/// Judges a person's record.
///
/// # Errors
/// [`RestError`] when the length of the next work is no length, or the record is too long.
pub fn rest(asked: &RestAsked) -> Result<RestAnswer, RestError> {
    let stretches = asked.intervals.len().saturating_add(asked.unknown.len());
    if stretches > MOST_STRETCHES {
        return Err(RestError::TooMany { stretches });
    }
    let next_us = match asked.next_duration_s {
        Some(next_duration_s) if !(0.0..=31_536_000.0).contains(&next_duration_s) => {
            return Err(RestError::Duration { next_duration_s });
        }
        #[expect(clippy::cast_possible_truncation, reason = "a year in microseconds fits")]
        given => given.map(|next_s| (next_s * 1e6).round() as i64),
    };
    let mut doubts = Vec::new();
    let work = Work::of(good(&asked.intervals, &mut doubts));
    let unknown = good(&asked.unknown, &mut doubts);
    let both = (!unknown.is_empty()).then(|| Work::of(work.spans.iter().copied().chain(unknown).collect()));
    doubts.extend(short_record(&work, asked.at));
    let earliest = |work: &Work| next_us.and_then(|next_us| work.earliest_start_us(asked.at.micros(), next_us));
    let earliest_start = earliest(&work).map(UtcInstant::from_micros_clamped);
    if let (Some(next_us), None) = (next_us, earliest_start) {
        #[expect(clippy::cast_precision_loss, reason = "hours for reading")]
        let hours_h = next_us as f64 / HOUR_US as f64;
        doubts.push(RestDoubt {
            kind: "never_met",
            text: format!("Work of {hours_h:.1} h in one stretch leaves less than 10 h of rest in 24 h whenever it starts. Divide it."),
        });
    }
    Ok(RestAnswer {
        worst_24h: work.worst(DAY, asked.at),
        worst_7d: work.worst(WEEK, asked.at),
        worst_24h_if_unknown_worked: both.as_ref().map(|work| work.worst(DAY, asked.at)),
        worst_7d_if_unknown_worked: both.as_ref().map(|work| work.worst(WEEK, asked.at)),
        earliest_start,
        earliest_start_if_unknown_worked: both.as_ref().and_then(earliest).map(UtcInstant::from_micros_clamped),
        rule: RULE,
        doubts,
    })
}

/// Stretches as microseconds; those that end before they begin are told and left out.
fn good(spans: &[Span], doubts: &mut Vec<RestDoubt>) -> Vec<(i64, i64)> {
    let (good, turned): (Vec<&Span>, Vec<&Span>) = spans.iter().partition(|span| span.to >= span.from);
    for span in turned {
        doubts.push(RestDoubt {
            kind: "ends_before_it_begins",
            text: format!(
                "A stretch from {} to {} ends before it begins and was left out. Mend its times.",
                span.from, span.to
            ),
        });
    }
    good.into_iter().map(|span| (span.from.micros(), span.to.micros())).filter(|(from, to)| to > from).collect()
}

fn short_record(work: &Work, at: UtcInstant) -> Option<RestDoubt> {
    let since_us = work.spans.first().map(|span| at.micros().saturating_sub(span.0))?;
    (0..WEEK.window_us).contains(&since_us).then(|| {
        #[expect(clippy::cast_precision_loss, reason = "days for reading")]
        let days_d = since_us as f64 / (24.0 * HOUR_US as f64);
        RestDoubt {
            kind: "short_record",
            text: format!("The record begins {days_d:.1} days ago; what came before it counts as rest."),
        }
    })
}

/// Stretches of work, apart and in order, with sums.
#[derive(Debug)]
struct Work {
    spans: Vec<(i64, i64)>,
    /// Work before the stretch of the same index.
    before_us: Vec<i64>,
}

impl Work {
    fn of(mut spans: Vec<(i64, i64)>) -> Self {
        spans.sort_unstable();
        let mut apart: Vec<(i64, i64)> = Vec::with_capacity(spans.len());
        for (from, to) in spans {
            match apart.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => apart.push((from, to)),
            }
        }
        let mut sum_us = 0;
        let before_us = apart
            .iter()
            .map(|(from, to)| {
                let before = sum_us;
                sum_us += to - from;
                before
            })
            .collect();
        Self { spans: apart, before_us }
    }

    /// Work before a moment.
    fn until_us(&self, at_us: i64) -> i64 {
        let next = self.spans.partition_point(|span| span.0 < at_us);
        match next.checked_sub(1).and_then(|index| Some((self.spans.get(index)?, self.before_us.get(index)?))) {
            Some(((from, to), before)) => before + at_us.min(*to) - from,
            None => 0,
        }
    }

    fn within_us(&self, from_us: i64, to_us: i64) -> i64 {
        self.until_us(to_us) - self.until_us(from_us)
    }

    fn boundaries(&self) -> impl Iterator<Item = i64> + '_ {
        self.spans.iter().flat_map(|(from, to)| [*from, *to])
    }

    fn worst(&self, limit: Limit, at: UtcInstant) -> WorstWindow {
        let mut starts: Vec<i64> = self.boundaries().flat_map(|b| [b, b - limit.window_us]).collect();
        starts.push(at.micros() - limit.window_us);
        starts.sort_unstable();
        let work_us = |from: i64| self.within_us(from, from + limit.window_us);
        // The list holds at least the window that ends now.
        let mut from = at.micros() - limit.window_us;
        let mut most_us = work_us(from);
        for start in starts {
            let here_us = work_us(start);
            if here_us > most_us || (here_us == most_us && start < from) {
                (from, most_us) = (start, here_us);
            }
        }
        let rest_us = limit.window_us - most_us;
        WorstWindow {
            from: UtcInstant::from_micros_clamped(from),
            to: UtcInstant::from_micros_clamped(from + limit.window_us),
            rest_s: seconds(rest_us),
            least_rest_s: seconds(limit.rest_us),
            met: rest_us >= limit.rest_us,
        }
    }

    /// The earliest start, not before `at_us`, of more work of `next_us` that overlaps nothing and leaves enough rest in
    /// every window it falls in.
    ///
    /// Between two neighbours of a finite set of moments (where an edge of the new work or of a window that counts meets
    /// a change of the record) the work in every window that counts is linear in the start, so the starts allowed there
    /// are one stretch, and its lower end is found by dividing once.
    fn earliest_start_us(&self, at_us: i64, next_us: i64) -> Option<i64> {
        let limits = [DAY, WEEK];
        let near = Work::of(self.spans.iter().copied().filter(|span| span.1 > at_us - WEEK.window_us).collect());
        let mut corners = vec![at_us];
        for b in near.boundaries() {
            for limit in limits {
                for edge in [b - limit.window_us, b, b + limit.window_us] {
                    corners.extend([edge, edge - next_us]);
                }
            }
        }
        corners.retain(|corner| *corner >= at_us);
        corners.sort_unstable();
        corners.dedup();
        for (index, from) in corners.iter().enumerate() {
            if near.allows(*from, next_us) {
                return Some(*from);
            }
            if let Some(to) = corners.get(index + 1)
                && let Some(start) = near.first_between(*from, *to, next_us)
            {
                return Some(start);
            }
        }
        // After the last corner nothing changes any more: the last corner has spoken for all that follow.
        None
    }

    /// Windows that more work from `start_us` on falls in and that may be the worst: `(from, limit)`.
    fn windows(&self, start_us: i64, next_us: i64) -> impl Iterator<Item = (Edge, Limit)> + '_ {
        let ends_us = start_us + next_us;
        [DAY, WEEK].into_iter().flat_map(move |limit| {
            let fixed = self.boundaries().flat_map(move |b| [b, b - limit.window_us]).map(Edge::Fixed);
            let moving = [Edge::Moving(0), Edge::Moving(next_us - limit.window_us)];
            fixed
                .chain(moving)
                .filter(move |edge| {
                    let from = edge.at_us(start_us);
                    from < ends_us && from + limit.window_us > start_us
                })
                .map(move |edge| (edge, limit))
        })
    }

    fn work_with_us(&self, edge: Edge, limit: Limit, start_us: i64, next_us: i64) -> i64 {
        let from = edge.at_us(start_us);
        let to = from + limit.window_us;
        let new_us = (to.min(start_us + next_us) - from.max(start_us)).max(0);
        self.within_us(from, to) + new_us
    }

    fn allows(&self, start_us: i64, next_us: i64) -> bool {
        self.within_us(start_us, start_us + next_us) == 0
            && self
                .windows(start_us, next_us)
                .all(|(edge, limit)| self.work_with_us(edge, limit, start_us, next_us) <= limit.most_work_us())
    }

    /// The first allowed start strictly between two corners.
    fn first_between(&self, from_us: i64, to_us: i64, next_us: i64) -> Option<i64> {
        let (mut first, mut last) = (from_us + 1, to_us - 1);
        let middle = from_us + (to_us - from_us) / 2;
        if first > last || self.within_us(middle, middle + next_us) > 0 {
            return None;
        }
        for (edge, limit) in self.windows(middle, next_us) {
            let over =
                |start_us: i64| i128::from(self.work_with_us(edge, limit, start_us, next_us) - limit.most_work_us());
            let (at_first, at_last) = (over(first), over(last));
            if at_first > 0 && at_last > 0 {
                return None;
            }
            let length = i128::from(last - first);
            // Inward to whole microseconds.
            if at_first > 0 {
                let step = (at_first * length + (at_first - at_last) - 1) / (at_first - at_last);
                first += i64::try_from(step).ok()?;
            } else if at_last > 0 {
                let step = (-at_first * length) / (at_last - at_first);
                last = first + i64::try_from(step).ok()?;
            }
            if first > last {
                return None;
            }
        }
        Some(first)
    }
}

/// Where a window begins: at a moment, or so long after the start of the new work.
#[derive(Debug, Clone, Copy)]
enum Edge {
    Fixed(i64),
    Moving(i64),
}

impl Edge {
    const fn at_us(self, start_us: i64) -> i64 {
        match self {
            Self::Fixed(at_us) => at_us,
            Self::Moving(after_us) => start_us + after_us,
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "a week in microseconds is exact")]
fn seconds(us: i64) -> f64 {
    us as f64 / 1e6
}
