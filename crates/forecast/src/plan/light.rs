//! Daylight, night and the moon round the setting, seen from where the ship is.
//!
//! Day from sunrise (centre −50′), night below nautical twilight (−12°): as in the strip of a set.

use quantity::{UtcInstant, moon, sun};
use voyage::Doubt;

use super::answer::{LightSpan, SkyEvent, SkyEventKind, SkyLight, SkyWindow};
use super::line::Line;
use super::wanted::PlanWanted;
use super::way::Way;

/// How long before and after the setting the window reaches, seconds.
const MARGIN_S: f64 = 6.0 * 3600.0;
/// Steps of the search for rise and set, seconds: the sun cannot come and go between two of them but at the poles.
const STEP_S: f64 = 600.0;
/// Steps along the hooks.
const HOOK_STEPS: u32 = 96;
const DAY_S: f64 = 86_400.0;

/// Hooks that go out by daylight; none where times or places are not known.
pub(super) fn hooks_by_daylight(wanted: &PlanWanted, line: &Line, way: &Way) -> Option<u32> {
    wanted.start_at?;
    let hooks = line.hooks()?;
    let by_day = |hook: u32| -> Option<bool> {
        let beats = line.beat_of_hook(hook);
        let altitude_deg = sun::altitude_deg(way.place_at(beats)?, way.time_at(beats)?).ok()?;
        Some(altitude_deg >= sun::RISE_ALTITUDE_DEG)
    };
    let steps = hooks.min(HOOK_STEPS);
    let mut from = 1;
    let mut day = by_day(from)?;
    let mut count = u32::from(day);
    for step in 1..=steps {
        let to = 1 + u32::try_from(u64::from(hooks - 1) * u64::from(step) / u64::from(steps)).unwrap_or(0);
        let day_then = by_day(to)?;
        // The first hook of the other light.
        let (mut before, mut after) = (from, to);
        while day != day_then && after - before > 1 {
            let middle = before.midpoint(after);
            if by_day(middle)? == day { before = middle } else { after = middle }
        }
        if day == day_then {
            count += if day { to - from } else { 0 };
        } else {
            count += if day { before - from } else { to - before };
        }
        (from, day) = (to, day_then);
    }
    Some(count)
}

pub(super) fn night_warning(wanted: &PlanWanted, by_daylight: Option<u32>, hooks: Option<u32>) -> Vec<Doubt> {
    match (wanted.night, by_daylight, hooks) {
        (Some(true), Some(by_daylight), Some(hooks)) if by_daylight > 0 => {
            let text = format!(
                "Night setting was chosen: {by_daylight} of {hooks} hooks go out by daylight (upper edge of the sun above the horizon)."
            );
            vec![Doubt::new("hooks_by_daylight", "plan", text)]
        }
        _ => Vec::new(),
    }
}

/// Sun and moon round the setting; none without a start and its time.
pub(super) fn window(way: &Way, doubts: &mut Vec<Doubt>) -> Option<SkyWindow> {
    let start = way.start_at()?;
    way.place_at(0.0)?;
    let end = way.last_at().unwrap_or(start);
    let (from, to) = (start.plus_seconds(-MARGIN_S), end.plus_seconds(MARGIN_S));
    let altitude_deg = |at: UtcInstant| sun::altitude_deg(way.place_when(at)?, at).ok();
    if let Some(error) = way.place_at(0.0).and_then(|place| sun::altitude_deg(place, from).err()) {
        doubts.push(Doubt::new("sky_unknown", "plan", format!("Sun and moon are not known: {error}.")));
        return None;
    }
    let whole_s = to.seconds_since(from);
    let step_s = STEP_S.max(whole_s / 2000.0);
    let heights = [
        (sun::RISE_ALTITUDE_DEG, SkyEventKind::Sunrise, SkyEventKind::Sunset),
        (sun::NAUTICAL_ALTITUDE_DEG, SkyEventKind::NauticalDawn, SkyEventKind::NauticalDusk),
    ];
    let mut events: Vec<SkyEvent> = Vec::new();
    let mut before = (from, altitude_deg(from)?);
    while before.0 < to {
        let at = before.0.plus_seconds(step_s).min(to);
        let after = (at, altitude_deg(at)?);
        for (height_deg, rises, sets) in heights {
            if (before.1 >= height_deg) != (after.1 >= height_deg) {
                let what = if after.1 >= height_deg { rises } else { sets };
                events.push(SkyEvent { what, at: passage(before.0, after.0, height_deg, &altitude_deg)? });
            }
        }
        before = after;
    }
    events.sort_by_key(|event| event.at);
    let bars = bars(from, to, &events, &altitude_deg)?;
    moon_events(way, from, to, &mut events);
    events.sort_by_key(|event| (event.at, event.what));
    let middle = start.plus_seconds(0.5 * end.seconds_since(start));
    Some(SkyWindow { from, to, bars, events, moon_illuminated: moon::illuminated_fraction(middle).ok() })
}

