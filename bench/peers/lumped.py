"""A basket with MoorDyn-C (PyPI `moordyn`): lumped masses in time, left free from a given shape until it moves no more.

Every node is a MoorDyn point (so that it starts exactly where it is put), joined by lines of one segment. MoorDyn takes
the tangential coefficient on the skin (with pi) and the normal one on the diameter, as the inputs here do. Its z is up.
"""

import contextlib
import os
import resource
import sys
import tempfile

import moordyn
import numpy as np

from cable import Cable


def input_text(cable, places, lengths_m, loads, dt_s, scheme):
    """MoorDyn input; `places` of all nodes (x, y, depth), `loads` marks the nodes that carry a branch line."""
    c = cable
    g = c.case["water"]["gravity_m_s2"]
    mass = c.case["main_line"]["density_kg_m3"] * np.pi / 4 * c.diameter_m**2
    out = [
        "A basket of a longline",
        "---------------------- LINE TYPES -----------------------------------------------------",
        "TypeName Diam Mass/m EA BA/-zeta EI Cd Ca CdAx CaAx",
        "(name) (m) (kg/m) (N) (N-s/-) (N-m^2) (-) (-) (-) (-)",
        f"main {c.diameter_m} {mass:.12g} {c.stiffness_n} -0.3 0 {c.c_normal} 1.0 {c.c_tangential} 0.0",
        "---------------------- POINTS ---------------------------------------------------------",
        "ID Attachment X Y Z Mass Volume CdA Ca",
        "(#) (-) (m) (m) (m) (kg) (m^3) (m^2) (-)",
    ]
    for i, (x, y, z) in enumerate(places):
        kind = "Fixed" if i in (0, len(places) - 1) else "Free"
        load = f"{c.branch_n / g:.12g} 0 {c.branch_m2}" if loads[i] else "0 0 0"
        out.append(f"{i + 1} {kind} {x:.9f} {y:.9f} {-z:.9f} {load} 0")
    out += [
        "---------------------- LINES ----------------------------------------------------------",
        "ID LineType AttachA AttachB UnstrLen NumSegs LineOutputs",
        "(#) (name) (#) (#) (m) (-) (-)",
    ]
    out += [f"{i + 1} main {i + 1} {i + 2} {l:.9f} 1 -" for i, l in enumerate(lengths_m)]
    out += [
        "---------------------- OPTIONS --------------------------------------------------------",
        f"{dt_s} dtM",
        f"{scheme} tScheme",
        f"{g} g",
        f"{c.rho} rho",
        "2000 WtrDpth",
        "1000 kb",
        "100 cb",
        "0 WaveKin",
        "1 Currents",
        "0 writeLog",
        "0 dtOut",
        "---------------------- OUTPUTS --------------------------------------------------------",
        "--------------------- need this line --------------------------------------------------",
    ]
    return "\n".join(out) + "\n"


@contextlib.contextmanager
def quiet():
    """MoorDyn greets on standard output from compiled code: kept out of the JSON that scripts print there."""
    sys.stdout.flush()
    saved, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        os.dup2(saved, 1)
        os.close(saved)
        os.close(nowhere)


class Lumped:
    """`start(along_m)` gives the starting place; `parts` segments per interval between clips."""

    def __init__(self, case, start, parts, dt_s, scheme="rk2", drift=(0.0, 0.0)):
        c = self.cable = Cable(case)
        intervals = np.diff(np.concatenate([[0], c.clip_m, [c.line_m]]))
        lengths = np.repeat(intervals / parts, parts)
        self.along_m = np.concatenate([[0], np.cumsum(lengths)])
        loads = [i % parts == 0 and 0 < i < len(lengths) for i in range(len(lengths) + 1)]
        self.clip_nodes = [i for i, load in enumerate(loads) if load]
        places = [start(a) for a in self.along_m]
        with tempfile.TemporaryDirectory() as folder:
            profile = ["steady current", "of the case", "z ux uy uz"]
            order = np.argsort(-c.profile.depth_m)
            for i in order:
                profile.append(
                    f"{-c.profile.depth_m[i]} {c.profile.along_m_s[i] - drift[0]:.12g} {c.profile.across_m_s[i] - drift[1]:.12g} 0"
                )
            with open(os.path.join(folder, "current_profile.txt"), "w") as file:
                file.write("\n".join(profile) + "\n")
            name = os.path.join(folder, "basket.txt")
            with open(name, "w") as file:
                file.write(input_text(c, places, lengths, loads, dt_s, scheme))
            with quiet():
                self.system = moordyn.Create(name)
                moordyn.SetVerbosity(self.system, moordyn.LEVEL_ERR)
                code = moordyn.Init_NoIC(self.system, [], [])
            if code != 0:
                raise ArithmeticError(f"MoorDyn answered {code} to its start")
        self.points = [moordyn.GetPoint(self.system, i + 1) for i in range(len(places))]
        self.time_s = 0.0

    def run(self, seconds, step_s=1.0):
        """Steps on; answers the CPU seconds it took."""
        before = resource.getrusage(resource.RUSAGE_SELF)
        with quiet():
            for _ in range(round(seconds / step_s)):
                moordyn.Step(self.system, [], [], self.time_s, step_s)  # raises when it cannot
                self.time_s += step_s
        after = resource.getrusage(resource.RUSAGE_SELF)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    def places(self):
        out = np.array([moordyn.GetPointPos(p) for p in self.points])
        return out * [1, 1, -1]

    def fastest_m_s(self):
        return max(float(np.linalg.norm(moordyn.GetPointVel(p))) for p in self.points)

    def close(self):
        moordyn.Close(self.system)
