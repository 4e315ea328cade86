//! Published sentences against the decodes of independent libraries (pynmea2 1.19.0, pyais 3.3.1).
//!
//! Data and licences: `tests/data/published/SOURCE.md`. Where the libraries differ from the house rules: pynmea2
//! gives 0.0 for void or empty positions; here they are null.

use instruments::decode::{Decoded, decode_all};
use instruments::frame::{Framer, text_of};
use instruments::sentence::WindReference;
use quantity::testing::assert_within;
use serde_json::Value;

fn rows(name: &str) -> Vec<Value> {
    let path = format!("{}/tests/data/published/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
    text.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{path}: {error}"))).collect()
}

fn one(sentence: &str) -> Decoded {
    let mut found = decode_all(format!("{sentence}\r\n").as_bytes(), None);
    assert_eq!(found.len(), 1, "{sentence}");
    found.remove(0)
}

/// pynmea2's field name, and our value for it.
fn ours(record: &Decoded, kind: &str, field: &str) -> Option<Option<f64>> {
    Some(match (kind, field) {
        ("RMC", "spd_over_grnd") | ("VTG", "spd_over_grnd_kts") => record.speed_over_ground_kn,
        ("RMC", "true_course") | ("VTG", "true_track") => record.course_deg_true,
        ("RMC", "mag_variation") => record.magnetic_variation_deg,
        ("GGA", "gps_qual") => record.fix_quality.map(f64::from),
        ("HDT", "heading") | ("VHW", "heading_true") => record.heading_deg_true,
        ("VHW", "heading_magnetic") => record.heading_deg_magnetic,
        ("VHW", "water_speed_knots") => record.speed_through_water_kn,
        ("MTW", "temperature") => record.water_temperature_c,
        ("DPT", "depth") | ("DBT", "depth_meters") => record.depth_below_transducer_m,
        ("DPT", "offset") => record.transducer_offset_m,
        ("VDR", "deg_t") => record.current_set_deg_true,
        ("VDR", "current") => record.current_drift_kn,
        ("TLL" | "TTM", "target_number") => record.target_number.map(f64::from),
        ("TTM", "distance") => measured(record, "target_distance"),
        ("TTM", "bearing") => measured(record, "target_bearing"),
        ("TTM", "speed") => measured(record, "target_speed"),
        ("TTM", "cog") => measured(record, "target_course"),
        ("TTM", "dist_cpa") => measured(record, "closest_approach_distance"),
        ("TTM", "time_cpa") => measured(record, "closest_approach_in"),
        _ => return None,
    })
}

fn measured(record: &Decoded, kind: &str) -> Option<f64> {
    record.measurements.iter().find(|m| m.kind == kind).and_then(|m| m.value)
}

/// Greatest difference seen: 0 in every field and time; 2e-14 degree in positions (reading of the JSON number).
#[test]
fn val_sentences_as_pynmea2_reads_them() {
    let mut compared = 0;
    for row in rows("nmea_visible.jsonl") {
        let sentence = row["sentence"].as_str().unwrap();
        let record = one(sentence);
        let kind = row["type"].as_str().unwrap();
        assert!(record.ok, "{sentence}: {:?}", record.reason);
        assert_eq!(record.kind.as_deref(), Some(kind));
        assert_eq!(record.talker.as_deref(), row["talker"].as_str());
        assert_eq!(record.reason, None, "{sentence}");
        for (field, raw) in row["fields"].as_object().unwrap() {
            let Some(value) = ours(&record, kind, field) else { continue };
            let theirs = raw.as_str().unwrap();
            assert_eq!(value.is_none(), theirs.is_empty(), "{sentence}: {field}");
            if let Some(value) = value {
                assert_within(&format!("{sentence}: {field}"), value, theirs.parse().unwrap(), 0.0);
                compared += 1;
            }
        }
        let has_place = row["fields"]["lat"].as_str().is_some_and(|lat| !lat.is_empty());
        if has_place {
            let (latitude_deg, longitude_deg) = (record.latitude_deg.unwrap(), record.longitude_deg.unwrap());
            if let (Some(latitude), Some(longitude)) = (row["latitude"].as_f64(), row["longitude"].as_f64()) {
                assert_within("latitude, deg", latitude_deg, latitude, 1e-12);
                assert_within("longitude, deg", longitude_deg, longitude, 1e-12);
                compared += 2;
            }
        } else {
            assert_eq!((record.latitude_deg, record.longitude_deg), (None, None), "{sentence}");
        }
        if let Some(time) = row["timestamp"].as_str() {
            let theirs = time.trim_end_matches("+00:00");
            assert!(
                record.time_of_day_utc.as_deref().unwrap().starts_with(&theirs[..theirs.len().min(12)]),
                "{sentence}"
            );
            compared += 1;
        }
        if let Some(moment) = row["datetime"].as_str() {
            let theirs: quantity::UtcInstant = moment.replace(' ', "T").parse().unwrap();
            assert_eq!(record.time_utc, Some(theirs), "{sentence}");
            compared += 1;
        }
        if kind != "MWV"
            && let Some(valid) = row["is_valid"].as_bool()
        {
            assert_eq!(record.valid, Some(valid), "{sentence}");
        }
    }
    assert!(compared >= 40, "only {compared} values compared");
}

/// Positions in the file are rounded to 1e-6 degree; greatest difference seen 5e-7 degree.
#[test]
fn val_ais_as_pyais_reads_it() {
    for row in rows("ais_visible.jsonl") {
        let text: String =
            row["sentences"].as_array().unwrap().iter().map(|s| format!("{}\r\n", s.as_str().unwrap())).collect();
        let found = decode_all(text.as_bytes(), None);
        let (last, before) = found.split_last().unwrap();
        assert!(before.iter().all(|part| part.ok && part.mmsi.is_none()));
        let theirs = &row["decoded"];
        let ais = last.ais.as_ref().unwrap();
        assert_eq!(u64::from(ais.message_type), theirs["msg_type"].as_u64().unwrap());
        assert_eq!(last.mmsi.map(u64::from), theirs["mmsi"].as_u64());
        let numbers = [
            (last.latitude_deg, "lat", 6e-7),
            (last.longitude_deg, "lon", 6e-7),
            (last.speed_over_ground_kn, "speed", 0.0),
            (last.course_deg_true, "course", 0.0),
        ];
        for (value, name, tolerance) in numbers {
            assert_eq!(value.is_some(), theirs[name].is_number(), "{name}");
            if let Some(value) = value {
                assert_within(name, value, theirs[name].as_f64().unwrap(), tolerance);
            }
        }
        let heading = theirs["heading"].as_f64().filter(|&heading| heading < 360.0);
        assert_eq!(last.heading_deg_true, heading);
        if let Some(name) = theirs["full_name"].as_str() {
            assert_eq!(ais.name.as_deref(), Some(name));
            assert_eq!(ais.aid_type.map(u64::from), theirs["aid_type"].as_u64());
            assert_eq!(ais.virtual_aid, theirs["virtual_aid"].as_bool());
        }
    }
}

#[test]
fn val_framing_and_noise_in_chunks_of_any_size() {
    for row in rows("nmea_noise_visible.jsonl") {
        let bytes: Vec<u8> =
            row["bytes_latin1"].as_str().unwrap().chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
        let expected: Vec<&str> = row["accept"].as_array().unwrap().iter().map(|s| s.as_str().unwrap()).collect();
        for size in 1..=bytes.len() {
            let mut framer = Framer::new(false);
            let mut accepted = Vec::new();
            let mut keep = |framed: instruments::frame::Framed<'_>| {
                if framed.rejection.is_none() {
                    accepted.push(text_of(framed.raw));
                }
            };
            bytes.chunks(size).for_each(|chunk| framer.push(chunk, &mut keep));
            framer.finish(&mut keep);
            assert_eq!(accepted, expected, "{} in chunks of {size}", row["case"]);
        }
    }
}

