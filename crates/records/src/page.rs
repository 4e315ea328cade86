//! The report of a set as one self-contained HTML page for A4 paper: what a captain files and an owner reads.
//!
//! No script, no font or picture from outside. All text that came from people is escaped. What is not recorded is a
//! dash with the words "not recorded", never a zero.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use forecast::HookDepth;
use voyage::{SetRecord, VoyageRecord};

use crate::chart::chart;
use crate::figures::{CatchLine, Report, per_thousand};
use crate::section::section;
use crate::sheet::day_sheet;
use crate::species;
use crate::strip::strip;
use crate::svg;
use crate::words::{self, Clock, escape};

/// Doubts of one kind that are written out; the others are counted.
const DOUBTS_OF_A_KIND: usize = 3;
/// The style of every page, so that a server may name its hash.
pub const STYLE: &str = include_str!("page.css");

/// What a page rests on.
#[derive(Debug, Clone, Copy)]
pub struct Basis {
    /// Entries of the journal it was drawn from.
    pub journal_entries: u64,
}

/// The page. `report` and `depths` belong to the same set.
#[must_use]
pub fn page(voyage: &VoyageRecord, set: &SetRecord, depths: &[HookDepth], report: &Report, basis: Basis) -> String {
    let clock = Clock { offset_min: report.utc_offset_min };
    let mut html = String::new();
    let _ = write!(
        html,
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\">\
         <title>Set {}, voyage {}</title><style>{STYLE}</style></head><body><main>",
        report.set, report.voyage
    );
    head(&mut html, voyage, set, depths, report, clock);
    figures(&mut html, report);
    let line = strip(set, depths, clock.offset_min.unwrap_or(0));
    html += "<figure class=\"strip\">";
    html += &svg::strip(&line, clock, 688.0, 152.0);
    let _ = write!(
        html,
        "<figcaption>The line in setting order, first float left{}. Bar above: hauled. Dotted and crossed: lost. ?: unknown. Flags: radio buoys. \
         Dots: fish kept; rings: not kept; broken rim: hook guessed. Below: night (dark), twilight, day (white) and the hours of clipping, {}.</figcaption></figure>",
        line.deepest_m.map_or(", depths not known".to_owned(), |deepest_m| format!(", deepest hook {deepest_m:.0} m")),
        clock.name()
    );
    four_positions(&mut html, report, clock);
    html += &day_sheet(set, report, clock);
    pictures(&mut html, set, depths);
    html += "<div class=\"columns\"><div>";
    catch_table(&mut html, report);
    html += "</div>";
    doubts(&mut html, report);
    html += "</div>";
    handled(&mut html, report);
    which_hooks(&mut html, report);
    haul_parts(&mut html, report, clock);
    foot(&mut html, set, basis);
    html += "</main></body></html>\n";
    html
}

fn head(
    html: &mut String,
    voyage: &VoyageRecord,
    set: &SetRecord,
    depths: &[HookDepth],
    report: &Report,
    clock: Clock,
) {
    let target = set.target.as_ref().map(target_words).filter(|words| !words.is_empty());
    let kind = match (&target, set.night) {
        (Some(target), Some(true)) => format!("night set for {target}, "),
        (Some(target), _) => format!("set for {target}, "),
        (None, Some(true)) => "night set, ".to_owned(),
        (None, _) => String::new(),
    };
    let end = report.hauling.end_utc.or(report.setting.end_utc).unwrap_or(set.started_at);
    let vessel = voyage.vessel.get("name").map(|name| format!("{}, ", escape(name))).unwrap_or_default();
    let _ = write!(
        html,
        "<header><h1>Set {}</h1><p>{}{} <small>ship time {}</small></p><p class=\"right\">{vessel}voyage {}</p></header>",
        report.set,
        escape(&kind),
        clock.dates(set.started_at, end),
        clock.name(),
        report.voyage
    );
    let _ = write!(html, "<p class=\"summary\">{}</p>", summary(set, depths, report));
}

/// One line that says how the set went.
fn summary(set: &SetRecord, depths: &[HookDepth], report: &Report) -> String {
    let mut parts = vec![format!(
        "{} in {}",
        words::counted(report.hooks_set, "hook", "hooks"),
        words::counted(report.baskets, "basket", "baskets")
    )];
    if let (Some(from), Some(to)) = (report.setting.start_utc, report.setting.end_utc) {
        parts.push(format!("set in {}", words::duration(to.seconds_since(from))));
    }
    match (report.hauling.start_utc, report.hauling.end_utc) {
        (Some(from), Some(to)) => parts.push(format!("hauled in {}", words::duration(to.seconds_since(from)))),
        (Some(_), None) => parts.push("still being hauled".to_owned()),
        _ => parts.push("not hauled yet".to_owned()),
    }
    let soaks = || set.hooks.iter().filter_map(|hook| Some(hook.lifted_at?.seconds_since(hook.clipped_at?)));
    if let (Some(least), Some(most)) = (soaks().reduce(f64::min), soaks().reduce(f64::max)) {
        parts.push(format!("soaked {} to {}", words::duration(least), words::duration(most)));
    }
    let hung = || depths.iter().filter_map(|depth| depth.depth_m);
    if let (Some(least), Some(most)) = (hung().reduce(f64::min), hung().reduce(f64::max)) {
        parts.push(format!("hung {least:.0} to {most:.0} m deep by calculation"));
    }
    parts.join(", ") + "."
}

