//! `gangion calibrate` as a user runs it: recorders found again, refusals, bad files, bad input.
//! The records are invented here: depths of `gangion depth` for gear that hangs otherwise than it was written down.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::path::Path;
use std::process::{Command, Stdio};

use quantity::UtcInstant;
use quantity::testing::assert_within;
use serde_json::{Value, json};
use tempfile::TempDir;

/// Exit code, stdout, stderr.
fn run(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_gangion")).args(arguments).stdin(Stdio::null()).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

fn answer(arguments: &[&str]) -> Value {
    let (code, out, error) = run(arguments);
    assert_eq!(code, 0, "{arguments:?}: {error}");
    serde_json::from_str(&out).unwrap()
}

/// A deep set in a current that turns with depth.
fn set(sag_ratio: f64) -> Value {
    json!({
        "basket": {"hooks": 15, "clip_spacing_m": 45, "sag_ratio": sag_ratio, "float_line_m": 20, "branch_line_m": 25},
        "main_line": {"diameter_mm": 3.6}, "branch": {"weight_in_water_n": 0.6, "drag_area_m2": 0.06},
        "float_line": {"diameter_mm": 6}, "float": {"drag_area_m2": 0.018, "net_buoyancy_n": 110},
        "water": {"current": [{"depth_m": 0, "east_m_s": 0.3, "north_m_s": 0}, {"depth_m": 250, "east_m_s": 0.1, "north_m_s": 0.2}]},
        "line_bearing_deg_true": 90, "gear": "deep 15", "latitude_deg": -15,
        "setting": {"from_utc": "2026-03-04T18:00:00Z", "to_utc": "2026-03-04T22:00:00Z"},
        "hauling": {"from_utc": "2026-03-05T04:00:00Z", "to_utc": "2026-03-05T12:00:00Z"},
        "stretches": [{"from_basket": 1, "to_basket": 40}],
    })
}

/// A recorder's file: down from 19:00 UTC, up from 06:00 UTC, read every minute, comma decimals, a swing of an hour.
fn record(deep_m: f64, zone_h: f64, sign: f64) -> String {
    let start: UtcInstant = "2026-03-04T18:30:00Z".parse().unwrap();
    let mut text = "Recorder of a test\nZeit;Tiefe\n".to_owned();
    for minute in 0..780 {
        let at_s = 60.0 * f64::from(minute);
        let down_m = (0.15 * (at_s - 1800.0)).max(0.0);
        let up_m = (0.3 * (42_000.0 - at_s)).max(0.0);
        let swing_m = 2.0 * (at_s / 3600.0 * std::f64::consts::TAU).sin();
        let depth_m = if down_m > deep_m && up_m > deep_m { deep_m + swing_m } else { down_m.min(up_m).min(deep_m) };
        let shown = start.plus_seconds(at_s + 3600.0 * zone_h).to_string().replace(['T', 'Z'], " ");
        text += &format!("{};{}\n", shown.trim(), format!("{:.1}", sign * depth_m + 0.4).replace('.', ","));
    }
    text
}

fn mapping(recorders: &Value) -> Value {
    json!({
        "delimiter": ";", "decimal_mark": ",", "lines_to_skip": 1, "time_zone_utc_h": 12,
        "time": {"column": "Zeit", "format": "%Y-%m-%d %H:%M:%S"}, "depth": {"column": "Tiefe", "unit": "m"},
        "recorders": recorders,
    })
}

/// Depths of the main line at hooks as `gangion depth` has them.
fn clip_depths(gear: &Value) -> Vec<f64> {
    let hung = answer(&["depth", "--json", &gear.to_string()]);
    let nodes = hung["nodes"].as_array().unwrap();
    (0..=15)
        .map(|hook| {
            let at_m = 45.0 * f64::from(hook);
            let node = nodes.iter().find(|node| (node["along_m"].as_f64().unwrap() - at_m).abs() < 1e-6).unwrap();
            node["depth_m"].as_f64().unwrap()
        })
        .collect()
}

fn calibrate(directory: &Path, recorders: &Value, set: &Value) -> Value {
    let directory = directory.to_str().unwrap();
    answer(&[
        "calibrate",
        "--recorders",
        directory,
        "--mapping",
        &mapping(recorders).to_string(),
        "--json",
        &set.to_string(),
    ])
}

fn parameter<'a>(calibration: &'a Value, name: &str) -> &'a Value {
    calibration["parameters"].as_array().unwrap().iter().find(|one| one["name"] == name).unwrap()
}

