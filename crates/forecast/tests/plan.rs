//! The plan: held against published arithmetic and the sky's other libraries by its parts, and against itself.
#![allow(clippy::expect_used, clippy::unwrap_used, clippy::panic, clippy::cast_precision_loss)]

use forecast::plan::{NeededWhat, PlanError, PlanWanted, Planned, SkyEventKind, plan};
use quantity::testing::assert_within;
use quantity::{Position, UtcInstant, geodesic, sun};
use serde_json::{Value, json};

/// A deep set that lacks nothing.
fn deep() -> Value {
    json!({
        "start_at": "2031-03-02T06:00:00Z", "start": {"latitude_deg": -14.5, "longitude_deg": 178.9},
        "legs": [{"course_deg_true": 74.0, "hooks": 800}, {"course_deg_true": 96.0, "hooks": 700},
            {"course_deg_true": 164.0, "hooks": 500}, {"course_deg_true": 254.0}],
        "setting": {"vessel_speed_through_water_kn": 7.6, "shooter_speed_m_s": 5.4, "beat_s": 7.0,
            "hooks_per_basket": 25, "hooks": 2510, "hooks_per_radio_buoy": 500},
        "float_line_m": 28.0, "branch_line_m": 25.0,
        "main_line": {"diameter_mm": 3.6}, "branch": {"weight_in_water_n": 0.6, "drag_area_m2": 0.06},
        "float_line": {"diameter_mm": 6.0}, "float": {"drag_area_m2": 0.018, "net_buoyancy_n": 110.0},
        "water": {"levels": [
            {"depth_m": 0.0, "temperature_c": 28.4, "east_m_s": 0.35, "north_m_s": 0.05},
            {"depth_m": 100.0, "temperature_c": 26.0, "east_m_s": 0.20, "north_m_s": 0.0},
            {"depth_m": 200.0, "temperature_c": 18.5, "east_m_s": 0.05, "north_m_s": -0.10},
            {"depth_m": 400.0, "temperature_c": 9.1, "east_m_s": 0.0, "north_m_s": -0.05}],
            "taken_at": "2031-03-02T00:00:00Z"},
        "layer_m": [200.0, 350.0], "target": "BET", "night": false,
        "aboard": {"main_line_m": 120_000.0, "branch_lines": 2400.0, "floats": 120.0,
            "bins": [{"bin": "9", "hooks": 1000}, {"bin": "8", "hooks": 1000}, {"bin": "7", "hooks": 400}, {"bin": "6", "hooks": 400}],
            "bait": [{"bait": "squid", "boxes": 20.0, "pieces_per_box": 100.0, "share": 0.6, "thaw_h": 12.0},
                {"bait": "sardine", "boxes": 30.0, "pieces_per_box": 150.0, "share": 0.4, "thaw_h": 6.0}]}
    })
}

fn with(change: impl FnOnce(&mut Value)) -> Planned {
    let mut wanted = deep();
    change(&mut wanted);
    planned(&wanted)
}

fn planned(wanted: &Value) -> Planned {
    plan(&serde_json::from_value(wanted.clone()).unwrap()).unwrap()
}

fn refused(change: impl FnOnce(&mut Value)) -> String {
    let mut wanted = deep();
    change(&mut wanted);
    plan(&serde_json::from_value::<PlanWanted>(wanted).unwrap()).unwrap_err().to_string()
}

fn kinds(planned: &Planned) -> Vec<&str> {
    planned.doubts.iter().map(|doubt| doubt.kind.as_str()).collect()
}