fn target_words(target: &serde_json::Value) -> String {
    let named = |text: &str| species::english_name(text).map_or_else(|| text.to_owned(), str::to_lowercase);
    match target {
        serde_json::Value::String(text) => named(text),
        serde_json::Value::Array(items) => items.iter().map(target_words).collect::<Vec<_>>().join(", "),
        other => words::value(other),
    }
}

fn figures(html: &mut String, report: &Report) {
    let kept: usize = report.catch.iter().map(|line| line.retained).sum();
    let caught: usize = report.catch.iter().map(CatchLine::caught).sum();
    let lost = match (report.hooks_lost, report.branch_lines_lost) {
        (_, 0) => "lost".to_owned(),
        (_, bitten) => format!("lost, {} of them bitten or cut off", words::count(bitten)),
    };
    let mut big = vec![
        (words::count(report.hooks_set), "hooks set".to_owned()),
        (words::count(report.hooks_hauled), "hauled".to_owned()),
        (words::count(report.hooks_lost), lost),
        (words::count(report.hooks_unknown), "unknown".to_owned()),
        (words::count(kept), "fish kept".to_owned()),
        (
            per_thousand(caught, report.hooks_set).map_or("—".to_owned(), |rate| format!("{rate:.1}")),
            "fish caught per 1\u{202f}000 set".to_owned(),
        ),
    ];
    if report.hooks_in_water > 0 {
        big.insert(1, (words::count(report.hooks_in_water), "in the water".to_owned()));
    }
    html.push_str("<section class=\"figures\">");
    for (figure, name) in big {
        let _ = write!(html, "<div><b>{figure}</b><span>{name}</span></div>");
    }
    let whole = report.hooks_hauled + report.hooks_lost + report.hooks_unknown + report.hooks_in_water;
    let water = if report.hooks_in_water > 0 {
        (" + in the water", format!(" + {}", words::count(report.hooks_in_water)))
    } else {
        ("", String::new())
    };
    let _ = write!(
        html,
        "</section><p class=\"sum\">set = hauled + lost + unknown{}: {} {} {} + {} + {}{}</p>",
        water.0,
        words::count(report.hooks_set),
        if whole == report.hooks_set { "=" } else { "≠" },
        words::count(report.hooks_hauled),
        words::count(report.hooks_lost),
        words::count(report.hooks_unknown),
        water.1
    );
}

fn four_positions(html: &mut String, report: &Report, clock: Clock) {
    let (setting, hauling) = (&report.setting, &report.hauling);
    html.push_str("<section class=\"four\">");
    for (name, when, place) in [
        ("set from", setting.start_utc, setting.start),
        ("set to", setting.end_utc, setting.end),
        ("haul from", hauling.start_utc, hauling.start),
        ("haul to", hauling.end_utc, hauling.end),
    ] {
        let time = when.map_or("— <small>time not recorded</small>".to_owned(), |when| clock.date_time(when));
        let _ = write!(html, "<div><span>{name}</span><b>{time}</b><i>{}</i></div>", words::position(place));
    }
    html.push_str("</section>");
}

fn pictures(html: &mut String, set: &SetRecord, depths: &[HookDepth]) {
    let (width, height) = (334.0, 232.0);
    html.push_str("<section class=\"two\"><div><h2>Where the line lay</h2>");
    let frame = svg::frame_of_chart(width, height);
    match chart(set, frame.0, frame.1) {
        Some(drawn) => {
            html.push_str(&svg::chart(&drawn, width, height));
            html.push_str("<p class=\"note\">Not for navigation.</p>");
        }
        None => html.push_str("<p class=\"none\">— positions not recorded</p>"),
    }
    html.push_str("</div><div><h2>How deep the hooks hung</h2>");
    match section(set, depths) {
        Some(drawn) => {
            html.push_str(&svg::section(&drawn, width, height));
            let _ = write!(
                html,
                "<p class=\"note\">Basket {}, the middle one by depth: {}{}</p>",
                drawn.basket,
                if drawn.in_current {
                    "in the current of its profile, seen from the side; the bars behind the hooks are what errors of sag ratio, weights, drag and current make.".to_owned()
                } else {
                    format!("still water; the bars behind the hooks are what ± {} in the sag ratio makes.", forecast::SAG_RATIO_ERROR)
                },
                if drawn.profile.is_empty() { " No temperature profile recorded." } else { "" }
            );
        }
        None => html.push_str("<p class=\"none\">— not known: no basket has sag ratio, spacing, float line and branch line all recorded</p>"),
    }
    html.push_str("</div></section>");
}

