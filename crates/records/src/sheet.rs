//! The fields of a day's sheet: gear, line, bait, hooks, lights, water, wind, bird measures, observer.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use voyage::SetRecord;

use crate::figures::Report;
use crate::words::{self, Clock, escape};

/// The block of fields as HTML. What was not entered is a dash and says so.
#[must_use]
pub fn day_sheet(set: &SetRecord, report: &Report, clock: Clock) -> String {
    let gear = &set.gear;
    let metres = |value: Option<f64>| value.map(|value_m| format!("{value_m:.0} m"));
    let from_types = |field: fn(&voyage::state::BranchLineType) -> Option<String>| {
        let mut all: Vec<String> = gear.branch_lines.iter().filter_map(field).collect();
        all.dedup();
        (!all.is_empty()).then(|| all.join(", "))
    };
    let length = |line: &voyage::state::BranchLineType| line.length_m.map(|length_m| format!("{length_m:.0} m"));
    let leader = |line: &voyage::state::BranchLineType| {
        let lead = line.lead_g.map(|lead_g| match line.lead_to_hook_m {
            Some(to_hook_m) => format!("lead {lead_g:.0} g at {to_hook_m:.1} m"),
            None => format!("lead {lead_g:.0} g"),
        });
        let parts: Vec<String> = line.leader.clone().into_iter().chain(lead).collect();
        (!parts.is_empty()).then(|| parts.join(", "))
    };
    let spacing = common(set.baskets.iter().filter_map(|basket| basket.clip_spacing_m), 0)
        .or(gear.clip_spacing_m.map(|m| format!("{m:.0}")));
    let sag = common(set.baskets.iter().filter_map(|basket| basket.sag_ratio), 2);
    let fields: [(&str, Option<String>); 16] = [
        ("gear", gear.name.clone()),
        ("hooks per basket", hooks_per_basket(set)),
        ("main line", report.main_line_total_m.map(|total_m| format!("{:.1} km", total_m / 1000.0))),
        (
            "floats, radio buoys",
            Some(format!("{}, {}", words::count(report.floats_set), words::count(report.radio_buoys))),
        ),
        (
            "clip spacing, sag ratio",
            (spacing.is_some() || sag.is_some()).then(|| {
                format!("{}, {}", spacing.map_or("—".to_owned(), |m| format!("{m} m")), sag.unwrap_or("—".to_owned()))
            }),
        ),
        ("float line", metres(gear.float_line_m)),
        ("branch lines", from_types(length)),
        ("hooks", from_types(|line| line.hook.clone())),
        ("leaders, leads", from_types(leader)),
        ("bait", bait(set)),
        ("light sticks", light_sticks(set)),
        ("surface water", set.conditions.water_temperature_c.map(|celsius| format!("{celsius:.1} °C"))),
        ("wind, sea", wind_and_sea(set)),
        ("bird measures", bird_measures(set, clock)),
        ("observer", observer(set)),
        (
            "floats hauled",
            Some(format!("{} of {}", words::count(report.floats_hauled), words::count(report.floats_set))),
        ),
    ];
    let mut html = String::from("<section class=\"sheet\">");
    for (name, value) in fields {
        let value = value
            .filter(|value| !value.is_empty())
            .map_or("— <small>not recorded</small>".to_owned(), |value| units_kept(&escape(&value)));
        let _ = write!(html, "<div><span>{name}</span><b>{value}</b></div>");
    }
    html + "</section>"
}

/// A number and its unit never part at the end of a line.
fn units_kept(text: &str) -> String {
    let mut kept = text.to_owned();
    for unit in [" m", " g", " km", " %", " kn", " °C"] {
        for end in ["", ",", ")"] {
            let (from, to) = (format!("{unit}{end}"), format!("\u{a0}{}{end}", unit.trim_start()));
            if end.is_empty() {
                if let Some(head) = kept.strip_suffix(from.as_str()) {
                    kept = format!("{head}{to}");
                }
                kept = kept.replace(&format!("{from} "), &format!("{to} "));
            } else {
                kept = kept.replace(&from, &to);
            }
        }
    }
    kept
}

