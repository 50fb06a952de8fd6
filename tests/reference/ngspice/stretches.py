#!/usr/bin/env python3
"""Runs stretches of vehicles through ngspice and compares them with the Rust program.

    python3 stretches.py path/to/tickover [--bite]

Each stretch holds the unit as it is, or switches it when the Rust program did; check.py says how the comparison is made and to which tolerances. `--bite` turns one
value of the Rust program's own samples by 1 %, not of the netlist, and expects the stretch to fail.
Exit 0 when every stretch is as expected, 1 when one is not.
"""

import pathlib
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
SCENARIO = HERE.parents[2] / "scenarios" / "reference-van.toml"
NEARLY_FULL = ["house_battery.start_pct=90", "drive.piece.1.duration_min=120"]
TOO_THIN = ["input_run.length_m=12"]
# Copper's coefficient and the heat of a cable act; a draw of 46 A warms 10 mm2 well.
WARM = ["input_run.laying=sleeved", "input_run.engine_bay_m=2", "input_run.area_mm2=10", "output_run.laying=free-air"]
HELD = ["start_stop.turn_off_v=12"]

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
    ("sun while the unit charges", 300, 2400, ["house_solar.power_w=250"]),
    ("alternator at its limit", 300, 2400, ["alternator.asymptote_a=60", "start_stop.turn_on_v=12.9",
                                           "start_stop.turn_off_v=11"]),
    ("house battery of lead, as the plain model has it", 300, 2400,
     ["house_battery.chemistry=linear", "house_battery.empty_v=11.9", "house_battery.full_v=12.8",
      "house_battery.charge_efficiency_pct=90"]),
    ("cycling on a run too thin, each switching at its instant", 100, 700, TOO_THIN),
    ("conductors that warm, in the cabin and in the engine bay", 300, 2400, [*WARM, *HELD]),
    ("warm conductors at the input limit", 300, 2400, [*WARM, *HELD, "converter.input_limit_a=38"]),
    ("cycling on a run that warms and cools", 100, 700, [*TOO_THIN, *WARM]),
]

# Number of the stretch, and what the samples alone are told.
BITES = [
    (0, "starter_battery.r2_mohm=12.12"),
    (1, "converter.proportional_loss_pct=4.04"),
    (2, "house_battery.r0_mohm=4.04"),
    (6, "house_solar.power_w=252.5"),
    (1, "converter.input_limit_a=38.38"),
    (3, "house_battery.r2_mohm=5.05"),
    (4, "converter.ramp_s=2.02"),
    (5, "starter_battery.tau2_s=1212"),
    (7, "vehicle.running_load_a=25.25"),
    (9, "alternator.asymptote_a=60.6"),
    (10, "house_battery.charge_efficiency_pct=90.9"),
    (11, "converter.fixed_loss_w=4.04"),
    (12, "input_run.length_m=5.05"),
    (13, "input_run.engine_bay_m=2.02"),
    (14, "drive.bay_c=60.6"),
]


def written(program, folder, kind, start, end, changes):
    """The netlist or the samples of a stretch."""
    command = [program, "netlist", str(SCENARIO), "--from-s", str(start), "--to-s", str(end), "--out", folder]
    for change in changes:
        command += ["--set", change]
    made = subprocess.run(command, capture_output=True, text=True)
    if made.returncode:
        sys.exit(f"{' '.join(command)}\n{made.stderr}")
    return str(pathlib.Path(folder) / f"vehicle.{kind}")


def main():
    words = [w for w in sys.argv[1:] if w != "--bite"]
    if len(words) != 1:
        sys.exit(__doc__)
    cases = [(*stretch, []) for stretch in STRETCHES]
    if "--bite" in sys.argv:
        cases = [(*STRETCHES[n], [word]) for n, word in BITES]
    failed = 0
    for name, start, end, changes, bite in cases:
        with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryDirectory() as told:
            files = [written(words[0], folder, "cir", start, end, changes),
                     written(words[0], told, "csv", start, end, changes + bite)]
            checked = subprocess.run([sys.executable, str(HERE / "check.py"), *files], capture_output=True, text=True)
        good = checked.returncode == (1 if bite else 0)
        failed += not good
        print(f"{'ok  ' if good else 'FAIL'} {name}{''.join(', ' + word for word in bite)}")
        if not good:
            print(checked.stdout + checked.stderr)
    print(f"ngspice: {len(cases) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
