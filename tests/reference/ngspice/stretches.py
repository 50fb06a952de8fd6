#!/usr/bin/env python3
"""Runs stretches of vehicles through ngspice and compares them with the Rust program.

    python3 stretches.py path/to/tickover

Each stretch holds the unit as it is; check.py says how the comparison is made and to which tolerances.
Exit 0 when every stretch agrees, 1 when one does not.
"""

import pathlib
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
SCENARIO = HERE.parents[2] / "scenarios" / "reference-van.toml"
NEARLY_FULL = ["house_battery.start_pct=90", "drive.piece.1.duration_min=120"]

# Name, from and to in seconds, changes.
STRETCHES = [
    ("output limit held; the starter battery becomes full", 300, 2400, []),
    ("input limit held", 300, 2400, ["converter.input_limit_a=38"]),
    ("voltage limit held in absorption", 2100, 2280, NEARLY_FULL),
    ("float, idle and then holding its voltage", 2300, 7200, NEARLY_FULL),
    ("soft start", 143.7, 160, []),
    ("parked, surface charge decaying", 2763, 6300, []),
    ("sun on the house bus, unit off", 4000, 6300,
     ["house_solar.power_w=250"]),
    ("cranking and waiting for turn-on", 10, 143, []),
]


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    failed = 0
    for name, start, end, changes in STRETCHES:
        with tempfile.TemporaryDirectory() as folder:
            command = [sys.argv[1], "netlist", str(SCENARIO), "--from-s", str(start), "--to-s", str(end),
                       "--out", folder]
            for change in changes:
                command += ["--set", change]
            made = subprocess.run(command, capture_output=True, text=True)
            if made.returncode:
                sys.exit(f"{' '.join(command)}\n{made.stderr}")
            files = [str(pathlib.Path(folder) / f"vehicle.{kind}") for kind in ("cir", "csv")]
            checked = subprocess.run([sys.executable, str(HERE / "check.py"), *files], capture_output=True, text=True)
        good = checked.returncode == 0
        failed += not good
        print(f"{'ok  ' if good else 'FAIL'} {name}")
        if not good:
            print(checked.stdout + checked.stderr)
    print(f"ngspice: {len(STRETCHES) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