#[test]
fn verif_counts_and_sums_agree_with_the_setting() {
    let planned = planned(&deep());
    let totals = planned.totals;
    assert_eq!((totals.hooks, totals.baskets, totals.radio_buoys), (Some(2510), Some(101), Some(7)));
    assert_eq!(totals.floats, Some(102 - 7), "a radio buoy hangs in place of a float");
    assert_within("main line, m", totals.main_line_m.unwrap(), (2510.0 + 101.0) * 5.4 * 7.0, 1e-6);
    assert_within("setting, s", totals.setting_s.unwrap(), (2510.0 + 101.0) * 7.0, 1e-6);
    let hooks: Vec<(u32, u32)> =
        planned.stretches.iter().map(|leg| (leg.from_hook.unwrap(), leg.to_hook.unwrap())).collect();
    assert_eq!(hooks, [(1, 800), (801, 1500), (1501, 2000), (2001, 2510)]);
    let last = planned.stretches.last().unwrap();
    assert_eq!((last.from_place, last.to_place), (Some(81), Some(102)));
    assert_eq!(last.ends_at, totals.ends_at);
    for pair in planned.stretches.windows(2) {
        assert_eq!(pair[0].ends_at, pair[1].starts_at);
    }
    let places: Vec<u32> = planned.radio_buoys.iter().map(|buoy| buoy.place).collect();
    assert_eq!(places, [1, 21, 41, 61, 81, 101, 102]);
    assert_eq!(planned.radio_buoys.last().unwrap().at_hook, 2510);
    let ends = planned.track.last().unwrap();
    assert_eq!(ends.at, totals.ends_at);
    assert_eq!(planned.track.len(), 5);
    // Each leg of the track is as long as its beats.
    let way_m: f64 = planned
        .track
        .windows(2)
        .map(|pair| {
            let place = |at: &forecast::plan::TrackPoint| Position::new(at.latitude_deg, at.longitude_deg).unwrap();
            geodesic::inverse(place(&pair[0]), place(&pair[1])).distance_m
        })
        .sum();
    assert_within("way over the ground, m", way_m, totals.distance_m.unwrap(), 5.0);
}

#[test]
fn verif_hooks_in_the_layer_are_counted_hook_by_hook() {
    let planned = planned(&deep());
    let mut sum = 0;
    for leg in &planned.stretches {
        let section = leg.section.as_ref().unwrap();
        let inside: Vec<u32> = section
            .hooks
            .iter()
            .filter(|hook| (200.0..=350.0).contains(&hook.depth_m))
            .map(|hook| hook.position)
            .collect();
        assert_eq!(inside, leg.in_layer_positions);
        assert_eq!(leg.in_layer, Some(u32::try_from(inside.len()).unwrap()));
        // The ten hooks of the short last basket hang too high, as its own shape tells.
        let to = leg.to_hook.unwrap().min(2500);
        sum += (leg.from_hook.unwrap()..=to).filter(|hook| inside.contains(&((hook - 1) % 25 + 1))).count();
        assert!(leg.in_current && leg.deepest_band_m.unwrap() > 1.0);
        assert!(leg.deepest_m.unwrap() >= leg.shallowest_m.unwrap());
    }
    assert_eq!(planned.hooks_in_layer, Some(u32::try_from(sum).unwrap()));
    assert!(planned.hooks_in_layer.unwrap() > 500, "{:?}", planned.hooks_in_layer);
    assert!(planned.hooks_in_layer_if_current_stronger.is_some());
}

/// The plan hangs its basket as `gear` does.
#[test]
fn verif_the_basket_of_a_leg_is_that_of_the_mechanics() {
    let planned = planned(&deep());
    let wanted: PlanWanted = serde_json::from_value(deep()).unwrap();
    let current = planned.current.clone();
    for leg in &planned.stretches {
        let rig = gear::Rig {
            basket: gear::Basket {
                hooks: 25,
                clip_spacing_m: 5.4 * 7.0,
                sag_ratio: 7.6 * 1852.0 / 3600.0 / 5.4,
                float_line_m: 28.0,
                branch_line_m: 25.0,
                float_takes_a_beat: true,
            },
            main_line: wanted.main_line.unwrap(),
            branch: wanted.branch.unwrap(),
            float_line: wanted.float_line,
            float: wanted.float,
        };
        let sea = gear::parts::Water { current: current.clone(), ..Default::default() };
        let options = gear::HangOptions {
            line_bearing_deg_true: leg.course_deg_true.unwrap(),
            elements_per_interval: 1,
            ..Default::default()
        };
        let hung = gear::hang_with_bands(&rig, &sea, &options, &gear::InputErrors::default()).unwrap();
        for (ours, theirs) in leg.section.as_ref().unwrap().hooks.iter().zip(&hung.hooks) {
            assert_within("depth of a hook, m", ours.depth_m, theirs.depth_m, 1e-9);
            assert_within("its band, m", ours.band_m.unwrap(), theirs.band_m.unwrap(), 1e-9);
        }
    }
}

