//! Files of depth recorders: read, doubted and cut. All records here are invented by the tests themselves.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use gear::recorder::pressure::depth_m;
use gear::recorder::{Cut, Doubt, Mapping, Reading, RecorderError, SetTimes, cut, read};
use proptest::prelude::*;
use quantity::UtcInstant;
use quantity::testing::assert_within;
use serde_json::{Value, json};

/// An invented time in the water: 20 minutes at the surface, down at 0.13 m/s, ten hours near `deep_m` with a swing of
/// 1.5 hours, up at 0.3 m/s, 20 minutes at the surface.
struct Voyage {
    start: UtcInstant,
    deep_m: f64,
    swing_m: f64,
}

const BEFORE_S: f64 = 1200.0;
const SOAK_S: f64 = 36_000.0;

impl Voyage {
    fn new() -> Self {
        Self { start: "2026-03-04T18:00:00Z".parse().unwrap(), deep_m: 260.0, swing_m: 6.0 }
    }

    fn sinking_s(&self) -> f64 {
        self.deep_m / 0.13
    }

    fn hauling_s(&self) -> f64 {
        BEFORE_S + self.sinking_s() + SOAK_S
    }

    fn end_s(&self) -> f64 {
        self.hauling_s() + self.deep_m / 0.3 + BEFORE_S
    }

    fn depth_m(&self, at_s: f64) -> f64 {
        let sunk_m = 0.13 * (at_s - BEFORE_S);
        let swing_m = self.swing_m * ((at_s - BEFORE_S - self.sinking_s()) / 5400.0 * std::f64::consts::TAU).sin();
        if at_s < BEFORE_S {
            0.0
        } else if at_s < BEFORE_S + self.sinking_s() {
            sunk_m
        } else if at_s < self.hauling_s() {
            self.deep_m + swing_m
        } else {
            (self.deep_m - 0.3 * (at_s - self.hauling_s())).max(0.0)
        }
    }

    /// `(seconds since the start, depth)` every `step_s`.
    fn readings(&self, step_s: f64) -> Vec<(f64, f64)> {
        (0..)
            .map(|n| f64::from(n) * step_s)
            .take_while(|at_s| *at_s <= self.end_s())
            .map(|t| (t, self.depth_m(t)))
            .collect()
    }

    fn csv(&self, readings: &[(f64, f64)]) -> String {
        let mut text = "When,Depth\n".to_owned();
        for (at_s, depth_m) in readings {
            text += &format!("{},{depth_m:.2}\n", self.start.plus_seconds(*at_s));
        }
        text
    }

    fn times(&self) -> SetTimes {
        let span = |from_s: f64, to_s: f64| Some([self.start.plus_seconds(from_s), self.start.plus_seconds(to_s)]);
        SetTimes { setting: span(0.0, 7200.0), hauling: span(self.hauling_s() - 7200.0, self.end_s()), turn: None }
    }
}

fn mapping(change: Value) -> Mapping {
    let mut base = json!({
        "time": {"column": "When"},
        "depth": {"column": "Depth", "unit": "m"},
        "recorders": [{"file": "*", "basket": 1, "on": "main_line", "hook_position": 1}],
    });
    for (key, value) in change.as_object().unwrap() {
        if value.is_null() {
            base.as_object_mut().unwrap().remove(key);
        } else {
            base[key] = value.clone();
        }
    }
    serde_json::from_value(base).unwrap()
}

fn read_as(bytes: &[u8], mapping: &Mapping) -> Result<Reading, RecorderError> {
    read("one.csv", bytes, mapping, &mapping.recorders[0], Some(-15.0))
}

fn kinds(doubts: &[Doubt]) -> Vec<&str> {
    doubts.iter().map(|doubt| doubt.kind.as_str()).collect()
}

fn read_and_cut(text: &str, mapping: &Mapping, times: &SetTimes) -> (Reading, Cut) {
    let mut reading = read_as(text.as_bytes(), mapping).unwrap();
    let cut = cut(&mut reading, times).unwrap();
    (reading, cut)
}

