//! `gangion advise gear` as a user runs it: plans within the limits, the same on any number of cores, and bad input.

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

fn answer(arguments: &[&str]) -> Value {
    let (code, out, error) = run(arguments);
    assert_eq!(code, 0, "{arguments:?}: {error}");
    assert_eq!(error, "", "silent when piped");
    serde_json::from_str(&out).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn question() -> Value {
    json!({
        "target": {"from_m": 200, "to_m": 300},
        "branch_line_m": 25,
        "line_bearing_deg_true": 90,
        "main_line": {"diameter_mm": 3.6},
        "branch": {"weight_in_water_n": 0.6, "drag_area_m2": 0.06},
        "float_line": {"diameter_mm": 6},
        "float": {"drag_area_m2": 0.018, "net_buoyancy_n": 110},
        "water": {"current": [
            {"depth_m": 0, "east_m_s": 0.3, "north_m_s": 0},
            {"depth_m": 250, "east_m_s": 0, "north_m_s": -0.1}
        ]},
        "limits": {
            "vessel_speed_through_water_kn": {"from": 6, "to": 9}, "shooter_speed_max_m_s": 7, "line_aboard_m": 80000,
            "hooks_aboard": 2400, "floats_aboard": 120, "setting_time_max_s": 18000, "beat_s": {"from": 6, "to": 10},
            "hooks_per_basket": {"from": 10, "to": 30}, "sag_ratio": {"from": 0.5, "to": 0.9}, "float_lines_m": [20, 30]
        },
        "candidates": 120
    })
}

fn with(path: &str, value: Value) -> String {
    let mut question = question();
    *question.pointer_mut(path).unwrap() = value;
    question.to_string()
}

#[test]
fn verif_plans_are_ranked_within_the_limits_and_told_with_their_doubts() {
    let advice = answer(&["advise", "gear", "--json", &question().to_string()]);
    let plans = advice["plans"].as_array().unwrap();
    assert!(plans.len() >= 3 && advice["no_plan_because"].is_null());
    let in_band = |plan: &Value| number(&plan["hooks_in_band"]);
    assert!(plans.windows(2).all(|pair| in_band(&pair[0]) >= in_band(&pair[1])));
    for plan in plans {
        assert!(number(&plan["main_line_m"]) <= 80_000.0 && number(&plan["setting_time_s"]) <= 18_000.001);
        assert!(number(&plan["hooks"]) <= 2400.0 && number(&plan["floats"]) <= 120.0);
        assert!(number(&plan["shooter_speed_m_s"]) <= 7.000_001 && number(&plan["beat_s"]) >= 5.999_999);
        let counted = plan["hook_places"].as_array().unwrap().iter();
        let counted = counted.filter(|hook| (200.0..=300.0).contains(&number(&hook["depth_m"]))).count();
        let all = f64::from(u32::try_from(counted).unwrap()) * number(&plan["baskets"]);
        // Whole numbers: exact.
        assert_within("hooks in the band", in_band(plan), all, 0.0);
        let changes = plan["changes"].as_array().unwrap();
        assert!(changes.len() == 6 && changes.iter().all(|changed| in_band(changed) >= in_band(&plan["worst"])));
        assert!(plan["drift"]["east_m_s"].is_number());
        assert!(plan["hook_places"][0]["band_m"].is_number());
    }
    // The clip spacing was left to what the beat makes, and is told.
    assert!(advice["doubts"].to_string().contains("limits.clip_spacing_m"));
    assert!(number(&advice["searched"]["tried"]) >= 120.0);
}

#[test]
fn verif_the_answer_is_the_same_on_any_number_of_cores() {
    let question = question().to_string();
    let (code, alone, _) = run(&["advise", "gear", "--json", "--threads", "1", &question]);
    assert_eq!(code, 0);
    for threads in ["2", "3", "7"] {
        assert_eq!(run(&["advise", "gear", "--json", "--threads", threads, &question]).1, alone, "{threads}");
    }
}

/// A plan hung by `gangion depth` has its hooks where the plan says. Both are closed to 1e-7 m; tolerance 1e-5 m.
#[test]
fn verif_a_plan_hangs_as_depth_says() {
    let advice = answer(&["advise", "gear", "--json", &question().to_string()]);
    let plan = &advice["plans"][0];
    let mut gear = question();
    gear["basket"] = json!({
        "hooks": plan["hooks_per_basket"], "clip_spacing_m": plan["clip_spacing_m"], "sag_ratio": plan["sag_ratio"],
        "float_line_m": plan["float_line_m"], "branch_line_m": 25
    });
    let hanging = answer(&["depth", "--json", &gear.to_string()]);
    for (ours, theirs) in plan["hook_places"].as_array().unwrap().iter().zip(hanging["hooks"].as_array().unwrap()) {
        assert_within("depth, m", number(&ours["depth_m"]), number(&theirs["depth_m"]), 1e-5);
        assert_within("band, m", number(&ours["band_m"]), number(&theirs["band_m"]), 1e-3);
    }
}

#[test]
fn verif_without_parts_it_is_still_water_and_every_limit_left_out_is_told() {
    let advice = answer(&["advise", "gear", "--json", r#"{"target":{"from_m":100,"to_m":150},"branch_line_m":20}"#]);
    assert!(advice["model"].as_str().unwrap().contains("still water"));
    assert!(number(&advice["searched"]["tried"]) >= 2000.0);
    assert!(advice["plans"][0]["worst"].is_null() && advice["plans"][0]["drift"].is_null());
    let doubts = advice["doubts"].to_string();
    for told in ["limits.vessel_speed_through_water_kn 5 to 9 kn", "limits.line_aboard_m 100000 m", "no_current"] {
        assert!(doubts.contains(told), "{told}: {doubts}");
    }
}

#[test]
fn regress_limits_that_no_gear_meets_are_an_answer_that_says_which() {
    for (path, value, told) in [
        ("/limits/line_aboard_m", json!(200), "limits.line_aboard_m"),
        ("/limits/setting_time_max_s", json!(30), "limits.setting_time_max_s"),
        ("/limits/shooter_speed_max_m_s", json!(1), "limits.shooter_speed_max_m_s"),
        ("/limits/floats_aboard", json!(1), "limits.floats_aboard"),
        ("/float/net_buoyancy_n", json!(2), "float.net_buoyancy_n"),
        ("/target", json!({"from_m": 1200, "to_m": 1300}), "between 1200 and 1300 m"),
    ] {
        let advice = answer(&["advise", "gear", "--json", &with(path, value)]);
        assert_eq!(advice["plans"].as_array().unwrap().len(), 0);
        assert!(advice["no_plan_because"].as_str().unwrap().contains(told), "{told}: {}", advice["no_plan_because"]);
    }
}

#[test]
fn regress_bad_input_is_one_sentence_and_exit_code_2() {
    let cases = [
        ("{}".to_owned(), "branch_line_m"),
        (with("/target", json!({"from_m": 300, "to_m": 200})), "target.to_m is 200 m"),
        (with("/limits/sag_ratio", json!({"from": 0.5, "to": 1.4})), "limits.sag_ratio.to is 1.4"),
        (with("/limits/beat_s", json!({"from": 10, "to": 6})), "limits.beat_s.to is 6 s"),
        (with("/limits/hooks_aboard", json!(0)), "limits.hooks_aboard is 0"),
        (with("/limits/float_lines_m", json!([-5])), "limits.float_lines_m is -5 m"),
        (with("/main_line", json!({})), "main_line.diameter_mm is missing"),
        (with("/branch", json!({"weight_in_water_n": -1})), "branch.weight_in_water_n is -1 N"),
        (with("/branch_line_m", json!("long")), "not understood"),
        (with("/candidates", json!(0)), "candidates is 0"),
        ("no-such-file.json".to_owned(), "cannot be read"),
    ];
    for (input, told) in cases {
        let (code, out, error) = run(&["advise", "gear", "--json", &input]);
        assert_eq!((code, out.as_str()), (2, ""), "{told}: {error}");
        assert!(error.contains(told) && error.trim().lines().count() == 1, "{told}: {error}");
    }
    assert_eq!(run(&["advise"]).0, 2);
    assert_eq!(run(&["advise", "gear", "--threads", "0", "{}"]).0, 2);
}

#[test]
fn verif_schema_help_and_unknown_fields() {
    let schema = answer(&["advise", "gear", "--schema"]);
    assert_eq!(schema["title"], "gangion advise gear");
    assert!(!schema.to_string().contains("#/components/"));
    let help = run(&["advise", "gear", "--help"]);
    assert!(help.0 == 0 && help.1.contains("Example") && help.1.contains("hooks_per_basket"));
    let mut typo = question();
    typo["limits"]["line_abord_m"] = json!(5);
    let advice = answer(&["advise", "gear", "--json", &typo.to_string()]);
    assert!(advice["doubts"].to_string().contains("limits.line_abord_m is not a field"));
    let (code, plain, _) = run(&["advise", "gear", &question().to_string()]);
    assert!(code == 0 && plain.contains("hooks a basket, sag ratio"));
}
