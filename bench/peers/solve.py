"""Baskets solved with SciPy's general-purpose solvers: `solve_bvp` (collocation over the stacked intervals) and, as a
second and independent way, `solve_ivp` (DOP853) marched from one end with `root` on the end pull.

Both take free drift as two more unknowns: the horizontal pulls of the two neighbouring baskets on a float line, the drag
of the float line and that of the float add up to nothing.
"""

import numpy as np
from scipy.integrate import solve_bvp, solve_ivp
from scipy.optimize import minimize_scalar, root

from cable import Cable

STILL = np.zeros(2)


class Bvp:
    """A basket by `solve_bvp`: all intervals side by side over 0..1, in lengths of the line and in its weight."""

    def __init__(self, case):
        self.cable = Cable(case)
        self.drifting = case["ends"] == "drifting"
        self.metre = self.cable.line_m
        self.newton = self.cable.smeared_n_m * self.cable.line_m
        self.scale = 1.0

    def split(self, y):
        y = y.reshape(len(self.cable.lengths_m), 6, -1)
        return y[:, :3] * self.metre, y[:, 3:] * self.newton

    def drift(self, p):
        return np.asarray(p) if self.drifting else STILL

    def fun(self, _s, y, p=()):
        r, t = self.split(y)
        dr, dt = self.cable.rates(r, t, self.drift(p), self.scale)
        lengths = self.cable.lengths_m[:, None, None]
        return np.concatenate([dr * lengths / self.metre, dt * lengths / self.newton], axis=1).reshape(y.shape)

    def bc(self, ya, yb, p=()):
        (ra, ta), (rb, tb) = ((v[..., 0] for v in self.split(y)) for y in (ya, yb))
        c, drift = self.cable, self.drift(p)
        out = [(ra[0] - [0, 0, c.top_m]) / self.metre, (rb[-1] - [c.span_m, 0, c.top_m]) / self.metre]
        if len(ra) > 1:
            out.append(((ra[1:] - rb[:-1]) / self.metre).ravel())
            out.append(((ta[1:] - tb[:-1] + c.load(rb[:-1, 2], drift, self.scale)) / self.newton).ravel())
        if self.drifting:
            line, float_ = c.surface_forces(drift)
            out.append((ta[0, :2] - tb[-1, :2] + self.scale**2 * (line + float_)) / self.newton)
        return np.concatenate(out)

    def solve(self, tol, nodes=6, scales=(1.0,), drift0=STILL, refine=True):
        c = self.cable
        count = len(c.lengths_m)
        s = np.linspace(0, 1, nodes if count > 1 else max(nodes, 21))
        starts = np.concatenate([[0], np.cumsum(c.lengths_m)[:-1]])
        y = np.concatenate(
            [
                np.concatenate([r / self.metre, t / self.newton])
                for r, t in (c.still_guess(a + s * l) for a, l in zip(starts, c.lengths_m))
            ]
        )
        p = np.asarray(drift0, float) if self.drifting else None
        for number, self.scale in enumerate(scales):
            this_tol = tol if number == len(scales) - 1 else 1e-4
            for _ in range(12 if refine else 1):
                sol = solve_bvp(self.fun, self.bc, s, y, p=p, tol=this_tol, max_nodes=200_000, bc_tol=min(this_tol, 1e-10))
                if sol.status == 0:
                    break
                if sol.status == 2:
                    raise ArithmeticError(sol.message)
                s, y, p = sol.x, sol.y, sol.p
            if not sol.success:
                raise ArithmeticError(sol.message)
            s, y, p = (sol.x, sol.y, sol.p) if this_tol == tol else (sol.x[:: max(1, len(sol.x) // 40)], None, sol.p)
            if y is None:
                s = np.unique(np.append(s, 1.0))
                y = sol.sol(s)
        self.sol = sol
        return self

    # What came out, in plain numbers.

    def at(self, along_m):
        """Position and tension vector at an unstretched arc; just before the load where there is one."""
        ends = np.cumsum(self.cable.lengths_m)
        i = min(int(np.searchsorted(ends, along_m - 1e-9)), len(ends) - 1)
        q = (along_m - (ends[i] - self.cable.lengths_m[i])) / self.cable.lengths_m[i]
        r, t = self.split(self.sol.sol(np.array([q])))
        return r[i, :, 0], t[i, :, 0]

    def end_pulls(self):
        _, t = self.split(self.sol.sol(np.array([0.0, 1.0])))
        return t[0, :, 0], t[-1, :, 1]

    def drift_m_s(self):
        return self.drift(self.sol.p)

    def closure_n(self):
        """Weight and drag summed anew by Gauss quadrature over the solution, plus the end pulls: should be nothing."""
        x, w = np.polynomial.legendre.leggauss(5)
        mesh = self.sol.x
        h = np.diff(mesh)
        points = (mesh[:-1, None] + h[:, None] * (x + 1) / 2).ravel()
        weights = (h[:, None] * w / 2).ravel()
        r, t = self.split(self.sol.sol(points))
        _, dt = self.cable.rates(r, t, self.drift_m_s())
        force = -(dt * weights * self.cable.lengths_m[:, None, None]).sum(axis=(0, 2))
        if self.cable.point_loads:
            depths = np.array([self.at(a)[0][2] for a in self.cable.clip_m])
            force = force + self.cable.load(depths, self.drift_m_s()).sum(axis=0)
        first, last = self.end_pulls()
        return force + last - first


class March:
    """The same basket by `solve_ivp` from the first end, the far end met by `root`."""

    def __init__(self, case, tol=1e-11):
        self.cable, self.drifting, self.tol = Cable(case), case["ends"] == "drifting", tol

    def run(self, pull, drift, dense=None):
        c = self.cable
        y = np.concatenate([[0, 0, c.top_m], pull])

        def rate(_s, y):
            dr, dt = c.rates(y[:3, None], y[3:, None], drift)
            return np.concatenate([dr[:, 0], dt[:, 0]])

        clips = []
        for i, length in enumerate(c.lengths_m):
            stops = None if c.point_loads else np.append(c.clip_m, length)
            got = solve_ivp(rate, (0, length), y, "DOP853", t_eval=stops, rtol=self.tol, atol=self.tol)
            y = got.y[:, -1].copy()
            if not c.point_loads:
                clips.extend(got.y[:3, j].copy() for j in range(c.hooks))
            elif i < len(c.lengths_m) - 1:
                clips.append(y[:3].copy())
                y[3:] -= c.load(y[2:3], drift)[0]
        return y, np.array(clips)

    def solve(self, pull0, drift0=STILL):
        c = self.cable
        size = c.smeared_n_m * c.line_m

        def miss(v):
            drift = v[3:] if self.drifting else STILL
            end, _ = self.run(v[:3] * size, drift)
            gap = (end[:3] - [c.span_m, 0, c.top_m]) / c.line_m
            if not self.drifting:
                return gap
            return np.concatenate([gap, (v[:2] - end[3:5] / size) + sum(c.surface_forces(drift)) / size])

        start = np.concatenate([np.asarray(pull0) / size, drift0 if self.drifting else []])
        got = root(miss, start, tol=1e-12)
        self.gap = float(np.abs(miss(got.x)).max())
        self.pull, self.drift = got.x[:3] * size, (got.x[3:] if self.drifting else STILL)
        self.end, self.clips = self.run(self.pull, self.drift)
        return self


def results(bvp):
    """The outputs that a reference file holds."""
    c = bvp.cable
    grid = np.linspace(0, c.line_m, 2001)
    depth = np.array([bvp.at(a)[0][2] for a in grid])
    top = int(depth.argmax())
    best = minimize_scalar(
        lambda a: -bvp.at(a)[0][2],
        bounds=(grid[max(top - 1, 0)], grid[min(top + 1, 2000)]),
        method="bounded",
        options={"xatol": 1e-7},
    )
    if -best.fun < depth[top]:
        best.x = grid[top]

    def place(a):
        r, t = bvp.at(a)
        return {"along_m": float(a), "horizontal_m": r[0], "across_m": r[1], "depth_m": r[2]}

    first, last = bvp.end_pulls()
    out = {
        "middle": place(c.line_m / 2),
        "deepest": place(float(best.x)),
        "clips": [{"position": j + 1, **place(a)} for j, a in enumerate(c.clip_m)],
        "end_tension_n": [float(np.linalg.norm(first)), float(np.linalg.norm(last))],
        "end_tension_vector_n": [first.tolist(), last.tolist()],
    }
    if bvp.drifting:
        drift, bearing = bvp.drift_m_s(), np.radians(c.case["line_bearing_deg_true"])
        sin, cos = np.sin(bearing), np.cos(bearing)
        line, float_ = c.surface_forces(drift)
        out["drift"] = {
            "east_m_s": drift[0] * sin + drift[1] * cos,
            "north_m_s": drift[0] * cos - drift[1] * sin,
            "along_m_s": drift[0],
            "across_m_s": drift[1],
        }
        out["force_n"] = {
            "main_line_and_branches": (last - first)[:2].__neg__().tolist(),
            "float_line": line.tolist(),
            "float": float_.tolist(),
        }
    return out