#[test]
fn verif_without_weights_the_depths_are_the_catenarys() {
    let planned = with(|wanted| {
        wanted["main_line"] = Value::Null;
        wanted["branch"] = Value::Null;
    });
    let leg = &planned.stretches[0];
    assert!(!leg.in_current && leg.in_layer_if_current_stronger.is_none());
    assert!(planned.hooks_in_layer_if_current_stronger.is_none());
    assert!(leg.doubts.iter().any(|doubt| doubt.kind == "still_water" && doubt.text.contains("diameter")));
    let sag_ratio = 7.6 * 1852.0 / 3600.0 / 5.4;
    for hook in &leg.section.as_ref().unwrap().hooks {
        let depth_m = 53.0 + gear::catenary::drop_at_m(26.0 * 37.8, sag_ratio, f64::from(hook.position) * 37.8);
        assert_within("depth in still water, m", hook.depth_m, depth_m, 1e-6);
    }
}

/// In water without current a line and the same line set the other way hang alike.
#[test]
fn verif_the_other_way_in_still_water_is_the_same() {
    let still = |course: f64| {
        with(|wanted| {
            wanted["water"] = Value::Null;
            wanted["legs"] = json!([{"course_deg_true": course}]);
        })
    };
    let (there, back) = (still(74.0), still(254.0));
    let (a, b) = (&there.stretches[0], &back.stretches[0]);
    assert_eq!(a.section, b.section);
    assert_eq!((there.hooks_in_layer, there.totals.main_line_m), (back.hooks_in_layer, back.totals.main_line_m));
    assert_within("as far", there.totals.distance_m.unwrap(), back.totals.distance_m.unwrap(), 1e-6);
}

/// In a current that reverses with the course nothing changes either, but for which end hangs first.
#[test]
fn verif_course_and_current_turned_together_change_no_depth() {
    let turned = |by: f64| {
        with(|wanted| {
            wanted["legs"] = json!([{"course_deg_true": quantity::wrap_bearing_deg(20.0 + by)}]);
            for level in wanted["water"]["levels"].as_array_mut().unwrap() {
                let (east, north) = (level["east_m_s"].as_f64().unwrap(), level["north_m_s"].as_f64().unwrap());
                let (sin, cos) = by.to_radians().sin_cos();
                level["east_m_s"] = json!(east * cos + north * sin);
                level["north_m_s"] = json!(north * cos - east * sin);
            }
        })
    };
    let straight = turned(0.0);
    for by in [37.0, 90.0, 180.0, 301.0] {
        let other = turned(by);
        let (a, b) = (&straight.stretches[0], &other.stretches[0]);
        assert_within("deepest, m", b.deepest_m.unwrap(), a.deepest_m.unwrap(), 1e-4);
        assert_within("off the current, deg", b.off_current_deg.unwrap(), a.off_current_deg.unwrap(), 1e-6);
        assert_eq!(straight.hooks_in_layer, other.hooks_in_layer);
        assert_eq!(straight.hooks_in_layer_if_current_stronger, other.hooks_in_layer_if_current_stronger);
    }
}

