//! The figures, tables and GeoJSON of a set made by hand.

mod support;

use quantity::testing::assert_within;
use records::{hook_rows, hooks_csv, report, summary_csv};
use support::{set_of, voyage};
use voyage::HookFate;

#[test]
fn verif_set_is_hauled_and_lost_and_unknown() {
    let set = set_of(12);
    let report = report(&voyage(), &set, &forecast::depths(&set));
    assert_eq!(report.hooks_set, 119);
    assert_eq!(
        (report.hooks_lost, report.branch_lines_lost, report.hooks_unknown, report.hooks_in_water),
        (12, 2, 6, 0)
    );
    assert_eq!(report.hooks_set, report.hooks_hauled + report.hooks_lost + report.hooks_unknown);
    assert_eq!((report.baskets, report.floats_set, report.floats_hauled, report.radio_buoys), (12, 11, 10, 2));
    assert_eq!(report.hauling.parts.len(), 2);
    assert_eq!(report.setting.end_utc, set.ended_at);
}

#[test]
fn verif_the_promised_names_stand_in_the_json_and_absent_is_null() {
    let mut set = set_of(12);
    let full = serde_json::to_value(report(&voyage(), &set, &forecast::depths(&set))).unwrap();
    for name in [
        "hooks_set",
        "hooks_in_water",
        "hooks_hauled",
        "hooks_lost",
        "branch_lines_lost",
        "hooks_unknown",
        "baskets",
        "floats_set",
        "floats_hauled",
        "radio_buoys",
        "main_line_total_m",
        "setting",
        "hauling",
        "catch",
        "catch_by_hook_position",
        "doubts",
    ] {
        assert!(!full[name].is_null(), "{name} is absent");
    }
    for name in ["start_utc", "end_utc", "start", "end"] {
        assert!(!full["setting"][name].is_null() && !full["hauling"][name].is_null(), "{name} is absent");
    }
    assert!(full["setting"]["start"]["latitude_deg"].is_f64());
    for name in ["haul", "direction", "from_place", "start_utc", "end_utc", "reason"] {
        assert!(!full["hauling"]["parts"][0][name].is_null(), "{name} is absent");
    }
    for name in [
        "species",
        "retained",
        "released",
        "discarded",
        "lost",
        "caught_per_thousand_hooks",
        "retained_per_thousand_hooks",
    ] {
        assert!(!full["catch"][0][name].is_null(), "{name} is absent");
    }
    for name in ["from_nearer_float", "hooks", "caught", "per_thousand"] {
        assert!(!full["catch_by_hook_position"][0][name].is_null(), "{name} is absent");
    }
    for name in ["kind", "concerns", "text"] {
        assert!(full["doubts"][0][name].is_string(), "{name} is absent");
    }
    set.start = None;
    set.ended_at = None;
    set.main_line_total_m = None;
    set.parts.clear();
    set.hooks.clear();
    set.baskets.clear();
    let bare = serde_json::to_value(report(&voyage(), &set, &[])).unwrap();
    for path in [
        "/setting/start",
        "/setting/end_utc",
        "/main_line_total_m",
        "/hauling/start_utc",
        "/hauling/end",
        "/catch/0/caught_per_thousand_hooks",
    ] {
        assert_eq!(bare.pointer(path), Some(&serde_json::Value::Null), "{path}");
    }
}

#[test]
fn verif_catch_is_counted_by_species_and_per_thousand_hooks_set() {
    let set = set_of(12);
    let report = report(&voyage(), &set, &forecast::depths(&set));
    let codes: Vec<_> = report.catch.iter().map(|line| line.species.clone().unwrap()).collect();
    assert_eq!(codes, ["ALB", "BET", "BSH", "LKV", "SWO", "YFT"]);
    let bigeye = &report.catch[1];
    assert_eq!((bigeye.retained, bigeye.released, bigeye.discarded, bigeye.lost), (3, 0, 0, 1));
    assert_within("caught per 1,000", bigeye.caught_per_thousand_hooks.unwrap(), 4000.0 / 119.0, 1e-12);
    assert_within("kept per 1,000", bigeye.retained_per_thousand_hooks.unwrap(), 3000.0 / 119.0, 1e-12);
    assert_within("weight kept, kg", bigeye.retained_weight_kg["gilled_gutted"], 164.0, 1e-9);
}

#[test]
fn verif_positions_pool_from_the_nearer_float() {
    let mut set = set_of(12);
    set.baskets[11].has_end_float = false;
    let rows = report(&voyage(), &set, &[]).catch_by_hook_position;
    // 11 baskets in the table (one tangled): 10 pool to 1 … 5, the bare one runs 1 … 10.
    assert_eq!(rows.len(), 10);
    assert_eq!(rows.iter().map(|row| row.hooks).sum::<usize>(), 109);
    let row = |distance: usize| &rows[distance - 1];
    assert_eq!((row(1).hooks, row(1).caught), (21, 1));
    assert_eq!((row(4).hooks, row(3).caught), (20, 2));
    assert_eq!((row(10).hooks, row(10).caught), (1, 1));
    assert_eq!(rows.iter().map(|row| row.caught).sum::<usize>(), 8);
    assert_within("per 1,000", row(10).per_thousand.unwrap(), 1000.0, 1e-12);
}

