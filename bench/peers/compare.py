"""Feeds every reference basket to `gangion depth --json` and prints how far its answers are off, as a table.

Usage: python bench/peers/compare.py GANGION [ELEMENTS ...]    (standard library alone; elements per interval, default 1 2 4 8 16)
"""

import json
import pathlib
import subprocess
import sys

DATA = pathlib.Path(__file__).resolve().parents[2] / "crates/gear/tests/data/peers"


def ask(gangion, case, elements):
    text = json.dumps({**case, "elements_per_interval": elements})
    got = subprocess.run([gangion, "depth", "--json", "-"], input=text, capture_output=True, text=True, check=False)
    if got.returncode != 0:
        raise ValueError(got.stderr.strip())
    return json.loads(got.stdout)


def off(answer, wanted):
    nodes = {round(node["along_m"], 6): node for node in answer["nodes"]}
    worst = 0.0
    for clip in wanted["clips"]:
        node = nodes[round(clip["along_m"], 6)]
        worst = max(worst, *(abs(node[axis] - clip[axis]) for axis in ("horizontal_m", "across_m", "depth_m")))
    pull = 0.0
    if "end_tension_n" in wanted:
        pull = max(abs(a - b) for a, b in zip(answer["end_tension_n"], wanted["end_tension_n"]))
    drift = None
    if "drift" in wanted:
        drift = max(abs(answer["drift"][axis] - wanted["drift"][axis]) for axis in ("east_m_s", "north_m_s"))
    return worst, pull, drift


def main():
    gangion, counts = sys.argv[1], [int(a) for a in sys.argv[2:]] or [1, 2, 4, 8, 16]
    for path in sorted(DATA.glob("*.json")):
        if path.stem == "moordyn_settling":
            continue
        print(path.name)
        for case in json.loads(path.read_text())["cases"]:
            cells = []
            for elements in counts:
                try:
                    worst, pull, drift = off(ask(gangion, case["input"], elements), case["output"])
                    cells.append(f"{worst:.4f} m {pull:.5f} N" + ("" if drift is None else f" {drift:.1e} m/s"))
                except (ValueError, KeyError) as error:
                    cells.append(f"{type(error).__name__}: {str(error)[:70]}")
            print(f"  {case['name']:26} " + " | ".join(cells), flush=True)


if __name__ == "__main__":
    main()
