//! Some 20,000 random but plausible gears and currents: every one must be balanced, none may fail.

use gear::current::CurrentLevel;
use gear::parts::{BranchLine, DragAt, Float, FloatLine, MainLine, Water};
use gear::{Basket, EndsHeld, HangOptions, Rig, hang_basket};

/// Uniform numbers by SplitMix64 (Steele, Lea & Flood 2014), so that a failure can be found again by its number.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        #[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
        let bits = ((z ^ (z >> 31)) >> 11) as f64;
        bits / 9_007_199_254_740_992.0
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    fn whole(&mut self, low: u32, high: u32) -> u32 {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and positive")]
        let value = self.between(f64::from(low), f64::from(high) + 1.0).floor() as u32;
        value.min(high)
    }
}

/// A gear from shallow swordfish to slack albacore, in a current that differs by up to 0.4 m/s either way from level to level.
fn draw(chance: &mut Chance) -> (Rig, Water, HangOptions) {
    let rig = Rig {
        basket: Basket {
            hooks: chance.whole(3, 40),
            clip_spacing_m: chance.between(20.0, 90.0),
            sag_ratio: chance.between(0.30, 0.98),
            float_line_m: chance.between(5.0, 50.0),
            branch_line_m: chance.between(8.0, 45.0),
            float_takes_a_beat: chance.next() < 0.7,
        },
        main_line: MainLine {
            diameter_mm: chance.between(2.0, 6.5),
            density_kg_m3: chance.between(1100.0, 1350.0),
            axial_stiffness_n: chance.between(1e3, 4e4),
            drag_normal: chance.between(0.9, 2.0),
            drag_tangential: chance.between(0.0, 0.03),
        },
        branch: BranchLine {
            weight_in_water_n: chance.between(0.2, 1.6),
            drag_area_m2: chance.between(0.01, 0.10),
            drag_at: if chance.next() < 0.5 { DragAt::OwnDepth } else { DragAt::Node },
        },
        float_line: Some(FloatLine { diameter_mm: chance.between(3.0, 8.0), drag_normal: 1.2 }),
        float: Some(Float { drag_area_m2: chance.between(0.005, 0.05), net_buoyancy_n: None }),
    };
    let levels = chance.whole(1, 7);
    let strength = chance.between(0.0, 0.2);
    let base = [chance.between(-0.6, 0.6), chance.between(-0.6, 0.6)];
    let step_m = chance.between(30.0, 120.0);
    let current = (0..levels)
        .map(|level| CurrentLevel {
            depth_m: f64::from(level) * step_m,
            east_m_s: base[0] + strength * chance.between(-1.0, 1.0),
            north_m_s: base[1] + strength * chance.between(-1.0, 1.0),
        })
        .collect();
    let options = HangOptions {
        line_bearing_deg_true: chance.between(0.0, 360.0),
        ends: EndsHeld::Drifting,
        point_loads: chance.next() < 0.8,
        elements_per_interval: chance.whole(1, 2),
    };
    (rig, Water { current, ..Water::default() }, options)
}

#[test]
fn verif_twenty_thousand_random_gears_all_balance() {
    let (mut gap_m, mut closure_n, mut net_n) = (0.0_f64, 0.0_f64, 0.0_f64);
    let (mut rounds, mut most, mut failed) = (0_u64, 0, Vec::new());
    let count = 20_000;
    for number in 0..count {
        let (rig, water, mut options) = draw(&mut Chance(number));
        if number % 4 == 3 {
            // Held in the current that a drifting gear would feel at most: its difference from the first level.
            options.ends = EndsHeld::Fixed;
        }
        let water = if options.ends == EndsHeld::Fixed { relative(&water) } else { water };
        match hang_basket(&rig, &water, &options) {
            Ok(hung) => {
                gap_m = gap_m.max(hung.end_gap_m);
                closure_n = closure_n.max(hung.force_closure_n);
                net_n = net_n.max(hung.net_force_n.unwrap_or(0.0));
                assert!(hung.hooks.iter().all(|hook| hook.depth_m.is_finite()), "gear {number}");
                rounds += u64::from(hung.iterations);
                most = most.max(hung.iterations);
            }
            Err(error) => failed.push((number, error.to_string())),
        }
    }
    println!(
        "{count} gears: largest gap {gap_m:.2e} m, closure {closure_n:.2e} N, net force {net_n:.2e} N; {:.1} rounds each, at most {most}; failed {} {:?}",
        rounds as f64 / count as f64,
        failed.len(),
        failed.iter().take(8).collect::<Vec<_>>()
    );
    assert!(failed.is_empty());
    assert!(gap_m <= 1e-6 && closure_n <= 1e-9 && net_n <= 1e-8);
}

fn relative(water: &Water) -> Water {
    let first = water.current[0];
    let current = water
        .current
        .iter()
        .map(|level| CurrentLevel {
            depth_m: level.depth_m,
            east_m_s: level.east_m_s - first.east_m_s,
            north_m_s: level.north_m_s - first.north_m_s,
        })
        .collect();
    Water { current, ..water.clone() }
}
