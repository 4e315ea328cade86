//! The gear in the water through the command line: depths in a current, the soak, figures, and input at fault.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on should fail loudly")]

use std::process::{Command, Output};

use quantity::testing::assert_within;
use serde_json::{Value, json};

fn gangion(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gangion")).args(arguments).output().unwrap()
}

fn answer(command: &str, input: &Value) -> Value {
    let output = gangion(&[command, "--json", &input.to_string()]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Refused with exit code 2, in one sentence that holds `words`.
fn refused(command: &str, input: &Value, words: &str) {
    let output = gangion(&[command, "--json", &input.to_string()]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains(words) && said.trim().lines().count() == 1, "{said}");
    assert!(output.stdout.is_empty());
}

/// 15 hooks of 0.6 N and 0.060 m² at 45 m, sag ratio 0.70, EA 2 kN, drifting in (0.30 − 0.25 s, 0.10 s) m/s with
/// s = min(depth / 250 m, 1), along the line and to starboard.
fn drifting() -> Value {
    json!({
        "basket": {"hooks": 15, "clip_spacing_m": 45, "sag_ratio": 0.7, "float_line_m": 20, "branch_line_m": 25},
        "main_line": {"diameter_mm": 3.6, "density_kg_m3": 1140, "axial_stiffness_n": 2000, "drag_normal": 1.2, "drag_tangential": 0.008},
        "branch": {"weight_in_water_n": 0.6, "drag_area_m2": 0.06, "drag_at": "node"},
        "float_line": {"diameter_mm": 6, "drag_normal": 1.2},
        "float": {"drag_area_m2": 0.01767},
        "water": {"density_kg_m3": 1025, "gravity_m_s2": 9.80665, "current": [
            {"depth_m": 0, "east_m_s": 0.0, "north_m_s": 0.30}, {"depth_m": 250, "east_m_s": 0.10, "north_m_s": 0.05}]},
        "line_bearing_deg_true": 0, "ends": "drifting", "elements_per_interval": 8
    })
}

/// Drift by an independent root find round a mixed Newton solver (NumPy 2.4.6): (0.17346, 0.05810) m/s with plumb float
/// lines. Ours lean: 0.0001 m/s allowed, 0.00002 seen. Middle of the main line 240.876 m: 0.05 m allowed, 0.025 seen.
#[test]
fn val_a_drifting_basket_by_command() {
    let hung = answer("depth", &drifting());
    assert_within("along, m/s", hung["drift"]["north_m_s"].as_f64().unwrap(), 0.17346, 1e-4);
    assert_within("to starboard, m/s", hung["drift"]["east_m_s"].as_f64().unwrap(), 0.05810, 1e-4);
    let nodes = hung["nodes"].as_array().unwrap();
    assert_within("middle, m", nodes[nodes.len() / 2]["depth_m"].as_f64().unwrap(), 240.876, 0.05);
    assert!(hung["end_gap_m"].as_f64().unwrap() <= 1e-6 && hung["force_closure_n"].as_f64().unwrap() <= 1e-9);
    assert!(hung["net_force_n"].as_f64().unwrap() <= 1e-8);
    assert!(hung["hooks"][7]["band_m"].as_f64().unwrap() > 1.0);
    assert_eq!(hung["hooks"][7]["band_mostly"], "current");
}

#[test]
fn verif_a_current_that_turns_with_the_line_changes_no_depth() {
    let first = answer("depth", &drifting());
    let mut turned = drifting();
    let (sin, cos) = 1.1_f64.sin_cos();
    for level in turned["water"]["current"].as_array_mut().unwrap() {
        let (east, north) = (level["east_m_s"].as_f64().unwrap(), level["north_m_s"].as_f64().unwrap());
        level["east_m_s"] = json!(east * cos + north * sin);
        level["north_m_s"] = json!(north * cos - east * sin);
    }
    turned["line_bearing_deg_true"] = json!(1.1_f64.to_degrees());
    let second = answer("depth", &turned);
    for hook in 0..15 {
        let at = |answer: &Value| answer["hooks"][hook]["depth_m"].as_f64().unwrap();
        // Both end within 1e-7 m of their float.
        assert_within("depth, m", at(&second), at(&first), 1e-5);
    }
}

#[test]
fn regress_gear_that_cannot_be_is_refused_in_words() {
    let with = |path: &str, value: Value| {
        let mut input = drifting();
        *input.pointer_mut(path).unwrap() = value;
        input
    };
    refused("depth", &with("/basket/sag_ratio", json!(1.0)), "sag_ratio is 1");
    refused("depth", &with("/basket/sag_ratio", json!(0.0)), "sag_ratio is 0");
    refused("depth", &with("/basket/float_line_m", json!(-20)), "float_line_m is -20 m");
    refused("depth", &with("/branch", json!({"drag_area_m2": 0.06})), "branch.weight_in_water_n is missing");
    refused("depth", &with("/main_line", json!({"density_kg_m3": 1140})), "main_line.diameter_mm is missing");
    refused(
        "depth",
        &with("/water/current", json!([{"depth_m": -5, "east_m_s": 0, "north_m_s": 0}])),
        "depth_m is -5 m",
    );
    refused("depth", &with("/elements_per_interval", json!(0)), "elements_per_interval is 0");
    refused("depth", &with("/main_line/density_kg_m3", json!(600)), "it would float up");
    refused("soak", &json!({"stretches": [], "duration_s": 60}), "baskets is 0");
}

#[test]
fn verif_what_was_not_given_and_what_is_too_small_is_said() {
    let mut input = drifting();
    input["main_line"] = json!({"diameter_mm": 3.6});
    input["float"]["net_buoyancy_n"] = json!(5.0);
    let hung = answer("depth", &input);
    let said: Vec<&str> =
        hung["doubts"].as_array().unwrap().iter().map(|doubt| doubt["kind"].as_str().unwrap()).collect();
    assert!(
        said.contains(&"assumed") && said.contains(&"float_too_small") && said.contains(&"profile_held"),
        "{said:?}"
    );
}

#[test]
fn verif_a_line_is_followed_and_told_line_by_line() {
    let folder = tempfile::tempdir().unwrap();
    let (rows, figure) = (folder.path().join("rows.jsonl"), folder.path().join("line.svg"));
    let mut stretch = drifting();
    stretch["baskets"] = json!(6);
    stretch["water"]["current"] = json!([]);
    let current = drifting()["water"]["current"].clone();
    let input = json!({
        "stretches": [stretch], "profiles": [{"after_s": 0, "current": current}],
        "set_at_s": [0, 120, 240, 360, 480, 600, 720],
        "radio_buoys": [{"place": 0, "drag_area_m2": 0.1, "wind_area_m2": 0.2, "drogue_area_m2": 1.0, "drogue_depth_m": 10}],
        "wind": [{"speed_m_s": 8, "from_deg_true": 120}],
        "duration_s": 3600, "step_s": 60, "every_s": 1800
    });
    let out = gangion(&[
        "soak",
        "--json",
        "--out",
        rows.to_str().unwrap(),
        "--figure",
        figure.to_str().unwrap(),
        &input.to_string(),
    ]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let answer: Value = serde_json::from_slice(&out.stdout).unwrap();
    let moments = answer["moments"].as_array().unwrap();
    assert_eq!(moments.len(), 3);
    assert_eq!(moments[0]["baskets"].as_array().unwrap().len(), 0);
    let last = &moments[2]["baskets"];
    assert_eq!(last.as_array().unwrap().len(), 6);
    assert!(last[0]["sag_ratio"].as_f64().unwrap() < 0.7);
    let told = std::fs::read_to_string(&rows).unwrap();
    assert_eq!(told.lines().count(), 12);
    let row: Value = serde_json::from_str(told.lines().last().unwrap()).unwrap();
    assert_eq!(row["hook_depths_m"].as_array().unwrap().len(), 15);
    assert!(std::fs::read_to_string(&figure).unwrap().contains("Sag ratio of every basket"));
}

#[test]
fn verif_a_fix_corrects_the_sag_ratio_of_its_stretch() {
    let mut stretch = drifting();
    stretch["baskets"] = json!(4);
    let input = json!({
        "stretches": [stretch],
        "start_positions": [
            {"latitude_deg": -15.0, "longitude_deg": 179.99}, {"latitude_deg": -14.9955, "longitude_deg": 179.99},
            {"latitude_deg": -14.991, "longitude_deg": 179.99}, {"latitude_deg": -14.9865, "longitude_deg": 179.99},
            {"latitude_deg": -14.982, "longitude_deg": 179.99}],
        "fixes": [{"after_s": 1800, "place": 0, "latitude_deg": -15.0, "longitude_deg": 179.99},
            {"after_s": 1800, "place": 4, "latitude_deg": -14.984, "longitude_deg": 179.99}],
        "duration_s": 1800, "every_s": 1800
    });
    let answer = answer("soak", &input);
    let correction = &answer["corrections"][0];
    // 0.016° of latitude at 15° S is 1770.1 m (WGS 84 meridian arc); main line 4 × 720 m; nearly straight.
    assert_within("measured", correction["sag_ratio_measured"].as_f64().unwrap(), 1770.1 / 2880.0, 2e-3);
    let floats = answer["moments"][1]["float_positions"].as_array().unwrap();
    assert_within("fixed, degrees", floats[4]["latitude_deg"].as_f64().unwrap(), -14.984, 1e-6);
}