#[test]
fn verif_every_position_has_a_row_with_soak_and_fate() {
    let set = set_of(12);
    let rows = hook_rows(&set, &forecast::depths(&set));
    assert_eq!(rows.len(), 120);
    let first = serde_json::to_value(&rows[0]).unwrap();
    for name in [
        "number",
        "basket",
        "position",
        "clipped_utc",
        "latitude_deg",
        "longitude_deg",
        "along_line_m",
        "depth_m",
        "lifted_utc",
        "soak_s",
        "fate",
    ] {
        assert!(!first[name].is_null(), "{name} is absent");
    }
    assert_eq!(first["fate"], "hauled");
    let soak_s = set.hooks[0].lifted_at.unwrap().seconds_since(set.hooks[0].clipped_at.unwrap());
    assert_within("soak, s", rows[0].soak_s.unwrap(), soak_s, 0.0);
    let missed = rows.iter().find(|row| row.fate == HookFate::Missed).unwrap();
    assert!(missed.number.is_none() && missed.depth_m.is_none() && missed.soak_s.is_none());
    let lost = rows.iter().find(|row| row.fate == HookFate::Lost).unwrap();
    assert!(lost.lifted_utc.is_none() && lost.soak_s.is_none());
}

#[test]
fn verif_csv_is_read_back_with_the_same_rows() {
    let mut set = set_of(12);
    set.hooks[0].fish = vec!["=cmd".into(), "a,\"b\"".into()];
    let depths = forecast::depths(&set);
    let text = hooks_csv(&hook_rows(&set, &depths)).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    assert_eq!(reader.headers().unwrap().get(0), Some("number"));
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 120);
    assert_eq!(rows[0].get(12), Some("'=cmd; a,\"b\""));
    assert_eq!(rows[13].get(0), Some(""));
    let summary = summary_csv(&report(&voyage(), &set, &depths)).unwrap();
    assert_eq!(csv::Reader::from_reader(summary.as_bytes()).records().count(), 1);
}

/// Read back by an independent library (the `geojson` crate) that knows nothing of ours.
#[test]
fn val_geojson_is_read_by_another_library_and_is_cut_at_the_date_line() {
    let set = set_of(12);
    let text = records::geojson(&voyage(), &set, &forecast::depths(&set)).to_string();
    let geojson::GeoJson::FeatureCollection(collection) = text.parse().unwrap() else { panic!("not a collection") };
    assert_eq!(collection.features.len(), 2 + 13 + 10);
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let mut cut = 0;
    for feature in value["features"].as_array().unwrap() {
        let lines = match feature["geometry"]["type"].as_str() {
            Some("MultiLineString") => {
                cut += 1;
                feature["geometry"]["coordinates"].as_array().unwrap().clone()
            }
            Some("LineString") => vec![feature["geometry"]["coordinates"].clone()],
            Some("Point") => vec![serde_json::json!([feature["geometry"]["coordinates"]])],
            _ => Vec::new(),
        };
        for line in lines {
            let longitudes: Vec<f64> =
                line.as_array().unwrap().iter().map(|point| point[0].as_f64().unwrap()).collect();
            assert!(longitudes.iter().all(|lon| (-180.0..=180.0).contains(lon)));
            assert!(
                longitudes.windows(2).all(|pair| (pair[1] - pair[0]).abs() < 180.0),
                "a segment runs round the world"
            );
        }
    }
    assert_eq!(cut, 2, "line and haul track both cross the meridian");
}

#[test]
fn verif_a_line_that_touches_the_date_line_is_cut_cleanly() {
    use quantity::Position;
    use records::geo::cut_at_antimeridian;
    let track =
        |points: &[(f64, f64)]| points.iter().map(|(lat, lon)| Position::new(*lat, *lon).unwrap()).collect::<Vec<_>>();
    let crossing = cut_at_antimeridian(&track(&[(10.0, 179.5), (11.0, -179.5)]));
    assert_eq!(crossing.len(), 2);
    assert_within("latitude of the cut, deg", crossing[0][1].1, 10.5, 1e-12);
    assert_within("east side, deg", crossing[0][1].0, 180.0, 0.0);
    assert_within("west side, deg", crossing[1][0].0, -180.0, 0.0);
    let touching = cut_at_antimeridian(&track(&[(10.0, 179.5), (10.5, 180.0), (11.0, 179.5)]));
    for part in &touching {
        assert!(part.windows(2).all(|pair| (pair[1].0 - pair[0].0).abs() < 180.0));
    }
    assert_eq!(cut_at_antimeridian(&track(&[(0.0, 10.0), (0.0, -10.0)])).len(), 1);
}