#[test]
fn verif_a_leg_split_in_two_gives_the_same_totals() {
    let whole = with(|wanted| wanted["legs"] = json!([{"course_deg_true": 74.0}]));
    for cut in [1, 24, 25, 26, 1000, 2500, 2509] {
        let split =
            with(|wanted| wanted["legs"] = json!([{"course_deg_true": 74.0, "hooks": cut}, {"course_deg_true": 74.0}]));
        assert_eq!(split.hooks_in_layer, whole.hooks_in_layer, "cut at {cut}");
        assert_eq!(split.hooks_in_layer_if_current_stronger, whole.hooks_in_layer_if_current_stronger);
        assert_eq!(split.totals.hooks_by_daylight, whole.totals.hooks_by_daylight);
        assert_eq!(split.totals.ends_at, whole.totals.ends_at);
        assert_within("as long", split.totals.distance_m.unwrap(), whole.totals.distance_m.unwrap(), 1e-6);
        let (a, b) = (split.track.last().unwrap(), whole.track.last().unwrap());
        assert_within("end, latitude", a.latitude_deg, b.latitude_deg, 1e-9);
        assert_within("end, longitude", a.longitude_deg, b.longitude_deg, 1e-9);
    }
}

/// The earth turned under the plan, and its clock with it, changes nothing but the longitudes.
#[test]
fn verif_across_180_the_plan_is_the_same() {
    let at = |longitude_deg: f64| {
        with(|wanted| {
            wanted["start"]["longitude_deg"] = json!(quantity::wrap_longitude_deg(longitude_deg));
            wanted["zones"] = json!([{"name": "box", "geometry": {"type": "Polygon", "coordinates": [[
                [quantity::wrap_longitude_deg(longitude_deg + 1.2), -14.0], [quantity::wrap_longitude_deg(longitude_deg + 2.0), -14.0],
                [quantity::wrap_longitude_deg(longitude_deg + 2.0), -13.0], [quantity::wrap_longitude_deg(longitude_deg + 1.2), -14.0]]]}}]);
        })
    };
    let here = at(10.0);
    for longitude_deg in [178.9, 179.5, 179.99, -180.0] {
        let there = at(longitude_deg);
        assert_eq!(there.hooks_in_layer, here.hooks_in_layer);
        for (a, b) in there.track.iter().zip(&here.track) {
            assert_within("latitude", a.latitude_deg, b.latitude_deg, 1e-9);
            let off = quantity::wrap_longitude_deg(a.longitude_deg - longitude_deg - (b.longitude_deg - 10.0));
            assert_within("longitude", off, 0.0, 1e-9);
            assert!((-180.0..180.0).contains(&a.longitude_deg));
        }
        assert_within("to the zone, m", there.zones[0].least_distance_m, here.zones[0].least_distance_m, 0.01);
        assert_eq!(there.zones[0].leg, here.zones[0].leg);
    }
}

/// Hook by hook: the sun's height where and when each goes out.
#[test]
fn verif_daylight_hooks_are_those_of_the_sun() {
    for (start, all_at_once) in
        [("2031-03-02T06:00:00Z", false), ("2031-03-02T15:30:00Z", false), ("2031-03-02T22:00:00Z", true)]
    {
        let planned = with(|wanted| {
            wanted["start_at"] = json!(start);
            wanted["water"] = Value::Null;
            wanted["legs"] = json!([{"course_deg_true": 90.0}]);
        });
        let begin: UtcInstant = start.parse().unwrap();
        let from = Position::new(-14.5, 178.9).unwrap();
        let metres_a_beat = 7.6 * 1852.0 / 3600.0 * 7.0;
        let by_day = (1..=2510_u32)
            .filter(|hook| {
                let beats = f64::from((hook - 1) / 25 * 26 + (hook - 1) % 25 + 1);
                let place = quantity::rhumb::direct(from, 90.0, beats * metres_a_beat).unwrap().position;
                sun::altitude_deg(place, begin.plus_seconds(beats * 7.0)).unwrap() >= sun::RISE_ALTITUDE_DEG
            })
            .count();
        assert_eq!(planned.totals.hooks_by_daylight, Some(u32::try_from(by_day).unwrap()), "{start}");
        assert_eq!(by_day == 2510, all_at_once, "{start}: {by_day}");
    }
}

