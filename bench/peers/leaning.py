"""Free drift with float lines that lean: the float line is a weightless, inextensible cable with drag across it, from the
float at the surface down to the end of the main line. With `drag_as_plumb` its drag is that of a plumb line (full current,
depths of the plumb line) though it leans: the simpler model. SciPy `solve_ivp` (DOP853) along float line and main line, `root`
on end pull, drift and depth of the ends."""

import math

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import root

from cable import FLOAT_DRAG_DEPTH_M
from solve import March


class LeaningMarch(March):
    drag_as_plumb = False

    def float_line_up(self, hung_n, drift):
        """From the lower end up: place as seen from there and the pull on the line's upper end."""
        c = self.cable
        width = c.float_line["drag_normal"] * c.float_line["diameter_mm"] / 1000
        length_m = c.case["basket"]["float_line_m"]

        def rate(s, y):
            t = y[3:] / np.linalg.norm(y[3:])
            ux, uy = c.profile.at(length_m - s if self.drag_as_plumb else y[2])
            u = np.array([ux - drift[0], uy - drift[1], 0.0])
            normal = u if self.drag_as_plumb else u - (u @ t) * t
            return np.concatenate([t, -c.rho / 2 * width * math.sqrt(normal @ normal) * normal])

        start = np.concatenate([[0, 0, c.top_m], -hung_n])
        got = solve_ivp(rate, (0, length_m), start, "DOP853", rtol=self.tol, atol=self.tol)
        return got.y[:3, -1], got.y[3:, -1]

    def solve(self, pull0, drift0):
        c, size = self.cable, self.cable.smeared_n_m * self.cable.line_m

        def miss(v):
            c.top_m = v[5] * c.line_m
            drift, pull = v[3:5], v[:3] * size
            end, _ = self.run(pull, drift)
            hung = pull - end[3:]  # what the two baskets at a float line pull it with
            top, above = self.float_line_up(hung, drift)
            u = np.array(c.profile.at(FLOAT_DRAG_DEPTH_M)) - drift
            on_float = -above[:2] + c.rho / 2 * c.float["drag_area_m2"] * np.hypot(*u) * u
            return np.concatenate([(end[:3] - [c.span_m, 0, c.top_m]) / c.line_m, on_float / size, [top[2] / c.line_m]])

        got = root(miss, np.concatenate([np.asarray(pull0) / size, drift0, [c.top_m / c.line_m]]), tol=1e-12)
        self.gap = float(np.abs(miss(got.x)).max())
        self.pull, self.drift = got.x[:3] * size, got.x[3:5]
        self.end, self.clips = self.run(self.pull, self.drift)
        self.top, _ = self.float_line_up(self.pull - self.end[3:], self.drift)
        return self
