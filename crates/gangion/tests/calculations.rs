//! The commands `sky`, `geodesic`, `setting` and `depth` as a user runs them: answers, schemas, and bad input.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::process::{Command, Stdio};

use quantity::testing::assert_within;
use serde_json::Value;

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

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// Source: nautical twilight computed with skyfield 1.55 and DE421 (whole seconds). Tolerance: 1 s is text equality here.
#[test]
fn val_sky_answers_with_de421s_twilight() {
    let sky = answer(&["sky", "--lat", "-30", "--lon", "170", "--date", "2024-06-21", "--year", "2026", "--json"]);
    assert_eq!(sky["nautical_dawn_utc"], "2024-06-20T18:39:10Z");
    assert_eq!(sky["nautical_dusk_utc"], "2024-06-21T06:44:28Z");
    assert_eq!(sky["moon_phases_utc"][0]["phase"], "full");
    let bright = answer(&["sky", "--lat", "55", "--lon", "-30", "--date", "2025-06-21", "--json"]);
    assert!(bright["nautical_dawn_utc"].is_null() && bright["moon_phases_utc"].is_null());
}

/// Source: computed with geographiclib 2.1. Tolerance: the printed digits.
#[test]
fn val_geodesic_answers_across_the_date_line() {
    let between =
        r#"{"from":{"latitude_deg":-15,"longitude_deg":179.9},"to":{"latitude_deg":-15,"longitude_deg":-179.9}}"#;
    let leg = answer(&["geodesic", "--json", between]);
    assert_within("distance, m", number(&leg["distance_m"]), 21_510.097_012, 1e-6);
    assert_within("bearing, deg", number(&leg["bearing_end_deg"]), 89.974_118_071, 1e-9);
    let steady = answer(&["geodesic", "--rhumb", "--json", between]);
    assert_within("bearing, deg", number(&steady["bearing_start_deg"]), 90.0, 0.0);
    let ahead = r#"{"from":{"latitude_deg":-15,"longitude_deg":179.95},"bearing_deg_true":90,"distance_m":37040}"#;
    assert_within(
        "longitude",
        number(&answer(&["geodesic", "--json", ahead])["longitude_deg"]),
        -179.705_603_888_4,
        1e-10,
    );
}

/// Source: computed with SciPy 1.17.1 (`solve_bvp` and Brent's method agree). Tolerance: 0.006 m.
#[test]
fn val_depth_answers_for_a_deep_basket() {
    let basket =
        r#"{"basket":{"hooks":25,"clip_spacing_m":45,"sag_ratio":0.75,"float_line_m":25,"branch_line_m":25},"more":1}"#;
    let hanging = answer(&["depth", "--json", basket]);
    assert_within("depth, m", number(&hanging["hooks"][12]["depth_m"]), 394.37, 0.006);
    assert_eq!(hanging["hooks"][12]["position"], 13);
}

#[test]
fn verif_setting_answers_and_leaves_the_unknown_null() {
    let set = answer(&["setting", "--json", r#"{"vessel_speed_through_water_kn":8,"sag_ratio":0.7}"#]);
    assert_within("shooter, m/s", number(&set["shooter_speed_m_s"]), 8.0 * 1852.0 / 3600.0 / 0.7, 1e-12);
    assert!(set["beat_s"].is_null());
    assert_eq!(set["doubts"][0]["kind"], "missing");
}

#[test]
fn verif_every_calculation_has_a_schema() {
    for command in ["sky", "geodesic", "setting", "depth"] {
        let schema = answer(&[command, "--schema"]);
        assert_eq!(schema["title"], format!("gangion {command}"));
        assert!(!schema.to_string().contains("#/components/"), "{command}");
    }
}

#[test]
fn verif_bad_input_is_one_sentence_and_exit_code_2() {
    let cases: &[&[&str]] = &[
        &["sky", "--lat", "NaN", "--lon", "0", "--date", "2024-06-21"],
        &["sky", "--lat", "0", "--lon", "1e300", "--date", "2024-06-21"],
        &["sky", "--lat", "0", "--lon", "0", "--date", "2024-02-30"],
        &["sky", "--lat", "0", "--lon", "0", "--date", "2024-02-20", "--year", "-5"],
        &["sky", "--lat", "0", "--lon", "0", "--date", "2024-02-20", "--at", "yesterday"],
        &["geodesic", "--json"],
        &["geodesic", r#"{"from":{"latitude_deg":-95,"longitude_deg":0},"bearing_deg_true":0,"distance_m":1}"#],
        &["geodesic", r#"{"from":{"latitude_deg":5,"longitude_deg":0},"bearing_deg_true":0}"#],
        &[
            "geodesic",
            "--rhumb",
            r#"{"from":{"latitude_deg":5,"longitude_deg":0},"bearing_deg_true":0,"distance_m":2e7}"#,
        ],
        &["setting", "{}"],
        &["setting", r#"{"vessel_speed_through_water_kn":8,"sag_ratio":0.7,"shooter_speed_m_s":5}"#],
        &["setting", r#"{"vessel_speed_through_water_kn":1e999}"#],
        &["setting", r#"{"hooks":2.5,"hooks_per_basket":1}"#],
        &["depth", "no-such-file.json"],
        &[
            "depth",
            r#"{"basket":{"hooks":0,"clip_spacing_m":45,"sag_ratio":0.75,"float_line_m":25,"branch_line_m":25}}"#,
        ],
        &[
            "depth",
            r#"{"basket":{"hooks":9,"clip_spacing_m":45,"sag_ratio":1.75,"float_line_m":25,"branch_line_m":25}}"#,
        ],
        &[
            "depth",
            r#"{"basket":{"hooks":9,"clip_spacing_m":NaN,"sag_ratio":0.7,"float_line_m":25,"branch_line_m":25}}"#,
        ],
    ];
    for case in cases {
        let (code, out, error) = run(case);
        assert_eq!(code, 2, "{case:?}: {error}");
        assert!(out.is_empty() && error.lines().count() == 1 && error.starts_with("gangion: "), "{case:?}: {error}");
    }
}
