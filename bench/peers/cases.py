"""The inputs of the reference cases, each in the form that `gangion depth --json` reads."""

import math


def linear(speed_m_s, depth_m, towards_deg, bearing_deg):
    """Nothing at the surface, `speed_m_s` from `depth_m` down, `towards_deg` from the line's own direction to starboard."""
    towards = math.radians(bearing_deg + towards_deg)
    return [
        {"depth_m": 0.0, "east_m_s": 0.0, "north_m_s": 0.0},
        {"depth_m": float(depth_m), "east_m_s": speed_m_s * math.sin(towards), "north_m_s": speed_m_s * math.cos(towards)},
    ]


def levels(*rows):
    return [{"depth_m": float(d), "east_m_s": e, "north_m_s": n} for d, e, n in rows]


def case(
    hooks,
    spacing_m,
    sag_ratio,
    float_line_m,
    current,
    *,
    weight_n=0.6,
    stiffness_n=20000.0,
    bearing=0.0,
    point_loads=False,
    diameter_mm=3.6,
    density=1140.0,
    normal=1.2,
    tangential=0.008,
    branch_m2=0.0,
    branch_m=25.0,
    beat=True,
    drifting=False,
    float_line_mm=6.0,
    float_m2=0.01767,
    net_n=110.0,
    rho=1025.0,
):
    return {
        "basket": {
            "hooks": hooks,
            "clip_spacing_m": float(spacing_m),
            "sag_ratio": sag_ratio,
            "float_line_m": float(float_line_m),
            "branch_line_m": float(branch_m),
            "float_takes_a_beat": beat,
        },
        "main_line": {
            "diameter_mm": diameter_mm,
            "density_kg_m3": density,
            "axial_stiffness_n": stiffness_n,
            "drag_normal": normal,
            "drag_tangential": tangential,
        },
        "branch": {"weight_in_water_n": weight_n, "drag_area_m2": branch_m2, "drag_at": "node"},
        "float_line": {"diameter_mm": float_line_mm, "drag_normal": 1.2},
        "float": {"drag_area_m2": float_m2, "net_buoyancy_n": net_n},
        "water": {"density_kg_m3": rho, "gravity_m_s2": 9.80665, "current": current},
        "line_bearing_deg_true": bearing,
        "ends": "drifting" if drifting else "fixed",
        "point_loads": point_loads,
        "elements_per_interval": 8,
    }


# The current turns with depth and has a jet in mid-water.
TURNING = levels((0, 0.05, 0.02), (40, 0.08, -0.03), (90, -0.02, -0.09), (160, -0.06, 0.04), (260, 0.03, 0.06), (400, 0.01, 0.0))
UNDERCURRENT = levels((0, 0.0, 0.0), (60, 0.04, 0.01), (120, 0.12, 0.03), (180, 0.07, 0.05), (250, 0.01, 0.02))
# Line towards north: along it 0.30 to 0.05 m/s, to starboard 0 to 0.10 m/s. Then the same less about its drift.
CASE_E = levels((0, 0.0, 0.30), (250, 0.10, 0.05))
CASE_E_LESS_DRIFT = levels((0, -0.0581, 0.1265), (250, 0.0419, -0.1235))

FIXED_SMEARED = {
    "A": case(15, 45, 0.70, 20, linear(0.10, 200, 90, 0.0)),
    "B": case(15, 45, 0.70, 20, linear(0.10, 200, 0, 0.0)),
    "C": case(25, 45, 0.60, 25, linear(0.10, 300, 45, 137.0), bearing=137.0),
    "turning_oblique": case(20, 42, 0.66, 30, TURNING, bearing=64.0, weight_n=0.85, tangential=0.02, normal=1.45),
    "soft_line": case(10, 52, 0.82, 18, UNDERCURRENT, bearing=211.0, weight_n=0.7, stiffness_n=300.0),
    "shallow_taut": case(5, 75, 0.93, 12, linear(0.06, 80, 70, 315.0), bearing=315.0, weight_n=0.9, diameter_mm=3.2),
    "half_beats": case(12, 48, 0.74, 22, linear(0.12, 150, 120, 28.0), bearing=28.0, weight_n=1.1, beat=False),
    "heavy_rope": case(
        9, 50, 0.68, 15, levels((10, 0.2, -0.1), (100, -0.15, 0.1), (200, -0.2, 0.25)), bearing=100.0,
        diameter_mm=6.4, density=1300.0, normal=1.3, tangential=0.03, weight_n=0.5, rho=1027.0,
    ),
}
FIXED_SMEARED["spread_branch_drag"] = case(
    25, 40, 0.68, 28, TURNING, bearing=205.0, weight_n=0.95, branch_m2=0.07, density=1150.0, tangential=0.012
)