fn catch_table(html: &mut String, report: &Report) {
    html.push_str("<section><h2>Catch</h2>");
    if report.catch.is_empty() {
        html.push_str("<p class=\"none\">No fish recorded.</p></section>");
        return;
    }
    html.push_str(
        "<table><thead><tr><th>species</th><th></th><th class=\"n\">kept</th><th>not kept</th>\
         <th class=\"n\">caught<br>per 1\u{202f}000</th><th class=\"n\">weight kept</th></tr></thead><tbody>",
    );
    for line in &report.catch {
        let code = line.species.as_deref();
        let name = code.map_or("not named", |code| species::english_name(code).unwrap_or("name not in the list"));
        let not_kept: Vec<String> =
            [(line.released, "released"), (line.discarded, "discarded"), (line.lost, "lost at the rail or bitten")]
                .iter()
                .filter(|(number, _)| *number > 0)
                .map(|(number, what)| format!("{} {what}", words::count(*number)))
                .collect();
        let weights: Vec<String> = line
            .retained_weight_kg
            .iter()
            .map(|(form, kg)| format!("{kg:.0}\u{a0}kg {}", escape(&form.replace('_', " "))))
            .collect();
        let _ = write!(
            html,
            "<tr><td>{}</td><td>{}</td><td class=\"n\">{}</td><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td></tr>",
            escape(name),
            escape(code.unwrap_or("—")),
            words::count(line.retained),
            not_kept.join(", "),
            line.caught_per_thousand_hooks.map_or("—".to_owned(), |rate| format!("{rate:.1}")),
            if weights.is_empty() && line.retained > 0 {
                "— <small>not recorded</small>".to_owned()
            } else {
                weights.join("<br>")
            }
        );
    }
    html.push_str("</tbody></table></section>");
}

fn doubts(html: &mut String, report: &Report) {
    html.push_str("<section class=\"doubts\"><h2>Not sure of</h2>");
    if report.doubts.is_empty() {
        html.push_str("<p>Nothing was noted as doubtful.</p></section>");
        return;
    }
    let mut kinds: Vec<&str> = Vec::new();
    let mut by_kind: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for doubt in &report.doubts {
        let texts = by_kind.entry(&doubt.kind).or_default();
        if texts.is_empty() {
            kinds.push(&doubt.kind);
        }
        // A sentence about one hook that holds for many says for which.
        let text = if doubt.concerns.contains(" hooks, ") || doubt.text.starts_with("This hook") {
            format!("{} ({})", doubt.text, doubt.concerns)
        } else {
            doubt.text.clone()
        };
        if !texts.contains(&text) {
            texts.push(text);
        }
    }
    for kind in kinds {
        let texts = by_kind.get(kind).map(Vec::as_slice).unwrap_or_default();
        // One more of a kind takes no more room than the line that would count it.
        let shown = if texts.len() == DOUBTS_OF_A_KIND + 1 { texts.len() } else { DOUBTS_OF_A_KIND };
        for text in texts.iter().take(shown) {
            let _ = write!(html, "<p>{}</p>", escape(text));
        }
        if texts.len() > shown {
            let _ = write!(
                html,
                "<p class=\"more\">and {} more of this kind: see the hook table</p>",
                words::count(texts.len() - shown)
            );
        }
    }
    html.push_str("</section>");
}

