//! Depth from pressure against the published check value, the published programs' digits, and a real cast.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use gear::recorder::pressure::depth_m;
use quantity::testing::assert_within;

/// Source: Fofonoff & Millard 1983, UNESCO Technical Papers in Marine Science 44, check value in the listing of DEPTH:
/// 9712.653 m at 10,000 dbar and 30°. Tolerance: half the last digit; difference seen 7e-5 m.
#[test]
fn val_unesco_check_value() {
    assert_within("depth, m", depth_m(10_000.0, 30.0), 9712.653, 5e-4);
}

/// Source: PyPI package seawater 3.3.5, `dpth` (UNESCO 1983; its own documentation prints the same digits).
/// Tolerance: 1e-9 m; difference seen below 1e-11 m but for its pi / 180.
#[test]
fn val_depths_by_pressure_and_latitude() {
    let rows = [
        (0.0, [496.652_992_389_015_94, 992.117_095_592_557_8, 4_915.040_991_119_971, 9_725.470_875_082_394]),
        (30.0, [495.997_729_170_169_86, 990.808_210_695_470_6, 4_908.559_543_324_657, 9_712.653_072_097_246]),
        (45.0, [495.342_735_398_005_86, 989.499_863_824_068_7, 4_902.080_752_141_914, 9_699.840_504_026_919]),
        (-60.0, [494.688_015_779_913_5, 988.192_064_381_579_1, 4_895.604_664_144_977_5, 9_687.033_262_998_773]),
        (90.0, [494.033_574_993_627_8, 986.884_821_712_000_3, 4_889.131_325_614_002, 9_674.231_440_561_094]),
    ];
    for (latitude_deg, depths_m) in rows {
        for (pressure_dbar, theirs_m) in [500.0, 1000.0, 5000.0, 10_000.0].into_iter().zip(depths_m) {
            assert_within("depth, m", depth_m(pressure_dbar, latitude_deg), theirs_m, 1e-9);
        }
    }
}

/// Source: a real cast of the TEOS-10 toolbox, depths of its own water by gsw 3.6.23 and of the standard ocean by
/// seawater 3.3.5. Tolerance: 1e-6 m to the standard ocean; 0.7 % to the true water (0.6 % seen in the warm layer at
/// the surface, 0.2 % at 700 m): what a standard ocean is off in tropical water.
#[test]
fn val_depths_of_a_real_cast() {
    let text = include_str!("data/sea_water/depths.csv");
    let mut rows = 0;
    for line in text.lines().skip(1) {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        let ours_m = depth_m(cells[0], 9.5);
        assert_within("standard ocean, m", ours_m, cells[1], 1e-6);
        assert_within("true water, m", ours_m, cells[2], 0.007 * cells[2]);
        rows += 1;
    }
    assert_eq!(rows, 45);
}
