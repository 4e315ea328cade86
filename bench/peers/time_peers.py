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

NEAR = 0.005


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
    aim = Bvp(soft).solve(1e-6, refine=False).at(cable.line_m / 2)[0][2]
    run = Lumped(soft, lambda a: cable.still_guess(np.array(a))[0], 1, 0.02)

    def middle_m():
        return float(run.places()[len(run.points) // 2][2])

    spent = run.run(60.0)
    while not args.quick and abs(middle_m() - aim) > NEAR * aim and run.time_s < 30_000:
        spent += run.run(500.0)
    per_simulated_s = spent / run.time_s
    peers.append(
        {
            "peer": "moordyn",
            "version": version("moordyn"),
            "what": f"one segment per interval, 20 ms steps, EA 2 kN, from the still-water shape to within {NEAR:.1%} of its depth",
            "seconds_per_simulated_s": per_simulated_s,
            "simulated_s": run.time_s,
            "seconds_per_basket": None if args.quick else spent,
            "seconds_per_3000_simulated_s": 3000 * per_simulated_s,
            "middle_depth_m": middle_m(),
            "fastest_node_m_s": run.fastest_m_s(),
        }
    )
    run.close()
    print(json.dumps({"basket": case, "middle_depth_m": float(exact.at(cable.line_m / 2)[0][2]), "peers": peers}, indent=1))


if __name__ == "__main__":
    main()
