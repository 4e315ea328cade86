//! The command `settle` as a user runs it: the reference basket, times of hooks, and bad input.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::process::{Command, Stdio};

use quantity::testing::assert_within;
use serde_json::{Value, json};

/// Exit code, stdout, stderr.
fn run(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_gangion")).args(arguments).stdin(Stdio::null()).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

fn answer(input: &Value) -> Value {
    let (code, out, error) = run(&["settle", "--json", &input.to_string()]);
    assert_eq!(code, 0, "{error}");
    serde_json::from_str(&out).unwrap()
}

fn refused(input: &Value) -> String {
    let (code, _, error) = run(&["settle", "--json", &input.to_string()]);
    assert_eq!(code, 2, "{error}");
    error
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

/// The reference basket and what else is asked.
fn basket(more: Value) -> Value {
    let mut input = json!({
        "basket": {"hooks": 15, "clip_spacing_m": 45, "sag_ratio": 0.7, "float_line_m": 20, "branch_line_m": 25},
        "main_line": {"diameter_mm": 3.6, "density_kg_m3": 1140, "axial_stiffness_n": 2000},
        "branch": {"weight_in_water_n": 0.6},
    });
    input.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    input
}

/// Source: MoorDyn-C 2.7.2, two segments an interval, laid flat in still water: 2,000 s to 98 %, and the middle clip at
/// 96.6 m after 600 s. Tolerance 2 % and 1 m; terminal speed by hand, √(2 × 0.02397925 ÷ (1025 × 1.2 × 0.0036)).
#[test]
fn val_the_reference_basket_settles_by_every_way_of_asking() {
    let flat = answer(&basket(json!({"depth_after_s": [600]})));
    assert_eq!(flat["model"], "sinking chain without inertia, stepped in time");
    assert_eq!(flat["laid"], "flat");
    assert_within("terminal, m/s", number(&flat["terminal_speed_m_s"]), 0.104_07, 2e-5);
    assert_within("sag, m", number(&flat["sag_m"]), 232.1, 0.2);
    assert_within("98 %, s", number(&flat["t98_s"]), 1995.0, 40.0);
    assert_within("98 % by the formula, s", number(&flat["t98_by_law_s"]), 1995.0, 40.0);
    assert_within("depth, m", number(&flat["hooks"][7]["depth_at"][0]["depth_m"]) - 25.0, 96.6, 1.0);
    let half = answer(&basket(json!({"settled_at_fraction": 0.5})));
    assert_within("half way, s", number(&half["hooks"][7]["settled_s"]), 910.0, 18.0);
    let law = answer(&basket(json!({"method": "law"})));
    assert!(law["model"].as_str().unwrap().contains("stand-in"));
    assert_within("98 %, s", number(&law["t98_s"]), 1995.0, 40.0);
    let stern = answer(&basket(json!({"beat_s": 7})));
    assert_eq!(stern["laid"], "over_the_stern");
    assert_within("98 %, s", number(&stern["t98_s"]), 1995.0, 100.0);
}

#[test]
fn verif_hooks_fish_from_settled_to_lifted_and_not_at_all_when_lifted_before() {
    let times = json!({
        "beat_s": 7, "setting_started_at": "2026-03-04T18:00:00Z",
        "hauling_started_at": "2026-03-05T04:00:00Z", "hauling_beat_s": 12,
        "hooks": [{"position": 3, "lifted_at": "2026-03-04T18:05:00Z"}, {"position": 4, "clipped_at": "2026-03-04T19:00:28Z"}],
    });
    let settled = answer(&basket(times));
    let hooks = settled["hooks"].as_array().unwrap();
    // Hauled from the end set last: hook 15 comes up 12 s after the float, hook 1 180 s.
    assert_eq!(hooks[14]["lifted_at"], "2026-03-05T04:00:12Z");
    assert_eq!(hooks[0]["lifted_at"], "2026-03-05T04:03:00Z");
    assert_eq!(hooks[0]["clipped_at"], "2026-03-04T18:00:07Z");
    let sinking_s = number(&hooks[0]["sinking_s"]);
    assert_within("fishing, s", number(&hooks[0]["fishing_s"]), 36_000.0 + 180.0 - 7.0 - sinking_s, 1e-3);
    assert_within("settled", number(&hooks[0]["settled_s"]), 7.0 + sinking_s, 1e-9);
    assert_within("lifted early", number(&hooks[2]["fishing_s"]), 0.0, 0.0);
    let late_s = 36_000.0 + 12.0 * 12.0 - 3628.0 - number(&hooks[3]["sinking_s"]);
    assert_within("clipped an hour late", number(&hooks[3]["fishing_s"]), late_s, 1e-3);
    let doubts = settled["doubts"].to_string();
    assert!(doubts.contains("lifted_early") && doubts.contains("hooks 3."), "{doubts}");
    assert!(!doubts.contains("not_settled"), "{doubts}");
    let unknown = answer(&basket(json!({"beat_s": 7})));
    assert!(unknown["hooks"][0]["fishing_s"].is_null() && unknown["hooks"][0]["clipped_at"].is_null());
}

#[test]
fn verif_settling_in_a_current_ends_where_depth_says() {
    let sea = json!({
        "beat_s": 7, "line_bearing_deg_true": 90, "float_line": {"diameter_mm": 6}, "float": {"drag_area_m2": 0.018},
        "water": {"current": [{"depth_m": 0, "east_m_s": 0.1, "north_m_s": 0.2}, {"depth_m": 300, "east_m_s": 0, "north_m_s": 0}]},
    });
    let input = basket(sea);
    let settled = answer(&input);
    let (code, out, error) = run(&["depth", "--json", &input.to_string()]);
    assert_eq!(code, 0, "{error}");
    let depth: Value = serde_json::from_str(&out).unwrap();
    for position in [0, 7, 14] {
        let (ours, theirs) = (&settled["hooks"][position], &depth["hooks"][position]);
        assert_within("depth, m", number(&ours["depth_m"]), number(&theirs["depth_m"]), 1e-6);
        assert!(number(&ours["sinking_s"]) > 300.0);
    }
}

#[test]
fn regress_missing_weights_and_times_that_cannot_be_are_refused_in_plain_words() {
    let only = json!({"basket": {"hooks": 15, "clip_spacing_m": 45, "sag_ratio": 0.7, "float_line_m": 20, "branch_line_m": 25}});
    assert!(refused(&only).contains("weight_in_water_n"));
    let mut light = basket(json!({}));
    light["branch"] = json!({"drag_area_m2": 0.06});
    assert!(refused(&light).contains("branch.weight_in_water_n is missing"));
    assert!(refused(&basket(json!({"laid": "over_the_stern"}))).contains("beat_s is missing"));
    assert!(refused(&basket(json!({"beat_s": -1}))).contains("beat_s is -1 s"));
    assert!(refused(&basket(json!({"hooks": [{"position": 16}]}))).contains("hooks 1 to 15"));
    let back =
        json!({"hooks": [{"position": 1, "clipped_at": "2026-03-04T18:00:00Z", "lifted_at": "2026-03-04T17:00:00Z"}]});
    assert!(refused(&basket(back)).contains("before it is clipped"));
    assert!(refused(&basket(json!({"settled_at_fraction": 1.2}))).contains("settled_at_fraction"));
}

#[test]
fn verif_settle_has_a_schema_help_and_plain_words() {
    let (code, out, _) = run(&["settle", "--schema"]);
    assert_eq!(code, 0);
    let schema: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(schema["title"], "gangion settle");
    assert!(!out.contains("#/components/"));
    assert!(out.contains("weight_in_water_n") && out.contains("hauling_started_at"));
    let (_, help, _) = run(&["settle", "--help"]);
    assert!(help.contains("Example"));
    let (code, plain, _) = run(&["settle", &basket(json!({"method": "law"})).to_string()]);
    assert_eq!(code, 0);
    assert!(plain.contains("Hook   8: settled after"), "{plain}");
}