/// gpsd "NMEA Revealed": units of wind; 10 kn = 5.1444 m/s, 36 km/h = 10 m/s.
#[test]
fn verif_wind_units_references_and_void() {
    let with_sum = |body: &str| format!("${body}*{:02X}", body.bytes().fold(0, |sum, byte| sum ^ byte));
    let relative = one(&with_sum("WIMWV,214.8,R,10.0,N,A"));
    assert_within("10 kn, m/s", relative.wind_speed_m_s.unwrap(), 5.144_444, 1e-6);
    assert_eq!(relative.wind_reference, Some(WindReference::Relative));
    let theoretical = one(&with_sum("WIMWV,360,T,36,K,A"));
    assert_within("36 km/h, m/s", theoretical.wind_speed_m_s.unwrap(), 10.0, 1e-12);
    assert_within("360 is 0, deg", theoretical.wind_angle_deg.unwrap(), 0.0, 0.0);
    let void = one(&with_sum("WIMWV,214.8,R,10.0,M,V"));
    assert_eq!((void.valid, void.wind_speed_m_s, void.wind_angle_deg), (Some(false), None, None));
    let north = one(&with_sum("WIMWD,,,,,08.16,N,04.20,M"));
    assert_eq!((north.wind_reference, north.wind_angle_deg), (Some(WindReference::TrueNorth), None));
    assert_within("MWD, m/s", north.wind_speed_m_s.unwrap(), 4.20, 0.0);
}

