"""Still water: elastic catenary with equal point loads in closed form (Irvine 1981, Cable Structures, elastic catenary;
H by Brent's method), and single spans by MoorPy's `catenary`."""

import math

import numpy as np
from moorpy.Catenary import catenary
from scipy.optimize import brentq

from cable import Cable


def point_loads(case):
    """Basket with level ends and equal loads; V at the first end is half of all weight by symmetry."""
    c = Cable(case)
    w, p, ea = c.weight_n_m, c.branch_n, c.stiffness_n
    v0 = (w * c.line_m + p * c.hooks) / 2

    def march(h, extra=None):
        """Places just at the clips, or at one arc when `extra` is given."""
        x, z, v, at, out = 0.0, c.top_m, v0, 0.0, []
        for i, length in enumerate(c.lengths_m):
            part = length if extra is None else min(length, extra - at)
            lower = v - w * part
            x += h * part / ea + h / w * (math.asinh(v / h) - math.asinh(lower / h))
            z += (v * v - lower * lower) / (2 * ea * w) + (math.hypot(h, v) - math.hypot(h, lower)) / w
            at += length
            if extra is not None and at >= extra - 1e-9:
                return x, z, lower
            v = lower - (p if i < len(c.lengths_m) - 1 else 0.0)
            out.append((x, z))
        return out

    h = brentq(lambda h: march(h)[-1][0] - c.span_m, 1e-6, 1e5, xtol=1e-13, rtol=1e-14)
    places = march(h)
    middle = march(h, c.line_m / 2)
    return {
        "middle": {"along_m": c.line_m / 2, "horizontal_m": middle[0], "across_m": 0.0, "depth_m": middle[1]},
        "deepest": {"along_m": c.line_m / 2, "horizontal_m": middle[0], "across_m": 0.0, "depth_m": middle[1]},
        "clips": [
            {"position": j + 1, "along_m": float(a), "horizontal_m": x, "across_m": 0.0, "depth_m": z}
            for j, (a, (x, z)) in enumerate(zip(c.clip_m, places))
        ],
        "end_tension_n": [math.hypot(h, v0)] * 2,
        "horizontal_tension_n": h,
    }, abs(places[-1][0] - c.span_m) + abs(places[-1][1] - c.top_m)


def single_span(case):
    """Uniform elastic line by MoorPy; the branch weight spread evenly."""
    c = Cable(case)
    nodes = 4 * len(case_lengths(case)) + 1
    _, _, hf, vf, info = catenary(
        c.span_m, 0.0, c.line_m, c.stiffness_n, c.weight_n_m, CB=-1e5, Tol=1e-10, nNodes=nodes, MaxIter=400, plots=1
    )
    h, v = abs(hf), abs(vf)
    s, x, z = np.array(info["s"]), np.array(info["X"]), c.top_m - np.array(info["Z"])

    def place(a):
        j = int(np.abs(s - a).argmin())
        assert abs(s[j] - a) < 1e-6
        return {"along_m": float(a), "horizontal_m": float(x[j]), "across_m": 0.0, "depth_m": float(z[j])}

    return {
        "middle": place(c.line_m / 2),
        "deepest": place(c.line_m / 2),
        "clips": [{"position": j + 1, **place(a)} for j, a in enumerate(c.clip_m)],
        "end_tension_n": [math.hypot(h, v)] * 2,
        "horizontal_tension_n": h,
    }, max(abs(z[-1] - c.top_m), abs(x[-1] - c.span_m), abs(v - c.weight_n_m * c.line_m / 2))


def case_lengths(case):
    """Even parts such that every clip is at a whole number of them."""
    hooks = case["basket"]["hooks"]
    return range(hooks + 1 if case["basket"]["float_takes_a_beat"] else hooks)
