#!/usr/bin/env python3
"""Runs stretches of vehicles through ngspice and compares them with the Rust program.

    python3 stretches.py path/to/tickover [--bite]

Each stretch holds the unit as it is, or switches it when the Rust program did; check.py says how the comparison is made and to
which tolerances. `--bite` turns one value of the Rust program's own samples by 1 %, not of the netlist, and expects the stretch
to fail. Constants of the lead-acid battery that no key reaches are turned in the netlist's text instead.
Exit 0 when every stretch is as expected, 1 when one is not.
"""

import pathlib
import re
import subprocess
import sys
import tempfile

HERE = pathlib.Path(__file__).resolve().parent
SCENARIO = HERE.parents[2] / "scenarios" / "reference-van.toml"
NEARLY_FULL = ["house_battery.start_pct=90", "drive.piece.2.duration_min=120"]
TOO_THIN = ["input_cable.length_m=12"]
# Copper's coefficient and the heat of a cable act; a draw of 46 A warms 10 mm2 well.
WARM = ["input_cable.laying=sleeved", "input_cable.engine_bay_m=2", "input_cable.area_mm2=10", "output_cable.laying=free-air"]
HELD = ["start_stop.turn_off_v=12"]
# The full lead-acid battery, its own warmth included; it starts at the temperature of the air.
LEAD_ACID = ["starter_battery.chemistry=flooded", "starter_battery.temperature=follows"]
NEVER_ON = ["start_stop.turn_on_v=15.5"]

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
    ("cycling on a cable too thin, each switching at its instant", 100, 700, TOO_THIN),
    ("conductors that warm, in the cabin and in the engine bay", 300, 2400, [*WARM, *HELD]),
    ("warm conductors at the input limit", 300, 2400, [*WARM, *HELD, "converter.input_limit_a=38"]),
    ("cycling on a run that warms and cools", 100, 700, [*TOO_THIN, *WARM]),
    ("lead-acid, parked: surface charge decaying", 2763, 2913, LEAD_ACID),
    ("lead-acid, parked on a load of 30 A", 3900, 4050, [*LEAD_ACID, "vehicle.parked_load_a=30"]),
    ("lead-acid, charged by the alternator, unit off", 600, 750, [*LEAD_ACID, *NEVER_ON]),
    ("lead-acid in air of -10 C, charged by the alternator, unit off", 600, 750,
     [*LEAD_ACID, *NEVER_ON, "drive.air_c=-10", "starter_battery.start_c=10"]),
    ("lead-acid, unit at its output limit", 300, 450, LEAD_ACID),
    ("lead-acid, unit at its input limit", 300, 450, [*LEAD_ACID, "converter.input_limit_a=38"]),
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
    (12, "input_cable.length_m=5.05"),
    (13, "input_cable.engine_bay_m=2.02"),
    (14, "drive.bay_c=60.6"),
]