#[test]
fn verif_edge_rules_of_fixes() {
    let with_sum = |body: &str| format!("${body}*{:02X}", body.bytes().fold(0, |sum, byte| sum ^ byte));
    let good = one(&with_sum("GNRMC,120000,A,3000.0,S,17000.0,E,5.0,90.0,040326,,,A,V"));
    assert_eq!((good.valid, good.latitude_deg), (Some(true), Some(-30.0)), "navigational status V is not void");
    let void = one(&with_sum("GNRMC,120000,V,3000.0,S,17000.0,E,5.0,90.0,040326,,,N,V"));
    assert_eq!((void.valid, void.latitude_deg, void.speed_over_ground_kn), (Some(false), None, None));
    let estimated = one(&with_sum("GNRMC,120000,A,3000.0,S,17000.0,E,5.0,90.0,040326,,,E"));
    assert_eq!((estimated.fix_quality, estimated.satellite_fix, estimated.valid), (Some(6), Some(false), Some(true)));
    let leap = one(&with_sum("GNRMC,235960,A,3000.0,S,17000.0,E,5.0,90.0,311216,,,A"));
    assert_eq!(leap.time_utc.unwrap().to_string(), "2016-12-31T23:59:59Z");
    assert!(leap.ok && leap.reason.is_some());
    let west = one(&with_sum("HCHDG,101.1,,,7.1,W"));
    assert_within("variation, deg", west.magnetic_variation_deg.unwrap(), -7.1, 0.0);
    let feet = one(&with_sum("SDDBT,10,f,,M,,F"));
    assert_within("10 ft, m", feet.depth_below_transducer_m.unwrap(), 3.048, 1e-12);
    let old = one(&with_sum("GPVTG,054.7,034.4,005.5,010.2"));
    assert_eq!((old.course_deg_true, old.speed_over_ground_kn), (Some(54.7), Some(5.5)));
    let unlisted = one(&with_sum("GPQQQ,1"));
    assert_eq!((unlisted.ok, unlisted.talker.as_deref(), unlisted.kind.as_deref()), (true, Some("GP"), Some("QQQ")));
    let wrong = one("$GPHDT,274.07,T*51");
    assert_eq!((wrong.ok, wrong.reason.as_deref()), (false, Some("checksum is 51, should be 03")));
}
