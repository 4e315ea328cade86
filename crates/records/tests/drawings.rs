//! Geometry of the drawings, and what stands on the printed page.

mod support;

use forecast::depths;
use quantity::UtcInstant;
use quantity::testing::assert_within;
use records::page::{Basis, page};
use records::strip::Light;
use records::{chart::chart, report, section::section, strip::strip};
use support::{set_of, voyage};
use voyage::HookFate;

fn page_of(baskets: i64) -> String {
    let set = set_of(baskets);
    let depths = depths(&set);
    page(&voyage(), &set, &depths, &report(&voyage(), &set, &depths), Basis { journal_entries: 18_204 })
}

#[test]
fn verif_the_strip_hangs_as_deep_as_the_hooks() {
    let set = set_of(12);
    let depths = depths(&set);
    let strip = strip(&set, &depths, 780);
    let drawn = strip.arcs.iter().flat_map(|arc| &arc.points).map(|point| point.1).fold(0.0, f64::max);
    assert_within("deepest point, m", drawn, strip.deepest_m.unwrap(), 1e-9);
    assert!(strip.arcs.iter().flat_map(|arc| &arc.points).all(|point| (0.0..=1.0 + 1e-9).contains(&point.0)));
    assert!(strip.arcs.iter().any(|arc| arc.basket == 7 && arc.fate == HookFate::Lost));
    assert!(strip.arcs.iter().any(|arc| arc.basket == 10 && arc.fate == HookFate::Unknown));
    assert!(strip.hauled_bars.iter().all(|bar| bar.1 > bar.0));
    let hauled: f64 = strip.hauled_bars.iter().map(|bar| bar.1 - bar.0).sum();
    assert!((0.75..0.95).contains(&hauled), "{hauled}");
    assert_eq!((strip.flags.len(), strip.missing_floats.len(), strip.dots.len()), (2, 1, 9));
}

#[test]
fn verif_night_twilight_and_day_stand_under_the_strip() {
    let set = set_of(12);
    let strip = strip(&set, &depths(&set), 780);
    // 03:00 to 08:00 ship time at 14° S in March: night, then twilight, then day.
    let order: Vec<Light> = strip.light.iter().map(|bar| bar.light).collect();
    assert_eq!(order, [Light::Night, Light::Twilight, Light::Day]);
    assert_eq!(strip.hours.len(), 6);
    assert_within("first hour, share", strip.hours[0].at, 0.0, 1e-9);
    assert_within("fourth hour, share", strip.hours[3].at, 0.6, 1e-6);
}

#[test]
fn verif_single_lost_hooks_are_marked_in_a_long_line() {
    let set = set_of(120);
    let strip = strip(&set, &depths(&set), 780);
    assert_eq!(strip.crosses.len(), 2);
}

#[test]
fn verif_the_section_shows_a_regular_basket_with_bands_and_isotherms() {
    let set = set_of(12);
    let depths = depths(&set);
    let section = section(&set, &depths).unwrap();
    assert!(section.basket != 5 && section.basket != 9, "empty line and tangle are not typical");
    assert_eq!(section.discs.len(), usize::try_from(support::HOOKS).unwrap() - usize::from(section.basket == 2));
    for disc in &section.discs {
        let index = usize::try_from((section.basket - 1) * support::HOOKS + disc.position - 1).unwrap();
        assert_within("depth drawn and depth told, m", disc.depth_m, depths[index].depth_m.unwrap(), 1e-6);
        assert!(disc.depth_m + disc.band_m < section.floor_m && disc.band_m > 0.0);
    }
    let at_18 = section.isotherms.iter().find(|line| (line.0 - 18.0).abs() < 1e-9).unwrap();
    assert_within("18 °C, m", at_18.1, 170.0 + 70.0 * 0.2 / 5.7, 1e-9);
}

