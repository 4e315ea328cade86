//! Any fields in any sentence type, AIS included: no panic, and only finite numbers in their ranges come out.
//! Run longer with `FUZZ_SECONDS=180`.

use std::time::Duration;

use instruments::decode::decode_all;
use instruments::replay::{LogDay, replay_states};
use instruments::track::track;

const KINDS: [&str; 22] = [
    "RMC", "GGA", "GLL", "VTG", "ZDA", "HDT", "HDG", "HDM", "VHW", "VBW", "VLW", "MTW", "DPT", "DBT", "MWV", "MWD",
    "VDR", "TLL", "TTM", "WPL", "XDR", "QQQ",
];

fn seconds() -> Duration {
    Duration::from_secs(std::env::var("FUZZ_SECONDS").ok().and_then(|text| text.parse().ok()).unwrap_or(2))
}

fn framed(mark: char, body: &[u8]) -> Vec<u8> {
    let sum = body.iter().fold(0_u8, |sum, byte| sum ^ byte);
    let mut sentence = vec![mark as u8];
    sentence.extend_from_slice(body);
    sentence.extend_from_slice(format!("*{sum:02X}\r\n").as_bytes());
    sentence
}

#[test]
fn verif_any_fields_give_no_value_or_a_sound_one() {
    const MEANING: &[u8] = b",,,,0123456789.-NSEWATVMRKF";
    let mut runs = 0_u64;
    bolero::check!().with_test_time(seconds()).with_type::<Vec<(u8, Vec<u8>)>>().for_each(|sentences| {
        let mut log = Vec::new();
        for (kind, fields) in sentences {
            let fields: Vec<u8> =
                fields.iter().map(|&b| if b < 250 { MEANING[usize::from(b) % MEANING.len()] } else { b }).collect();
            let kind = usize::from(*kind) % (KINDS.len() + 1);
            log.extend(match KINDS.get(kind) {
                Some(kind) => framed('$', &[format!("GP{kind},").as_bytes(), &fields].concat()),
                None => {
                    let payload: Vec<u8> = fields.iter().map(|b| 48 + b % 40).collect();
                    framed('!', &[b"AIVDM,1,1,,A,", &payload[..], b",0"].concat())
                }
            });
        }
        let day = "2026-03-04T00:00:00Z".parse().unwrap();
        for record in decode_all(&log, Some(day)) {
            let within =
                |value: Option<f64>, low: f64, high: f64| assert!(value.is_none_or(|v| (low..=high).contains(&v)));
            within(record.latitude_deg, -90.0, 90.0);
            within(record.longitude_deg, -180.0, 180.0);
            for angle in
                [record.course_deg_true, record.heading_deg_true, record.wind_angle_deg, record.current_set_deg_true]
            {
                within(angle, 0.0, 360.0);
            }
            assert!(record.latitude_deg.is_some() == record.longitude_deg.is_some());
            assert!(record.valid != Some(false) || record.latitude_deg.is_none() && record.wind_speed_m_s.is_none());
        }
        assert!(track(&log, Some(day)).distance_m.is_finite());
        let _ = replay_states(&log, LogDay::Computer(day), |_| true);
        runs += 1;
    });
    println!("{runs} inputs");
    assert!(runs > 0);
}
