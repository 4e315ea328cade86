"""Times the peers on one basket in CPU seconds and prints JSON on standard output:

    {"basket": {...input...}, "runs": n, "peers": [{"peer", "version", "what", "seconds_per_basket", "middle_depth_m", ...}]}

The basket: 25 hooks, 45 m apart, sag ratio 0.60, 3.6 mm nylon, in a current that turns over 250 m. Each peer is timed cold
from the still-water shape, the best of several runs, on one thread.
Usage: target/peers-venv/bin/python bench/peers/time_peers.py [--quick] [--input FILE]
`--quick` skips the lumped-mass run to rest (its cost is then told per simulated second alone).
"""

import os

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import argparse
import copy
import json
import time
from importlib.metadata import version

import numpy as np

import cases
from cable import Cable
from lumped import Lumped
from solve import Bvp, March

SETTLED_S = 3000.0


def basket():
    """The current is case E's less a drift of about what it takes, relative to the held ends."""
    return cases.case(25, 45, 0.60, 25, cases.CASE_E_LESS_DRIFT, stiffness_n=20000.0, point_loads=True, branch_m2=0.060)


def best_of(runs, work):
    best, out = None, None
    for _ in range(runs):
        before = time.process_time()
        out = work()
        spent = time.process_time() - before
        best = spent if best is None else min(best, spent)
    return best, out


def main():
    parser = argparse.ArgumentParser(description="Times the peers on one basket, CPU seconds, JSON.")
    parser.add_argument("--quick", action="store_true", help="skip the lumped-mass run to rest")
    parser.add_argument("--input", help="a basket as `gangion depth --json` reads it, ends held (default: built in)")
    args = parser.parse_args()
    case = basket()
    if args.input:
        with open(args.input) as file:
            case = json.load(file)
    smeared = copy.deepcopy(case)
    smeared["point_loads"], cable = False, Cable(case)

    peers = []

    def bvp(which, tol, runs, what):
        seconds, solved = best_of(runs, lambda: Bvp(which).solve(tol, refine=False))
        peers.append(
            {
                "peer": "scipy solve_bvp",
                "version": version("scipy"),
                "what": what,
                "tol": tol,
                "seconds_per_basket": seconds,
                "middle_depth_m": float(solved.at(solved.cable.line_m / 2)[0][2]),
                "mesh_nodes": len(solved.sol.x),
            }
        )
        return solved

    bvp(smeared, 1e-6, 5, "cold, branch lines smeared over the line (its cheapest form)")
    exact = bvp(case, 1e-6, 2, "cold, point loads, all intervals stacked")

    def march():
        guess = cable.still_guess(np.array([0.0]))[1][:, 0]
        return March(case, 1e-8).solve(guess)

    seconds, marched = best_of(2, march)
    peers.append(
        {
            "peer": "scipy solve_ivp + root",
            "version": version("scipy"),
            "what": "cold, point loads, shooting from one end, rtol 1e-8",
            "seconds_per_basket": seconds,
            "end_miss_m": marched.gap * cable.line_m,
        }
    )

    soft = copy.deepcopy(case)
    soft["main_line"]["axial_stiffness_n"] = 2000.0  # ten times softer: the longer steps are in its favour
    run = Lumped(soft, lambda a: cable.still_guess(np.array(a))[0], 1, 0.02)
    simulated = 60.0 if args.quick else SETTLED_S
    spent = run.run(simulated)
    middle = float(run.places()[len(run.points) // 2][2])
    peers.append(
        {
            "peer": "moordyn",
            "version": version("moordyn"),
            "what": f"one segment per interval, 20 ms steps, {SETTLED_S:.0f} s from the still-water shape",
            "seconds_per_simulated_s": spent / simulated,
            "simulated_s": simulated,
            "seconds_per_basket": spent * SETTLED_S / simulated,
            "middle_depth_m": middle,
            "fastest_node_m_s": run.fastest_m_s(),
        }
    )
    run.close()
    print(json.dumps({"basket": case, "middle_depth_m": float(exact.at(cable.line_m / 2)[0][2]), "peers": peers}, indent=1))


if __name__ == "__main__":
    main()
