"""Computes all reference files in crates/gear/tests/data/peers anew. Usage: python make_references.py [NAME ...]
with names among: smeared, points, drifting, leaning, closed, spans, lumped, settling (all when none)."""

import json
import pathlib
import platform
import sys
from importlib.metadata import version

import numpy as np

import cases
import closed
from cable import Cable
from leaning import LeaningMarch
from lumped import Lumped
from solve import Bvp, March, results

OUT = pathlib.Path(__file__).resolve().parents[2] / "crates/gear/tests/data/peers"
LOAD_STEPS = (0.25, 0.5, 0.75, 1.0)
FRAME = "x along the line bearing (horizontal_m), y to starboard (across_m), depth down; along_m is unstretched arc"


def rounded(value):
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [rounded(v) for v in value]
    if isinstance(value, (float, np.floating)):
        return float(f"{value:.12g}") if abs(value) < 1e-5 else round(float(value), 9) + 0.0
    return value


def write(name, program, entries):
    text = json.dumps({"program": program, "frame": FRAME, "cases": rounded(entries)}, indent=1, allow_nan=False)
    # One place or level to a line.
    lines, buffer = [], None
    for line in text.splitlines():
        bare = line.strip()
        if buffer is None and bare == "{" and len(line) - len(bare) > 3:
            buffer = [line]
        elif buffer is not None:
            buffer.append(bare)
            if bare.startswith("}"):
                lines.append(buffer[0] + " ".join(buffer[1:-1]) + buffer[-1])
                buffer = None
        else:
            lines.append(line)
    text = "\n".join(lines) + "\n"
    json.loads(text)
    (OUT / f"{name}.json").write_text(text)
    print(f"{name}.json: {len(entries)} cases", flush=True)


def report(name, out, **solver):
    print(f"{name:24} mid {out['middle']['depth_m']:.4f} deepest {out['deepest']['depth_m']:.4f} {out.get('drift', '')} {solver}", flush=True)


def bvp(family):
    entries = []
    for name, case in family.items():
        solved = Bvp(case).solve(1e-8, scales=LOAD_STEPS)
        out = results(solved)
        march = March(case).solve(solved.end_pulls()[0] + 0.01, solved.drift_m_s() + 1e-4)
        clips = np.array([solved.at(a)[0] for a in solved.cable.clip_m])
        solver = {
            "tol": 1e-8,
            "mesh_nodes": len(solved.sol.x),
            "largest_rms_residual": float(solved.sol.rms_residuals.max()),
            "force_closure_n": float(np.abs(solved.closure_n()).max()),
            "second_way_differs_m": float(np.abs(march.clips - clips).max()),
            "second_way_drift_differs_m_s": float(np.abs(march.drift - solved.drift_m_s()).max()),
        }
        report(name, out, **solver)
        entries.append({"name": name, "input": case, "output": out, "solver": solver})
    return entries


def leaning(drag_as_plumb):
    """The drifting cases again, their float lines leaning."""
    entries = []
    for name, case in cases.DRIFTING.items():
        rough = Bvp(case).solve(1e-5, scales=LOAD_STEPS)
        plumb = March(case).solve(rough.end_pulls()[0], rough.drift_m_s())
        solved = LeaningMarch(case)
        solved.drag_as_plumb = drag_as_plumb
        solved.solve(plumb.pull, plumb.drift)
        bearing = np.radians(case["line_bearing_deg_true"])
        sin, cos = np.sin(bearing), np.cos(bearing)
        (along, across), c = solved.drift, solved.cable
        out = {
            "ends_depth_m": c.top_m,
            "ends_aside_m": solved.top[:2] * -1,
            "clips": [
                {"position": j + 1, "along_m": float(a), "horizontal_m": r[0], "across_m": r[1], "depth_m": r[2]}
                for j, (a, r) in enumerate(zip(c.clip_m, solved.clips))
            ],
            "end_tension_n": [float(np.linalg.norm(solved.pull)), float(np.linalg.norm(solved.end[3:]))],
            "drift": {
                "east_m_s": along * sin + across * cos,
                "north_m_s": along * cos - across * sin,
                "along_m_s": along,
                "across_m_s": across,
            },
        }
        print(name, out["drift"], out["ends_depth_m"], solved.gap, flush=True)
        entries.append({"name": name, "input": case, "output": out, "solver": {"largest_miss": solved.gap}})
    return entries


def still(family, solve):
    entries = []
    for name, case in family.items():
        out, miss = solve(case)
        report(name, out, miss=miss)
        entries.append({"name": name, "input": case, "output": out, "solver": {"end_miss": miss}})
    return entries


def unstretched_middle(case):
    """The middle by `solve_bvp` with drag per unstretched length, which is MoorDyn's convention."""
    solved = Bvp(case)
    solved.cable.drag_on_stretched = False
    solved.solve(1e-7, scales=LOAD_STEPS)
    x, y, z = (float(v) for v in solved.at(solved.cable.line_m / 2)[0])
    return {"along_m": solved.cable.line_m / 2, "horizontal_m": x, "across_m": y, "depth_m": z}