fn kinds(doubts: &Value) -> Vec<String> {
    doubts.as_array().unwrap().iter().map(|doubt| doubt["kind"].as_str().unwrap().to_owned()).collect()
}

/// Four baskets with three recorders each.
fn twelve(directory: &TempDir, true_sag_ratio: f64) -> Value {
    let depths_m = clip_depths(&set(true_sag_ratio));
    let mut recorders = Vec::new();
    for basket in [5, 12, 20, 33] {
        for hook in [1_usize, 4, 8] {
            let name = format!("b{basket}_{hook}.csv");
            std::fs::write(directory.path().join(&name), record(depths_m[hook], 12.0, 1.0)).unwrap();
            recorders.push(json!({"file": name, "basket": basket, "on": "main_line", "hook_position": hook}));
        }
    }
    Value::Array(recorders)
}

#[test]
fn verif_a_slacker_line_is_found_and_carried_on() {
    let directory = TempDir::new().unwrap();
    let recorders = twelve(&directory, 0.68);
    let mut told = set(0.70);
    let first = calibrate(directory.path(), &recorders, &told);
    let sag = parameter(&first, "sag_bias");
    let (estimate, error) = (sag["estimate"].as_f64().unwrap(), sag["standard_error"].as_f64().unwrap());
    assert_within("sag bias", estimate, -0.02, 2.0 * error);
    assert!(error < 0.015 && estimate < -0.005, "{estimate} ± {error}");
    let fit = &first["fit"];
    assert!(fit["off_after_m"].as_f64().unwrap() < 0.5 * fit["off_before_m"].as_f64().unwrap(), "{fit}");
    for recorder in first["recorders"].as_array().unwrap() {
        assert_eq!((recorder["used"].clone(), recorder["doubts"].clone()), (json!(true), json!([])), "{recorder}");
        let (observed, after) = (&recorder["observed_m"], &recorder["modelled_after_m"]);
        assert_within("after, m", after.as_f64().unwrap(), observed.as_f64().unwrap(), 3.0);
        assert_within("surface, m", recorder["surface_offset_m"][0].as_f64().unwrap(), 0.4, 1e-9);
        assert_eq!(recorder["cut"]["in_water_utc"].as_str().unwrap().get(..14), Some("2026-03-04T19:"));
    }
    assert_eq!(first["correction"]["sets"], 1);
    // More drag or more current: refused, in words.
    let refusal =
        first["refusals"].as_array().unwrap().iter().find(|one| one["parameter"] == "drag_to_weight_ln").unwrap();
    assert_eq!(refusal["from"], json!(["shear_ln"]));
    assert!(parameter(&first, "drag_to_weight_ln")["estimate"].is_null());
    // The next set begins where this one ended.
    told["prior"] = first["correction"].clone();
    let second = calibrate(directory.path(), &recorders, &told);
    assert_eq!(second["correction"]["sets"], 2);
    let bias = |calibration: &Value| calibration["correction"]["sag_bias"].as_f64().unwrap();
    assert!(bias(&second) < bias(&first) && bias(&first) < 0.0);
    assert_within("prior", parameter(&second, "sag_bias")["prior"].as_f64().unwrap(), bias(&first), 1e-12);
    told["gear"] = json!("another");
    let other = calibrate(directory.path(), &recorders, &told);
    assert!(kinds(&other["doubts"]).contains(&"correction_of_other_gear".to_owned()));
    assert_eq!(
        (other["correction"]["sets"].clone(), other["correction"]["gear"].clone()),
        (json!(1), json!("another"))
    );
}