# Stretch, the element of the netlist, and the number in it that is turned: every constant of the lead-acid battery.
PARKED, LOADED, CHARGED, COLD, ON = 15, 16, 17, 18, 19
LEAD_ACID_BITES = [
    ("rested volts when empty", PARKED, "Bemf_starter", "1.19e1"),
    ("rise of rested volts", PARKED, "Bemf_starter", "7.999999999999989e-1"),
    ("EMF with temperature", COLD, "Bemf_starter", "1.2e-3"),
    ("series resistance", CHARGED, "Bstarter_r0", "5e-3"),
    ("series resistance when empty", LOADED, "Bstarter_r0", "4e-1"),
    ("series resistance with cold", COLD, "Bstarter_r0", "1.3e-2"),
    ("gassing scale", CHARGED, "Bstarter_gas", "5.2e-2"),
    ("gassing with warmth", COLD, "Bstarter_gas", "6e-2"),
    ("gassing onset", CHARGED, "Bstarter_z", "1.27e1"),
    ("gassing onset with temperature", COLD, "Bstarter_z", "1.2e-3"),
    ("gassing slope", CHARGED, "Bstarter_z", "5.45e-1"),
    ("self-discharge", PARKED, "Bstarter_self", "3.333333333333333e-3"),
    ("self-discharge with warmth", PARKED, "Bstarter_self", "6e-2"),
    ("capacity", CHARGED, "Cstarter", "2.88e5"),
    ("charge efficiency", CHARGED, "Bsoc_starter", "1e0"),
    ("local depletion", LOADED, "Bstarter_local", "1.5e0"),
    ("double layer", PARKED, "C1_starter", "5.599999999999999e1"),
    ("acceptance, fast", CHARGED, "Bstarter_i1", "8.421052631578948e1"),
    ("acceptance with warmth, fast", COLD, "Bstarter_i1", "4.5e-2"),
    ("acceptance shuts at full, fast", CHARGED, "Bstarter_i1", "1e0"),
    ("activation, fast", CHARGED, "Bstarter_i1", "8e-2"),
    ("discharge, fast", LOADED, "Bstarter_i1", "5e2"),
    ("discharge with warmth, fast", LOADED, "Bstarter_i1", "6.5e-3"),
    ("half SOC, fast", LOADED, "Bstarter_i1", "5e-2"),
    ("surface charge", CHARGED, "C2_starter", "1.6e4"),
    ("acceptance, slow", CHARGED, "Bstarter_i2", "5.333333333333334e2"),
    ("acceptance with warmth, slow", COLD, "Bstarter_i2", "4.5e-2"),
    ("acceptance shuts at full, slow", CHARGED, "Bstarter_i2", "9.95e-1"),
    ("activation on charge, slow", CHARGED, "Bstarter_i2", "4.4e-1"),
    ("power on charge, slow", CHARGED, "Bstarter_i2", "4e0"),
    ("activation on discharge, slow", LOADED, "Bstarter_i2", "3e-1"),
    ("activation of local depletion", LOADED, "Bstarter_local", "3e-1"),
    ("discharge, slow", LOADED, "Bstarter_i2", "2e2"),
    ("discharge with warmth, slow", LOADED, "Bstarter_i2", "2e-2"),
    ("heat capacity", CHARGED, "Cstarter_c", "2.4e4"),
    ("heat to the air", COLD, "Bstarter_c", "7.199999999999999e0"),
    ("heat that leaves with the gas", CHARGED, "Bstarter_c", "8.879999999999999e0"),
]


def turned(path, element, number):
    """The netlist with a number of one element, its first there, greater by 1 %."""
    text = pathlib.Path(path).read_text()
    found = re.search(rf"^{element} .*(?:\n\+.*)*", text, re.MULTILINE)
    line, times = re.subn(rf"(?<![\d.]){re.escape(number)}(?!\d)", repr(1.01 * float(number)), found.group(), count=1)
    if not times:
        sys.exit(f"{element} has no {number}: {found.group()}")
    pathlib.Path(path).write_text(text[:found.start()] + line + text[found.end():])


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
    cases = [(*stretch, [], None) for stretch in STRETCHES]
    if "--bite" in sys.argv:
        cases = [(*STRETCHES[n], [word], None) for n, word in BITES]
        cases += [(*STRETCHES[n], [name], (element, number)) for name, n, element, number in LEAD_ACID_BITES]
    failed = 0
    for name, start, end, changes, bite, text in cases:
        with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryDirectory() as told:
            files = [written(words[0], folder, "cir", start, end, changes),
                     written(words[0], told, "csv", start, end, changes + (bite if text is None else []))]
            if text is not None:
                turned(files[0], *text)
            kind = ["--lead-acid"] if LEAD_ACID[0] in changes else []
            checked = subprocess.run([sys.executable, str(HERE / "check.py"), *files, *kind], capture_output=True, text=True)
        good = checked.returncode == (1 if bite else 0)
        failed += not good
        print(f"{'ok  ' if good else 'FAIL'} {name}{''.join(', ' + word for word in bite)}")
        if not good:
            print(checked.stdout + checked.stderr)
    print(f"ngspice: {len(cases) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