#[test]
fn verif_sky_window_has_no_gaps_and_the_suns_own_times() {
    let planned = planned(&deep());
    let sky = planned.sky.unwrap();
    assert_eq!(sky.bars.first().unwrap().from, sky.from);
    assert_eq!(sky.bars.last().unwrap().to, sky.to);
    for pair in sky.bars.windows(2) {
        assert_eq!(pair[0].to, pair[1].from);
        assert_ne!(pair[0].light, pair[1].light);
    }
    let day = sun::day(Position::new(-14.5, 178.9).unwrap(), "2031-03-02T06:00:00Z".parse().unwrap()).unwrap();
    let sunset = sky.events.iter().find(|event| event.what == SkyEventKind::Sunset).unwrap().at;
    // The ship has sailed a mile or two by then.
    assert!(sunset.seconds_since(day.sunset_utc.unwrap()).abs() < 30.0, "{sunset}");
    assert!(sky.events.iter().any(|event| matches!(event.what, SkyEventKind::Moonrise | SkyEventKind::Moonset)));
    assert!((0.0..=1.0).contains(&sky.moon_illuminated.unwrap()));
}

#[test]
fn verif_needed_bait_and_bins() {
    let planned = planned(&deep());
    let row = |what| *planned.needed.iter().find(|row| row.what == what).unwrap();
    assert_eq!(row(NeededWhat::BranchLines).enough, Some(false), "2,400 aboard, 2,510 needed");
    assert_eq!(row(NeededWhat::MainLine).enough, Some(true));
    assert_eq!((row(NeededWhat::RadioBuoys).aboard, row(NeededWhat::RadioBuoys).enough), (None, None));
    let [squid, sardine] = planned.bait.as_slice() else { panic!("two kinds") };
    assert_eq!((squid.pieces, sardine.pieces), (Some(1506), Some(1004)));
    assert_eq!((squid.boxes, sardine.boxes), (Some(16.0), Some(7.0)));
    assert_eq!((squid.sets_left, sardine.sets_left), (Some(1), Some(4)));
    assert_eq!(squid.take_out_by, Some("2031-03-01T18:00:00Z".parse().unwrap()));
    assert_eq!(sardine.take_out_by, Some("2031-03-02T00:00:00Z".parse().unwrap()));
    let bins: Vec<(&str, u32)> = planned.bins.iter().map(|bin| (bin.bin.as_str(), bin.hooks)).collect();
    assert_eq!(bins, [("9", 1000), ("8", 1000), ("7", 400), ("6", 110)]);
    assert_eq!(planned.bins_short_of_hooks, Some(0));
    let short = with(|wanted| wanted["aboard"]["bins"] = json!([{"bin": "9", "hooks": 1000}]));
    assert_eq!(short.bins_short_of_hooks, Some(1510));
    // Whatever the shares, no piece is lost.
    for shares in [[0.333, 0.333], [0.1, 0.2], [1.0, 0.0], [0.5, 0.5]] {
        let dealt = with(|wanted| {
            for (kind, share) in wanted["aboard"]["bait"].as_array_mut().unwrap().iter_mut().zip(shares) {
                kind["share"] = json!(share);
            }
        });
        assert_eq!(dealt.bait.iter().filter_map(|kind| kind.pieces).sum::<u32>(), 2510, "{shares:?}");
    }
}

/// Linear between levels by hand: 28 °C at 100 × (28.4 − 28)/(28.4 − 26) = 16.67 m, 10 °C at 200 + 200 × 8.5/9.4 = 380.85 m.
#[test]
fn verif_isotherms_lie_between_the_levels() {
    let planned = planned(&deep());
    let at = |celsius: f64| {
        planned.isotherms.iter().find(|line| (line.temperature_c - celsius).abs() < 1e-9).map(|line| line.depth_m)
    };
    assert_within("28 °C, m", at(28.0).unwrap(), 16.666_667, 1e-6);
    assert_within("10 °C, m", at(10.0).unwrap(), 380.851_064, 1e-6);
    assert!(planned.isotherms.len() <= 13);
    for pair in planned.isotherms.windows(2) {
        assert!(pair[0].depth_m < pair[1].depth_m);
    }
    // An inversion is passed three times.
    let inverted = with(|wanted| {
        wanted["water"]["levels"] = json!([{"depth_m": 0.0, "temperature_c": 21.0}, {"depth_m": 100.0, "temperature_c": 19.0},
            {"depth_m": 150.0, "temperature_c": 20.5}, {"depth_m": 300.0, "temperature_c": 18.0}]);
    });
    assert_eq!(inverted.isotherms.iter().filter(|line| (line.temperature_c - 20.0).abs() < 1e-9).count(), 3);
}