/// The commonest value, with its spread where there is one: `45` or `45 (40 to 50)`.
fn common(values: impl Iterator<Item = f64>, decimals: usize) -> Option<String> {
    let mut tally: BTreeMap<String, usize> = BTreeMap::new();
    let (mut least, mut most) = (f64::MAX, f64::MIN);
    for value in values {
        (least, most) = (least.min(value), most.max(value));
        *tally.entry(format!("{value:.decimals$}")).or_default() += 1;
    }
    let (usual, _) = tally.iter().max_by_key(|(_, times)| **times)?;
    let (least, most) = (format!("{least:.decimals$}"), format!("{most:.decimals$}"));
    Some(if least == most { usual.clone() } else { format!("{usual} ({least} to {most})") })
}

fn hooks_per_basket(set: &SetRecord) -> Option<String> {
    #[expect(clippy::cast_precision_loss, reason = "hooks in a basket are few")]
    common(set.baskets.iter().map(|basket| basket.hooks as f64), 0)
        .or_else(|| set.gear.hooks_per_basket.map(|hooks| hooks.to_string()))
}

/// Kinds with their shares of the baskets; a kind holds from its place until the next.
fn bait(set: &SetRecord) -> Option<String> {
    if set.bait.is_empty() {
        return None;
    }
    let mut shares: BTreeMap<&str, usize> = BTreeMap::new();
    for basket in &set.baskets {
        let kind = set.bait.iter().rev().find(|(from, _)| *from <= basket.basket).or(set.bait.first());
        if let Some((_, kind)) = kind {
            *shares.entry(kind).or_default() += 1;
        }
    }
    if shares.is_empty() {
        return set.bait.first().map(|(_, kind)| kind.clone());
    }
    let whole = set.baskets.len().max(1);
    let mut parts: Vec<(usize, String)> = shares
        .into_iter()
        .map(|(kind, baskets)| (baskets, format!("{kind} {} %", (100 * baskets + whole / 2) / whole)))
        .collect();
    parts.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.cmp(&b.1)));
    Some(parts.into_iter().map(|(_, words)| words).collect::<Vec<_>>().join(", "))
}

fn light_sticks(set: &SetRecord) -> Option<String> {
    let parts: Vec<String> = set
        .light_sticks
        .iter()
        .map(|(from, every, colour)| {
            let every = match every {
                Some(1) => "every hook".to_owned(),
                Some(every) => format!("every {every} hooks"),
                None => "spacing not recorded".to_owned(),
            };
            let place = if *from > 1 { format!(" from float {from}") } else { String::new() };
            format!("{}{every}{place}", colour.as_ref().map(|colour| format!("{colour}, ")).unwrap_or_default())
        })
        .collect();
    (!parts.is_empty()).then(|| parts.join("; "))
}

fn wind_and_sea(set: &SetRecord) -> Option<String> {
    let now = &set.conditions;
    // 1 kn = 1852 m / 3600 s.
    let wind = now.wind_speed_m_s.map(|speed_m_s| {
        let from = now
            .wind_from_deg_true
            .map(|from| format!(" from {:03.0}°", quantity::wrap_bearing_deg(from).round() % 360.0));
        format!("{:.0} kn{}", speed_m_s * 3600.0 / 1852.0, from.unwrap_or_default())
    });
    let sea =
        now.sea_state.as_ref().map(words::value).filter(|words| !words.is_empty()).map(|words| format!("sea {words}"));
    let parts: Vec<String> = wind.into_iter().chain(sea).collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}

fn bird_measures(set: &SetRecord, clock: Clock) -> Option<String> {
    let mut parts: Vec<String> =
        set.bird_line.iter().map(|(when, state)| format!("bird line {state} {}", clock.hour_minute(*when))).collect();
    if set.night == Some(true) {
        parts.push("night set".to_owned());
    }
    (!parts.is_empty()).then(|| parts.join(", "))
}

fn observer(set: &SetRecord) -> Option<String> {
    let (aboard, hooks) = set.observer?;
    let hooks = hooks.map(|hooks| format!("{hooks} hooks observed"));
    match aboard {
        Some(true) => Some(hooks.map_or("aboard".to_owned(), |hooks| format!("aboard, {hooks}"))),
        Some(false) => Some("none aboard".to_owned()),
        None => hooks,
    }
}
