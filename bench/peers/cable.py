"""The cable of a basket as a continuous two-point (or many-point) boundary value problem, from an input of
`gangion depth --json`, for general-purpose solvers.

Frame: x along the line bearing, y to starboard, z down from the surface (depth). Per metre of unstretched line, with
tension vector T = |T| t, strain e = |T|/EA, current relative to the line u = u_t + u_n:

    dr/ds = (1 + e) t
    dT/ds = -(0, 0, w) - (1 + e) rho d/2 [C_n |u_n| u_n + pi C_t |u_t| u_t]

and at a clip T_after = T_before - (drag of the branch line, 0) - (0, 0, P). This is the static part of the cable
equations as they stand in any text on mooring lines; drag is taken per stretched length, weight per unstretched length.
With `point_loads` false the branch lines' weight is spread evenly over the unstretched line, and their drag area over the
stretched line, acting with the full relative current: rho/2 (A N/L) |u| u per metre.
Nothing here discretises: that is left to the solver.
"""

import math

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

FLOAT_DRAG_DEPTH_M = 0.05


class Profile:
    """Current linear between levels by components and held beyond them, turned into the frame of the line."""

    def __init__(self, levels, bearing_deg_true):
        levels = sorted(levels, key=lambda level: level["depth_m"]) or [
            {"depth_m": 0.0, "east_m_s": 0.0, "north_m_s": 0.0}
        ]
        bearing = math.radians(bearing_deg_true)
        sin, cos = math.sin(bearing), math.cos(bearing)
        self.depth_m = np.array([level["depth_m"] for level in levels])
        self.along_m_s = np.array([level["east_m_s"] * sin + level["north_m_s"] * cos for level in levels])
        self.across_m_s = np.array([level["east_m_s"] * cos - level["north_m_s"] * sin for level in levels])

    def at(self, depth_m):
        return np.interp(depth_m, self.depth_m, self.along_m_s), np.interp(depth_m, self.depth_m, self.across_m_s)


class Cable:
    """One basket: lengths between joints, loads at joints, ends."""

    def __init__(self, case):
        basket, line, branch, water = case["basket"], case["main_line"], case["branch"], case["water"]
        self.case = case
        self.hooks = basket["hooks"]
        spacing = basket["clip_spacing_m"]
        if basket.get("float_takes_a_beat", True):
            lengths = [spacing] * (self.hooks + 1)
        else:
            lengths = [spacing / 2] + [spacing] * (self.hooks - 1) + [spacing / 2]
        self.clip_m = np.cumsum(lengths)[:-1]
        self.line_m = float(sum(lengths))
        self.span_m = basket["sag_ratio"] * self.line_m
        self.top_m = basket["float_line_m"]
        self.rho, g = water["density_kg_m3"], water["gravity_m_s2"]
        self.diameter_m = line["diameter_mm"] / 1000
        self.own_weight_n_m = (line["density_kg_m3"] - self.rho) * math.pi / 4 * self.diameter_m**2 * g
        self.stiffness_n = line["axial_stiffness_n"]
        self.c_normal, self.c_tangential = line["drag_normal"], line["drag_tangential"]
        self.branch_n, self.branch_m2 = branch["weight_in_water_n"], branch["drag_area_m2"]
        self.smeared_n_m = self.own_weight_n_m + self.branch_n * self.hooks / self.line_m
        self.point_loads = case["point_loads"]
        if self.point_loads:
            assert branch["drag_at"] == "node" or self.branch_m2 == 0
            self.lengths_m, self.weight_n_m = np.array(lengths), self.own_weight_n_m
        else:
            self.lengths_m, self.weight_n_m = np.array([self.line_m]), self.smeared_n_m
        self.spread_m = 0.0 if self.point_loads else self.branch_m2 * self.hooks / self.line_m
        self.drag_on_stretched = True  # False: per unstretched length, as MoorDyn takes it
        self.profile = Profile(water["current"], case["line_bearing_deg_true"])
        self.float_line, self.float = case.get("float_line"), case.get("float")

    def rates(self, r, t, drift, scale=1.0):
        """dr/ds and dT/ds; r and t of shape (..., 3, points)."""
        pull = np.sqrt((t * t).sum(axis=-2, keepdims=True))
        tangent = t / pull
        stretch = 1 + pull / self.stiffness_n
        ux, uy = self.profile.at(r[..., 2, :])
        u = np.zeros_like(r)
        u[..., 0, :], u[..., 1, :] = scale * (ux - drift[0]), scale * (uy - drift[1])
        along = (u * tangent).sum(axis=-2, keepdims=True)
        normal = u - along * tangent
        speed_n = np.sqrt((normal * normal).sum(axis=-2, keepdims=True))
        drag = (
            self.rho
            * self.diameter_m
            / 2
            * (self.c_normal * speed_n * normal + math.pi * self.c_tangential * np.abs(along) * along * tangent)
        )
        if self.spread_m:
            drag = drag + self.rho / 2 * self.spread_m * np.sqrt((u * u).sum(axis=-2, keepdims=True)) * u
        dt = -drag * (stretch if self.drag_on_stretched else 1.0)
        dt[..., 2, :] -= self.weight_n_m
        return stretch * tangent, dt

    def load(self, depth_m, drift, scale=1.0):
        """Force of a branch line at a clip; depth of shape (...), answer (..., 3)."""
        ux, uy = self.profile.at(depth_m)
        ux, uy = scale * (ux - drift[0]), scale * (uy - drift[1])
        drag = self.rho / 2 * self.branch_m2 * np.hypot(ux, uy)
        return np.stack([drag * ux, drag * uy, np.full_like(drag, self.branch_n)], axis=-1)

    def surface_forces(self, drift):
        """Horizontal drag of the plumb float line and of the float (its current taken 0.05 m down), N."""
        breaks = [d for d in self.profile.depth_m if 0 < d < self.top_m]
        width = self.float_line["drag_normal"] * self.float_line["diameter_mm"] / 1000
        line = []
        for axis in (0, 1):

            def per_metre(z, axis=axis):
                u = [float(c) - d for c, d in zip(self.profile.at(z), drift)]
                return self.rho / 2 * width * math.hypot(*u) * u[axis]

            line.append(quad(per_metre, 0, self.top_m, points=breaks or None, epsabs=1e-13, epsrel=1e-12)[0])
        u = np.array(self.profile.at(FLOAT_DRAG_DEPTH_M)) - drift
        return np.array(line), self.rho / 2 * self.float["drag_area_m2"] * np.hypot(*u) * u

    def still_guess(self, s_m):
        """Position and tension at unstretched arcs of the uniform catenary with the branch weight spread evenly."""
        k, half = self.span_m / self.line_m, self.line_m / 2
        tangent = brentq(lambda x: math.asinh(x) - k * x, math.sqrt(6 * (1 - k)) * 0.9, 2e6 / k, xtol=1e-13)
        a = half / tangent
        q = (s_m - half) / a
        x = self.span_m / 2 + a * np.arcsinh(q)
        z = self.top_m + a * (math.hypot(1, tangent) - np.hypot(1, q))
        h = a * self.smeared_n_m
        return np.stack([x, 0 * x, z]), np.stack([0 * x + h, 0 * x, -h * q])