#[test]
fn verif_a_float_clipped_between_beats_and_beats_for_buoys() {
    let between = with(|wanted| wanted["setting"]["float_takes_a_beat"] = json!(false));
    assert_within("2,510 beats, s", between.totals.setting_s.unwrap(), 2510.0 * 7.0, 1e-6);
    assert_within("main line, m", between.totals.main_line_m.unwrap(), 2510.0 * 37.8, 1e-6);
    let buoys = with(|wanted| {
        wanted["radio_buoy_beats"] = json!(3.0);
        wanted["radio_buoy_blank_m"] = json!(100.0);
        wanted["buoy_in_place_of_float"] = json!(false);
    });
    assert_within("7 buoys of 3 beats, s", buoys.totals.setting_s.unwrap(), (2611.0 + 21.0) * 7.0, 1e-6);
    assert_within("7 blanks, m", buoys.totals.main_line_m.unwrap(), 2611.0 * 37.8 + 700.0, 1e-6);
    assert_eq!(buoys.totals.floats, Some(102));
}

#[test]
fn verif_the_event_is_a_plan_that_the_set_understands() {
    let planned = planned(&deep());
    let event = &planned.event_data;
    let setting: gear::SettingInput = serde_json::from_value(event["plan"].clone()).unwrap();
    let again = gear::work_out(&setting).unwrap();
    assert_eq!((again.hooks, again.baskets, again.radio_buoys), (Some(2510), Some(101), planned.setting.radio_buoys));
    let basket: gear::Basket = serde_json::from_value(event["plan"]["basket"].clone()).unwrap();
    assert_within("sag ratio", basket.sag_ratio, planned.setting.sag_ratio.unwrap(), 0.0);
    let text = event.to_string();
    assert!(!text.contains("null"), "{text}");
    assert!(voyage::Data::decode(voyage::Kind::SetPlanned, &text).is_ok());
    assert_eq!(event["layer_m"], json!([200.0, 350.0]));
    assert_eq!(event["legs"][0]["hooks"], json!(800.0));
}

#[test]
fn verif_half_of_a_plan_gives_half_an_answer() {
    let bare = planned(&json!({"setting": {"hooks_per_basket": 25, "hooks": 2500}}));
    assert_eq!(bare.totals.baskets, Some(100));
    assert!(bare.sky.is_none() && bare.track.is_empty() && bare.stretches[0].section.is_none());
    let told = kinds(&bare);
    for kind in ["no_course", "depth_unknown", "way_unknown"] {
        assert!(told.contains(&kind), "{kind} in {told:?}");
    }
    // Without hooks the basket still hangs.
    let shape = with(|wanted| wanted["setting"]["hooks"] = Value::Null);
    assert!(shape.stretches[0].section.is_some() && shape.hooks_in_layer.is_none());
    assert_eq!(shape.stretches.len(), 4);
    let no_legs = with(|wanted| wanted["legs"] = json!([]));
    assert!(no_legs.stretches[0].section.is_some());
    assert!(no_legs.stretches[0].doubts.iter().any(|doubt| doubt.text.contains("No current was given")));
    let too_long =
        with(|wanted| wanted["legs"] = json!([{"course_deg_true": 0.0, "hooks": 9000}, {"course_deg_true": 90.0}]));
    assert!(kinds(&too_long).contains(&"leg_cut_off") && kinds(&too_long).contains(&"leg_without_hooks"));
    assert_eq!(too_long.stretches.len(), 1);
    let odd_water = with(|wanted| {
        wanted["water"]["levels"] = json!([{"depth_m": -5.0, "temperature_c": 20.0}, {"depth_m": 10.0, "temperature_c": 999.0},
            {"depth_m": 20.0, "east_m_s": 1e300, "north_m_s": 0.0}, {"depth_m": 30.0, "temperature_c": 21.0}]);
    });
    assert!(kinds(&odd_water).contains(&"profile_values_left_out"));
    assert_eq!(odd_water.temperature.len(), 1);
    let bad_zone =
        with(|wanted| wanted["zones"] = json!([{"name": "x", "geometry": {"type": "Point", "coordinates": [0, 0]}}]));
    assert!(kinds(&bad_zone).contains(&"zone_not_read") && bad_zone.zones.is_empty());
    let long_ago = with(|wanted| wanted["start_at"] = json!("1066-10-14T09:00:00Z"));
    assert!(long_ago.sky.is_none() && kinds(&long_ago).contains(&"sky_unknown"));
    let night = with(|wanted| wanted["night"] = json!(true));
    assert_eq!(night.warnings.len(), usize::from(night.totals.hooks_by_daylight > Some(0)));
}