/// The phases of an invented record are known; the limits of the cutting (1 cm/s over 5 minutes) allow minutes.
#[test]
fn verif_phases_and_medians_of_a_known_record() {
    for step_s in [1.0, 10.0, 60.0, 120.0] {
        let voyage = Voyage::new();
        let text = voyage.csv(&voyage.readings(step_s));
        let (reading, cut) = read_and_cut(&text, &mapping(json!({})), &voyage.times());
        assert_eq!(kinds(&reading.doubts), Vec::<&str>::new());
        let at_s = |utc: UtcInstant| utc.seconds_since(voyage.start);
        assert_within("in water, s", at_s(cut.in_water_utc), BEFORE_S + 5.0 / 0.13, step_s + 10.0);
        let settled_s = BEFORE_S + voyage.sinking_s();
        assert_within("settled, s", at_s(cut.settled_utc.unwrap()), settled_s, step_s + 20.0);
        assert_within("hauling, s", at_s(cut.hauling_utc.unwrap()), voyage.hauling_s(), 60.0 + 2.0 * step_s);
        let out_s = voyage.end_s() - BEFORE_S - 5.0 / 0.3;
        assert_within("out, s", at_s(cut.out_of_water_utc.unwrap()), out_s, step_s + 10.0);
        assert!(cut.medians.len() == 40 || cut.medians.len() == 41, "{}", cut.medians.len());
        for median in &cut.medians {
            let middle_s = f64::midpoint(at_s(median.from_utc), at_s(median.to_utc));
            assert_within("median, m", median.depth_m, voyage.depth_m(middle_s), 1.0);
        }
        assert_within("soak, m", cut.soak_depth_m.unwrap(), 260.0, 1.0);
        assert!(cut.fish.is_empty());
    }
}

#[test]
fn verif_semicolons_comma_decimals_local_time_and_drift() {
    let voyage = Voyage::new();
    let mut text = "Recorder 0815\r\nMade by the tests\r\nDatum;Uhrzeit;Temp °C;Tiefe\r\n".to_owned();
    let readings = voyage.readings(30.0);
    let last_s = readings.last().unwrap().0;
    for (at_s, depth_m) in &readings {
        // The clock stands 12.5 h ahead of UTC and gains 60 s over the record; the surface shows 0.8 m.
        let shown = voyage.start.plus_seconds(at_s + 45_000.0 + 60.0 * at_s / last_s).to_string();
        let (date, time) = shown.trim_end_matches('Z').split_once('T').unwrap();
        let time = time.split('.').next().unwrap();
        text += &format!("{date};{time};18,5;{}\r\n", format!("{:.2}", depth_m + 0.8).replace('.', ","));
    }
    let mapping = mapping(json!({
        "delimiter": ";", "decimal_mark": ",", "lines_to_skip": 2,
        "time": {"column": "uhrzeit", "format": "%H:%M:%S", "date_column": "Datum", "date_format": "%Y-%m-%d"},
        "depth": {"column": 4, "unit": "m"}, "temperature": 3, "time_zone_utc_h": 12.5,
        "clock": {"at_start_s": 0, "at_end_s": 60},
    }));
    // The same bytes once in UTF-8 and once as ISO 8859-1, where the degree sign is no UTF-8.
    let latin: Vec<u8> = text.chars().map(|letter| u8::try_from(u32::from(letter)).unwrap()).collect();
    for bytes in [text.as_bytes(), &latin] {
        let mut reading = read_as(bytes, &mapping).unwrap();
        assert_eq!(kinds(&reading.doubts), Vec::<&str>::new());
        assert_within("surface, m", reading.surface_offset_m[0], 0.8, 1e-9);
        assert_within("temperature", reading.samples[9].temperature_c.unwrap(), 18.5, 0.0);
        // Times were written in whole seconds.
        assert_within("last, s", reading.samples.last().unwrap().utc.seconds_since(voyage.start), last_s, 1.1);
        let cut = cut(&mut reading, &voyage.times()).unwrap();
        assert_within("soak, m", cut.soak_depth_m.unwrap(), 260.0, 1.0);
    }
}

