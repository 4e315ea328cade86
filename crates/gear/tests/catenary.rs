//! The hanging basket against independently computed shapes, and its own mathematics.

use gear::{Basket, GearError, hook_depths, main_line_shape};
use proptest::prelude::*;
use quantity::testing::assert_within;

fn deep(sag_ratio: f64) -> Basket {
    Basket {
        hooks: 25,
        clip_spacing_m: 45.0,
        sag_ratio,
        float_line_m: 25.0,
        branch_line_m: 25.0,
        float_takes_a_beat: true,
    }
}

/// Source: computed with MoorPy 1.3.0 `catenary` and SciPy 1.17.1 `solve_bvp` for L = 1,000 m; they agree in all digits
/// given. Tolerance: the last printed digit.
#[test]
fn val_sag_of_a_kilometre_of_line() {
    let rows = [
        (0.50, 77.0668, 0.398_194),
        (0.60, 71.9266, 0.362_782),
        (0.70, 65.1930, 0.319_720),
        (0.75, 60.9679, 0.294_334),
        (0.80, 55.9254, 0.265_438),
        (0.90, 41.7555, 0.190_709),
        (0.95, 30.4108, 0.135_898),
    ];
    for (sag_ratio, angle_deg, sag_over_length) in rows {
        let basket = Basket { hooks: 9, clip_spacing_m: 100.0, ..deep(sag_ratio) };
        let hanging = hook_depths(&basket).unwrap();
        assert_within("main line, m", hanging.main_line_per_basket_m, 1000.0, 1e-9);
        assert_within("sag angle, deg", hanging.sag_angle_deg, angle_deg, 6e-5);
        assert_within("sag over length", hanging.sag_m / 1000.0, sag_over_length, 6e-7);
    }
    for (sag_ratio, angle_deg, sag_over_length) in [(0.97, 23.848, 0.1056), (0.99, 13.944, 0.0611)] {
        let hanging = hook_depths(&Basket { hooks: 9, clip_spacing_m: 100.0, ..deep(sag_ratio) }).unwrap();
        assert_within("sag angle, deg", hanging.sag_angle_deg, angle_deg, 6e-4);
        assert_within("sag over length", hanging.sag_m / 1000.0, sag_over_length, 6e-5);
    }
}

/// Source: three baskets computed with SciPy 1.17.1 (closed form with Brent's method, equal to `solve_bvp` in the printed
/// digits). Tolerance: the last printed digit, 0.006 m.
#[test]
fn val_depths_of_three_baskets() {
    let shallow = Basket {
        hooks: 5,
        clip_spacing_m: 75.0,
        sag_ratio: 0.95,
        float_line_m: 10.0,
        branch_line_m: 17.0,
        float_takes_a_beat: true,
    };
    let rows: [(Basket, &[f64]); 3] = [
        (
            deep(0.75),
            &[88.97, 127.08, 164.16, 199.98, 234.27, 266.68, 296.78, 324.03, 347.82, 367.42, 382.13, 391.27, 394.37],
        ),
        (
            deep(0.60),
            &[92.61, 134.82, 176.54, 217.62, 257.88, 297.03, 334.69, 370.29, 402.98, 431.54, 454.30, 469.22, 474.46],
        ),
        (shallow, &[59.85, 80.89, 88.15]),
    ];
    for (basket, depths_m) in rows {
        let hanging = hook_depths(&basket).unwrap();
        for (hook, depth_m) in hanging.hooks.iter().zip(depths_m) {
            assert_within(&format!("depth of hook {}, m", hook.position), hook.depth_m, *depth_m, 0.006);
        }
    }
}

/// Source: the deep basket with the float clipped between two beats, computed with SciPy 1.17.1. Tolerance: 0.06 m.
#[test]
fn val_float_clipped_between_two_beats() {
    let hanging = hook_depths(&Basket { float_takes_a_beat: false, ..deep(0.75) }).unwrap();
    assert_within("main line, m", hanging.main_line_per_basket_m, 1125.0, 1e-9);
    assert_within("depth of hook 1, m", hanging.hooks[0].depth_m, 69.6, 0.06);
    assert_within("depth of the middle hook, m", hanging.hooks[12].depth_m, 381.1, 0.06);
}