FIXED_POINT_LOADS = {
    "D": case(15, 45, 0.70, 20, linear(0.10, 200, 90, 0.0), stiffness_n=2000.0, point_loads=True),
    "E_held": case(15, 45, 0.70, 20, CASE_E_LESS_DRIFT, stiffness_n=2000.0, point_loads=True, branch_m2=0.060),
    "points_turning": case(
        8, 50, 0.72, 25, TURNING, bearing=250.0, weight_n=0.9, point_loads=True, branch_m2=0.05, tangential=0.015
    ),
    "points_half_beats": case(
        7, 46, 0.65, 20, UNDERCURRENT, bearing=40.0, weight_n=0.75, point_loads=True, branch_m2=0.06, beat=False, stiffness_n=1500.0
    ),
    "points_25_hooks": case(
        25, 45, 0.60, 25, linear(0.08, 280, 60, 190.0), bearing=190.0, point_loads=True, branch_m2=0.06
    ),
}

DRIFTING = {
    "E": case(15, 45, 0.70, 20, CASE_E, stiffness_n=2000.0, point_loads=True, branch_m2=0.060, drifting=True),
    "drift_turning": case(
        20, 45, 0.65, 30, TURNING, bearing=75.0, weight_n=0.8, point_loads=True, branch_m2=0.055, drifting=True,
        float_line_mm=5.0, float_m2=0.03,
    ),
    "drift_25_hooks_across": case(
        25, 45, 0.75, 25, linear(0.20, 300, 90, 330.0), bearing=330.0, point_loads=True, branch_m2=0.06, drifting=True
    ),
    "drift_half_beats": case(
        10, 50, 0.78, 25, levels((0, 0.25, -0.1), (50, 0.22, -0.05), (120, 0.05, 0.06), (200, 0.0, 0.1)), bearing=160.0,
        weight_n=1.0, point_loads=True, branch_m2=0.05, drifting=True, beat=False, float_line_mm=8.0, float_m2=0.05,
    ),
}


STILL_POINT_LOADS = {
    "7_hooks": case(7, 45, 0.75, 0, [], point_loads=True),
    "15_hooks": case(15, 45, 0.60, 0, [], point_loads=True),
    "25_hooks": case(25, 45, 0.60, 0, [], point_loads=True),
    "25_hooks_tighter": case(25, 45, 0.75, 0, [], point_loads=True),
    "even_hooks": case(10, 38, 0.55, 30, [], point_loads=True, weight_n=1.3, stiffness_n=5000.0, diameter_mm=3.2),
    "half_beats": case(12, 50, 0.80, 25, [], point_loads=True, weight_n=0.8, beat=False),
    "half_beats_odd_soft": case(5, 70, 0.90, 12, [], point_loads=True, weight_n=1.0, beat=False, stiffness_n=400.0),
    "shallow": case(4, 80, 0.96, 8, [], point_loads=True, weight_n=1.2, diameter_mm=3.5),
    "near_taut": case(6, 60, 0.99, 10, [], point_loads=True, weight_n=0.6),
    "very_slack": case(30, 40, 0.35, 25, [], point_loads=True, weight_n=0.7),
    "rope": case(9, 50, 0.62, 20, [], point_loads=True, weight_n=0.4, diameter_mm=6.4, density=1300.0, rho=1027.0),
}


def _span(sag_ratio, weight_n_m, stiffness_n, hooks=9, spacing_m=100.0, top_m=0.0):
    """A uniform line of this weight: 3.6 mm nylon and the rest of the weight as branch lines spread evenly."""
    own = (1140.0 - 1025.0) * math.pi / 4 * 0.0036**2 * 9.80665
    weight_n = max(0.0, (weight_n_m - own) * spacing_m * (hooks + 1) / hooks)
    return case(hooks, spacing_m, sag_ratio, top_m, [], weight_n=weight_n, stiffness_n=stiffness_n)


SINGLE_SPANS = {
    **{f"nylon_k_{k:.2f}": _span(k, 0.0, 1e9) for k in (0.50, 0.60, 0.70, 0.75, 0.80, 0.90, 0.95, 0.97, 0.99)},
    **{f"elastic_k_{k:.2f}_ea_{ea:.0f}": _span(k, 0.03, ea) for k in (0.60, 0.95) for ea in (20000.0, 2000.0, 200.0)},
    "slack_25_hooks": _span(0.42, 0.025, 20000.0, 25, 45.0, 25.0),
    "soft_short": _span(0.85, 0.02, 100.0, 6, 55.0, 15.0),
    "near_taut_elastic": _span(0.995, 0.04, 5000.0, 8, 60.0, 20.0),
    "heavy_soft": _span(0.73, 0.09, 1500.0, 19, 50.0, 30.0),
}


SETTLING = {
    "15_hooks": case(15, 45, 0.70, 20, [], stiffness_n=2000.0, point_loads=True),
    "15_hooks_heavy": case(15, 45, 0.70, 20, [], stiffness_n=2000.0, point_loads=True, weight_n=1.2),
    "7_hooks": case(7, 45, 0.80, 25, [], stiffness_n=2000.0, point_loads=True, weight_n=0.8),
    "25_hooks": case(25, 45, 0.75, 25, [], stiffness_n=2000.0, point_loads=True),
}