/// When the sun passes a height between two times, to the second.
fn passage(
    from: UtcInstant,
    to: UtcInstant,
    height_deg: f64,
    altitude_deg: &impl Fn(UtcInstant) -> Option<f64>,
) -> Option<UtcInstant> {
    let up = altitude_deg(to)? >= height_deg;
    let (mut low, mut high) = (0.0, to.seconds_since(from));
    while high - low > 0.5 {
        let middle = f64::midpoint(low, high);
        if (altitude_deg(from.plus_seconds(middle))? >= height_deg) == up { high = middle } else { low = middle }
    }
    let at = from.plus_seconds(high);
    Some(at.plus_seconds(-at.second_of_day_s().fract()))
}

fn bars(
    from: UtcInstant,
    to: UtcInstant,
    events: &[SkyEvent],
    altitude_deg: &impl Fn(UtcInstant) -> Option<f64>,
) -> Option<Vec<LightSpan>> {
    let mut edges = vec![from];
    edges.extend(events.iter().map(|event| event.at).filter(|at| *at > from && *at < to));
    edges.push(to);
    let mut bars: Vec<LightSpan> = Vec::new();
    for pair in edges.windows(2) {
        let [from, to] = *pair else { continue };
        if to <= from {
            continue;
        }
        let middle_deg = altitude_deg(from.plus_seconds(0.5 * to.seconds_since(from)))?;
        let light = if middle_deg >= sun::RISE_ALTITUDE_DEG {
            SkyLight::Day
        } else if middle_deg >= sun::NAUTICAL_ALTITUDE_DEG {
            SkyLight::Twilight
        } else {
            SkyLight::Night
        };
        match bars.last_mut() {
            Some(last) if last.light == light => last.to = to,
            _ => bars.push(LightSpan { from, to, light }),
        }
    }
    Some(bars)
}

/// Rise and set of the moon from the middle of the way: a few minutes off at its ends.
fn moon_events(way: &Way, from: UtcInstant, to: UtcInstant, events: &mut Vec<SkyEvent>) {
    let Some(place) = way.place_when(from.plus_seconds(0.5 * to.seconds_since(from))) else { return };
    let mut date = from.midnight().plus_seconds(-DAY_S);
    let last = to.midnight().plus_seconds(DAY_S);
    let mut found: Vec<SkyEvent> = Vec::new();
    while date <= last && found.len() < 100 {
        if let Ok(day) = moon::day(place, date) {
            for (what, at) in [(SkyEventKind::Moonrise, day.moonrise_utc), (SkyEventKind::Moonset, day.moonset_utc)] {
                found.extend(at.filter(|at| *at >= from && *at <= to).map(|at| SkyEvent { what, at }));
            }
        }
        date = date.plus_seconds(DAY_S);
    }
    // Two local days meet at midnight and may both tell what happens there.
    found.sort_by_key(|event| (event.what, event.at));
    found.dedup_by(|a, b| a.what == b.what && a.at.seconds_since(b.at).abs() < 120.0);
    events.extend(found);
}
