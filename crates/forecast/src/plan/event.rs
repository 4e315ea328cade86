//! A plan as the data of a `set_planned` event.
//!
//! The `plan` in it is what `gangion setting` and `gangion depth` take: the setting at the top, the basket and the parts
//! of the gear beside it. What is not known is left out, so that whoever reads it looks further.

use gear::Setting;
use serde_json::{Map, Value, json};

use super::wanted::PlanWanted;

pub(super) fn data(wanted: &PlanWanted, setting: &Setting) -> Value {
    let mut plan = Map::new();
    let mut put = |name: &str, value: Value| {
        if !value.is_null() {
            plan.insert(name.to_owned(), value);
        }
    };
    put("vessel_speed_through_water_kn", json!(setting.vessel_speed_through_water_kn));
    put("shooter_speed_m_s", json!(setting.shooter_speed_m_s));
    put("sag_ratio", json!(setting.sag_ratio));
    put("beat_s", json!(setting.beat_s));
    put("clip_spacing_m", json!(setting.clip_spacing_m));
    put("hooks_per_basket", json!(setting.hooks_per_basket));
    put("baskets", json!(setting.baskets));
    put("hooks", json!(setting.hooks));
    put("float_takes_a_beat", json!(setting.float_takes_a_beat));
    put("hooks_per_radio_buoy", json!(setting.hooks_per_radio_buoy));
    put("float_line_m", json!(wanted.float_line_m));
    put("branch_line_m", json!(wanted.branch_line_m));
    if let (Some(hooks), Some(clip_spacing_m), Some(sag_ratio), Some(float_line_m), Some(branch_line_m)) =
        (setting.hooks_per_basket, setting.clip_spacing_m, setting.sag_ratio, wanted.float_line_m, wanted.branch_line_m)
    {
        put(
            "basket",
            json!({"hooks": hooks, "clip_spacing_m": clip_spacing_m, "sag_ratio": sag_ratio,
                "float_line_m": float_line_m, "branch_line_m": branch_line_m,
                "float_takes_a_beat": setting.float_takes_a_beat}),
        );
    }
    if let Some((main_line, branch)) = wanted.main_line.zip(wanted.branch) {
        put("main_line", json!(main_line));
        put("branch", json!(branch));
        put("float_line", json!(wanted.float_line));
        put("float", json!(wanted.float));
    }
    let mut data = Map::new();
    let mut tell = |name: &str, value: Value| {
        if !value.is_null() {
            data.insert(name.to_owned(), value);
        }
    };
    tell("plan", Value::Object(plan));
    tell("target", json!(wanted.target));
    tell("start_at", json!(wanted.start_at));
    tell("start_latitude_deg", json!(wanted.start.map(|start| start.latitude_deg)));
    tell("start_longitude_deg", json!(wanted.start.map(|start| start.longitude_deg)));
    tell("legs", json!(wanted.legs));
    tell("layer_m", json!(wanted.layer_m));
    tell("night", json!(wanted.night));
    Value::Object(data)
}
