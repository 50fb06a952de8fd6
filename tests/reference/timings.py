#!/usr/bin/env python3
"""Times the Rust program beside SciPy and ngspice on the same scenarios.

    python3 timings.py path/to/tickover [--rounds N]

Run it with the Python of the SciPy check (scipy/requirements.txt); ngspice is passed over where it is not installed. In every
round each takes its turn, so that a busy machine slows all alike; printed are medians and how many times the Rust program's each
is. Of the Rust program the whole process counts: start, reading, run, explanation and writing, without pictures. Of SciPy's
program only the run counts, at the loosest tolerance that keeps its house battery within 1e-6 and its switchings within 2 ms of
its own run at 1e-11; of ngspice the whole process on a netlist of the stretch, with the instants of switching given to it.
Exit 2 when a program cannot be run.
"""

import argparse
import pathlib
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
SCENARIOS = HERE.parents[1] / "scenarios"
sys.path[:0] = [str(HERE / "scipy"), str(HERE / "ngspice")]

from check import read_netlist  # noqa: E402
from scenario import load  # noqa: E402
from simulate import Simulation  # noqa: E402

# Name, scenario, the stretch that ngspice gets, s.
CASES = [
    ("reference van, 106 minutes", "reference-van.toml", (61, 6360)),
    ("cable too thin, 79 cycles", "thin-run.toml", (61, 6360)),
]
TOLERANCES = [1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9, 1e-10]
LONGEST_STEP_S = 1e9


def called(command):
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 3):
        print(f"{' '.join(map(str, command))}\n{done.stdout}{done.stderr}", file=sys.stderr)
        sys.exit(2)


def seconds(call):
    begin = time.perf_counter()
    call()
    return time.perf_counter() - begin


def solved(scenario, tolerance):
    return Simulation(scenario, tolerance, "DOP853", LONGEST_STEP_S).run()


def close(run, exact):
    """Whether a run is as near as speed is quoted for: same events within 2 ms, house battery within 1e-6."""
    ours, theirs = run.logic.events, exact.logic.events
    same = [what for _, what in ours] == [what for _, what in theirs]
    near = all(abs(a[0] - b[0]) <= 2e-3 for a, b in zip(ours, theirs))
    return same and near and abs(run.state[3] - exact.state[3]) <= 1e-6


def loosest(scenario):
    exact = solved(scenario, 1e-11)
    return next((t for t in TOLERANCES if close(solved(scenario, t), exact)), 1e-11)


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("program")
    parser.add_argument("--rounds", type=int, default=5)
    given = parser.parse_args()
    ngspice = shutil.which("ngspice")
    print("| case | program | median | times ours |\n|---|---|---|---|")
    for name, file, (start, end) in CASES:
        path = SCENARIOS / file
        scenario = load(path, [])
        tolerance = loosest(scenario)
        with tempfile.TemporaryDirectory() as folder:
            run = [given.program, "run", path, "--plot", "none", "--quiet", "--out", folder]
            called([given.program, "netlist", path, "--from-s", str(start), "--to-s", str(end), "--out", folder])
            programs = {
                "tickover, whole process": lambda: called(run),
                f"SciPy DOP853 at {tolerance:.0e}, its run": lambda: solved(scenario, tolerance),
            }
            if ngspice:
                netlist = pathlib.Path(folder, "vehicle.cir")
                spice = [ngspice, "-b", netlist]
                programs["ngspice, whole process"] = lambda: subprocess.run(spice, cwd=folder, capture_output=True, check=False)
            times = {program: [] for program in programs}
            for _ in range(given.rounds):
                for program, call in programs.items():
                    times[program].append(seconds(call))
            if ngspice and not pathlib.Path(folder, read_netlist(netlist)[2]).exists():
                sys.exit(f"ngspice did not get through the stretch of {name}")
        medians = {program: statistics.median(found) for program, found in times.items()}
        ours = medians["tickover, whole process"]
        for program, median in medians.items():
            print(f"| {name} | {program} | {1e3 * median:.0f} ms | {median / ours:.0f} |")


if __name__ == "__main__":
    main()
