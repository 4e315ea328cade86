//! `gangion plan` through the command line: the answer, the page, the figure, and input at fault.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on should fail loudly")]

use std::process::{Command, Output};

use quantity::testing::assert_within;
use serde_json::{Value, json};

fn gangion(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_gangion")).args(arguments).output().unwrap()
}

fn wanted() -> Value {
    json!({"start_at": "2031-03-02T06:00:00Z", "start": {"latitude_deg": -14.5, "longitude_deg": 178.9}, "utc_offset_min": 720,
        "legs": [{"course_deg_true": 74, "hooks": 1300}, {"course_deg_true": 96}], "layer_m": [200, 350],
        "setting": {"vessel_speed_through_water_kn": 8, "sag_ratio": 0.7, "beat_s": 7, "hooks_per_basket": 25, "hooks": 2500,
            "hooks_per_radio_buoy": 500},
        "float_line_m": 28, "branch_line_m": 25,
        "aboard": {"floats": 50, "bait": [{"bait": "squid", "boxes": 30, "pieces_per_box": 100, "thaw_h": 12}]}})
}

#[test]
fn verif_the_answer_agrees_with_setting_and_depth() {
    let output = gangion(&["plan", "--json", &wanted().to_string()]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let planned: Value = serde_json::from_slice(&output.stdout).unwrap();
    let plan = &planned["event_data"]["plan"];
    let setting: Value = serde_json::from_slice(&gangion(&["setting", "--json", &plan.to_string()]).stdout).unwrap();
    for name in ["main_line_total_m", "setting_time_s", "set_length_m"] {
        let (ours, theirs) = (&planned["setting"][name], &setting[name]);
        assert_within(name, ours.as_f64().unwrap(), theirs.as_f64().unwrap(), 1e-6);
    }
    let depth: Value = serde_json::from_slice(&gangion(&["depth", "--json", &plan.to_string()]).stdout).unwrap();
    let hooks = planned["stretches"][0]["section"]["hooks"].as_array().unwrap();
    for (ours, theirs) in hooks.iter().zip(depth["hooks"].as_array().unwrap()) {
        assert_within("depth, m", ours["depth_m"].as_f64().unwrap(), theirs["depth_m"].as_f64().unwrap(), 1e-9);
    }
    assert_eq!(hooks.len(), 25);
}

#[test]
fn verif_page_figure_plain_words_and_schema() {
    let folder = tempfile::tempdir().unwrap();
    let name = |file: &str| folder.path().join(file).to_str().unwrap().to_owned();
    let (page, figure) = (name("plan.html"), name("section.svg"));
    let output = gangion(&["plan", &wanted().to_string(), "--page", &page, "--figure", &figure]);
    let said = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(said.starts_with("Order: ship 8.0 kn, shooter 5.88 m/s (353 m/min), beat 7.0 s, 25 hooks"), "{said}");
    for words in
        ["Not enough: 95 floats needed, 50 aboard", "take out by Sun 2 March 06:00", "hooks by daylight", "still water"]
    {
        assert!(said.contains(words), "{words} in {said}");
    }
    let html = std::fs::read_to_string(page).unwrap();
    assert!(html.contains("@page") && html.contains("not enough") && html.contains("Not for navigation"));
    assert!(std::fs::read_to_string(figure).unwrap().starts_with("<svg"));
    let schema: Value = serde_json::from_slice(&gangion(&["plan", "--schema"]).stdout).unwrap();
    assert!(schema["$defs"]["PlanWanted"].is_object() && schema["$defs"]["Planned"].is_object());
}

#[test]
fn verif_input_at_fault_ends_with_two_and_a_sentence() {
    for (input, words) in [
        ("{", "not understood"),
        ("{\"setting\":{}}", "nothing can be computed"),
        ("{\"setting\":{\"beat_s\":1e999}}", "not understood"),
        ("{\"setting\":{\"hooks\":2500,\"hooks_per_basket\":25},\"layer_m\":[300,100]}", "300 m down to 100 m"),
        (
            "{\"setting\":{\"hooks\":2500,\"hooks_per_basket\":25},\"start\":{\"latitude_deg\":-95,\"longitude_deg\":0}}",
            "-95",
        ),
        ("no-such-file.json", "cannot be read"),
    ] {
        let output = gangion(&["plan", "--json", input]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{input}: {said}");
        assert!(said.contains(words) && said.trim().lines().count() == 1, "{input}: {said}");
        assert!(output.stdout.is_empty());
    }
}