#[test]
fn verif_middle_only_is_refused_and_buoys_help() {
    let directory = TempDir::new().unwrap();
    let depths_m = clip_depths(&set(0.68));
    std::fs::write(directory.path().join("only.csv"), record(depths_m[8] + 25.0, 12.0, 1.0)).unwrap();
    let recorders = json!([{"file": "only.csv", "basket": 7, "on": "branch_line", "hook_position": 8}]);
    let alone = calibrate(directory.path(), &recorders, &set(0.70));
    let refusal = alone["refusals"].as_array().unwrap().iter().find(|one| one["parameter"] == "sag_bias").unwrap();
    assert!(refusal["from"].as_array().unwrap().contains(&json!("shear_ln")));
    assert!(refusal["remedy"].as_str().unwrap().contains("first clip"));
    let mut fixed = set(0.70);
    fixed["stretches"][0]["buoy_sag_ratio"] = json!(0.68);
    let with_buoys = calibrate(directory.path(), &recorders, &fixed);
    let sag = parameter(&with_buoys, "sag_bias");
    assert_within("sag bias", sag["estimate"].as_f64().unwrap(), -0.02, 0.01);
    assert_eq!(sag["measured"], true);
    assert!(!with_buoys["refusals"].as_array().unwrap().iter().any(|one| one["parameter"] == "sag_bias"));
}

#[test]
fn verif_bad_files_are_told_and_the_good_ones_used() {
    let directory = TempDir::new().unwrap();
    let depths_m = clip_depths(&set(0.70));
    let write = |name: &str, bytes: &[u8]| std::fs::write(directory.path().join(name), bytes).unwrap();
    write("good.csv", record(depths_m[8], 12.0, 1.0).as_bytes());
    write("zone.csv", record(depths_m[8], 2.0, 1.0).as_bytes());
    write("turned.csv", record(depths_m[8], 12.0, -1.0).as_bytes());
    write("garbage.csv", &(0..9000_u32).map(|n| n.wrapping_mul(2_654_435_761).to_le_bytes()[3]).collect::<Vec<_>>());
    write("beyond.csv", record(depths_m[8], 12.0, 1.0).as_bytes());
    write("notes.txt", b"nothing");
    let at = |name: &str, basket: u32| json!({"file": format!("{name}.csv"), "basket": basket, "on": "main_line", "hook_position": 8});
    let recorders =
        json!([at("good", 3), at("zone", 4), at("turned", 5), at("garbage", 6), at("beyond", 99), at("lost", 1)]);
    let answer = calibrate(directory.path(), &recorders, &set(0.70));
    let of = |name: &str| {
        answer["recorders"].as_array().unwrap().iter().find(|one| one["file"] == format!("{name}.csv")).unwrap()
    };
    assert_eq!(of("good")["used"], true);
    for (name, kind, words) in [
        ("zone", "wrong_zone", "moved by +9 to +13 h"),
        ("turned", "upside_down", "positive: up"),
        ("garbage", "unreadable", "not"),
        ("beyond", "no_such_place", "basket 99 is in no stretch"),
    ] {
        let recorder = of(name);
        assert_eq!(recorder["used"], false, "{name}");
        assert!(recorder["left_out_because"].is_string() && recorder["modelled_after_m"].is_null());
        let doubts = recorder["doubts"].as_array().unwrap();
        let told = doubts.iter().any(|doubt| doubt["kind"] == kind && doubt["text"].as_str().unwrap().contains(words));
        assert!(told, "{name}: {doubts:?}");
    }
    let all = kinds(&answer["doubts"]);
    assert!(all.contains(&"file_without_recorder".to_owned()) && all.contains(&"recorder_without_file".to_owned()));
    // With nothing but bad files the correction stays as it was.
    std::fs::remove_file(directory.path().join("good.csv")).unwrap();
    let mut more = set(0.70);
    more["lattitude_deg"] = json!(-15);
    let nothing = calibrate(directory.path(), &recorders, &more);
    assert!(kinds(&nothing["doubts"]).contains(&"unknown_field".to_owned()));
    assert!(kinds(&nothing["doubts"]).contains(&"nothing_learned".to_owned()));
    assert_eq!((nothing["correction"]["sets"].clone(), nothing["fit"].clone()), (json!(0), Value::Null));
}