fn handled(html: &mut String, report: &Report) {
    let handling = &report.handling;
    if handling.kept == 0 && handling.at_the_rail.is_empty() {
        return;
    }
    html.push_str("<section class=\"columns\"><div><h2>From the rail to each step</h2>");
    if handling.steps.is_empty() {
        html.push_str("<p class=\"none\">— no step recorded</p>");
    } else {
        html.push_str(
            "<table><thead><tr><th>step</th><th class=\"n\">fish</th><th class=\"n\">half within</th><th class=\"n\">longest</th></tr></thead><tbody>",
        );
        for step in &handling.steps {
            let _ = write!(
                html,
                "<tr><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{} <small>fish {}</small></td></tr>",
                escape(&step.step.replace('_', " ")),
                words::count(step.fish),
                minutes(step.median_s),
                minutes(step.worst_s),
                step.worst_fish
            );
        }
        html.push_str("</tbody></table>");
    }
    if handling.kept_without_steps > 0 {
        let _ = write!(
            html,
            "<p class=\"note\">{} of {} fish kept have no step recorded; that is not to say that none was done.</p>",
            words::count(handling.kept_without_steps),
            words::count(handling.kept)
        );
    }
    html.push_str("</div><div><h2>At the rail</h2><table><thead><tr><th>species</th><th class=\"n\">alive</th><th class=\"n\">dead</th><th class=\"n\">not told</th><th>let go, thrown away</th></tr></thead><tbody>");
    for line in &handling.at_the_rail {
        let _ = write!(
            html,
            "<tr><td>{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td>{}, {}</td></tr>",
            escape(line.species.as_deref().unwrap_or("not named")),
            words::count(line.alive),
            words::count(line.dead),
            words::count(line.not_told),
            words::count(line.released),
            words::count(line.discarded)
        );
    }
    let _ = write!(
        html,
        "</tbody></table><p class=\"note\">Baskets tangled: {}. Branch lines bitten, broken or cut off: {}.</p></div></section>",
        words::count(handling.baskets_tangled),
        words::count(handling.branch_lines_lost)
    );
}

/// `45 s`, `7 min 20 s`, `1 h 05 min`.
fn minutes(seconds_s: f64) -> String {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "not negative, held by the cast")]
    let whole_s = seconds_s.max(0.0).round() as u64;
    match (whole_s / 3600, whole_s / 60 % 60, whole_s % 60) {
        (0, 0, s) => format!("{s}\u{a0}s"),
        (0, min, s) => format!("{min}\u{a0}min {s:02}\u{a0}s"),
        (h, min, _) => format!("{h}\u{a0}h {min:02}\u{a0}min"),
    }
}

fn which_hooks(html: &mut String, report: &Report) {
    html.push_str("<section class=\"which\"><h2>Which hooks caught</h2>");
    let rows = &report.catch_by_hook_position;
    let pooled: usize = rows.iter().map(|row| row.caught).sum();
    if pooled == 0 {
        html.push_str("<p class=\"none\">No fish with a known hook.</p></section>");
        return;
    }
    let hooks: usize = rows.iter().map(|row| row.hooks).sum();
    let _ = write!(
        html,
        "<p class=\"note\">Fish caught per 1\u{202f}000 hooks by place from the nearer float: {} on {}. Tangled baskets, empty positions and fish without a known hook are left out. \
         With few fish the bars say little.</p>",
        words::counted(pooled, "fish", "fish"),
        words::counted(hooks, "hook", "hooks")
    );
    html.push_str(&svg::by_position(rows, 688.0, 150.0));
    html.push_str("</section>");
}

fn haul_parts(html: &mut String, report: &Report, clock: Clock) {
    if report.hauling.parts.is_empty() {
        return;
    }
    html.push_str(
        "<section class=\"parts\"><h2>Haul</h2><table><thead><tr><th>part</th><th>from</th><th>to</th><th>began at place</th><th>towards</th><th>why it ended</th></tr></thead><tbody>",
    );
    for (index, part) in report.hauling.parts.iter().enumerate() {
        let _ = write!(
            html,
            "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
            index + 1,
            clock.date_time(part.start_utc),
            part.end_utc.map_or("—".to_owned(), |end| clock.date_time(end)),
            part.from_place.map_or("—".to_owned(), |place| place.to_string()),
            part.direction.as_deref().map_or("—".to_owned(), |direction| match direction {
                "to_first" => "the first float".to_owned(),
                "to_last" => "the last float".to_owned(),
                other => escape(other),
            }),
            part.reason.as_deref().map_or("—".to_owned(), |reason| escape(&reason.replace('_', " ")))
        );
    }
    html.push_str("</tbody></table></section>");
}

fn foot(html: &mut String, set: &SetRecord, basis: Basis) {
    #[expect(clippy::cast_possible_truncation, reason = "a journal's length fits the machine's word")]
    let entries = words::count(basis.journal_entries as usize);
    let _ = write!(
        html,
        "<footer><p>Drawn from {entries} journal entries. {}{} \
         Light: height of the sun at clipping, twilight to 12° below the horizon. {}</p>\
         <p>Local law and the licence decide what must be reported and what may be kept; this sheet is an aid and does not replace the prescribed forms. \
         Positions are not for navigation.</p></footer>",
        forecast::model_words(set),
        if set.current_profile.is_empty() {
            " Depth model after Yoshihara (1951, 1954) and Suzuki, Warashina &amp; Kishida (1977)."
        } else {
            ""
        },
        species::SOURCE
    );
}