#[test]
fn verif_other_ways_to_write_time_and_depth_give_the_same() {
    let voyage = Voyage::new();
    let readings = voyage.readings(60.0);
    let plain = read_as(voyage.csv(&readings).as_bytes(), &mapping(json!({}))).unwrap();
    let mut counted = String::new();
    let mut zoned = "t\tz\n".to_owned();
    for (at_s, depth_m) in &readings {
        counted += &format!("{:.9},{:.4}\n", at_s / 86_400.0, -depth_m / 1.8288);
        zoned += &format!(
            "{}\t{depth_m:.2}\n",
            voyage.start.plus_seconds(at_s - 18_000.0).to_string().replace('Z', "-05:00")
        );
    }
    let by_count = mapping(json!({
        "header": false, "depth": {"column": 2, "unit": "fathom", "positive": "up"},
        "time": {"column": 1, "seconds_since": voyage.start.to_string(), "seconds_per_unit": 86_400},
    }));
    let by_zone = mapping(json!({"delimiter": "tab", "time": {"column": "t"}, "depth": {"column": "z", "unit": "m"}}));
    let wide: Vec<u8> = [0xFF, 0xFE].into_iter().chain(zoned.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    for (bytes, mapping) in [(counted.as_bytes(), &by_count), (zoned.as_bytes(), &by_zone), (&wide, &by_zone)] {
        let other = read_as(bytes, mapping).unwrap();
        assert_eq!(other.doubts, plain.doubts);
        assert_eq!(other.samples.len(), plain.samples.len());
        for (ours, theirs) in other.samples.iter().zip(&plain.samples) {
            assert_within("time, s", ours.utc.seconds_since(theirs.utc), 0.0, 1e-3);
            assert_within("depth, m", ours.depth_m, theirs.depth_m, 0.006);
        }
    }
}

/// psi and kPa with the air in them against decibars without; 1 psi = 6.894757 kPa.
#[test]
fn verif_pressure_units_agree() {
    let voyage = Voyage::new();
    let column = |unit: &str, atmosphere: &str| {
        mapping(json!({"depth": null, "pressure": {"column": "Depth", "unit": unit, "atmosphere": atmosphere}}))
    };
    let readings = voyage.readings(60.0);
    let scaled = |factor: f64, plus: f64| {
        let rows: Vec<_> = readings.iter().map(|(t, dbar)| (*t, dbar * factor + plus)).collect();
        voyage.csv(&rows)
    };
    let base = read_as(scaled(1.0, 0.0).as_bytes(), &column("dbar", "taken_off")).unwrap();
    for (sample, (_, dbar)) in base.samples.iter().zip(&readings) {
        // The file has two decimals.
        assert_within("depth, m", sample.depth_m, depth_m(*dbar, -15.0), 0.006);
    }
    for (unit, factor, air) in [("kpa", 10.0, 101.325), ("psi", 10.0 / 6.894_757, 14.695_95), ("bar", 0.1, 1.013_25)] {
        let other = read_as(scaled(factor, air).as_bytes(), &column(unit, "included")).unwrap();
        let off_m =
            other.samples.iter().zip(&base.samples).map(|(a, b)| (a.depth_m - b.depth_m).abs()).fold(0.0, f64::max);
        // Two decimals in the file: half a digit of a bar is 0.05 m, here and at the surface.
        assert!(off_m < 0.12, "{unit}: {off_m} m");
    }
    let wrong = read_as(scaled(1.0, 10.13).as_bytes(), &column("dbar", "taken_off")).unwrap();
    assert_eq!(kinds(&wrong.doubts), ["air_pressure", "air_pressure", "surface_unknown"]);
    assert_eq!(wrong.unfit.as_deref(), Some("the pressure of the air seems to be stated wrongly"));
    let no_latitude =
        read("one.csv", b"When,Depth\n2026-03-04T18:00:00Z,1\n", &column("dbar", "taken_off"), &wrong_place(), None);
    assert!(matches!(no_latitude, Err(RecorderError::NoLatitude { .. })));
}

fn wrong_place() -> gear::recorder::Placement {
    mapping(json!({})).recorders[0].clone()
}

#[test]
fn verif_upside_down_is_doubted_and_never_turned_over() {
    let voyage = Voyage::new();
    let rows: Vec<_> = voyage.readings(60.0).into_iter().map(|(t, d)| (t, -d)).collect();
    let text = voyage.csv(&rows);
    let reading = read_as(text.as_bytes(), &mapping(json!({}))).unwrap();
    assert_eq!(kinds(&reading.doubts), ["upside_down"]);
    assert!(reading.doubts[0].text.contains("say positive: up") && reading.unfit.is_some());
    assert!(reading.samples.iter().any(|sample| sample.depth_m < -250.0));
    let stated = mapping(json!({"depth": {"column": "Depth", "unit": "m", "positive": "up"}}));
    let (reading, cut) = read_and_cut(&text, &stated, &voyage.times());
    assert!(reading.doubts.is_empty() && reading.unfit.is_none());
    assert_within("soak, m", cut.soak_depth_m.unwrap(), 260.0, 1.0);
    let both = read_as(voyage.csv(&voyage.readings(60.0)).as_bytes(), &stated).unwrap();
    assert!(both.unfit.is_some() && both.doubts[0].text.contains("say positive: down"));
}

#[test]
fn verif_a_wrong_zone_is_told_in_hours() {
    let voyage = Voyage::new();
    for (zone_h, moved) in [(-3.0, "moved by -3 h"), (11.0, "moved by +11 h"), (5.5, "moved by +5.5 h")] {
        let mut times = voyage.times();
        // Narrow times: one shift fits.
        times.setting = Some([voyage.start.plus_seconds(1000.0), voyage.start.plus_seconds(1400.0)]);
        let away = |span: Option<[UtcInstant; 2]>| span.map(|span| span.map(|at| at.plus_seconds(3600.0 * zone_h)));
        let times = SetTimes { setting: away(times.setting), hauling: away(times.hauling), turn: None };
        let (reading, _) = read_and_cut(&voyage.csv(&voyage.readings(60.0)), &mapping(json!({})), &times);
        let doubt = reading.doubts.iter().find(|doubt| doubt.kind == "wrong_zone").unwrap();
        assert!(doubt.text.contains(moved), "{}", doubt.text);
        assert_eq!(reading.unfit.as_deref(), Some("its times do not meet the set's"));
    }
    // In a long setting several hours fit; the basket's turn tells the likeliest.
    let shifted = |hours: f64| voyage.start.plus_seconds(3600.0 * hours);
    let times = SetTimes { setting: Some([shifted(7.0), shifted(13.0)]), hauling: None, turn: Some(0.5) };
    let (reading, _) = read_and_cut(&voyage.csv(&voyage.readings(60.0)), &mapping(json!({})), &times);
    let text = &reading.doubts.iter().find(|doubt| doubt.kind == "wrong_zone").unwrap().text;
    assert!(text.contains("moved by +7 to +12 h it would fit, best by +10 h for its basket"), "{text}");
}

#[test]
fn verif_gaps_disorder_doubles_and_slow_reading_are_doubts() {
    let voyage = Voyage::new();
    let mut rows: Vec<_> =
        voyage.readings(60.0).into_iter().filter(|(t, _)| !(20_000.0..23_600.0).contains(t)).collect();
    rows.swap(100, 101);
    rows.insert(50, rows[49]);
    let mut text = voyage.csv(&rows);
    text += "no,reading\n2026-03-05T12:00:00Z,NaN\n";
    let (reading, cut) = read_and_cut(&text, &mapping(json!({})), &voyage.times());
    assert_eq!(kinds(&reading.doubts), ["unreadable_lines", "times_backwards", "times_double", "gap"]);
    assert!(reading.doubts[3].text.contains("60.0 minutes") || reading.doubts[3].text.contains("61.0 minutes"));
    assert!(reading.doubts[0].text.starts_with("2 of"));
    assert!((36..=38).contains(&cut.medians.len()), "{}", cut.medians.len());
    let (slow, cut) = read_and_cut(&voyage.csv(&voyage.readings(300.0)), &mapping(json!({})), &voyage.times());
    assert_eq!(kinds(&slow.doubts), ["slow_sampling"]);
    assert_within("soak, m", cut.soak_depth_m.unwrap(), 260.0, 2.0);
}

#[test]
fn verif_never_surfaced_clipped_and_fish() {
    let voyage = Voyage::new();
    let cut_short: Vec<_> = voyage.readings(60.0).into_iter().filter(|(t, _)| (3000.0..30_000.0).contains(t)).collect();
    let (reading, cut) = read_and_cut(&voyage.csv(&cut_short), &mapping(json!({})), &voyage.times());
    assert_eq!(kinds(&reading.doubts), ["surface_unknown", "starts_under_water", "never_surfaced"]);
    assert!(cut.hauling_utc.is_none() && cut.out_of_water_utc.is_none() && cut.sinking_s.is_none());

    let clipped: Vec<_> = voyage.readings(60.0).into_iter().map(|(t, d)| (t, d.min(250.0))).collect();
    let (reading, _) = read_and_cut(&voyage.csv(&clipped), &mapping(json!({})), &voyage.times());
    assert_eq!(kinds(&reading.doubts), ["clipped"]);

    let bitten: Vec<_> = voyage
        .readings(10.0)
        .into_iter()
        .map(|(t, d)| (t, if (20_000.0..20_240.0).contains(&t) { d - 35.0 } else { d }))
        .collect();
    let (reading, cut) = read_and_cut(&voyage.csv(&bitten), &mapping(json!({})), &voyage.times());
    assert_eq!(kinds(&reading.doubts), ["fish"]);
    assert_eq!(cut.fish.len(), 1);
    assert_within("furthest, m", cut.fish[0].furthest_m, -35.0, 4.0);
    assert_within("from, s", cut.fish[0].from_utc.seconds_since(voyage.start), 20_000.0, 10.0);

    let dry: Vec<_> = voyage.readings(60.0).into_iter().map(|(t, _)| (t, 0.3)).collect();
    let mut reading = read_as(voyage.csv(&dry).as_bytes(), &mapping(json!({}))).unwrap();
    assert!(gear::recorder::cut(&mut reading, &voyage.times()).is_none());
    assert_eq!(kinds(&reading.doubts), ["never_in_water"]);
}

/// Two sets in one file: the one that the set's times meet is taken. A stop of ten minutes in the middle of hauling is
/// still hauling. Gear that hangs perfectly still is read to the last window.
#[test]
fn verif_two_sets_a_stop_while_hauling_and_perfect_stillness() {
    let voyage = Voyage { swing_m: 0.0, ..Voyage::new() };
    let day_s = 86_400.0;
    let mut rows = voyage.readings(60.0);
    rows.extend(voyage.readings(60.0).into_iter().map(|(t, d)| (t + day_s, 0.5 * d)));
    let later = |span: Option<[UtcInstant; 2]>| span.map(|span| span.map(|at| at.plus_seconds(day_s)));
    let times = voyage.times();
    let next = SetTimes { setting: later(times.setting), hauling: later(times.hauling), turn: None };
    for (times, deep_m) in [(times, 260.0), (next, 130.0)] {
        let (reading, cut) = read_and_cut(&voyage.csv(&rows), &mapping(json!({})), &times);
        let found = kinds(&reading.doubts);
        assert!(found.contains(&"several_sets") && !found.contains(&"wrong_zone"), "{found:?}");
        assert_within("soak, m", cut.soak_depth_m.unwrap(), deep_m, 0.5);
    }
    let stop_s = voyage.hauling_s() + 400.0;
    let halted: Vec<_> = (0..820)
        .map(|minute| 60.0 * f64::from(minute))
        .map(|t| (t, voyage.depth_m(if t > stop_s { (t - 600.0).max(stop_s) } else { t })))
        .collect();
    let (reading, cut) = read_and_cut(&voyage.csv(&halted), &mapping(json!({})), &voyage.times());
    assert_within("hauling, s", cut.hauling_utc.unwrap().seconds_since(voyage.start), voyage.hauling_s(), 120.0);
    assert_eq!(kinds(&reading.doubts), ["clipped"]);
    assert_eq!(cut.medians.len(), 40);
    assert!(cut.medians.iter().all(|median| (median.depth_m - 260.0).abs() < 0.01));
}

#[test]
fn verif_what_the_mapping_must_say() {
    let text = Voyage::new().csv(&[(0.0, 0.0), (60.0, 0.0)]).replace('Z', "");
    let fault = |change: Value| read_as(text.as_bytes(), &mapping(change)).unwrap_err().to_string();
    assert!(fault(json!({})).contains("time_zone_utc_h"));
    assert!(fault(json!({"depth": null})).contains("pressure too"));
    assert!(fault(json!({"time_zone_utc_h": 30})).contains("-14 to 14"));
    assert!(fault(json!({"decimal_mark": ","})).contains("same as the delimiter"));
    assert!(fault(json!({"delimiter": "7"})).contains("one character"));
    assert!(fault(json!({"time": {"column": "Time"}})).contains("no column \"time\"; its columns are When, Depth"));
    assert!(fault(json!({"header": false})).contains("give the column's number"));
    assert!(
        fault(json!({"delimiter": ";", "time": {"column": 1}, "depth": {"column": 2, "unit": "m"}}))
            .contains("none of its 2 lines")
    );
    let no_hook = json!({"recorders": [{"serial": "1", "basket": 1, "on": "branch_line"}]});
    assert!(fault(no_hook).contains("give its hook_position"));
    let unknown: Result<Mapping, _> = serde_json::from_value(json!({"tiem": 1}));
    assert!(unknown.unwrap_err().to_string().contains("tiem"));
}

/// Binary garbage with and without something like a header: an error or doubts, no panic.
#[test]
fn verif_garbage_is_refused_in_words() {
    let garbage: Vec<u8> = (0_u32..5000).map(|n| u8::try_from(n.wrapping_mul(2_654_435_761) >> 24).unwrap()).collect();
    let plain = mapping(json!({"header": false, "time": {"column": 1}, "depth": {"column": 2, "unit": "m"}}));
    let error = read_as(&garbage, &plain).unwrap_err();
    assert!(matches!(&error, RecorderError::NothingReadable { .. }), "{error}");
    assert!(matches!(read_as(b"", &plain).unwrap_err(), RecorderError::NothingReadable { .. }));
    assert!(!error.to_string().chars().any(char::is_control));
}

proptest! {
    /// Any bytes, and any damage to a good file: never a panic, and what comes out is finite and in order.
    #[test]
    fn verif_any_bytes_are_survived(
        bytes in proptest::collection::vec(any::<u8>(), 0..400),
        damage in proptest::collection::vec((0_usize..9000, any::<u8>()), 0..30),
        with_header in any::<bool>(),
    ) {
        let voyage = Voyage::new();
        let mut good = voyage.csv(&voyage.readings(240.0)).into_bytes();
        for (at, byte) in damage {
            let at = at % good.len();
            good[at] = byte;
        }
        let by_number = json!({
            "header": with_header, "time_zone_utc_h": 0, "time": {"column": 1}, "depth": {"column": 2, "unit": "m"},
        });
        for bytes in [&bytes, &good] {
            let Ok(mut reading) = read_as(bytes, &mapping(by_number.clone())) else { continue };
            prop_assert!(reading.samples.windows(2).all(|pair| pair[0].utc < pair[1].utc));
            prop_assert!(reading.samples.iter().all(|sample| sample.depth_m.is_finite()));
            if let Some(cut) = cut(&mut reading, &voyage.times()) {
                prop_assert!(cut.medians.iter().all(|median| median.depth_m.is_finite()));
            }
        }
    }
}
