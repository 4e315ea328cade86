//! Whether a recorder was in the water when its set was; if not, by how many hours its clock would have to be moved.
//!
//! A quarter of an hour is allowed at either end of setting and hauling. Nothing is moved here: it is told.

use quantity::UtcInstant;

use super::doubt::Doubt;

const SLACK_S: f64 = 900.0;

/// When the set was set and hauled, as far as it is known.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct SetTimes {
    /// From the first to the last clip.
    pub setting: Option<[UtcInstant; 2]>,
    /// From the first to the last branch line hauled.
    pub hauling: Option<[UtcInstant; 2]>,
    /// How far into the setting the recorder's basket had its turn, 0 to 1, if that is known: tells the likeliest hour
    /// when several would fit.
    pub turn: Option<f64>,
}

/// Whether the time in the water meets the set's times; if not, by how many hours it would.
pub(super) fn wrong_zone(
    file: &str,
    [went_in, came_out]: [Option<UtcInstant>; 2],
    times: &SetTimes,
    unfit: &mut Option<String>,
    doubts: &mut Vec<Doubt>,
) {
    let within = |moment: Option<UtcInstant>, span: Option<[UtcInstant; 2]>, shift_h: f64| match (moment, span) {
        (Some(moment), Some([from, to])) => {
            let moved = moment.plus_seconds(3600.0 * shift_h);
            moved >= from.plus_seconds(-SLACK_S) && moved <= to.plus_seconds(SLACK_S)
        }
        _ => true,
    };
    let fits = |shift_h: f64| within(went_in, times.setting, shift_h) && within(came_out, times.hauling, shift_h);
    if fits(0.0) {
        return;
    }
    let quarters: Vec<f64> =
        (-104..=104).map(|quarter| f64::from(quarter) / 4.0).filter(|shift_h| fits(*shift_h)).collect();
    // Zones are whole hours more often than halves, halves more often than quarters.
    let round = |part: f64| -> Vec<f64> {
        quarters.iter().copied().filter(|shift_h| (shift_h / part).fract().abs() < 1e-9).collect()
    };
    let candidates = [round(1.0), round(0.5), quarters.clone()].into_iter().find(|some| !some.is_empty());
    let would_fit = match candidates.as_deref().unwrap_or_default() {
        [] => "no shift of whole quarters of an hour makes it fit".to_owned(),
        [one] => format!("moved by {one:+} h it would fit"),
        [first, .., last] => {
            let likeliest = likeliest_h(went_in, times, candidates.as_deref().unwrap_or_default());
            let likeliest =
                likeliest.map_or_else(String::new, |shift_h| format!(", best by {shift_h:+} h for its basket"));
            format!("moved by {first:+} to {last:+} h it would fit{likeliest}")
        }
    };
    let told = |name: &str, span: Option<[UtcInstant; 2]>| match span {
        Some([from, to]) => format!("{name} {from} to {to}"),
        None => format!("{name} not given"),
    };
    let moment = |moment: Option<UtcInstant>, other: &str| moment.map_or_else(|| other.to_owned(), |at| at.to_string());
    let text = format!(
        "it was in the water from {} to {}, which does not meet the set ({}, {}): {would_fit}. Look at \
         time_zone_utc_h and the clock; nothing was moved, and it was not used.",
        moment(went_in, "before its first reading"),
        moment(came_out, "after its last reading"),
        told("setting", times.setting),
        told("hauling", times.hauling)
    );
    doubts.push(Doubt::new("wrong_zone", file, text));
    unfit.get_or_insert_with(|| "its times do not meet the set's".to_owned());
}

/// The shift that brings the recorder into the water nearest to its basket's turn, hours.
fn likeliest_h(went_in: Option<UtcInstant>, times: &SetTimes, candidates: &[f64]) -> Option<f64> {
    let ([from, to], turn, went_in) = (times.setting?, times.turn?, went_in?);
    let expected = from.plus_seconds(turn * to.seconds_since(from));
    let off_s = |shift_h: f64| went_in.plus_seconds(3600.0 * shift_h).seconds_since(expected).abs();
    candidates.iter().copied().min_by(|a, b| off_s(*a).total_cmp(&off_s(*b)))
}