/// Without mechanics or current only the sag ratio is asked for, by the closed form.
#[test]
fn verif_still_water_learns_the_sag_ratio_alone() {
    let directory = TempDir::new().unwrap();
    let gear = |sag_ratio: f64| json!({"basket": {"hooks": 4, "clip_spacing_m": 60, "sag_ratio": sag_ratio, "float_line_m": 10, "branch_line_m": 15}});
    let hung = answer(&["depth", "--json", &gear(0.90).to_string()]);
    let deep_m = hung["hooks"][1]["depth_m"].as_f64().unwrap();
    std::fs::write(directory.path().join("a.csv"), record(deep_m, 12.0, 1.0)).unwrap();
    let recorders = json!([{"file": "a.csv", "basket": 1, "on": "branch_line", "hook_position": 2}]);
    let answer = calibrate(directory.path(), &recorders, &gear(0.92));
    assert_eq!(answer["parameters"].as_array().unwrap().len(), 1);
    let sag = parameter(&answer, "sag_bias");
    assert_within("sag bias", sag["estimate"].as_f64().unwrap(), -0.02, 0.004);
    assert!(kinds(&answer["doubts"]).contains(&"no_current".to_owned()));
}

#[test]
fn verif_bad_input_ends_with_2_and_a_sentence() {
    let directory = TempDir::new().unwrap();
    std::fs::write(directory.path().join("a.csv"), record(200.0, 12.0, 1.0)).unwrap();
    let here = directory.path().to_str().unwrap();
    let recorders = json!([{"file": "a.csv", "basket": 1, "on": "main_line", "hook_position": 1}]);
    let good = mapping(&recorders).to_string();
    let refused = |directory: &str, mapping: &str, set: &str| {
        let (code, out, error) = run(&["calibrate", "--recorders", directory, "--mapping", mapping, "--json", set]);
        assert_eq!((code, out.as_str()), (2, ""), "{error}");
        assert_eq!(error.trim_end().lines().count(), 1, "{error}");
        error
    };
    let plain = set(0.7).to_string();
    assert!(refused("/nowhere/at/all", &good, &plain).contains("/nowhere/at/all"));
    assert!(refused(here, "{\"delimiter\":\";\"}", &plain).contains("missing field"));
    let mut turned = mapping(&recorders);
    turned["time_zone_utc_h"] = json!(99);
    assert!(refused(here, &turned.to_string(), &plain).contains("time_zone_utc_h is 99"));
    assert!(refused(here, &good, &set(1.3).to_string()).contains("sag_ratio is 1.3"));
    let mut crossed = set(0.7);
    crossed["stretches"] = json!([{"from_basket": 1, "to_basket": 9}, {"from_basket": 9, "to_basket": 12}]);
    assert!(refused(here, &good, &crossed.to_string()).contains("stretch 2 shares baskets"));
    crossed["stretches"] = json!([{"from_basket": 5, "to_basket": 2}]);
    assert!(refused(here, &good, &crossed.to_string()).contains("from basket 5 to 2"));
    crossed["stretches"] = json!([{"from_basket": 1, "to_basket": 9, "buoy_sag": 0.7}]);
    assert!(refused(here, &good, &crossed.to_string()).contains("buoy_sag"));
    let mut damaged = set(0.7);
    damaged["prior"] = json!({"gear": "deep 15", "sets": 3, "drag_to_weight_ln": 0.1, "drag_to_weight_ln_error": 0.0,
        "drag_to_weight_sets": 0, "sag_bias": 0, "sag_bias_error": 0.01, "sag_bias_sets": 0, "covariance": 0});
    assert!(refused(here, &good, &damaged.to_string()).contains("is damaged"));
    let schema = answer(&["calibrate", "--schema"]);
    assert_eq!(schema["title"], "gangion calibrate");
    assert!(!schema.to_string().contains("#/components/"));
    let (code, out, _) = run(&["calibrate", "--recorders", here, "--mapping", &good, &plain]);
    assert!(code == 0 && out.contains("The boat's correction for gear \"deep 15\""), "{out}");
}
