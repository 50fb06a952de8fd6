#!/usr/bin/env python3
"""The plain house battery against PyBaMM's Thevenin model with two RC elements.

    python3 check.py path/to/tickover [--bite]

The house battery's current is taken from trace.csv and played into PyBaMM, which shares nothing else with the Rust program:
its volts and its state of charge must be those of the trace. `--bite` turns one value of the Rust side by 1 % and expects
every case to fail. Exit 0 when all is as expected, 1 when not.
"""

import csv
import pathlib
import subprocess
import sys
import tempfile
import tomllib

import numpy as np
import pybamm
from scipy.interpolate import PchipInterpolator

SCENARIOS = pathlib.Path(__file__).resolve().parents[3] / "scenarios"
VOLTS, SOC = 5e-6, 5e-8  # What was reached, rounded up: trace.csv has six decimals of volts and amperes.
JUMP_S = 1e-6            # Two rows of one instant are played this far apart.

# One cell by SOC: Sunil, Pattipati and Balasingam, IEEE Trans. Instrumentation and Measurement, 2025 (open data).
LFP_CELL = [(0, 2.010), (0.0534, 3.087), (0.0885, 3.194), (0.297, 3.277), (0.50, 3.299), (0.70, 3.321),
            (0.80, 3.329), (0.90, 3.332), (0.983, 3.351), (0.995, 3.418), (1, 3.598)]

# Name, scenario, changes: a constant current, pulses, and a taper into float.
CASES = [
    ("constant current, 40 A into it", "reference-van.toml", ["house.load_w=0"]),
    ("pulses: 79 short charges", "thin-run.toml", []),
    ("taper, float, discharge", "reference-van.toml",
     ["house_battery.start_pct=90", "drive.piece.2.duration_min=120"]),
]
BITES = ["house_battery.r0_mohm=4.04", "house_battery.r2_mohm=5.05", "house_battery.capacity_ah=198"]


def ours(program, scenario, changes):
    """Time, current into the battery, volts at its posts, state of charge."""
    with tempfile.TemporaryDirectory() as folder:
        command = [program, "run", str(scenario), "--tolerance", "1e-11", "--every-s", "1", "--out", folder]
        for change in changes:
            command += ["--set", change]
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode not in (0, 3):
            sys.exit(f"{' '.join(command)}\n{done.stderr}")
        with open(pathlib.Path(folder, "trace.csv"), newline="") as file:
            rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    columns = ("time_s", "house_battery_a", "house_posts_v", "house_soc")
    return [np.array([float(row[c]) for row in rows]) for c in columns]


def open_circuit(cells):
    """E(SOC) as PyBaMM sees it: SciPy's PCHIP, one cubic an interval."""
    soc, volts = zip(*LFP_CELL)
    cubic = PchipInterpolator(np.array(soc), cells * np.array(volts))

    def volts_at(s):
        total = pybamm.Scalar(0)
        for k in range(len(soc) - 1):
            x = s - soc[k]
            a, b, c, d = (float(cubic.c[n, k]) for n in range(4))
            inside = (s >= soc[k]) * (s < soc[k + 1])
            total += inside * (((a * x + b) * x + c) * x + d)
        return total
    return volts_at


def theirs(battery, time, current):
    """PyBaMM's volts and state of charge at the same times, the current being positive into the battery."""
    model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": 2})
    values = model.default_parameter_values
    ohm = [battery[k] * 1e-3 for k in ("r0_mohm", "r1_mohm", "r2_mohm")]
    times_s = [battery["tau1_s"], battery["tau2_s"]]
    out = pybamm.Interpolant(time, -current, pybamm.t)
    values.update({
        "Cell capacity [A.h]": float(battery["capacity_ah"]),
        "Nominal cell capacity [A.h]": float(battery["capacity_ah"]),
        "Initial SoC": battery["start_pct"] / 100,
        "Current function [A]": out,
        "Open-circuit voltage [V]": open_circuit(battery["cells"]),
        "R0 [Ohm]": ohm[0],
        "R1 [Ohm]": ohm[1],
        "C1 [F]": times_s[0] / ohm[1],
        "R2 [Ohm]": ohm[2],
        "C2 [F]": times_s[1] / ohm[2],
        "Element-2 initial overpotential [V]": 0,
        "Entropic change [V/K]": 0,
        "Lower voltage cut-off [V]": 5,
        "Upper voltage cut-off [V]": 20,
    }, check_already_exists=False)
    solver = pybamm.IDAKLUSolver(rtol=1e-10, atol=1e-12)
    simulation = pybamm.Simulation(model, parameter_values=values, solver=solver)
    solution = simulation.solve(time, t_interp=time)
    return solution["Voltage [V]"](time), solution["SoC"](time)


def apart(time):
    """The same times, strictly rising: the second row of a jump a little later."""
    time = time.copy()
    for n in range(1, len(time)):
        time[n] = max(time[n], time[n - 1] + JUMP_S)
    return time


def main():
    words = [w for w in sys.argv[1:] if w != "--bite"]
    if len(words) != 1:
        sys.exit(__doc__)
    bites = BITES if "--bite" in sys.argv else [None]
    failed = 0
    for bite in bites:
        for name, file, changes in CASES:
            with open(SCENARIOS / file, "rb") as text:
                battery = dict(tomllib.load(text)["house_battery"])
            for change in changes:
                if change.startswith("house_battery."):
                    key, value = change.removeprefix("house_battery.").split("=")
                    battery[key] = float(value)
            time, current, volts, soc = ours(words[0], SCENARIOS / file, changes + ([bite] if bite else []))
            their_v, their_soc = theirs(battery, apart(time), current)
            dv, ds = np.max(np.abs(volts - their_v)), np.max(np.abs(soc - their_soc))
            agrees = dv <= VOLTS and ds <= SOC
            good = agrees == (bite is None)
            failed += not good
            told = f", {bite}" if bite else ""
            print(f"{'ok  ' if good else 'FAIL'} {name}{told}: {len(time)} times, volts {dv:.1e}, SOC {ds:.1e}")
    print(f"pybamm: {len(bites) * len(CASES) - failed} as expected, {failed} not")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