#[test]
fn verif_what_no_plan_can_have_is_refused_in_a_sentence() {
    let said = refused(|wanted| wanted["legs"][1]["course_deg_true"] = json!(1e12));
    assert!(said.contains("course_deg_true of leg 2 is 1000000000000°"), "{said}");
    let said = refused(|wanted| wanted["setting"]["shooter_speed_m_s"] = json!(2.0));
    assert!(said.contains("dragged tight"), "{said}");
    let said = refused(|wanted| wanted["layer_m"] = json!([300.0, 200.0]));
    assert!(said.contains("from 300 m down to 200 m"), "{said}");
    let said = refused(|wanted| wanted["start"]["latitude_deg"] = json!(95.0));
    assert!(said.contains("95"), "{said}");
    let said = refused(|wanted| wanted["legs"][0]["hooks"] = json!(10.5));
    assert!(said.contains("whole number"), "{said}");
    let said = refused(|wanted| wanted["setting"]["hooks"] = json!(900_000));
    assert!(said.contains("900000 hooks are too many"), "{said}");
    let said = refused(|wanted| {
        wanted["setting"] =
            json!({"vessel_speed_through_water_kn": 30, "beat_s": 3000.0, "hooks": 5000, "hooks_per_basket": 10});
    });
    assert!(said.contains("km long"), "{said}");
    let said = refused(|wanted| {
        wanted["start"]["latitude_deg"] = json!(89.9);
        wanted["legs"] = json!([{"course_deg_true": 0.0}]);
        wanted["water"] = Value::Null;
    });
    assert!(said.contains("pole"), "{said}");
    let said = refused(|wanted| wanted["errors"] = json!({"sag_ratio": 7.0}));
    assert!(said.contains("errors.sag_ratio"), "{said}");
    let many: Vec<Value> = (0..61).map(|_| json!({"course_deg_true": 1.0})).collect();
    let wanted: PlanWanted = serde_json::from_value(json!({"setting": {}, "legs": many})).unwrap();
    assert!(matches!(plan(&wanted), Err(PlanError::TooManyLegs { legs: 61 })));
}

/// A slider redraws within 100 ms: of these the reckoning has 20 on this kind of machine, here with room for a busy one.
#[test]
#[allow(clippy::disallowed_types, reason = "the test measures time, the crate knows none")]
fn regress_a_plan_of_four_legs_is_quick() {
    let wanted: PlanWanted = serde_json::from_value(deep()).unwrap();
    plan(&wanted).unwrap();
    let best = (0..20)
        .map(|_| {
            let begun = std::time::Instant::now();
            plan(&wanted).unwrap();
            begun.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min);
    println!("a plan takes {:.1} ms", best * 1000.0);
    assert!(best < 0.08, "a plan takes {:.1} ms", best * 1000.0);
}