def lumped():
    """Left free from the still-water shape, so that nothing of another solver is in the answer."""
    entries = []
    for name in ("D", "points_half_beats", "E_held"):
        case = cases.FIXED_POINT_LOADS[name]
        cable = Cable(case)
        for parts, dt_s in ((2, 0.01), (4, 0.005)):
            run = Lumped(case, lambda a: cable.still_guess(np.array(a))[0], parts, dt_s)
            while run.time_s < 36_000 and (run.time_s < 3_600 or run.fastest_m_s() > 3e-7):
                run.run(600)
            places = run.places()

            def place(i):
                x, y, z = (float(v) for v in places[i])
                return {"along_m": float(run.along_m[i]), "horizontal_m": x, "across_m": y, "depth_m": z}

            out = {
                "middle": place(len(places) // 2),
                "deepest": place(int(places[:, 2].argmax())),
                "clips": [{"position": j + 1, **place(i)} for j, i in enumerate(run.clip_nodes)],
            }
            solver = {
                "segments_per_interval": parts,
                "time_step_s": dt_s,
                "simulated_s": run.time_s,
                "fastest_node_m_s": run.fastest_m_s(),
                "continuous_middle_drag_per_unstretched_length": unstretched_middle(case),
            }
            run.close()
            report(name, out, **solver)
            entries.append({"name": f"{name}_{parts}_segments", "input": case, "output": out, "solver": solver})
    return entries


def zigzag(cable, leg_m):
    """The line laid flat at the depth of the float-line ends, its slack in legs of this length out to starboard and back."""
    aside = np.sqrt(1 - (cable.span_m / cable.line_m) ** 2)

    def at(along_m):
        within = along_m % (2 * leg_m)
        side = within if within <= leg_m else 2 * leg_m - within
        return np.array([along_m * cable.span_m / cable.line_m, side * aside, cable.top_m])

    return at


def settle(name, case, leg_m):
    cable = Cable(case)
    final = closed.point_loads(case)[0]["middle"]["depth_m"]
    run = Lumped(case, zigzag(cable, leg_m), 2, 0.01)
    middle, track = len(run.points) // 2, [(0.0, cable.top_m)]
    while run.time_s < 12_000 and track[-1][1] < final - 0.015 * (final - cable.top_m):
        run.run(10)
        track.append((run.time_s, float(run.places()[middle][2])))
    run.close()
    times, depths = np.array(track).T
    share = np.maximum.accumulate((depths - cable.top_m) / (final - cable.top_m))
    reached = {f"t{wanted}_s": float(np.interp(wanted / 100, share, times)) for wanted in (25, 50, 75, 90, 95, 98)}
    fall_m_s = np.sqrt(2 * cable.smeared_n_m / (cable.rho * cable.c_normal * cable.diameter_m))
    out = {
        "laid_leg_m": leg_m,
        "settled_middle_depth_m": final,
        **reached,
        "t98_times_fall_speed_over_sag": reached["t98_s"] * fall_m_s / (final - cable.top_m),
        "middle_depth_at": [{"time_s": t, "depth_m": z} for t, z in track if t % 120 == 0],
    }
    print(name, leg_m, final, reached, out["t98_times_fall_speed_over_sag"], flush=True)
    solver = {"segments_per_interval": 2, "time_step_s": 0.01}
    return {"name": f"{name}_legs_{leg_m:.0f}_m", "input": case, "output": out, "solver": solver}


def settling():
    """Still water: the middle of the line from a zigzag at the depth of the float-line ends down to where it hangs."""
    entries = []
    for name, case in cases.SETTLING.items():
        spacing = case["basket"]["clip_spacing_m"]
        for intervals in (1, 2, 4) if name == "15_hooks" else (2,):
            entries.append(settle(name, case, intervals * spacing))
    return entries


def main():
    names = sys.argv[1:] or ["smeared", "points", "drifting", "leaning", "closed", "spans", "lumped", "settling"]
    OUT.mkdir(parents=True, exist_ok=True)
    python = f"Python {platform.python_version()}, NumPy {version('numpy')}"
    scipy = f"SciPy {version('scipy')} solve_bvp, tol 1e-8 ({python}); second way: solve_ivp DOP853 rtol 1e-11 with root"
    moordyn = f"MoorDyn-C {version('moordyn')} (PyPI moordyn, {python})"
    if "smeared" in names:
        write("bvp_fixed_smeared", scipy, bvp(cases.FIXED_SMEARED))
    if "points" in names:
        write("bvp_fixed_point_loads", scipy, bvp(cases.FIXED_POINT_LOADS))
    if "drifting" in names:
        write("bvp_drifting", scipy, bvp(cases.DRIFTING))
    if "leaning" in names:
        marched = f"SciPy {version('scipy')} solve_ivp DOP853 rtol 1e-11 with root ({python})"
        write("march_drifting_leaning", marched, leaning(False))
        write("march_drifting_leaning_plumb_drag", marched, leaning(True))
    if "closed" in names:
        brent = f"elastic catenary in closed form, SciPy {version('scipy')} brentq xtol 1e-13 ({python})"
        write("closed_point_loads", brent, still(cases.STILL_POINT_LOADS, closed.point_loads))
    if "spans" in names:
        moorpy = f"MoorPy {version('MoorPy')} catenary, Tol 1e-10 ({python})"
        write("moorpy_single_spans", moorpy, still(cases.SINGLE_SPANS, closed.single_span))
    if "lumped" in names:
        write("moordyn_settled", moordyn, lumped())
    if "settling" in names:
        write("moordyn_settling", moordyn, settling())


if __name__ == "__main__":
    main()