#[test]
fn verif_a_taut_line_hangs_straight() {
    let hanging = hook_depths(&deep(1.0)).unwrap();
    assert_within("sag, m", hanging.sag_m, 0.0, 0.0);
    for hook in &hanging.hooks {
        assert_within("depth, m", hook.depth_m, 50.0, 0.0);
        assert_within("horizontal, m", hook.horizontal_m, hook.along_m, 1e-9);
    }
    // Nearly taut: sag = L √(6 (1 − k)) / 4 to first order.
    let hanging = hook_depths(&deep(1.0 - 1e-10)).unwrap();
    assert_within("sag, m", hanging.sag_m, 1170.0 * 6e-10_f64.sqrt() / 4.0, 1e-8);
    // Hardly any span: two plumb halves.
    let hanging = hook_depths(&deep(1e-5)).unwrap();
    assert_within("sag, m", hanging.sag_m, 585.0, 0.01);
}

#[test]
fn verif_bad_baskets_are_refused_with_number_and_unit() {
    for (basket, word) in [
        (Basket { hooks: 0, ..deep(0.75) }, "hooks"),
        (Basket { clip_spacing_m: 0.0, ..deep(0.75) }, "clip_spacing_m"),
        (Basket { clip_spacing_m: f64::INFINITY, ..deep(0.75) }, "clip_spacing_m"),
        (deep(f64::NAN), "sag_ratio"),
        (deep(1.01), "sag_ratio"),
        (deep(0.0), "sag_ratio"),
        (Basket { float_line_m: -1.0, ..deep(0.75) }, "float_line_m"),
        (Basket { branch_line_m: 1e9, ..deep(0.75) }, "branch_line_m"),
    ] {
        let error = hook_depths(&basket).unwrap_err();
        assert!(matches!(&error, GearError::OutOfRange { field, .. } if *field == word), "{error}");
    }
}

proptest! {
    /// Symmetric about the middle, deepest there, ends at the floats, and the shape's chord lengths add up to the line.
    #[test]
    fn verif_shape_of_any_basket(hooks in 1_u32..60, clip_spacing_m in 1.0_f64..120.0, sag_ratio in 0.02_f64..=1.0, float_takes_a_beat in any::<bool>()) {
        let basket = Basket { hooks, clip_spacing_m, sag_ratio, float_line_m: 20.0, branch_line_m: 15.0, float_takes_a_beat };
        let hanging = hook_depths(&basket).unwrap();
        let last = hanging.hooks.len() - 1;
        for (index, hook) in hanging.hooks.iter().enumerate() {
            let mirror = hanging.hooks[last - index];
            assert_within("mirrored depth, m", hook.depth_m, mirror.depth_m, 1e-8);
            assert_within("mirrored place, m", hook.horizontal_m, hanging.float_span_m - mirror.horizontal_m, 1e-7);
            prop_assert!(hook.depth_m <= 35.0 + hanging.sag_m + 1e-9 && hook.depth_m >= 35.0);
        }
        let line = main_line_shape(&basket, 4001).unwrap();
        let length_m: f64 = line.windows(2).map(|pair| (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1)).sum();
        assert_within("length along the shape, m", length_m / hanging.main_line_per_basket_m, 1.0, 1e-3);
        assert_within("span, m", line[4000].0, hanging.float_span_m, 1e-6);
    }

    /// The root is continuous where the series hands over to Newton's method, and truly a root.
    #[test]
    fn verif_sag_angle_solves_its_equation(slack in prop_oneof![1e-9_f64..1e-2, 1e-2_f64..0.999]) {
        let hanging = hook_depths(&deep(1.0 - slack)).unwrap();
        let t = hanging.sag_angle_deg.to_radians().tan();
        assert_within("asinh(t)/t", t.asinh() / t, 1.0 - slack, 1e-11);
    }
}