#[test]
fn verif_the_chart_runs_on_over_the_date_line() {
    let chart = chart(&set_of(12), 270.0, 210.0).unwrap();
    assert!(chart.as_set.windows(2).all(|pair| (pair[1].0 - pair[0].0).abs() < 5.0));
    assert!(
        chart
            .as_set
            .iter()
            .chain(&chart.as_hauled)
            .all(|point| { (0.0..=chart.width_nmi).contains(&point.0) && (0.0..=chart.height_nmi).contains(&point.1) })
    );
    assert_eq!(chart.meridians.iter().filter(|meridian| meridian.2).count(), 1);
}

#[test]
fn verif_the_page_has_what_a_days_sheet_must_have() {
    // Spaces that do not break count as spaces here.
    let html = page_of(12).replace(['\u{a0}', '\u{202f}'], " ");
    for part in [
        "Set 12",
        "hooks set",
        "hauled",
        "lost, 2 of them bitten or cut off",
        "unknown",
        "fish kept",
        "set = hauled + lost + unknown",
        "set from",
        "set to",
        "haul from",
        "haul to",
        "14°30.000′",
        "179°42.000′ E",
        "179°42.000′ W",
        "hooks per basket",
        "main line",
        "bait",
        "squid 50 %",
        "circle 16/0",
        "monofilament",
        "light sticks",
        "not recorded",
        "27.9 °C",
        "11 kn from 095°",
        "bird line out",
        "observer",
        "Where the line lay",
        "Not for navigation",
        "How deep the hooks hung",
        "Catch",
        "Bigeye tuna",
        "Which hooks caught",
        "Not sure of",
        "18 204 journal entries",
        "Yoshihara",
        "licence decide",
        "<svg",
        "180°",
        "Mon 3 March 03:00",
        "UTC+13",
        "The bins counted 109 hooks",
    ] {
        assert!(html.contains(part), "{part} is not on the page");
    }
    assert!(
        !html.contains("<script") && !html.contains("Example <b>") && !html.contains("<gear>"),
        "text of people is not escaped"
    );
    assert!(
        !html.contains("http://")
            || html.matches("http://").count() == html.matches("http://www.w3.org/2000/svg").count()
    );
    assert!(!html.contains("NaN") && !html.contains("inf"));
}

#[test]
fn verif_a_bare_set_makes_a_page_of_dashes_and_no_zeros() {
    let mut set = set_of(12);
    set.places.clear();
    set.baskets.clear();
    set.hooks.clear();
    set.fish.clear();
    set.parts.clear();
    set.radio_buoys.clear();
    set.hauling_track.clear();
    set.temperature_profile.clear();
    set.open = true;
    (set.start, set.end, set.ended_at) = (None, None, None);
    let html = page(&voyage(), &set, &[], &report(&voyage(), &set, &[]), Basis { journal_entries: 3 });
    assert!(
        html.contains("positions not recorded")
            && html.contains("position not recorded")
            && html.contains("not hauled yet")
    );
    assert!(!html.contains("NaN"));
}

#[test]
fn verif_clocks_and_positions_are_written_whole() {
    use records::words::{Clock, count, latitude, longitude};
    assert_eq!(latitude(-14.999_999_99), "15°00.000′\u{a0}S");
    assert_eq!(longitude(-179.507), "179°30.420′\u{a0}W");
    assert_eq!(count(1_234_567), "1\u{202f}234\u{202f}567");
    let clock = Clock { offset_min: Some(-210) };
    assert_eq!(clock.name(), "UTC−3:30");
    let new_year = UtcInstant::from_ymd(2031, 1, 1).unwrap();
    assert_eq!(clock.date_time(new_year), "Tue 31 December 20:30");
    assert_eq!(clock.dates(new_year, new_year.plus_seconds(86_400.0)), "31 December 2030 to 1 January 2031");
}

/// Writes the page where a person can look at it, when asked to by name.
#[test]
fn verif_a_long_set_makes_a_page_too() {
    let html = page_of(100);
    assert!(html.len() < 1_500_000);
    if let Ok(path) = std::env::var("REPORT_PAGE_OUT") {
        std::fs::write(path, html).unwrap();
    }
}
